"""Programs swept over their board: each module is one question, such as what was cut into, and its judges.

Decisions:

- Thousands of motions through parts are not swept: a sample is judged first (proof/sweep/sweep.py). 100,000 motions
  took 4 to 6 GB and up to 40 s; now 160 to 240 MB and 2 to 3 s.
- How a board is held is judged from areas: cutters are swept half a millimetre wider than they are, so that wood
  under a millimetre joins nothing and coarse chords do; parts and waste are nodes, wood left in slots bridges; one
  depth-first search finds single bridges and what only hangs on a part. A third of the proof's time more. Only what
  is loose at the end is followed back, by halving, to the line that freed it. A piece that hangs on one part alone
  doesn't count towards its spread.
"""
