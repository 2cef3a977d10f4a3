"""The order of the cut in words."""

from __future__ import annotations

from dataclasses import replace
from xml.etree import ElementTree

from cutjob.cuts.cut import Feature
from cutjob.output.picture.picture import cut_order, order_lines, write_picture
from cutjob.program.moves import Move, Step
from tests.output.samples import layout, program, section

SVG = "{http://www.w3.org/2000/svg}"


def cut(placement: int | None, op: str = "outside cut") -> Step:
    return Step(
        op=op, placement=placement, feature=Feature(kind="outline"), moves=(Move("cut", 1.0, 1.0, -1.0, 900.0),)
    )


def run(*steps: Step):
    made = program()
    return replace(made, sections=(section(made.cutters[0], *steps),))


def test_numbers_by_the_last_cut_round_each_part() -> None:
    """What drills, marks and clears counts for nothing; a part cut round in two programs is free in the second."""
    first = run(cut(None, "drill"), cut(3, "inside cut"), cut(2), cut(0), cut(3))
    second = run(cut(1, "mark"), cut(1), cut(2))
    assert cut_order([first]) == [3, 1, 4]
    assert cut_order([first, second]) == [1, 4, 2, 3]


def test_lines_no_wider_than_the_picture_and_never_many() -> None:
    steps = [cut(number) for number in range(9, -1, -1)]
    (line,) = order_lines([run(*steps)], width=900.0, text=10.0)
    assert line == "cut free in this order: 10, 9, 8, 7, 6, 5, 4, 3, 2, 1"
    lines = order_lines([run(*steps)], width=250.0, text=10.0)
    assert " ".join(lines) == line
    assert len(lines) == 2
    many = order_lines([run(*(cut(number) for number in range(400)))], width=900.0, text=10.0)
    assert len(many) == 4
    assert many[-1] == "and so on"
    assert order_lines([run(cut(0))], width=900.0, text=10.0) == []
    assert order_lines([], width=900.0, text=10.0) == []


def test_it_stands_in_the_picture_unless_there_are_notes() -> None:
    def words(**more):
        data = write_picture(layout(), program=run(cut(1), cut(0)), units="mm", title="Gulls", **more)
        return [text.text for text in ElementTree.fromstring(data).iter(f"{SVG}text")]

    assert "cut free in this order: 2, 1" in words()
    told = words(notes=["1: too deep"])
    assert "1: too deep" in told
    assert not any(word.startswith("cut free") for word in told)
