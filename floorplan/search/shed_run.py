"""The duct from the shop to a shed: through which wall, how long, with how many elbows, what air.

Where the file gives runs, the way goes on from where the last one is at its highest to the wall,
straight through it, and to the middle of the shed. Where it asks for runs to be found, that is an
estimate for looking at many places; for a place that is shown, all runs to it are found.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from itertools import pairwise
from math import hypot

import numpy as np
from shapely.geometry import LineString, Polygon

from floorplan.checks.duct_finding import holes_of, wanted_ports, with_found_runs
from floorplan.checks.duct_system import ducts_of, port_spot
from floorplan.geometry.affine import Affine, Array
from floorplan.search.shed_ground import allowed_walls, outer_room
from floorplan.shop.air import AirPlan, Drop, Hose, Run, Spot, turn_between
from floorplan.shop.building import Frame, frame
from floorplan.shop.model import Door, Shop, Wall, Window
from floorplan.shop.scene import Scene, scene
from floorplan.shop.shed_body import ShedBody
from floorplan.shop.shed_inlet import UNDER_ROOF, middle_of
from floorplan.units import TOLERANCE

USUAL_DUCT = 0.1524
"""Diameter where the file gives no run [m]; 6 in, common practice, no source."""
ELBOW = 1.5
"""Straight duct that an elbow is counted as, to choose between ways [m]; common practice."""


@dataclass(frozen=True, slots=True)
class Begin:
    """Where the way to the shed begins, and what is led there."""

    spot: tuple[float, float, float]
    """[m]"""
    run: Run | None
    """The run of the file that is led on."""
    diameter: float
    """[m]"""
    words: str
    to_middle: bool = False
    """Whether it is led into the shed in the line of its middle, as runs that are found are."""


@dataclass(frozen=True, slots=True, eq=False)
class Way:
    """One way from the shop to a shed."""

    wall: str
    along: float
    """Where it goes through, from the wall's west or south end [m]."""
    height: float
    """[m]"""
    points: tuple[tuple[float, float, float], ...]
    """From where it begins to the middle of the shed [m]."""
    begin: Begin
    others: int = 0
    """Further buildings that it would have to pass."""
    laid: AirPlan | None = None
    """With all the runs that were found to this place, where runs are found."""

    @property
    def lines(self) -> tuple[tuple[tuple[float, float, float], ...], ...]:
        """The way, or every run that was found [m]."""
        return (self.points,) if self.laid is None else tuple(map(_spots_of, self.laid.runs))

    @property
    def length(self) -> float:
        """Of all its duct [m]."""
        steps = (np.diff(np.array(line), axis=0) for line in self.lines)
        return float(sum(np.linalg.norm(step, axis=1).sum() for step in steps))

    @property
    def elbows(self) -> int:
        """Its corners."""
        if self.laid is None:
            return max(len(self.points) - 2, 0)
        turns = [
            turn_between(a, b, c) > 1.0
            for run in self.laid.runs
            for (a, b), (_, c) in pairwise(run.legs)
        ]
        return sum(turns)

    @property
    def cost(self) -> float:
        """What is least for the best way [m]."""
        return self.length + ELBOW * self.elbows

    @property
    def outside(self) -> float:
        """Length of duct outdoors between the shop and the shed's middle [m]."""
        ends = np.array(self.points[-2:])
        return float(np.linalg.norm(np.diff(ends, axis=0), axis=1).sum())

    @property
    def widest(self) -> float:
        """The largest diameter of its duct [m]."""
        if self.laid is None:
            return self.begin.diameter
        return max(run.diameter.value for run in self.laid.runs)


def begin_of(made: Scene) -> Begin:
    """Where duct for a shed begins: on the main run, at a port, or in the middle of the room.

    Where runs are to be found: in the middle of the ports that want them.
    """
    shop = made.shop
    high = shop.room.height.value - UNDER_ROOF - USUAL_DUCT / 2
    if shop.air is not None and shop.air.find is not None:
        spots = np.array([one.spot for one in wanted_ports(made, shop.air.find)])
        if len(spots):
            x, y = spots[:, :2].mean(axis=0).tolist()
            return Begin((x, y, high), None, USUAL_DUCT, "the machines", to_middle=True)
    elif shop.air is not None:
        for run in shop.air.runs:
            if run.junction is None and not run.later:
                at = _kept(run)[-1]
                spot = (at[0].value, at[1].value, at[2].value)
                return Begin(spot, run, run.diameter.value, f"the end of {run.name}")
    ports = list(_ports(made))
    if ports:
        name, spot_of = ports[0]
        return Begin((spot_of[0], spot_of[1], high), None, USUAL_DUCT, f"over {name}")
    middle = made.floor.representative_point()
    return Begin((middle.x, middle.y, high), None, USUAL_DUCT, "the middle of the room")


def _kept(run: Run) -> tuple[Spot, ...]:
    """A run's path without what falls to a collector at its end."""
    highest = max(range(len(run.path)), key=lambda i: (round(run.path[i][2].value, 6), i))
    return run.path[: highest + 1]


def _ports(made: Scene) -> Iterator[tuple[str, tuple[float, float]]]:
    """Machines with a dust port that stand, the largest port first."""
    rows = []
    for thing in made.shop.things:
        for port in thing.ports:
            spot = port_spot(made, Drop(thing.name, port.name, Hose(None, port.diameter, 1.0)))
            if spot is not None:
                rows.append((-port.diameter.value, thing.name, (spot[0].value, spot[1].value)))
    for _, name, at in sorted(rows):
        yield name, at


def best_way(made: Scene, body: ShedBody, high: float, begin: Begin) -> Way | None:
    """The least way to a shed of this height [m]; None where no wall can be gone through."""
    ways = [
        way
        for wall in allowed_walls(made.shop)
        for way in _through(made.shop, wall, body, high, begin)
    ]
    return min(ways, key=lambda way: (way.others, way.cost, way.wall, way.along), default=None)


def _through(shop: Shop, wall: Wall, body: ShedBody, high: float, begin: Begin) -> Iterator[Way]:
    """Ways through one wall: straight into the shed, or with an elbow outdoors."""
    line, thick = frame(wall), shop.room.wall_thickness.value
    radius = begin.diameter / 2
    height = min(begin.spot[2], high - UNDER_ROOF - radius)
    if height < radius:
        return
    start_along, start_in = _local(line, begin.spot)
    middle = body.walls.points.mean(axis=0)
    shed_along, shed_in = _local(line, middle)
    if shed_in > -thick:
        return
    low, far = _span(line, body.walls.points, radius)
    if begin.to_middle:
        low = far = shed_along
    free = list(_free_stretches(shop, wall, height, radius))
    straight = [(max(a, low), min(b, far)) for a, b in free if min(b, far) >= max(a, low)]
    for stretches, bends in ((straight, False), (free, True)):
        for a, b in stretches:
            along = min(max(start_along, a), b)
            ends = [(along, shed_in)] if not bends else [(along, shed_in), (shed_along, shed_in)]
            points = [(start_along, start_in), (along, start_in), *ends]
            yield _way(shop, wall, line, points, along, height, begin, body)


def _way(
    shop: Shop,
    wall: Wall,
    line: Frame,
    corners: list[tuple[float, float]],
    along: float,
    height: float,
    begin: Begin,
    body: ShedBody,
) -> Way:
    flat = [tuple(n.value for n in line.at(a, inward)) for a, inward in corners]
    spots = [begin.spot, *((x, y, height) for x, y in flat)]
    points: list[tuple[float, float, float]] = []
    for spot in spots:
        if not points or hypot(*(p - q for p, q in zip(spot, points[-1], strict=True))) > 1e-6:
            points.append(spot)
    points = _joined(points)
    outdoors = LineString([p[:2] for p in points]).difference(outer_room(shop).buffer(TOLERANCE))
    outdoors = outdoors.difference(Polygon(body.walls.points).buffer(TOLERANCE))
    assert shop.site is not None
    met = sum(
        outdoors.intersects(Polygon(b.outline.points))
        for b in shop.site.buildings
        if b.height is None or b.height.value > height - begin.diameter / 2
    )
    again = LineString([p[:2] for p in points[-2:]]).intersection(outer_room(shop))
    met += sum(1 for part in getattr(again, "geoms", [again]) if part.length > TOLERANCE) > 1
    return Way(wall.name, along, height, tuple(points), begin, int(met))


def _joined(points: list[tuple[float, float, float]]) -> list[tuple[float, float, float]]:
    """The corners only: points on a straight stretch are left out."""
    out = points[:1]
    for i in range(1, len(points) - 1):
        a, b, c = (np.array(p) for p in (out[-1], points[i], points[i + 1]))
        if float(np.linalg.norm(np.cross(b - a, c - b))) > 1e-9:
            out.append(points[i])
    return [*out, points[-1]]


def _local(line: Frame, spot: Array | tuple[float, ...]) -> tuple[float, float]:
    """A point along a wall and into the room from its face [m]."""
    step = np.array(spot[:2]) - np.array([n.value for n in line.origin])
    return float(step @ line.along), float(step @ line.inward)


def _span(line: Frame, corners: Array, radius: float) -> tuple[float, float]:
    """Between which lines across the wall a duct can go straight to the shed's middle [m].

    A shed that stands square to the wall can be entered anywhere along its side, any other one in
    the line of its middle.
    """
    steps = (np.roll(corners, -1, axis=0) - corners) @ line.along
    sizes = np.hypot(*(np.roll(corners, -1, axis=0) - corners).T)
    square = bool(np.all((np.abs(steps) < 1e-6) | (np.abs(np.abs(steps) - sizes) < 1e-6)))
    along = (corners - np.array([n.value for n in line.origin])) @ line.along
    if not square or np.ptp(along) < 2 * radius:
        middle = float(along.mean())
        return middle, middle
    return float(along.min()) + radius, float(along.max()) - radius


def _free_stretches(
    shop: Shop, wall: Wall, height: float, radius: float
) -> Iterator[tuple[float, float]]:
    """Stretches of a wall in which a duct meets no door and no window [m]."""
    length = frame(wall).length.value
    openings: tuple[Door | Window, ...] = (*shop.doors, *shop.windows)
    bands = [(o, o.sill.value, o.head.value) for o in openings]
    blocked = [
        (opening.start.value, (opening.start + opening.width).value)
        for opening, low, high in bands
        if opening.wall == wall.name
        and height + radius > low + TOLERANCE
        and height - radius < high - TOLERANCE
    ]
    at = 0.0
    for start, end in [*sorted(blocked), (length, length)]:
        if start - radius >= at + radius:
            yield at + radius, start - radius
        at = max(at, end)


# --- runs that are found -----------------------------------------------------------------------


def finds_runs(shop: Shop) -> bool:
    """Whether the file asks for runs to be found to the shed."""
    air = shop.air
    return air is not None and air.find is not None and air.collector is not None


def found_way(made: Scene, shop: Shop) -> tuple[Way | None, str]:
    """All runs to the shed where it stands in `shop`, or why there are none.

    The collector's inlet is taken in the middle of the shed, at the height that the file tells;
    where the file has the shed, it is where the file has it.
    """
    air, site = shop.air, shop.site
    assert air is not None
    assert air.collector is not None
    assert site is not None
    assert site.shed is not None
    assert site.shed.place is not None
    inlet = air.collector.inlet
    if inlet is None:
        return None, "nobody said how high the collector's inlet is"
    own = None if made.shop.site is None else made.shop.site.shed
    if inlet.in_shed or own is None or own.place is not site.shed.place:
        spot = middle_of(site.shed, site.shed.place, inlet.spot)
        inlet = replace(inlet, spot=spot, in_shed=True)
    at = replace(air.collector, inlet=inlet)
    bare = replace(air, collector=at, runs=(), no_way=())
    found = with_found_runs(replace(shop, air=bare), made.layout).air
    if found is None or not found.runs:
        told = () if found is None else found.no_way
        return None, "; ".join(told) or "no machine with a port has its place"
    main = next(run for run in found.runs if run.junction is None)
    holes = holes_of(shop, (main,))
    if not holes:
        return None, "no run goes out of the room"
    wall, along, height = holes[-1]
    points = _spots_of(main)
    count = sum(run.drop is not None for run in found.runs)
    words = "the machine" if count == 1 else f"{count} ports"
    begin = Begin(points[0], main, main.diameter.value, words)
    return Way(wall, along, height, points, begin, laid=found), ""


def _spots_of(run: Run) -> tuple[tuple[float, float, float], ...]:
    return tuple((x.value, y.value, z.value) for x, y, z in run.path)


# --- what air the machines get -----------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Airflow:
    """What flows with the collector in the shed."""

    flow: float
    """At the machine that gets least [m3/s]."""
    machine: str
    share: float | None
    """Of what it needs [1], None where the file does not say."""
    most: float
    """Through the collector, at most [m3/s]."""


def with_way(shop: Shop, way: Way) -> Shop | None:
    """The shop with its runs led on to the shed; None where the file tells of no runs."""
    air, run = shop.air, way.begin.run
    if way.laid is not None:
        return replace(shop, air=way.laid)
    if air is None or run is None:
        return None
    kept = _kept(run)
    further = [(Affine(x), Affine(y), Affine(z)) for x, y, z in way.points[1:]]
    led = replace(run, path=(*kept, *further))
    runs = tuple(led if old.name == run.name else old for old in air.runs)
    return replace(shop, air=replace(air, runs=runs))


def airflow(made: Scene, way: Way) -> Airflow | None:
    """Operating points with the duct led to the shed; None where no curve or run is known."""
    shop = with_way(made.shop, way)
    if shop is None or shop.air is None or shop.air.collector is None:
        return None
    ducts = ducts_of(scene(shop, made.layout))
    if ducts is None or ducts.system is None:
        return None
    worst: tuple[float, float, str, float | None] | None = None
    most = 0.0
    for state in ducts.states:
        point = state.worst
        if not point.meets:
            continue
        most = max(most, state.clean.flow or 0.0)
        for name in state.runs:
            drop = ducts.plan.run(name).drop
            assert drop is not None
            got = point.port_flow(name)
            share = got / drop.needs if drop.needs else None
            row = (share if share is not None else 1e9, got, drop.machine, share)
            worst = row if worst is None or row[:2] < worst[:2] else worst
    return None if worst is None else Airflow(worst[1], worst[2], worst[3], most)
