"""The search for a layout: parts and boards in, where each part lies out.

plan_search.py      ways of repeating layouts, the best made better     first_plans.py, groups.py
batches.py          lots, repeats, stacks, units
board_search.py     tasks on several boards: filling, emptying          crew.py sends them to an executor
separation.py       tasks on arrangements: first, separated, shortened
packing_problem.py  boards and parts as the search sees them
kernel.py           the compiled heart: depth of overlap, moves, weights    bodies.py: its shapes

How layouts are found:

- Overlap is allowed while searching (Gardeyn, Vanden Berghe and Wauters 2025; Umetani and others 2009). All parts
  are put where they should end up, and those that overlap are moved one at a time to where they overlap least,
  pairs that keep colliding weighing more and more, until nothing does. Boards lie side by side as boxes of one
  problem, so a part may change boards in one move; dog-ears, notches and knots are obstacles that never move.
- How deep two parts lie in each other is the sum over pairs of their convex pieces of the depth in the pair's
  no-fit polygon, the Minkowski sum of two convex polygons, worked out when first needed. Measured beside it: the
  deepest pair alone is quicker and worse (2 to 5 % longer strips on three of four instances). Pairs of many pieces
  get a grid that lists what counts in each cell (2 to 3 times the moves a second).
- A move tries 34 places, some near, some flush with others, most anywhere, and slides from the best three along the
  way out, each step as long as would end the overlap. Sliding took a third of the positions that coordinate descent
  took, and it ends exactly at contact, which is what perfect packings need (dighe1 and dighe2).
- Shorter by one part in a hundred, then less, and when that fails two large parts change places; steps of a
  thousandth and of five take turns, because whole-number outlines jump. Strips are searched with outlines of few
  corners and tightened with the fine ones.
- Compiled by numba, once on a machine (20 to 30 s, kept in its cache). Only +, -, x, / and roots are used, without
  fused operations, and shapes are rounded to 1e-8 mm, so the same seed gives the same moves wherever it runs.
  Threads share nothing but the problem; tasks take plain values, so processes and clusters can run them as well
  (tests/benchmarks/cluster.py).
- Work is counted in positions. Only --seconds and Ctrl-C let the clock decide. First plans may overdraw the budget
  by three times; from then on boards are filled in haste, and no more ways of repeating are tried than it takes
  (crew.py, first_plans.py). Only where haste finds no plan at all the boards are filled with care once more.
- Plans: every job is first laid out in a few ways - each board on its own, or one layout repeated so and so many
  times - quickly and part by part. Then, in the best of them, boards are emptied into others while the bound by
  area leaves hope, and the board with most left is shortened, taking parts in where others have room.
- check_layout judges every layout by Shapely distances on polygons of its own; nothing the engine believes counts.

- Plain rectangles in boxes without obstacles are also laid on a skyline (rectangles.py): row by row to fill boards,
  and with annealed orders to shorten them. With it h_n1a, ht_c1p1 and ht_c3p1 come out perfect in 10 s, where the
  general search stayed up to 3 % over and the library 3 to 5 %.

Measured on two cores, 20 s and two workers each, in one run of tests.benchmarks.nesting: 19 strips, mean ratio of
densities to spyrrow 0.9 1.0065, lowest 0.983 (swim); mean share of the best published densities 0.962 for both. 300
parts on 20 boards: a first layout after 1.1 s (30 kinds) and 1.9 s (all different), 346 and 362 MB at most.

Tried and not taken: a strip-packing library as the core (its clock decides, so no layout comes twice; no holes,
knots, mirrored parts or several boards); the engine before this one (parts in an order, no-fit areas by Clipper, a
search over orders: best levelled off at 43.4 to 45.9 in on the picket below).

Decisions:

- Stacks: a plan is judged by the cost of its boards, then by the runs of the machine where boards are stacked, then
  by the largest leftover; prefer in the job changes the order. Parts made meet the counts exactly: what does not go
  into full stacks is cut from lower ones.
"""
