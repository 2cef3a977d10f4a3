"""How a board stays one piece until the last cut: clamps or screws, and bridges in the slots.

Cuts go in, cuts with bridges come out. *Node*: a part or a chunk of waste. *Held*: a node is held under a clamp or a
screw's head, or by bridges to a node that is.

Decisions:

- Tabs need wood to end in. In a dense layout neighbouring slots overlap, and a tab placed by the outline alone ends
  in air: the proof found this on the first real sample. holding/ground.py looks at what lies beyond the slot. If it
  is only a neighbour, the bridge runs from part to part and both paths rise over it.
- Bridges are chosen for the whole board (holding/choose.py). Chosen part by part, they left 27 of 35 parts of a
  sample hanging on waste that was no longer joined to the board. Each part takes bridges to nodes nearer to the hold
  first, opposite each other about its centroid. The proof (proof/sweep/held.py) finds bridges and chunks again from
  the swept files, and python -m tests.holding_sweep is a third judge with a reader of its own.
- Each part has its own rail (Clearance.rail). A narrow part keeps far enough off the board's edges for a rail of
  wood to stay there. A part too wide for that keeps farther off its neighbours instead, and hangs on them at both
  ends. One edge margin for all parts would refuse boards that hold a single wide part. All samples take as many
  boards as before; a job of 260 small parts on sheets takes 3 sheets where 2 would do without rails.
- Layouts that are almost held are laid out again with other seeds: of eight layouts of a full picket three were held.
- Windows: the layout is searched for on the whole board, with parts no longer than the bed. Windows may overlap.
  Starting each at the leftmost part that is not yet in one gives the fewest.
"""
