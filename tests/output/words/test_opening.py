"""What a file says before it moves: order, windows, pins, screws, skin, clamps, cutters and cautions."""

from dataclasses import replace

import pytest

from cutjob.cuts.cut import Feature
from cutjob.holding.windows import slides
from cutjob.output.gcode.write import write_gcode
from cutjob.output.words.opening import opening_lines
from cutjob.program.moves import Step
from tests.output.samples import (
    DRIVE,
    changer,
    hole_moves,
    layout,
    long_layout,
    long_programs,
    machine,
    picket,
    program,
    section,
)
from tests.output.words.told import as_told


def told(programs, number=1, *, board=None, profile=None, order="board 1 of 2"):
    profile = profile or changer()
    lines = opening_lines(
        programs[number - 1],
        layout=board or long_layout(),
        machine=profile,
        programs=programs,
        title="Spring market",
        order=order,
    )
    return as_told(lines, profile.controller.units)


def line_of(texts, start):
    [found] = [text for text in texts if text.startswith(start)]
    return found


def test_files_in_the_order_to_run_them():
    texts = told(long_programs(), 2)
    assert line_of(texts, "Order:") == "Order: board 1 of 2"
    expected = (
        "Files: this is 2 of 3 for the board, run them in this order: board-01-1.nc, board-01-2.nc, board-01-3.nc"
    )
    assert line_of(texts, "Files:") == expected
    many = [replace(each, file=f"board-01-{n}.nc", number=n, count=9) for n, each in enumerate(long_programs() * 3, 1)]
    assert line_of(told(many, 4), "Files:").endswith("board-01-1.nc to board-01-9.nc by their numbers")
    assert not [text for text in told([program()], board=layout(), profile=machine()) if text.startswith("Files:")]
    thrice = told(long_programs(), board=replace(long_layout(), copies=3))
    assert "Run all files of the board in order, 3 times over, each time on fresh stock" in thrice


def test_a_window_says_where_it_is_and_how_the_board_comes_there():
    first, second, third = (told(long_programs(), number) for number in (1, 2, 3))
    extent = "from 700 mm = 27.5591 in to 1700 mm = 66.9291 in along the board"
    assert line_of(second, "Window:") == f"Window: 2 of 3, {extent}"
    assert not [text for text in first if text.startswith("Before the start")]
    assert slides(long_layout().windows) == (700.0, 700.0)
    for texts in (second, third):
        [slide] = [text for text in texts if "slide the board 700 mm" in text]
        assert slide.endswith("towards its left end, with its edge against the stop")
    zero = line_of(second, "Zero point:")
    assert zero.startswith(
        "Zero point: X Y the point 700 mm = 27.5591 in along the board's lower edge from its left end"
    )


def test_the_board_is_slid_once_for_a_window():
    programs = long_programs()
    again = replace(programs[1], file="board-01-3.nc", number=3)
    four = [*(replace(one, count=4) for one in (programs[0], programs[1], again))]
    four.append(replace(programs[2], file="board-01-4.nc", number=4, count=4))
    slid = [
        any("slide the board " in text and "towards" in text for text in told(four, number)) for number in (1, 2, 3, 4)
    ]
    assert slid == [False, True, False, True]
    assert "Leave the board where it was for the file before" in told(four, 3)
    out = [any("take them out" in text for text in told(four, number)) for number in (1, 2, 3, 4)]
    assert out == [True, False, True, False]


@pytest.mark.parametrize(
    ("units", "places"),
    [("mm", "X 80 Y 80 mm and X 500 Y 30 mm"), ("in", "X 3.15 Y 3.15 in and X 19.685 Y 1.181 in")],
)
def test_pins_are_at_places_of_the_program(units, places):
    profile = changer(controller={"tool_change": "changer", "units": units, "decimals": 4})
    programs = long_programs(profile=profile, pins=True)
    second = told(programs, 2, board=long_layout(pins=True), profile=profile)
    [slide] = [text for text in second if "slide the board" in text and "towards" in text]
    # The holes lie at 780, 80 and 1200, 30 of the board, and the program's zero at 700, 0.
    assert slide.endswith(f"with its holes on the pins of 6.35 mm = 1/4 in diameter in the bed at {places}")
    first = told(programs, 1, board=long_layout(pins=True), profile=profile)
    assert line_of(first, "Pin holes:").startswith("Pin holes: 2 are drilled here for window 2, at X ")


def test_screws_are_drilled_then_driven_at_a_halt():
    texts = told(long_programs(), 1)
    screws = line_of(texts, "Screws:")
    assert screws == "Screws: 2 through the waste, heads at most 12 mm = 0.4724 in wide and 3.5 mm = 0.1378 in high"
    follows = texts[texts.index(screws) + 1]
    assert follows == "Their holes are drilled first, then the program halts for you to drive the screws"


def by_hand():
    """Two files by hand: one drills the holes for the screws, the other cuts the part."""
    feed = {"material": "western cedar", "source": "test", "feed": 900, "rpm": 9000, "plunge": 300, "depth_per_pass": 3}
    profile = machine(
        cutters=[
            {"number": 2, "name": "straight bit", "diameter": 3.175, "feed": [feed | {"rpm": 16000}]},
            {"number": 7, "name": "drill bit", "diameter": 4.5, "feed": [feed]},
        ]
    )
    board = replace(layout(), hold_downs=tuple(replace(one, window=None) for one in long_layout().hold_downs[:2]))
    drills = tuple(
        Step(op="drill", placement=None, feature=Feature(kind="screw hole"), moves=hole_moves(*down.at))
        for down in board.hold_downs
    )
    first = replace(
        program(profile=profile), file="board-01-1.nc", count=2, sections=(section(profile.cutter[1], *drills),)
    )
    second = replace(
        program(profile=profile),
        file="board-01-2.nc",
        number=2,
        count=2,
        sections=(replace(program(profile=profile).sections[0], screws_first=True),),
    )
    return profile, board, (first, second)


def test_screws_are_driven_between_two_files_by_hand():
    profile, board, files = by_hand()
    first, second = (told(files, number, board=board, profile=profile) for number in (1, 2))
    assert "This file drills their holes. Drive the screws before file 2" in first
    assert f"Before the start: {DRIVE}" in second
    assert not [text for text in second if "drills the holes" in text or "halts" in text]
    # The halt is between the files: the second one has none of its own.
    data = write_gcode(files[1], layout=board, machine=profile, title="", order="", programs=files)
    assert "M0" not in data.decode().split("\n")
    third = replace(files[1], number=3, file="board-01-3.nc", sections=program(profile=profile).sections)
    three = [replace(one, count=3) for one in (*files, third)]
    assert "They were driven before this file. Leave them in" in told(three, 3, board=board, profile=profile)


def test_cutters_in_the_order_they_come():
    texts = told(long_programs())
    cutters = [text for text in texts if " of 3: " in text and text.startswith("Cutter ")]
    assert [text.split(",")[0] for text in cutters] == ["Cutter 1 of 3: 7", "Cutter 2 of 3: 5", "Cutter 3 of 3: 2"]
    assert cutters[1] == "Cutter 2 of 3: 5, small bit, diameter 3.175 mm = 1/8 in"
    assert not [text for text in texts if text.startswith("They come")]
    one = long_programs()[0]
    back = [replace(one, count=1, number=1, sections=(*one.sections, one.sections[1]))]
    assert "The cutters come in this order: 7, 5, 2, 5" in told(back)


def test_skin_is_said_where_there_is_one():
    [with_skin] = [replace(program(), skin=0.4)]
    texts = told([with_skin], board=layout(), profile=machine())
    assert line_of(texts, "Skin:").startswith(
        "Skin: cuts round parts and openings stop 0.4 mm = 1/64 in above the underside"
    )
    assert not [text for text in told([program()], board=layout(), profile=machine()) if text.startswith("Skin:")]


def keep_outs(*heights, air=32.0):
    areas = [{"at": [700 + 100 * n, 50], "radius": 9} | ({"height": h} if h else {}) for n, h in enumerate(heights)]
    board = layout(board=picket(keep_out=areas))
    return line_of(told([replace(program(), safe_z=air)], board=board, profile=machine()), "Keep-outs:")


def test_keep_outs_with_and_without_a_height():
    assert keep_outs(0.0, air=5.0) == (
        "Keep-outs: 1 place on the board, never cut. Air moves may pass over it 5 mm = 0.1969 in above the stock: "
        "clamps and screws there must be lower."
    )
    assert keep_outs(20.0, 30.0) == (
        "Keep-outs: 2 places on the board, never cut. By the job, clamps and screws there are up to "
        "30 mm = 1.1811 in high. Air moves clear them, at most 32 mm = 1.2598 in above the stock."
    )
    mixed = keep_outs(0.0, 30.0)
    assert "By the job, clamps and screws on 1 of them are up to 30 mm = 1.1811 in high." in mixed
    assert "no stated height must be lower" in mixed


def cautions(texts):
    return " ".join(text for text in texts if text.startswith("Caution:"))


def test_cautions_for_what_this_board_needs():
    plain = cautions(told([program()], board=layout(board=picket(keep_out=[])), profile=machine()))
    assert "Set Z again after every cutter change" in plain
    for words in ("meets a screw", "long board", "nose and nut", "changes cutters by itself", "spindle at rest"):
        assert words not in plain
    full = cautions(told(long_programs()))
    for words in ("meets a screw", "Support both ends of a long board", "nose and nut", "changes cutters by itself"):
        assert words in full
    assert "Set Z again after every cutter change" in full
    table = changer(controller={"tool_change": "changer", "tool_length": "table"})
    lengths = cautions(told(long_programs(profile=table), profile=table))
    assert "Set Z again" not in lengths
    assert "tool table must hold every cutter's right length" in lengths
    profile, board, files = by_hand()
    hand = cautions(told(files, 1, board=board, profile=profile))
    assert "Change the cutter with the spindle at rest and its power off" in hand
    assert "by itself" not in hand
