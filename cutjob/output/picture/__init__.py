"""Boards as SVG and PNG: parts, cuts, what holds them, and a key; colours as in `output.operations`."""
