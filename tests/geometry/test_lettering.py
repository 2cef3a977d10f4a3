"""Single-stroke letters: as high as asked, from the origin on, and none for what the face does not have."""

from __future__ import annotations

import itertools

import pytest

from cutjob.geometry.lettering import strokes


@pytest.mark.parametrize("height", [3.0, 12.0])
@pytest.mark.parametrize("text", ["1", "A7", "Part 12", "H"])
def test_capitals_and_digits_are_as_high_as_asked(text: str, height: float) -> None:
    points = [
        point for path in strokes(text, height=height) for segment in path for point in (segment.start, segment.end)
    ]
    xs, ys = [x for x, _ in points], [y for _, y in points]
    assert min(xs) == pytest.approx(0.0)
    assert min(ys) == pytest.approx(0.0, abs=height * 1e-9)
    assert max(ys) == pytest.approx(height)
    for path in strokes(text, height=height):
        for before, after in itertools.pairwise(path):
            assert before.end == after.start


def test_an_h_is_three_strokes() -> None:
    upright, other, bar = strokes("H", height=21.0)
    assert [len(path) for path in (upright, other, bar)] == [1, 1, 1]
    # In the Hershey face capitals are 21 units high and this H is 14 wide [from memory of the font's tables].
    assert other[0].start[0] == pytest.approx(14.0)


def test_what_can_not_be_written() -> None:
    assert strokes("", height=5.0) == ()
    with pytest.raises(ValueError, match="no strokes for 'é'"):
        strokes("café", height=5.0)
    with pytest.raises(ValueError, match="height"):
        strokes("A", height=0.0)
