"""Boards as SVG and PNG: parts, cuts, what holds them, and a key; colours as in `output.operations`.

Decisions:

- PNG is an extra (output/picture/png.py): resvg draws the SVG with faces that come with Python packages, none of
  the system's, so that a picture's bytes stay the same; a comparison with librsvg is in the tests.
"""
