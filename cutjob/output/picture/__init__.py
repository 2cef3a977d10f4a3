"""Boards as SVG and PNG: parts, cuts, clamps and bridges, and a key; colours are those of `output.operations`. And
finished items in wood and paint (finished.py, from the solids of solids.py).

Decisions:

- PNG is an extra (output/picture/png.py). resvg draws the SVG with faces that come with Python packages, never the
  system's, so that a picture's bytes stay the same. The tests compare it with librsvg.
- A finished item is drawn as solids seen along parallel lines, so that front and side come from one set of places.
  Everything is a plain area of one colour, shadows too: SVG needs no ids, and the booklet's PDF no transparency, which
  the proof's reader would refuse.
"""
