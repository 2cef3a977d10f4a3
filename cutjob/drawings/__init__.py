"""Drawings of outlines, DXF and SVG, to closed contours in mm.

A *path* is what one entity of a drawing gives, a *chain* joins paths end to end, an *outline* is a chain that closes.
Gaps of up to 0.1 mm are closed and reported; anything worse is refused with its coordinates.
"""
