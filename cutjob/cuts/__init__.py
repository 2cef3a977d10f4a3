"""What the cutter does: where its centre goes, side by side with the part.

An *outside cut* runs round a part, an *inside cut* round an opening, an *on-line* cut along a mark. A hole of the
cutter's own size is *drilled*, a wider round one *bored*. A *tab* is a bridge left under a part, a *lead-in* the way
into a path, a *ramp* a sloping way down, a *pass* one round at a depth.

Decisions:

- Fits stay on the waste side. Batten curves, splines and ellipses (their spans found by compiled code,
  geometry/longest_spans.py) become biarcs within 0.003 mm (deviation on the part), and the cutter stays that much
  further out, so a fit never eats into the part. Exact shapes have no such allowance.
- Holes are features, openings are contours. A round hole is drilled where a cutter has its size. Otherwise it is
    bored in a spiral, or cleared from the middle where its plug would be large (loose_plug). Any other opening is an
    inside cut.
- Pockets are rings of exact insets, never farther apart than the cutter's radius: all wood between two rings is
    then within reach of one of them, so the floor is covered without a search for gaps. A pocket drawn past its
    part's edge is cut back to it (parts/edge_pockets.py). Where it meets the edge it is pushed out again: by the
    cutter's radius, and by as much more as a cutter that touches the end of a wall reaches beyond the edge
    (cuts/open_pockets.py). Lines and arcs stay what they are; only bays and notches too tight for that use polygons.
- A path as long as Steiner's formula says has lost no corner. Only a shorter one is searched, with polygons, for
    corners out of the cutter's reach. This saves a tenth of the time for many smooth parts.
- The largest cutter that reaches every detail goes round the parts. A detail is a rounding tighter than a cutter,
    or a slot it does not get into. Sharp inside corners don't count: no cutter makes them.
"""
