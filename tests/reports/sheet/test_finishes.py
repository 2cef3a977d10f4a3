from __future__ import annotations

from cutjob.costs.finishes import Painted, PaintedSurface
from cutjob.job.finish import coat_of
from cutjob.reports.plan.plan import plan_of
from cutjob.reports.sheet import facts
from cutjob.reports.sheet.sheet import write_job_sheet
from tests.reports.makers import job_result

WHITE = Painted(
    item="wind <stack>",
    count=3,
    coat=coat_of("white"),
    surfaces=tuple(PaintedSurface(part=f"piece {n}", surface="ends", area=0.002) for n in (1, 2, 3)),
    coats=2,
    drying=4.0,
)
OIL = Painted(
    item="wind <stack>",
    count=3,
    coat=coat_of("oil"),
    surfaces=tuple(PaintedSurface(part="topper", surface=one, area=0.01) for one in ("faces", "edges", "ends")),
    coats=2,
    drying=0.0,
)


def test_the_sheet_lists_area_coats_and_drying() -> None:
    """3 items x 3 ends of 20 cm2; in square inches a hundred and eighty cm2 are 27.9."""
    result = job_result(finishes=(WHITE, OIL))
    table = facts.finishes(result)
    assert table.heads == ("finish", "of", "where", "area", "coats", "dry each coat")
    assert table.rows == [
        ("white", "3 x wind <stack>", "ends of pieces 1 to 3", "180 cm2", "2", "4 h"),
        ("oil", "3 x wind <stack>", "all of topper", "900 cm2", "2", ""),
    ]
    assert facts.finishes(job_result(finishes=(WHITE,), units="in")).rows[0][3] == "28 sq in"
    page = write_job_sheet(result).decode()
    assert 'id="finishes"' in page
    assert "wind &lt;stack&gt;" in page
    assert 'id="finishes"' not in write_job_sheet(job_result()).decode()


def test_the_plan_has_every_surface() -> None:
    [white, oil] = plan_of(job_result(finishes=(WHITE, OIL)))["finishes"]  # type: ignore[misc]
    assert (white["finish"], white["colour"], white["coats"], white["drying_hours"]) == ("white", "#ffffff", 2, 4.0)
    assert white["area_m2"] == 0.006
    assert white["surfaces"][0] == {"part": "piece 1", "surface": "ends", "area_m2": 0.002}
    assert (oil["finish"], oil["colour"]) == ("oil", None)
