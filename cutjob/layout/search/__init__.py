"""The search for a layout: from parts and boards to the place of each part.

plan_search.py      ways of repeating layouts; improves the best        first_plans.py, board_groups.py
batches.py          lots, repeats, stacks, units
board_search.py     tasks on several boards: filling, emptying          crew.py sends them to an executor
separation.py       tasks on arrangements: first, separated, shortened
packing_problem.py  boards and parts in the search's form
kernel.py           the compiled heart: depth of overlap, moves, weights    bodies.py: its shapes

How layouts are found:

- Overlap is allowed during the search (Gardeyn, Vanden Berghe and Wauters 2025; Umetani and others 2009). All parts are
  placed, and those that overlap are moved one at a time to a place with the least overlap. Pairs that keep colliding
  get larger and larger weights, until nothing overlaps. The boards are boxes side by side in one problem, so a part can
  change boards in one move; dog-ears, notches and knots are obstacles that never move.
- The depth of an overlap is the sum, over pairs of the two parts' convex pieces, of the depth in the pair's no-fit
  polygon. This is the Minkowski sum of two convex polygons, and is worked out when first needed. Measured against it,
  the deepest pair alone is faster but worse (2 to 5 % longer strips on three of four instances). Pairs with many pieces
  get a grid that lists the relevant ones in each cell (2 to 3 times the moves a second).
- A move tries 34 places, some near, some flush with other parts, most at random. It slides from the best three along
  the way out, with steps just long enough to end the overlap. Sliding took a third of the positions of coordinate
  descent, and ends exactly at contact, as perfect packings need (dighe1 and dighe2).
- A board is shortened by one part in a hundred, then by less; when that fails, two large parts change places. Steps of
  one and of five thousandths take turns, because outlines in whole numbers jump. Strips are searched with outlines of
  few corners and tightened with the fine ones.
- The kernel is compiled by numba, once on a machine (some 10 s, kept in its cache). Only +, -, x, / and roots are
  used, without fused operations, and shapes are rounded to 1e-8 mm, so the same seed gives the same moves on every
  machine. Threads only share the problem; tasks take plain values, so processes and clusters can run them as well
  (tests/benchmarks/cluster.py).
- Work is counted in positions. The clock decides only with --seconds and Ctrl-C. First plans may use three times the
  budget; from then on boards are filled in haste, and only as many ways of repeating are tried as needed (crew.py,
  first_plans.py). Where no plan is found in haste, the boards are filled with care once more.
- Plans: every job is first laid out quickly, part by part, in a few ways: each board on its own, or one layout repeated
  several times. Then, in the best of them, boards are emptied into others as long as the bound by area allows it, and
  the board with the most free wood is shortened, with parts moved to other boards that have room.
- Emptying starts with the emptiest board of the plan whose other boards would be least full. It goes step by step: a
  part is put on another board, smaller parts make room for it on any board, and what fits is kept even if the board is
  not empty yet. All parts of a board at once took about four times the work for as much, and a normal search cut it off
  before it ended; it is only tried for the last small parts, and where steps fail.
- Boards with the same parts are laid alike (batches.py), so that they are one layout; parts of equal shape change
  places for it. Each window of a board longer than the bed counts as a layout and as a run.
- check_layout judges every layout by Shapely distances on polygons of its own, independently of the engine.

- Plain rectangles in boxes without obstacles are also laid on a skyline (rectangles.py): row by row to fill boards,
  and with annealed orders to shorten them. This way h_n1a, ht_c1p1 and ht_c3p1 are perfect in 10 s, where the general
  search stayed up to 3 % over and the library 3 to 5 %.

Measured on two cores, 20 s and two workers each, in one run of tests.benchmarks.nesting: 19 strips, mean ratio of
densities to spyrrow 0.9 1.0065, lowest 0.983 (swim); mean share of the best published densities 0.962 for both. 300
parts on 20 boards: a first layout after 1.1 s (30 kinds) and 1.9 s (all different), 346 and 362 MB at most.

Tried and rejected: a strip-packing library as the core (its clock decides, so layouts can't be repeated; it has no
holes, knots, mirrored parts or several boards); and our engine before this one, a search over the order of parts with
no-fit areas by Clipper (its best lengths stayed at 43.4 to 45.9 in on a picket).

Decisions:

- A plan is judged by the cost of its boards, then by the number of different layouts, then by the largest leftover;
  where boards are stacked, by the runs of the machine before the layouts. The words of prefer come before all this. The
  numbers of parts are exact: parts that don't make a full stack are cut from a lower one.
"""
