"""Convex decomposition: a plan polygon as a few convex pieces that cover it without overlap."""

from itertools import pairwise

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import Polygon

Outline = NDArray[np.float64]
"""(n, 2) corners in counter-clockwise order, the first one not repeated [m]."""

SAME = 1e-9
"""Coordinates nearer than this are one coordinate [m]; far below the tolerance of the program."""


def convex_pieces(polygon: Polygon) -> list[Outline]:
    """Cut a polygon, with or without holes, into convex outlines that cover it exactly.

    A polygon whose edges all run along x or y is cut into boxes; any other one keeps its own
    corners and is cut along diagonals between them (constrained Delaunay triangles, of which
    neighbours are joined while they stay convex; never more than four times the fewest pieces
    possible: Hertel and Mehlhorn, Fast triangulation of simple polygons, FCT 1983).

    Raises
    ------
    ValueError
        If the polygon is empty or crosses itself.
    """
    if polygon.is_empty or not polygon.is_valid:
        raise ValueError(f"not a polygon with an area: {shapely.is_valid_reason(polygon)}")
    if not polygon.interiors:
        outline = tidy(np.asarray(polygon.exterior.coords)[:-1, :2])
        if is_convex(outline):
            return [outline]
    if _is_rectilinear(polygon):
        return _boxes(polygon)
    return _joined_triangles(polygon)


def signed_area(outline: Outline) -> float:
    """Area of a closed outline [m2], positive if its corners run counter-clockwise."""
    x, y = outline[:, 0] - outline[0, 0], outline[:, 1] - outline[0, 1]
    return float(0.5 * np.sum(x * np.roll(y, -1) - np.roll(x, -1) * y))


def tidy(outline: Outline) -> Outline:
    """Return the outline counter-clockwise, without repeated corners and corners on a straight."""
    points = np.array(outline, dtype=np.float64)
    if signed_area(points) < 0:
        points = points[::-1]
    ahead = np.roll(points, -1, axis=0) - points
    points = points[np.hypot(ahead[:, 0], ahead[:, 1]) > SAME]
    bends = _deviation(points) > SAME
    return np.ascontiguousarray(points[bends])


def is_convex(outline: Outline) -> bool:
    """Whether a counter-clockwise simple outline turns left at every corner, or goes straight."""
    ahead = np.roll(outline, -1, axis=0) - outline
    behind = np.roll(ahead, 1, axis=0)
    turn = behind[:, 0] * ahead[:, 1] - behind[:, 1] * ahead[:, 0]
    lengths = np.hypot(behind[:, 0], behind[:, 1]) + np.hypot(ahead[:, 0], ahead[:, 1])
    return bool(np.all(turn >= -SAME * lengths))


def _deviation(points: Outline) -> NDArray[np.float64]:
    """Return how far each corner stands off the line through its two neighbours [m]."""
    before, after = np.roll(points, 1, axis=0), np.roll(points, -1, axis=0)
    chord, arm = after - before, points - before
    length = np.hypot(chord[:, 0], chord[:, 1])
    cross = np.abs(chord[:, 0] * arm[:, 1] - chord[:, 1] * arm[:, 0])
    reach = np.hypot(arm[:, 0], arm[:, 1])
    return np.where(length > SAME, cross / np.maximum(length, SAME), reach)


def _rings(polygon: Polygon) -> list[Outline]:
    return [np.asarray(ring.coords)[:, :2] for ring in (polygon.exterior, *polygon.interiors)]


def _is_rectilinear(polygon: Polygon) -> bool:
    steps = np.vstack([np.abs(np.diff(ring, axis=0)) for ring in _rings(polygon)])
    return bool(np.all(steps.min(axis=1) <= SAME))


def _boxes(polygon: Polygon) -> list[Outline]:
    """Cut into boxes by slabs, in whichever of the two directions needs fewer."""
    upright = _slab_boxes(_rings(polygon))
    lying = _slab_boxes([ring[:, ::-1] for ring in _rings(polygon)])
    if len(upright) <= len(lying):
        corners = upright
    else:
        corners = [(x0, y0, x1, y1) for y0, x0, y1, x1 in lying]
    return [np.array([(x0, y0), (x1, y0), (x1, y1), (x0, y1)]) for x0, y0, x1, y1 in corners]


def _slab_boxes(rings: list[Outline]) -> list[tuple[float, float, float, float]]:
    """Cut at every x of an upright edge; a box that goes on unchanged is not cut."""
    starts = np.vstack([ring[:-1] for ring in rings])
    ends = np.vstack([ring[1:] for ring in rings])
    lying = np.abs(ends[:, 0] - starts[:, 0]) > SAME
    left = np.minimum(starts, ends)[lying, 0]
    right = np.maximum(starts, ends)[lying, 0]
    level = starts[lying, 1]
    cuts = np.unique(np.concatenate([left, right]))
    cuts = cuts[np.concatenate([[True], np.diff(cuts) > SAME])]
    growing: dict[tuple[float, float], float] = {}
    done = []
    for x0, x1 in pairwise(cuts):
        middle = 0.5 * (x0 + x1)
        levels = np.sort(level[(left < middle) & (right > middle)])
        spans = [(float(a), float(b)) for a, b in zip(levels[::2], levels[1::2], strict=True)]
        spans = [span for span in spans if span[1] - span[0] > SAME]
        ended = [span for span in growing if span not in spans]
        done += [(growing.pop(span), span[0], float(x0), span[1]) for span in ended]
        for span in spans:
            growing.setdefault(span, float(x0))
    done += [(x, span[0], float(cuts[-1]), span[1]) for span, x in growing.items()]
    return done


def _joined_triangles(polygon: Polygon) -> list[Outline]:
    """Triangulate between the corners, then drop each diagonal that both its ends can spare."""
    triangles = shapely.get_parts(shapely.constrained_delaunay_triangles(polygon))
    corners = [np.asarray(t.exterior.coords)[:3, :2] for t in triangles]
    points, index = np.unique(np.vstack(corners), axis=0, return_inverse=True)
    loops: list[list[int]] = []
    for triple in index.reshape(-1, 3):
        loop = [int(i) for i in triple]
        loops.append(loop if signed_area(points[loop]) > 0 else loop[::-1])
    owner: dict[tuple[int, int], int] = {}
    for number, loop in enumerate(loops):
        owner.update(dict.fromkeys(_sides(loop), number))
    diagonals = [edge for edge in owner if edge[0] < edge[1] and edge[::-1] in owner]
    diagonals.sort(key=lambda edge: (-float(np.hypot(*(points[edge[0]] - points[edge[1]]))), edge))
    for a, b in diagonals:
        first, second = owner[a, b], owner[b, a]
        joined = _join(loops[first], loops[second], a, b)
        if is_convex(points[joined]):
            loops[first], loops[second] = joined, []
            owner.update(dict.fromkeys(_sides(joined), first))
    return [tidy(points[loop]) for loop in loops if loop]


def _sides(loop: list[int]) -> list[tuple[int, int]]:
    return list(zip(loop, loop[1:] + loop[:1], strict=True))


def _join(one: list[int], other: list[int], a: int, b: int) -> list[int]:
    """Join two loops at the edge that `one` runs from a to b and `other` from b to a."""
    at = one.index(b)
    around = one[at:] + one[:at]  # b ... a
    at = other.index(a)
    back = other[at:] + other[:at]  # a ... b
    return around + back[1:-1]
