"""Spoiled drawings, SVG and DXF, and what the messages must say."""

from __future__ import annotations

import gzip
import io
import zipfile
from collections.abc import Iterator

from tests.hostile.bases import CIRCLE, DXF_JOB, PAGE, SVG_JOB, dxf, dxf_circle, dxf_line, entity, ring, svg, tangle
from tests.hostile.case import Case

_BOMB = "".join(f'<!ENTITY l{n} "{f"&l{n - 1};" * 10}">' for n in range(1, 10))
_GROUND = "M10 10h50v50h-50z"

# Name; the body of a page of 100 by 100 mm; words of the message. All are told at the drawing's own line 1.
_SVG_BODIES: tuple[tuple[str, str, str], ...] = (
    ("a path of words", '<path d="once round the edge"/>', "path data"),
    ("a path without a start", '<path d="L10 10"/>', "start with M"),
    ("a path cut off", '<path d="M10 10 L20"/>', "lack a number"),
    ("a path of nan", '<path d="M nan nan L 1 1"/>', "path data"),
    ("a path of 1e308", '<path d="M0 0 L1e308 1e308 L 5 0z"/>', "kilometre"),
    ("a path of 1e999", '<path d="M0 0 L1e999 0z"/>', "without bounds"),
    ("a path with a flag of 2", '<path d="M0 0 A5 5 0 2 1 9 9z"/>', "lack a number"),
    ("a path twice round", '<path d="M10 10h50v50h-50v-50h50v50h-50z"/>', "itself"),
    ("an arc of 1e300", '<path d="M0 0 A1e300 1e300 0 0 1 50 50z"/>', ""),
    ("an open line", '<path d="M10 10h50v50"/>', "not closed"),
    ("a bow tie", '<polygon points="10,10 60,60 60,10 10,60"/>', "crosses"),
    ("an eight of curves", '<path d="M10 50C10 10 90 90 90 50S10 90 10 50z"/>', "crosses"),
    ("two squares that cross", f'<path d="{_GROUND}"/><path d="M30 30h50v50h-50z"/>', "crosses"),
    ("a hole over the edge", f'<path d="{_GROUND}"/><circle cx="60" cy="30" r="5"/>', "crosses"),
    ("nothing at all", "", "no closed contour"),
    ("only a picture", '<image href="data:image/png;base64,iVBORw0KGgo=" width="9" height="9"/>', "no closed contour"),
    ("only letters", "<text>porch</text>", "no closed contour"),
    ("only what is hidden", f'<g display="none">{CIRCLE}</g>', "no closed contour"),
    ("a circle of no number", '<circle cx="5" cy="5" r="wide"/>', "not a length"),
    ("a circle below nothing", '<circle cx="5" cy="5" r="-5"/>', "negative"),
    ("a circle of inf", '<circle cx="5" cy="5" r="inf"/>', "not a length"),
    ("a circle of 1e308", '<circle cx="5" cy="5" r="1e308"/>', "kilometre"),
    ("a circle of 1e400", '<circle cx="5" cy="5" r="1e400"/>', "not a length"),
    ("a circle in letters", '<circle cx="5" cy="5" r="2em"/>', "depends on letters"),
    ("a circle of digits", f'<circle cx="5" cy="5" r="{"1" * 50_000}!"/>', "not a length"),
    ("a rectangle below nothing", '<rect width="-3" height="4"/>', "negative"),
    ("a polygon of three numbers", '<polygon points="1 2 3"/>', "odd number"),
    ("a polygon of words", '<polygon points="a b c d"/>', "not a list of numbers"),
    ("a polygon of nan", '<polygon points="nan nan 1 1 2 2"/>', "not a list of numbers"),
    ("a turn that is none", f'<g transform="rotate(round)">{CIRCLE}</g>', "transform"),
    ("a turn never closed", f'<g transform="rotate({"1" * 60}">{CIRCLE}</g>', "transform"),
    ("a matrix of five", f'<g transform="matrix(1 0 0 1 5)">{CIRCLE}</g>', "transform"),
    ("a matrix of 1e308", f'<g transform="scale(1e308) scale(1e308)">{CIRCLE}</g>', ""),
    ("flat as a board", f'<g transform="scale(1 0)">{CIRCLE}</g>', ""),
    ("thinner than a hair", f'<g transform="scale(1e-300)">{CIRCLE}</g>', "no closed contour"),
    ("a turn by style", f'<g style="transform: scale(2)">{CIRCLE}</g>', "transform"),
    ("a use of itself", '<use id="a" href="#a"/>', "contains itself"),
    ("a group that uses itself", '<g id="a"><use href="#a"/></g>', "contains itself"),
    ("two that use each other", '<g id="a"><use href="#b"/></g><g id="b"><use href="#a"/></g>', "contains itself"),
    ("a use of another file", '<use href="../../../etc/passwd#root"/>', "not in this file"),
    ("a use from afar", '<use href="http://localhost/x.svg#a"/>', "not in this file"),
    ("a use of nothing", '<use href="#nothing"/>', "not in this file"),
    ("uses that multiply", "<defs><g id='g0'/>" + "".join(
        f"<g id='g{n}'>{f'''<use href='#g{n - 1}'/>''' * 9}</g>" for n in range(1, 12)) + "</defs><use href='#g11'/>",
     "shapes"),
    ("groups without end", "<g>" * 3000 + CIRCLE + "</g>" * 3000, "groups"),
    ("a layer turned round", f"<g><title>\u202elayer</title><path d='M0 0h9'/></g>{CIRCLE}", "not closed"),
    ("a name of controls", '<path id="a&#9;b&#10;c" d="M0 0h9"/>', "not closed"),
)  # fmt: skip


def cases() -> Iterator[Case]:
    """Yield the cases."""
    for name, body, says in _SVG_BODIES:
        yield _svg(name, svg(body), says, lines=None)
    yield from _svg_files()
    yield from _dxf_files()
    yield from _dxf_entities()
    for name, file, says in (
        ("a drawing elsewhere", "../../../../etc/passwd", "neither a .dxf nor a .svg"),
        ("a drawing not there", "nothing.svg", "no such file"),
        ("a drawing with NUL", "a\\u0000.svg", "file"),
        ("a drawing with a line end", "a\\nb.svg", "file"),
        ("a drawing of a long name", "a" * 290 + ".svg", "file"),
        ("a folder", "..", ""),
        ("no name", "", "the text is empty"),
        ("a picture", "shape.png", "neither"),
        ("a drawing over the net", "http://localhost/shape.svg", "no such file"),
    ):
        text = SVG_JOB.replace("shape.svg", file)
        yield Case(name=f"svg: {name}", files={"job.toml": text.encode()}, at="job.toml:8", says=(says,))


def _svg(name: str, data: bytes, says: str, *, codes: tuple[int, ...] = (2,), lines: int | None = 1) -> Case:
    files = {"job.toml": SVG_JOB.encode(), "shape.svg": data}
    return Case(name=f"svg: {name}", files=files, says=(says,), codes=codes, lines=lines)


def _dxf(name: str, data: bytes, says: str, *, codes: tuple[int, ...] = (2,), lines: int | None = 1) -> Case:
    files = {"job.toml": DXF_JOB.encode(), "shape.dxf": data}
    return Case(name=f"dxf: {name}", files=files, says=(says,), codes=codes, lines=lines)


def _svg_files() -> Iterator[Case]:
    good = svg(CIRCLE)
    yield _svg("empty", b"", "is empty")
    yield _svg("noughts", b"\0" * 5000, "no SVG file")
    yield _svg("prose", b"Dear sir,\n", "no SVG file")
    yield _svg("markup", b"<html><body/></html>", "outermost")
    yield _svg("packed", gzip.compress(good), "no SVG file")
    yield _svg("packed without end", gzip.compress(b"\0" * 5_000_000), "no SVG file")
    yield _svg("a case of files", _zipped(good), "no SVG file")
    yield _svg("a DXF file", dxf(dxf_circle()), "no SVG file")
    yield _svg("cut short", good[:-9], "no SVG file")
    yield _svg("two roots", good + good, "no SVG file")
    yield _svg("a tag not closed", svg("<g>" + CIRCLE), "no SVG file")
    yield _svg("an attribute twice", svg('<circle r="1" r="2"/>'), "no SVG file")
    yield _svg("a control character", svg("<g>\x07</g>" + CIRCLE), "no SVG file")
    yield _svg("UTF-16 without a mark", good.decode().encode("utf-16-be"), "", codes=(0, 2), lines=None)
    yield _svg("UTF-16", good.decode().encode("utf-16"), "", codes=(0,))
    yield _svg("UTF-8 with a mark", b"\xef\xbb\xbf" + good, "", codes=(0,))
    yield _svg("another encoding", svg("<title>Stühle</title>").decode().encode("latin-1"), "no SVG file")
    yield _svg("CR LF", svg("\n" + CIRCLE + "\n").replace(b"\n", b"\r\n"), "", codes=(0,))
    yield _svg("no namespace", good.replace(b' xmlns="http://www.w3.org/2000/svg"', b""), "", codes=(0,))
    yield _svg("a prefix for nothing", svg("<a:b/>" + CIRCLE), "no SVG file")
    for name, inside, body in (
        ("a bomb of entities", f'<!ENTITY l0 "haha">{_BOMB}', "<text>&l9;</text>"),
        ("a long entity", f'<!ENTITY a "{"a" * 50_000}">', "<text>" + "&a;" * 5000 + "</text>"),
        ("an entity from the disk", '<!ENTITY a SYSTEM "file:///etc/passwd">', "<text>&a;</text>"),
        ("an entity from a device", '<!ENTITY a SYSTEM "file:///dev/zero">', "<text>&a;</text>"),
        ("an entity from the net", '<!ENTITY a SYSTEM "http://localhost:9/">', "<text>&a;</text>"),
        ("a parameter entity", '<!ENTITY % a SYSTEM "http://localhost:9/x.dtd"> %a;', ""),
        ("an entity of itself", '<!ENTITY a "&b;"><!ENTITY b "&a;">', "<text>&a;</text>"),
    ):
        yield _svg(name, svg(body + CIRCLE, before=f"<!DOCTYPE svg [{inside}]>"), "entities of its own")
    outside = '<!DOCTYPE svg SYSTEM "http://localhost:9/x.dtd">'
    yield _svg("a definition elsewhere", svg(CIRCLE, before=outside), "", codes=(0,))
    yield _svg("an entity not defined", svg("<text>&a;</text>" + CIRCLE), "no SVG file")
    for name, head, says in (
        ("without a size", 'viewBox="0 0 100 100"', "has no size"),
        ("of no width", PAGE.replace("100mm", "0mm"), "no size"),
        ("of nan", PAGE.replace("100mm", "nanmm"), "has no size"),
        ("of 1e308 mm", PAGE.replace("100mm", "1e308mm"), ""),
        ("below nothing", PAGE.replace("100mm", "-100mm"), "no size"),
        ("of three numbers", PAGE.replace("0 0 100 100", "0 0 100"), "viewBox"),
        ("of words", PAGE.replace("0 0 100 100", "the whole page"), ""),
        ("of inf", PAGE.replace("0 0 100 100", "0 0 inf inf"), ""),
        ("thin as nothing", PAGE.replace("0 0 100 100", "0 0 1e-320 1e-320"), ""),
        ("from far away", PAGE.replace("0 0 100 100", "1e300 1e300 100 100"), ""),
        ("turned by words", PAGE + ' transform="upside down"', "transform"),
    ):
        yield _svg(f"a page {name}", svg(CIRCLE, head=head), says, lines=None)
    tangled = " ".join(f"{x},{y}" for x, y in tangle(900))
    yield _svg("a tangle", svg(f'<polygon points="{tangled}"/>'), "in more places than can be listed")
    yield _svg("the same circle 900 times", svg(CIRCLE * 900), "in more places than can be listed")


def _zipped(data: bytes) -> bytes:
    stream = io.BytesIO()
    with zipfile.ZipFile(stream, "w", zipfile.ZIP_DEFLATED) as case:
        case.writestr("shape.svg", data)
        case.writestr("noughts", b"\0" * 2_000_000)
    return stream.getvalue()


def _dxf_files() -> Iterator[Case]:
    good = dxf(dxf_circle())
    for name, data in (
        ("noughts", b"\0" * 5000),
        ("prose", b"Dear sir,\n"),
        ("a picture", b"\x89PNG\r\n\x1a\n\0\0"),
        ("packed", gzip.compress(good)),
        ("a case of files", _zipped(good)),
        ("an SVG file", svg(CIRCLE)),
        ("UTF-16", good.decode().encode("utf-16")),
        ("every byte", bytes(range(256)) * 20),
        ("codes only", b"0\n" * 500),
        ("a section never closed", b"0\nSECTION\n2\nENTITIES\n"),
        ("a sentinel of the binary form", b"AutoCAD Binary DXF\r\n\x1a\0"),
        ("the binary form cut short", b"AutoCAD Binary DXF\r\n\x1a\0\0\0SECTION\0\2\0HEAD"),
        ("codes that are none", good.replace(b"\n 10\n", b"\n ten\n").replace(b"\n10\n", b"\nten\n")),
    ):
        yield _dxf(name, data, "DXF")
    yield _dxf("empty", b"", "is empty")
    for share in (0.1, 0.4, 0.7, 0.95):
        yield _dxf(f"cut at {share}", good[: int(len(good) * share)], "DXF", codes=(0, 2))
    yield _dxf("CR LF", good.replace(b"\n", b"\r\n"), "", codes=(0,))
    yield _dxf("CR only", good.replace(b"\n", b"\r"), "", codes=(0, 2))
    yield _dxf("a byte order mark", b"\xef\xbb\xbf" + good, "", codes=(0,))
    yield _dxf("a line left out", good.replace(b"ENTITIES\n", b"", 1), "", codes=(0, 2))
    yield _dxf("nothing drawn", dxf(), "no closed contour")
    yield _dxf("units of parsecs", good.replace(b"$INSUNITS\n 70\n4\n", b"$INSUNITS\n 70\n20\n"), "units")
    yield _dxf("units of nothing", good.replace(b"$INSUNITS\n 70\n4\n", b"$INSUNITS\n 70\n0\n"), "units")
    yield _dxf("units of words", good.replace(b"$INSUNITS\n 70\n4\n", b"$INSUNITS\n 70\nmm\n"), "")


def _dxf_entities() -> Iterator[Case]:
    polyline = [(100, "AcDbEntity"), (100, "AcDbPolyline")]
    spline = [(100, "AcDbEntity"), (100, "AcDbSpline"), (70, 8), (71, 3)]
    knots = [(40, k) for k in (0, 0, 0, 0, 1, 1, 1, 1)]
    control = [tag for x, y in ((0, 0), (10, 30), (20, 30), (30, 0)) for tag in ((10, x), (20, y), (30, 0))]
    star = [tag for x, y in ring(5) for tag in ((10, x), (20, y))]
    for name, drawn, says in (
        ("a circle of nan", dxf_circle(r="nan"), ""),
        ("a circle of inf", dxf_circle(r="inf"), "kilometre"),
        ("a circle of 1e308", dxf_circle(r="1e308"), "kilometre"),
        ("a circle of nothing", dxf_circle(r=0), "no closed contour"),
        ("a circle of words", dxf_circle(r="wide"), "DXF"),
        ("a circle far away", dxf_circle(x=1e12), "kilometre"),
        ("a circle nowhere", dxf_circle(x="nan"), "kilometre"),
        ("an open line", dxf_line(0, 0, 50, 0), "not closed"),
        ("two circles that cross", dxf_circle() + dxf_circle(x=60), "crosses"),
        ("a block not defined", entity("INSERT", (2, "NOWHERE"), (10, 0), (20, 0)), "not defined"),
        ("a block of no name", entity("INSERT", (10, 0), (20, 0)), "not complete"),
        ("a block scaled by nothing", entity("INSERT", (2, "*Model_Space"), (41, 0), (42, 0)), ""),
        ("model space in itself", entity("INSERT", (2, "*Model_Space"), (10, 0), (20, 0)), ""),
        ("an arc of nan", entity("ARC", (10, 0), (20, 0), (40, 5), (50, "nan"), (51, 90)), ""),
        ("an arc of 1e300 degrees", entity("ARC", (10, 0), (20, 0), (40, 5), (50, 0), (51, 1e300)), ""),
        ("a polyline that crosses itself", entity(
            "LWPOLYLINE", *polyline, (90, 5), (70, 1), *star[:2], *star[4:6], *star[8:10], *star[2:4], *star[6:8]),
         "crosses"),
        ("a polyline of nan", entity("LWPOLYLINE", *polyline, (90, 3), (70, 1), (10, "nan"), (20, 0), (10, 1), (20, 1),
                                     (10, 1), (20, 0)), "kilometre"),
        ("bulges of 1e300", entity("LWPOLYLINE", *polyline, (90, 2), (70, 1), (10, 0), (20, 0), (42, 1e300), (10, 9),
                                   (20, 9), (42, 1e300)), ""),
        ("a spline of no points", entity("SPLINE", *spline, *knots), "SPLINE"),
        ("a spline of few knots", entity("SPLINE", *spline, *knots[:3], *control), "SPLINE"),
        ("a spline of falling knots", entity("SPLINE", *spline, *knots[::-1], *control), ""),
        ("a spline of nan", entity("SPLINE", *spline, *[(40, "nan")] * 8, *control), ""),
        ("a spline of weights below nothing", entity("SPLINE", *spline, *knots, *[(41, -1)] * 4, *control), "SPLINE"),
        ("a spline of degree 199", entity("SPLINE", *spline[:-1], (71, 199), *knots, *control), "SPLINE"),
        ("an ellipse of nan", entity("ELLIPSE", (10, 5), (20, 5), (11, "nan"), (21, 0), (40, 0.5)), ""),
        ("an ellipse of ratio 1e-300", entity("ELLIPSE", (100, "AcDbEntity"), (100, "AcDbEllipse"), (10, 5), (20, 5),
                                              (30, 0), (11, 9), (21, 0), (31, 0), (40, 1e-300)), ""),
        ("an ellipse without a size", entity("ELLIPSE", (10, 5), (20, 5), (11, 0), (21, 0), (40, 0.5)), ""),
        ("a line on edge", dxf_line(0, 0, 0, 0), "no closed contour"),
        ("a layer of a strange name", entity("LINE", (10, 0), (20, 0), (11, 9), (21, 9)).replace(
            "8\n0\n", "8\n(%;)\u202e\x1b[31m\n"), "not closed"),
    ):  # fmt: skip
        yield _dxf(name, dxf(drawn), says, lines=None)
