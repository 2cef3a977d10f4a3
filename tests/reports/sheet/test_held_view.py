"""What the sheet says and shows of how a board is held."""

from __future__ import annotations

from dataclasses import replace
from xml.etree import ElementTree

from cutjob.proof.finding import ProofReport
from cutjob.reports.sheet.facts import board_facts, hanging, set_up
from cutjob.reports.sheet.sheet import held_view, write_job_sheet
from tests.output.samples import held_layout, machine, program, whole_layout
from tests.reports.makers import job_result
from tests.reports.sheet.reading import read


def test_how_it_is_held_comes_first() -> None:
    board = held_layout()
    rows = board_facts(board, unit="mm", machine=machine(), files=1)
    assert rows[0] == ("Held by", "2 clamps")
    assert ("Keep-out", "clamp") not in rows
    (program_,) = [program()]
    names = [name for name, _ in set_up(program_, layout=board, machine=machine(), programs=[program_])]
    assert names[:4] == ["Held by", "Clamp 1", "Clamp 2", "Tabs"]
    assert board_facts(replace(board, holding=None), unit="mm", machine=machine(), files=1)[0][0] == "Board"


def test_parts_are_tinted_by_the_bridges_to_the_clamps() -> None:
    made = held_view(held_layout())
    assert made is not None
    root = ElementTree.fromstring(made.svg)
    classes = [one.get("class") or "" for one in root.iter()]
    assert [classes.count(name) for name in ("near-hold", "second-hold", "third-hold", "far-hold")] == [2, 1, 0, 1]
    assert set(made.classes) >= {"near-hold", "second-hold", "far-hold", "bridge", "clamp"}
    assert "third-hold" not in made.classes
    shown = {one.text for one in root.iter() if one.tag.endswith("text")}
    assert {"1", "2", "3", "4"} <= shown
    assert held_view(held_layout("tape")) is None
    assert held_view(replace(held_layout(), holding=None)) is None


def test_the_table_says_what_hangs_on_what() -> None:
    table = hanging(held_layout())
    assert table.heads == ("bridges to the clamps", "parts", "hang on")
    assert len(table.rows) == 4
    assert hanging(held_layout("vacuum")).rows == []


def test_the_page_shows_it() -> None:
    for board, shown in ((held_layout(), True), (held_layout("vacuum"), False)):
        page = write_job_sheet(
            job_result(
                layout=replace(whole_layout(), boards=(board,)),
                programs=(program(),),
                proof=ProofReport(findings=(), worst_gouge=0.0, worst_left=0.0),
            )
        )
        words = read(page.decode("utf-8")).words()
        assert ("How the parts hang once all is cut" in words) == shown
        assert ("the waste by 2 bridges, part 3 by 1" in words) == shown
        for of_key in ("1 bridge to the hold", "2 bridges", "more than 3"):
            assert (f" {of_key} " in words) == shown
        assert ("vacuum under the whole board, no tabs" in words) != shown
