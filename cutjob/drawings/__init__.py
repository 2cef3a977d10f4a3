"""Reads drawings of outlines, DXF and SVG, into closed contours in mm.

A *path* comes from one entity of a drawing, a *chain* joins paths end to end, and an *outline* is a closed chain. Gaps
up to 0.1 mm are closed and reported; larger ones are refused with their coordinates.

Decisions:

- SVG is read by our own modules (drawings/svg.py and its neighbours). The library that was tried cut faulty paths short
  without a message and never ended on a group that uses itself; the tests compare with it. DXF is read by ezdxf.
- Loose lines of a drawing form a network in which each cell is an outline, so two parts that share a line are two
  parts.
"""
