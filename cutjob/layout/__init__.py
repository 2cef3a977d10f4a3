"""Parts on boards.

A *layout* says which part lies where on which board. The *gap* is the least clear wood between two parts (or between a
part and a keep-out), the *edge margin* the least wood between a part and its board's edge. A board cut in a *stack* of
n gives n of each part; equal layouts are *copies* of one.
"""
