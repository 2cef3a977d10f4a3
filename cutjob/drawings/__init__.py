"""Drawings of outlines, DXF and SVG, to closed contours in mm.

A *path* is what one entity of a drawing gives, a *chain* joins paths end to end, an *outline* is a chain that closes.
Gaps of up to 0.1 mm are closed and reported; anything worse is refused with its coordinates.

Decisions:

- SVG is read by our own few modules (drawings/svg.py and beside it): the library tried cut faulty paths short in
  silence and followed a use of itself without end; it is the reference in the tests instead. DXF is read by ezdxf.
- Loose lines of a drawing form a network, each cell of which is an outline, so two parts drawn with one line
  between them are two parts; gaps closed within 0.1 mm are reported, others are refused with its coordinates.
"""
