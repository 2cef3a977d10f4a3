"""Programs swept over their board: each module is one question, such as which parts were cut into, and its judges.

Decisions:

- Thousands of motions through parts are not swept: a sample is judged first (proof/sweep/sweep.py). 100,000 motions
  took 4 to 6 GB and up to 40 s; now they take 160 to 240 MB and 2 to 3 s.
- How a board is held is judged from areas. Cutters are swept half a millimetre too wide, so that wood under a
  millimetre joins nothing and coarse chords are enough. Parts and waste are nodes, wood left in slots is a bridge. One
  depth-first search finds single bridges, and pieces that hang only on a part. This adds a third to the proof's time.
  Only pieces that are loose at the end are followed back, by halving, to the line that freed them. A piece that hangs
  on one part alone doesn't count towards that part's spread.
"""
