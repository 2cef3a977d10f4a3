import re
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
        for unit in ("in", "mm"):
            design.size_values(size, unit=unit)


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
def test_a_job_in_mm_with_every_length_written_in_inches_makes_the_same(name, size):
    design = CATALOGUE[name]
    lengths = {
        one.name: text
        for one in design.parameters
        if one.is_length and (text := design.written(one, size, unit="in")) is not None
    }
    inches, mm = sized(name, size, "in"), item(name, size=size, unit="mm", **lengths).build
    assert inches.shaped == mm.shaped
    assert dict(inches.facts) == pytest.approx(dict(mm.facts), abs=EXACT)


@pytest.mark.parametrize(("name", "size"), EVERY_SIZE)
def test_sizes_are_round_in_the_unit_of_the_job(name, size):
    design = CATALOGUE[name]
    for parameter in design.parameters:
        if not parameter.is_length:
            continue
        for unit, rounded in (("in", r"\d+( \d+/\d+)? in|\d+/\d+ in|0\.2 mm"), ("mm", r"\d+(\.5)? mm|0\.2 mm")):
            text = design.written(parameter, size, unit=unit)
            for one in text if isinstance(text, list) else [text]:
                assert one is None or re.fullmatch(rounded, one), (parameter.name, one)
            read = design.size_values(size, unit=unit).get(parameter.name)
            written = None if text is None else parameter.read(text, unit=unit)
            assert read == (written if written is None else pytest.approx(written, abs=1e-9))
            # What a job in mm has is near what a job in inches has: by less than half a step of 1 or 5 mm.
            inches = design.size_values(size, unit="in").get(parameter.name)
            assert read == (inches if inches is None else pytest.approx(inches, abs=2.5, rel=0.06))


def test_no_size_of_a_plate_has_holes_that_nobody_asked_for():
    for size in CATALOGUE["plate"].sizes:
        [plate] = sized("plate", size).shaped
        assert plate.holes == ()


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
    with pytest.raises(ValueError, match="name 'graded-stack'"):
        catalogue([*DESIGNS, DESIGNS[0]])
