"""Compares a drawing with the layout: every contour and mark once, in its place, closed, and nothing else. mm.

A contour drawn with an offset is everywhere that far from the part's, on the waste side: outlines and islands outward,
holes and pockets inward. Both ways are checked: everything drawn belongs to a contour, and every contour is wholly
drawn.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from cutjob.errors import Problem
from cutjob.geometry.transform import Transform
from cutjob.job.machine import Machine
from cutjob.proof import limits
from cutjob.proof.board.coverage import Gaps, uncovered
from cutjob.proof.board.curves import Curves, Floats, Ints, from_segments, join
from cutjob.proof.board.distances import Finder, point_distance
from cutjob.proof.board.edges_of_layout import edges_of_layout
from cutjob.proof.board.required_edges import RequiredEdges
from cutjob.proof.board.stretches import reachable_stretches
from cutjob.proof.board.track_edge_pairs import curves_within
from cutjob.proof.drawing.dxf_reader import Drawing, DrawnChain, read_drawing
from cutjob.proof.drawing.fixings import without_fixings, without_lettering
from cutjob.proof.drawing.layers import MOST_FINDINGS, Drawn, drawing_finding, judge_colours, judge_layers, misplaced
from cutjob.proof.drawing.svg_reader import read_svg_drawing
from cutjob.proof.expect import ExpectedDrawing
from cutjob.proof.finding import Finding
from cutjob.tolerances import TOLERANCES
from cutjob.units import parse_length

_VERSIONS = {"R12": "AC1009", "R2000": "AC1015"}
# A length as messages have it: 0.2 mm, 1/64 in, 1 1/8 in.
_MOVED = re.compile(r"moved by half the [a-z' ]+? of ([0-9][0-9 ./]* (?:mm|in))\b")
_UNSAID = "the drawing doesn't say that its outlines are drawn at their finished size"
_EVERY_FILE_HAS = "0"  # a layer that is always there (DXF reference)
_UNITS = {"mm": 4, "in": 1}  # $INSUNITS of the DXF reference
_MEASUREMENT = {"mm": 1, "in": 0}


def judge_drawing(data: bytes, expected: ExpectedDrawing, machine: Machine) -> list[Finding]:
    """Return findings about one DXF file, or an SVG file to cut from."""
    if expected.file.lower().endswith(".svg"):
        return _judge_svg(data, expected, machine)
    drawing = read_drawing(data, name=expected.file, unit=machine.drawing.units)
    found = _unread(drawing.problems, expected)
    if found:
        return found
    found = _header(drawing, expected, machine) + _kerf(drawing.comments, expected)
    drawn_on = {chain.layer.casefold() for chain in drawing.chains}
    empty = sorted(name for name in drawing.layers if name != _EVERY_FILE_HAS and name.casefold() not in drawn_on)
    found += [drawing_finding(expected, f"nothing is drawn on layer {name!r}") for name in empty[:MOST_FINDINGS]]
    return found + _judge_chains(drawing.chains, expected, machine)


def _judge_svg(data: bytes, expected: ExpectedDrawing, machine: Machine) -> list[Finding]:
    """Findings about an SVG file: its page is the board's box, and its colours are those of the profile."""
    drawing = read_svg_drawing(data, name=expected.file)
    found = _unread(drawing.problems, expected)
    if found:
        return found
    x0, y0, x1, y1 = expected.board.board.outline.bounds
    if max(abs(drawing.size[0] - (x1 - x0)), abs(drawing.size[1] - (y1 - y0))) > TOLERANCES.acceptance:
        page, board = (f"{wide:g} x {high:g}" for wide, high in (drawing.size, (x1 - x0, y1 - y0)))
        found.append(drawing_finding(expected, f"the page is {page} mm, the board {board} mm"))
    found += _kerf(drawing.comments, expected)
    drawn_on = {chain.layer for chain in drawing.chains}
    empty = sorted(set(drawing.colours) - drawn_on)
    found += [drawing_finding(expected, f"nothing is drawn on layer {name!r}") for name in empty[:MOST_FINDINGS]]
    chains = tuple(_moved(chain, x0, y0) for chain in drawing.chains)
    return found + _judge_chains(chains, expected, machine) + judge_colours(drawing.colours, expected, machine)


def _kerf(comments: Sequence[str], expected: ExpectedDrawing) -> list[Finding]:
    """Findings about a drawing's statement of the kerf: outlines at finished size, or moved by half of a kerf
    this wide.
    """
    text = " ".join(" ".join(comments).split())
    as_drawn, moved = "drawn at their finished size" in text, _MOVED.search(text)
    if expected.offset == 0:
        return [] if as_drawn and not moved else [drawing_finding(expected, _UNSAID)]
    width = None if moved is None else moved[1]
    if width is None or as_drawn:
        return [drawing_finding(expected, "the drawing doesn't say that its outlines are moved by half the kerf")]
    stated = parse_length(width, unit="mm")
    if abs(stated - 2 * expected.offset) > limits.SAID_LENGTH:
        message = f"the drawing says a kerf of {width}; its outlines are moved by half of {2 * expected.offset:g} mm"
        return [drawing_finding(expected, message)]
    return []


def _unread(problems: Sequence[Problem], expected: ExpectedDrawing) -> list[Finding]:
    return [
        Finding(
            check="drawing",
            severity="error",
            message=problem.message,
            file=expected.file,
            line=problem.location.line if problem.location else None,
        )
        for problem in problems[:MOST_FINDINGS]
    ]


def _moved(chain: DrawnChain, x: float, y: float) -> DrawnChain:
    return replace(chain, segments=tuple(Transform(x=x, y=y).segment(segment) for segment in chain.segments))


def _judge_chains(chains: tuple[DrawnChain, ...], expected: ExpectedDrawing, machine: Machine) -> list[Finding]:
    """Findings about the contours drawn, in the board's frame."""
    edges = edges_of_layout(expected.board)
    chains, found = _without_board(chains, expected, machine)
    chains, lettering_findings = without_lettering(chains, expected, machine)
    chains, fixing_findings = without_fixings(chains, expected, machine)
    drawn = _assigned(chains, edges, expected.offset)
    found += lettering_findings + fixing_findings + _strangers(drawn, edges, expected)
    found += _unequal(drawn, edges, expected) + _not_drawn(drawn, edges, expected) + _sides(drawn, edges, expected)
    return found + judge_layers(drawn, edges, expected, machine)


def _header(drawing: Drawing, expected: ExpectedDrawing, machine: Machine) -> list[Finding]:
    found = []
    wanted = _VERSIONS[machine.drawing.version]
    if drawing.version != wanted:
        found.append(drawing_finding(expected, f"the drawing is {drawing.version}; the profile asks for {wanted}"))
    unit = machine.drawing.units
    if wanted == "AC1009":  # R12 has no variable for it
        if not any(unit in comment.split() for comment in drawing.comments):
            found.append(drawing_finding(expected, f"the drawing doesn't say that it is in {unit}"))
    elif drawing.units != _UNITS[unit]:
        found.append(drawing_finding(expected, f"$INSUNITS is {drawing.units}; for {unit} it is {_UNITS[unit]}"))
    elif drawing.measurement != _MEASUREMENT[unit]:
        stated = "not stated" if drawing.measurement is None else drawing.measurement
        found.append(drawing_finding(expected, f"$MEASUREMENT is {stated}; for {unit} it is {_MEASUREMENT[unit]}"))
    return found


def _without_board(
    chains: Sequence[DrawnChain], expected: ExpectedDrawing, machine: Machine
) -> tuple[tuple[DrawnChain, ...], list[Finding]]:
    """Return the chains without the board's own outline, and findings about that outline."""
    outline = from_segments(expected.board.board.outline.segments)
    bounds = expected.board.board.outline.bounds
    kept, boards = [], []
    for chain in chains:
        curves = from_segments(chain.segments)
        if chain.closed and len(curves) and _box_near(curves, bounds) and _same(curves, outline):
            boards.append(chain)
        else:
            kept.append(chain)
    found = []
    if machine.drawing.board and not boards:
        found.append(drawing_finding(expected, "the board's outline is not drawn"))
    for chain in boards:
        wanted = misplaced(chain, ("board",), machine)
        if wanted is not None:
            found.append(
                drawing_finding(expected, f"the board's outline is on layer {chain.layer!r}, not on {wanted}", chain)
            )
    if len(boards) > int(machine.drawing.board):
        found.append(drawing_finding(expected, f"the board's outline is drawn {len(boards)} times", boards[-1]))
    return tuple(kept), found


def _box_near(curves: Curves, bounds: tuple[float, float, float, float]) -> bool:
    low_x, low_y, high_x, high_y = curves.boxes()
    box = (low_x.min(), low_y.min(), high_x.max(), high_y.max())
    return all(abs(one - two) <= TOLERANCES.acceptance for one, two in zip(box, bounds, strict=True))


def _same(a: Curves, b: Curves) -> bool:
    return all(
        not len(_gaps(one, two, np.full(len(two), TOLERANCES.acceptance)).target) for one, two in ((a, b), (b, a))
    )


def _gaps(targets: Curves, others: Curves, reach: Floats) -> Gaps:
    other, target, _ = curves_within(others, targets, reach)
    return uncovered(targets, others, reach, target=target, cut=other)


def _assigned(chains: tuple[DrawnChain, ...], edges: RequiredEdges, offset: float) -> Drawn:
    """Return the chains, each with the edge it draws: the one from which all its corners are nearest to the offset."""
    pieces = [from_segments(chain.segments) for chain in chains]
    curves = join(pieces)
    owner = np.repeat(np.arange(len(chains), dtype=np.int64), [len(piece) for piece in pieces])
    edge = np.full(len(chains), -1, dtype=np.int64)
    if len(curves) and len(edges.curves):
        middle_x, middle_y = curves.at(np.full(len(curves), 0.5))
        reach = np.full(len(curves), abs(offset) + TOLERANCES.acceptance)
        place, row = Finder(edges.curves).around(middle_x, middle_y, reach)
        apart = point_distance(middle_x[place], middle_y[place], edges.curves.take(row))[0]
        hit = apart <= reach[place]
        # One vote for each segment and edge.
        count = max(1, len(edges.every))
        vote = place[hit] * np.int64(count) + edges.edge[row[hit]]
        votes, of_vote = np.unique(vote, return_inverse=True)
        key, of_key, number = np.unique(
            owner[votes // count] * np.int64(count) + votes % count, return_inverse=True, return_counts=True
        )
        # Among edges with the same share of votes, the one whose distance is best on the whole; among these, the one
        # whose length is nearest to the chain's.
        astray = np.full(len(votes), np.inf)
        np.minimum.at(astray, of_vote, np.abs(apart[hit] - _wanted(edges, offset)[row[hit]]))
        step = np.round(np.bincount(of_key, weights=astray, minlength=len(key)) / number / TOLERANCES.acceptance)
        share = number / np.bincount(owner, minlength=len(chains))[key // count]
        total = np.bincount(edges.edge, weights=edges.curves.length, minlength=count)
        own = np.bincount(owner, weights=curves.length, minlength=len(chains))
        off = np.abs(total[key % count] - own[key // count]) / np.maximum(own[key // count], 1e-9)
        for index in np.lexsort((-off, -step, share)):
            if share[index] > 0.5:
                edge[key[index] // count] = key[index] % count
    return Drawn(chains, curves, owner, edge)


def _wanted(edges: RequiredEdges, offset: float) -> Floats:
    """How far from each row's contour its line must be drawn."""
    marks = np.array([edge.kind == "mark" for edge in edges.every], dtype=bool)
    return np.where(marks[edges.edge], 0.0, abs(offset))


def _strangers(drawn: Drawn, edges: RequiredEdges, expected: ExpectedDrawing) -> list[Finding]:
    """Chains that draw nothing of the layout, open outlines, and contours drawn twice."""
    found = []
    seen: set[int] = set()
    for number, chain in enumerate(drawn.chains):
        edge = int(drawn.edge[number])
        if edge < 0:
            found.append(drawing_finding(expected, "something is drawn that isn't a contour of the layout", chain))
            continue
        if not chain.closed and edges.every[edge].kind != "mark":
            found.append(drawing_finding(expected, f"the {edges.name(edge)} is drawn open", chain))
        if edge in seen and _twin(drawn, number):
            found.append(drawing_finding(expected, f"the {edges.name(edge)} is drawn twice", chain))
        seen.add(edge)
    return found[:MOST_FINDINGS]


def _twin(drawn: Drawn, number: int) -> bool:
    """Whether a chain before this one draws the same line."""
    own = drawn.curves.take(np.flatnonzero(drawn.chain == number))
    for other in np.flatnonzero(drawn.edge[:number] == drawn.edge[number]):
        before = drawn.curves.take(np.flatnonzero(drawn.chain == other))
        if not len(_gaps(own, before, np.full(len(before), TOLERANCES.acceptance)).target):
            return True
    return False


def _unequal(drawn: Drawn, edges: RequiredEdges, expected: ExpectedDrawing) -> list[Finding]:
    """Chains that leave their contour, or come nearer to it than the offset."""
    offset, limit = abs(expected.offset), TOLERANCES.acceptance
    row_edge = drawn.edge[drawn.chain]
    reach = np.where(edges.edge < 0, 0.0, offset + limit) if len(edges.edge) else np.zeros(0)
    marks = np.array([edge.kind == "mark" for edge in edges.every], dtype=bool)
    if len(edges.edge):
        reach = np.where(marks[edges.edge], limit, reach)
    other, target, apart = curves_within(edges.curves, drawn.curves, reach)
    own = edges.edge[other] == row_edge[target]
    gaps = uncovered(drawn.curves, edges.curves, reach, target=target[own], cut=other[own])
    wrong = set(drawn.chain[gaps.target].tolist())
    close = own & (apart < offset - limit) & ~marks[edges.edge[other]]
    wrong |= set(drawn.chain[target[close]].tolist())
    return [
        drawing_finding(
            expected,
            f"the {edges.name(int(drawn.edge[number]))} is not drawn in its place, to {limit} mm",
            drawn.chains[number],
        )
        for number in sorted(wrong)
        if drawn.edge[number] >= 0
    ][:MOST_FINDINGS]


def _not_drawn(drawn: Drawn, edges: RequiredEdges, expected: ExpectedDrawing) -> list[Finding]:
    """Contours with a stretch that is not drawn, except inside corners that the offset rounds off."""
    offset, limit = abs(expected.offset), TOLERANCES.acceptance
    reach = np.full(len(drawn.curves), offset + limit)
    other, target, apart = curves_within(drawn.curves, edges.curves, reach)
    marks = np.array([edge.kind == "mark" for edge in edges.every], dtype=bool)
    kept = ~marks[edges.edge[target]] | (apart <= limit)
    gaps = uncovered(edges.curves, drawn.curves, reach, target=target[kept], cut=other[kept])
    if offset > 0:
        material = edges.rows("outline", "hole", "through", "blind", "pocket")
        # Every segment of an edge is open from end to end: none of it is drawn.
        rows = np.bincount(edges.edge, minlength=len(edges.every))
        shares = np.bincount(edges.edge[gaps.target], weights=gaps.last - gaps.first, minlength=len(edges.every))
        whole = np.flatnonzero((shares > 0) & (shares >= rows - 1e-6)).tolist()
        finder = Finder(edges.curves.take(material))
        disc = np.full(len(edges.curves), offset)
        stretches = reachable_stretches(edges, gaps, disc, finder, material)
        open_edges = sorted({stretch.edge for stretch in stretches} | set(whole))
    else:
        open_edges = sorted(set(edges.edge[gaps.target].tolist()))
    return [drawing_finding(expected, f"the {edges.name(edge)} is not drawn, or not all of it") for edge in open_edges][
        :MOST_FINDINGS
    ]


def _sides(drawn: Drawn, edges: RequiredEdges, expected: ExpectedDrawing) -> list[Finding]:
    """Offset contours on the wrong side: outlines and islands must come out larger, holes and pockets smaller."""
    if expected.offset == 0:
        return []
    drawn_area = np.abs(_areas(drawn.curves, drawn.chain, len(drawn.chains)))
    edge_area = np.abs(_areas(edges.curves, edges.edge, len(edges.every)))
    found = []
    for number, chain in enumerate(drawn.chains):
        edge = int(drawn.edge[number])
        if edge < 0 or edges.every[edge].kind == "mark" or (drawn.edge == edge).sum() > 1:
            continue
        larger = drawn_area[number] > edge_area[edge]
        stays_inside = edges.every[edge].kind == "outline" or edges.every[edge].island is not None
        if larger != (stays_inside == (expected.offset > 0)):
            found.append(drawing_finding(expected, f"the {edges.name(edge)} is moved to the wrong side", chain))
    return found[:MOST_FINDINGS]


def _areas(curves: Curves, owner: Ints, count: int) -> Floats:
    """Signed areas from the shoelace terms of chords and the segments above them."""
    chord = curves.x0 * curves.y1 - curves.x1 * curves.y0
    full = np.abs(curves.sweep) >= 2 * np.pi - 1e-9
    cap = np.where(full, np.sign(curves.sweep) * 2 * np.pi, curves.sweep - np.sin(curves.sweep))
    return np.asarray(np.bincount(owner, weights=(chord + curves.r**2 * cap) / 2, minlength=count), dtype=np.float64)
