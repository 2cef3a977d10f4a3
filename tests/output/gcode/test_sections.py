"""Files of several sections: changes of cutter, halts for work by hand, and what is known of the tool after them."""

from dataclasses import replace

import pytest

from cutjob.cuts.cut import Feature
from cutjob.output.gcode.write import write_gcode
from cutjob.program.moves import Step
from tests.output.gcode.test_write import code_of, header, lines_of
from tests.output.reading import read
from tests.output.samples import (
    DRIVE,
    changer,
    hole_moves,
    layout,
    long_layout,
    long_programs,
    machine,
    program,
    section,
)

TABLE = {"tool_change": "changer", "tool_length": "table", "after_change": ["M8"]}


def gcode(programs, number=1, *, profile, board=None, title="Spring market", order="board 1 of 2"):
    return write_gcode(
        programs[number - 1],
        layout=board or long_layout(),
        machine=profile,
        title=title,
        order=order,
        programs=programs,
    )


def test_every_change_is_lift_stop_change_length_lines_lift_start_and_wait():
    profile = changer(controller=TABLE)
    code = code_of(gcode(long_programs(profile=profile), profile=profile))
    assert [line for line in code if line.startswith("T")] == ["T7 M6", "T5 M6", "T2 M6"]
    first = code.index("T7 M6")
    assert code[first : first + 6] == ["T7 M6", "G43 H7", "M8", "G0 Z32", "S9000 M3", "G4 P3"]
    for before, after in ((["G0 Z32", "M5", "M0"], "T5 M6"), (["G0 Z32", "M5"], "T2 M6")):
        change = code.index(after)
        assert code[change - len(before) : change] == before
        number, speed = after[1], {"5": 18000, "2": 16000}[after[1]]
        expected = [f"G43 H{number}", "M8", "G0 Z32", f"S{speed} M3", "G4 P3"]
        assert code[change + 1 : change + 6] == expected
    assert code[-3:] == ["G0 Z32", "M5", "M2"]


def test_nothing_is_taken_for_known_after_a_change_or_a_halt():
    """A reader that forgets X, Y and Z at every M6 and M0 finds them all again before anything is crossed or cut."""
    profile = changer(controller=TABLE)
    for pins in (True, False):
        programs = long_programs(profile=profile, pins=pins)
        for number in (1, 2, 3):
            data = gcode(programs, number, profile=profile, board=long_layout(pins=pins))
            made = read(data)  # asserts it
            assert made.events.count("M0") == 1
            cuts = [point for point in made.path if point[3] is not None and point[3] < 0]
            assert cuts
            assert all(point[6] == "M3" and point[4] > 0 for point in cuts)
            # Each section begins with its own feed: nobody knows what was set at the machine meanwhile.
            for part in data.decode().split("M6\n")[1:]:
                first = next(line for line in part.split("\n") if line.startswith(("G1", "G2", "G3")))
                assert "F" in first


def test_the_halt_says_what_to_do_right_before_it():
    profile = changer()
    lines = lines_of(gcode(long_programs(profile=profile), profile=profile))
    halt = lines.index("M0")
    assert (lines[halt - 3], lines[halt + 1]) == ("M5", "T5 M6")
    assert " ".join(line[1:-1].removeprefix(".. ") for line in lines[halt - 2 : halt]) == f"Stop: {DRIVE}"
    silent = changer(controller={"tool_change": "changer", "comments": "none"})
    assert "M0" in lines_of(gcode(long_programs(profile=silent), profile=silent))


def test_without_a_table_of_lengths_every_change_but_the_first_halts_for_z():
    profile = changer()
    data = gcode(long_programs(profile=profile), profile=profile)
    lines = lines_of(data)
    code = [line for line in lines if not line.startswith("(")]
    assert code[code.index("T7 M6") + 1] != "M0"
    for number in (5, 2):
        change = lines.index(f"T{number} M6")
        assert lines[change + 1 : change + 4] == [f"(Stop: set Z again with cutter {number})", "M0", "G0 Z32"]
    told = [line for line in header(data) if line.startswith("Cutter change:")]
    assert told == [
        "Cutter change: this file sets no tool length. It halts after every change for you to set Z again with the "
        "new cutter. Set Z with cutter 7 before the start"
    ]
    own = changer(controller={"tool_change": "changer", "after_change": ["M5", "M0"]})
    lines = lines_of(gcode(long_programs(profile=own), profile=own))
    change = lines.index("T5 M6")
    assert lines[change + 1 : change + 4] == ["M5", "M0", "G0 Z32"]


def test_a_halt_with_the_same_cutter_needs_no_change():
    drill = section(
        machine().cutter[0],
        Step(op="drill", placement=None, feature=Feature(kind="screw hole"), moves=hole_moves(300, 20)),
    )
    rest = replace(program().sections[0], screws_first=True)
    code = code_of(gcode([replace(program(), sections=(drill, rest))], profile=machine(), board=layout()))
    halt = code.index("M0")
    assert code[halt - 2 : halt + 4] == ["G0 Z5", "M5", "M0", "G0 Z5", "S16000 M3", "G4 P3"]
    assert not any("M6" in line for line in code)


def test_sections_that_run_on_are_not_halted():
    first, second = program().steps
    one = program().sections[0]
    split = replace(program(), sections=(replace(one, steps=(first,)), replace(one, steps=(second,))))
    assert code_of(gcode([split], profile=machine(), board=layout())) == code_of(
        gcode([program()], profile=machine(), board=layout())
    )


def test_another_speed_is_another_start():
    profile = machine()
    first, second = program().steps
    one = program().sections[0]
    split = replace(program(), sections=(replace(one, steps=(first,)), replace(one, steps=(second,), rpm=12000.0)))
    code = code_of(gcode([split], profile=profile, board=layout()))
    start = code.index("S12000 M3")
    assert code[start - 2 : start + 2] == ["G0 Z5", "M5", "S12000 M3", "G4 P3"]


def test_a_dial_is_set_with_the_program_halted():
    profile = changer(spindle={"speed_word": False})
    programs = long_programs(profile=profile)
    lines = lines_of(gcode(programs, profile=profile))
    dials = [line for line in lines if "set the dial" in line and line.startswith("(Stop")]
    assert dials == [
        "(Stop: set the dial to 18000 rpm for cutter 5)",
        "(Stop: set the dial to 16000 rpm for cutter 2)",
    ]
    for line in dials:
        assert lines[lines.index(line) + 1 : lines.index(line) + 3] == ["(Then switch the router on again)", "M0"]
    told = [line for line in header(gcode(programs, profile=profile)) if line.startswith("Spindle:")]
    assert told[0] == "Spindle: set the dial to 9000 rpm for cutter 7 before the start, clockwise"
    assert told[1] == "Spindle: set the dial to 18000 rpm for cutter 5 when the program halts for it, clockwise"


def test_by_hand_a_file_has_one_cutter():
    by_hand = changer(controller={"tool_change": "by hand"})
    with pytest.raises(ValueError, match="can't change"):
        gcode(long_programs(profile=by_hand), profile=by_hand)


def test_a_file_that_is_not_the_one_its_number_says():
    profile = changer()
    programs = long_programs(profile=profile)
    with pytest.raises(ValueError, match="is not file 2 of the 1"):
        write_gcode(programs[1], layout=long_layout(), machine=profile, title="", order="")
    with pytest.raises(ValueError, match="is not file 2"):
        write_gcode(
            programs[1], layout=long_layout(), machine=profile, title="", order="", programs=[*programs[:1]] * 3
        )


@pytest.mark.parametrize("longest", [36, 70])
def test_texts_of_a_halt_are_wrapped_and_plain(longest):
    profile = changer(controller={"tool_change": "changer", "longest_line": longest})
    lines = lines_of(gcode(long_programs(profile=profile), profile=profile, title=")(%;\n"))
    assert max(map(len, lines)) <= longest
    assert set("%?!~$;").isdisjoint("".join(lines))
    read("\n".join(lines).encode("ascii"))


def test_the_same_bytes_twice():
    profile = changer()
    assert gcode(long_programs(), 2, profile=profile) == gcode(long_programs(), 2, profile=profile)


def test_cutters_are_changed_whichever_number_is_the_greater():
    profile = changer(controller=TABLE)
    first, *rest = long_programs(profile=profile)
    for order in (1, -1):
        sections = tuple(replace(one, screws_first=False) for one in first.sections[::order])
        code = code_of(gcode([replace(first, sections=sections), *rest], profile=profile))
        changes = [line for line in code if line.startswith("T")]
        assert changes == [f"T{one.cutter.number} M6" for one in sections]
        assert sorted(changes) == ["T2 M6", "T5 M6", "T7 M6"]
