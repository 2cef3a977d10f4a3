"""Files that are no drawings, or not whole: one clear message each, never a traceback."""

import random

import ezdxf
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from cutjob.drawings import drawing as limits
from cutjob.drawings import outlines
from cutjob.drawings.outlines import read_outlines
from cutjob.errors import InputError
from tests.drawings.files import new_dxf, only, saved, svg

CIRCLE = '<circle cx="5" cy="5" r="3"/>'


def problems(path, **options):
    with pytest.raises(InputError) as caught:
        read_outlines(path, **options)
    assert all(p.location.file == str(path) and p.message for p in caught.value.problems)
    return [str(problem) for problem in caught.value.problems]


@pytest.fixture
def good(tmp_path):
    document, space = new_dxf()
    space.add_circle((0, 0), 5)
    return saved(document, tmp_path, "good.dxf").read_bytes()


def written(tmp_path, data, name="bad.dxf"):
    path = tmp_path / name
    path.write_bytes(data)
    return path


class TestDxf:
    @pytest.mark.parametrize("ending", [b"\n", b"\r\n"])
    @pytest.mark.parametrize("mark", [b"", b"\xef\xbb\xbf"])
    def test_line_endings_and_byte_order_mark(self, tmp_path, good, ending, mark):
        data = mark + good.replace(b"\r\n", b"\n").replace(b"\n", ending)
        assert only(written(tmp_path, data)).circle()[1] == 5

    def test_binary_form(self, tmp_path):
        document, space = new_dxf()
        space.add_circle((0, 0), 5)
        path = tmp_path / "binary.dxf"
        document.saveas(path, fmt="bin")
        assert only(path).circle()[1] == 5
        (text,) = problems(written(tmp_path, path.read_bytes()[:-400]))
        assert "cut short" in text

    @pytest.mark.parametrize("share", [0.001, 0.1, 0.3, 0.5, 0.7, 0.9, 0.97, 0.995])
    def test_cut_short(self, tmp_path, good, share):
        (text,) = problems(written(tmp_path, good[: int(len(good) * share)]))
        assert "is damaged, cut short or no DXF file" in text

    @pytest.mark.parametrize(
        "data",
        [
            bytes(range(256)) * 50,
            b"hello\nporch\n",
            b"<html></html>",
            b"\0" * 1000,
            b"\n" * 1000,
            b"0\nSECTION\n",
            b"\x89PNG\r\n",
        ],
    )
    def test_no_drawing_at_all(self, tmp_path, data):
        (text,) = problems(written(tmp_path, data))
        assert "no DXF file" in text or "not a DXF file" in text

    def test_wrong_encoding(self, tmp_path, good):
        (text,) = problems(written(tmp_path, good.decode().encode("utf-16")))
        assert "is not a DXF file" in text

    def test_bytes_of_another_encoding_in_names(self, tmp_path):
        document, space = new_dxf()
        space.add_circle((0, 0), 5, dxfattribs={"layer": "seat"})
        data = saved(document, tmp_path).read_bytes().replace(b"seat", b"s\xe9at")
        assert only(written(tmp_path, data)).circle()[1] == 5

    @pytest.mark.parametrize("number", [b"nan", b"inf", b"-inf", b"1e300"])
    def test_numbers_that_are_none(self, tmp_path, good, number):
        data = good.replace(b" 40\r\n5.0", b" 40\r\n" + number).replace(b" 40\n5.0", b" 40\n" + number)
        assert data != good
        (text,) = problems(written(tmp_path, data))
        assert "CIRCLE" in text

    def test_text_where_a_number_stands(self, tmp_path, good):
        data = good.replace(b"\n5.0", b"\nfive")
        assert data != good
        (text,) = problems(written(tmp_path, data))
        assert "damaged" in text

    @given(st.integers(0, 2**32))
    @settings(max_examples=25, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
    def test_any_bytes_spoiled(self, tmp_path, good, seed):
        rng, data = random.Random(seed), bytearray(good)
        for _ in range(rng.randint(1, 40)):
            data[rng.randrange(len(data))] = rng.randrange(256)
        try:
            read_outlines(written(tmp_path, bytes(data)))
        except InputError as error:
            assert error.problems  # noqa: PT017 - a spoiled file may still be read; it must not crash

    def test_entities_that_lack_what_they_need(self, tmp_path):
        document, space = new_dxf()
        document.blocks.new("SHAPE").add_circle((0, 0), 5)
        space.add_blockref("SHAPE", (0, 0))
        space.add_polyline2d([(0, 0, 1), (10, 0, 1)], format="xyb", close=True)
        data = saved(document, tmp_path).read_bytes().replace(b"\r\n", b"\n")
        start = data.index(b"ENTITIES")
        head, rest = data[:start], data[start:]
        spoiled = rest.replace(b"  2\nSHAPE\n", b"").replace(b" 10\n10.0\n 20\n0.0\n", b"")
        assert len(spoiled) < len(rest)
        texts = problems(written(tmp_path, head + spoiled))
        assert len(texts) == 2
        assert all("is not complete" in text for text in texts)

    def test_block_in_itself(self, tmp_path):
        document, space = new_dxf()
        first, second = document.blocks.new("A"), document.blocks.new("B")
        first.add_blockref("B", (0, 0))
        second.add_blockref("A", (0, 0))
        space.add_blockref("A", (0, 0))
        space.add_blockref("NOWHERE", (0, 0))
        texts = problems(saved(document, tmp_path))
        assert ['block "A": contains itself' in texts[0], 'block "NOWHERE": is used but not defined' in texts[1]] == [
            True,
            True,
        ]

    def test_blocks_that_multiply(self, tmp_path, monkeypatch):
        monkeypatch.setattr(limits, "MOST_SHAPES", 1000)
        document, space = new_dxf()
        for level in range(9):
            block = document.blocks.new(f"B{level}")
            for place in range(9):
                block.add_blockref(f"B{level - 1}", (place, 0)) if level else block.add_circle((0, 9 * place), 2)
        space.add_blockref("B8", (0, 0))
        (text,) = problems(saved(document, tmp_path))
        assert "more than 1000 shapes" in text

    def test_block_repeated_without_bounds(self, tmp_path):
        document, space = new_dxf()
        document.blocks.new("A").add_circle((0, 0), 1)
        space.add_blockref("A", (0, 0), dxfattribs={"row_count": 30000, "column_count": 30000})
        (text,) = problems(saved(document, tmp_path))
        assert "is repeated 900000000 times" in text

    def test_nothing_drawn(self, tmp_path):
        document, space = new_dxf()
        space.add_text("porch")
        (text,) = problems(saved(document, tmp_path))
        assert "has no closed contour; left out: TEXT" in text

    def test_spline_without_sense(self, tmp_path):
        document, space = new_dxf()
        spline = space.add_spline(degree=3)
        spline.control_points = [(0, 0, 0), (1, 1, 0)]
        texts = problems(saved(document, tmp_path))
        assert "SPLINE" in texts[0]

    def test_too_many_to_tell(self, tmp_path):
        document, space = new_dxf()
        for x in range(40):
            space.add_line((x * 10, 0), (x * 10, 5))
        texts = problems(saved(document, tmp_path))
        assert len(texts) == 26
        assert "and 15 more problems" in texts[-1]

    def test_old_versions(self, tmp_path):
        for version in ("R12", "R2000", "R2018"):
            document = ezdxf.new(version)
            document.modelspace().add_circle((0, 0), 5)
            assert only(saved(document, tmp_path, f"{version}.dxf"), units="mm").circle()[1] == 5


class TestSvg:
    @pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16"])
    def test_encodings(self, tmp_path, encoding):
        data = (
            svg(tmp_path, f"<title>é</title>{CIRCLE}")
            .read_text(encoding="utf-8")
            .replace("\n", "\r\n")
            .encode(encoding)
        )
        assert only(written(tmp_path, data, "x.svg")).circle()[1] == pytest.approx(3, rel=1e-12)

    def test_wrong_encoding(self, tmp_path):
        data = svg(tmp_path, f"<title>é</title>{CIRCLE}").read_text(encoding="utf-8").encode("latin-1")
        (text,) = problems(written(tmp_path, data, "x.svg"))
        assert "x.svg:1: is damaged or no SVG file" in text

    @pytest.mark.parametrize(
        "data", [bytes(range(256)), b"hello", b"<svg", b"\0\0\0", b"<?xml version='1.0' encoding='nonsense'?><svg/>"]
    )
    def test_no_drawing_at_all(self, tmp_path, data):
        assert len(problems(written(tmp_path, data, "x.svg"))) == 1

    def test_cut_short_names_the_line(self, tmp_path):
        data = svg(tmp_path, f"\n\n{CIRCLE}\n").read_bytes()[:-8]
        (text,) = problems(written(tmp_path, data, "x.svg"))
        assert "x.svg:3: is damaged" in text  # where the unfinished tag begins

    def test_other_xml(self, tmp_path):
        (text,) = problems(written(tmp_path, b"<html/>", "x.svg"))
        assert "outermost element is 'html'" in text

    @pytest.mark.parametrize(
        "inside",
        [
            '<!ENTITY a "aaaaaaaaaa"><!ENTITY b "&a;&a;&a;&a;&a;&a;&a;&a;&a;&a;"><!ENTITY c "&b;&b;&b;&b;&b;&b;">',
            '<!ENTITY c SYSTEM "file:///etc/hostname">',
            '<!ENTITY % c SYSTEM "http://localhost/x.dtd">',
        ],
    )
    def test_entities_are_refused(self, tmp_path, inside):
        (text,) = problems(svg(tmp_path, f"{CIRCLE}<text>&c;</text>", before=f"<!DOCTYPE svg [{inside}]>"))
        assert "defines entities of its own" in text

    def test_plain_doctype_is_read(self, tmp_path):
        before = (
            '<?xml version="1.0"?><!DOCTYPE svg PUBLIC "-//W3C//DTD SVG 1.1//EN" '
            '"http://www.w3.org/Graphics/SVG/1.1/DTD/svg11.dtd">'
        )
        assert only(svg(tmp_path, CIRCLE, before=before)).circle()[1] == pytest.approx(3, rel=1e-12)

    def test_every_problem_at_once_with_its_line(self, tmp_path):
        body = (
            '\n<path d="M0 0 L 5 5 foo"/>\n<circle r="nan"/>\n<rect width="-3" height="4"/>'
            '\n<g id="turned" transform="rotate(a)"/>\n<polygon points="1 2 3"/>\n<use href="other.svg#a"/>'
            '\n<circle r="2em"/>\n<g style="transform: scale(2)"/>\n<path id="far" d="M0 0h1e9v1e9z"/>'
        )
        texts = problems(svg(tmp_path, body))
        assert [int(text.split(".svg:")[1].split(":")[0]) for text in texts] == list(range(2, 11))

    @pytest.mark.parametrize(
        "body",
        [
            '<g id="a"><use href="#a"/></g>',
            '<g id="a"><use href="#b"/></g><g id="b"><use href="#a"/></g>',
            '<use id="a" href="#a"/>',
        ],
    )
    def test_use_of_itself(self, tmp_path, body):
        assert all("contains itself" in text for text in problems(svg(tmp_path, body)))

    def test_uses_that_multiply(self, tmp_path, monkeypatch):
        monkeypatch.setattr(limits, "MOST_SHAPES", 1000)
        levels = "".join(f'<g id="g{n}">{f"""<use href="#g{n - 1}"/>""" * 9}</g>' for n in range(1, 12))
        (text,) = problems(svg(tmp_path, f'<defs><g id="g0"/>{levels}</defs><use href="#g11"/>'))
        assert "more than 1000 shapes" in text

    def test_groups_without_bounds(self, tmp_path):
        (text,) = problems(svg(tmp_path, "<g>" * 3000 + CIRCLE + "</g>" * 3000))
        assert "inside more than 64 groups" in text

    @pytest.mark.parametrize(
        "head",
        [
            'width="0mm" height="5mm"',
            'width="-5mm" height="5mm"',
            'width="5mm" viewBox="0 0 0 9"',
            'width="5mm" viewBox="0 0 9"',
            'width="5mm" viewBox="a"',
        ],
    )
    def test_page_without_size(self, tmp_path, head):
        assert len(problems(svg(tmp_path, CIRCLE, head=head))) == 1

    @given(st.integers(0, 2**32))
    @settings(max_examples=40, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
    def test_any_bytes_spoiled(self, tmp_path, seed):
        body = (
            f'<g transform="rotate(30)">{CIRCLE}<path d="M9 9c1 2 3 4 5 6a3 3 0 1 1 4 4z"/></g>'
            '<rect width="5%" height="2"/>'
        )
        rng, data = random.Random(seed), bytearray(svg(tmp_path, body).read_bytes())
        for _ in range(rng.randint(1, 6)):
            data[rng.randrange(150, len(data))] = rng.randrange(32, 127)
        try:
            read_outlines(written(tmp_path, bytes(data), "x.svg"))
        except InputError as error:
            assert error.problems  # noqa: PT017 - a spoiled file may still be read; it must not crash


class TestAnyFile:
    @pytest.mark.parametrize("name", ["x.dxf", "x.svg"])
    def test_empty(self, tmp_path, name):
        (text,) = problems(written(tmp_path, b"", name))
        assert "is empty" in text

    def test_missing(self, tmp_path):
        (text,) = problems(tmp_path / "nowhere.dxf")
        assert "there is no such file" in text

    def test_directory(self, tmp_path):
        (tmp_path / "folder.svg").mkdir()
        assert "this is a folder" in problems(tmp_path / "folder.svg")[0]

    def test_other_kind(self, tmp_path):
        (text,) = problems(written(tmp_path, b"x", "x.pdf"))
        assert "neither a .dxf nor a .svg" in text

    @pytest.mark.parametrize("name", ["x.dxf", "x.svg"])
    def test_too_large(self, tmp_path, monkeypatch, name):
        monkeypatch.setattr(outlines, "LARGEST_FILE", 1_000_000)
        (text,) = problems(written(tmp_path, b" " * 1_000_001, name))
        assert "larger than 1 MB" in text
