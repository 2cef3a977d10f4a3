"""Keep-outs of a board: no low motion comes within the cutter's radius of a knot, a nail or a clamp. mm.

Low is below safe height, and where something stands on the board, below what stands there and a little air.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely

from cutjob.geometry.contour import Contour
from cutjob.geometry.polygons import to_polygon
from cutjob.geometry.segment import Point
from cutjob.job.machine import Machine
from cutjob.layout.layout import BoardLayout
from cutjob.proof.board.curves import from_segments, join
from cutjob.proof.board.distances import point_geometries
from cutjob.proof.board.near import near_curves
from cutjob.proof.board.nose import noses_below
from cutjob.proof.board.standing import OVER
from cutjob.proof.board.tracks import Tracks
from cutjob.proof.expect import ExpectedProgram
from cutjob.proof.finding import Finding
from cutjob.tolerances import TOLERANCES


@dataclass(frozen=True, slots=True)
class Hit:
    """A motion that comes into an area, how far, and where it begins."""

    area: int
    depth: float
    program: int
    line: int
    at: Point


def tallest(program: ExpectedProgram) -> float:
    """Return how far the highest thing that stands on the board while the program runs stands above the stock's top."""
    heads = [down.height for down in program.board.hold_downs if down.window in (None, program.window)]
    return max(program.board.board.tallest, *heads, 0.0)


def judge_keep_outs(
    tracks: Tracks, layout: BoardLayout, programs: tuple[ExpectedProgram, ...], machine: Machine
) -> list[Finding]:
    """Return a finding for each keep-out some motion runs into; `tracks` holds every motion, rapids too."""
    areas = [one.area for one in layout.board.keep_outs]
    if not areas:
        return []
    heights = [one.height for one in layout.board.keep_outs]
    levels = [max(machine.motion.safe_height, height + OVER if height > 0 else 0.0) for height in heights]
    hits: list[Hit] = []
    for level in sorted(set(levels)):
        low = tracks if machine.kind == "laser" else tracks.below(level - TOLERANCES.output)[1]
        hits += _hits(low, [number for number, own in enumerate(levels) if own == level], areas)
    found = [
        Finding(
            check="keep-out",
            severity="error",
            message=f"the cutter comes {hit.depth:.2f} mm into keep-out {area + 1} of the board below "
            + ("safe height" if levels[area] == machine.motion.safe_height else "what stands there"),
            file=programs[hit.program].file,
            line=hit.line,
            at=hit.at,
            measured=hit.depth,
            limit=0.0,
        )
        for area, hit in sorted(_worst(hits).items())
    ]
    return found + _noses(tracks, areas, heights, programs, machine)


def _noses(
    tracks: Tracks,
    areas: Sequence[Contour],
    heights: Sequence[float],
    programs: tuple[ExpectedProgram, ...],
    machine: Machine,
) -> list[Finding]:
    """Findings for the nose of the spindle where it meets what stands on the board."""
    hits: list[Hit] = []
    for height in sorted({height for height in heights if height > 0}):
        low = noses_below(tracks, height + OVER, programs=programs, machine=machine)
        if low is not None:
            hits += _hits(low, [number for number, own in enumerate(heights) if own == height], areas)
    return [
        Finding(
            check="nose",
            severity="error",
            message=f"the spindle's nose comes {hit.depth:.2f} mm into what stands {heights[area]:.1f} mm high on "
            f"keep-out {area + 1} of the board",
            file=programs[hit.program].file,
            line=hit.line,
            at=hit.at,
            measured=hit.depth,
            limit=0.0,
        )
        for area, hit in sorted(_worst(hits).items())
    ]


def deepest_hits(
    tracks: Tracks, area: Contour, height: float, programs: tuple[ExpectedProgram, ...], machine: Machine
) -> list[tuple[Hit, str]]:
    """Return the deepest hit of the cutter in an area where something stands `height` mm high, and that of the
    spindle's nose, each with the word for it; `tracks` holds every motion, rapids too.
    """
    found = []
    level = max(machine.motion.safe_height, height + OVER)
    low = tracks if machine.kind == "laser" else tracks.below(level - TOLERANCES.output)[1]
    found += [(hit, "cutter") for hit in _worst(_hits(low, [0], [area])).values()]
    nose = noses_below(tracks, height + OVER, programs=programs, machine=machine)
    if nose is not None:
        found += [(hit, "spindle's nose") for hit in _worst(_hits(nose, [0], [area])).values()]
    return found


def _worst(hits: Sequence[Hit]) -> dict[int, Hit]:
    """The deepest hit of each area that some motion really comes into."""
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
    track, row, apart = near_curves(low.curves, join(pieces), low.radius)
    shapes = np.array([to_polygon(areas[number]) for number in chosen], dtype=object)
    points = point_geometries(low.curves.x0, low.curves.y0)
    area, inside = shapely.STRtree(points).query(shapes, predicate="contains")
    pairs = [(int(owner[r]), int(t), float(low.radius[t] - d)) for t, r, d in zip(track, row, apart, strict=True)]
    pairs += [(chosen[int(a)], int(t), float(low.radius[t])) for a, t in zip(area, inside, strict=True)]
    curves = low.curves
    return [
        Hit(one, depth, int(low.program[t]), int(low.line[t]), (float(curves.x0[t]), float(curves.y0[t])))
        for one, t, depth in pairs
    ]
