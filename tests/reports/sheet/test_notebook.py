"""What a notebook shows of a finished job and its boards."""

from __future__ import annotations

from dataclasses import replace

from cutjob.reports.sheet.notebook import board_views, result_html
from tests.output.samples import held_layout, whole_layout
from tests.reports.makers import job_result
from tests.reports.sheet.jobs import hostile
from tests.reports.sheet.reading import read


def test_notebooks_show_pictures() -> None:
    result = hostile()
    assert len(result.pictures) == len(result.layout.boards)
    assert all(picture._repr_svg_().startswith("<svg") for picture in result.pictures)
    shown = result._repr_html_()
    read(shown)
    assert shown.count("<svg") == len(result.layout.boards)
    assert "<b>" not in shown
    assert "Wood used" in shown


def test_many_boards_are_cut_short() -> None:
    boards = tuple(replace(held_layout(), id=f"board-{number:02}") for number in range(1, 15))
    made = job_result(layout=replace(whole_layout(), boards=boards), warnings=("measure <the> stock",))
    shown = result_html(made)
    page = read(shown)
    assert shown.count("<svg") == 12
    assert "and 2 more layouts" in page.words()
    assert "measure <the> stock" in page.words()
    assert len(board_views(made)) == 14
