"""What a board's files are judged by: the edges that are wanted, where cutters ran, and how near they came. mm.

A *required edge* is a contour or feature that must be cut. A *track* is a stretch that a cutter ran at one depth.
"""
