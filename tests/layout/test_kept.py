"""Parts that a job keeps at their place or on their board: they are there, and the others lie round them."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

import cutjob
from cutjob.errors import InputError
from cutjob.laying_out import lay_out_wood
from cutjob.layout.check import check_layout
from cutjob.layout.layout import Layout, Placement

JOB = """units = "mm"
machine = "bench-router"
title = "kept"
[[make]]
name = "star"
design = "star"
size = "small"
count = 6
[[make]]
name = "disc"
design = "round"
count = 3
with = { diameter = 80 }
[[board]]
name = "larch"
length = 700
width = 140
thickness = 16
count = 3
[[board]]
name = "end cut"
outline = [[0, 0], [400, 0], [340, 140], [0, 140]]
thickness = 16
price = 9
"""


def laid(text: str) -> Layout:
    resolved = cutjob.read(text)
    layout = lay_out_wood(resolved.woods[0], seed=0, effort="quick", share=0.1)
    assert check_layout(layout, resolved.woods[0].items) == ()
    return layout


def place_of(layout: Layout, item: str, unit: int) -> tuple[str, Placement]:
    (found,) = [
        (board.board.name, one)
        for board in layout.boards
        for one in board.placements
        if (one.item, one.unit) == (item, unit)
    ]
    return found


def keep(item: str, unit: int, board: str, **more: Any) -> str:
    rows = "".join(f"{name} = {value}\n" for name, value in more.items())
    part = "star" if item == "star" else "round"
    return f'[[keep]]\nitem = "{item}"\npart = "{part}"\nunit = {unit}\nboard = "{board}"\n{rows}'


def test_a_part_is_where_it_is_kept_and_the_others_lie_round_it() -> None:
    layout = laid(JOB + keep("star", 2, "larch", at=[300, 30], turned=180))
    name, one = place_of(layout, "star", 2)
    assert name == "larch"
    assert one.region.bounds[:2] == pytest.approx((300, 30), abs=1e-9)
    assert one.transform.degrees == 180
    assert sum(len(board.placements) * board.copies for board in layout.boards) == 9


def test_two_parts_on_two_boards() -> None:
    layout = laid(JOB + keep("star", 1, "larch", at=[20, 20]) + keep("disc", 3, "larch", number=2, at=[500, 40]))
    assert place_of(layout, "star", 1)[1].region.bounds[:2] == pytest.approx((20, 20))
    assert place_of(layout, "disc", 3)[1].region.bounds[:2] == pytest.approx((500, 40))
    boards = [
        {(one.item, one.unit) for one in board.placements}
        for board in layout.boards
    ]  # fmt: skip
    assert not any({("star", 1), ("disc", 3)} <= names for names in boards)


def test_a_part_is_kept_on_its_board_at_any_place() -> None:
    """Nothing else would lie on the dear end cut."""
    plain = laid(JOB)
    assert all(board.board.name == "larch" for board in plain.boards)
    layout = laid(JOB + keep("disc", 2, "end cut"))
    assert place_of(layout, "disc", 2)[0] == "end cut"


def test_what_lies_well_may_all_be_kept_as_it_is() -> None:
    """All parts of a layout, kept where they are: the same layout again."""
    text = JOB.replace("count = 6", "count = 5")
    before = laid(text)
    assert all(board.copies == 1 for board in before.boards)
    numbers: dict[str, int] = {}
    for board in before.boards:
        numbers[board.board.name] = numbers.get(board.board.name, 0) + 1
        for one in board.placements:
            x, y = one.region.bounds[:2]
            text += keep(
                one.item, one.unit, board.board.name, number=numbers[board.board.name], at=[x, y],
                turned=one.transform.degrees, mirrored=str(one.transform.mirrored).lower(),
            )  # fmt: skip
    after = laid(text)
    spots = {(o.item, o.unit): o.region.bounds for b in before.boards for o in b.placements}
    again = {(o.item, o.unit): o.region.bounds for b in after.boards for o in b.placements}
    assert spots.keys() == again.keys()
    for name, box in spots.items():
        assert again[name] == pytest.approx(box, abs=1e-6)


@pytest.mark.parametrize(
    ("entry", "words"),
    [
        (keep("stra", 1, "larch"), 'there is no item "stra"'),
        (keep("star", 7, "larch"), "there are 6 of it"),
        (keep("star", 1, "lurch"), 'there is no board "lurch"'),
        (keep("star", 1, "larch").replace('part = "star"', 'part = "disc"'), 'has no part "disc"'),
        (keep("star", 1, "larch") + keep("star", 1, "end cut"), "kept twice"),
        (keep("star", 1, "larch", number=4, at=[20, 20]), 'there is no board 4 of "larch"'),
        (keep("star", 1, "larch", at=[690, 20]), "partly off the board"),
        (keep("star", 1, "larch", at=[1, 20]), "from the board's edge"),
        (keep("star", 1, "larch", at=[20, 20], turned=45), "turned or mirrored"),
        (keep("star", 1, "larch", at=[20, 20]) + keep("star", 2, "larch", at=[60, 20]), "from \"star\" of \"star\" 1"),
        (keep("star", 1, "larch", at=[20, 20]) + keep("star", 2, "larch", number=2, at=[20, 20]),
         "the same places"),
        (keep("star", 0, "larch"), "unit"), (keep("star", 1, "larch", at="[1]"), "at"),
        (keep("star", 1, "larch", turned='"x"'), "turned"),
    ],
)  # fmt: skip
def test_what_can_not_be_kept_is_refused_at_its_line(entry: str, words: str) -> None:
    with pytest.raises(InputError) as found:
        laid(JOB + entry)
    assert words in str(found.value)
    lines = (JOB + entry).splitlines()
    for problem in found.value.problems:
        assert problem.location is not None
        assert problem.location.line is not None
        assert problem.location.line > JOB.count("\n")
        assert problem.location.line <= len(lines)


@settings(max_examples=25, deadline=None)
@given(data=st.data())
def test_any_free_place_is_kept(data: st.DataObject) -> None:
    """Random places on random boards: kept exactly, or refused; the finished layout keeps all rules."""
    text, taken = JOB, set()
    for _ in range(data.draw(st.integers(1, 4))):
        item, unit = data.draw(st.sampled_from([("star", n) for n in range(1, 7)] + [("disc", n) for n in range(1, 4)]))
        if (item, unit) in taken:
            continue
        taken.add((item, unit))
        at = [data.draw(st.integers(0, 620)), data.draw(st.integers(0, 60))]
        text += keep(
            item, unit, "larch", number=data.draw(st.integers(1, 2)), at=at, turned=data.draw(st.sampled_from([0, 180]))
        )
    try:
        layout = laid(text)
    except InputError:
        return
    for one in cutjob.read(text).job.file.keep:
        name, found = place_of(layout, one.item, one.unit)
        assert name == "larch"
        assert one.at is not None
        assert found.region.bounds[:2] == pytest.approx(one.at, abs=1e-6)


@pytest.mark.usefixtures("whole_search")
def test_a_job_with_kept_parts_is_proven(tmp_path: Path) -> None:
    """Sawn pieces, bridges, clamps and proof as for every job; the kept part is in plan.json where it was kept."""
    sample = Path(cutjob.__file__).parent.parent / "samples" / "porch-spinner.toml"
    text = sample.read_text(encoding="utf-8") + (
        '\n[[keep]]\nitem = "porch spinner"\npart = "topper"\nboard = "cedar picket"\nat = ["20", "1"]\nturned = 180\n'
    )
    result = cutjob.make(text, out=tmp_path / "out", effort="quick")
    assert result.proof.passed
    (board,) = result.layout.boards
    topper = next(one for one in board.placements if one.part.name == "topper")
    assert topper.region.bounds[:2] == pytest.approx((20 * 25.4, 25.4), abs=1e-6)
