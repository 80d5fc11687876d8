"""Runs of duct found for one layout, put into the shop as if its file had given them."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from functools import lru_cache

import numpy as np

from floorplan.air.ducttree import DuctTree, Making, Start, Terminal, stretch_names
from floorplan.air.estimate import FlowEstimate
from floorplan.air.fan import FanCurve
from floorplan.air.fittings import branch_entry, elbow, hood
from floorplan.air.friction import flexible_hose
from floorplan.air.lattice import Spot
from floorplan.air.losses import Gate
from floorplan.air.needs import usual_need
from floorplan.air.network import Collector
from floorplan.air.network import Port as AirPort
from floorplan.air.properties import duct_area
from floorplan.air.routing import WORK, NoRouteError, Route, route
from floorplan.air.sizing import Demand
from floorplan.checks.duct_room import DuctRoom
from floorplan.checks.duct_system import air_of, rated
from floorplan.geometry.affine import ZERO, Affine
from floorplan.shop import building
from floorplan.shop.air import AirPlan, Drop, Elbows, Find, Hose, Inlet, Junction, Run
from floorplan.shop.model import Layout, Port, Shop, Thing
from floorplan.shop.scene import Scene, frame_of, scene
from floorplan.units import TOLERANCE

HOOD = "flanged pipe end"
NO_HOLE = (
    "no wall with the collector behind it can be gone through: doors and windows take it up, the "
    "roof there is too low, or a building is in the way outdoors"
)
ANGLE = 45.0
"""Of every branch entry [degrees]."""


@dataclass(frozen=True, slots=True)
class Wanted:
    """One port that runs are to be found for."""

    name: str
    thing: Thing
    port: Port
    spot: Spot
    needs: float
    assumed: bool


def with_found_runs(shop: Shop, layout: Layout, *, work: int = WORK) -> Shop:
    """The shop with runs found for a layout; unchanged where its file gives them or wants none."""
    if shop.air is None or shop.air.find is None or shop.air.runs or shop.air.no_way:
        return shop
    return _with_runs(shop, Poses(layout), work)


class Poses:
    """A layout that equals another with the same poses."""

    def __init__(self, layout: Layout) -> None:
        self.layout = layout
        self.key = tuple(
            sorted((spot, p.x.value, p.y.value, p.turn) for spot, p in layout.poses.items())
        )

    def __eq__(self, other: object) -> bool:
        return isinstance(other, Poses) and self.key == other.key

    def __hash__(self) -> int:
        return hash(self.key)


@lru_cache(maxsize=32)
def _with_runs(shop: Shop, poses: Poses, work: int) -> Shop:
    made = scene(shop, poses.layout)
    assert shop.air is not None
    air = found_plan(made, shop.air, work)
    return replace(shop, air=air)


def found_plan(made: Scene, air: AirPlan, work: int = WORK) -> AirPlan:
    """The air of a shop with its runs found, or with the reasons why there are none.

    Duct of all sizes is laid where the largest has room; where it has none, that size is left out.
    """
    find, collector = air.find, air.collector
    assert find is not None
    wanted = wanted_ports(made, find)
    if air.no_way or not wanted or collector is None or collector.inlet is None:
        return air
    found = _found(made, air, wanted, collector.inlet, work)
    if found.no_way and air.earlier:
        # what is there at this stage counts more; the stages before are told of the strip
        shop = replace(made.shop, air=replace(air, earlier=()))
        found = _found(replace(made, shop=shop), air, wanted, collector.inlet, work)
    return found


def _found(
    made: Scene, air: AirPlan, wanted: tuple[Wanted, ...], inlet: Inlet, work: int
) -> AirPlan:
    """Runs found in one scene, or why there are none."""
    find = air.find
    assert find is not None
    reason: tuple[str, ...] = ()
    for count in range(len(find.sizes), 0, -1):
        sizes = find.sizes[:count]
        room = DuctRoom(made, find, sizes[-1])
        starts = {one.name: room.starts(one.spot) for one in wanted}
        if all(starts.values()):
            demand = _demand(made, air, wanted, room, sizes)
            inlets = room.inlets(inlet)
            if not inlets:
                reason = reason or (NO_HOLE,)
                continue
            try:
                found = route(demand, inlets, room.space(), work=work)
            except NoRouteError as error:
                reason = reason or (str(error),)
            else:
                return replace(air, runs=runs_of(found, wanted, find, demand))
        else:
            reason = reason or tuple(_no_drop(room, one) for one in wanted if not starts[one.name])
    return replace(air, no_way=reason)


def _no_drop(room: DuctRoom, one: Wanted) -> str:
    """Why no run can begin near a port."""
    words = f"no place for a drop within the hose's reach of {one.name}"
    reach = room.find.hose / 1.15
    tried = [
        room.closed_over((one.spot[0] + dx * reach / 2, one.spot[1] + dy * reach / 2, one.spot[2]))
        for dx, dy in ((1, 0), (-1, 0), (0, 1), (0, -1))
    ]
    names = dict.fromkeys(name for name in tried if name is not None)
    return f"{words}; in the way: {', '.join(names)}" if names else words


def wanted_ports(made: Scene, find: Find) -> tuple[Wanted, ...]:
    """Every port of the machines asked for that have their place."""
    shop, out = made.shop, []
    vacuum = None if shop.air is None or shop.air.vacuum is None else shop.air.vacuum.thing
    for thing in shop.things:
        asked = thing.name in find.machines if find.machines else bool(thing.ports)
        pose = made.layout.pose(thing.name)
        if not asked or pose is None or thing.name == vacuum:
            continue
        frame = frame_of(thing, pose)
        for one in _ports_of(thing, find, (0.0, 0.0)):
            x, y = frame.point(one.port.x, one.port.y)
            out.append(replace(one, spot=(x.value, y.value, one.port.height.value)))
    return tuple(out)


def _ports_of(thing: Thing, find: Find, at: tuple[float, float]) -> Iterator[Wanted]:
    """The ports of a thing, what it needs shared by their areas."""
    areas = [float(duct_area(p.diameter.value)) for p in thing.ports]
    stated = find.needs.get(thing.name)
    for port, area in zip(thing.ports, areas, strict=True):
        share = area / sum(areas)
        needs = usual_need(thing.kind, port.diameter.value) if stated is None else stated * share
        name = thing.name if len(thing.ports) == 1 else f"{thing.name} {port.name}"
        yield Wanted(name, thing, port, (*at, port.height.value), needs, stated is None)


def _demand(
    made: Scene,
    air: AirPlan,
    wanted: tuple[Wanted, ...],
    room: DuctRoom,
    sizes: tuple[float, ...],
    starts: tuple[Start, ...] = (),
) -> Demand:
    find, given = room.find, air.collector
    assert given is not None
    terminals = tuple(
        Terminal(
            AirPort(one.name, hood("flanged pipe end"), gate=Gate(open_coefficient=0.0)),
            one.port.diameter.value,
            one.needs,
            starts or room.starts(one.spot),
        )
        for one in wanted
    )
    rules = made.shop.rules
    clean, dirty = (None if p is None else rated(p) for p in (given.clean, given.dirty))
    collector = Collector(
        FanCurve("collector", given.fan.flows, given.fan.pressures),
        clean, dirty, tuple(rated(p) for p in given.separators),
    )  # fmt: skip
    making = Making(
        hose=flexible_hose(find.hose_factor),
        elbow=elbow(),
        entry=branch_entry(ANGLE),
        branch_floor=rules.value("branch-velocity"),
        main_floor=rules.value("main-velocity"),
    )
    stick = air.stick or rules.value("duct-stick")
    prices = {d: air.prices[k]["stick"] / stick for d in sizes for k in air.prices
              if abs(k - d) < 1e-4 and "stick" in air.prices[k]}  # fmt: skip
    return Demand(
        terminals, collector, sizes, making, _states(wanted, air.together), air_of(air),
        prices=prices if len(prices) == len(sizes) else {},
    )  # fmt: skip


def _states(
    wanted: tuple[Wanted, ...], together: tuple[tuple[str, ...], ...]
) -> tuple[tuple[int, ...], ...]:
    """Each machine alone, with all its ports, then the machines open together."""
    ports: dict[str, tuple[int, ...]] = {}
    for i, one in enumerate(wanted):
        ports[one.thing.name] = (*ports.get(one.thing.name, ()), i)
    states = [*ports.values()]
    states += [
        tuple(i for name in group for i in ports[name])
        for group in together
        if all(name in ports for name in group)
    ]
    return tuple(dict.fromkeys(states))


@lru_cache(maxsize=8)
def estimate_of(shop: Shop) -> tuple[FlowEstimate, tuple[tuple[str, Port], ...]] | None:
    """Tables of the airflow at each port by the length of its way, and whose ports they are.

    They hold for every layout; None where no runs are to be found.
    """
    air = shop.air
    if air is None or air.find is None or air.collector is None or air.collector.inlet is None:
        return None
    if air.no_way:
        return None
    empty = scene(shop, Layout({}))
    room = DuctRoom(empty, air.find, air.find.sizes[-1])
    vacuum = None if air.vacuum is None else air.vacuum.thing
    things = [
        t
        for t in shop.things
        if (t.name in air.find.machines if air.find.machines else t.ports) and t.name != vacuum
    ]
    wanted = tuple(
        replace(one, spot=(0.0, 0.0, one.port.height.value))
        for thing in things
        for one in _ports_of(thing, air.find, (0.0, 0.0))
    )
    inlets = room.inlets(air.collector.inlet)
    if not wanted or not inlets:
        return None
    usual = Start((0.0, 0.0, 0.0), air.find.hose / 2)
    demand = _demand(empty, air, wanted, room, air.find.sizes, starts=(usual,))
    level = max(room.head + room.radius, inlets[0].spot[2])
    made = FlowEstimate.of(demand, inlets, min(level, room.height - room.radius))
    return made, tuple((one.thing.name, one.port) for one in wanted)


# --- as runs of the shop -------------------------------------------------------------------------


def runs_of(
    found: Route, wanted: tuple[Wanted, ...], find: Find, demand: Demand
) -> tuple[Run, ...]:
    """A run for each stretch, those that go straight on before those that enter from the side."""
    tree = found.tree
    names = stretch_names(tree, demand.terminals)
    order = sorted(range(len(names)), key=lambda i: tree.stretches[i].enters)
    return tuple(
        _run(tree, i, names, found.sizes[i], _drop(tree, i, wanted, found.sizes[i], find), find)
        for i in order
    )


def _run(
    tree: DuctTree,
    index: int,
    names: tuple[str, ...],
    size: float,
    drop: Drop | None,
    find: Find,
) -> Run:
    stretch = tree.stretches[index]
    path = tuple((Affine(x), Affine(y), Affine(z)) for x, y, z in stretch.path)
    into = None if stretch.into is None else names[stretch.into]
    return Run(
        name=names[index],
        path=path,
        diameter=Affine(size),
        elbows=Elbows(),
        junction=None if into is None else Junction(into, 0.0, ANGLE),
        drop=drop,
        clear=Affine(find.clear) if find.clear else ZERO,
        line=find.line,
    )


def _drop(
    tree: DuctTree, index: int, wanted: tuple[Wanted, ...], size: float, find: Find
) -> Drop | None:
    stretch = tree.stretches[index]
    if stretch.terminal is None:
        return None
    one = wanted[stretch.terminal]
    return Drop(
        one.thing.name,
        one.port.name,
        Hose(Affine(stretch.hose), Affine(size), find.hose_factor),
        needs=one.needs,
        hood=HOOD,
        assumed_need=one.assumed,
    )


def holes_of(shop: Shop, runs: tuple[Run, ...]) -> tuple[tuple[str, float, float], ...]:
    """Each wall that runs go through: its name, how far along it, and the middle's height [m]."""
    out = []
    for wall in shop.room.walls:
        line = building.frame(wall)
        foot = np.array([line.origin[0].value, line.origin[1].value])
        for run in runs:
            for leg in run.legs:
                a, b = (np.array([number.value for number in spot]) for spot in leg)
                inside, outside = (float((p[:2] - foot) @ line.inward) for p in (a, b))
                if not inside > TOLERANCE or not outside < -TOLERANCE:
                    continue
                middle = a + (b - a) * inside / (inside - outside)
                along = float((middle[:2] - foot) @ line.along)
                if 0.0 <= along <= line.length.value:
                    out.append((wall.name, along, float(middle[2])))
    return tuple(out)
