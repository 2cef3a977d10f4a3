from __future__ import annotations

from pathlib import Path

import pytest

from cutjob.errors import InputError
from cutjob.geometry.contour import Region, rectangle
from cutjob.job.finish import coat_of, finish_of, shows_grain, unknown_parts, wood_tone
from cutjob.parts.finish import PartFinish
from cutjob.parts.part import Build, RodPart, SawnPart, ShapedPart
from cutjob.resolved import read_order, resolve

SLAT = Region(rectangle(300.0, 20.0))
BUILD = Build(
    shaped=(
        ShapedPart(name="piece 1", region=SLAT),
        ShapedPart(name="piece 2", region=SLAT),
        ShapedPart(name="topper", region=SLAT, grain="none"),
    ),
    sawn=(SawnPart(name="base", length=100.0),),
    rods=(RodPart(name="centre rod", diameter=10.0, length=400.0),),
)
WHITE, NAVY, OIL = coat_of("white"), coat_of("navy"), coat_of("oil")


def test_colours_are_those_of_css_and_a_clear_finish_lets_the_wood_show() -> None:
    """Three of CSS Color Module Level 4, 6.1; 148 names in all."""
    assert coat_of("RebeccaPurple").colour == (102, 51, 153)
    assert coat_of("darkslategrey").colour == (47, 79, 79)
    assert coat_of(" #0a0B0c").colour == (10, 11, 12)
    assert NAVY.on((200, 150, 100)) == (0, 0, 128)
    assert OIL.clear
    darker = OIL.on((200, 150, 100))
    assert all(after < before for after, before in zip(darker, (200, 150, 100), strict=True))
    with pytest.raises(KeyError):
        coat_of("whte")


def test_wood_has_the_tone_of_the_first_word_known_else_of_its_material() -> None:
    assert wood_tone("western Cedar picket", "softwood") == wood_tone("cedar", "")
    assert wood_tone("board", "softwood") != wood_tone("board", "mdf")
    assert wood_tone("?", "who knows") == wood_tone("", "other")
    assert shows_grain("plywood")
    assert not shows_grain("mdf")


def test_a_name_alone_is_for_the_whole_piece() -> None:
    found = dict(finish_of("white", BUILD))
    assert found["piece 1"] == PartFinish(faces=WHITE, edges=WHITE, ends=WHITE)
    assert found["topper"] == PartFinish(faces=WHITE, edges=WHITE)  # its grain may lie any way: it has no ends
    assert found["centre rod"] == PartFinish(faces=WHITE, ends=WHITE)


def test_the_more_exact_name_counts() -> None:
    wanted = {
        "faces": "oil",
        "ends": "white",
        "piece": {"edges": "navy"},
        "piece 2": "navy",
        "base": {"faces": "white"},
    }
    found = dict(finish_of(wanted, BUILD))
    assert found["piece 1"] == PartFinish(faces=OIL, edges=NAVY, ends=NAVY)  # ends go with the edges of the same entry
    assert found["piece 2"] == PartFinish(faces=NAVY, edges=NAVY, ends=NAVY)
    assert found["base"] == PartFinish(faces=WHITE, ends=WHITE)
    assert found["topper"] == PartFinish(faces=OIL)
    assert found["centre rod"] == PartFinish(ends=WHITE)  # faces are those of boards


def test_what_the_item_lacks_is_reported_with_what_it_has() -> None:
    wanted = {"nose": "white", "topper": {"ends": "white"}, "piece": "white"}
    found = list(unknown_parts(wanted, BUILD))
    assert [path for path, _, _ in found] == [("nose",), ("topper", "ends")]
    assert "piece, topper, base, centre rod" in found[0][2]
    assert "faces or edges" in found[1][2]


JOB = """units = "mm"
machine = "bench-router"

[[make]]
name = "star"
design = "star"
{finish}

[[board]]
name = "picket"
length = 900
width = 140
thickness = 16
"""


@pytest.mark.parametrize(
    ("finish", "said"),
    [
        ('finish = "whte"', 'job.toml:7: make "star": finish: "whte" is no colour or finish; did you mean "white"?'),
        ("finish = 3", "3 is no finish; write finish ="),
        ("finish = {}", "a table is no finish"),
        ('finish = { star = "#12" }', '"#12" is no colour or finish; write the name of a CSS colour'),
        ('finish = { star = { egdes = "white" } }', 'a part has no surface "egdes"; did you mean "edges"?'),
        ('finish = { ends = { star = "white" } }', 'a table is no coat; write ends = "white"'),
        ('finish = { stra = "white" }', 'it has no part "stra"; did you mean "star"?'),
        ('finish = "white"\ncoats = 0', "a finish needs at least one coat"),
    ],
)
def test_a_mistake_has_its_line_and_what_to_do(tmp_path: Path, finish: str, said: str) -> None:
    path = tmp_path / "job.toml"
    path.write_text(JOB.format(finish=finish), encoding="utf-8")
    with pytest.raises(InputError) as error:
        resolve(*read_order(path))
    [problem] = error.value.problems
    assert said in str(problem)
    assert problem.location is not None
    assert problem.location.line in (7, 8)
