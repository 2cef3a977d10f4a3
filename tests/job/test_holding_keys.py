"""What a job may ask for of holding, on which machine: every key that would do nothing is refused with its line."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from cutjob.errors import InputError
from cutjob.files.file_bytes import shipped_files
from cutjob.job.holding_keys import held_machine
from cutjob.making import make_job
from cutjob.resolved import read_order

# The keys at the top stand in lines 3 and 4, `tabs` of the order in line 10.
JOB = """\
units = "mm"
machine = "{machine}"
{first}
{second}
[[make]]
name = "bean-row marker"
design = "round"
count = 2
with = {{ diameter = 80, hole = 0 }}
{tabs}
[[board]]
name = "larch"
length = 400
width = 200
thickness = 10
material = "{material}"
count = 4
"""
STICKS = """\
units = "mm"
machine = "bench-router"
{first}
[[make]]
name = "hanger"
design = "bundle"
size = "small"
with = {{ of = "strips", star_tips = 0, width = 20, strip = 8 }}
[[strip]]
name = "batten"
width = 20
thickness = 8
length = 2000
"""
BY_HAND = 'tabs = { "round" = [[40, 0], [0, 40], [-40, 0]] }'
TABLE = re.compile(r"\n\[(tabs|screws)\]\n(?:[^\[\n].*\n)*")
LASER_TABS = "\n[tabs]\nwidth = 0.5\nheight = 1\n"


def write(folder: Path, *keys: str, machine: str = "bench-router", tabs: str = "", without: str = "") -> Path:
    """A job with keys at its top; `machine` is a shipped profile, `without` a table taken out of it first."""
    name, material = machine, "plywood" if "laser" in machine else "softwood"
    text = shipped_files("machines")[machine.removesuffix(" with tabs")].read_text(encoding="utf-8")
    own = TABLE.sub(lambda found: "\n" if found[1] == without else found[0], text)
    own += LASER_TABS if machine.endswith(" with tabs") else ""
    if own != text:
        name = "./own.toml"
        # Tables of the file's own come before its cutters.
        head, cutter, cutters = own.removesuffix(LASER_TABS).partition("\n[[cutter]]")
        tables = head + (LASER_TABS if machine.endswith(" with tabs") else "")
        (folder / "own.toml").write_text(tables + cutter + cutters, encoding="utf-8")
    first, second = (*keys, "", "")[:2]
    job = folder / "spring.toml"
    thin = JOB.replace("thickness = 10", "thickness = 3") if "laser" in machine else JOB
    job.write_text(
        thin.format(machine=name, first=first, second=second, tabs=tabs, material=material), encoding="utf-8"
    )
    return job


def problems(job: Path) -> list[str]:
    return [str(problem).removeprefix(f"{job.parent}/") for problem in held_machine(*read_order(job))[2]]


ROUTER, SERVICE, LASER, SAW = "bench-router", "laser-service", "bench-laser", "bandsaw"
TABS, SKIN = 'parts_held_by = "tabs"', 'parts_held_by = "skin"'
CLAMPS, SCREWS = 'board_held_by = "clamps"', 'board_held_by = "screws"'
TAPE, VACUUM = 'board_held_by = "tape"', 'board_held_by = "vacuum"'
BETWEEN = 'between_boards = "tape"'


@pytest.mark.parametrize("machine", [SERVICE, SAW])
@pytest.mark.parametrize("key", [TABS, SKIN, CLAMPS, SCREWS, TAPE, VACUUM, BETWEEN])
def test_nothing_is_held_where_no_program_runs(tmp_path: Path, machine: str, key: str) -> None:
    (said,) = problems(write(tmp_path, key, machine=machine))
    why = "takes drawings only, and the person who cuts holds the work" if machine == SERVICE else "sawn by hand"
    assert said.startswith(f"spring.toml:3: {key.split()[0]}: does nothing here: ")
    assert why in said
    assert said.endswith("; leave it out")


@pytest.mark.parametrize("machine", [SERVICE, SAW])
def test_tabs_by_hand_where_no_program_runs(tmp_path: Path, machine: str) -> None:
    (said,) = problems(write(tmp_path, machine=machine, tabs=BY_HAND))
    assert said.startswith('spring.toml:10: make "bean-row marker": tabs: do nothing here: ')


def test_a_job_without_parts_to_cut_out_holds_nothing(tmp_path: Path) -> None:
    job = tmp_path / "rods.toml"
    job.write_text(STICKS.format(first=TAPE), encoding="utf-8")
    (said,) = problems(job)
    assert (
        said == "rods.toml:3: board_held_by: does nothing here: no part of this job is cut out of a board; leave it out"
    )
    job.write_text(STICKS.format(first=""), encoding="utf-8")
    assert problems(job) == []


@pytest.mark.parametrize(
    ("keys", "line", "said"),
    [
        ((CLAMPS,), 3, "board_held_by: does nothing here: a board lies on a laser's bed; leave it out"),
        ((TABS, VACUUM), 4, "board_held_by: does nothing here: a board lies on a laser's bed; leave it out"),
        (("stack = 2", BETWEEN), 4, "between_boards: does nothing here: a beam does not push boards apart"),
        ((SKIN,), 3, 'parts_held_by: a beam leaves no skin; take "tabs", or leave it out'),
    ],
)
def test_a_laser(tmp_path: Path, keys: tuple[str, ...], line: int, said: str) -> None:
    thin = write(tmp_path, *keys, machine="bench-laser with tabs")
    if "stack = 2" in keys:
        thin.write_text(thin.read_text(encoding="utf-8").replace("thickness = 3", "thickness = 1"), encoding="utf-8")
    (found,) = problems(thin)
    assert found.startswith(f"spring.toml:{line}: {said}")


def test_a_laser_has_tabs_where_its_profile_has_them(tmp_path: Path) -> None:
    assert problems(write(tmp_path, TABS, machine="bench-laser with tabs", tabs=BY_HAND)) == []
    (said,) = problems(write(tmp_path, TABS, machine=LASER, tabs=BY_HAND))
    assert (
        said
        == 'spring.toml:3: parts_held_by: the profile "bench laser" has no [tabs]; add [tabs] to it, or leave this out'
    )
    (said,) = problems(write(tmp_path, machine=LASER, tabs=BY_HAND))
    assert said.startswith('spring.toml:10: make "bean-row marker": tabs: the profile "bench laser" has no [tabs]')
    assert problems(write(tmp_path, machine=LASER)) == []


@pytest.mark.parametrize(
    ("keys", "tabs", "line", "said"),
    [
        (
            (BETWEEN,),
            "",
            3,
            "between_boards: does nothing here: boards are cut one at a time; leave it out, or",
        ),
        (
            (TABS, TAPE),
            "",
            3,
            'parts_held_by: "tabs" does nothing with board_held_by = "tape", which holds the parts too',
        ),
        ((TABS, VACUUM), "", 3, 'parts_held_by: "tabs" does nothing with board_held_by = "vacuum", which holds the'),
        ((TAPE,), BY_HAND, 10, 'make "bean-row marker": tabs: do nothing with board_held_by = "tape", which holds'),
        ((VACUUM,), BY_HAND, 10, 'make "bean-row marker": tabs: do nothing with board_held_by = "vacuum", which holds'),
        ((SKIN,), BY_HAND, 10, 'make "bean-row marker": tabs: do nothing with parts_held_by = "skin"; leave them out'),
        (
            ("stack = 2", TAPE),
            "",
            4,
            "board_held_by: tape under a stack holds its lowest board only; add between_",
        ),
        (("stack = 2", VACUUM), "", 4, "board_held_by: vacuum under a stack holds its lowest board only; add between_"),
        (
            ("stack = 2", SKIN),
            "",
            4,
            "parts_held_by: a skin only holds the lowest board of a stack; the",
        ),
    ],
)
def test_a_router(tmp_path: Path, keys: tuple[str, ...], tabs: str, line: int, said: str) -> None:
    (found,) = problems(write(tmp_path, *keys, tabs=tabs))
    assert found.startswith(f"spring.toml:{line}: {said}")


@pytest.mark.parametrize(
    ("keys", "line", "key"),
    [
        ((), 2, "machine"),
        ((TABS,), 3, "parts_held_by"),
        ((CLAMPS,), 3, "board_held_by"),
        ((SCREWS,), 3, "board_held_by"),
    ],
)
def test_a_router_without_tabs_needs_something_else(tmp_path: Path, keys: tuple[str, ...], line: int, key: str) -> None:
    (said,) = problems(write(tmp_path, *keys, without="tabs"))
    assert said == (
        f'spring.toml:{line}: {key}: the profile "bench router" has no [tabs], so nothing holds the parts; '
        'add [tabs] to it, or set parts_held_by = "skin", or board_held_by = "tape" or "vacuum"'
    )


@pytest.mark.parametrize("keys", [(SKIN,), (TAPE,), (VACUUM,), (SCREWS, SKIN)])
def test_what_a_router_without_tabs_may_do(tmp_path: Path, keys: tuple[str, ...]) -> None:
    assert problems(write(tmp_path, *keys, without="tabs")) == []


def test_screws_the_profile_does_not_know(tmp_path: Path) -> None:
    (said,) = problems(write(tmp_path, SCREWS, without="screws"))
    assert said.startswith('spring.toml:3: board_held_by: the profile "bench router" has no [screws]; add ')


def test_a_skin_the_profile_does_not_know(tmp_path: Path) -> None:
    job = write(tmp_path, SKIN, without="tabs")
    own = tmp_path / "own.toml"
    own.write_text(own.read_text(encoding="utf-8").replace("skin = 0.4", "skin = 0"), encoding="utf-8")
    (said,) = problems(job)
    assert said.startswith('spring.toml:3: parts_held_by: the profile "bench router" has no thickness for a skin; add ')


@pytest.mark.parametrize("way", ["tape", "vacuum"])
def test_what_was_said_of_parts_is_said_of_the_board(tmp_path: Path, way: str) -> None:
    with pytest.raises(InputError) as refused:
        read_order(write(tmp_path, f'parts_held_by = "{way}"'))
    (problem,) = refused.value.problems
    assert str(problem).endswith(
        f'spring.toml:3: parts_held_by: "{way}" holds a board with its parts; write board_held_by = "{way}" instead'
    )


@pytest.mark.parametrize(
    "keys", [(), (TABS,), (TABS, CLAMPS), (TABS, SCREWS), (SKIN,), (SKIN, TAPE), (TAPE,), (VACUUM,), (SCREWS,)]
)
@pytest.mark.parametrize("stack", [1, 2])
def test_what_is_not_refused(tmp_path: Path, keys: tuple[str, ...], stack: int) -> None:
    job = write(tmp_path, *keys)
    if stack > 1:
        text = job.read_text(encoding="utf-8")
        job.write_text(f"stack = {stack}\n{BETWEEN}\n{text}", encoding="utf-8")
    assert problems(job) == []


@pytest.mark.parametrize(
    ("key", "skin", "tabs"), [(TABS, 0.0, True), (SKIN, 0.4, False), (TAPE, 0.0, False), (VACUUM, 0.0, False)]
)
def test_what_holds_the_parts(tmp_path: Path, key: str, skin: float, tabs: bool) -> None:
    job = write(tmp_path, key)
    machine, _, wrong = held_machine(*read_order(job))
    assert wrong == ()
    assert (machine.skin, machine.tabs is not None) == (skin, tabs)
    result = make_job(job, out=tmp_path / "out", effort="quick")
    assert result.proof.passed, result.proof.findings
    (program,) = result.programs
    assert (program.skin, len(program.tabs) > 0) == (skin, tabs)
    assert program.depth == pytest.approx(10 - skin if skin else 10.3)


def test_a_skin_thinner_than_a_board_may_be_off_is_warned_of_once(tmp_path: Path) -> None:
    result = make_job(write(tmp_path, SKIN), out=tmp_path / "out", effort="quick")
    (said,) = [warning for warning in result.plan["warnings"] if "skin" in warning]
    assert said.startswith("a skin of 0.4 mm holds the parts, but a board may be 1.5 mm thicker or thinner than stated")
    job = write(tmp_path, SKIN, without="tabs")
    own = tmp_path / "own.toml"
    own.write_text(own.read_text(encoding="utf-8").replace("skin = 0.4", "skin = 1.5"), encoding="utf-8")
    assert held_machine(*read_order(job))[1] == ()
    assert held_machine(*read_order(write(tmp_path, TABS)))[1] == ()


def test_a_run_is_refused_with_its_line(tmp_path: Path) -> None:
    job = write(tmp_path, SKIN, BETWEEN, tabs=BY_HAND)
    with pytest.raises(InputError) as refused:
        make_job(job, out=tmp_path / "out", effort="quick")
    lines = [problem.location.line for problem in refused.value.problems if problem.location]
    assert sorted(line for line in lines if line) == [4, 10]
    assert not (tmp_path / "out").exists()
