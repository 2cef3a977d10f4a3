"""Parts on boards.

A *layout* says which part lies where on which board. The *gap* is the least clear wood between two parts (or between a
part and a keep-out), the *edge margin* the least wood between a part and its board's edge. A board cut in a *stack* of
n gives n of each part; equal layouts are *copies* of one.

Decisions:

- One thickness to a job. A part may come off any board, so all boards of a job are equally thick; boards in stock
  that are not are left aside.
- A leftover takes one straight cut (layout/leftovers.py), which any shop can make; a piece is usable when a
  rectangle of the least size fits in it clear of knots. What is written keeps clear of all the program sweeps,
  leads too.
"""
