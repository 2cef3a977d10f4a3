"""Parts on boards.

A *layout* has the board and the place of each part. The *gap* is the least clear wood between two parts (or between a
part and a keep-out), the *edge margin* the least wood between a part and its board's edge. Boards cut in a *stack* of n
give n of each part; equal layouts are *copies* of one. A *set* is all the pieces of one item (layout/sets.py).

Decisions:

- A wood is a thickness and one or several materials. Each part is cut from one wood, the job's unless the order or the
  design says otherwise, and may come off any board of it. Woods that have no board in common are laid out one by one,
  each with cutters, gap and stack of its own, so that a plan for one never waits for another.
- A leftover is sawn off with one straight cut (layout/leftovers.py), which any shop can make. It is usable where a
  rectangle of the least size fits in it, clear of knots. It keeps clear of everything that the program sweeps, also
  leads.
"""
