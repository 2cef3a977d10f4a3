"""Keep-outs of a board: no motion below safe height comes within the cutter's radius of a knot, a nail or a clamp."""

from __future__ import annotations

import numpy as np
import shapely

from cutjob.geometry.polygons import to_polygon
from cutjob.job.machine import Machine
from cutjob.layout.layout import BoardLayout
from cutjob.proof.curves import from_segments, join
from cutjob.proof.expect import ExpectedProgram
from cutjob.proof.finding import Finding
from cutjob.proof.near import near_curves
from cutjob.proof.nearness import point_geometries
from cutjob.proof.tracks import Tracks
from cutjob.tolerances import TOLERANCES


def judge_keep_outs(
    tracks: Tracks, layout: BoardLayout, programs: tuple[ExpectedProgram, ...], machine: Machine
) -> list[Finding]:
    """Return a finding for each keep-out some motion runs into; `tracks` holds every motion, rapids too."""
    areas = layout.board.keep_outs
    if not areas:
        return []
    low = tracks if machine.kind == "laser" else tracks.below(machine.motion.safe_height - TOLERANCES.output)[1]
    pieces = [from_segments(area.segments) for area in areas]
    owner = np.repeat(np.arange(len(areas)), [len(piece) for piece in pieces])
    track, row, apart = near_curves(low.curves, join(pieces), low.radius)
    shapes = np.array([to_polygon(area) for area in areas], dtype=object)
    points = point_geometries(low.curves.x0, low.curves.y0)
    area, inside = shapely.STRtree(points).query(shapes, predicate="contains")
    worst: dict[int, tuple[float, int]] = {}
    hits = [(int(owner[r]), int(t), float(low.radius[t] - d)) for t, r, d in zip(track, row, apart, strict=True)]
    hits += [(int(a), int(t), float(low.radius[t])) for a, t in zip(area, inside, strict=True)]
    for one, where, depth in hits:
        # The rounding of the file may bring a path that was laid exactly beside an area a hair nearer.
        if depth > TOLERANCES.acceptance and depth > worst.get(one, (0.0, 0))[0]:
            worst[one] = (depth, where)
    return [
        Finding(
            check="keep-out",
            severity="error",
            message=f"the cutter comes {depth:.2f} mm into keep-out {one + 1} of the board below safe height",
            file=programs[int(low.program[where])].file,
            line=int(low.line[where]),
            at=(float(low.curves.x0[where]), float(low.curves.y0[where])),
            measured=depth,
            limit=0.0,
        )
        for one, (depth, where) in sorted(worst.items())
    ]
