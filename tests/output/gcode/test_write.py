import math
import re

import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from cutjob.cuts.cut import Feature
from cutjob.errors import InputError
from cutjob.geometry.segment import Arc
from cutjob.layout.sawing import shortened
from cutjob.output.gcode.write import write_gcode
from cutjob.program.moves import Move, Step
from cutjob.tolerances import TOLERANCES
from tests.output.reading import read
from tests.output.samples import layout, machine, outside_moves, picket, program

HOSTILE = ')(%;\n(\rM3 S9 "é½' + "x" * 90


def gcode(profile=None, *, board=None, title="Spring market", order="file 1 of 1", **changes):
    profile = profile or machine()
    return write_gcode(
        program(profile=profile, **changes), layout=board or layout(), machine=profile, title=title, order=order
    )


def lines_of(data):
    assert data.endswith(b"\n")
    assert b"\r" not in data
    return data.decode("ascii")[:-1].split("\n")


def code_of(data):
    return [line for line in lines_of(data) if not line.startswith(("(", ";"))]


def header(data):
    """The opening comments, each whole again."""
    comments = [line[1:-1] for line in lines_of(data) if line.startswith("(")]
    return "\n".join(comments).replace("\n.. ", " ").split("\n")


def true_path(steps, *, origin=(0.0, 0.0), raised=0.0):
    """Points along the moves, mm, worked out from the moves alone."""
    points, last = [], None
    for move in (move for step in steps for move in step.moves):
        if move.centre is None:
            points.append((move.x, move.y, move.z))
        else:
            arc = Arc(last[:2], (move.x, move.y), move.centre, move.clockwise)
            count = math.ceil(abs(arc.sweep) / 0.01)
            for number in range(1, count + 1):
                x, y = arc.point_at(number / count)
                points.append((x, y, last[2] + (move.z - last[2]) * number / count))
        last = (move.x, move.y, move.z)
    return [(x - origin[0], y - origin[1], z + raised) for x, y, z in points]


def farthest(one, other):
    """Greatest distance of points of one path from the other, in the plane; the paths are sampled finely."""
    line = shapely.LineString([point[:2] for point in other])
    shapely.prepare(line)
    return float(shapely.distance(line, shapely.points([point[:2] for point in one])).max())


@pytest.mark.parametrize("decimals", [2, 3, 4, 5])
@pytest.mark.parametrize("units", ["mm", "in"])
@pytest.mark.parametrize("arcs", [True, False])
def test_what_is_read_is_what_was_meant(decimals, units, arcs):
    origin = (20.125, 14.3)
    controller = {"units": units, "decimals": decimals, "arcs": arcs}
    made = program(origin=origin)
    written = read(gcode(machine(controller=controller), origin=origin))
    path = [point[1:4] for point in written.path]
    step = (25.4 if units == "in" else 1.0) / 10**decimals
    # Rounding moves a point by half a step in x and y each; chords lie within `chord`; the samples of the arcs (here
    # and in the reader) within r (1 - cos(t / 2)), 32 mm at 0.02 rad: below 0.004 mm.
    allowed = step / math.sqrt(2) + TOLERANCES.chord + 0.004
    true = true_path(made.steps, origin=origin)
    assert farthest(path[2:], true) <= allowed
    assert farthest(true, path[1:]) <= allowed
    assert min(z for _, _, z in path) == pytest.approx(-16.0, abs=step / 2 + 1e-9)


def test_modes_stand_alone_before_any_motion():
    code = code_of(gcode())
    assert code[:4] == ["G21", "G17", "G90", "G94"]
    events = read(gcode()).events
    assert events.index("G21") < events.index("move")
    assert events[-1] == "M2"


def test_lift_comes_before_the_spindle_stops_and_speed_before_the_first_plunge():
    data = gcode()
    code = code_of(data)
    stop = code.index("M5")
    assert code[stop - 1] == "G0 Z5"
    assert code[stop:] == ["M5", "M2"]
    start = code.index("S16000 M3")
    assert code[start - 1] == "G0 Z5"
    assert code[start + 1] == "G4 P3"
    for mode, x, y, z, feed, _, turning in read(data).path:
        if z < 5:
            assert turning == "M3", (x, y, z)
        if mode != 0:
            assert feed > 0


@pytest.mark.parametrize(("dwell", "line"), [("seconds", "G4 P2.5"), ("milliseconds", "G4 P2500"), ("none", None)])
def test_dwell_as_the_profile_reads_it(dwell, line):
    code = code_of(gcode(machine(controller={"dwell": dwell}, spindle={"seconds_to_speed": 2.5})))
    assert [word for word in code if word.startswith("G4 ")] == ([line] if line else [])


def test_counter_clockwise_spindle_and_dial():
    data = gcode(machine(spindle={"turns": "counter-clockwise", "speed_word": False}))
    assert "M4" in code_of(data)
    assert not any(word == "S" for _, word, _ in read(data).words)
    assert "set the dial to 16000 rpm" in data.decode()


def test_tool_words_only_for_a_changer():
    assert "T2 M6" in code_of(gcode(machine(controller={"tool_change": "changer"})))
    assert not any("T" in line or "M6" in line for line in code_of(gcode()))


def test_what_is_on_the_machine_is_told_before_the_first_move():
    """Anyone with the file alone knows which board to fetch, what to saw off it first, and what stands on it."""
    told = header(gcode())
    stock = "1828.8 mm = 72 in long, 139.7 mm = 5 1/2 in wide, 15.875 mm = 5/8 in thick"
    assert f"Stock: board-01, cedar picket, western cedar, {stock}" in told
    assert "saw first" not in "\n".join(told).casefold()


@pytest.mark.parametrize(
    ("stack", "copies", "boards"), [(1, 1, ""), (2, 1, " of every board"), (1, 3, " of every board")]
)
@pytest.mark.parametrize("end", ["left", "right"])
def test_sawing_comes_first(end, stack, copies, boards):
    # The picket of the samples: its square end is on the left, or on the right with the ears on the other end.
    whole = picket(corners={"size": "1 1/4 in", "end": "left" if end == "right" else "right"})
    rest = shortened(whole, 425.45)
    told = header(gcode(board=layout(board=rest, stack=stack, copies=copies)))
    assert f"Saw first: 425.45 mm = 16 3/4 in off the {end} end{boards}" in told
    [stock] = [line for line in told if line.startswith("Stock:")]
    assert "1403.35 mm = 55 1/4 in long" in stock
    assert told.index(stock) + 1 == told.index(f"Saw first: 425.45 mm = 16 3/4 in off the {end} end{boards}")


def test_keep_outs_are_told_with_the_height_of_air_moves():
    def told(profile, board):
        return [line for line in header(gcode(profile, board=layout(board=board))) if line.startswith("Keep-outs:")]

    two = picket(keep_out=[{"at": [700, 50], "radius": 9}, {"at": [1700, 50], "radius": 9, "why": "clamp"}])
    assert told(machine(), picket()) == [
        "Keep-outs: 1 place on the board, never cut. Air moves may pass over it 5 mm = 0.1969 in above the stock: "
        "clamps and screws there must be lower."
    ]
    [both] = told(machine(motion={"safe_height": 5}), two)
    assert "2 places on the board, never cut. Air moves may pass over them" in both
    [laser] = told(machine(kind="laser"), picket())
    assert "above the stock" not in laser
    assert "the head may pass over it" in laser
    assert told(machine(), picket(keep_out=[])) == []


def test_tool_lengths_from_the_table_of_a_changer():
    controller = {"tool_change": "changer", "tool_length": "table", "after_change": ["M8", "G54"]}
    data = gcode(machine(controller=controller))
    code = code_of(data)
    change = code.index("T2 M6")
    # NISTIR 6556, 3.5.11 [M]: G43 H~, H the slot of the tool table. Before the first move, or Z would be the old one.
    assert code[change : change + 4] == ["T2 M6", "G43 H2", "M8", "G54"]
    assert code[change + 4] == "G0 Z5"
    assert "Tool length: slot 2 of the controller's tool table, which must hold this cutter's length" in header(data)
    assert code.index("G49") < change
    assert code.count("G49") == 1


def test_a_changer_without_tool_lengths_says_to_set_z_again():
    data = gcode(machine(controller={"tool_change": "changer"}))
    assert not any("G43" in line for line in code_of(data))
    assert "Cutter change: this file sets no tool length. Set Z with cutter 2 before the start" in header(data)
    assert "M0" not in code_of(data)
    assert not any(line.startswith(("Cutter change:", "Tool length:")) for line in header(gcode()))


def test_percent_lines_start_and_end_lines():
    controller = {"percent_lines": True, "start": ["G54", "M8"], "end": ["M9"], "program_end": "M30"}
    lines = lines_of(gcode(machine(controller=controller)))
    assert lines[0] == lines[-1] == "%"
    assert lines[-3:-1] == ["M9", "M30"]
    code = [line for line in lines if not line.startswith("(")]
    assert code[1:10] == ["G21", "G17", "G90", "G94", "G40", "G49", "G80", "G54", "M8"]


@pytest.mark.parametrize("kind", ["router", "laser"])
def test_a_safe_start_states_every_group_that_bears_on_the_file(kind):
    """NISTIR 6556, table 4: plane, distance, feed mode, units, cutter radius, tool length, motion, coordinates."""
    plain = code_of(gcode(machine(kind=kind)))
    off = ["G40", "G49", "G80"] if kind == "router" else ["G40", "G80"]
    assert plain[: 4 + len(off)] == ["G21", "G17", "G90", "G94", *off]
    assert not any(line.startswith("G5") for line in plain)
    own = code_of(gcode(machine(kind=kind, controller={"work_offset": "G55", "unknown_codes": ["G80", "G49"]})))
    assert own[:6] == ["G21", "G17", "G90", "G94", "G40", "G55"]


def test_a_dial_is_switched_on_at_a_halt_above_the_work_where_the_profile_allows():
    """The router comes on with the cutter high, and the file says when to switch it off."""
    lines = lines_of(gcode(machine(spindle={"speed_word": False})))
    told = lines.index("(Stop: switch the router on, its dial at 16000 rpm)")
    assert lines[told - 1 : told + 5] == ["G0 Z5", lines[told], "M0", "G0 Z5", "M3", "G4 P3"]
    assert lines[-2] == "(Switch the router off)"
    assert any("switch it on when the program halts" in line for line in lines[:told])
    silent = lines_of(gcode(machine(spindle={"speed_word": False}, controller={"halts": False})))
    assert "M0" not in silent
    assert any("switch it on before the start" in line for line in silent)
    assert "M0" not in lines_of(gcode(machine(spindle={"speed_word": False}, controller={"tool_change": "changer"})))


def test_the_cutter_parks_high_with_the_spindle_stopped():
    end = (Move("rapid", 60.0, 28.4125, 22.0), Move("rapid", 1828.8, 139.7, 22.0))
    code = code_of(gcode(clear_z=22.0, end=end))
    assert code[-4:] == ["Z22", "M5", "G0 X1828.8 Y139.7", "M2"]
    beam = code_of(gcode(machine(kind="laser"), power=600.0, end=(Move("rapid", 1828.8, 139.7, 0.0),)))
    assert beam[-3:] == ["M5", "G0 X1828.8 Y139.7", "M2"]


def test_after_the_start_block_a_file_can_be_run_from_any_cut_on():
    """Modes, cutter and spindle of the start, then any cut: what it does is what it does in the whole file."""
    data = gcode().decode().splitlines()
    starts = [number for number, line in enumerate(data) if line.startswith(("(inside cut", "(outside cut"))]
    assert len(starts) == 2
    whole = read(gcode()).path
    again = read("\n".join([*data[: starts[0]], *data[starts[1] :], ""]).encode()).path
    cut = [point for point in again if point[1:3] != (0.0, 0.0)]
    assert len(cut) > 5
    # Of a rapid the feed that is set says nothing.
    plain = [[(*point[:4], point[4] if point[0] else 0.0, *point[5:]) for point in path] for path in (whole, cut)]
    assert plain[0][-len(cut) :] == plain[1]
    section = " ".join(data[starts[1] : starts[1] + 6])
    assert all(word in section for word in ("S16000 M3", "G0 Z5", "X60 Y28.4125", "F400"))


@pytest.mark.parametrize("line", ["G54\nM3", "G1 Xé", "G0 X1" + " " * 80 + "Y1"])
def test_start_lines_that_are_no_plain_lines_are_refused(line):
    """Reading a profile refuses the first two; the writer, which may be given any value, refuses all."""
    plain = machine()
    spoiled = plain.model_copy(update={"controller": plain.controller.model_copy(update={"start": (line,)})})
    with pytest.raises(InputError, match=r"controller\.start"):
        gcode(spoiled)


def test_a_semicolon_becomes_a_comma():
    """In many controllers it would begin a comment; left out, it would run two sentences together."""
    data = gcode(machine(note=["Glue dries slowly; wait a day"]), warnings=("tabs too thin; take more",))
    assert "Note: Glue dries slowly, wait a day" in header(data)
    assert "Warning: tabs too thin, take more" in header(data)


@pytest.mark.parametrize("comments", ["brackets", "semicolon", "none"])
@pytest.mark.parametrize("longest", [24, 40, 70, 256])
def test_lines_are_plain_short_and_comments_closed(comments, longest):
    controller = {"comments": comments, "longest_line": longest, "decimals": 4}
    profile = machine(controller=controller, note=["keep ) dry;"], name="shed % (2)")
    data = gcode(profile, title=HOSTILE, order=HOSTILE, board=layout(stack=2, copies=3), warnings=("mind the knot",))
    text = data.decode("ascii")
    assert all(0 < len(line) <= longest for line in lines_of(data))
    assert set("%?!~").isdisjoint(text)
    read(data)  # brackets are counted there
    assert not re.search(r"\d[eE][+-]?\d", "\n".join(code_of(data)))
    if comments == "none":
        assert "(" not in text
        assert ";" not in text


def test_a_line_that_can_not_fit_is_an_error_not_a_long_line():
    steps = (
        Step(
            op="mark", placement=None, feature=Feature(kind="mark"), moves=(Move("rapid", -1234.5678, -1234.5678, 5.0),)
        ),
    )
    with pytest.raises(InputError, match="longest_line"):
        gcode(machine(controller={"longest_line": 20}), steps=steps)


def test_long_arcs_drop_blanks_then_move_the_feed_then_become_chords():
    start = (1234.5678, 1100.1234)
    end = (start[0] - 100.4321, start[1] + 100.4321)
    centre = (start[0] - 100.4321, start[1])
    moves = (Move("rapid", *start, 5.0), Move("cut", *end, 4.1234, 1234.5, centre))
    steps = (Step(op="mark", placement=None, feature=Feature(kind="mark"), moves=moves),)

    def cut_lines(longest):
        code = code_of(gcode(machine(controller={"longest_line": longest}), steps=steps))
        return code[code.index(f"X{start[0]} Y{start[1]}") + 1 : -3]

    assert cut_lines(70) == ["G3 X1134.1357 Y1200.5555 Z4.1234 I-100.4321 J0 F1234.5"]
    assert cut_lines(50) == ["G3X1134.1357Y1200.5555Z4.1234I-100.4321J0F1234.5"]
    assert cut_lines(45) == ["F1234.5", "G3X1134.1357Y1200.5555Z4.1234I-100.4321J0"]
    chords = cut_lines(36)
    assert len(chords) > 30
    assert not any(line.startswith("G3") for line in chords)


def test_helices_become_chords_where_the_controller_has_none():
    flat = gcode(machine(controller={"helices": False}))
    assert not any(line.startswith(("G2", "G3")) and "Z" in line for line in code_of(flat))
    assert any(line.startswith("G3") for line in code_of(flat))
    assert any(line.startswith("G3") and "Z" in line for line in code_of(gcode()))


def test_spoilboard_zero_raises_every_height_by_the_stack():
    board = layout(stack=2)
    top, bottom = (
        [point[3] for point in read(gcode(machine(motion={"z_zero": zero}), board=board)).path]
        for zero in ("stock top", "spoilboard")
    )
    assert bottom == pytest.approx([z + board.height for z in top], abs=1e-9)
    assert "Z the spoilboard under the stock" in " ".join(
        gcode(machine(motion={"z_zero": "spoilboard"}), board=board).decode().replace(")\n(..", "").split()
    )


def test_inches_are_the_same_cut():
    metric = read(gcode(machine(controller={"decimals": 4})))
    imperial = read(gcode(machine(controller={"units": "in", "decimals": 5})))
    assert "G20" in imperial.events
    assert "G21" not in imperial.events
    assert len(metric.path) == len(imperial.path)
    for one, other in zip(metric.path, imperial.path, strict=True):
        assert one[1:4] == pytest.approx(other[1:4], abs=0.0005)
        assert one[4] == pytest.approx(other[4], abs=0.3)  # feeds are rounded down to 0.01 in/min
        assert other[4] <= one[4] + 1e-9


def test_modal_words_are_not_repeated():
    code = code_of(gcode())
    feeds = [line for line in code if "F" in line]
    assert [line.split("F")[1] for line in feeds] == ["400", "1500", "400", "1500", "750"]
    assert "Z1" in code  # after G0 X.. Y.., the second rapid states only what changes


@pytest.mark.parametrize(("beam", "on"), [("constant", "M3"), ("follows speed", "M4")])
def test_a_laser_file_has_no_z_and_the_beam_only_in_cuts(beam, on):
    profile = machine(kind="laser", controller={"beam": beam})
    data = gcode(profile, power=620.0)
    made = read(data)
    letters = {letter for _, letter, _ in made.words}
    assert "Z" not in letters
    assert "T" not in letters
    code = code_of(data)
    assert code.index("M5") < next(number for number, line in enumerate(code) if "X" in line)
    for mode, *_, power, turning in made.path:
        assert turning == ("M5" if mode == 0 else on)
        if mode != 0:
            assert power == 620.0
    # Lit at no power: the power comes with the first move, so that the beam never stands still burning.
    assert all(line == f"S0 {on}" for line in code if on in line)
    assert code[-2:] == ["M5", "M2"]


def test_a_move_before_any_place_is_known_is_refused():
    steps = (Step(op="mark", placement=None, feature=Feature(kind="mark"), moves=(Move("cut", 1, 1, -1, 100.0),)),)
    with pytest.raises(ValueError, match="rapid"):
        gcode(steps=steps)
    moves = (Move("rapid", 1, 1, 5), Move("cut", 2, 1, -1))
    with pytest.raises(ValueError, match="feed"):
        gcode(steps=(Step(op="mark", placement=None, feature=Feature(kind="mark"), moves=moves),))


def test_a_rapid_goes_up_before_across_and_across_before_down():
    moves = (Move("rapid", 10, 10, 5), Move("rapid", 20, 10, 1), Move("rapid", 30, 20, 5))
    code = code_of(gcode(steps=(Step(op="mark", placement=None, feature=Feature(kind="mark"), moves=moves),)))
    start = code.index("X10 Y10")
    assert code[start + 1 : start + 5] == ["X20", "Z1", "Z5", "X30 Y20"]


@settings(max_examples=60)
@given(
    st.sampled_from([("mm", 2), ("mm", 3), ("mm", 4), ("in", 3), ("in", 4), ("in", 5)]),
    st.lists(
        st.tuples(st.floats(0.01, 200), st.floats(-3.1, 3.1), st.floats(0.001, 6.28), st.booleans(), st.booleans()),
        min_size=1,
        max_size=6,
    ),
)
def test_chains_of_any_arcs_end_where_they_should(kind, turns):
    x, y, moves = 500.0, 500.0, [Move("rapid", 500.0, 500.0, 5.0)]
    for radius, angle, sweep, clockwise, sinks in turns:
        centre = (x - radius * math.cos(angle), y - radius * math.sin(angle))
        last = angle - sweep if clockwise else angle + sweep
        x, y = centre[0] + radius * math.cos(last), centre[1] + radius * math.sin(last)
        moves.append(Move("cut", x, y, moves[-1].z - sinks, 900.0, centre, clockwise))
    steps = (Step(op="mark", placement=None, feature=Feature(kind="mark"), moves=tuple(moves)),)
    made = read(gcode(machine(controller={"units": kind[0], "decimals": kind[1]}), steps=steps))
    step = (25.4 if kind[0] == "in" else 1.0) / 10 ** kind[1]
    # Moves under 0.01 mm are left to the next one.
    assert made.path[-1][1:3] == pytest.approx((x, y), abs=step / 2 + 0.01)
    rounding = step / math.sqrt(2)
    written = max(rounding + TOLERANCES.chord, min(3 * rounding, 2 * TOLERANCES.curve))
    allowed = written + 0.0026  # the last: samples of true_path, 200 mm at 0.01 rad
    placed = [point[1:4] for point in made.path if point[1:3] != (0.0, 0.0)]
    assert farthest(placed, true_path(steps)) <= allowed + 0.01


def test_the_same_bytes_twice():
    assert gcode(title="Spring") == gcode(title="Spring")
    assert (
        gcode(steps=(Step(op="outside cut", placement=0, feature=Feature(kind="outline"), moves=outside_moves()),))
        != gcode()
    )


def test_each_step_names_the_part_by_the_number_people_count():
    lines = lines_of(
        gcode(steps=(Step(op="outside cut", placement=0, feature=Feature(kind="outline"), moves=outside_moves()),))
    )
    assert any(line.startswith("(outside cut: part 1, ") for line in lines)


@pytest.mark.parametrize(
    "end",
    [(), (Move("rapid", 60.0, 40.0, 0.0),), (Move("rapid", 80.0, 10.0, 0.0), Move("rapid", 5.0, 10.0, 0.0))],
    ids=["in a cut", "where the cut ends", "somewhere else"],
)
def test_a_laser_file_ends_with_the_beam_off_and_says_so_once(end):
    """However the last step ends, the lines before the end of the program are M5, and not M5 twice."""
    cuts = (Move("cut", 60.0, 30.0, 0.0, 900.0, power=500.0), Move("cut", 60.0, 40.0, 0.0, 900.0, power=500.0))
    step = Step(
        op="mark", placement=0, feature=Feature(kind="mark"), moves=(Move("rapid", 20.0, 30.0, 0.0), *cuts, *end)
    )
    code = code_of(gcode(machine(kind="laser"), steps=(step,)))
    assert code[-2:] == ["M5", "M2"]
    assert code[-3] != "M5"
