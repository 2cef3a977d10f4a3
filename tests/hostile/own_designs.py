"""Spoiled design files of the maker's own, and spoiled panels and inventories; and what the messages must say."""

from __future__ import annotations

from collections.abc import Iterator

from tests.hostile.bases import DESIGN, DESIGN_JOB, INVENTORY, PANEL
from tests.hostile.case import Case, swapped

MAYBE = "?"  # right after all, or refused

# Name; what stands in the design instead of `width = "2 * 30 mm"`, the sum of a value; words of the message.
_SUMS: tuple[tuple[str, str, str], ...] = (
    ("a power of a power", '"9**9**9"', "whole number from -8 to 8"),
    ("powers of nine nines", '"9^8^8^8"', "whole number from -8 to 8"),
    ("a power of a part", '"2^0.5"', "use sqrt"),
    ("a power of a length", '"2^(3 mm)"', "whole number"),
    ("digits without end", f'"{"9" * 290}"', "the result is too large"),
    ("a division by nought", '"3 mm / 0"', "divides by zero"),
    ("a fraction of nought", '"1/0 in"', "divides by zero"),
    ("a root of less than nothing", '"sqrt(-1)"', "root"),
    ("an attribute", '"tall.__class__"', "is not allowed in a formula"),
    ("a dunder", '"__import__"', "not known"),
    ("a call of a name", "\"__import__('os')\"", ""),
    ("a call of a number", '"3(4)"', "sign between a number and a bracket"),
    ("a call of a call", '"sin(3)(4)"', "can't be understood"),
    ("an index", '"tall[0]"', "is not allowed in a formula"),
    ("a lambda", '"lambda: 3"', "is not allowed in a formula"),
    ("a list", '"[1] * 1000000"', "is not allowed in a formula"),
    ("a word times a number", "\"'a' * 1000000000\"", "word"),
    ("a word plus a word", "\"'a' + 'b'\"", "word"),
    ("a word of a format", "\"'{0.__class__}'\"", ""),
    ("an assignment", '"tall := 3"', "is not allowed in a formula"),
    ("one equals sign", '"tall = 3"', "=="),
    ("a named value of a call", '"min(tall=3)"', ""),
    ("a star", '"min(*tall)"', "can't be understood"),
    ("brackets 140 deep", f'"{"(" * 140}1{")" * 140}"', "brackets are nested more than"),
    ("signs 280 deep", f'"{"-" * 280}1"', "brackets are nested more than"),
    ("nots 60 deep", f'"{"not " * 60}yes"', "brackets are nested more than"),
    ("an open bracket", '"(((1"', "( has its )"),
    ("nothing but signs", '"+ - *"', "formula"),
    ("a sum of 9,000 letters", f'"{"1+" * 4500}1"', "too long"),
    ("no letters", '""', "empty"),
    ("a line end", '"1\\n+ 1 mm"', ""),
    ("a letter no one sees", '"1\\u200b mm"', "is not allowed in a formula"),
    ("digits of another script", '"٣ mm"', "is not allowed in a formula"),
    ("nan", "nan", "not a number"),
    ("inf", "inf", "not a number"),
    ("1e308", "1e308", "too large"),
    ("a whole number of 400 digits", "9" * 400, ""),
    ("a table", "{ a = 1 }", "is not a formula"),
    ("a list of sums", "[1, 2]", "is not a formula"),
    ("a date", "1979-05-27", "is not a formula"),
    ("itself", '"width + 1 mm"', "width"),
    ("two that take each other", '"other"\nother = "width"', "width"),
    ("itself by a series", '"step(1)"', ""),
    ("a name that is not there", '"widht * 2"', "not known"),
    ("a length plus a number", '"3 mm + 2"', "can't be added"),
    ("a length times itself eight times", '"(9999 mm)^8"', "the result is too large"),
    ("a function alone", '"sin"', ""),
    ("too many values", '"sin(1, 2, 3)"', "does not take 3"),
    ("a choice of two", '"choose(yes, 1)"', "three things"),
    ("an area", '"3 mm * 30 mm"', "an area"),
)

# Name; what stands instead of what; words of the message.
_SWAPS: tuple[tuple[str, str, str, str], ...] = (
    ("an outline that crosses itself", '["width", "tall"], [0, "tall"]]', '[0, "tall"], ["width", "tall"]]', "crosses"),
    ("an outline of one place", 'path = [[0, 0], ["width", 0], ["width", "tall"], [0, "tall"]]',
     "path = [[0, 0], [0, 0], [0, 0]]", ""),
    ("an outline of one point", 'path = [[0, 0], ["width", 0], ["width", "tall"], [0, "tall"]]', "path = [[0, 0]]",
     "path"),
    ("a corner rounder than its edges", '["width", 0],', '{ to = ["width", 0], round = 500 },', ""),
    ("a corner rounded by less than nothing", '["width", 0],', '{ to = ["width", 0], round = -5 },', ""),
    ("an arc too small to reach", '["width", 0],', '{ to = ["width", 0], radius = 1, turn = "left" },', ""),
    ("an arc without a turn", '["width", 0],', '{ to = ["width", 0], radius = 90 },', "turn"),
    ("pins that go back", '["width", 0],', "{ pins = [[30, 5], [10, 9], [60, 0]] },", "back and forth"),
    ("pins in one place", '["width", 0],', "{ pins = [[30, 5], [30, 5]] },", "back and forth"),
    ("pins of 1e300", '["width", 0],', "{ pins = [[1e300, 5], [60, 0]] },", "too large"),
    ("steps in steps in steps", '["width", 0],', "{ repeat = 3, steps = [{ repeat = 3, steps = [[1, 1]] }] },",
     "repeat"),
    ("a repeat of a million", '["width", 0],', '{ repeat = 1_000_000, steps = [["k * 1 mm", 0]] },', "from 0 to"),
    ("a repeat of half", '["width", 0],', '{ repeat = 0.5, steps = [["k * 1 mm", 0]] },', "whole number"),
    ("a part ten kilometres long", '["width", 0],', "[1e7, 0],", "longer than any board"),
    ("a point of three", '["width", 0],', "[1, 2, 3],", ""),
    ("a point of words", '["width", 0],', '["porch", "garden"],', "not known"),
    ("a key no one knows", "count = 2", 'cuont = 2', "cuont"),
    ("a count of 1e9", "count = 2", "count = 1_000_000_000", "from 0 to"),
    ("a count below nothing", "count = 2", "count = -2", "from 0 to"),
    ("a count of a length", "count = 2", 'count = "2 mm"', "whole number"),
    ("a count of itself", "count = 2", 'count = "i"', "not known"),
    ("a series of itself", 'each = "i * 3 mm"', 'each = "step(i) + 1 mm"', "step"),
    ("a series of a million", "count = 5", "count = 1_000_000", "from 0 to"),
    ("a mark of one place", 'each = "i * 3 mm"', 'each = "width + 1 mm"', "points of the path are the same"),
    ("a hole wider than the part", "diameter = 9", "diameter = 600", "on the part"),
    ("a hole of nothing", "diameter = 9", "diameter = 0", "more than 0"),
    ("a hole of nan", "diameter = 9", "diameter = nan", "not a number"),
    ("holes in one place", "at = [20, 15]", 'at = [20, 15]\nrepeat = { count = 40 }', "runs into another one"),
    ("holes by the million", "at = [20, 15]", 'at = [20, 15]\nrepeat = { count = 1e6 }', "from 0 to"),
    ("a hole beside the part", "at = [20, 15]", "at = [-20, 15]", "on the part"),
    ("a name of two parts", "name = \"tag {i + 1}\"", 'name = "tag"\ncount = 1\n[[part]]\nname = "tag"', ""),
    ("a name with a sum never closed", 'name = "tag {i + 1}"', 'name = "tag {i"', "{"),
    ("a name of a format", 'name = "tag {i + 1}"', 'name = "tag {i.__class__}"', "is not allowed in a formula"),
    ("a name no one sees", 'name = "tag {i + 1}"', 'name = "tag \\u202e"', "invisible"),
    ("a parameter called sin", "[parameter.tall]", "[parameter.sin]", "another meaning in formulas"),
    ("a parameter called __init__", "[parameter.tall]", "[parameter.__init__]", "small letters"),
    ("a parameter of no kind", 'kind = "length"', 'kind = "colour"', "kind"),
    ("limits turned round", "greatest = 90", "greatest = 3", "swap the two"),
    ("a limit of nan", "greatest = 90", "greatest = nan", ""),
    ("a default beyond its limits", "default = 30", "default = 3000", ""),
    ("a default of a list", "default = 30", "default = [1, 2]", ""),
    ("no unit", 'units = "mm"', "", "units"),
    ("a unit of none", 'units = "mm"', 'units = "ell"', "units"),
    ("a job in its place", "summary =", '[[make]]\n[[board]]\n[x]\nsummary =', "not a design"),
    ("a check that is none", 'require = "tall > 5 mm"', 'require = "tall"', "yes nor no"),
    ("a check that fails", 'require = "tall > 5 mm"', 'require = "tall > 5 m"', "is low"),
    ("a check of a length and a number", 'require = "tall > 5 mm"', 'require = "tall > 5"', "can't be compared"),
    ("a mirror in two lines", "name = \"tag {i + 1}\"", 'name = "tag {i + 1}"\nmirror = { x = 0, y = 0 }', "mirror"),
    ("two shapes in one", "name = \"tag {i + 1}\"", 'name = "tag {i + 1}"\ncircle = { diameter = 9 }', "given twice"),
)  # fmt: skip

_PANELS: tuple[tuple[str, str, str, str], ...] = (
    ("a length of nan", "length = 600", "length = nan", ""),
    ("a length of 1e308", "length = 600", "length = 1e308", ""),
    ("a length below nothing", "length = 600", "length = -5", ""),
    ("a length of words", "length = 600", 'length = "long"', "length"),
    ("a panel a kilometre wide", "width = 400", "width = 1e6", "pieces"),
    ("a frame wider than the panel", "width = 40\n", "width = 4000\n", ""),
    ("a frame of nothing", "width = 40\n", "width = 0\n", ""),
    ("no inventory", 'inventory = "ends.toml"', "", "inventory"),
    ("an inventory not there", "ends.toml", "nothing.toml", "no such file"),
    ("itself as inventory", "ends.toml", "panel.toml", ""),
    ("a device as inventory", "ends.toml", "/dev/zero", "a device"),
    ("a folder as inventory", '"ends.toml"', '"."', "a folder"),
    ("a name with NUL as inventory", "ends.toml", "a\\u0000", ""),
    ("a gap wider than the panel", "gap = 2", "gap = 5000", ""),
    ("nothing narrower than the panel", "least = 20", "least = 5000", ""),
    ("a least of next to nothing", "least = 20", "least = 1e-300", ""),
    ("a joint of nothing", "longest_joint = 200", "longest_joint = 0.0001", ""),
    ("an opening beside the field", "at = [200, 150]", "at = [9000, 150]", ""),
    ("an opening without a size", "diameter = 30", "", ""),
    ("an opening told twice", "diameter = 30", "diameter = 30\nsize = [3, 4]", ""),
    ("an opening larger than the field", "diameter = 30", "diameter = 3000", ""),
    ("openings over each other", "diameter = 30", "diameter = 30\n[[opening]]\nat = [200, 150]\ndiameter = 30", MAYBE),
    ("a key no one knows", "gap = 2", "gpa = 2", "gpa"),
    ("a job in its place", 'title = "Wall"', '[[make]]\nname = "x"', ""),
    ("cut off", "[frame]", "[fra", "name is not closed"),
)  # fmt: skip

_INVENTORIES: tuple[tuple[str, str, str, str], ...] = (
    ("no piece", INVENTORY.partition("[[piece]]")[2], "", ""),
    ("a piece of nothing", "length = 120", "length = 0", ""),
    ("a piece of nan", "length = 120", "length = nan", ""),
    ("a piece thinner than a hair", "length = 120", "length = 0.0001", MAYBE),
    ("a piece of a kilometre", "length = 120", "length = 1e6", MAYBE),
    ("a piece below nothing", "length = 120", "length = -1", ""),
    ("a count of a million", "count = 90", "count = 1_000_000", "count"),
    ("a count of a part", "count = 90", "count = 0.5", "count"),
    ("two pieces for all", "count = 90", "count = 1", MAYBE),
    ("a tone of 99", "tone = 3", "tone = 99", "tone"),
    ("a name no one sees", '"end"', '"\\u202e"', "name"),
    ("a key no one knows", "tone = 3", "tnoe = 3", "tnoe"),
)


def cases() -> Iterator[Case]:
    """Yield the cases."""
    for name, text, says in _SUMS:
        yield _design(f"sum: {name}", swapped(DESIGN, ('"2 * 30 mm"', text)), says)
    for name, old, new, says in _SWAPS:
        yield _design(name, swapped(DESIGN, (old, new)), says)
    for name, old, new, says in _PANELS:
        yield _panel(name, swapped(PANEL, (old, new)), INVENTORY, says)
    for name, old, new, says in _INVENTORIES:
        yield _panel(f"inventory: {name}", PANEL, swapped(INVENTORY, (old, new)), says)
    files = {"job.toml": DESIGN_JOB.encode(), "own.toml": DESIGN.encode()}
    yield Case(name="design: as it should be", files=files, codes=(0,))
    files = {"panel.toml": PANEL.encode(), "ends.toml": INVENTORY.encode()}
    yield Case(name="panel: as it should be", files=files, args=("panel", "panel.toml"), codes=(0,))
    for name, data in (
        ("nothing", b""),
        ("noughts", b"\0" * 500),
        ("every byte", bytes(range(256))),
        ("UTF-16", DESIGN.encode("utf-16")),
        ("a picture", b"\x89PNG\r\n\x1a\n\0\0"),
    ):
        files = {"job.toml": DESIGN_JOB.encode(), "own.toml": data}
        yield Case(name=f"design: {name}", files=files, lines=None, codes=(0, 2))
        files = {"panel.toml": data, "ends.toml": INVENTORY.encode()}
        yield Case(name=f"panel: {name}", files=files, args=("panel", "panel.toml"), lines=None)
        files = {"panel.toml": PANEL.encode(), "ends.toml": data}
        yield Case(name=f"panel: inventory: {name}", files=files, args=("panel", "panel.toml"), lines=None)


def _design(name: str, text: str, says: str) -> Case:
    files = {"job.toml": DESIGN_JOB.encode(), "own.toml": text.encode()}
    return Case(name=f"design: {name}", files=files, says=(says,), lines=None)


def _panel(name: str, panel: str, inventory: str, says: str) -> Case:
    files = {"panel.toml": panel.encode(), "ends.toml": inventory.encode()}
    codes, says = ((0, 2), "") if says == MAYBE else ((2,), says)
    return Case(name=f"panel: {name}", files=files, args=("panel", "panel.toml"), says=(says,), lines=None, codes=codes)
