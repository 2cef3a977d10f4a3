"""Areas of finishes, worked out by hand on plain parts."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest

from cutjob.costs.finishes import finishes_of
from cutjob.costs.work import amounts_of
from cutjob.geometry.contour import Region, circle, rectangle
from cutjob.job.finish import coat_of
from cutjob.layout.layout import Layout, SawnPiece
from cutjob.parts.finish import PartFinish
from cutjob.parts.part import Item, RodPart, SawnPart, ShapedPart, StripPart
from cutjob.parts.surfaces import surface_areas
from cutjob.reports.words import surfaces_words
from tests.costs.test_account import board, item, laid, placed
from tests.output.samples import machine

NEAR = 1e-9  # relative, of a few sums of floats
WHITE, OIL = coat_of("white"), coat_of("oil")


def test_surfaces_of_a_slat_a_disc_a_sawn_piece_and_sticks() -> None:
    slat = ShapedPart(name="slat", region=Region(rectangle(300.0, 20.0)))
    assert surface_areas(slat, thick=16.0) == pytest.approx(
        {"faces": 2 * 300 * 20e-6, "edges": 2 * 300 * 16e-6, "ends": 2 * 20 * 16e-6}, rel=NEAR
    )
    assert "ends" not in surface_areas(replace(slat, grain="none"), thick=16.0)
    disc = ShapedPart(name="disc", region=Region(circle((0, 0), 50.0), (circle((0, 0), 10.0),)))
    found = surface_areas(disc, thick=16.0)
    # A quarter of the rim at each end is within 45 degrees of the grain; the opening's wall is no end. Chords of 2 um.
    assert found["ends"] == pytest.approx(math.pi * 50 * 16e-6, rel=1e-2)
    assert found["edges"] + found["ends"] == pytest.approx(2 * math.pi * 60 * 16e-6, rel=NEAR)
    base = surface_areas(SawnPart(name="base", length=200.0), thick=40.0, wide=100.0)
    assert base == pytest.approx({"faces": 0.04, "edges": 0.016, "ends": 0.008}, rel=NEAR)
    rod = surface_areas(RodPart(name="rod", diameter=10.0, length=400.0))
    assert rod == pytest.approx({"faces": math.pi * 4e-3, "ends": math.pi * 50e-6}, rel=NEAR)
    strip = surface_areas(StripPart(name="strip", width=30.0, thickness=10.0, length=400.0))
    assert strip == pytest.approx({"faces": 80 * 400e-6, "ends": 600e-6}, rel=NEAR)


def _gate() -> tuple[Item, Layout]:
    """Two gates of a slat of 300 x 20 mm off boards, and a sill sawn off, 200 x 100 x 40 mm."""
    made = item("gate", 2, shaped=(placed("gate", 300, 20).part,), sawn=(SawnPart(name="sill", length=200.0),))
    sill = SawnPiece(
        item="gate", part="sill", length=200.0, width=100.0, thickness=40.0, count=2, board="plank", note=""
    )
    return made, replace(laid(board("board-01", placed("gate", 300, 20), copies=2)), sawn=(sill,))


def test_a_finish_has_its_surfaces_area_coats_and_drying() -> None:
    made, layout = _gate()
    slat = made.build.shaped[0].name
    finish = ((slat, PartFinish(faces=OIL, edges=OIL, ends=WHITE)), ("sill", PartFinish(ends=WHITE)))
    found = finishes_of([replace(made, finish=finish)], layout, coats={"gate": 3}, drying=5.0)
    assert [(one.coat, one.count, one.coats, one.drying) for one in found] == [(OIL, 2, 3, 5.0), (WHITE, 2, 3, 5.0)]
    thick = layout.boards[0].board.thickness * 1e-6
    assert found[0].area == pytest.approx(2 * 300 * 20e-6 + 2 * 300 * thick, rel=NEAR)
    assert found[1].area == pytest.approx(2 * 20 * thick + 0.008, rel=NEAR)
    assert surfaces_words(found[0]) == f"faces and edges of {slat}"
    assert surfaces_words(found[1]) == f"ends of {slat}, sill"


def test_without_a_name_every_surface_is_painted_and_without_coats_none() -> None:
    made, layout = _gate()
    [one] = finishes_of([made], layout, coats={"gate": 1}, drying=4.0)
    assert one.coat is None
    assert len(one.surfaces) == 6
    assert finishes_of([made], layout, coats={"gate": 0}, drying=4.0) == ()


def test_the_work_of_painting_is_that_of_the_surfaces_named() -> None:
    made, layout = _gate()
    ends = replace(made, finish=(("sill", PartFinish(ends=WHITE)),))
    amounts = amounts_of([ends], layout, (), (), machine(), coats={"gate": 3})
    assert amounts["gate"].work["coat"] == pytest.approx(2 * 3 * 0.008, rel=NEAR)
    assert amounts["gate"].covered["coated square metre"] == pytest.approx(2 * 3 * 0.008, rel=NEAR)
