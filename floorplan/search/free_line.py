"""Where a thing can stand whose reference point is kept to a line."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import shapely
from shapely.geometry import LineString, Point, Polygon
from shapely.geometry.base import BaseGeometry

from floorplan.geometry.nofit import no_fit_sets
from floorplan.geometry.pieces import Conflict, Piece
from floorplan.units import TOLERANCE


def free_on_line(
    own: Sequence[Piece], others: Sequence[Piece], conflict: Conflict, line: BaseGeometry
) -> tuple[list[LineString], list[Point]]:
    """Free stretches and single places on a line or at a point [m]; touching is allowed."""
    sets = no_fit_sets(own, others, conflict)
    shapes = [shapely.box(*b) for b in sets.boxes] + [Polygon(o) for o in sets.outlines]
    inner = shapely.buffer(np.array(shapes, dtype=object), -TOLERANCE, join_style="mitre")
    left = line.difference(shapely.union_all(inner))
    lines: list[LineString] = []
    points: list[Point] = []
    for part in shapely.get_parts(left):
        if part.is_empty:
            continue
        if isinstance(part, LineString) and part.length > 4 * TOLERANCE:
            lines.append(part)
        else:
            middle = part.centroid
            points.append(Point(middle.x, middle.y))
    return lines, points
