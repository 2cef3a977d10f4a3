"""Whether a spoiled program leaves something else than the proven one, or runs the machine as it must not be run.

Independent of the proof: the lines are run by `machine_run`, and what the changed motions sweep is compared with
Shapely in layers, one between every two neighbouring depths: what they take of the wood that must stay, what they leave
beside contours, on floors, on marks, and what becomes of tabs. The chords and rounding of two shapes come to 0.004 mm,
so what differs by less than 0.014 mm is taken for the same.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from itertools import pairwise

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from cutjob.proof.expect import ExpectedProgram
from tests.proof.mutants.bites import too_much
from tests.proof.mutants.cases import Case
from tests.proof.mutants.cut import Cut, swept
from tests.proof.mutants.machine_run import Run, run
from tests.proof.mutants.running import marks, row_of, runs_wrong
from tests.proof.mutants.wood import CHORD, MARGIN, strokes_of, wood_of

LAYERS = 14  # looked at, at most
THIN = 0.0125  # mm; layers thinner than this are the same: depths are accepted within 0.01
BITE = 4.0  # mm2
SHORTEST = 0.15  # mm along a contour, less is where one motion runs into the next
AT_TABS = 0.35  # mm along a contour by which a tab may begin elsewhere: its width is accepted within 0.1 at each end
TAB_THIN = 0.07  # mm by which a tab's height may differ
_NONE = shapely.Polygon()


class Oracle:
    """What is known of one proven case."""

    def __init__(self, case: Case) -> None:
        self.case = case
        self.layout, self.machine = case.layout, case.machine
        self.height = case.layout.height
        self.wood = wood_of(case.layout)
        self._tree = shapely.STRtree([part.region for part in self.wood])
        self.strokes = strokes_of(case.layout)
        self.holes = [
            (placement.transform.point(hole.at), hole.diameter)
            for placement in case.layout.placements
            for hole in placement.part.round_holes
        ]
        self.holes += [(down.at, down.diameter) for down in case.layout.hold_downs]
        pin = case.machine.travel.pin if case.machine.travel is not None else 0.0
        self.holes += [(at, pin) for window in case.layout.windows for at in window.holes]
        self.runs = {program.file: self._run(program, case.files[program.file]) for program in case.programs}
        self.cuts = {program.file: self._cuts(program, self.runs[program.file]) for program in case.programs}
        self.tabs = [(tab, program) for program in case.programs for tab in program.tabs]
        for program in case.programs:
            wrong = runs_wrong(self.machine, program, self.runs[program.file], self.runs[program.file])
            assert not wrong, f"the oracle finds fault with a proven program: {wrong}"

    def _run(self, program: ExpectedProgram, lines: list[str]) -> Run:
        milliseconds = self.machine.controller.dwell == "milliseconds"
        return run(lines, origin=program.origin, top=program.stock_top_z, milliseconds=milliseconds)

    def why(self, mutant: Case) -> str:
        """Why a mutant matters, or nothing where it does not."""
        cuts = dict(self.cuts)
        for program in self.case.programs:
            lines = mutant.files[program.file]
            if lines is self.case.files[program.file]:
                continue
            ran = self._run(program, lines)
            if ran.broken:
                return f"can't be run: {ran.broken}"
            wrong = runs_wrong(self.machine, program, ran, self.runs[program.file])
            if wrong:
                return wrong
            cuts[program.file] = self._cuts(program, ran)
        # How often a cut is run makes no difference to what is left.
        before = {cut.key: cut for several in self.cuts.values() for cut in several}
        after = {cut.key: cut for several in cuts.values() for cut in several}
        old = [cut for key, cut in before.items() if key not in after]
        new = [cut for key, cut in after.items() if key not in before]
        if len(old) + len(new) == 0:
            return ""
        for program in self.case.programs:
            wrong = self._into_fixings([cut for cut in cuts[program.file] if cut.key not in before], program)
            if wrong:
                return wrong
        return self._geometry(old, new) or self._overloaded(old, new, cuts)

    def _overloaded(self, old: Sequence[Cut], new: Sequence[Cut], cuts: dict[str, list[Cut]]) -> str:
        """Whether more is taken in one go, over more than a few mm2 and more than before."""
        if self.machine.kind == "laser":
            return ""
        boxes = np.array([cut.box for cut in (*old, *new) if cut.low < 0]).reshape(-1, 4)
        if not len(boxes):
            return ""
        box = (*boxes[:, :2].min(axis=0).tolist(), *boxes[:, 2:].max(axis=0).tolist())
        before, after = (self._bites(box, files) for files in (self.cuts, cuts))
        return f"more than a pass in one go over {after - before:.0f} mm2" if after > before + BITE else ""

    def _bites(self, box: tuple[float, float, float, float], files: dict[str, list[Cut]]) -> float:
        cuts, limits = [], []
        for program in self.case.programs:
            for cut in files[program.file]:
                a, b, c, d = cut.box
                if a <= box[2] and c >= box[0] and b <= box[3] and d >= box[1] and not self._drills(cut):
                    cuts.append(cut)
                    limits.append(row_of(program, cut.step.tool).depth_per_pass or math.inf)
        return too_much(cuts, box, limits)

    def _drills(self, cut: Cut) -> bool:
        """Whether a cut goes straight down in a hole of the cutter's own size: how deep at a time is no matter."""
        (x0, y0, _), (x1, y1, _) = cut.ends()
        if (x0, y0) != (x1, y1):
            return False
        return any(math.dist(at, (x0, y0)) < 0.02 and diameter < 2 * cut.radius + 0.02 for at, diameter in self.holes)

    def _cuts(self, program: ExpectedProgram, ran: Run) -> list[Cut]:
        cuts = []
        radii = {cutter.number: cutter.radius for cutter in program.cutters}
        for step in ran.steps:
            if any(math.isnan(one) for one in (*step.start[:2], *step.end[:2])):
                continue
            radius = radii.get(step.tool, program.cutters[0].radius)
            if self.machine.kind == "laser":
                if step.rapid or step.spindle == 0 or step.speed <= 0:
                    continue
                mark = marks(row_of(program, 0), step)
                depth = self.machine.cutting.mark_depth if mark else self.height
                step = step._replace(start=(*step.start[:2], -depth), end=(*step.end[:2], -depth))
            cuts.append(Cut(step, radius))
        return cuts

    def _into_fixings(self, new: Sequence[Cut], program: ExpectedProgram) -> str:
        """Motions into clamps, knots, screws and pins, off the board, and too deep."""
        layout, machine = self.layout, self.machine
        laser = machine.kind == "laser"
        allowed = max(program.overcut for program in self.case.programs)
        outline = shapely.Polygon(layout.board.outline.points(CHORD))
        areas = [shapely.Polygon(one.area.points(CHORD)) for one in layout.board.keep_outs]
        heights = [one.height for one in layout.board.keep_outs]
        levels = [max(machine.motion.safe_height, high + 1.0 if high > 0 else 0.0) for high in heights]
        for cut in new:
            if not laser and cut.low < -self.height - allowed - THIN:
                return "into the spoilboard"
            for area, level in zip(areas, levels, strict=False):
                line = cut.line_below(0.0 if laser else -level + 0.01)
                if line is not None and line.distance(area) < cut.radius - MARGIN:
                    return "into a keep-out"
            line = cut.line_below(0.01)
            off = cut.radius * 2 + 2 * machine.cutting.lead + 1.1
            if line is not None and shapely.get_coordinates(line).size:
                ends = shapely.points(shapely.get_coordinates(line))
                if float(shapely.distance(outline, ends).max()) > off:
                    return "off the board"
            if layout.hold_downs and self._at_hold_down(cut, program):
                return "into a hold-down"
        return ""

    def _at_hold_down(self, cut: Cut, program: ExpectedProgram) -> bool:
        for down in self.layout.hold_downs:
            if down.window is not None and down.window != program.window:
                continue  # not driven yet, or out again
            line = cut.line_below(-down.height - 1.0)
            if line is None:
                continue
            middle = shapely.Point(down.at)
            own = shapely.hausdorff_distance(line, middle) < down.diameter / 2
            if not own and line.distance(middle) < down.head + cut.radius - MARGIN:
                return True
        return False

    def _geometry(self, old: Sequence[Cut], new: Sequence[Cut]) -> str:
        gone = {cut.key for cut in old}
        rest = [cut for cuts in self.cuts.values() for cut in cuts if cut.key not in gone]
        boxes = np.array([cut.box for cut in rest]).reshape(-1, 4)
        lows = np.array([cut.low for cut in rest])
        for depth, thick in self._layers([*old, *new]):
            a, b = swept(old, depth), swept(new, depth)
            lost, gained = a.difference(b), b.difference(a)
            if lost.is_empty and gained.is_empty:
                continue

            def clear(shape: BaseGeometry, depth: float = depth) -> BaseGeometry:
                """What of a shape no other cut sweeps."""
                if shape.is_empty:
                    return shape
                x0, y0, x1, y1 = shape.bounds
                near = (boxes[:, 0] <= x1) & (boxes[:, 2] >= x0) & (boxes[:, 1] <= y1) & (boxes[:, 3] >= y0)
                near &= lows <= -depth
                return shape.difference(swept([rest[index] for index in np.flatnonzero(near)], depth))

            for reason, found in self._faults(depth, thick, lost, gained):
                if reason(clear(found)):
                    return f"{reason.__doc__} at {depth:.3f} mm"
        return ""

    def _layers(self, cuts: Sequence[Cut]) -> list[tuple[float, float]]:
        """Depths in the middle of layers between all depths that count, and how thick each is."""
        depths = {0.0, self.height}
        for cut in cuts:
            depths |= {round(max(0.0, -z), 5) for z in (cut.step.start[2], cut.step.end[2])}
        deepest = max(depths)
        for part in self.wood:
            depths |= {down for _, down in part.taken if down is not None}
        depths |= {self.height - tab.height for tab, _ in self.tabs}
        skins = {program.skin for program in self.case.programs if program.skin > 0}
        depths |= {self.height - skin for skin in skins}
        order = sorted(depth for depth in depths if depth <= deepest)
        found = [((a + b) / 2, b - a) for a, b in pairwise(order) if b - a > THIN]
        if len(found) > LAYERS:
            # The lowest count most.
            step = len(found) / (LAYERS - 4)
            chosen = {int(number * step) for number in range(LAYERS - 4)} | set(range(len(found) - 4, len(found)))
            found = [found[index] for index in sorted(chosen)]
        return found[::-1]

    def _faults(
        self, depth: float, thick: float, lost: BaseGeometry, gained: BaseGeometry
    ) -> Iterator[tuple[object, BaseGeometry]]:
        def cut_into(shape: BaseGeometry) -> bool:
            """a part is cut into"""
            return shape.area > 1e-4

        def left(shape: BaseGeometry) -> bool:
            """wood is left"""
            return shape.length > SHORTEST

        def left_at_tab(shape: BaseGeometry) -> bool:
            """a tab is wider"""
            return shape.length > AT_TABS

        def standing(shape: BaseGeometry) -> bool:
            """a floor or a mark is left standing"""
            return not shape.buffer(-MARGIN / 2).is_empty

        skin = max(program.skin for program in self.case.programs)
        bottom = self.height - skin
        for index in self._tree.query(shapely.union(lost, gained).buffer(1.0)).tolist():
            part = self.wood[index]
            if depth < self.height:
                yield cut_into, gained.intersection(part.solid(depth).buffer(-MARGIN))
            if not lost.is_empty:
                edge = part.through.buffer(MARGIN, quad_segs=64).boundary.intersection(lost)
                if depth > bottom and skin > 0:
                    edge = _NONE
                zones = [
                    shapely.Point(tab.at).buffer(tab.width / 2 + 3 * max(c.diameter for c in program.cutters))
                    for tab, program in self.tabs
                    if tab.placement == index
                ]
                near = shapely.union_all(zones) if zones else _NONE
                yield left, edge.difference(near)
                if thick > TAB_THIN:
                    yield left_at_tab, edge.intersection(near)
                if depth < self.height:
                    yield standing, lost.intersection(part.floors(depth).buffer(-MARGIN))
                    yield standing, lost.intersection(part.solid(depth).buffer(-MARGIN))
        if not lost.is_empty and not self.strokes.is_empty and depth < 1.5:
            yield left, lost.intersection(self.strokes)
        if not gained.is_empty:
            yield from self._at_tabs(depth, thick, gained)
            if skin > 0 and bottom + THIN < depth < self.height:
                holes = [area for part in self.wood for area, down in part.taken if down is None]
                yield cut_into, gained.difference(shapely.union_all(holes).buffer(MARGIN))

    def _at_tabs(self, depth: float, thick: float, gained: BaseGeometry) -> Iterator[tuple[object, BaseGeometry]]:
        def cut_away(shape: BaseGeometry) -> bool:
            """a tab is cut away or thinner"""
            return shape.length > AT_TABS

        for tab, program in self.tabs:
            if depth < self.height - tab.height + TAB_THIN or depth > self.height or thick < TAB_THIN:
                continue
            near = shapely.Point(tab.at).buffer(tab.width / 2 + 3 * max(cutter.diameter for cutter in program.cutters))
            if near.intersects(gained):
                edge = self.wood[tab.placement].through.buffer(MARGIN, quad_segs=64).boundary.intersection(near)
                yield cut_away, edge.intersection(gained)
