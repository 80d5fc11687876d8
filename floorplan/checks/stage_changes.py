"""What it costs to get from one stage to the next: things moved, things rebuilt, holes cut."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from math import hypot

import shapely
from shapely.geometry import LineString, Polygon

from floorplan.shop.air import Run
from floorplan.shop.building import floor_polygon
from floorplan.shop.model import Layout, Plan, Pose, Room, Shop
from floorplan.shop.scene import frame_of
from floorplan.units import TOLERANCE

SAME_PLACE = 0.0254 / 4
"""What is shifted by less has not been moved [m]."""
IN_PLACE = 0.9
"""Share of the smaller of two footprints that must lie in the larger for a replacement to stand
in the place of what it replaces [1]; common practice, no source."""


@dataclass(frozen=True, slots=True)
class Changes:
    """What is done between a stage and the next."""

    moved: tuple[str, ...] = ()
    """Things that stand elsewhere than in the stage before."""
    rebuilt: tuple[str, ...] = ()
    """In words: replacements in another place, ducts whose machine moves."""
    holes: tuple[str, ...] = ()
    """In words: doors, windows and ducts that need an opening in a wall."""
    new: tuple[str, ...] = ()
    """Things that come, also in the place of others."""
    gone: tuple[str, ...] = ()

    @property
    def count(self) -> int:
        """What is counted as `stage changes`; that things come and go is the plan itself."""
        return len(self.moved) + len(self.rebuilt) + len(self.holes)


def stands_elsewhere(new: Pose, old: Pose) -> bool:
    """Whether two poses differ by a quarter of an inch or a turn."""
    return (
        hypot(new.x.value - old.x.value, new.y.value - old.y.value) > SAME_PLACE
        or abs((new.turn - old.turn + 180.0) % 360.0 - 180.0) > 1e-6
    )


def changes(before: tuple[Shop, Layout], after: tuple[Shop, Layout], plan: Plan) -> Changes:
    """What is done from one stage to the next, each given by its shop and layout."""
    (old_shop, old), (shop, new) = before, after
    both = [thing for thing in shop.things if old_shop.has(thing.name)]
    moved = tuple(
        t.name
        for t in both
        if (p := new.pose(t.name)) is not None
        and (q := old.pose(t.name)) is not None
        and stands_elsewhere(p, q)
    )
    rebuilt = (*_replaced_elsewhere(before, after, plan), *_ducts_rebuilt(old_shop, shop, moved))
    return Changes(
        moved,
        rebuilt,
        tuple(_holes(old_shop, shop)),
        tuple(t.name for t in shop.things if not old_shop.has(t.name)),
        tuple(t.name for t in old_shop.things if not shop.has(t.name)),
    )


def _replaced_elsewhere(
    before: tuple[Shop, Layout], after: tuple[Shop, Layout], plan: Plan
) -> Iterator[str]:
    (old_shop, old), (shop, new) = before, after
    for thing in shop.things:
        name = plan.replaces.get(thing.name)
        if name is None or old_shop.has(thing.name) or not old_shop.has(name):
            continue
        p, q = new.pose(thing.name), old.pose(name)
        if p is None or q is None:
            continue
        footprint = Polygon(frame_of(thing, p).place(thing.body).points)
        forerunner = old_shop.thing(name)
        place = Polygon(frame_of(forerunner, q).place(forerunner.body).points)
        share = footprint.intersection(place).area / min(footprint.area, place.area)
        if share < IN_PLACE:
            yield f"{thing.name} not in the place of {name}"


def _ducts_rebuilt(old: Shop, new: Shop, moved: tuple[str, ...]) -> Iterator[str]:
    """Runs that hang in both stages although their machine has moved."""
    hung = {run.name for run in _runs(old)}
    for run in _runs(new):
        if run.name in hung and run.drop is not None and run.drop.machine in moved:
            yield f"duct {run.name}"


def _holes(old: Shop, new: Shop) -> Iterator[str]:
    """Openings in walls that the earlier stage does not have."""
    had = {o.name for o in old.doors} | {o.name for o in old.windows}
    openings = [(o.name, o.wall) for o in new.doors] + [(o.name, o.wall) for o in new.windows]
    for name, wall in openings:
        if name not in had:
            yield f"{name} in the {wall}"
    hung = {run.name for run in _runs(old)}
    for run in _runs(new):
        if run.name not in hung:
            for number in range(holes_of(run, new.room)):
                yield f"duct {run.name}" + (f" ({number + 1})" if number else "")


def _runs(shop: Shop) -> tuple[Run, ...]:
    return () if shop.air is None else tuple(run for run in shop.air.runs if not run.later)


def holes_of(run: Run, room: Room) -> int:
    """How often a run goes through the outside walls, or through the ceiling above the floor."""
    floor = floor_polygon(room)
    found = 0
    points = [(x.value, y.value) for x, y, _ in run.path]
    flat = [p for i, p in enumerate(points) if i == 0 or p != points[i - 1]]
    if len(flat) > 1:
        outside = shapely.line_merge(LineString(flat).difference(floor.buffer(TOLERANCE)))
        for part in shapely.get_parts(outside):
            ends = (part.interpolate(0), part.interpolate(part.length))
            found += sum(end.distance(floor) < 10 * TOLERANCE for end in ends)
    height = room.height.value
    for a, b in run.legs:
        low, high = sorted((a[2].value, b[2].value))
        inside = floor.covers(shapely.Point(a[0].value, a[1].value))
        found += int(inside and low < height - TOLERANCE and high > height + TOLERANCE)
    return found
