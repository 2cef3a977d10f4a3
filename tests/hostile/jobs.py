"""Spoiled job files: what is wrong in them, and where the first message must point."""

from __future__ import annotations

from collections.abc import Iterator

from tests.hostile.bases import CIRCLE, JOB, STACK_JOB, SVG_JOB, svg
from tests.hostile.case import Case, swapped

# Name; what is replaced; by what; the line told; words of the message.
_ONE_WRONG: tuple[tuple[str, str, str, int, str], ...] = (
    # of another type
    ("count as text", "count = 1", 'count = "one"', 8, "whole number"),
    ("count true", "count = 1", "count = true", 8, "whole number"),
    ("count with a point", "count = 1", "count = 1.5", 8, "whole number"),
    ("count a list", "count = 1", "count = [1]", 8, "whole number"),
    ("count a date", "count = 1", "count = 2026-03-01", 8, "whole number"),
    ("length a list", "length = 300", "length = [300]", 12, "not a length"),
    ("length a table", "length = 300", "length = { mm = 300 }", 12, "not a length"),
    ("length true", "length = 300", "length = true", 12, "not a length"),
    ("length a date", "length = 300", "length = 07:32:00", 12, "not a length"),
    ("title a number", '"Spring market"', "12", 1, "not text"),
    ("title a list", '"Spring market"', '["a", "b"]', 1, "not text"),
    ("machine a number", '"bench-router"', "3", 3, "not text"),
    ("machine empty", '"bench-router"', '""', 3, "empty"),
    ("units a number", 'units = "mm"', "units = 25.4", 2, "not known"),
    ("units of another trade", 'units = "mm"', 'units = "cubits"', 2, "not known"),
    ("units a list", 'units = "mm"', 'units = ["mm"]', 2, "not known"),
    ("grain a number", 'grain = "none"', "grain = 1", 15, "not known"),
    ("name a number", 'name = "birch"', "name = 7", 11, "not text"),
    ("name empty", 'name = "birch"', 'name = "  "', 11, "empty"),
    ("design a number", 'design = "round"', "design = 1", 7, "not text"),
    ("with a number", "count = 1", "count = 1\nwith = 3", 9, "not a table"),
    ("together text", "count = 1", 'count = 1\ntogether = "yes"', 9, "neither true nor false"),
    ("price text", "thickness = 12", 'thickness = 12\nprice = "3.40"', 15, "not a number"),
    ("corners a list", "thickness = 12", "thickness = 12\ncorners = [1]", 15, "not a table"),
    ("keep_out a number", "thickness = 12", "thickness = 12\nkeep_out = 1", 15, "not a list"),
    ("keep_out one table", "thickness = 12", "thickness = 12\nkeep_out = { at = [1, 2], radius = 3 }", 15, "[["),
    ("prefer no list", 'units = "mm"', 'units = "mm"\nprefer = "cost"', 3, "not a list"),
    ("cutter text", 'units = "mm"', 'units = "mm"\ncutter = "1"', 3, "without quotes"),
    # numbers that are none, or none for a workshop
    ("length nan", "length = 300", "length = nan", 12, "not a length"),
    ("length inf", "length = 300", "length = inf", 12, "not a length"),
    ("length -inf", "length = 300", "length = -inf", 12, "not a length"),
    ("length 1e308", "length = 300", "length = 1e308", 12, "longer than any board"),
    ("length 1e400", "length = 300", "length = 1e400", 12, "not a length"),
    ("length below nothing", "length = 300", "length = -300", 12, "more than 0"),
    ("length 0", "length = 300", "length = 0", 12, "more than 0"),
    ("length -0.0", "length = 300", "length = -0.0", 12, "more than 0"),
    ("thickness 1e-300", "thickness = 12", "thickness = 1e-300", 14, "thickness"),
    ("thickness 1e-7", "thickness = 12", "thickness = 1e-7", 14, "thickness"),
    ("price nan", "thickness = 12", "thickness = 12\nprice = nan", 15, "nan is not a number"),
    ("price 1e308", "thickness = 12", "thickness = 12\nprice = 1e308", 15, "too large"),
    ("price below nothing", "thickness = 12", "thickness = 12\nprice = -0.01", 15, "too small"),
    ("count 0", "count = 1", "count = 0", 5, "nothing is made"),
    ("count below nothing", "count = 1", "count = -1", 8, "at least 0"),
    ("count 10^12", "count = 1", "count = 1_000_000_000_000", 8, "at most"),
    ("count 10^30", "count = 1", f"count = 1{'0' * 30}", 8, "too large"),
    ("count in hexadecimal", "count = 1", "count = 0xffff_ffff", 8, "at most"),
    ("more discs than anyone cuts", "count = 1", "count = 99_999", 5, "parts"),
    ("boards 10^12", "thickness = 12", "thickness = 12\ncount = 1000000000000", 15, "at most"),
    ("stack 10^9", 'units = "mm"', 'units = "mm"\nstack = 1000000000', 3, "at most 50"),
    ("stack 50", 'units = "mm"', 'units = "mm"\nstack = 50', 15, "cuts"),
    ("gap nan", 'units = "mm"', 'units = "mm"\ngap = nan', 3, "not a length"),
    ("gap below nothing", 'units = "mm"', 'units = "mm"\ngap = -1', 3, "at least 0"),
    ("gap 1e9", 'units = "mm"', 'units = "mm"\ngap = 1e9', 3, "longer than any board"),
    ("edge margin inf", 'units = "mm"', 'units = "mm"\nedge_margin = inf', 3, "not a length"),
    ("number height 0", 'units = "mm"', 'units = "mm"\nnumber_height = 0', 3, "more than 0"),
    ("a length by zero", "length = 300", 'length = "300 1/0"', 12, "divides by zero"),
    ("a length in no unit", "length = 300", 'length = "300 ell"', 12, "not known"),
    ("a length of words", "length = 300", 'length = "as long as the other"', 12, "not a length"),
    ("a length of digits", "length = 300", f'length = "{"9" * 41}"', 12, "too long"),
    ("a length with a minus in it", "length = 300", 'length = "5 ft -6 in"', 12, "not a length"),
    ("a length of other digits", "length = 300", 'length = "٣٠٠"', 12, "not a length"),
    ("diameter 10^9", "count = 1", "count = 1\nwith = { diameter = 1000000000 }", 9, "longer than any"),
    ("ring holes 10^9", "count = 1", "count = 1\nwith = { ring_holes = 1000000000 }", 9, "too large"),
    ("ring holes nan", "count = 1", "count = 1\nwith = { ring_holes = nan }", 9, "whole number"),
    ("hole wider than the disc", "count = 1", "count = 1\nwith = { diameter = 50, hole = 60 }", 9, "hole"),
    # names of things
    ("unknown key near a known one", "thickness = 12", "thicknes = 12", 14, '"thickness"'),
    ("unknown key", "count = 1", "count = 1\ncolour = 3", 9, "not a key"),
    ("a key in capitals", "count = 1", "Count = 1", 8, '"count"'),
    ("a key of another language", "count = 1", '"антал" = 1', 8, "not a key"),
    ("an empty key", "count = 1", 'count = 1\n"" = 1', 9, "not a key"),
    ("a key of controls", "count = 1", 'count = 1\n"a\\u0007b\\u202e" = 1', 9, "not a key"),
    ("a key like a length of a message", "count = 1", 'with = { "\\u0002length 1.0 1.0 64\\u0003" = 1 }', 8,
     "invisible"),
    ("a key as long as a book", "count = 1", f"count = 1\n{'k' * 30_000} = 1", 9, "not a key"),
    ("unknown design", '"round"', '"rownd"', 7, '"round"'),
    ("a design in a folder above", '"round"', '"../../round"', 7, "design"),
    ("unknown size", "count = 1", 'count = 1\nsize = "huge"', 9, "size"),
    ("unknown machine near a known one", '"bench-router"', '"bench-ruter"', 3, '"bench-router"'),
    ("unknown machine", '"bench-router"', '"zzz"', 3, "no machine profile"),
    ("a machine of line ends", '"bench-router"', '"a\\nb"', 3, "machine"),
    ("unknown parameter", "count = 1", "count = 1\nwith = { diametre = 90 }", 9, '"diameter"'),
    ("unknown material", '"plywood"', '"granite"', 16, "granite"),
    ("title of 1 MB", "Spring market", "x" * 100_000, 1, "too long"),
    ("title with a line end", "Spring market", "Spring\\nG0 Z-50", 1, "several lines"),
    ("title with NUL", "Spring market", "Spring\\u0000", 1, "invisible"),
    ("title with escape codes", "Spring market", "\\u001b[31mSpring", 1, "invisible"),
    ("title with C1 controls", "Spring market", "Spring\\u0085G0 Z-50", 1, "invisible"),
    ("title turned round", "Spring market", "Spring \\u202etekram", 1, "invisible"),
    ("title with a line separator", "Spring market", "Spring\\u2028G0 Z-50", 1, "invisible"),
    ("title with a paragraph separator", "Spring market", "Spring\\u2029G0", 1, "invisible"),
    ("title with unseen letters", "Spring market", "Spr\\u200bing\\u2060", 1, "invisible"),
    ("title of isolates", "Spring market", "\\u2066Spring\\u2069", 1, "invisible"),
    ("board turned round", '"birch"', '"bir\\u202ech"', 11, "invisible"),
    ("make with DEL", '"coaster"', '"coaster\\u007f"', 6, "invisible"),
    ("why with a line end", "thickness = 12",
     'thickness = 12\nkeep_out = [{ at = [9, 9], radius = 3, why = "a\\nb" }]', 15, "several lines"),
    # shapes
    ("two points", "length = 300\nwidth = 200", "outline = [[0, 0], [300, 0]]", 12, "at least 3"),
    ("a point of three numbers", "length = 300\nwidth = 200", "outline = [[0,0,0], [3,0], [3,3]]", 12, "two numbers"),
    ("a point of one number", "length = 300\nwidth = 200", "outline = [[0], [300, 0], [300, 200]]", 12, "two numbers"),
    ("points in a row", "length = 300\nwidth = 200", "outline = [[0, 0], [300, 0], [600, 0]]", 12, "no area"),
    ("one point three times", "length = 300\nwidth = 200", "outline = [[5, 5], [5, 5], [5, 5]]", 12, "no area"),
    ("a bow tie", "length = 300\nwidth = 200", "outline = [[0, 0], [300, 200], [300, 0], [0, 200]]", 12, "crosses"),
    ("an outline of nan", "length = 300\nwidth = 200", "outline = [[0, 0], [nan, 0], [300, 200]]", 12, "not a length"),
    ("outline and length", "length = 300\nwidth = 200", "length = 3\noutline = [[0,0],[9,0],[9,9]]", 10, "outline"),
    ("no width", "width = 200\n", "", 10, "width"),
    ("a keep-out without radius", "thickness = 12", "thickness = 12\nkeep_out = [{ at = [9, 9] }]", 15, "radius"),
    ("a knot elsewhere", "thickness = 12", "thickness = 12\nkeep_out = [{at = [900, 9], radius = 3}]", 15, "outside"),
    ("knot of nothing", "thickness = 12", "thickness = 12\nkeep_out = [{at = [9, 9], radius = 0}]", 15, "more than 0"),
    ("corners of the whole board", "thickness = 12", "thickness = 12\ncorners = { size = 100 }", 15, "no board"),
    ("a board smaller than the part", "width = 200", "width = 20", 5, "fit"),
    ("a board larger than the bed", "width = 200", "width = 2000", 13, "reaches"),
    ("a tab on no part", "count = 1", "count = 1\ntabs = { lid = [[1, 1]] }", 9, "lid"),
    ("a tab of one number", "count = 1", "count = 1\ntabs = { round = [[1]] }", 9, "two numbers"),
    ("a cutter there is not", 'units = "mm"', 'units = "mm"\ncutter = 77', 3, "77"),
    ("a cutter twice", 'units = "mm"', 'units = "mm"\ncutter = [1, 1]', 3, "twice"),
    ("no cutter", 'units = "mm"', 'units = "mm"\ncutter = []', 3, "at least 1"),
    ("boards thicker than any cutter is long", "thickness = 12", "thickness = 120", 14, "120"),
    # tables
    ("the order as one table", "[[make]]", "[make]", 5, "[[make]]"),
    ("the board as one table", "[[board]]", "[board]", 10, "[[board]]"),
    ("make a number", '[[make]]\nname = "coaster"\ndesign = "round"\ncount = 1\n', "make = 1\n", 5, "make"),
    ("no order at all", '[[make]]\nname = "coaster"\ndesign = "round"\ncount = 1\n', "", 1, "add a [[make]]"),
    ("no machine", 'machine = "bench-router"\n', "", 1, "machine"),
    ("no units", 'units = "mm"\n', "", 1, "units"),
    ("no name", 'name = "coaster"\n', "", 5, "name"),
    # syntax
    ("a key twice", "count = 1", "count = 1\ncount = 2", 9, "already"),
    ("a table twice", "[[make]]", "[make.with]\n[make.with]\n[[make]]", 6, "already"),
    ("a quote forgotten", '"Spring market"', '"Spring market', 1, "quote"),
    ("a bracket forgotten", "[[board]]", "[[board]", 10, "[["),
    ("no value", "count = 1", "count =", 8, "not a value"),
    ("no equals sign", "count = 1", "count 1", 8, "="),
    ("a bare fraction", "thickness = 12", "thickness = 1/2", 14, "quotes"),
    ("an inch mark", "thickness = 12", 'thickness = 1/2"', 14, "quotes"),
    ("a word without quotes", '"birch"', "birch", 11, "quotes"),
    ("a list that runs on", "count = 1", "count = [1,", 10, "not a value"),
    ("a control character", "count = 1", "count = 1\x07", 8, "character"),
    ("a lone carriage return", "count = 1", "count = 1\rtogether = true", 8, "carriage return"),
    ("an escape that is none", "Spring market", "Spring \\x41", 1, "backslash"),
    ("half a surrogate", "Spring market", "Spring \\ud800", 1, "letter"),
    ("a number of 5000 digits", "count = 1", f"count = {'1' * 5000}", 1, "digits"),
    ("a dot at the end", "count = 1", "count. = 1", 8, "key"),
)  # fmt: skip


def cases() -> Iterator[Case]:
    """Yield the cases."""
    for name, old, new, line, says in _ONE_WRONG:
        text = swapped(JOB, (old, new))
        # Mistakes of syntax are told with their column, others not; some belong to no line.
        at = f"job.toml:{line}" if line > 1 else "job.toml:"
        yield Case(name=name, files={"job.toml": text.encode()}, at=at, says=(says,))
    yield from _whole_files()
    yield from _encodings()
    yield from _stacks()
    yield Case(
        name="the same name twice",
        files={"job.toml": (JOB + JOB[JOB.index("[[board]]") :]).encode()},
        at="job.toml:18: ",
        says=("line 11", "name"),
    )
    over_all = JOB + "keep_out = [{ at = [9, 9], radius = 999999 }]\n"
    yield Case(
        name="a keep-out over all",
        files={"job.toml": over_all.encode()},
        at="job.toml:10: ",
        says=("its keep-outs leave nothing",),
        lines=2,
    )
    yield Case(
        name="every key wrong at once",
        files={"job.toml": JOB.replace(" = ", "x = ").encode()},
        says=('did you mean "units"?', 'did you mean "thickness"?'),
        lines=None,
    )


def _whole_files() -> Iterator[Case]:
    for name, data, says in (
        ("empty", b"", "missing"),
        ("one line end", b"\n", "missing"),
        ("only a mark", b"\xef\xbb\xbf", "missing"),
        ("only comments", b"# nothing\n" * 9, "missing"),
        ("prose", b"Dear sir, please make me a coaster.\n", "key = value"),
        ("another language", b'{"title": "Spring market", "units": "mm"}\n', "key"),
        ("markup", b"<html><body>404 not found</body></html>\n", "key"),
        ("a program", b"G21 G90\nG0 X1\nM2\n", "key"),
        ("a picture", b"\x89PNG\r\n\x1a\n\0\0\0\rIHDR\0\0\0\x01\0\0\0\x01\x08\x06", "UTF-8"),
        ("packed", b"\x1f\x8b\x08\x00\x00\x00\x00\x00\x00\x03\xed\xc1\x01\x0d\x00\x00", "UTF-8"),
        ("noughts", b"\0" * 4096, "UTF-8"),
        ("every byte", bytes(range(256)), ""),
        ("brackets", b"[" * 9000, ""),
        ("a byte order mark in the middle", JOB.encode() + b"\xef\xbb\xbf" + b"gap = 3\n", "character"),
        ("NUL in a comment", JOB.encode() + b"# a\0b\n", "character"),
        ("merge marks", JOB.replace("[[board]]", "<<<<<<< ours\n[[board]]").encode(), "key"),
    ):
        lines = None if says == "missing" else 1
        yield Case(name=f"file: {name}", files={"job.toml": data}, at="job.toml:", says=(says,), lines=lines)
    for share in (0.05, 0.2, 0.3, 0.45, 0.6, 0.7):
        data = JOB.encode()[: int(len(JOB) * share)]
        yield Case(name=f"file: cut at {share}", files={"job.toml": data}, at="job.toml:", lines=None)


def _encodings() -> Iterator[Case]:
    accent = JOB.replace("Spring", "Frühjahr")
    for encoding, fine in (
        ("utf-8-sig", True),
        ("utf-16", True),
        ("utf-16-le", False),
        ("utf-16-be", False),
        ("utf-32", False),
        ("latin-1", False),
        ("cp437", False),
    ):
        yield Case(
            name=f"encoding {encoding}",
            files={"job.toml": accent.encode(encoding)},
            at="" if fine else "job.toml:1",
            codes=(0,) if fine else (2,),
        )
    yield Case(name="CR LF", files={"job.toml": JOB.replace("\n", "\r\n").encode()}, codes=(0,))
    wrong = JOB.replace("thickness = 12", "thickness = -12").replace("\n", "\r\n")
    yield Case(name="CR LF, with a mistake", files={"job.toml": wrong.encode()}, at="job.toml:14: ")
    yield Case(
        name="CR only", files={"job.toml": JOB.replace("\n", "\r").encode()}, at="job.toml:1", says=("carriage return",)
    )


def _stacks() -> Iterator[Case]:
    for name, old, new, says in (
        ("tiers 10^9", "tiers = 5", "tiers = 1_000_000_000", "too large"),
        ("tiers 0", "tiers = 5", "tiers = 0", "too small"),
        ("tiers nan", "tiers = 5", "tiers = nan", "whole number"),
        ("longest nothing", 'longest = "16 1/2"', 'longest = ""', "longest"),
        ("longest 1e308", 'longest = "16 1/2"', "longest = 1e308", "longer than any"),
        ("longest -3", 'longest = "16 1/2"', 'longest = "-3"', "longest"),
        ("a base of 1000 pieces", 'base = ["10", "6 1/2"]', f"base = [{'1,' * 1000}]", "too many"),
        ("a base of tables", 'base = ["10", "6 1/2"]', "base = [{}]", "not a length"),
        ("a base longer than the board", 'base = ["10"', 'base = ["90"', "base"),
        ("a topper of no kind", '"star"', '"comet"', "star"),
        ("pins of nan", "tiers = 5", "tiers = 5, curve = [[0, nan], [1, 1]]", "curve"),
        ("pins backwards", "tiers = 5", "tiers = 5, top_pins = [[1, 1], [0, 1]]", "pins"),
        ("all that is longest and least", "tiers = 5", 'tiers = 5, shortest = "16 1/2", tallest = "0.1"', "tallest"),
    ):
        text = swapped(STACK_JOB, (old, new))
        yield Case(name=f"stack: {name}", files={"job.toml": text.encode()}, at="job.toml:", says=(says,), lines=None)
    drawn = SVG_JOB.replace("with = { ", "with = { width = 1e-3, ")
    yield Case(name="outline: tiny", files={"job.toml": drawn.encode(), "shape.svg": svg(CIRCLE)}, at="job.toml:8")
    for name, extra, says in (
        ("scale nan", "scale = nan", "scale"),
        ("scale 1e308", "scale = 1e308", "scale"),
        ("scale 0", "scale = 0", "scale"),
        ("scale and width", "scale = 2, width = 50", "width"),
        ("pockets of no depth", 'pockets = { "a" = 0 }', "pockets"),
        ("pockets right through", 'pockets = { "a" = 50 }', "goes through"),
        ("pockets of text", 'pockets = "a"', "layers"),
        ("mark depth alone", "mark_depth = 1", "marks"),
        ("marks too deep", 'marks = "m", mark_depth = 40', "goes through"),
        ("a layer that is not there", 'layer = "nowhere"', "nowhere"),
        ("a layer for two things", 'layer = "a", marks = "a"', "both"),
    ):
        text = SVG_JOB.replace("with = { ", f"with = {{ {extra}, ")
        files = {"job.toml": text.encode(), "shape.svg": svg(CIRCLE)}
        yield Case(name=f"outline: {name}", files=files, at="job.toml:8", says=(says,))
