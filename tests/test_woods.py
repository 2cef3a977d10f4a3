"""Jobs of several woods: each part off boards of its own wood with its own cutters, one order and one account."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

import cutjob
from cutjob.errors import InputError
from cutjob.making import MakeResult, make_job
from cutjob.parts.part import Wood, kind_of_part
from cutjob.resolved import read_order, resolve
from tests.layout.judge import assert_sound

INCH = 25.4
HEAD = 'title = "Stands of three woods"\nunits = "mm"\nmachine = "bench-router"\n'
PICKET = '[[board]]\nname = "picket"\nlength = 800\nwidth = 140\nthickness = 16\ncount = 4\nprice = 3\n'
PLANK = '[[board]]\nname = "plank"\nlength = 700\nwidth = 180\nthickness = 30\ncount = 2\nprice = 6\n'
SHEET = (
    '[[board]]\nname = "sheet"\nlength = 600\nwidth = 300\nthickness = 6\nprice = 5\n'
    'material = "plywood"\ngrain = "none"\n'
)
PLATE = '[[make]]\nname = "{name}"\ndesign = "plate"\ncount = {count}\n{more}with = {{ length = 120, width = 60 }}\n'
STAND = (
    '[[make]]\nname = "stand"\ndesign = "footed-board"\ncount = 2\n{more}'
    "with = {{ length = 300, width = 100, screws = 0, feet_in = 40 }}\n"
)


def plate(name: str, *, count: int = 2, more: str = "") -> str:
    return PLATE.format(name=name, count=count, more=f"{more}\n" if more else "")


def stand(more: str = "") -> str:
    return STAND.format(more=f"{more}\n" if more else "")


def write(folder: Path, text: str, *, top: str = "") -> Path:
    job = folder / "spring.toml"
    job.write_text(HEAD + (f"{top}\n" if top else "") + text, encoding="utf-8")
    return job


def made(folder: Path, text: str, *, top: str = "", **options: Any) -> MakeResult:
    return make_job(write(folder, text, top=top), out=folder / "out", effort="quick", **options)


def said(folder: Path, text: str, *, top: str = "") -> list[str]:
    with pytest.raises(InputError) as refused:
        made(folder, text, top=top)
    assert not (folder / "out").exists()
    return [str(problem).replace(f"{folder}/", "") for problem in refused.value.problems]


def woods_of(result: MakeResult) -> dict[tuple[str, str], set[str]]:
    """The boards that the parts of each item and kind lie on."""
    found: dict[tuple[str, str], set[str]] = {}
    for board in result.layout.boards:
        for one in board.placements:
            found.setdefault((one.item, kind_of_part(one.part.name)), set()).add(board.board.name)
    return found


def test_a_part_without_its_number_is_a_kind_of_part() -> None:
    names = ["tier 3", "star lath 12", "board", "leg left", "3", "panel A2", "plate  7"]
    assert [kind_of_part(name) for name in names] == [
        "tier",
        "star lath",
        "board",
        "leg left",
        "3",
        "panel A2",
        "plate",
    ]


def test_a_wood_takes_boards_of_its_thickness_and_materials() -> None:
    wood = Wood(thickness=16.0, materials=("softwood",))
    assert wood.takes(thickness=16.0, material="softwood")
    assert not wood.takes(thickness=16.0, material="plywood")
    assert not wood.takes(thickness=16.5, material="softwood")
    assert Wood(thickness=16.0).takes(thickness=16.0, material="plywood")


def test_three_woods_in_one_order(tmp_path: Path) -> None:
    (tmp_path / "shop.toml").write_text("supply = []\n[material]\noffcut_value = 0\n", encoding="utf-8")
    result = made(
        tmp_path,
        plate("tag") + plate("sign", count=3, more='wood = "sheet"') + stand('wood = { foot = "plank" }') + PICKET
        + PLANK + SHEET,
    )  # fmt: skip
    assert result.proof.passed
    assert woods_of(result) == {
        ("tag", "plate"): {"picket"},
        ("sign", "plate"): {"sheet"},
        ("stand", "board"): {"picket"},
        ("stand", "foot"): {"plank"},
    }
    assert_sound(result.layout, result.items)
    # One account: the boards used, numbered through, with a program each, and every item with its share of the costs.
    assert [board.id for board in result.layout.boards] == ["board-01", "board-02", "board-03"]
    assert [board.copies for board in result.layout.boards] == [2, 1, 1]
    assert {program.board for program in result.programs} == {board.id for board in result.layout.boards}
    assert [(one.board.name, one.count) for one in result.job.boards_used] == [
        ("picket", 2),
        ("plank", 1),
        ("sheet", 1),
    ]
    assert result.job.account is not None
    assert float(result.job.account.batch("material")) == pytest.approx(2 * 3 + 6 + 5, abs=1e-6)
    assert [board["thickness"] for board in result.plan["boards"]] == [16, 6, 30]  # type: ignore[attr-defined]
    topics = [caution.topic for caution in result.job.cautions]
    assert "boards of several heights" in topics


def test_each_program_cuts_as_deep_as_its_board_is_thick(tmp_path: Path) -> None:
    """Read from the files: the lowest Z is the board's thickness and the profile's overcut of 0.3 mm."""
    text = plate("tag") + plate("sign", more='wood = "sheet"') + PICKET + SHEET
    result = made(tmp_path, text, top='board_held_by = "tape"')
    for board, thick in zip(result.layout.boards, (16.0, 6.0), strict=True):
        (program,) = result.job.programs_of(board)
        lines = result.files[program.file].decode().splitlines()
        words = [word for line in lines if not line.startswith("(") for word in line.split() if word.startswith("Z")]
        assert min(float(word[1:]) for word in words) == pytest.approx(-thick - 0.3, abs=1e-4)


def test_dados_are_as_wide_as_the_wood_of_the_feet(tmp_path: Path) -> None:
    _, items = read_order(write(tmp_path, stand('wood = { foot = "plank" }') + PICKET + PLANK))
    (board, *feet) = items[0].build.shaped
    x0, _, x1, _ = board.pockets[0].region.bounds
    assert x1 - x0 == pytest.approx(30 + 0.2)  # the plank and the play
    assert {foot.wood for foot in feet} == {Wood(thickness=30.0, materials=("softwood",))}
    assert board.wood == Wood(thickness=16.0, materials=("softwood",))


def test_a_base_is_sawn_off_its_own_wood_even_if_no_cutter_goes_through_it(tmp_path: Path) -> None:
    beam = PLANK.replace("thickness = 30", "thickness = 60")
    stack = (
        '[[make]]\nname = "spinner"\ndesign = "graded-stack"\nsize = "small"\nwood = { base = "plank" }\n'
        "with = { tiers = 3, longest = 200, shortest = 100, base = [70] }\n"
    )
    result = made(tmp_path, stack + PICKET + beam)
    assert result.proof.passed
    assert [(piece.board, piece.thickness) for piece in result.layout.sawn] == [("plank", 60)]
    # The rod is longer by what the base is thicker.
    thin = made(tmp_path, stack.replace('wood = { base = "plank" }\n', "") + PICKET)
    assert result.items[0].build.rods[0].length - thin.items[0].build.rods[0].length == pytest.approx(60 - 16)


def test_each_wood_has_the_cutters_it_needs(tmp_path: Path) -> None:
    """No cutter but the long one reaches through the plank; a wider one is enough for the sheet."""
    resolved = resolve(
        *read_order(write(tmp_path, plate("tag", more='wood = "plank"') + plate("sign") + PLANK + SHEET))
    )
    thick, thin = resolved.woods
    assert thick.boards[0].thickness == 30.0
    assert thick.cutters.outline.cutting_length > 30.3 > thin.cutters.outline.cutting_length
    assert (thick.gap, thin.gap) == (
        thick.cutters.outline.diameter + resolved.machine.cutting.web,
        thin.cutters.outline.diameter + resolved.machine.cutting.web,
    )


def test_a_stack_is_of_one_thickness_and_as_high_as_cutters_reach(tmp_path: Path) -> None:
    text = plate("tag", count=12, more='wood = "plank"') + plate("sign", count=20) + PLANK + PICKET
    result = made(tmp_path, text, top='stack = 2\nboard_held_by = "tape"\nbetween_boards = "tape"')
    assert result.proof.passed
    assert {(board.board.name, board.stack) for board in result.layout.boards} == {("plank", 1), ("picket", 2)}
    assert any("boards 30 mm thick are cut one at a time, not 2 at once" in one for one in result.job.warnings)


def test_parts_with_pockets_are_cut_singly_where_others_are_stacked(tmp_path: Path) -> None:
    """The dados of the stands would reach only the top board of a stack."""
    text = plate("tag", count=20) + stand('wood = { foot = "plank" }') + PICKET + PLANK
    result = made(tmp_path, text, top='stack = 2\nboard_held_by = "tape"\nbetween_boards = "tape"')
    assert result.proof.passed
    for board in result.layout.boards:
        if any(one.part.name == "board" for one in board.placements):
            assert board.stack == 1


def test_materials_of_one_thickness_are_kept_apart(tmp_path: Path) -> None:
    oak = PICKET.replace('"picket"', '"oak"').replace("price = 3", 'price = 1\nmaterial = "hardwood"')
    result = made(tmp_path, plate("tag", count=4) + plate("sign", count=4, more='wood = "oak"') + PICKET + oak)
    assert woods_of(result) == {("tag", "plate"): {"picket"}, ("sign", "plate"): {"oak"}}


def test_offcuts_of_the_wood_are_used_first(tmp_path: Path) -> None:
    """The name of a board stands for its wood: what is left of it in stock is used too."""
    shed = (
        'units = "mm"\n[[board]]\nname = "offcut of plank"\nlength = 400\nwidth = 180\nthickness = 30\nprice = 0\n'
        '[[board]]\nname = "thick oak"\nlength = 400\nwidth = 180\nthickness = 30\nmaterial = "hardwood"\n'
    )
    (tmp_path / "shed.toml").write_text(shed, encoding="utf-8")
    text = plate("tag") + plate("sign", more='wood = "plank"') + PICKET + PLANK
    result = made(tmp_path, text, top='stock = "shed.toml"')
    assert woods_of(result)["sign", "plate"] == {"offcut of plank"}
    assert [(one.board, one.why) for one in result.job.left_aside] == [("thick oak", "30 mm thick")]
    # A board in stock can be named too.
    named = made(tmp_path, plate("sign", more='wood = "thick oak"') + plate("tag") + PICKET, top='stock = "shed.toml"')
    assert woods_of(named)["sign", "plate"] == {"thick oak"}


DESIGN = """\
units = "mm"
summary = "a shelf with a back"
[size.medium]
[[part]]
name = "shelf"
rectangle = { length = 200, width = 100 }
[[part]]
name = "back"
thickness = 6
material = "plywood"
rectangle = { length = 200, width = 80 }
pocket = [{ rectangle = { length = 20, width = 20 }, depth = "thickness / 2" }]
"""
SHELF = '[[make]]\nname = "shelf"\ndesign = "./shelf.toml"\n'


@pytest.mark.parametrize("boards", [PICKET + SHEET, SHEET + PICKET])
def test_a_design_says_what_its_parts_are_cut_from(tmp_path: Path, boards: str) -> None:
    """Whichever board comes first: the one that the design asks for is not the job's wood."""
    (tmp_path / "shelf.toml").write_text(DESIGN, encoding="utf-8")
    result = made(tmp_path, SHELF + boards)
    assert result.proof.passed
    assert woods_of(result) == {("shelf", "shelf"): {"picket"}, ("shelf", "back"): {"sheet"}}
    back = result.items[0].build.shaped[1]
    assert back.pockets[0].depth == pytest.approx(3.0)


def test_what_the_job_says_comes_before_the_design(tmp_path: Path) -> None:
    (tmp_path / "shelf.toml").write_text(DESIGN, encoding="utf-8")
    result = made(tmp_path, SHELF + 'wood = { back = "picket" }\n' + PICKET)
    assert woods_of(result) == {("shelf", "shelf"): {"picket"}, ("shelf", "back"): {"picket"}}
    assert result.items[0].build.shaped[1].pockets[0].depth == pytest.approx(8.0)


def test_a_material_without_a_thickness_takes_the_job_s_only_board_of_it(tmp_path: Path) -> None:
    (tmp_path / "shelf.toml").write_text(DESIGN.replace("thickness = 6\n", ""), encoding="utf-8")
    result = made(tmp_path, SHELF + PICKET + SHEET)
    assert woods_of(result)["shelf", "back"] == {"sheet"}


def test_a_part_whose_wood_the_job_does_not_have_is_named_with_what_would_do(tmp_path: Path) -> None:
    (tmp_path / "shelf.toml").write_text(DESIGN, encoding="utf-8")
    (line,) = said(tmp_path, SHELF + PICKET)
    assert line == (
        'spring.toml:4: item "shelf": part "back" is cut from plywood 6 mm thick; the job has only 16 mm softwood; add '
        'such a [[board]], or name one of the job\'s boards for it: wood = { "back" = "picket" }'
    )


@pytest.mark.parametrize(
    ("more", "place", "words"),
    [
        ('wood = "plonk"', 'make "stand": wood', 'there is no board "plonk"; did you mean "plank"?'),
        (
            'wood = { foot = "beam" }',
            'make "stand": wood: foot',
            'there is no board "beam"; take one of picket, plank, sheet',
        ),
        ('wood = { feet = "plank" }', 'make "stand": wood: feet', 'it has no part "feet"; its parts are board, foot'),
        (
            'together = true\nwood = { foot = "plank" }',
            'item "stand": together',
            "its parts are cut from different woods, so they can't lie on one board; leave it out",
        ),
    ],
)
def test_a_wood_that_can_not_be(tmp_path: Path, more: str, place: str, words: str) -> None:
    line = said(tmp_path, stand(more) + plate("tag", more='wood = "plank"') + plate("sign", more='wood = "sheet"')
                + PICKET + PLANK + SHEET)[0]  # fmt: skip
    where, _, message = line.partition(": ")
    assert where.startswith("spring.toml:")
    assert message == f"{place}: {words}"


def test_a_sawn_part_off_a_board_of_another_wood(tmp_path: Path) -> None:
    text = stand('wood = { foot = "plank" }\nsawn_from = "picket"').replace("screws = 0", 'screws = 0, feet = "sawn"')
    (line,) = said(tmp_path, text + PICKET + PLANK)
    assert 'item "stand": sawn_from: part "foot 1" is of another wood than board "picket"' in line


def test_the_board_that_parts_are_sawn_off_says_their_wood(tmp_path: Path) -> None:
    text = stand('sawn_from = "plank"').replace("screws = 0", 'screws = 0, feet = "sawn"')
    result = made(tmp_path, text + PICKET + PLANK)
    assert {piece.board for piece in result.layout.sawn} == {"plank"}
    x0, _, x1, _ = result.items[0].build.shaped[0].pockets[0].region.bounds
    assert x1 - x0 == pytest.approx(30 + 0.2)


def test_parts_that_say_nothing_about_two_thicknesses_are_refused(tmp_path: Path) -> None:
    (line,) = said(tmp_path, plate("tag") + PICKET + PLANK)
    assert line == (
        'spring.toml:20: board "plank": thickness: differs from that of board "picket", and "tag" does not say which '
        'of them its parts are cut from; add wood = "plank" to the [[make]] of what is cut from it, or for one part '
        'wood = { "plate" = "plank" }; or leave the board out'
    )


def test_a_board_that_nothing_is_cut_from_is_reported(tmp_path: Path) -> None:
    result = made(tmp_path, plate("tag") + PICKET + PLANK, top="thickness = 16")
    assert [one for one in result.job.warnings if "not used" in one] == [
        'board "plank" is not used: no part is cut from softwood 30 mm thick; name it in a [[make]] with wood = '
        '"plank", or leave it out'
    ]
    assert [board.name for board in result.job.stock] == ["picket"]


def test_a_thickness_that_no_cutter_reaches(tmp_path: Path) -> None:
    beam = PLANK.replace("thickness = 30", "thickness = 60")
    (line,) = said(tmp_path, plate("tag") + plate("sign", more='wood = "plank"') + PICKET + beam)
    assert line.startswith(
        'spring.toml:26: board "plank": thickness: 60 mm thick is more than any cutter of bench router'
    )


def test_the_same_job_gives_the_same_bytes(tmp_path: Path) -> None:
    text = plate("tag") + plate("sign", more='wood = "sheet"') + PICKET + SHEET
    assert made(tmp_path, text).files == made(tmp_path, text).files


def test_the_stages_one_by_one(tmp_path: Path) -> None:
    from cutjob.laying_out import cut_wood, held_job, lay_out_held, lay_out_wood

    resolved = cutjob.read(write(tmp_path, plate("tag") + plate("sign", more='wood = "sheet"') + PICKET + SHEET))
    woods = []
    for number, wood in enumerate(resolved.woods, start=1):
        held = lay_out_held(
            wood,
            lay_out=lambda more=None, effort=None, again=0, share=1.0, wood=wood, number=number: lay_out_wood(  # type: ignore[misc]
                wood, seed=again, effort="quick", more=more, first=number
            ),
            cut=lambda layout, by, wood=wood: cut_wood(wood, layout, by=by),  # type: ignore[misc]
            effort="quick",
        )
        woods.append((wood, held))
    whole = held_job(woods)
    assert [board.layout.id for board in whole.boards] == ["board-01", "board-02"]
    assert whole.as_cut.boards == tuple(board.layout for board in whole.boards)
