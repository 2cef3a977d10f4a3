"""Pockets that a drawing lets run out over rounded corners, from the drawing to a proven folder."""

from __future__ import annotations

import math
from pathlib import Path

import ezdxf
import pytest

from cutjob.making import make_job

JOB = """
title = "Porch steps"
units = "mm"
machine = "long-bed-router"
cutter = {cutter}
[[make]]
name = "step"
design = "outline"
size = "medium"
[make.with]
file = "step.dxf"
pockets = {{ rebate = 5 }}
[[board]]
name = "ash"
length = 400
width = 150
thickness = 11.5
material = "hardwood"
"""


@pytest.mark.parametrize(("corner", "cutter"), [(12.0, 1), (3.0, 1), (30.0, 1), (12.0, 2)])
def test_rebates_drawn_square_over_rounded_corners_are_cut_whole(tmp_path: Path, corner: float, cutter: int) -> None:
    length, width, bulge = 200.0, 100.0, math.tan(math.pi / 8)
    document = ezdxf.new("R2000")
    document.header["$INSUNITS"] = 4
    model = document.modelspace()
    right, top = length - corner, width - corner
    corners = [(corner, 0, 0), (right, 0, bulge), (length, corner, 0), (length, top, bulge), (right, width, 0),
               (corner, width, bulge), (0, top, 0), (0, corner, bulge)]  # fmt: skip
    model.add_lwpolyline(corners, format="xyb", close=True)
    layer = {"layer": "rebate"}
    model.add_lwpolyline([(0, 0), (17, 0), (17, width), (0, width)], close=True, dxfattribs=layer)
    model.add_lwpolyline([(60, -1), (80, -1), (80, width + 1), (60, width + 1)], close=True, dxfattribs=layer)
    ends = [(length - 9, -3), (length + 2, -3), (length + 2, width + 4), (length - 9, width + 4)]
    model.add_lwpolyline(ends, close=True, dxfattribs=layer)
    document.saveas(tmp_path / "step.dxf")
    (tmp_path / "job.toml").write_text(JOB.format(cutter=cutter), encoding="utf-8")
    result = make_job(tmp_path / "job.toml", out=tmp_path / "out", effort="quick")
    print(*result.proof.findings, sep="\n")
    assert result.proof.passed
    assert result.proof.findings == ()
