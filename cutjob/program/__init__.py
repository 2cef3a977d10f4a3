"""The ordered cut: which path comes when, the moves between them, and how long it takes.

A *move* goes from where the cutter is to its end. An *air move* cuts nothing. Everything is in the board's frame, mm,
with Z 0 at the stock's top and negative below; a writer shifts to the program's own zero.

Decisions:

- A bridge as high as the stack is passed in the air, on every pass, in the direction of the cut. Round 300 x 200 mm
  of two boards of 16 mm, 11 passes, four bridges: 367 s; 247 s without bridges; to and fro between two bridges 253
  s, but every other pass against the direction the profile asks for; one way and back in the air 440 s. A mutant (a
  line left out before a bridge) showed that passes must be looked at right beside the bridges:
  proof/sweep/passes.py.
- The order in groups (program/precedence.py, ranks): what the groups cost in air is
  program.air_without_and_with_groups.
- Arcs (program/steps.py, judged by proof/gcode/feed_rules.py): feeds are lowered move by move once a step is made,
  so passes, leads, rings and bores need know nothing of it; arcs turning the way holes are cut are inside arcs.
- Air moves over clamps (program/obstacles.py) are raised once a section's order is known; the first of every
  section clears all, as nobody knows where the cutter comes from. program/travel.py is the way out at the end.
- Restart: a cut's first rapid writes X and Y before Z unless it rises or is at clear_z, so that begun from anywhere
  at that height it never comes down on a clamp.
- Ramps turn into a spiral. Each pass ramps down along the path from where the one before did, so every stretch is
  cut at the same depth, and only the last pass goes once right round again.
- The order: first who must wait for whom (precedence.py) and the fewest sections of one cutter each that this
  allows, breadth first over what is done; then, within a section, the nearest next start made better by a local
  search (tour_search.py: 2-opt, up to three places moved, neighbouring stretches exchanged, another start for a
  task, short double bridges as kicks), with dynamic programming over the starts before and after it; a few tasks
  are put in order exactly. Measured on random places against LKH through elkai: 200, 500, 1,000 and 2,000 places
  come out 0.2, 0.5, 0.6 and 0.7 % longer, in 0.1 to 0.7 s. numba does not notice a change in a module that another
  compiled one calls: clear __pycache__ after editing tour_moves.py.
- Long moves: a path's moves are joined to the longest lines and arcs within TOLERANCES.join; curves are fitted
  finer (curve) to pay for it. The samples' outlines take a third fewer moves; dynamic programming in the tests says
  that is within a tenth of the fewest possible between the same nodes.
"""
