"""What the cutter does: where its centre goes, side by side with the part.

An *outside cut* runs round a part, an *inside cut* round an opening, an *on-line* cut along a mark. A hole of the
cutter's own size is *drilled*, a wider round one *bored*. A *tab* is a bridge left under a part, a *lead-in* the way
into a path, a *ramp* a sloping way down, a *pass* one round at a depth.

Decisions:

- Fit and waste side. Batten curves, splines and ellipses (their spans found by compiled code,
  geometry/longest_spans.py) become biarcs within 0.003 mm (deviation on the part), and the cutter stays that much
  further out, so a fit never eats into the part. Exact shapes have no such allowance.
- Holes are features, openings are contours. A round hole becomes a drilled one where the cutter's size agrees, else
  a bore that spirals down, or is cleared from the middle where its plug would be large (loose_plug); any other
  opening is an inside cut.
- Pockets are rings of exact insets, never farther apart than the cutter's radius: whatever lies between two rings
  is then within reach of one of them, so the floor is covered without a search for gaps. A pocket drawn past its
  part's edge is cut back to it (parts/edge_pockets.py); where it meets the edge it is pushed out again, by the
  cutter's radius and as much more as a cutter that touches the end of a wall lies beyond the edge
  (cuts/open_pockets.py). Lines and arcs stay what they are; only in bays and notches too tight for that are
  polygons taken.
- Corners out of a cutter's reach are looked for with polygons only where the offset path is shorter than Steiner's
  formula says: a path as long as that has lost no corner. It saves a tenth of the time for many smooth parts.
- The largest cutter that reaches every detail goes round the parts. A rounding tighter than a cutter, or a slot it
  does not get into, is a detail; a sharp inside corner is for no cutter, and does not count.
"""
