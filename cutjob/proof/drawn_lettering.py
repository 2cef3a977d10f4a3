"""Lettering in a drawing: all of it is drawn, once, on the layer of marks. mm."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np

from cutjob.job.machine import Machine
from cutjob.layout.layout import BoardLayout
from cutjob.proof.coverage import uncovered
from cutjob.proof.curves import Curves, from_segments, join
from cutjob.proof.drawn import drawing_finding
from cutjob.proof.dxf_reader import DrawnChain
from cutjob.proof.expect import ExpectedDrawing
from cutjob.proof.finding import Finding
from cutjob.proof.layers import misplaced
from cutjob.proof.near import near_curves
from cutjob.tolerances import TOLERANCES

_TWICE = 0.1  # mm of lines drawn more than there are strokes


def without_lettering(
    chains: Sequence[DrawnChain], expected: ExpectedDrawing, machine: Machine
) -> tuple[tuple[DrawnChain, ...], list[Finding]]:
    """Return the chains but for those that draw lettering of the board, and findings about these."""
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
    if float(lines.length.sum()) > float(strokes.length.sum()) + _TWICE:
        yield "lettering is drawn twice", letters[-1]


def _strokes(layout: BoardLayout) -> Curves:
    return join([from_segments(path) for entry in layout.lettering for path in entry.paths])


def _bare(targets: Curves, others: Curves) -> bool:
    """Whether any stretch of the targets lies off all the others."""
    reach = np.full(len(others), TOLERANCES.acceptance)
    other, target, _ = near_curves(others, targets, reach)
    return bool(len(uncovered(targets, others, reach, target=target, cut=other)))
