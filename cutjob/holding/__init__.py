"""How a board stays one piece until the last cut: clamps or screws, and bridges in the slots.

Cuts go in, cuts with bridges come out. *Node*: a part or a chunk of waste. *Held*: under a clamp or a screw's head, or
joined by bridges to what is.

Decisions:

- Tabs need wood to end in. In a dense layout neighbouring slots overlap, and a tab placed by the outline alone ends
  in air: the proof found this on the first real sample. holding/ground.py asks what lies beyond the slot; where
  only a neighbour does, the bridge runs from part to part and both paths rise over it.
- Bridges are chosen for the whole board (holding/choose.py), not part by part: chosen so, 27 of 35 parts of a
  sample hung on waste that was no longer joined to the board. Nodes are parts and chunks of waste; each part takes
  bridges to nodes nearer to the hold first, opposite each other about its centroid. The proof (proof/sweep/held.py)
  finds bridges and chunks again from the swept files, and python -m tests.holding_sweep is a third judge with a
  reader of its own.
- Rails are a matter of each part (Clearance.rail): a part narrow enough keeps so far off the board's edges that a
  rail of wood stays there; one too wide for that keeps farther off what lies beside it instead, and hangs on that
  at both ends. One edge margin for all parts would refuse boards that hold a single wide part. All samples take as
  many boards as before; a job of 260 small parts on sheets takes 3 sheets where 2 would do loose.
- Layouts that are almost held are laid out again with other seeds: of eight of a full picket three were held.
- Windows: the layout is searched for on the whole board, parts no longer than the bed; windows may overlap, and
  taking the leftmost part that is not yet in one gives the fewest.
"""
