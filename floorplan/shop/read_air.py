"""Reads `air:`: runs of duct by their corners, how they join, and which machines they serve."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from typing import cast

from floorplan.geometry.affine import Affine
from floorplan.shop.air import (
    AirPlan,
    Collector,
    Drop,
    ElbowMake,
    Elbows,
    Find,
    Hose,
    Junction,
    Material,
    Run,
    Spot,
    distance,
)
from floorplan.shop.model import Port, Room, Thing
from floorplan.shop.nodes import Mapping as MappingNode
from floorplan.shop.nodes import Node, Scalar
from floorplan.shop.read_find import read_find, read_prices
from floorplan.shop.read_suction import USUAL, known_thing, read_collector, read_rated, read_vacuum
from floorplan.shop.reading import Reading, nearest, require
from floorplan.units import TOLERANCE

AIR_KEYS = (
    "collector", "vacuum", "runs", "find", "open together", "altitude", "temperature", "stick",
    "prices",
)  # fmt: skip
RUN_KEYS = (
    "path", "diameter", "material", "elbows", "fittings", "from", "port", "into", "angle", "hose",
    "gate", "needs", "hood", "entry loss", "cabinet loss", "velocity floor", "clear round",
    "later", "from stage", "until", "tape",
)  # fmt: skip
DROP_KEYS = ("port", "hose", "gate", "needs", "hood", "entry loss", "cabinet loss")
MATERIALS = ("galvanized", "pvc", "hose")
MAKES = ("smooth", "5-piece", "4-piece", "3-piece")
HOODS = (
    "plain pipe end", "flanged pipe end", "bell mouth", "straight takeoff", "tapered takeoff",
    "cone 30", "cone 60", "cone 90", "cone 120",
)  # fmt: skip
USUAL_HOSE_FACTOR = 3.0
"""Friction of hose over smooth duct [1]; common practice, tables and tests span 1.5 to 4."""
USUAL_ANGLE = 45.0
"""Of a branch where nobody says otherwise [degrees]; common practice, no source."""
LARGEST_DUCT = 0.5
"""Largest diameter taken [m]."""
NEAR_AXIS = 0.05
"""How far off the surface of another duct a run may end and still be meant to join it [m]."""


def read_air(
    reading: Reading,
    node: Node | None,
    things: Mapping[str, Thing],
    room: Room | None = None,
    *,
    has_shed: bool = False,
) -> AirPlan | None:
    """The air of a shop; None when there is none, or after a fault.

    `has_shed`: the file has a shed, in which the collector's inlet may be without a point.
    """
    body = None if node is None else node.mapping()
    if body is None:
        return None
    body.check_keys(AIR_KEYS)
    collector_node, vacuum_node = (_body(body, key) for key in ("collector", "vacuum"))
    collector = (
        None
        if collector_node is None
        else read_collector(reading, collector_node, has_shed=has_shed)
    )
    vacuum = None if vacuum_node is None else read_vacuum(reading, vacuum_node, things)
    runs_node = _body(body, "runs")
    runs = () if runs_node is None else _Runs(reading, things, runs_node).read()
    find_node = _body(body, "find")
    find = None if find_node is None else read_find(reading, find_node, things, room)
    if find_node is not None:
        _check_find(body, find_node, collector)
    if not any(key in body for key in ("vacuum", "runs", "find")):
        body.faults.add(
            body.key or body,
            "`air` needs `runs:`, or `find:` to have them laid, or a `vacuum:`",
            "take it out, or write one",
        )
    if find_node is None:
        together = _together(body.get("open together"), runs, _beginnings(runs_node))
    else:
        names = [t.name for t in things.values() if t.ports]
        if find is not None and find.machines:
            names = list(find.machines)
        nodes = (body.get("open together"), find_node.get("open together"))
        together = tuple(g for n in nodes for g in _groups(n, names, "no run is found for"))
    altitude, temperature = _weather(body)
    stick, prices = _bought(reading, body, find)
    return AirPlan(
        runs, collector, vacuum, together, body.line, altitude, temperature, find,
        stick=stick, prices=prices,
    )  # fmt: skip


def _bought(
    reading: Reading, body: MappingNode, find: Find | None
) -> tuple[float | None, Mapping[float, Mapping[str, float]]]:
    """How duct is sold: the length of its sticks [m], and prices."""
    stick = reading.length(body.get("stick"), "air: stick", positive=True)
    prices = read_prices(reading, body.get("prices"))
    if find is None:
        return None if stick is None else stick.value, prices
    return find.stick or (None if stick is None else stick.value), {**prices, **find.prices}


def _check_find(body: MappingNode, find: MappingNode, collector: Collector | None) -> None:
    """Runs are given or found, and found ones need to know where they end."""
    if "runs" in body:
        find.faults.add(
            find.key or find, "runs are either given or found",
            "take out `find:`, or `runs:`",
        )  # fmt: skip
    fix = "add `inlet: {at: [10', 2'], height: 60 in}` to the collector"
    if "collector" not in body:
        find.faults.add(
            find.key or find, "runs can only be found to a collector",
            "add `collector:` with its fan and `inlet:`",
        )  # fmt: skip
    elif collector is not None and collector.inlet is None:
        node = body.get("collector")
        if node is not None and not (isinstance(node, MappingNode) and "inlet" in node):
            node.faults.add(node.key or node, "runs are to be found, but nobody said where to", fix)


HIGHEST, LOWEST = 5000.0, -450.0
"""Of the shops that people have [m]."""
COLDEST, HOTTEST = -40.0, 60.0
"""Range of the air's formulas [degrees C]."""


def _weather(body: MappingNode) -> tuple[float | None, float | None]:
    """Altitude [m] and temperature [degrees C] of the air, as far as the file says."""
    high, warm = body.get("altitude"), body.get("temperature")
    altitude = None if high is None else high.altitude()
    if altitude is not None and high is not None and not LOWEST <= altitude <= HIGHEST:
        high.fault("no shop lies that high or low", "give it in ft or m above the sea")
    temperature = None if warm is None else warm.temperature()
    if temperature is not None and warm is not None and not COLDEST <= temperature <= HOTTEST:
        warm.fault("the formulas of air hold from -40 to 60 C", "write it in C or F, as in `68 F`")
    return altitude, temperature


def _body(parent: MappingNode, key: str) -> MappingNode | None:
    node = parent.get(key)
    return None if node is None else node.mapping()


def _beginnings(table: MappingNode | None) -> list[str]:
    """Machines at which runs begin, also those of runs with a fault of their own."""
    names = []
    for _, entry in () if table is None else table.items():
        node = entry.get("from") if isinstance(entry, MappingNode) else None
        if isinstance(node, Scalar):
            names.append(" ".join(node.value.split()))
    return list(dict.fromkeys(names))


def _together(
    node: Node | None, runs: tuple[Run, ...], beginnings: list[str]
) -> tuple[tuple[str, ...], ...]:
    machines = {run.drop.machine for run in runs if run.drop is not None}
    groups = _groups(node, beginnings, "no run begins at")
    kept = (tuple(name for name in group if name in machines) for group in groups)
    return tuple(group for group in kept if group)


def _groups(node: Node | None, known: list[str], wrong: str) -> tuple[tuple[str, ...], ...]:
    """Machines whose gates are open at one time."""
    items = None if node is None else node.sequence()
    out = []
    for item in items or ():
        names = item.strings() or ()
        for name in names:
            if name not in known:
                item.fault(f"{wrong} `{name}`", nearest(name, known))
        out.append(tuple(dict.fromkeys(name for name in names if name in known)))
    return tuple(group for group in out if group)


class _Runs:
    """Reads runs, then joins them."""

    def __init__(self, reading: Reading, things: Mapping[str, Thing], table: MappingNode) -> None:
        self.reading = reading
        self.things = things
        self.bodies: dict[str, MappingNode] = {}
        for name, entry in table.items():
            body = entry.mapping()
            if body is not None:
                self.bodies[name] = body

    def read(self) -> tuple[Run, ...]:
        """Every run without a fault, joined to the others."""
        found = {name: self._run(name, body) for name, body in self.bodies.items()}
        runs = {name: run for name, run in found.items() if run is not None}
        junctions = {name: self._junction(run, runs) for name, run in runs.items()}
        self._check_tree(runs, junctions)
        return tuple(replace(run, junction=junctions[name]) for name, run in runs.items())

    def _run(self, name: str, body: MappingNode) -> Run | None:
        body.check_keys(RUN_KEYS)
        reading = self._taped(name, body.get("tape"))
        path = _path(reading, name, require(body, "path"))
        diameter = reading.length(
            require(body, "diameter"), f"{name}: diameter", positive=True, most=LARGEST_DUCT
        )
        material_node = body.get("material")
        material = "galvanized" if material_node is None else material_node.choice(MATERIALS)
        clear = reading.length(body.get("clear round"), f"{name}: clear round") or Affine(0.0)
        later_node, floor_node = body.get("later"), body.get("velocity floor")
        if path is None or diameter is None or material is None:
            return None
        return Run(
            name=name,
            path=path,
            diameter=diameter,
            material=cast(Material, material),
            elbows=self._elbows(body.get("elbows")),
            fittings=self._fittings(body.get("fittings")),
            drop=self._drop(reading, name, body, diameter),
            floor=None if floor_node is None else floor_node.speed(),
            clear=clear,
            later=bool(later_node is not None and later_node.yes_no()),
            line=body.key.line if body.key else body.line,
        )

    def _taped(self, name: str, node: Node | None) -> Reading:
        """The reading with a run's own tape: 0 where a run is set in place, not measured."""
        off = self.reading.length(node, f"{name}: tape")
        if off is None:
            return self.reading
        return replace(self.reading, tape_plan=off.value, tape_height=off.value)

    def _elbows(self, node: Node | None) -> Elbows:
        if node is None:
            return Elbows()
        if not isinstance(node, MappingNode):
            own = node.number(0.0, 5.0)
            return Elbows(own=own)
        node.check_keys(("make", "radius"))
        make_node, radius_node = node.get("make"), node.get("radius")
        make = "5-piece" if make_node is None else make_node.choice(MAKES)
        radius = 1.5 if radius_node is None else radius_node.number(0.75, 2.5)
        return Elbows(cast(ElbowMake, make or "5-piece"), radius or 1.5)

    def _fittings(self, node: Node | None) -> tuple[tuple[str, float], ...]:
        table = None if node is None else node.mapping()
        out = []
        for name, entry in table.items() if table is not None else ():
            value = entry.number(0.0, 20.0)
            if value is not None:
                out.append((name, value))
        return tuple(out)

    # --- the machine end

    def _drop(
        self, reading: Reading, name: str, body: MappingNode, diameter: Affine
    ) -> Drop | None:
        if "from" not in body:
            for key in DROP_KEYS:
                node = body.get(key)
                if node is not None:
                    node.faults.add(
                        node.key or node, f"`{key}` belongs to a run that begins at a machine",
                        "add `from: saw`, the machine's name",
                    )  # fmt: skip
            return None
        machine_node = body.get("from")
        machine = known_thing(self.reading, machine_node, self.things)
        port = None if machine is None else self._port(self.things[machine], body, machine_node)
        hose = _hose(reading, name, body.get("hose"), diameter)
        gate_node, needs_node, hood_node = (body.get(k) for k in ("gate", "needs", "hood"))
        own_node, loss_node = body.get("entry loss"), _body(body, "cabinet loss")
        if loss_node is not None:
            loss_node.check_keys(("loss", "flow"))
        usual = isinstance(needs_node, Scalar) and needs_node.value.strip() == USUAL
        needs = None if needs_node is None or usual else needs_node.flow_of_air()
        hood = "flanged pipe end" if hood_node is None else hood_node.choice(HOODS)
        gate = True if gate_node is None else gate_node.yes_no()
        if machine is None or port is None or hose is None:
            return None
        return Drop(
            machine,
            port.name,
            hose,
            gate is not False,
            needs,
            hood or "flanged pipe end",
            None if own_node is None else own_node.number(0.0, 20.0),
            None if loss_node is None else read_rated(f"cabinet of {machine}", loss_node),
            assumed_need=usual,
        )

    def _port(self, thing: Thing, body: MappingNode, node: Node | None) -> Port | None:
        ports = {port.name: port for port in thing.ports}
        chosen = body.get("port")
        if not ports:
            if node is not None:
                node.fault(
                    f"`{thing.name}` has no dust port",
                    "add `ports: {main: {at: [22 in, 0], height: 8 in, diameter: 4 in}}` to it",
                )
            return None
        if chosen is None:
            if len(ports) > 1 and node is not None:
                node.fault(
                    f"`{thing.name}` has {len(ports)} ports", f"add `port: {next(iter(ports))}`"
                )
                return None
            return next(iter(ports.values()))
        name = chosen.name()
        if name is not None and name not in ports:
            chosen.fault(f"`{thing.name}` has no port `{name}`", nearest(name, ports))
        return None if name is None else ports.get(name)

    # --- joining

    def _junction(self, run: Run, runs: Mapping[str, Run]) -> Junction | None:
        body = self.bodies[run.name]
        node = body.get("into")
        name = None if node is None else node.name()
        if node is None or name is None or name == "collector":
            return None
        if name not in runs or name == run.name:
            others = [n for n in (*runs, "collector") if n != run.name]
            if name not in self.bodies or name == run.name:
                node.fault(f"there is no other run `{name}`", nearest(name, others))
            return None
        angle_node = body.get("angle")
        angle = USUAL_ANGLE if angle_node is None else angle_node.number(15.0, 90.0)
        off, station = nearest_station(runs[name], run.path[-1])
        if off > runs[name].diameter.value / 2 + NEAR_AXIS:
            node.fault(
                f"the end of `{run.name}` lies {off * 1000:.0f} mm ({off / 0.0254:.1f} in) from "
                f"the middle of `{name}`",
                f"let its last point lie on the path of `{name}`",
            )
            return None
        return Junction(name, station, angle or USUAL_ANGLE)

    def _check_tree(
        self, runs: Mapping[str, Run], junctions: Mapping[str, Junction | None]
    ) -> None:
        """No circles, one end at the collector, a machine at every upper end."""
        entered = {junction.into for junction in junctions.values() if junction is not None}
        ends = [
            name
            for name, run in runs.items()
            if junctions[name] is None and self.bodies[name].get("into") is None
        ]
        for name in ends[1:]:
            self._fault(
                name, f"`{ends[0]}` and `{name}` both end at the collector",
                "let one run into the other: `into: ...`",
            )  # fmt: skip
        for name, run in runs.items():
            if run.drop is None and "from" not in self.bodies[name] and name not in entered:
                self._fault(
                    name, f"no air comes into `{name}`",
                    "add `from: saw` to it, or let another run into it",
                )  # fmt: skip
            at, steps = junctions[name], 0
            while at is not None and steps <= len(runs):
                at, steps = junctions[at.into], steps + 1
            if steps > len(runs):
                self._fault(name, f"`{name}` runs in a circle", "one run must end at the collector")

    def _fault(self, name: str, message: str, fix: str) -> None:
        body = self.bodies[name]
        body.faults.add(body.key or body, message, fix)


def _path(reading: Reading, name: str, node: Node | None) -> tuple[Spot, ...] | None:
    items = None if node is None else node.sequence()
    if node is None or items is None:
        return None
    if len(items) < 2:
        node.fault("a path has two points or more, in the direction of the air")
        return None
    spots = [_spot(reading, item, f"{name}: point {i}") for i, item in enumerate(items, 1)]
    path = [spot for spot in spots if spot is not None]
    if len(path) < len(spots):
        return None
    for i in range(1, len(path)):
        if distance(path[i - 1], path[i]).value < TOLERANCE:
            items[i].fault("two points of the path are the same")
            return None
    return tuple(path)


def _spot(reading: Reading, node: Node, name: str) -> Spot | None:
    items = node.sequence()
    if items is None:
        return None
    if len(items) != 3:
        node.fault(
            f"a point of a path has three numbers `[x, y, height]`, not {len(items)}",
            "the height of the duct's middle above the floor comes last",
        )
        return None
    read = reading.length
    x = read(items[0], f"{name} x", signed=True, contact_at_zero=True)
    y = read(items[1], f"{name} y", signed=True, contact_at_zero=True)
    z = read(items[2], f"{name} height", height=True)
    return None if x is None or y is None or z is None else (x, y, z)


def _hose(reading: Reading, name: str, node: Node | None, diameter: Affine) -> Hose | None:
    body = None if node is None else node.mapping()
    if node is None:
        return Hose(None, diameter, USUAL_HOSE_FACTOR)
    if body is None:
        return None
    body.check_keys(("length", "diameter", "factor"))
    read = reading.length
    length = read(body.get("length"), f"{name}: hose length", positive=True)
    own = read(body.get("diameter"), f"{name}: hose diameter", positive=True, most=LARGEST_DUCT)
    factor_node = body.get("factor")
    factor = USUAL_HOSE_FACTOR if factor_node is None else factor_node.number(1.0, 6.0)
    return Hose(length, own or diameter, factor or USUAL_HOSE_FACTOR)


def nearest_station(run: Run, spot: Spot) -> tuple[float, float]:
    """How far a point lies off a run's path, and how far along that path its foot lies [m]."""
    best, passed = (float("inf"), 0.0), 0.0
    point = [number.value for number in spot]
    for a, b in run.legs:
        start, end = ([number.value for number in s] for s in (a, b))
        step = [q - p for p, q in zip(start, end, strict=True)]
        length = sum(s * s for s in step) ** 0.5
        share = sum((x - p) * s for x, p, s in zip(point, start, step, strict=True)) / length**2
        share = min(max(share, 0.0), 1.0)
        foot = [p + share * s for p, s in zip(start, step, strict=True)]
        off = sum((x - f) ** 2 for x, f in zip(point, foot, strict=True)) ** 0.5
        if off < best[0] - TOLERANCE:
            best = (off, passed + share * length)
        passed += length
    return best
