"""The text of a first panel file: commented, valid, with every key; the inventory it needs as a comment."""

from __future__ import annotations

from cutjob.job.panel import Frame, PanelFile
from cutjob.units import Unit, format_length

_UNIT: Unit = "in"


def new_panel() -> str:
    """Return the text of a panel file; what has a default stands in it as a comment, with its meaning."""
    lines = [
        "# A panel, framed and filled with end cuts until nothing is left open.",
        "# Change what you like, save it as panel.toml, then run: cutjob panel panel.toml",
        'title = "Porch panel"',
        f'units = "{_UNIT}"  # {_meaning("units")}; in or mm',
        f'length = "36"  # {_meaning("length")}',
        f'width = "24"  # {_meaning("width")}',
        f'inventory = "end-cuts.toml"  # {_meaning("inventory")}; see below',
        *(f"# {key} = {_written(key)}  # {_meaning(key)}" for key in _OPEN),
        '# longest_joint = "12"  # ' + _meaning("longest_joint"),
        "",
        "[frame]",
        f'width = "1 1/2"  # {_frame("width")}',
        f'joint = "mitre"  # {_frame("joint")}: butt or mitre',
        f'lap = "1/2"  # {_frame("lap")}',
        "",
        "# [[opening]]  # as many as there are; measured in the field, from its lower left corner",
        '# at = ["6", "8"]  # middle of a round one, lower left corner of a rectangle',
        '# diameter = "1"  # or size = ["4", "3"]',
        "",
        "# The inventory is a file of its own, end-cuts.toml:",
        f'#   units = "{_UNIT}"',
        "#   [[piece]]  # one for each size and wood; length runs along the grain",
        '#   name = "ash"',
        '#   length = "7 1/2"',
        '#   width = "2 1/2"',
        "#   count = 12",
        "#   tone = 7  # 0 dark to 9 light; equal tones are kept apart as far as they can be",
    ]
    return "\n".join(lines) + "\n"


_OPEN = ("gap", "least", "trim", "turn", "kerf")


def _written(key: str) -> str:
    value = PanelFile.model_fields[key].default
    return str(value).lower() if isinstance(value, bool) else f'"{format_length(value, unit=_UNIT)}"'


def _meaning(key: str) -> str:
    return PanelFile.model_fields[key].description or ""


def _frame(key: str) -> str:
    return Frame.model_fields[key].description or ""
