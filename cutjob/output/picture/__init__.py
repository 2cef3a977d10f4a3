"""Boards as SVG and PNG: parts, cuts, clamps and bridges, and a key; colours are those of `output.operations`.

Decisions:

- PNG is an extra (output/picture/png.py). resvg draws the SVG with faces that come with Python packages, never the
  system's, so that a picture's bytes stay the same. The tests compare it with librsvg.
"""
