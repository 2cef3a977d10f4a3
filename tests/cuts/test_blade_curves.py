"""Curves that a band saw's blade does not follow get a warning with their figures."""

from __future__ import annotations

import math
from pathlib import Path

import pytest

from cutjob.cuts.blade_curves import tight_curves
from cutjob.designs.built_in.rosette import Lobes, rosette_region
from cutjob.errors import InputError
from cutjob.geometry.contour import Contour, circle, closed, polyline, rectangle
from cutjob.geometry.segment import Arc, Line
from cutjob.making import make_job
from cutjob.resolved import read_order, resolve

LEAST = 35.0


def rounded(radius: float) -> Contour:
    """A block of 200 x 100 mm, its lower right corner rounded."""
    return closed(
        [
            Line((0.0, 0.0), (200.0 - radius, 0.0)),
            Arc((200.0 - radius, 0.0), (200.0, radius), (200.0 - radius, radius), False),
            Line((200.0, radius), (200.0, 100.0)),
            Line((200.0, 100.0), (0.0, 100.0)),
            Line((0.0, 100.0), (0.0, 0.0)),
        ]
    )


def test_every_lobe_of_a_small_rosette_is_too_tight_and_a_large_one_is_not() -> None:
    lobes = Lobes(count=12, outer=50.8, notch=45.0)
    found = tight_curves(rosette_region(lobes).outline, LEAST)
    assert len(found) == 12
    assert all(curve.radius == pytest.approx(lobes.radius) and not curve.hollow for curve in found)
    assert tight_curves(rosette_region(Lobes(count=12, outer=508, notch=450)).outline, LEAST) == ()


def test_a_circle_is_as_tight_as_its_radius_says() -> None:
    assert tight_curves(circle((0, 0), LEAST), LEAST) == ()
    (found,) = tight_curves(circle((0, 0), 34), LEAST)
    assert (found.radius, found.hollow) == (34, False)
    (opening,) = tight_curves(circle((0, 0), 34).turned(counter_clockwise=False), LEAST)
    assert opening.hollow


def test_sharp_corners_are_no_curves() -> None:
    assert tight_curves(rectangle(100, 50), LEAST) == ()
    assert tight_curves(polyline([(0, 0), (100, 0), (100, 80), (60, 80), (60, 40), (0, 40)]), LEAST) == ()


def test_what_departs_by_less_than_a_pencil_line_is_sanded() -> None:
    """On a rounded corner of 90 degrees the blade's arc lies (R - r)(1/cos 45 - 1) off: 0.5 mm at R - r = 1.207."""
    assert tight_curves(rounded(34), LEAST) == ()
    assert [curve.radius for curve in tight_curves(rounded(33.7), LEAST)] == [33.7]
    assert len(tight_curves(rounded(5), LEAST)) == 1


@pytest.mark.parametrize("sides", [24, 60, 360])
@pytest.mark.parametrize("radius", [20.0, 60.0])
def test_a_round_drawn_in_chords_is_a_curve(sides: int, radius: float) -> None:
    steps = [2 * math.pi * step / sides for step in range(sides)]
    found = tight_curves(polyline([(radius * math.cos(a), radius * math.sin(a)) for a in steps]), LEAST)
    if radius > LEAST:
        assert found == ()
    else:
        (curve,) = found
        # The circle that touches the chords' middles: r cos(half a step).
        assert curve.radius == pytest.approx(radius * math.cos(math.pi / sides))


def test_where_a_contour_starts_makes_no_difference() -> None:
    segments = rosette_region(Lobes(count=6, outer=60, notch=50)).outline.segments
    halved = tuple(half for one in segments for half in (one.part(0, 0.5), one.part(0.5, 1)))
    counts = {len(tight_curves(Contour(halved[n:] + halved[:n]), LEAST)) for n in range(len(halved))}
    assert counts == {6}


JOB = """
units = "in"
machine = "bandsaw"
{top}
[[make]]
name = "flower"
design = "rosette"
with = {{ outer = "{outer}", lobes = {lobes}, notch = "{notch}" }}

[[board]]
name = "board"
length = "30"
width = "14"
thickness = "5/8"
material = "softwood"
count = 2
"""


def warned(tmp_path: Path, **values: object) -> list[str]:
    job = tmp_path / "job.toml"
    job.write_text(JOB.format(**{"top": "", **values}), encoding="utf-8")
    warnings = make_job(job, out=tmp_path / "out", effort="quick").plan["warnings"]
    assert isinstance(warnings, list)
    return [warning for warning in warnings if "too tight" in warning]


def test_a_job_for_the_band_saw_names_part_radius_blade_and_what_to_do(tmp_path: Path) -> None:
    (warning,) = warned(tmp_path, outer="4", lobes=12, notch="3 1/2")
    assert warning.startswith(
        'item "flower": part "rosette": 12 curves of its outline are too tight for the 3/8 in blade'
    )
    assert "the smallest radius is 15/32 in, at x " in warning  # 0.486 in, worked out from the circles
    assert "the blade's least is 1 3/8 in" in warning
    assert "the 3/16 in blade follows 5/16 in (cutter = 4 in the job)" in warning
    assert "relief cuts" in warning
    assert "coping saw" in warning
    assert warned(tmp_path, outer="4", lobes=12, notch="3 1/2", top="cutter = 4") == []
    assert warned(tmp_path, outer="13", lobes=4, notch="10") == []


def test_curves_of_openings_are_for_no_closed_blade(tmp_path: Path) -> None:
    job = tmp_path / "job.toml"
    text = JOB.format(top="", outer="4", lobes=12, notch="3 1/2")
    start = text.index('design = "rosette"')
    end = text.index("[[board]]")
    job.write_text(text[:start] + 'design = "ring"\nwith = { outer = "6", inner = "2" }\n\n' + text[end:])
    warnings = make_job(job, out=tmp_path / "out", effort="quick").plan["warnings"]
    (warning,) = [warning for warning in warnings if "too tight" in warning]
    assert "1 curve in its openings is too tight for the 3/8 in blade (hollow): the smallest radius is 1 in" in warning
    assert "scroll saw or coping saw" in warning
    assert "cutter =" not in warning


def test_a_cutter_that_is_no_blade_has_no_least_radius(tmp_path: Path) -> None:
    here = Path(__file__).parents[2] / "machines" / "bench-laser.toml"
    (tmp_path / "laser.toml").write_text(
        here.read_text(encoding="utf-8").replace("[[cutter]]\n", "[[cutter]]\nleast_radius = 5\n", 1), encoding="utf-8"
    )
    job = tmp_path / "job.toml"
    text = JOB.format(top="", outer="4", lobes=12, notch="3 1/2").replace('"bandsaw"', '"laser.toml"')
    job.write_text(text, encoding="utf-8")
    with pytest.raises(InputError, match="a laser has no saw blade; leave it out"):
        make_job(job, out=tmp_path / "out", effort="quick")


def test_a_slot_too_narrow_for_every_blade_takes_no_other_one(tmp_path: Path) -> None:
    """All blades of the profile are equally thick: the fitted one stays, and its least radius counts."""
    (tmp_path / "slot.svg").write_text(
        '<svg xmlns="http://www.w3.org/2000/svg" width="90mm" height="90mm" viewBox="0 0 90 90">'
        '<path d="M5 5H85V85H45.2V45H44.8V85H17A12 12 0 0 1 5 73Z"/></svg>'
    )
    text = JOB.format(top="", outer="4", lobes=12, notch="3 1/2")
    order = text[: text.index('design = "rosette"')] + 'design = "outline"\nwith = { file = "slot.svg" }\n\n'
    path = tmp_path / "job.toml"
    path.write_text(order + text[text.index("[[board]]") :], encoding="utf-8")
    (wood,) = resolve(*read_order(path)).woods
    assert wood.cutters.outline.number == 1
