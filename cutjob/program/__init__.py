"""The ordered cut: the order of the paths, the moves between them, and the time all this takes.

A *move* goes from the cutter's present place to the move's end. An *air move* cuts nothing. Everything is in the
board's frame, mm, with Z 0 at the stock's top and negative below; a writer shifts to the program's own zero.

Decisions:

- On every pass the cutter goes over a bridge as high as the stack through the air, in the direction of the cut. Round
  300 x 200 mm of two boards of 16 mm, with 11 passes and four bridges, this takes 367 s (247 s without bridges). To
  and fro between two bridges would take 253 s, but every other pass would run against the direction the profile asks
  for. One way and back in the air would take 440 s. A mutant (a line left out before a bridge) showed that passes
  must be checked right beside the bridges: proof/sweep/passes.py.
- The order in groups (program/precedence.py, ranks): program.air_without_and_with_groups gives its cost in air moves.
- Arcs (program/steps.py, judged by proof/gcode/feed_rules.py): feeds are lowered move by move once a step is made,
  so passes, leads, rings and bores need not know of it; arcs turning the way holes are cut are inside arcs.
- Air moves over clamps (program/obstacles.py) are raised once a section's order is known. The first of every section
  clears everything, as nobody knows where the cutter comes from. program/travel.py makes the way out at the end.
- Restart: a cut's first rapid writes X and Y before Z unless it rises or is at clear_z. So a restart from anywhere at
  that height never comes down on a clamp.
- Ramps make a spiral. Each pass ramps down along the path from where the pass before did, so every stretch is cut at
  the same depth, and only the last pass goes once right round again.
- The order: precedence.py first finds which tasks wait for which, and the fewest sections of one cutter each that this
  allows, breadth first over the tasks done. Within a section the nearest next start gives an order, which a local
  search improves (tour_search.py: 2-opt, up to three places moved, neighbouring stretches exchanged, another start for
  a task, short double bridges as kicks), with dynamic programming over the starts before and after it. A few tasks are
  put in order exactly. Measured on random places against LKH through elkai: 200, 500, 1,000 and 2,000 places come out
  0.2, 0.5, 0.6 and 0.7 % longer, in 0.1 to 0.7 s. numba does not notice a change in a module that another compiled
  module calls: clear __pycache__ after editing tour_moves.py.
- Long moves: a path's moves are joined to the longest lines and arcs within TOLERANCES.join; curves are fitted finer
  (TOLERANCES.curve) to pay for it. The samples' outlines take a third fewer moves. Dynamic programming in the tests
  shows that this is within a tenth of the fewest possible between the same nodes.
"""
