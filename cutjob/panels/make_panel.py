"""From a panel's file to a folder with its picture, lists and plan.

The text of a first panel file: commented, valid, with every key; the inventory it needs as a comment.
"""

from __future__ import annotations

import json
import math
from dataclasses import dataclass
from pathlib import Path

from cutjob.counting import counted
from cutjob.errors import InputError, Problem, ProofError
from cutjob.files.source import Source
from cutjob.output.folder import replace_folder
from cutjob.panels.check import panel_faults
from cutjob.panels.field import Field, Filling, Opening, Piece
from cutjob.panels.files import frame_strips, laid_data, panel_lists, panel_picture, rest_data, still_to_find
from cutjob.panels.fill import fill, likely_pieces
from cutjob.panels.panel_file import Frame, Inventory, PanelFile, panel_problem, read_panel
from cutjob.units import RULE, Unit, format_length

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


# Less is not sawn off: a blade with wood on one side only wanders. 1/16 in or 1 mm; common practice, no source.
_LEAST_CUT: dict[Unit, int] = {"in": 4, "mm": 10}
_ALMOST = 1e-6
_MOST_TOLD = 6
_MOST_PIECES = 1500  # more take minutes


@dataclass(frozen=True, slots=True, kw_only=True, repr=False)
class PanelResult:
    """The filled panel, its folder and the lines of its summary."""

    filling: Filling
    folder: Path
    summary: tuple[str, ...]
    plan: dict[str, object]

    def __repr__(self) -> str:
        """One line: what lies in the panel, and where its files are."""
        return f"<PanelResult {self.summary[0] if self.summary else ''}; {self.folder}>"


def make_panel(path: Path, *, out: Path | None = None, seed: int = 0) -> PanelResult:
    """Fill the panel of a file and write it to `out` (default `out/<name>`).

    Same file and seed, same panel. Raises InputError for what is wrong with the files, and where the rules for joints
    and corners can't be kept; ProofError where a check of the filled panel finds something.
    """
    panel, inventory, source = read_panel(path)
    unit = RULE[panel.units]
    filling = _filled(field_of(panel, unit, source), pieces_of(inventory, unit), source, seed=seed)
    summary = _summary(panel, filling, unit)
    files, plan = _files(panel, filling, unit, summary, seed=seed)
    folder = out if out is not None else Path("out") / path.stem
    replace_folder(folder, files)
    return PanelResult(filling=filling, folder=folder, summary=tuple(summary), plan=plan)


def _filled(field: Field, pieces: tuple[Piece, ...], source: Source, *, seed: int) -> Filling:
    """The field filled and checked."""
    if likely_pieces(field, pieces) > _MOST_PIECES:
        message = f"the panel would take more than {_MOST_PIECES:,} pieces as small as those of the inventory"
        raise InputError(panel_problem(source, message, "a smaller panel, or larger pieces"))
    filling = fill(field, pieces, seed=seed)
    if filling is None:
        message = "no way was found to fill the panel with its rules for joints and trimming"
        raise InputError(panel_problem(source, message, "raise longest_joint or trim, or try another seed"))
    faults = panel_faults(filling)
    if faults:
        raise ProofError(
            [panel_problem(source, f"the filling is not sound: {fault}", "try another seed") for fault in faults]
        )
    return filling


def _files(
    panel: PanelFile, filling: Filling, unit: float, summary: list[str], *, seed: int
) -> tuple[dict[str, bytes], dict[str, object]]:
    """Pictures, lists and plan by their names, and the plan as data."""
    field, frame = filling.field, panel.frame
    backing = [format_length(side * unit + 2 * frame.lap, unit=panel.units) for side in (field.width, field.height)]
    strips = frame_strips(panel.length, panel.width, frame.width, frame.joint)
    head = [panel.title, *summary, "", f"Frame, strips {format_length(frame.width, unit=panel.units)} wide"]
    head += [f"  {count} {words}: {format_length(length, unit=panel.units)}" for words, length, count in strips]
    head += ["", f"Backing board: {backing[0]} x {backing[1]}"]
    files = {
        "panel.svg": panel_picture(filling, unit=unit, frame=frame.width, joint=frame.joint, title=panel.title),
        "panel-plain.svg": panel_picture(
            filling, unit=unit, frame=frame.width, joint=frame.joint, title=panel.title, numbers=False
        ),
        "panel-lists.txt": panel_lists(filling, unit=unit, units=panel.units, head=head),
    }
    plan = {
        "schema": "cutjob-plan/panel-1",
        "title": panel.title,
        "units": panel.units,
        "seed": seed,
        "files": [*files],
        **_sizes(panel, filling, unit),
        "trimmed": round(filling.trimmed / (field.width * field.height), 4),
        **rest_data(filling, unit),
        "laid": laid_data(filling, unit),
    }
    files["plan.json"] = (json.dumps(plan, indent=1, ensure_ascii=False) + "\n").encode()
    return files, plan


def field_of(panel: PanelFile, unit: float, source: Source) -> Field:
    """Return the field inside the frame in whole units. Raises InputError for what doesn't fit."""
    width, height = (round((side - 2 * panel.frame.width) / unit) for side in (panel.length, panel.width))
    least, gap = max(1, round(panel.least / unit)), round(panel.gap / unit)
    problems: list[Problem] = []
    if min(width, height) < 2 * least + gap:
        problems.append(
            panel_problem(source, "the frame leaves no field to fill", "a narrower frame or a larger panel")
        )
    if panel.frame.lap > panel.frame.width:
        problems.append(panel_problem(source, "the backing would stick out behind the frame", "a smaller lap"))
    openings = []
    for one in panel.opening:
        if (one.diameter is None) == (one.size is None):
            problems.append(panel_problem(source, "an opening needs a diameter or a size", "give one of the two"))
            continue
        size = one.size if one.size is not None else (one.diameter or 0.0, one.diameter or 0.0)
        corner = one.at if one.size is not None else (one.at[0] - size[0] / 2, one.at[1] - size[1] / 2)
        x, y, wide, high = (round(value / unit) for value in (*corner, *size))
        if x < 0 or y < 0 or x + wide > width or y + high > height:
            problems.append(panel_problem(source, "an opening reaches out of the field", "move it or make it smaller"))
        openings.append(Opening(x=x, y=y, width=wide, height=high, round=one.size is None))
    if problems:
        raise InputError(problems)
    longest = panel.longest_joint if panel.longest_joint is not None else min(width, height) * unit / 2
    return Field(
        width=width,
        height=height,
        least=least,
        gap=gap,
        longest_joint=int(longest / unit + _ALMOST),
        trim=int(panel.trim / unit + _ALMOST),
        turn=panel.turn,
        openings=tuple(openings),
        kerf=math.ceil(panel.kerf / unit - _ALMOST),
        least_cut=_LEAST_CUT[panel.units],
    )


def pieces_of(inventory: Inventory, unit: float) -> tuple[Piece, ...]:
    """Return the cut ends in whole units, rounded down so that every laid piece can really be cut from its own."""
    return tuple(
        Piece(
            name=one.name,
            length=int(one.length / unit + _ALMOST),
            width=int(one.width / unit + _ALMOST),
            count=one.count,
            tone=one.tone,
        )
        for one in inventory.piece
    )


def _summary(panel: PanelFile, filling: Filling, unit: float) -> list[str]:
    field = filling.field
    sides = [format_length(side * unit, unit=panel.units) for side in (field.width, field.height)]
    share = filling.trimmed / (field.width * field.height)
    lines = [
        f"field {sides[0]} x {sides[1]}, {counted(len(filling.laid), 'piece')}, {counted(filling.cuts, 'cut')}, "
        f"trimmed off {share:.0%} of the field"
    ]
    again = sum(one.offcut_of is not None for one in filling.laid)
    if again:
        lines.append(f"{again} of them come out of what is cut off others")
    if filling.to_find:
        told = still_to_find(filling, unit=unit, units=panel.units)
        more = f"; and {counted(len(told) - _MOST_TOLD, 'other size')}" if len(told) > _MOST_TOLD else ""
        lines.append(
            f"{counted(len(filling.to_find), 'piece')} must still be found, marked with ? in the picture: "
            f"{'; '.join(told[:_MOST_TOLD])}{more}"
        )
    return lines


def _sizes(panel: PanelFile, filling: Filling, unit: float) -> dict[str, object]:
    """Field, frame, backing and openings as data, lengths in mm."""
    field, frame = filling.field, panel.frame
    sides = [field.width * unit, field.height * unit]
    return {
        "field_mm": [round(side, 4) for side in sides],
        "gap_mm": round(field.gap * unit, 4),
        "frame": [
            {"what": words, "length_mm": round(length, 4), "width_mm": round(frame.width, 4), "count": count}
            for words, length, count in frame_strips(panel.length, panel.width, frame.width, frame.joint)
        ],
        "backing_mm": [round(side + 2 * frame.lap, 4) for side in sides],
        "openings": [
            {
                "at_mm": [round(one.x * unit, 4), round(one.y * unit, 4)],
                "size_mm": [round(one.width * unit, 4), round(one.height * unit, 4)],
                "round": one.round,
            }
            for one in field.openings
        ],
    }
