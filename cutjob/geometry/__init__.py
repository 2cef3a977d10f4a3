"""Plane geometry in mm that knows nothing of wood.

Conventions, stated once: Y up; angles in degrees where a person reads them and radians inside; a *segment* is a line or
an arc of less than a full turn; a *contour* is a closed chain of segments; a *region* is an outside contour, run
counter-clockwise, and its holes, run clockwise. A positive offset lies away from the region. A *polygon* is Shapely's,
and stands for a region within a stated chord error.
"""
