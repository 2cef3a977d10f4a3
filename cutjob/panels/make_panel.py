"""From a panel's file to a folder with its picture, lists and plan.

The text of a first panel file: commented, valid, with every key; the inventory it needs as a comment.
"""

from __future__ import annotations

import json
import math
import multiprocessing
import os
import signal
from collections.abc import Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass, replace
from functools import partial
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
# From mark to mark of a tape: 1/16 in or half a millimetre.
_TAPE: dict[Unit, int] = {"in": 4, "mm": 5}
_JOINT_STEP: dict[Unit, int] = {"in": 64, "mm": 100}  # lengths of joints are worked out in whole inches, or cm
_ALMOST = 1e-6
_MOST_NAMED = 6
_MOST_PIECES = 1500  # more take minutes


# Looks tried where no seed is asked for, and by how much longest_joint is raised to find one that would do.
_LOOKS = 6
_WORTH_SHARING = 2_000  # pieces to lay times kinds of them: less takes no longer than starting processes does
_RAISED = (1.25, 1.5, 2.0, 2.5, 3.0, 4.0)
# More trimmed off than this share of the field is said, with a longest_joint that would save a fifth of it.
_MUCH, _WORTH_IT = 0.35, 0.8


@dataclass(frozen=True, slots=True, kw_only=True, repr=False)
class PanelResult:
    """The filled panel, the seed that gave it, its folder and the lines of its summary."""

    filling: Filling
    seed: int
    folder: Path
    summary: tuple[str, ...]
    plan: dict[str, object]

    def __repr__(self) -> str:
        """One line: what lies in the panel, and where its files are."""
        return f"<PanelResult {self.summary[0] if self.summary else ''}; {self.folder}>"


@dataclass(frozen=True, slots=True, kw_only=True)
class _Look:
    """A filling and its seed."""

    seed: int
    filling: Filling

    @property
    def figure(self) -> tuple[int, int, int, int, int]:
        """What the best look has least of: wood to find; thin notches beside openings; wood trimmed off, with half of
        what is in one quarter of the height beyond an even spread; cuts.
        """
        filling = self.filling
        missing = sum(one.width * one.height for one in filling.to_find)
        trimmed = filling.trimmed + filling.gathered // 2
        return missing, filling.thin_notches, trimmed, filling.cuts, self.seed

    @property
    def trimmed(self) -> float:
        """The share of the field's area that is trimmed off."""
        return self.filling.trimmed / (self.filling.field.width * self.filling.field.height)


def make_panel(path: Path, *, out: Path | None = None, seed: int | None = None) -> PanelResult:
    """Fill the panel of a file and write it to `out` (default `out/<name>`).

    Same file and seed, same panel; without a seed a few are tried and the best is written: the least to find, then the
    fewest thin notches, then the least trimmed off and that evenly spread, then the fewest cuts. Raises InputError for
    mistakes in the files, and where the rules for joints and corners can't be kept; ProofError where a check of the
    filled panel finds a fault.
    """
    panel, inventory, source = read_panel(path)
    unit = RULE[panel.units]
    field, pieces = field_of(panel, unit, source), pieces_of(inventory, unit)
    looks = _looks(field, pieces, panel, source, seeds=range(_LOOKS) if seed is None else (seed,))
    best = looks[0]
    _refuse_unsound(best.filling, source)
    summary = [*_summary(panel, best.filling, unit), *_of_looks(looks)]
    summary += _with_longer_joints(best, panel)
    files, plan = _files(panel, best.filling, unit, summary, seed=best.seed)
    plan["looks"] = [
        {
            "seed": look.seed,
            "to_find": len(look.filling.to_find),
            "trimmed": round(look.trimmed, 4),
            "cuts": look.filling.cuts,
        }
        for look in looks
    ]
    files["plan.json"] = (json.dumps(plan, indent=1, ensure_ascii=False) + "\n").encode()
    folder = out if out is not None else Path("out") / path.stem
    replace_folder(folder, files)
    return PanelResult(filling=best.filling, seed=best.seed, folder=folder, summary=tuple(summary), plan=plan)


def _looks(
    field: Field, pieces: tuple[Piece, ...], panel: PanelFile, source: Source, *, seeds: Sequence[int]
) -> list[_Look]:
    """The looks of the seeds, the best first; those that come to no end are left out. Raises InputError for none."""
    if likely_pieces(field, pieces) > _MOST_PIECES:
        message = f"the panel would take more than {_MOST_PIECES:,} pieces as small as those of the inventory"
        raise InputError(panel_problem(source, message, "a smaller panel, or larger pieces"))
    fillings = _filled(field, pieces, seeds)
    looks = [_Look(seed=seed, filling=one) for seed, one in zip(seeds, fillings, strict=True) if one is not None]
    if looks:
        return sorted(looks, key=lambda look: look.figure)
    joint = format_length(field.longest_joint * RULE[panel.units], unit=panel.units)
    message = f"no way was found to fill the panel with no joint longer than {joint} and its rule for trimming"
    raised = _raised(field, pieces, panel.units, most=math.inf)
    advice = "raise longest_joint or trim, or add smaller pieces to the inventory"
    if raised is not None:
        advice = (
            f"longest_joint = {_in_file(raised, panel)} would do, with {raised.trimmed:.0%} of the field trimmed off"
        )
    raise InputError(panel_problem(source, message, advice))


def _filled(field: Field, pieces: tuple[Piece, ...], seeds: Sequence[int]) -> list[Filling | None]:
    """The filling of every seed, large panels shared out among the cores."""
    fill_it = partial(_fill, field, pieces)
    cores = min(os.cpu_count() or 1, len(seeds))
    if cores < 2 or likely_pieces(field, pieces) * len(pieces) < _WORTH_SHARING:
        return list(map(fill_it, seeds))
    with ProcessPoolExecutor(cores, mp_context=multiprocessing.get_context("spawn"), initializer=_begin) as pool:
        try:
            return list(pool.map(fill_it, seeds))
        except BaseException:
            pool.shutdown(wait=False, cancel_futures=True)
            raise


def _begin() -> None:
    """Make a new process ready: the terminal sends Ctrl-C to every one, and what it means is for the first to say."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)


def _fill(field: Field, pieces: tuple[Piece, ...], seed: int) -> Filling | None:
    return fill(field, pieces, seed=seed)


def _raised(field: Field, pieces: tuple[Piece, ...], units: Unit, *, most: float) -> _Look | None:
    """A look with a longer joint that is allowed no more trimmed off than the share `most`, and as little raised as
    that takes; None where no such length does. Lengths on whole inches or centimetres.
    """
    step = _JOINT_STEP[units]
    longest = max(field.width, field.height)
    tried = {min(-(-round(field.longest_joint * times) // step) * step, longest) for times in _RAISED}
    for joint in sorted(tried - {field.longest_joint}):
        filling = fill(replace(field, longest_joint=joint), pieces, seed=0)
        if filling is not None and not filling.to_find:
            look = _Look(seed=0, filling=filling)
            if look.trimmed <= most:
                return look
    return None


def _in_file(look: _Look, panel: PanelFile) -> str:
    """A look's longest joint as it is written in the panel's file."""
    return f'"{format_length(look.filling.field.longest_joint * RULE[panel.units], unit=panel.units)}"'


def _with_longer_joints(best: _Look, panel: PanelFile) -> list[str]:
    """A line where a longer joint would save much of what is trimmed off, or what must be found."""
    filling = best.filling
    if best.trimmed <= _MUCH and not filling.to_find:
        return []
    most = _MUCH if filling.to_find else _WORTH_IT * best.trimmed
    raised = _raised(filling.field, filling.pieces, panel.units, most=most)
    if raised is None:
        return []
    now = f"{len(filling.to_find)} to find" if filling.to_find else f"{best.trimmed:.0%} trimmed off"
    then = f"{raised.trimmed:.0%} trimmed off" + (" and nothing to find" if filling.to_find else "")
    return [f"longest_joint = {_in_file(raised, panel)} would do better: {then}, not {now}"]


def _of_looks(looks: Sequence[_Look]) -> list[str]:
    """Which of several looks is shown, by what figure, and how to get the others."""
    best, *others = looks
    if not others:
        return []
    listed = "; ".join(
        f"--seed {look.seed}: {look.trimmed:.0%}, {look.filling.cuts} cuts"
        + (f", {len(look.filling.to_find)} to find" if look.filling.to_find else "")
        for look in others
    )
    return [
        f"seed {best.seed} is shown: of {counted(len(looks), 'look')} the one with the least to find, then the fewest "
        "thin notches, then the least trimmed off and that evenly spread",
        f"the other looks: {listed}",
    ]


def _refuse_unsound(filling: Filling, source: Source) -> None:
    faults = panel_faults(filling)
    if faults:
        raise ProofError(
            [panel_problem(source, f"the filling is not sound: {fault}", "try another seed") for fault in faults]
        )


def _files(
    panel: PanelFile, filling: Filling, unit: float, summary: list[str], *, seed: int
) -> tuple[dict[str, bytes], dict[str, object]]:
    """Pictures and lists by their names, and the plan as data."""
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
        tape=_TAPE[panel.units],
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
        missing = still_to_find(filling, unit=unit, units=panel.units)
        more = f"; and {counted(len(missing) - _MOST_NAMED, 'other size')}" if len(missing) > _MOST_NAMED else ""
        lines.append(
            f"{counted(len(filling.to_find), 'piece')} must still be found, marked with ? in the picture: "
            f"{'; '.join(missing[:_MOST_NAMED])}{more}"
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
