from functools import cache

import pytest

from cutjob.designs.catalogue import CATALOGUE, DESIGNS, catalogue, find
from cutjob.errors import InputError

from .order import EXACT, assert_sound, item

EVERY_SIZE = [(name, size) for name, design in CATALOGUE.items() if name != "outline" for size in design.sizes]


def test_the_designs_are_there():
    assert set(CATALOGUE) >= {"graded-stack", "round", "star"}
    assert len(EVERY_SIZE) >= 9


@pytest.mark.parametrize("name", CATALOGUE)
def test_designs_say_what_they_are(name):
    design = CATALOGUE[name]
    assert design.name == name
    assert design.summary
    assert list(design.sizes) == ["small", "medium", "large"]
    names = [parameter.name for parameter in design.parameters]
    assert len(set(names)) == len(names)
    for parameter in design.parameters:
        assert parameter.help
        assert parameter.expects(unit="in")
    for group in (*design.either, *design.needs_one):
        assert set(group) <= set(names)
    for size in design.sizes:
        assert set(design.sizes[size]) <= set(names)
        design.size_values(size)


@cache
def sized(name, size, unit="in"):
    return item(name, size=size, unit=unit).build


@pytest.mark.parametrize(("name", "size"), EVERY_SIZE)
@pytest.mark.parametrize("unit", ["in", "mm"])
def test_every_size_builds_sound_parts_without_a_warning(name, size, unit):
    built = sized(name, size, unit)
    assert built.shaped
    assert built.warnings == ()
    for part in built.shaped:
        assert_sound(part)
    names = [part.name for part in (*built.shaped, *built.sawn, *built.rods)]
    assert len(set(names)) == len(names)


@pytest.mark.parametrize(("name", "size"), EVERY_SIZE)
def test_a_size_is_the_same_in_inches_and_in_mm(name, size):
    inches, mm = sized(name, size, "in"), sized(name, size, "mm")
    assert inches.shaped == mm.shaped
    assert dict(inches.facts) == pytest.approx(dict(mm.facts), abs=EXACT)


def test_sizes_grow():
    for design in CATALOGUE.values():
        if design.name == "outline":
            continue
        areas = [sum(part.region.area for part in sized(design.name, size).shaped) for size in design.sizes]
        assert areas == sorted(areas)
        assert areas[0] < areas[-1]


def test_an_unknown_design_names_the_nearest_or_all():
    with pytest.raises(InputError) as caught:
        find("rond", place="make", location=None)
    assert str(caught.value) == 'make: there is no design "rond"; did you mean "round"?'
    with pytest.raises(InputError) as caught:
        find("zither", place="make", location=None)
    for name in CATALOGUE:
        assert name in str(caught.value)


def test_two_designs_of_one_name_are_a_mistake_of_ours():
    with pytest.raises(ValueError, match="called 'graded-stack'"):
        catalogue([*DESIGNS, DESIGNS[0]])
