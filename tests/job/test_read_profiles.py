"""The shipped profiles against figures from outside.

Chip loads: asttooling.com, speeds and feeds charts, inches at one diameter deep. Common practice [P], no source: light
machines take half; passes of at most one diameter; plunge 25 to 50 % of the feed; under 0.03 mm a tooth rubs; overcut
0.005 to 0.020 in; tabs up to half a thickness. Kerfs: common tables, CO2 laser 0.15 to 0.2 mm, 3/8 in bandsaw blade
0.020 to 0.035 in; diode laser 0.1 to 0.3 mm [M].
"""

import re

import pytest

from cutjob.files.file_bytes import shipped_files
from cutjob.job.machine import Machine
from cutjob.job.read_machine import read_machine

CHART = {
    (1 / 8, "softwood"): (0.003, 0.005),
    (1 / 8, "hardwood"): (0.002, 0.004),
    (1 / 8, "plywood"): (0.003, 0.005),
    (1 / 8, "mdf"): (0.004, 0.007),
    (1 / 4, "softwood"): (0.006, 0.008),
    (1 / 4, "hardwood"): (0.005, 0.007),
    (1 / 4, "plywood"): (0.006, 0.009),
    (1 / 4, "mdf"): (0.012, 0.015),
    (3 / 8, "softwood"): (0.015, 0.017),
    (3 / 8, "hardwood"): (0.013, 0.015),
    (3 / 8, "plywood"): (0.015, 0.018),
    (3 / 8, "mdf"): (0.017, 0.019),
}
LIGHT = {"bench-router": 0.5, "long-bed-router": 1.0}
KINDS = {
    "bandsaw": "pattern",
    "bench-laser": "laser",
    "bench-router": "router",
    "laser-service": "laser",
    "long-bed-router": "router",
}
ROUNDING = 1e-9  # of a product of three numbers, relative


def _profile(name: str) -> Machine:
    return read_machine(name, beside=None)


def test_the_profiles_are_the_ones_promised() -> None:
    assert {name: _profile(name).kind for name in shipped_files("machines")} == KINDS


@pytest.mark.parametrize("name", list(LIGHT))
def test_router_feeds_come_from_the_chart(name: str) -> None:
    machine, rows = _profile(name), 0
    for cutter in machine.cutter:
        for row in cutter.feed:
            assert row.rpm is not None
            least, most = CHART[(round(cutter.diameter / 25.4, 6), row.material)]
            chip_load = row.feed / row.rpm / cutter.flutes
            share = LIGHT[name] * 25.4
            assert least * share * (1 - ROUNDING) <= chip_load <= most * share * (1 + ROUNDING), (cutter.name, row)
            assert chip_load >= 0.03
            assert row.plunge is not None
            assert 0.25 <= row.plunge / row.feed <= 0.5
            assert row.depth_per_pass is not None
            assert row.depth_per_pass <= cutter.diameter * (0.5 if name == "bench-router" else 1.0)
            assert row.ramp_degrees <= 10
            rows += 1
    assert rows >= 12


@pytest.mark.parametrize("name", list(LIGHT))
def test_the_feed_said_in_the_comment_is_the_one_worked_out(name: str) -> None:
    text = shipped_files("machines")[name].read_text(encoding="utf-8")
    said = [int(found) for found in re.findall(r"# feed (\d+) mm/min", text)]
    assert said == [round(row.feed) for cutter in _profile(name).cutter for row in cutter.feed]


@pytest.mark.parametrize("name", list(LIGHT))
def test_router_habits(name: str) -> None:
    machine = _profile(name)
    assert 0.005 * 25.4 <= machine.cutting.overcut <= 0.020 * 25.4
    assert machine.cutting.overcut < machine.cutting.deepest_below_stock
    assert machine.tabs is not None
    assert 3 / 16 * 25.4 <= machine.tabs.width <= 1 / 4 * 25.4
    assert machine.tabs.least >= 2
    assert machine.controller.decimals >= 4  # NISTIR 6556 3.5.3: four decimals in mm never break the arc rule
    assert machine.motion.z_zero == "stock top"
    assert machine.spindle.seconds_to_speed > 0
    assert machine.travel is not None
    deepest = max(cutter.cutting_length for cutter in machine.cutter)
    assert machine.travel.z >= deepest + machine.motion.safe_height


def test_beds() -> None:
    beds = {name: _profile(name).travel for name in KINDS}
    sizes = {name: (bed.x, bed.y) for name, bed in beds.items() if bed is not None}
    assert sizes["bench-router"] == (900, 600)
    assert sizes["long-bed-router"] == (2400, 1200)
    assert sizes["bench-laser"] == (600, 400)
    assert beds["bandsaw"] is None


def test_lasers_and_saw() -> None:
    laser, service, saw = _profile("bench-laser"), _profile("laser-service"), _profile("bandsaw")
    assert 0.1 <= laser.cutter[0].diameter <= 0.3
    assert 0.15 <= service.cutter[0].diameter <= 0.2
    assert 0.020 * 25.4 <= saw.cutter[0].diameter <= 0.035 * 25.4
    for row in (*laser.cutter[0].feed, *service.cutter[0].feed):
        assert row.greatest_thickness is not None
        assert "no source" in row.source
    assert all(row.mark_power is not None and row.mark_power < (row.power or 0) for row in laser.cutter[0].feed)
    assert service.writes == ("dxf", "svg")
    assert service.drawing.outlines == "as drawn"
    assert not service.drawing.board
    assert saw.writes == ("dxf",)


@pytest.mark.parametrize("name", list(KINDS))
def test_every_line_of_advice_fits_a_screen(name: str) -> None:
    machine = _profile(name)
    assert all(len(line) <= 120 for line in machine.note)
    assert all(row.source for cutter in machine.cutter for row in cutter.feed)
