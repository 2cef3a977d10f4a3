import pytest
import shapely
from shapely import affinity

from cutjob.geometry.polygons import to_polygon
from cutjob.output.paper.pattern import patterns_of
from cutjob.output.paper.picture import drawn, with_words
from tests.output.paper.reading import page_words, read_pages
from tests.output.paper.samples import book_of, disc, item, layout_of, plank, wedge
from tests.output.samples import rail, tag

PAGE = (186.0, 248.0)
PARTS = [disc(120.0), disc(12.0), plank(300.0, 9.0), plank(14.0, 200.0), wedge(), tag(), rail(), plank(3.0, 2.0)]


def ready(part):
    made = [item(part)]
    (pattern,) = patterns_of(layout_of(made), made)
    return drawn(pattern, unit="mm", page=PAGE)


def boxes(picture):
    for block in picture.blocks:
        box = shapely.box(-block.width / 2, -block.height / 2, block.width / 2, block.height / 2)
        yield affinity.translate(affinity.rotate(box, block.degrees, origin=(0, 0)), *block.at)
    for stroke in picture.strokes:
        if stroke.style == "grain":
            yield shapely.MultiLineString([[chain[0].start, chain[-1].end] for chain in stroke.chains])


@pytest.mark.parametrize("part", PARTS)
def test_words_and_arrow_lie_on_the_wood_or_on_paper_kept_for_them(part):
    one = ready(part)
    wood = to_polygon(part.region, deviation=0.01)
    drilled = [shapely.Point(hole.at).buffer(hole.diameter / 2) for hole in part.holes]
    found = list(boxes(with_words(one, unit="mm")))
    assert len(found) == 2  # the words and the arrow
    for box in found:
        on_wood = wood.buffer(0.01).covers(box)
        assert on_wood or (box.disjoint(wood) and one.paper.buffer(0.5).covers(box))
        assert not on_wood or all(box.disjoint(hole) for hole in drilled)


def test_words_keep_off_the_seams_where_there_is_room():
    one = ready(plank(400.0, 100.0))
    seams = shapely.box(195.0, -10.0, 205.0, 110.0)
    for box in boxes(with_words(one, unit="mm", seams=seams)):
        assert box.disjoint(seams)


def test_wood_without_grain_has_no_arrow():
    picture = with_words(ready(plank(200.0, 80.0, grain="none")), unit="mm")
    assert all(stroke.style != "grain" for stroke in picture.strokes)


def test_small_parts_have_their_words_beside_them_and_large_ones_on_them():
    small, large = ready(plank(14.0, 14.0)), ready(plank(150.0, 80.0))
    assert small.words.beside is not None
    assert small.paper.area > small.wood.area + 50.0
    assert large.words.beside is None
    assert large.words.block.size > small.words.block.size


@pytest.mark.parametrize("halves", [False, True])
def test_parts_too_small_for_anything_still_have_their_page(halves):
    tiny = item(disc(3.0, bore=0.0), plank(2.0, 1.0), disc(6.0, bore=4.0), name="bead")
    pages = read_pages(book_of([tiny], halves=halves))
    assert len(pages) == 2
    words = page_words(book_of([tiny], halves=halves))[1]
    assert words.count("bead") == 3
