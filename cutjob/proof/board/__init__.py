"""What a board's files are judged by: the edges that are wanted, where cutters ran, and how near they came. mm.

A *required edge* is a contour or feature that must be cut; its *rows* are its lines and arcs. A *track* is one line or
arc that a cutter ran. A `BoardCase` holds all that is known of a board, for the judges in `sweep`.

Decisions:

- What a cutter swept is grown curve by curve (proof/board/areas.py): GEOS fills in up to 37 mm2 between arcs
  tighter than the cutter when a whole path in very fine chords is grown at once; Clipper as second opinion found
  it.
"""
