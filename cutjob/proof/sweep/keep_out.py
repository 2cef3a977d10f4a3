"""Keep-outs of a board: no low motion comes within the cutter's radius of a knot, a nail or a clamp. mm.

Low means below safe height; over a thing on the board, lower than that thing and a little air.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
import shapely

from cutjob.geometry.contour import Contour
from cutjob.geometry.polygons import to_polygon
from cutjob.proof.board.board_case import BoardCase
from cutjob.proof.board.curves import from_segments, join
from cutjob.proof.board.distances import point_geometries
from cutjob.proof.board.track_edge_pairs import curves_within
from cutjob.proof.board.tracks import Tracks
from cutjob.proof.expect import ExpectedProgram
from cutjob.proof.finding import Finding
from cutjob.proof.sweep.nose import noses_below
from cutjob.tolerances import TOLERANCES


@dataclass(frozen=True, slots=True)
class Hit:
    """A motion (an index into the tracks given) that comes into an area, and how far."""

    area: int
    depth: float
    low: Tracks
    track: int

    def finding(self, case: BoardCase, check: str, message: str) -> Finding:
        """A finding about it."""
        return case.error(check, message, self.track, of=self.low, measured=self.depth, limit=0.0)


def tallest(program: ExpectedProgram) -> float:
    """Return the height, above the stock's top, of the highest thing on the board while the program runs."""
    heads = [down.height for down in program.board.hold_downs if down.window in (None, program.window)]
    return max(program.board.board.tallest, *heads, 0.0)


def judge_keep_outs(case: BoardCase) -> Iterator[Finding]:
    """Yield a finding for each keep-out that a motion runs into, and for each where the spindle's nose meets the thing
    there.
    """
    board, safe = case.layout.board, case.machine.motion.safe_height
    areas = [one.area for one in board.keep_outs]
    if not areas:
        return
    heights = [one.height for one in board.keep_outs]
    levels = [max(safe, height + TOLERANCES.standing_air if height > 0 else 0.0) for height in heights]
    hits: list[Hit] = []
    for level in sorted(set(levels)):
        low = _cutters_below(case, case.motions, level)
        hits += _hits(low, [number for number, own in enumerate(levels) if own == level], areas)
    for area, hit in sorted(_worst(hits).items()):
        message = f"the cutter comes {hit.depth:.2f} mm into keep-out {area + 1} of the board below "
        message += "safe height" if levels[area] == safe else "the height of the thing there"
        yield hit.finding(case, "keep-out", message)
    hits = []
    for height in sorted({height for height in heights if height > 0}):
        nose = noses_below(case, case.motions, height + TOLERANCES.standing_air)
        if nose is not None:
            hits += _hits(nose, [number for number, own in enumerate(heights) if own == height], areas)
    for area, hit in sorted(_worst(hits).items()):
        message = f"the spindle's nose comes {hit.depth:.2f} mm into the thing {heights[area]:.1f} mm high on "
        yield hit.finding(case, "nose", f"{message}keep-out {area + 1} of the board")


def deepest_hits(case: BoardCase, tracks: Tracks, area: Contour, height: float) -> list[tuple[Hit, str]]:
    """Return the deepest hit of the cutter in an area with a thing `height` mm high, and that of the spindle's nose,
    each with its name; `tracks` are some or all motions, rapids too.
    """
    low = _cutters_below(case, tracks, max(case.machine.motion.safe_height, height + TOLERANCES.standing_air))
    found = [(hit, "cutter") for hit in _worst(_hits(low, [0], [area])).values()]
    nose = noses_below(case, tracks, height + TOLERANCES.standing_air)
    if nose is not None:
        found += [(hit, "spindle's nose") for hit in _worst(_hits(nose, [0], [area])).values()]
    return found


def _cutters_below(case: BoardCase, tracks: Tracks, level: float) -> Tracks:
    return tracks if case.laser else tracks.below(level - TOLERANCES.output)[1]


def _worst(hits: Sequence[Hit]) -> dict[int, Hit]:
    """The deepest hit in each area that a motion really enters."""
    worst: dict[int, Hit] = {}
    for hit in hits:
        # The rounding of the file may bring a path that was laid exactly beside an area a hair nearer.
        known = worst.get(hit.area)
        if hit.depth > TOLERANCES.acceptance and (known is None or hit.depth > known.depth):
            worst[hit.area] = hit
    return worst


def _hits(low: Tracks, chosen: Sequence[int], areas: Sequence[Contour]) -> list[Hit]:
    pieces = [from_segments(areas[number].segments) for number in chosen]
    owner = np.repeat(np.array(chosen, dtype=np.int64), [len(piece) for piece in pieces])
    track, row, apart = curves_within(low.curves, join(pieces), low.radius)
    shapes = np.array([to_polygon(areas[number]) for number in chosen], dtype=object)
    points = point_geometries(low.curves.x0, low.curves.y0)
    area, inside = shapely.STRtree(points).query(shapes, predicate="contains")
    pairs = [(int(owner[r]), int(t), float(low.radius[t] - d)) for t, r, d in zip(track, row, apart, strict=True)]
    pairs += [(chosen[int(a)], int(t), float(low.radius[t])) for a, t in zip(area, inside, strict=True)]
    return [Hit(one, depth, low, t) for one, t, depth in pairs]
