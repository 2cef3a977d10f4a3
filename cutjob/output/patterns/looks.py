"""How the lines of patterns look: the colours of the pictures (Okabe-Ito), and dashes and widths for grey prints."""

from __future__ import annotations

from cutjob.output.operations import BLACK, BLUE, BLUISH_GREEN, REDDISH_PURPLE, SKY_BLUE, VERMILLION
from cutjob.output.pdf.book import Look

DARK = (70, 70, 70)
LIGHT = (150, 150, 150)

LOOKS: dict[str, Look] = {
    "board": Look(stroke=DARK, width=0.25),
    "grain-line": Look(stroke=LIGHT, width=0.1),
    "waste": Look(stroke=LIGHT, width=0.1),
    "keep-out": Look(stroke=DARK, width=0.2),
    "pocket": Look(stroke=SKY_BLUE, width=0.35, dashes=(3.0, 0.8)),
    "outline": Look(stroke=BLUE, width=0.3),
    "opening": Look(stroke=VERMILLION, width=0.3),
    "hole": Look(stroke=BLUISH_GREEN, width=0.3),
    "mark": Look(stroke=REDDISH_PURPLE, width=0.3, dashes=(3.0, 0.8, 0.8, 0.8)),
    "bore": Look(stroke=DARK, width=0.2, dashes=(1.6, 1.0)),
    "centre": Look(stroke=DARK, width=0.12, dashes=(6.0, 1.0, 1.0, 1.0)),
    "fold": Look(stroke=BLACK, width=0.5, dashes=(6.0, 2.5)),
    "grain": Look(stroke=BLACK, width=0.3),
}
NAMES = {
    "outline": "saw here",
    "opening": "opening, hatched: comes out",
    "hole": "hole, its centre crossed",
    "pocket": "pocket, cleared to its depth",
    "mark": "mark",
    "bore": "bore across, drilled by hand",
    "centre": "centre line",
    "fold": "fold",
    "grain": "grain",
    "board": "edge of the board",
    "keep-out": "keep clear: knot, nail, clamp",
}
# What is sawn, bored or drawn on the wood: no words may cover it.
EDGES = ("pocket", "outline", "opening", "hole", "mark")
UNDER_WORDS = tuple(style for style in LOOKS if style not in EDGES)
# In the order in which they are drawn, later ones on top; the words' white comes between the two.
ORDER = (*UNDER_WORDS, *EDGES)
