"""Footed boards out of an end cut, from the job to the proof: board and feet are cut out of the piece as it is."""

import pytest

from cutjob.making import make_job

INCH = 25.4
_JOB = """
title = "Stands from the bin"
units = "in"
machine = "{machine}"
{more}
[[make]]
name = "porch stand"
design = "footed-board"
size = "small"
with = {{ end_cut_length = "{length}", end_cut_width = "{width}", feet_in = "1" }}
[[board]]
name = "end cut"
length = "{length}"
width = "{width}"
thickness = "3/4"
material = "softwood"
"""


@pytest.mark.parametrize(
    ("length", "width", "more", "machine"),
    [
        # All of the end cut is used: no clamp finds a place.
        ("22", "7 1/4", 'board_held_by = "tape"', "bench-router"),
        ("22", "7 1/4", 'board_held_by = "tape"\nedge_margin = 0', "bench-router"),
        ("11", "7", 'board_held_by = "tape"\ngap = "1/2"', "bench-router"),
        ("9", "11", 'board_held_by = "tape"', "bench-router"),
        ("22", "7 1/4", "", "bandsaw"),
    ],
)
def test_board_and_feet_come_out_of_the_end_cut_named(tmp_path, length, width, more, machine):
    path = tmp_path / "stand.toml"
    path.write_text(_JOB.format(length=length, width=width, more=more, machine=machine))
    made = make_job(path, out=tmp_path / "made", effort="quick", only=frozenset({"gcode"}))
    assert made.proof.passed
    (board,) = made.layout.boards
    assert [placed.part.name for placed in board.placements].count("board") == 1
    assert len(board.placements) == 3
    facts = dict(made.items[0].build.facts)
    assert not any("rip" in words for words in facts)
    # Nothing worth a foot is given away: beside board and feet only gap and margins are left.
    strips = 2 if any("one beside the other" in words for words in facts) else 1
    foot, wide = facts["height of the feet"], facts["board from the end cut: width"]
    lost = made.layout.gap * strips + 2 * made.layout.edge_margin
    by_width = float(board.board.width) - strips * foot - lost
    by_length = (board.board.length - 2 * made.layout.edge_margin - made.layout.gap) / 2
    assert wide == pytest.approx(min(by_width, by_length), abs=INCH / 64) or strips == 2
