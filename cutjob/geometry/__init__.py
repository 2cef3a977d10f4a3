"""Plane geometry in mm that knows nothing of wood.

Conventions, stated once: Y up; angles in degrees where a person reads them and radians inside; a *segment* is a line or
an arc of less than a full turn; a *contour* is a closed chain of segments; a *region* is an outside contour, run
counter-clockwise, and its holes, run clockwise. A positive offset lies away from the region. A *polygon* is Shapely's,
and stands for a region within a stated chord error.

Decisions:

- Offsets keep arcs. geometry/offset.py takes the topology (what vanishes, splits, closes up) from Clipper on a
  polygon with 0.0005 mm chords and traces each edge back to the segment or corner it came from; the result is built
  from the exact offset curves and their crossings. Chords leave no mark, and the samples' programs have a fifth to
  a twelfth of the moves that chords of equal tolerance would take. GEOS would do as well for topology, but it drops
  concave detail within a hundredth of the distance.
"""
