"""Places where a thing can wait while others are moved: free whatever the others do, if any are."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from math import dist, radians

import numpy as np
import shapely
from shapely.geometry import MultiPolygon, Polygon

from floorplan.motion.carry import CarrySpace
from floorplan.motion.carry import Pose as MotionPose
from floorplan.motion.turning import outline_at
from floorplan.search.trips import TODAY, WANTED, Standing, Trips
from floorplan.shop import building
from floorplan.shop.model import Pose

MOST = 6
"""Places kept for one thing."""
APART = 0.5
"""Places of one thing differ by at least this or by their turn [m]."""


def parking_places(
    trips: Trips, number: int, standing: Sequence[Standing] | None = None
) -> list[Pose]:
    """Poses at which a thing can wait, those that are least in the way of others first.

    Free beside what is `standing`; if that is not given, at both places of all others where there
    is such a place, else beside the others as they stand today; never on what is to be kept clear.
    """
    others = [i for i in range(len(trips.mobiles)) if i != number]
    if standing is not None:
        found = list(_free(trips, number, standing))
    else:
        both = [(i, place) for i in others for place in (TODAY, WANTED)]
        found = list(_free(trips, number, both)) or list(
            _free(trips, number, [(i, TODAY) for i in others])
        )
    ends = [trips.pose(number, place) for place in (TODAY, WANTED)]
    crossed = [*(straight_way(trips, i) for i in others), *_before_doors(trips)]

    def bother(pose: Pose) -> tuple[int, float]:
        at = trips.mobiles[number].pose(pose)
        shape = outline_at(trips.mobiles[number].body(None), at)
        way = sum(dist((at.x, at.y), (end.x, end.y)) for end in ends)
        return sum(bool(line.intersects(shape)) for line in crossed), way

    kept: list[Pose] = []
    for pose in sorted(found, key=bother):
        near = (p for p in kept if p.turn == pose.turn)
        if all(dist((p.x.value, p.y.value), (pose.x.value, pose.y.value)) > APART for p in near):
            kept.append(pose)
        if len(kept) == MOST:
            break
    return kept


def _before_doors(trips: Trips) -> list[Polygon]:
    """Where others come out of the doors that lead outside, should they have to."""
    reach = 2 * max(mobile.body(None).radius for mobile in trips.mobiles)
    shop = trips.floor.shop
    return [building.doorway(shop, door, reach=reach) for door in trips.floor.outside]


def straight_way(trips: Trips, number: int) -> shapely.Geometry:
    """The hull of a thing at both its places: roughly where it passes."""
    body = trips.mobiles[number].body(None)
    ends = [outline_at(body, trips.pose(number, place)) for place in (TODAY, WANTED)]
    return shapely.union_all(ends).convex_hull


def _free(trips: Trips, number: int, others: Sequence[Standing]) -> Iterator[Pose]:
    """Free poses at the turns of both ends: in the middle and in the corners of what is free."""
    floor, mobile = trips.floor, trips.mobiles[number]
    bands = mobile.bands(None)
    standing = [e for standing in others for e in trips.elements(standing)]
    solids = [
        e.volume.polygon
        for e in (*floor.staying, *standing)
        if floor.may_block(e, bands)
    ]  # fmt: skip
    clear = [
        e.volume.polygon for e in floor.keep_clears if floor.may_block(e, bands)
    ]  # fmt: skip
    space = CarrySpace(floor.ground(floor.outside, mobile), [*solids, *clear])
    reserve = floor.reserve(mobile, standing)
    turns = dict.fromkeys(row.turn for row in trips.places[number][: WANTED + 1])
    for turn in turns:
        wide = mobile.body(None, reserve)
        free = space.free(wide.at(radians(turn)))
        for x, y in _spots(MultiPolygon([p for p in free if isinstance(p, Polygon)])):
            yield mobile.standing(MotionPose(x, y, radians(turn)), turn)


def _spots(free: MultiPolygon) -> Iterator[tuple[float, float]]:
    """The roomiest place of each part, then its corners [m]."""
    for part in free.geoms:
        circle = shapely.maximum_inscribed_circle(part, tolerance=0.02)
        yield float(circle.coords[0][0]), float(circle.coords[0][1])
        for x, y in np.asarray(part.exterior.coords)[:-1]:
            yield float(x), float(y)
