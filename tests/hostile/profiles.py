"""Spoiled machine profiles and files of stock."""

from __future__ import annotations

import re
from collections.abc import Iterator

from tests.hostile.bases import PROFILE_JOB, STOCK, STOCK_JOB, profile
from tests.hostile.case import MAKE, Case, swapped

# Name; table; line put into it; words of the message. None of the keys is in the shipped profile's table already.
_ADDED: tuple[tuple[str, str, str, str], ...] = (
    ("a lead of nan", "cutting", "lead = nan", "lead"),
    ("a lead of inf", "cutting", "lead = inf", "lead"),
    ("a lead of 1e308", "cutting", "lead = 1e308", "longer than any"),
    ("a lead below nothing", "cutting", "lead = -1", "at least 0"),
    ("a depth of marks of text", "cutting", 'mark_depth = "deep"', "not a length"),
    ("a direction of no kind", "cutting", 'direction = "sideways"', "climb"),
    ("a corner of 1e-300", "motion", "corner_deviation = 1e-300", "too small to measure"),
    ("a zero of no kind", "motion", 'z_zero = "moon"', "stock top"),
    ("an unknown key near a known one", "motion", "aceleration = 300", '"acceleration"'),
    ("an extension that leaves", "controller", 'extension = "/../x"', "extension"),
    ("an extension of a line end", "controller", 'extension = "n\\nc"', "extension"),
    ("an extension of 100 letters", "controller", f'extension = "{"n" * 100}"', "extension"),
    ("lines of two lines", "controller", 'start = ["G54\\nG0 Z-50"]', "start"),
    ("lines of NUL", "controller", 'start = ["G54\\u0000"]', "start"),
    ("lines of letters unseen", "controller", 'end = ["M9\\u202e"]', "end"),
    ("lines of accents", "controller", 'end = ["M9 (Späne)"]', "end"),
    ("lines too long", "controller", f'start = ["{"G54 " * 100}"]', "too long"),
    ("lines without end", "controller", "start = [" + '"G54",' * 2000 + "]", "too many"),
    ("lines of numbers", "controller", "start = [54]", "not text"),
    ("a line alone", "controller", 'start = "G54"', "not a list"),
    ("lines in another unit", "controller", 'start = ["G20"]', "changes settings"),
    ("lines of steps", "controller", 'start = ["g 91"]', "changes settings"),
    ("lines of another plane", "controller", 'start = ["G54 G18"]', "changes settings"),
    ("lines of another zero", "controller", 'start = ["G92X0Y0"]', "changes settings"),
    ("lines that end the file", "controller", 'end = ["M30"]', "changes settings"),
    ("lines of percent signs", "controller", 'end = ["%"]', "changes settings"),
    ("dwell of no kind", "controller", 'dwell = "forever"', "seconds"),
    ("a line of 0 letters", "controller", "longest_line = 0", "at least 20"),
    ("rpm of nan", "spindle", "seconds_to_speed = nan", "not a number"),
    ("time below nothing", "spindle", "seconds_to_speed = -1", "at least 0"),
    ("layers of controls", "drawing", 'layers = { "pocket" = "a\\u0000b" }', "layers"),
    ("layers of no kind", "drawing", 'layers = { "painting" = "a" }', 'layers: painting: "painting" is not known'),
    ("layers in a list", "drawing", 'layers = ["a"]', "not a table"),
)
# Name; what is replaced; by what; words of the message.
_SWAPPED: tuple[tuple[str, str, str, str], ...] = (
    ("kind of no kind", 'kind = "router"', 'kind = "hammer"', "router"),
    ("name of a line end", 'name = "bench router"', 'name = "bench\\nG0 Z-50"', "several lines"),
    ("name of letters unseen", 'name = "bench router"', 'name = "bench \\u202erouter"', "invisible"),
    ("name empty", 'name = "bench router"', 'name = ""', "empty"),
    ("writes nothing", 'writes = ["gcode", "dxf"]', "writes = []", "too few"),
    ("writes poems", 'writes = ["gcode", "dxf"]', 'writes = ["poems"]', "gcode"),
    ("travel of nothing", "[travel]", "[travels]", '"travel"'),
    ("units of a fathom", 'units = "mm"', 'units = "fathom"', "not known"),
)


def _table(name: str, line: str) -> bytes:
    text = profile()
    header = re.compile(rf"(?m)^\[{name}\]\n")
    if not header.search(text):
        head, mark, rest = text.partition("[[cutter]]")
        return f"{head}[{name}]\n{line}\n\n{mark}{rest}".encode()
    key = line.split("=")[0].strip()
    kept = re.sub(rf"(?m)^{key} = .*\n", "", text)
    return header.sub(lambda found: f"{found[0]}{line}\n", kept, count=1).encode()


def cases() -> Iterator[Case]:
    """Yield the cases."""
    for name, table, line, says in _ADDED:
        yield _profile(name, _table(table, line), says)
    for name, old, new, says in _SWAPPED:
        yield _profile(name, swapped(profile(), (old, new)).encode(), says, lines=None)
    for key, value, says in (
        ("diameter", "0", "more than 0"),
        ("diameter", "-6.35", "more than 0"),
        ("diameter", "nan", "not a length"),
        ("diameter", "1e-7", "too small to measure"),
        ("diameter", "1e9", "longer than any"),
        ("flutes", "10**9", "value"),
        ("flutes", "1000000000", "at most"),
        ("flutes", "2.5", "whole number"),
        ("rpm", "inf", "not a number"),
        ("rpm", "1e308", "too large"),
        ("plunge", "1e8", "more than the machine's"),
        ("depth_per_pass", "0", "more than 0"),
        ("depth_per_pass", "500", "more than the cutter's diameter"),
        ("number", "0", "at least 1"),
        ("number", "100", "at most 99"),
    ):
        text = re.sub(rf"(?m)^{key} = .*$", f"{key} = {value}", profile())
        yield _profile(f"{key} {value}", text.encode(), says, lines=None)
    yield from _whole_profiles()
    yield from _stocks()


def _profile(name: str, data: bytes, says: str, *, lines: int | None = 1, codes: tuple[int, ...] = (2,)) -> Case:
    files = {"job.toml": PROFILE_JOB.encode(), "mine.toml": data}
    at = "mine.toml" if codes == (2,) else ""
    return Case(name=f"profile: {name}", files=files, at=at, says=(says,), lines=lines, codes=codes)


def _whole_profiles() -> Iterator[Case]:
    good = profile()
    yield _profile("empty", b"", "missing", lines=None)
    yield _profile("noughts", b"\0" * 100, "UTF-8")
    yield _profile("UTF-16 without a mark", good.encode("utf-16-le"), "UTF-8")
    yield _profile("UTF-16", good.encode("utf-16"), "", codes=(0,))
    yield _profile("CR LF", good.replace("\n", "\r\n").encode(), "", codes=(0,))
    yield _profile("a job", PROFILE_JOB.encode(), "", lines=None)
    yield _profile("cut short", good.encode()[: len(good) // 2], "", lines=None)
    yield _profile("the same cutter twice", (good + good[good.index("[[cutter]]") :]).encode(), "too", lines=None)
    rows = good + '\n[[cutter.feed]]\nmaterial = "m{}"\nsource = "s"\n'.format("x") * 200
    yield _profile("feeds without end", rows.encode(), "too many", lines=None)
    for name, machine, says in (
        ("a profile not there", "nothing.toml", "no machine profile"),
        ("a profile in a folder not there", "no/such/thing", "no machine profile"),
        ("the job itself as profile", "job.toml", "missing"),
        ("a folder as profile", "./", "folder"),
        ("a profile of a long name", "a" * 75 + ".toml", "no machine profile"),
        ("a device as profile", "/dev/null", "device"),
        ("a device without end as profile", "/dev/zero", "device"),
    ):
        text = PROFILE_JOB.replace("mine.toml", machine)
        yield Case(name=f"profile: {name}", files={"job.toml": text.encode()}, at="", says=(says,), lines=None)


def _stocks() -> Iterator[Case]:
    def stock(name: str, data: bytes, says: str, *, lines: int | None = 1, at: str = "shed.toml") -> Case:
        files = {"job.toml": STOCK_JOB.encode(), "shed.toml": data}
        return Case(name=f"stock: {name}", files=files, at=at, says=(says,), lines=lines)

    for name, old, new, says in (
        ("length nan", "length = 300", "length = nan", "not a length"),
        ("count 10^12", "thickness = 12", "thickness = 12\ncount = 1000000000000", "at most"),
        ("rod of nothing", "diameter = 9", "diameter = 0", "more than 0"),
        ("rod of inf", "diameter = 9", "diameter = inf", "not a length"),
        ("rod unnamed", 'name = "dowel"\n', "", "missing"),
        (
            "taken by a line end",
            "thickness = 12",
            'thickness = 12\ntaken = [{ by = "a\\nb", count = 1 }]',
            "several lines",
        ),
        (
            "taken by letters unseen",
            "thickness = 12",
            'thickness = 12\ntaken = [{ by = "a\\u202eb", count = 1 }]',
            "invisible",
        ),
        ("taken below nothing", "thickness = 12", 'thickness = 12\ntaken = [{ by = "a", count = -1 }]', "at least 1"),
        ("taken as text", "thickness = 12", 'thickness = 12\ntaken = "by the spinner"', "not a list"),
        ("from a number", "thickness = 12", "thickness = 12\nfrom = 3", "not text"),
        ("a title", 'units = "mm"', 'title = "shed"\nunits = "mm"', "not a key"),
        ("no units", 'units = "mm"\n', "", "missing"),
    ):
        yield stock(name, swapped(STOCK, (old, new)).encode(), says)
    taken = STOCK.replace("thickness = 12", 'thickness = 12\ntaken = [{ by = "a", count = 9 }]')
    yield stock("all taken", taken.encode(), "no board is left", at="job.toml:3")
    yield stock("empty", b"", "missing", lines=None)
    yield stock("no boards", b'units = "mm"\n', "no board is left", at="job.toml:3")
    yield stock("every byte", bytes(range(256)), "UTF-8")
    yield stock("packed", b"\x1f\x8b\x08\0\0\0", "UTF-8")
    yield stock("cut short", STOCK.encode()[:70], "", lines=None)
    for name, line, says in (
        ("not there", 'stock = "nothing.toml"', "no file"),
        ("itself", 'stock = "job.toml"', "not a key"),
        ("a folder", 'stock = "."', ""),
        ("twice", 'stock = ["shed.toml", "./shed.toml"]', "twice"),
        ("a number", "stock = 3", "3 is not text; put it in quotes"),
        ("no names", "stock = []", "too few"),
        ("a hundred", "stock = [" + '"shed.toml",' * 100 + "]", "too many"),
        ("a device", 'stock = "/dev/zero"', "device"),
        ("a name of NUL", 'stock = "a\\u0000b"', "invisible"),
        ("a name of a line end", 'stock = "a\\nb"', "several lines"),
    ):
        text = STOCK_JOB.replace('stock = "shed.toml"', line)
        files = {"job.toml": text.encode(), "shed.toml": STOCK.encode()}
        yield Case(name=f"stock: {name}", files=files, at="job.toml:", says=(says,), lines=None)
    keep = (*MAKE, "--keep-offcuts", "shed.toml")
    for name, data in (
        ("a picture", b"\x89PNG\r\n\x1a\n"),
        ("a job", PROFILE_JOB.encode()),
        ("boards in one list", b'units = "mm"\nboard = [{ name = "a", length = 9, width = 9, thickness = 9 }]\n'),
        ("a board wrong", STOCK.replace("length = 300", "length = -1").encode()),
    ):
        files = {"job.toml": STOCK_JOB.replace('stock = "shed.toml"\n', "").encode(), "shed.toml": data}
        yield Case(name=f"stock kept: {name}", files=files, args=keep, at="shed.toml", lines=None)
