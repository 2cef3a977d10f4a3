"""Functions of installed packages as designs, and what broken ones say."""

import importlib.metadata
from pathlib import Path

import pytest

from cutjob.designs.own import python_design
from cutjob.designs.own.find_design import design_lines, find_design
from cutjob.designs.own.python_design import GROUP, design, installed_names, load_installed
from cutjob.designs.parameter import Parameter
from cutjob.errors import InputError
from cutjob.geometry.contour import Region, rectangle
from cutjob.parts.part import Build, ShapedPart

from ..order import item

MODULE = __name__


@design(
    name="plant-stake",
    summary="a plain stake",
    parameters=[Parameter(name="length", kind="length", help="its length", least=50, default="6 in")],
)
def plant_stake(values, context):
    part = ShapedPart(name="stake", region=Region(rectangle(values.number("length"), 20)))
    return Build(shaped=(part,))


@design(name="broken", summary="fails when built")
def broken(values, context):
    return 1 / 0


@design(name="empty", summary="makes no build")
def empty(values, context):
    return None


no_design = 7


@pytest.fixture
def points(monkeypatch):
    values = {
        "plant-stake": f"{MODULE}:plant_stake",
        "broken": f"{MODULE}:broken",
        "empty": f"{MODULE}:empty",
        "no-design": f"{MODULE}:no_design",
        "missing": f"{MODULE}:not_there",
        "no-module": "a_module_that_is_not_there:thing",
    }
    found = [importlib.metadata.EntryPoint(name=name, value=value, group=GROUP) for name, value in values.items()]
    monkeypatch.setattr(python_design.importlib.metadata, "entry_points", lambda group: found if group == GROUP else [])
    return values


def test_a_function_is_a_design(points):
    assert "plant-stake" in installed_names()
    made = item("plant-stake", length="10").build
    assert made.shaped[0].region.bounds == pytest.approx((0, 0, 254, 20))
    assert item("plant-stake").build.shaped[0].region.bounds[2] == pytest.approx(152.4)
    assert next(iter(design_lines(load_installed("plant-stake")))) == "plant-stake  a plain stake"


@pytest.mark.parametrize(
    ("name", "said"),
    [
        ("no-design", "is no design"),
        ("missing", "can't be loaded (AttributeError"),
        ("no-module", "can't be loaded (ModuleNotFoundError"),
        ("broken", "failed (ZeroDivisionError: division by zero)"),
        ("empty", "returned NoneType, not a Build"),
    ],
)
def test_a_broken_one_gives_one_clear_message(points, name, said):
    with pytest.raises(InputError) as caught:
        item(name)
    assert len(caught.value.problems) == 1
    assert said in str(caught.value)
    assert caught.value.problems[0].location.line == 9


def test_broken_ones_do_not_hurt_the_others(points):
    assert item("round").build.shaped
    with pytest.raises(InputError, match="plant-stake"):
        find_design("plant-stakes", folder=Path())


def test_without_packages_there_are_none():
    assert "plant-stake" not in installed_names()
