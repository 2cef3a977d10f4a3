"""Plane geometry in mm, independent of wood.

Conventions, stated once: Y up; angles in degrees where a person reads them and radians inside; a *segment* is a line or
an arc of less than a full turn; a *contour* is a closed chain of segments; a *region* is an outside contour,
counter-clockwise, and its holes, clockwise. A positive offset is away from the region. A *polygon* is Shapely's, and is
equal to a region within a stated chord error.

Decisions:

- Offsets keep arcs. geometry/offset.py takes the topology (what vanishes, splits, closes up) from Clipper on a polygon
  with 0.0005 mm chords, and traces each edge back to the segment or corner it came from. The result is built from the
  exact offset curves and their crossings, so that chords leave no mark, and the samples' programs have a fifth to a
  twelfth of the moves that chords of equal tolerance would need. GEOS could give the topology too, but it drops concave
  detail within a hundredth of the distance.
"""
