"""Layouts and results as a notebook shows them: SVG and HTML that stand alone."""

from __future__ import annotations

from collections.abc import Sequence
from html import escape
from typing import Any

from cutjob.layout.layout import BoardLayout, Layout
from cutjob.output.job_sheet.board_view import board_view
from cutjob.output.job_sheet.facts import board_name, summary_of
from cutjob.program.moves import Program
from cutjob.units import Unit

# Pictures of a job of many boards would fill a notebook for long.
_MOST_SHOWN = 12


def board_svg(board: BoardLayout, *, programs: Sequence[Program] = (), units: Unit = "mm") -> str:
    """Return the picture of a board, with the cutter's paths where its programs are given."""
    own = [program for program in programs if program.board == board.id]
    return board_view(board, programs=own, units=units, title=board.id, paths=True, key=True).svg


def layout_html(layout: Layout, *, programs: Sequence[Program] = (), units: Unit = "mm") -> str:
    """Return the pictures of a layout's boards under their names."""
    shown = [
        f"<figure><figcaption>{escape(board_name(board))}</figcaption>"
        f"{board_svg(board, programs=programs, units=units)}</figure>"
        for board in layout.boards[:_MOST_SHOWN]
    ]
    more = len(layout.boards) - _MOST_SHOWN
    return "<div>" + "".join(shown) + (f"<p>and {more} more layouts</p>" if more > 0 else "") + "</div>"


def result_html(plan: dict[str, Any], layout: Layout, programs: Sequence[Program] = ()) -> str:
    """Return what a run came to: its title, a table of figures, warnings, and the boards' pictures."""
    rows = "".join(f"<tr><th>{escape(name)}</th><td>{escape(words)}</td></tr>" for name, words in summary_of(plan))
    warnings = "".join(f"<li>{escape(warning)}</li>" for warning in plan["warnings"])
    return (
        f"<div><h3>{escape(plan['title'])}</h3><table>{rows}</table>"
        + (f"<ul>{warnings}</ul>" if warnings else "")
        + f"{layout_html(layout, programs=programs, units=plan['units'])}</div>"
    )
