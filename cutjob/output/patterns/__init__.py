"""Paper patterns at true size: parts, or a board's layout, to tiled pages of a PDF and to an SVG for a plotter.

    pattern.py      the parts of a job, each once, with how many are wanted and how they are stacked
    symmetry.py     mirror lines;  half.py  what of a part lies on one side of one
    picture.py      what is drawn of a part: lines by style, words, in mm
    wording.py      where on the part its words and its grain arrow find room, or beside it
    tiles.py        one sheet over several pages: windows, seams, crosses
    packing.py      patterns onto as few pages as can be
    book.py         the pages;  cover.py  the first one;  marks.py  bars, crosses, frames
    plotter.py      the same lines as SVG

Frames: a *sheet* is what lies on one grid of pages once these are glued; its origin is the lower left of its lower left
page's window, Y up. A *pattern's* frame is its part's, x along the grain where the part has one.
"""
