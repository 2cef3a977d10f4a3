"""Parts on boards.

A *layout* has the board and the place of each part. The *gap* is the least clear wood between two parts (or between a
part and a keep-out), the *edge margin* the least wood between a part and its board's edge. Boards cut in a *stack* of n
give n of each part; equal layouts are *copies* of one.

Decisions:

- One thickness to a job. A part may come off any board, so all boards of a job are equally thick; boards in stock of
  another thickness are left aside.
- A leftover is sawn off with one straight cut (layout/leftovers.py), which any shop can make. It is usable where a
  rectangle of the least size fits in it, clear of knots. It keeps clear of everything that the program sweeps, also
  leads.
"""
