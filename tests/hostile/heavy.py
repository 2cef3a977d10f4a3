"""What could take for ever or all memory; each case runs in a process of its own."""

from __future__ import annotations

import gzip
import io
import math
from collections.abc import Callable, Iterator
from dataclasses import dataclass

from tests.hostile import heavy_drawings
from tests.hostile.bases import (  # fmt: skip
    CIRCLE,
    DESIGN_JOB,
    DXF_JOB,
    JOB,
    PROGRAM,
    STOCK,
    STOCK_JOB,
    SVG_JOB,
    dxf,
    dxf_line,
    entity,
    profile,
    ring,
    svg,
    tangle,
)
from tests.hostile.case import Case


@dataclass(frozen=True, slots=True, kw_only=True)
class Heavy:
    """A case that is only made when it is run, as its files are large. Some are quick enough for every test run."""

    name: str
    make: Callable[[], Case]
    quick: bool = False


def _job(name: str, text: Callable[[], str], *says: str, quick: bool = False, codes: tuple[int, ...] = (2,)) -> Heavy:
    def make() -> Case:
        return Case(name=name, files={"job.toml": text().encode()}, says=says, lines=None, codes=codes)

    return Heavy(name=f"job: {name}", make=make, quick=quick)


def _svg(name: str, body: Callable[[], str], *says: str, quick: bool = False, codes: tuple[int, ...] = (2,)) -> Heavy:
    def make() -> Case:
        files = {"job.toml": SVG_JOB.encode(), "shape.svg": svg(body())}
        return Case(name=name, files=files, says=says, lines=None, codes=codes)

    return Heavy(name=f"svg: {name}", make=make, quick=quick)


def _dxf(name: str, data: Callable[[], bytes], *says: str, codes: tuple[int, ...] = (2,), quick: bool = False) -> Heavy:
    def make() -> Case:
        files = {"job.toml": DXF_JOB.encode(), "shape.dxf": data()}
        return Case(name=name, files=files, says=says, lines=None, codes=codes)

    return Heavy(name=f"dxf: {name}", make=make, quick=quick)


def _program(name: str, data: Callable[[], bytes], *, quick: bool = False) -> Heavy:
    def make() -> Case:
        args = ("check", "board.nc", "--machine", "bench-router")
        return Case(name=name, files={"board.nc": data()}, args=args, lines=None, codes=(1, 2))

    return Heavy(name=f"program: {name}", make=make, quick=quick)


def _design(name: str, text: Callable[[], str]) -> Heavy:
    def make() -> Case:
        own = 'units = "mm"\nsummary = "s"\n' + text()
        files = {"job.toml": DESIGN_JOB.encode(), "own.toml": own.encode()}
        return Case(name=name, files=files, lines=None)

    return Heavy(name=f"design: {name}", make=make)


def _plan(name: str, data: Callable[[], bytes], *says: str) -> Heavy:
    def make() -> Case:
        args = ("check", "board.nc", "--machine", "bench-router", "--plan", "plan.json")
        return Case(
            name=name, files={"board.nc": PROGRAM.encode(), "plan.json": data()}, args=args, says=says, lines=None
        )

    return Heavy(name=f"plan: {name}", make=make)


def _found_slow() -> Iterator[Heavy]:
    """What took too long or too much when it was first tried."""
    for name, body, says in heavy_drawings.svg_bodies():
        yield _svg(name, body, says, quick=name in _QUICK)
    for name, data, says in heavy_drawings.dxf_files():
        yield _dxf(name, data, says)
    for name, text in heavy_drawings.designs():
        yield _design(name, text)
    for name, data, says in heavy_drawings.plans():
        yield _plan(name, data, says)


_QUICK = ("rough curves", "400 circles of 28 m")


def cases() -> Iterator[Heavy]:
    """Yield the cases."""
    yield from _found_slow()
    yield from _jobs()
    yield from _svg_files()
    yield from _dxf_files()
    yield from _programs()
    yield Heavy(name="a device without end", quick=True, make=lambda: Case(
        name="device", files={}, args=("make", "/dev/zero"), says=("a device",)))  # fmt: skip


def _boards(count: int, lines: str) -> str:
    return "".join(f'[[board]]\nname = "n{n}"\n{lines}\n' for n in range(count))


def _jobs() -> Iterator[Heavy]:
    fine = "length = 10\nwidth = 10\nthickness = 12"
    yield _job("an array 100,000 deep", lambda: JOB + f"x = {'[' * 100_000}{']' * 100_000}\n", "deep", quick=True)
    yield _job("tables 20,000 deep", lambda: JOB + f"x = {'{a=' * 20_000}1{'}' * 20_000}\n", "deep")
    yield _job("a key of 100,000 parts", lambda: JOB + f"{'a.' * 100_000}a = 1\n", "dots", quick=True)
    yield _job("a quoted key of 60,000 parts", lambda: JOB + '"a".' * 60_000 + "a = 1\n", "dots")
    yield _job("a header of 100,000 parts", lambda: JOB + f"[{'a.' * 100_000}a]\n", "dots")
    yield _job("a list of 400,000", lambda: JOB + f"x = [{'1,' * 400_000}]\n", "entries")
    yield _job("100,000 small tables", lambda: JOB + f"x = [{'{a=1},' * 100_000}]\n", "entries")
    yield _job("50,000 unknown keys", lambda: JOB + "".join(f"k{n} = 1\n" for n in range(50_000)), "more mistakes")
    yield _job("20,000 slips of one key", lambda: JOB + "".join(f"cuont{n} = 1\n" for n in range(20_000)), "mistakes")
    yield _job("9,000 boards", lambda: JOB + _boards(9000, fine), "too many", quick=True)
    yield _job("9,000 wrong boards", lambda: JOB + _boards(9000, "length = -1"))
    yield _job("1,000 boards", lambda: JOB + _boards(999, fine), codes=(0,))
    yield _job(
        "9,000 orders", lambda: JOB + "".join(f'[[make]]\nname = "n{n}"\ndesign = "round"\n' for n in range(9000))
    )
    yield _job(
        "1,000 orders", lambda: JOB + "".join(f'[[make]]\nname = "n{n}"\ndesign = "round"\n' for n in range(999))
    )
    knots = "".join(f"{{ at = [{n % 300}, {n % 199}], radius = 0.1 }}," for n in range(9000))
    yield _job("9,000 knots", lambda: JOB + f"keep_out = [{knots}]\n", "too many")
    yield _job("a board of 20,000 corners in no order", lambda: JOB.replace(
        "length = 300\nwidth = 200", f"outline = {[list(point) for point in tangle(20_000)]}"), "entries")  # fmt: skip
    yield _job("a board of 2,000 corners in no order", lambda: JOB.replace(
        "length = 300\nwidth = 200", f"outline = {[list(point) for point in tangle(2000)]}"), "crosses")  # fmt: skip
    yield _job("a key of 900,000 letters", lambda: JOB + "k" * 900_000 + " = 1\n", "not a key")
    yield _job("a text of 900,000 letters", lambda: JOB.replace("Spring", "x" * 900_000), "too long")
    yield _job(
        "a whole number of 900,000 digits", lambda: JOB.replace("count = 1", f"count = {'1' * 900_000}"), "digits"
    )
    yield _job(
        "a hexadecimal of 900,000 digits", lambda: JOB.replace("count = 1", f"count = 0x{'f' * 900_000}"), "large"
    )
    yield _job("a comment of 2 MB", lambda: JOB + "#" * 2_000_000, "larger than 1 MB")
    yield _job("100,000 pieces", lambda: JOB.replace("count = 1", "count = 100_000"), "parts")
    yield _job("100,000 pieces from 100,000 boards", lambda: (JOB + "count = 100_000\n").replace(
        "count = 1\n", "count = 100_000\n"), "parts")  # fmt: skip
    yield _job(
        "tabs without end", lambda: JOB.replace("count = 1", f"count = 1\ntabs = {{ round = [{'[1,1],' * 9000}] }}")
    )
    yield Heavy(
        name="stock: 9,000 boards",
        make=lambda: Case(
            name="stock",
            files={"job.toml": STOCK_JOB.encode(), "shed.toml": (STOCK + _boards(9000, fine)).encode()},
            says=("too many",),
        ),
    )
    yield Heavy(name="profile: 9,000 feeds", make=lambda: Case(name="profile", lines=None, files={
        "job.toml": JOB.replace('"bench-router"', '"mine.toml"').encode(),
        "mine.toml": (profile() + '[[cutter.feed]]\nmaterial = "x"\nsource = "s"\n' * 9000).encode()}))  # fmt: skip
    yield Heavy(
        name="drawing: 12 MB",
        make=lambda: Case(
            name="12 MB",
            files={"job.toml": SVG_JOB.encode(), "shape.svg": svg(f"<!--{'x' * 12_000_000}-->{CIRCLE}")},
            says=("10 MB",),
        ),
    )


def _svg_files() -> Iterator[Heavy]:
    def polygon(points: list[tuple[float, float]]) -> str:
        return f'<polygon points="{" ".join(f"{x:.5f},{y:.5f}" for x, y in points)}"/>'

    def rays(count: int) -> str:
        return "".join(
            f'<line x1="{50 + 40 * math.cos(n)}" y1="{50 + 40 * math.sin(n)}" x2="{50 - 40 * math.cos(n)}" '
            f'y2="{50 - 40 * math.sin(n)}"/>'
            for n in range(count)
        )

    same = "in more places than can be listed"
    yield _svg("a million points", lambda: polygon([(n % 1000 / 10, n // 1000 / 10) for n in range(400_000)]), "20000")
    yield _svg("a traced ring", lambda: polygon(ring(200_000)), "20000")
    yield _svg("a tangle of 19,000 lines", lambda: polygon(tangle(19_000)), same, quick=True)
    yield _svg("a comb of 18,000 lines", lambda: polygon(
        [(n * 0.01 + across, across) for n in range(9000) for across in (0, 50)]), same)  # fmt: skip
    yield _svg("4,000 loops", lambda: polygon(
        [(n * 0.5 + x, y) for n in range(4000) for x, y in ((0, 0), (0.3, 0.05), (0.3, 0), (0.25, 0.05))] + [(0, 90)]),
        same)  # fmt: skip
    yield _svg("tiny loops", lambda: polygon(
        [(n * 0.5 + x, y) for n in range(150) for x, y in ((0, 0), (0.03, 0.05), (0.03, 0), (0.02, 0.05))]
        + [(75, 90), (0, 90)]), codes=(0, 2))  # fmt: skip
    yield _svg("19,000 rays", lambda: rays(19_000), same)
    yield _svg("one line 19,000 times", lambda: '<path d="M5 5L50 50"/>' * 19_000, same)
    yield _svg("lines from one point", lambda: "".join(
        f'<path d="M50 50L{n % 90} {n // 90 / 3}"/>' for n in range(19_000)), same)  # fmt: skip
    yield _svg("one circle 4,000 times", lambda: CIRCLE * 4000, same)
    yield _svg("4,000 circles in each other", lambda: "".join(
        f'<circle cx="50" cy="50" r="{10 + n * 0.005}"/>' for n in range(4000)), same)  # fmt: skip
    yield _svg("4,000 squares in each other", lambda: "".join(
        f'<rect x="{n * 0.01}" y="{n * 0.01}" width="{90 - n * 0.02}" height="{90 - n * 0.02}"/>' for n in range(4000)),
        same)  # fmt: skip
    yield _svg("9,000 circles side by side", lambda: "".join(
        f'<circle cx="{n % 100}" cy="{n // 100}" r="0.4"/>' for n in range(9000)), "outlines")  # fmt: skip
    yield _svg("40,000 circles", lambda: '<circle cx="5" cy="5" r="3"/>' * 40_000, "20000")
    yield _svg("uses of uses", lambda: "<defs><g id='g0'/>" + "".join(
        f"<g id='g{n}'>{f'''<use href='#g{n - 1}'/>''' * 9}</g>" for n in range(1, 60)) + "</defs><use href='#g59'/>",
        "shapes")  # fmt: skip
    yield _svg("groups 300,000 deep", lambda: "<g>" * 300_000 + CIRCLE + "</g>" * 300_000, "groups")
    yield _svg("a transform of 1 MB", lambda: f'<g transform="{"rotate(1)" * 100_000}">{CIRCLE}</g>', "is too long")
    yield _svg("a number of 1 MB", lambda: f'<circle cx="5" cy="5" r="{"1" * 1_000_000}!"/>', "not a length")
    yield _svg("a turn of 1 MB", lambda: f'<g transform="rotate({"1" * 9000}">{CIRCLE}</g>', "transform", quick=True)
    yield _svg("a style of 1 MB", lambda: f"<style>{'a' * 1_000_000}</style>{CIRCLE}", codes=(0,), quick=True)
    yield _svg("comments in a style", lambda: f"<style>{'/*' * 500_000}</style>{CIRCLE}", codes=(0,))
    yield _svg("braces in a style", lambda: f"<style>{'{' * 1_000_000}</style>{CIRCLE}", codes=(0,))
    yield _svg("100,000 rules", lambda: "<style>" + "".join(
        f".a{n}{{x:y}}" for n in range(100_000)) + f"</style>{CIRCLE}", codes=(0,))  # fmt: skip
    yield _svg("text of 9 MB", lambda: f"<text>{'x&amp;' * 1_500_000}</text>{CIRCLE}", codes=(0,))
    yield _svg("300,000 attributes", lambda: "<circle " + " ".join(f'a{n}="1"' for n in range(300_000)) + "/>")
    yield _svg("a path of 100,000 moves", lambda: f'<path d="{"M0 0" * 100_000}"/>{CIRCLE}', "20000")
    yield _svg("far numbers", lambda: f'<path d="M0 0{" L1e308 1e308" * 100_000}"/>', "kilometre")
    bomb = "".join(f'<!ENTITY l{n} "{f"&l{n - 1};" * 10}">' for n in range(1, 12))
    yield Heavy(name="svg: a bomb of entities", quick=True, make=lambda: Case(name="bomb", files={
        "job.toml": SVG_JOB.encode(),
        "shape.svg": svg("<text>&l11;</text>", before=f'<!DOCTYPE svg [<!ENTITY l0 "haha">{bomb}]>')},
        says=("entities of its own",)))  # fmt: skip
    yield Heavy(
        name="svg: a packed gigabyte",
        make=lambda: Case(
            name="packed",
            files={"job.toml": SVG_JOB.encode(), "shape.svg": _packed(1_000_000_000)},
            says=("no SVG file",),
        ),
    )


def _packed(count: int) -> bytes:
    stream = io.BytesIO()
    with gzip.GzipFile(fileobj=stream, mode="wb", compresslevel=1, mtime=0) as packed:
        for _ in range(count // 10_000_000):
            packed.write(b"\0" * 10_000_000)
    return stream.getvalue()


def _dxf_files() -> Iterator[Heavy]:
    def polyline(points: list[tuple[float, float]]) -> str:
        tags = [tag for x, y in points for tag in ((10, f"{x:.4f}"), (20, f"{y:.4f}"))]
        return entity("LWPOLYLINE", (100, "AcDbEntity"), (100, "AcDbPolyline"), (90, len(points)), (70, 1), *tags)

    yield _dxf(
        "150,000 lines", lambda: dxf(*(dxf_line(n % 999, n // 999, n % 999 + 1, 0) for n in range(150_000))), "60000"
    )
    yield _dxf(
        "25,000 lines", lambda: dxf(*(dxf_line(n % 999, n // 999, n % 999 + 1, 0) for n in range(25_000))), "20000"
    )
    yield _dxf("a polyline of 400,000 points", lambda: dxf(polyline(ring(400_000))), "20000")
    yield _dxf("a tangle", lambda: dxf(polyline(tangle(19_000))), "in more places than can be listed")
    yield _dxf("nothing but codes", lambda: b"0\n" * 4_000_000, "60000")
    yield _dxf("a line of 9 MB", lambda: b"0\nSECTION\n2\n" + b"x" * 9_000_000, "DXF")
    head = b"AutoCAD Binary DXF\r\n\x1a\0"
    yield _dxf("binary noise of 2 MB", lambda: head + b"\0\0A\0" * 490_000, "DXF")
    yield _dxf("binary noise of 6 MB", lambda: head + b"\0\0A\0" * 1_500_000, "binary form and larger than 2 MB")
    yield _dxf("blocks of blocks", lambda: _blocks(20, 10), "20000")
    yield _dxf("blocks 300 deep", lambda: _blocks(300, 1), "more than 64")
    yield _dxf("a block in itself", lambda: _blocks(3, 3, around=True), "contains itself", quick=True)
    yield _dxf("a grid without end", lambda: dxf(entity(
        "INSERT", (2, "A"), (10, 0), (20, 0), (70, 32_000), (71, 32_000), (44, 1), (45, 1))).replace(
            b"0\nSECTION\n2\nENTITIES", b"0\nSECTION\n2\nENTITIES", 1), codes=(2,))  # fmt: skip


def _blocks(count: int, times: int, *, around: bool = False) -> bytes:
    import ezdxf

    document = ezdxf.new("R2000")
    document.units = 4
    for number in range(count):
        block = document.blocks.new(f"B{number}")
        before = count - 1 if around and number == 0 else number - 1
        for place in range(times):
            if before >= 0:
                block.add_blockref(f"B{before}", (place, 0))
        if number == 0 and not around:
            block.add_circle((0, 0), 5)
    document.modelspace().add_blockref(f"B{count - 1}", (0, 0))
    stream = io.StringIO()
    document.write(stream)
    return stream.getvalue().encode()


def _programs() -> Iterator[Heavy]:
    yield _program("9 MB of moves", lambda: PROGRAM.replace("G1 X20\n", "G1 X21\nG1 X20\n" * 600_000).encode())
    yield _program("9 MB of arcs", lambda: PROGRAM.replace(
        "G1 X20\n", "G3 X20 Y40 I-20 J0\nG3 X60 I20\n" * 250_000).encode())  # fmt: skip
    yield _program("9 MB of mistakes", lambda: b"G1 X\n" * 1_800_000)
    yield _program("9 MB of prose", lambda: b"once upon a time\n" * 500_000, quick=True)
    yield _program("holes without end", lambda: PROGRAM.replace(
        "G1 X20", "G91 G81 X0.001 Y0 Z-1 R0 L99999999 F100").encode())  # fmt: skip
    yield _program("pecks without end", lambda: PROGRAM.replace("G1 X20", "G83 X20 Z-3 R2 Q0.0000001 F100").encode())
    yield _program(
        "brackets 100,000 deep", lambda: PROGRAM.replace("X20", f"X{'[' * 100_000}1{']' * 100_000}", 1).encode()
    )
    yield _program("powers of powers", lambda: PROGRAM.replace("X20", "X[99999**99999**9999]", 1).encode())
    yield _program("larger than 10 MB", lambda: b"(" + b"x" * 11_000_000 + b")")
    yield _program("noughts", lambda: b"\0" * 9_000_000)
    yield _plan("a list 1,000,000 deep", lambda: b"[" * 1_000_000)
    yield _plan("100,000 empty boards", lambda: (
        '{"schema": "cutjob-plan/1", "units": "mm", "boards": [' + "{}," * 100_000 + "{}]}").encode())  # fmt: skip
