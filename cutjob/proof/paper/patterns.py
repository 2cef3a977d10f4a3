"""Judges patterns.pdf and the templates of booklet.pdf: their paths are read back and compared with the parts as a
ruler would, to `TOLERANCES.pattern`.

1. Every page has the paper's size, and two bars that measure 100 mm and 4 in.
2. Every kind of part, or every board's layout, is on a sheet.
3. Points at most a mm apart are tried along a part's edges. Each is in the window of at least one page. On every such
   page there is a line with its edge's look beside it, not painted over later.
4. Every point of such a line belongs to an edge.
5. Neighbouring pages have at least two register crosses at the same places of their sheet.

mm; edges are in the sheet's frame.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import reduce
from itertools import combinations
from typing import TypeAlias

import numpy as np
import numpy.typing as npt
import shapely

from cutjob.counting import counted
from cutjob.geometry.contour import circle
from cutjob.geometry.segment import Segment
from cutjob.geometry.transform import Transform
from cutjob.parts.part import ShapedPart
from cutjob.proof import limits
from cutjob.proof.expect import ExpectedLine, ExpectedPage, ExpectedPattern, ExpectedPatterns, ExpectedSheet, LineKind
from cutjob.proof.finding import Finding
from cutjob.proof.paper.pdf_reader import Box, Floats, Look, PaintedPath, PdfPage, UnreadablePdfError, read_pdf
from cutjob.tolerances import TOLERANCES

_ON_FOLD = 0.001  # mm: lines on the fold itself are drawn, but clipping drops lines on the clip's edge


@dataclass(frozen=True, slots=True)
class Edges:
    """Edges of one kind: points on them, the name of each point's edge (an index of `names`), and their
    straight pieces.
    """

    points: Floats
    owners: Floats
    names: tuple[str, ...]
    lines: Floats

    @staticmethod
    def none() -> Edges:
        """No edges at all."""
        return Edges(np.zeros((0, 2)), np.zeros(0, int), (), np.zeros((0, 2, 2)))


def edges_of(sheet: ExpectedSheet, *, step: float) -> dict[LineKind, Edges]:
    """Return the edges that the sheet must show, by kind, with their points at most `step` mm apart."""
    runs: dict[LineKind, list[tuple[int, Floats]]] = {}
    names: list[str] = []
    for name, part, moves, fold in _parts(sheet):
        for kind, run in _runs(part):
            for side in _near_side(run, fold):
                runs.setdefault(kind, []).append((len(names), reduce(_moved, moves, side)))
        names.append(name)
    return {kind: _edges(own, tuple(names), step) for kind, own in runs.items()}


def _edges(runs: list[tuple[int, Floats]], names: tuple[str, ...], step: float) -> Edges:
    fine = [shapely.get_coordinates(shapely.segmentize(shapely.LineString(run), step)) for _, run in runs]
    return Edges(
        points=np.vstack(fine),
        owners=np.repeat([owner for owner, _ in runs], [len(points) for points in fine]),
        names=names,
        lines=np.concatenate([np.stack([run[:-1], run[1:]], axis=1) for _, run in runs]),
    )


def _parts(
    sheet: ExpectedSheet,
) -> Iterator[tuple[str, ShapedPart, tuple[Transform, ...], ExpectedPattern | None]]:
    """Each part with the way it is moved onto the sheet, and its pattern if it is folded."""
    for pattern in sheet.patterns:
        folded = pattern if pattern.fold is not None else None
        yield f'part "{pattern.part.name}" of item "{pattern.item}"', pattern.part, (pattern.move,), folded
    if sheet.board is not None and sheet.move is not None:
        for number, placement in enumerate(sheet.board.placements, start=1):
            name = f'{sheet.board.id} part {number}, "{placement.part.name}"'
            yield name, placement.part, (placement.transform, sheet.move), None


def _runs(part: ShapedPart) -> Iterator[tuple[LineKind, Floats]]:
    """A part's own edges as runs of points, within `TOLERANCES.chord`."""
    yield "outline", _points(part.region.outline.segments)
    for hole in part.region.holes:
        yield "opening", _points(hole.segments)
    for drilled in part.round_holes:
        yield "hole", _points(circle(drilled.at, drilled.diameter / 2).segments)
    for pocket in part.pockets:
        for contour in pocket.region.contours:
            yield "pocket", _points(contour.segments)
    for mark in part.marks:
        yield "mark", _points(mark.path)


def _points(segments: tuple[Segment, ...]) -> Floats:
    points = [segments[0].start, *(point for one in segments for point in one.chords(TOLERANCES.chord))]
    return np.array(points, float)


def _near_side(run: Floats, pattern: ExpectedPattern | None) -> Iterator[Floats]:
    """The pieces of a run on the side of the fold that is drawn."""
    if pattern is None or pattern.fold is None:
        yield run
        return
    way, at = pattern.fold
    low, high = run.min(axis=0) - 1.0, run.max(axis=0) + 1.0
    high[0 if way == "upright" else 1] = at + _ON_FOLD
    if (high <= low).any():
        return  # all of it is beyond
    near = shapely.clip_by_rect(shapely.LineString(run), *low, *high)
    for piece in shapely.get_parts(near):
        points = shapely.get_coordinates(piece)
        if len(points) > 1:
            yield points


def _moved(points: Floats, move: Transform) -> Floats:
    origin = np.array(move.point((0.0, 0.0)))
    turn = np.array([move.point((1.0, 0.0)), move.point((0.0, 1.0))]) - origin
    moved: Floats = points @ turn + origin
    return moved


Flags: TypeAlias = npt.NDArray[np.bool_]

_BARS = (("100 mm", 100.0), ("4 in", 101.6))
_CROSS = 10.0  # mm, both lines of a register cross
_STEP = 1.0  # mm between points that are compared


def judge_patterns(data: bytes, expected: ExpectedPatterns) -> tuple[list[Finding], float]:
    """Return the findings on the file, and the greatest distance of a line from its edge, mm."""
    try:
        pages = read_pdf(data)
    except UnreadablePdfError as error:
        return [_finding(expected, "readable", str(error))], 0.0
    findings = [*_not_there(expected), *_wrong_pages(expected, pages)]
    worst = 0.0
    for number, sheet in enumerate(expected.sheets, start=1):
        found, off = _Sheet(expected, sheet, f"sheet {number}", pages).judged()
        findings += found
        worst = max(worst, off)
    return findings, worst


def _finding(
    expected: ExpectedPatterns, check: str, message: str, *, measured: float | None = None, limit: float | None = None
) -> Finding:
    known = measured if measured is not None and np.isfinite(measured) else None
    return Finding(check=check, severity="error", message=message, file=expected.file, measured=known, limit=limit)


def _not_there(expected: ExpectedPatterns) -> Iterator[Finding]:
    """Findings for parts and layouts that are on no sheet of the plan."""
    placed = {(one.item, one.part.name): None for board in expected.layout.boards for one in board.placements}
    shown = {(one.item, one.part.name) for sheet in expected.sheets for one in sheet.patterns}
    for item, part in placed if expected.parts else ():
        if (item, part) not in shown:
            yield _finding(expected, "missing", f'part "{part}" of item "{item}" has no pattern')
    boards = [sheet.board for sheet in expected.sheets if sheet.board is not None]
    for board in expected.layout.boards if expected.boards else ():
        if board not in boards:
            yield _finding(expected, "missing", f"{board.id} has no pattern of its whole layout")


def _wrong_pages(expected: ExpectedPatterns, pages: Sequence[PdfPage]) -> Iterator[Finding]:
    limit = TOLERANCES.pattern
    last = max((page.number for sheet in expected.sheets for page in sheet.pages), default=0)
    if not any(board.placements for board in expected.layout.boards):
        last = len(pages)  # a booklet of parts that are all sawn has no templates
    if len(pages) != last:
        yield _finding(
            expected, "pages", f"the file has {counted(len(pages), 'page')}, and the sheets end on page {last}"
        )
    for number, page in enumerate(pages, start=1):
        off = max(abs(page.width - expected.paper[0]), abs(page.height - expected.paper[1]))
        if off > limit:
            message = f"page {number} measures {page.width:.2f} x {page.height:.2f} mm, not the paper's size"
            yield _finding(expected, "paper size", message, measured=off, limit=limit)
    for number in (page.number for sheet in expected.sheets for page in sheet.pages if page.number <= len(pages)):
        lengths = np.array([length for path in pages[number - 1].paths for length in _level_lengths(path)])
        for words, length in _BARS:
            off = float(np.abs(lengths - length).min(initial=np.inf))
            if off > limit:
                yield _finding(expected, "check bar", f"page {number} has no bar of {words}", measured=off, limit=limit)


def _level_lengths(path: PaintedPath) -> Iterator[float]:
    for run in path.runs:
        if path.stroke is not None and len(run) == 2 and abs(run[1][1] - run[0][1]) < TOLERANCES.pattern:
            yield float(abs(run[1][0] - run[0][0]))


class _Sheet:
    """One sheet against its pages."""

    def __init__(self, expected: ExpectedPatterns, sheet: ExpectedSheet, name: str, pages: Sequence[PdfPage]) -> None:
        self._expected, self._sheet, self._name, self._pages = expected, sheet, name, pages
        self._edges = edges_of(sheet, step=_STEP)

    def judged(self) -> tuple[list[Finding], float]:
        findings: list[Finding] = []
        worst = 0.0
        seen = {kind: np.zeros(len(edges.points), bool) for kind, edges in self._edges.items()}
        there = [page for page in self._sheet.pages if page.number <= len(self._pages)]
        for page in there:
            paths = self._pages[page.number - 1].paths
            for kind, line in self._expected.lines.items():
                drawn = [path for path in paths if _looks(path.stroke, line)]
                found, off = self._compared(page, kind, drawn, seen)
                findings += found
                worst = max(worst, off)
        for kind, marks in seen.items():
            edges = self._edges[kind]
            names = dict.fromkeys(edges.names[owner] for owner in edges.owners[~marks])
            findings += [self._wrong("missing", f"no page shows all of {name}, {kind}") for name in names]
        return [*findings, *self._without_crosses(there)], worst

    def _compared(
        self, page: ExpectedPage, kind: LineKind, drawn: Sequence[PaintedPath], seen: dict[LineKind, Flags]
    ) -> tuple[list[Finding], float]:
        """The edges of a kind in a page's window against the lines there, both ways."""
        limit, shift = TOLERANCES.pattern, np.array(page.shift)
        edges = self._edges.get(kind) or Edges.none()
        points = edges.points + shift
        inside = _within(points, page, 0.0)
        if kind in seen:
            seen[kind] = seen[kind] | inside
        shown = [path for path in drawn if _covers(path, page)]
        lines = _near_window(_segments([run for path in shown for run in path.runs]), page)
        seen_lines = _near_window(_uncovered(shown, self._pages[page.number - 1], page.window), page)
        off = _distances(points[inside], seen_lines)
        findings, worst = [], 0.0
        owners = edges.owners[inside]
        for owner in np.unique(owners):
            most = float(off[owners == owner].max())
            worst = max(worst, most if np.isfinite(most) else 0.0)
            if most > limit:
                findings.append(self._off(page, edges.names[owner], kind, most))
        extra = _sampled(lines)
        extra = extra[_within(extra, page, -limit)]
        meant = edges.lines[_beside_window(edges.lines + shift, page)]
        astray = _distances(extra - shift, meant)
        most = float(astray.max(initial=0.0))
        if most > limit:
            message = f"page {page.number}: there is a line that looks like {kind} where no part has one"
            findings.append(_finding(self._expected, "stray line", message, measured=most, limit=limit))
        return findings, max(worst, most if np.isfinite(most) else 0.0)

    def _off(self, page: ExpectedPage, name: str, kind: LineKind, most: float) -> Finding:
        lies = "is not drawn" if not np.isfinite(most) else f"is up to {most:.2f} mm from its right place"
        message = f"page {page.number}: {name}: its {kind} {lies}"
        return _finding(self._expected, "true size", message, measured=most, limit=TOLERANCES.pattern)

    def _wrong(self, check: str, message: str) -> Finding:
        return _finding(self._expected, check, f"{self._name}: {message}")

    def _without_crosses(self, there: Sequence[ExpectedPage]) -> Iterator[Finding]:
        crosses = {page.number: _crosses(self._pages[page.number - 1]) - np.array(page.shift) for page in there}
        for one, other in combinations(there, 2):
            if not _neighbours(one, other):
                continue
            near = _apart(crosses[one.number], crosses[other.number]) <= TOLERANCES.pattern
            if near.sum() < 2:
                pages = f"pages {one.number} and {other.number}"
                yield self._wrong("register", f"{pages} don't have two crosses at the same places of the sheet")


def _looks(look: Look | None, line: ExpectedLine) -> bool:
    if look is None or look.colour != line.colour or abs(look.width - line.width) > limits.SAME_LOOK:
        return False
    same = len(look.dashes) == len(line.dashes)
    return same and all(abs(a - b) <= limits.SAME_LOOK for a, b in zip(look.dashes, line.dashes, strict=True))


def _covers(path: PaintedPath, page: ExpectedPage) -> bool:
    """Whether the shown part of a path reaches as far as the page's window."""
    x0, y0, x1, y1 = path.clip
    a, b, c, d = page.window
    limit = TOLERANCES.pattern
    return x0 <= a + limit and y0 <= b + limit and x1 >= c - limit and y1 >= d - limit


def _uncovered(shown: Sequence[PaintedPath], page: PdfPage, box: Box) -> Floats:
    """The straight pieces of paths, without what areas painted later cover in a box."""
    within = shapely.box(*box)
    areas = [(place, _area(path)) for place, path in enumerate(page.paths) if path.fill is not None]
    areas = [(place, area) for place, area in areas if shapely.intersects(area, within)]
    pieces = [np.zeros((0, 2, 2))]
    for place, path in enumerate(page.paths):
        if any(path is one for one in shown):
            lines = _segments(path.runs)
            over = [area for after, area in areas if after > place]
            if over and len(lines):
                left = shapely.difference(shapely.MultiLineString(list(lines)), shapely.union_all(over))
                lines = _segments([shapely.get_coordinates(line) for line in shapely.get_parts(left)])
            pieces.append(lines)
    return np.concatenate(pieces)


def _area(path: PaintedPath) -> shapely.Geometry:
    """The largest area that a fill may cover, its holes included."""
    rings = [shapely.make_valid(shapely.Polygon(run)) for run in path.runs if len(run) > 2]
    return shapely.intersection(shapely.union_all(rings), shapely.box(*path.clip))


def _within(points: Floats, page: ExpectedPage, more: float) -> Flags:
    x0, y0, x1, y1 = page.window
    x, y = points[:, 0], points[:, 1]
    inside: Flags = (x >= x0 - more) & (x <= x1 + more) & (y >= y0 - more) & (y <= y1 + more)
    return inside


def _beside_window(segments: Floats, page: ExpectedPage) -> Flags:
    """Which straight pieces may come near to a page's window."""
    x0, y0, x1, y1 = page.window
    low, high = segments.min(axis=1), segments.max(axis=1)
    margin = 2 * _STEP
    beside: Flags = (
        (high[:, 0] >= x0 - margin)
        & (low[:, 0] <= x1 + margin)
        & (high[:, 1] >= y0 - margin)
        & (low[:, 1] <= y1 + margin)
    )
    return beside


def _near_window(segments: Floats, page: ExpectedPage) -> Floats:
    near: Floats = segments[_beside_window(segments, page)]
    return near


def _segments(runs: Sequence[Floats]) -> Floats:
    """The straight pieces of runs, as pairs of points."""
    pairs = [np.stack([run[:-1], run[1:]], axis=1) for run in runs if len(run) > 1]
    every = np.concatenate(pairs) if pairs else np.zeros((0, 2, 2))
    long: Floats = every[np.abs(every[:, 1] - every[:, 0]).max(axis=1, initial=0.0) > TOLERANCES.same_point]
    return long


def _sampled(segments: Floats) -> Floats:
    """Points on segments, no farther apart than the step."""
    if not len(segments):
        return np.zeros((0, 2))
    points: Floats = shapely.get_coordinates(shapely.segmentize(shapely.linestrings(segments), _STEP))
    return points


def _distances(points: Floats, segments: Floats) -> Floats:
    """The distance of each point from the nearest segment; infinite where there is none."""
    if not len(points) or not len(segments):
        return np.full(len(points), np.inf)
    tree = shapely.STRtree(np.atleast_1d(np.asarray(shapely.linestrings(segments))))
    _, away = tree.query_nearest(shapely.points(points), return_distance=True, all_matches=False)
    distances: Floats = away
    return distances


def _crosses(page: PdfPage) -> Floats:
    """The middles of a page's register crosses."""
    found = []
    for path in page.paths:
        lines = [run for run in path.runs if len(run) == 2]
        if path.stroke is None or len(lines) != 2 or len(path.runs) != 2:
            continue
        ways = [line[1] - line[0] for line in lines]
        middles = [line.mean(axis=0) for line in lines]
        long = all(abs(np.hypot(*way) - _CROSS) < TOLERANCES.pattern for way in ways)
        if long and abs(ways[0] @ ways[1]) < 1.0 and np.abs(middles[0] - middles[1]).max() < TOLERANCES.pattern:
            found.append(middles[0])
    return np.array(found).reshape(-1, 2)


def _apart(one: Floats, other: Floats) -> Floats:
    """The distance of each place of `one` from the nearest of `other`."""
    if not len(one) or not len(other):
        return np.full(len(one), np.inf)
    away: Floats = np.hypot(*(one[:, None, :] - other[None, :, :]).transpose(2, 0, 1)).min(axis=1)
    return away


def _neighbours(one: ExpectedPage, other: ExpectedPage) -> bool:
    """Whether two pages are glued along an edge: their windows share a strip that is far longer than it is wide."""
    boxes = [np.array(page.window).reshape(2, 2) - np.array(page.shift) for page in (one, other)]
    low, high = np.maximum(boxes[0][0], boxes[1][0]), np.minimum(boxes[0][1], boxes[1][1])
    shared = high - low
    return bool((shared > limits.PAGES_SHARE).all() and shared.max() > 2 * shared.min())
