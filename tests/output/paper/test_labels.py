from dataclasses import replace

import pytest

from cutjob.job.paper import LabelsWanted, label_sheets, papers
from cutjob.layout.layout import Layout, SawnPiece
from cutjob.output.paper.labels import labels_of, write_labels
from cutjob.parts.part import Build, Item, RodPart, SawnPart
from tests.output.paper.reading import page_sizes, page_words, word_boxes
from tests.output.paper.samples import disc, layout_of, plank

# A label's letters may touch its edge; PDFium's boxes are a little wider than the letters.
NEAR = 0.3


def batch(count=4):
    build = Build(
        shaped=(disc(100.0, name="gull"), plank(150.0, 40.0, name="wing"), plank(150.0, 40.0, name="wing")),
        sawn=(SawnPart(name="base", length=140.0),),
        rods=(RodPart(name="mast", diameter=9.525, length=300.0),),
    )
    return Item(name="gull spinner", design="own", size="medium", count=count, build=build)


def laid_out(items):
    layout = layout_of(items)
    piece = SawnPiece(
        item="gull spinner", part="base", length=140.0, width=90.0, thickness=16.0, count=4, board="picket"
    )
    return Layout(boards=layout.boards, sawn=(piece,), gap=5.0, edge_margin=3.0, seed=0)


def written(items, *, sheet="A4 3 x 8", first=1, title="Spring market", units="mm", paper="A4"):
    wanted = LabelsWanted(sheet=sheet, first=first)
    return write_labels(laid_out(items), items=items, wanted=wanted, paper=paper, title=title, units=units)


def cell(sheet, number):
    """The label's box on the page, mm from the lower left."""
    column, row = number % sheet.columns, number // sheet.columns
    left = sheet.left + column * sheet.step[0]
    top = papers()[sheet.paper].height - sheet.top - row * sheet.step[1]
    return left, top - sheet.height, left + sheet.width, top


@pytest.mark.parametrize("name", label_sheets())
def test_labels_fit_on_their_paper_and_beside_each_other(name):
    sheet = label_sheets()[name]
    paper = papers()[sheet.paper]
    _, y0, x1, _ = cell(sheet, sheet.count - 1)
    assert x1 <= paper.width + 1e-9
    assert y0 >= -1e-9
    assert sheet.step[0] >= sheet.width
    assert sheet.step[1] >= sheet.height
    # Sheets are cut in the middle of the paper: what is left on the right and below is about the same as on the left
    # and above.
    assert paper.width - x1 == pytest.approx(sheet.left, abs=1.5)
    assert y0 == pytest.approx(sheet.top, abs=1.5)
    assert name == f"{sheet.paper} {sheet.columns} x {sheet.rows}"


def test_what_labels_say():
    made = labels_of([batch()], laid_out([batch()]), title="Spring market", units="mm")
    assert [(one.part, one.pieces, one.item) for one in made] == [
        ("gull", "4 pieces", "gull spinner, 1 of 4"),
        ("wing", "8 pieces", "gull spinner, 2 of 4"),
        ("base", "4 pieces", "gull spinner, 3 of 4"),
        ("mast", "4 pieces", "gull spinner, 4 of 4"),
    ]
    assert [one.size for one in made] == [
        "100 x 100 x 16 mm",
        "150 x 40 x 16 mm",
        "140 x 90 x 16 mm",
        "9.5 x 300 mm",
    ]
    assert {one.order for one in made} == {"Spring market"}
    inches = labels_of([batch(1)], laid_out([batch(1)]), title="x", units="in")
    assert inches[0].pieces == "1 piece"
    assert inches[3].size == "3/8 x 11 13/16 in"


@pytest.mark.parametrize("name", label_sheets())
def test_every_word_is_on_its_label(name):
    sheet = label_sheets()[name]
    data = written(
        [batch()], sheet=name, title="A title that is much too long for labels so narrow as some of these are"
    )
    paper = papers()[sheet.paper]
    assert page_sizes(data)[0] == pytest.approx((paper.width, paper.height), abs=0.01)
    cells = [cell(sheet, number) for number in range(4)]
    boxes = word_boxes(data, 0)
    assert boxes
    for x0, y0, x1, y1, said in boxes:
        inside = [a - NEAR <= x0 and b - NEAR <= y0 and x1 <= c + NEAR and y1 <= d + NEAR for a, b, c, d in cells]
        assert sum(inside) == 1, said
        # Clear of the strip along the paper's edge that printers leave blank.
        assert x0 >= 4.5
        assert x1 <= paper.width - 4.5
    text = page_words(data)[0]
    for word in ("gull", "wing", "8 pieces", "base", "mast", "gull spinner"):
        assert word in text


def test_labels_that_are_gone_are_left_out():
    sheet = label_sheets()["A4 3 x 8"]
    boxes = word_boxes(written([batch()], first=23), 0)
    assert all(box[1] < cell(sheet, 21)[3] for box in boxes)
    assert len(page_words(written([batch()], first=23))) == 2
    assert page_words(written([batch()], first=23)) == page_words(written([batch()], first=23 + sheet.count))


def test_the_same_batch_gives_the_same_bytes():
    assert written([batch()]) == written([batch()])


def test_names_of_other_scripts():
    made = Item(name="чайка", design="own", size="medium", count=2, build=Build(shaped=(disc(name="крыло"),)))
    text = page_words(written([made]))[0]
    assert "крыло" in text
    assert "чайка" in text


def test_nothing_to_label():
    empty = Item(name="kit", design="own", size="medium", count=1, build=Build())
    with pytest.raises(ValueError, match="nothing to label"):
        written([empty])


def test_with_each_every_piece_has_a_label_with_its_item_and_where_it_is_cut():
    items = [batch()]
    laid = laid_out(items)
    laid = replace(laid, boards=tuple(replace(board, copies=4) for board in laid.boards))
    made = labels_of(items, laid, title="Spring market", units="mm", each=True)
    assert len(made) == 4 * 5
    assert [one.part for one in made[:5]] == ["gull", "wing", "wing", "base", "mast"]
    assert [one.item for one in made[5:7]] == ["gull spinner 2 of 4, part 1 of 5", "gull spinner 2 of 4, part 2 of 5"]
    cut = [one.pieces for one in made if one.part in ("gull", "wing")]
    assert len(set(cut)) == len(cut) == 12
    assert all(words.startswith("board-") for words in cut)
    assert {one.pieces for one in made if one.part in ("base", "mast")} == {""}
    alone = labels_of([batch(1)], laid_out([batch(1)]), title="x", units="in", each=True)
    assert alone[0].item == "gull spinner, part 1 of 5"
    data = write_labels(
        laid, items=items, wanted=LabelsWanted(each=True), paper="A4", title="Spring market", units="mm"
    )
    assert "gull spinner 4 of 4" in " ".join(page_words(data))
