"""What stands on the pages: words, keys, cautions, and that the same job gives the same bytes."""

import time
from pathlib import Path

import pytest

from cutjob.errors import InputError
from cutjob.geometry.transform import Transform
from cutjob.job.model import BoardStock
from cutjob.job.paper import PatternsWanted
from cutjob.job.stock import board_of
from cutjob.output.paper.book import write_patterns
from cutjob.output.paper.pattern import count_words, patterns_of
from cutjob.parts.part import HandHole
from cutjob.resolved import read_order
from tests.output.paper.reading import page_words, read_pages
from tests.output.paper.samples import bandsaw, book_of, disc, item, layout_of, plank, wedge
from tests.output.samples import rail, tag

SPINNER = Path(__file__).parents[3] / "samples" / "porch-spinner.toml"


def test_a_pattern_says_what_it_is():
    made = [item(plank(150.0, 60.0, name="gull wing"), name="gull spinner")]
    layout = layout_of(made, stack=2, copies=3)
    page = page_words(book_of(made, layout=layout))[1]
    assert "gull wing" in page
    assert "gull spinner" in page
    assert "6 pieces: 3 x a stack of 2, 32 mm high" in page
    cover = page_words(book_of(made, layout=layout))[0]
    for words in ("Print at 100 %", "Measure both bars", "glue", "gull wing", "6 pieces", "Pin every layer"):
        assert words in cover


def test_counts_add_up_over_boards_of_different_height():
    part = disc()
    made = item(part, count=7)
    one, other = layout_of([made], stack=3, copies=2), layout_of([made])
    layout = type(one)(boards=(*one.boards, *other.boards), gap=5.0, edge_margin=3.0, seed=0)
    (pattern,) = patterns_of(layout, [made])
    assert pattern.count == 7
    assert count_words(pattern, unit="mm") == "7 pieces: 2 x a stack of 3, 48 mm high and 1 board, 16 mm"
    assert count_words(pattern, unit="in").startswith("7 pieces: 2 x a stack of 3, 1 57/64 in high")


def test_holes_pockets_and_bores_are_told():
    bored = item(
        plank(150.0, 50.0, name="wing"), hand_holes=(HandHole(part="wing", diameter=10.0, depth=None, note="upright"),)
    )
    words = " ".join(page_words(book_of([item(rail(), name="rack"), bored])))
    assert "hole 4 mm, top 10 mm, 5 mm deep" in words
    assert "pocket 6.35 mm deep" in words
    assert "drill 10 mm, through, on the centre line" in words


def test_pages_name_their_neighbours():
    words = page_words(book_of([item(plank(420.0, 380.0))]))
    text = " ".join(words)
    assert "sheet 1, tile A1" in text
    assert "cut here and glue on A2" in text
    assert "A1 goes on here" in text
    assert "cut here and glue on A1" in text  # the tile to the right
    assert "How the pages go together" in words[0]
    # The name is on every page that shows something of the part.
    assert all("plank" in page for page in words[1:])


def test_one_page_needs_no_gluing():
    cover = page_words(book_of([item(disc())]))[0]
    assert "How the pages go together" not in cover
    assert "sheet number go together" not in cover


def test_inches_are_told_in_inches():
    words = " ".join(page_words(book_of([item(disc(76.2, bore=9.525))], paper="Letter", units="in")))
    assert "hole 3/8 in" in words
    assert "on Letter paper" in words


def test_the_same_job_gives_the_same_bytes_and_no_dates():
    made = [item(tag(), rail(), wedge(400.0), name="porch set")]
    data = book_of(made)
    assert data == book_of(made)
    for word in (b"CreationDate", b"ModDate", b"2000", b"/Author"):
        assert word not in data.split(b"stream", 1)[0] + data[data.rindex(b"endstream") :], word


def test_letters_of_other_scripts_are_on_the_page():
    words = page_words(book_of([item(disc(name="Чайка"), name="Möwe 棚")], title="Łódź ½"))
    assert "Чайка" in words[1]
    assert "Möwe [U+68DA]" in words[1]
    assert "Łódź ½" in words[0]


def test_twelve_parts_in_three_seconds_of_work():
    _, items = read_order(SPINNER)
    parts = [part for one in items for part in one.build.shaped][:10]
    made = [item(*parts, rail("key rack"), wedge(350.0), name="porch spinner")]
    layout = layout_of(made)
    assert len(patterns_of(layout, made)) == 12
    started = time.process_time()
    book_of(made, layout=layout, units="in", paper="Letter")
    # Measured: 0.5 to 0.9 s. Processor time, as others may have their share of the machine.
    assert time.process_time() - started < 3.0


def long_board():
    knot = {"at": [800, 70], "radius": 20}
    stock = {"name": "picket", "length": 1500, "width": 140, "thickness": 16, "keep_out": [knot]}
    return board_of(BoardStock.model_validate(stock))


def test_a_whole_layout_is_one_long_pattern():
    parts = [plank(300.0, 60.0, name="slat"), disc(120.0), rail("rack")]
    places = [Transform(x=20.0, y=20.0), Transform(x=500.0, y=70.0), Transform(x=1150.0, y=30.0, mirrored=False)]
    made = [item(*parts)]
    layout = layout_of(made, board=long_board(), places=places, stack=2, copies=3)
    words = page_words(layout_book(made, layout))
    text = " ".join(words)
    assert "board-01, the whole layout: 3 x a stack of 2, 32 mm high" in text
    # 1,450 mm of board with parts over windows of 252 mm that overlap by 12: seven pages.
    assert len(words) - 1 == 7
    for name in ("slat", "disc", "rack"):
        assert name in text


def layout_book(made, layout):
    return write_patterns(
        layout,
        items=made,
        wanted=PatternsWanted(parts=False, layout=True),
        paper="A4",
        machine=bandsaw(),
        title="Spring market",
        units="mm",
    ).data


def test_parts_of_far_too_many_pages_are_refused():
    with pytest.raises(InputError) as caught:
        book_of([item(plank(9000.0, 3000.0, name="barn door"))])
    assert 'part "barn door"' in str(caught.value)
    assert "pages" in str(caught.value)


def test_many_parts_fill_the_cover_and_go_on():
    parts = [disc(40.0 + number % 5, name=f"button {number}") for number in range(90)]
    data = book_of([item(*parts)])
    words = page_words(data)
    text = " ".join(words)
    assert all(f"button {number}" in text for number in range(90))
    assert f"page 1 of {len(words)}" in words[0]
    assert f"page {len(words)} of {len(words)}" in words[-1]
    assert len(read_pages(data)) == len(words)
