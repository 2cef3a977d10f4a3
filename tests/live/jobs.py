"""A small job that the tests of the live sheet change."""

from __future__ import annotations

STARS = """# the stall's stars
title = "Stars"
units = "mm"
machine = "bench-router"

[[make]]
name = "star"
design = "star"
size = "small"
count = 2

[[board]]
name = "larch"
length = 600
width = 140
thickness = 16
"""
