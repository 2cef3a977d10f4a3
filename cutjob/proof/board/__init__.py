"""The facts a board's files are judged by: the required edges, where cutters ran, and how near they came. mm.

A *required edge* is a contour or feature that must be cut; its *rows* are its lines and arcs. A *track* is one line or
arc that a cutter ran. A `BoardCase` holds everything known about a board, for the judges in `sweep`.

Decisions:

- The swept area is grown curve by curve (proof/board/areas.py). When a whole path in very fine chords is grown at
  once, GEOS fills in up to 37 mm2 between arcs tighter than the cutter; a comparison with Clipper found this.
"""
