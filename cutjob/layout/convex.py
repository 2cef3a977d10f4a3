"""Rings cut into convex pieces, and sums of convex rings: what makes no-fit areas quick. Whole units, exact."""

from __future__ import annotations

from itertools import pairwise

from cutjob.layout.outline import Ring


def convex_pieces(ring: Ring) -> list[Ring] | None:
    """Return convex counter-clockwise pieces that together cover exactly a simple counter-clockwise ring.

    Ears are cut off, then pieces joined again across every diagonal that may go (S. Hertel, K. Mehlhorn, "Fast
    triangulation of simple polygons", 1983 [M]). None when the ring touches itself in a way that leaves no ear.
    """
    corners = [corner for i, corner in enumerate(ring) if corner != ring[i - 1]]
    triangles = _ears(corners)
    return None if triangles is None else _joined(corners, triangles)


def _turn(a: tuple[int, int], b: tuple[int, int], c: tuple[int, int]) -> int:
    return (b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0])


def _ears(ring: Ring) -> list[list[int]] | None:
    left = list(range(len(ring)))
    triangles: list[list[int]] = []
    i, tried = 0, 0
    while len(left) > 2:
        if tried > len(left):
            return None
        i %= len(left)
        around = [left[i - 1], left[i], left[(i + 1) % len(left)]]
        bend = _turn(*(ring[k] for k in around))
        if bend == 0 or (bend > 0 and _is_ear(ring, left, around)):
            if bend:
                triangles.append(around)
            del left[i]
            tried = 0
            i += 1  # the next ear from the next corner but one, so that pieces don't fan out from one corner
        else:
            tried += 1
            i += 1
    return triangles


def _is_ear(ring: Ring, left: list[int], around: list[int]) -> bool:
    a, b, c = (ring[k] for k in around)
    for k in left:
        point = ring[k]
        if point in (a, b, c):
            continue
        if _turn(a, b, point) >= 0 and _turn(b, c, point) >= 0 and _turn(c, a, point) >= 0:
            return False
    return True


def _joined(ring: Ring, triangles: list[list[int]]) -> list[Ring]:
    pieces: dict[int, list[int]] = dict(enumerate(triangles))
    owner = {(a, b): n for n, piece in pieces.items() for a, b in zip(piece, piece[1:] + piece[:1], strict=True)}
    for a, b in sorted(edge for edge in owner if edge[0] < edge[1]):
        one, other = owner[a, b], owner.get((b, a))
        if other is None or one == other:
            continue
        first = _from(pieces[one], b)  # b ... a
        second = _from(pieces[other], a)  # a ... b
        if _turn(ring[first[-2]], ring[a], ring[second[1]]) < 0 or _turn(ring[second[-2]], ring[b], ring[first[1]]) < 0:
            continue
        pieces[one] = first[:-1] + second[:-1]
        del pieces[other]
        for edge in pairwise(second):
            owner[edge] = one
    return [[ring[k] for k in piece] for piece in pieces.values()]


def _from(piece: list[int], corner: int) -> list[int]:
    start = piece.index(corner)
    return piece[start:] + piece[:start]


def convex_sum(one: Ring, other: Ring) -> Ring:
    """Return the Minkowski sum of two convex rings as `from_lowest` gives them: edges in order of direction."""
    x, y = one[0][0] + other[0][0], one[0][1] + other[0][1]
    result = [(x, y)]
    i = j = 0
    last_i, last_j = len(one) - 1, len(other) - 1
    while i < last_i or j < last_j:
        ax, ay = (one[i + 1][0] - one[i][0], one[i + 1][1] - one[i][1]) if i < last_i else (0, 0)
        bx, by = (other[j + 1][0] - other[j][0], other[j + 1][1] - other[j][1]) if j < last_j else (0, 0)
        bend = (j == last_j) - (i == last_i) or ax * by - ay * bx
        if bend >= 0:
            x, y, i = x + ax, y + ay, i + 1
        if bend <= 0:
            x, y, j = x + bx, y + by, j + 1
        result.append((x, y))
    return result[:-1]


def from_lowest(ring: Ring) -> Ring:
    """Return the ring from its lowest, then leftmost corner, and back to it."""
    start = ring.index(min(ring, key=lambda corner: (corner[1], corner[0])))
    return [*ring[start:], *ring[:start], ring[start]]
