"""Judges holes for screws and pins in a drawing: each is drawn once, at its width, on the layer of drilled holes. mm.

Lettering in a drawing must all be drawn, once, on the layer of marks.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence

import numpy as np

from cutjob.geometry.segment import Point
from cutjob.job.machine import Machine
from cutjob.layout.layout import BoardLayout
from cutjob.proof import limits
from cutjob.proof.board.coverage import uncovered
from cutjob.proof.board.curves import Curves, from_segments, join
from cutjob.proof.board.track_edge_pairs import curves_within
from cutjob.proof.drawing.dxf_reader import DrawnChain
from cutjob.proof.drawing.layers import drawing_finding, misplaced
from cutjob.proof.expect import ExpectedDrawing
from cutjob.proof.finding import Finding
from cutjob.tolerances import TOLERANCES


def without_lettering(
    chains: Sequence[DrawnChain], expected: ExpectedDrawing, machine: Machine
) -> tuple[tuple[DrawnChain, ...], list[Finding]]:
    """Return the chains without those that draw lettering of the board, and findings about the lettering."""
    strokes = _strokes(expected.board)
    if not len(strokes):
        return tuple(chains), []
    pieces = [from_segments(chain.segments) for chain in chains]
    own = [bool(len(piece)) and not _bare(piece, strokes) for piece in pieces]
    letters = [chain for chain, is_own in zip(chains, own, strict=True) if is_own]
    rest = tuple(chain for chain, is_own in zip(chains, own, strict=True) if not is_own)
    lines = join([piece for piece, is_own in zip(pieces, own, strict=True) if is_own])
    return rest, [
        drawing_finding(expected, message, chain) for message, chain in _wrong(letters, lines, strokes, machine)
    ]


def _wrong(
    letters: Sequence[DrawnChain], lines: Curves, strokes: Curves, machine: Machine
) -> Iterator[tuple[str, DrawnChain | None]]:
    for chain in letters:
        wanted = misplaced(chain, ("mark",), machine)
        if wanted is not None:
            yield f"lettering is drawn on layer {chain.layer!r}, not on {wanted}", chain
    if _bare(strokes, lines):
        yield "not all of the board's lettering is drawn", None
    if float(lines.length.sum()) > float(strokes.length.sum()) + limits.DRAWN_TWICE:
        yield "lettering is drawn twice", letters[-1]


def _strokes(layout: BoardLayout) -> Curves:
    return join([from_segments(path) for entry in layout.lettering for path in entry.paths])


def _bare(targets: Curves, others: Curves) -> bool:
    """Whether any stretch of the targets is off all the others."""
    reach = np.full(len(others), TOLERANCES.acceptance)
    other, target, _ = curves_within(others, targets, reach)
    return bool(len(uncovered(targets, others, reach, target=target, cut=other)))


def without_fixings(
    chains: Sequence[DrawnChain], expected: ExpectedDrawing, machine: Machine
) -> tuple[tuple[DrawnChain, ...], list[Finding]]:
    """Return the chains without those that draw holes for screws and pins, and findings about these holes.

    They are drawn with no offset, whatever offset the parts' contours have.
    """
    rest = list(chains)
    found = []
    for at, diameter, name in _fixings(expected.board, machine):
        own = [chain for chain in rest if _draws(chain, at, diameter)]
        where = f"the hole for the {name} at {at[0]:.2f}, {at[1]:.2f}"
        if not own:
            found.append(drawing_finding(expected, f"{where} is not drawn"))
        for chain in own:
            rest.remove(chain)
            wanted = misplaced(chain, ("drill",), machine)
            if wanted is not None:
                found.append(drawing_finding(expected, f"{where} is on layer {chain.layer!r}, not on {wanted}", chain))
        if len(own) > 1:
            found.append(drawing_finding(expected, f"{where} is drawn {len(own)} times", own[-1]))
    return tuple(rest), found


def _fixings(layout: BoardLayout, machine: Machine) -> list[tuple[Point, float, str]]:
    """Place, diameter and name of every hole, each place once."""
    holes = {down.at: (down.at, down.diameter, "hold-down") for down in layout.hold_downs}
    pin = machine.travel.pin if machine.travel is not None else None
    for at in (at for window in layout.windows for at in window.holes if pin is not None):
        holes.setdefault(at, (at, pin or 0.0, "pin"))
    return list(holes.values())


def _draws(chain: DrawnChain, at: Point, diameter: float) -> bool:
    """Whether a chain is a full circle about a place, of this diameter."""
    curves = from_segments(chain.segments)
    if not chain.closed or not len(curves) or not bool(curves.is_arc.all()):
        return False
    limit = TOLERANCES.acceptance
    off = max(abs(curves.cx - at[0]).max(), abs(curves.cy - at[1]).max(), abs(curves.r - diameter / 2).max())
    return bool(off <= limit and abs(float(curves.length.sum()) - math.pi * diameter) <= 4 * limit)
