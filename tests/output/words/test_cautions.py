"""Cautions where they apply, and nowhere else; each short form stands on its own in a comment."""

from dataclasses import replace

import pytest

from cutjob.output.gcode.comments import plain_ascii
from cutjob.output.words.cautions import board_cautions, cautions_for
from tests.output.samples import changer, layout, long_layout, long_programs, machine, picket, program

EVERYTHING = {
    "kind": "router",
    "hazards": frozenset({"treated", "cedar", "glued"}),
    "stack": 2,
    "screws": True,
    "windows": True,
    "standing": True,
    "changes": "by hand",
}


def topics(**options):
    return [
        caution.topic for caution in cautions_for(**({"kind": "router", "hazards": frozenset(), "stack": 1} | options))
    ]


def test_a_plain_board_has_the_general_ones_and_the_last_word_is_the_manuals():
    assert topics() == [
        "eyes, ears, dust",
        "holding the work",
        "first run",
        "zero and thickness",
        "what comes before this",
    ]
    assert topics(**EVERYTHING)[-1] == "what comes before this"


@pytest.mark.parametrize(
    ("option", "topic"),
    [
        ({"screws": True}, "screws in the waste"),
        ({"windows": True}, "long boards"),
        ({"standing": True}, "clamps"),
        ({"changes": "by hand"}, "cutter changes"),
        ({"changes": "changer"}, "cutter changes"),
        ({"stack": 2}, "stack"),
    ],
)
def test_each_comes_with_its_hazard_only(option, topic):
    assert topic in topics(**option)
    assert topic not in topics()
    assert len(topics(**option)) == len(topics()) + 1
    if topic != "stack":
        assert topics(kind="laser", **option) == topics(kind="laser")
        assert topics(kind="pattern", **option) == topics(kind="pattern")


def test_lengths_from_a_table_need_no_new_zero():
    by_table, by_hand = (
        " ".join(
            caution.short for caution in cautions_for(kind="router", hazards=frozenset(), stack=1, lengths=lengths)
        )
        for lengths in ("table", "none")
    )
    assert "Set Z again after every cutter change" in by_hand
    assert "Set Z again" not in by_table
    assert len(topics(lengths="table")) == len(topics())


def test_short_forms_lose_nothing_in_a_comment():
    for options in (
        EVERYTHING,
        EVERYTHING | {"changes": "changer", "lengths": "table"},
        EVERYTHING | {"kind": "laser"},
    ):
        for caution in cautions_for(**options):
            assert plain_ascii(caution.short) == caution.short
            assert len(caution.short) < 120
            assert caution.full.endswith(".")


def board_topics(board, profile, programs):
    return {caution.topic for caution in board_cautions(board, machine=profile, programs=programs)}


def test_what_a_board_and_its_programs_call_for():
    plain = layout(board=picket(keep_out=[]))
    new = {"screws in the waste", "long boards", "clamps", "cutter changes"}
    assert not new & board_topics(plain, machine(), [program()])
    assert new <= board_topics(long_layout(), changer(), long_programs())
    # A knot has no height; another board's programs don't count.
    assert "clamps" not in board_topics(layout(), machine(), [program()])
    others = [replace(each, board="board-02") for each in long_programs()]
    assert "cutter changes" not in board_topics(long_layout(), changer(), others)
