"""Paper patterns at true size: parts, or a board's layout, to tiled pages of a PDF and to an SVG for a plotter.

    files.py        the files on paper of a job;  labels.py  labels for the parts
    pattern.py      the parts of a job, each once, with how many are wanted and how they are stacked; mirror lines
    picture.py      what is drawn of a part: lines by style, words, in mm
    wording.py      where on the part its words and its grain arrow find room, or beside it
    packing.py      one sheet over several pages; patterns onto as few pages as can be
    book.py         the pages, the first one with its words, and the marks on them
    plotter.py      the same lines as SVG
    pdf.py          lines, arcs and letters in mm to pages, the same bytes every time;  letters.py  their shapes

Frames: a *sheet* is one grid of pages, glued together; its origin is the lower left of its lower left page's window, Y
up. A *pattern's* frame is its part's, x along the grain where the part has one.

Decisions:

- Paper patterns are laid on pages by trying every free place of a grid of 2 mm at once (a convolution), in a few
  orders; the one with the fewest pages is kept. Arcs become Beziers within 0.002 mm, so a PDF is as true as the
  printer. The proof reads the paths back (proof/paper/pdf_reader.py; pypdf only opens the file) and compares them both
  ways with the parts. Tests read them with PDFium, and their pixels with poppler.
"""
