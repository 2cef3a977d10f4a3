"""The search for a layout: parts and boards in, where each part lies out.

plan_search.py      ways of repeating layouts, the best made better     first_plans.py, groups.py
batches.py          lots, repeats, stacks, units
board_search.py     tasks on several boards: filling, emptying          crew.py sends them to an executor
separation.py       tasks on arrangements: first, separated, shortened
packing_problem.py  boards and parts as the search sees them
kernel.py           the compiled heart: depth of overlap, moves, weights    bodies.py: its shapes
"""
