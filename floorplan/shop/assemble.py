"""Puts the shop together from its sections, and refuses what cannot be."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import replace
from typing import TypeVar

from shapely.geometry import Polygon

from floorplan.geometry.volume import Volume, gap
from floorplan.rules.book import RuleBook, RuleError, load_rules
from floorplan.shop.building import fixture_volumes, floor_polygon
from floorplan.shop.model import (
    Door,
    Job,
    Layout,
    NamedPlace,
    Pose,
    Room,
    Shop,
    Stock,
    Task,
    Thing,
)
from floorplan.shop.nodes import Mapping as MappingNode
from floorplan.shop.nodes import Node, Scalar
from floorplan.shop.plan import Sort, Span
from floorplan.shop.read_air import read_air
from floorplan.shop.read_doors import openings_clash, read_door, read_window
from floorplan.shop.read_floor import read_survey
from floorplan.shop.read_poses import PoseReader
from floorplan.shop.read_power import read_power
from floorplan.shop.read_room import read_keep_clears, read_room, stand_in
from floorplan.shop.read_site import circuit_starts, read_site
from floorplan.shop.read_stages import read_plan, stage_poses, take_stages
from floorplan.shop.read_things import read_thing
from floorplan.shop.read_work import JobReader, default_tasks, read_place, read_stock, read_task
from floorplan.shop.reading import Reading, nearest, require
from floorplan.shop.scene import frame_of
from floorplan.shop.shed_inlet import with_shed_inlet
from floorplan.shop.stage_needs import check_needs
from floorplan.units import TOLERANCE, System

TOP_KEYS = (
    "shop", "units", "tape", "people", "room", "doors", "windows", "fixed", "equipment",
    "places", "stock", "tasks", "jobs", "rules", "priorities", "floor", "air", "stages",
    "site", "power",
)  # fmt: skip
UNITS: dict[str, tuple[System, str | None]] = {
    "feet and inches": (System.IMPERIAL, None),
    "in": (System.IMPERIAL, "in"),
    "inches": (System.IMPERIAL, "in"),
    "ft": (System.IMPERIAL, "ft"),
    "feet": (System.IMPERIAL, "ft"),
    "metric": (System.METRIC, None),
    "mm": (System.METRIC, "mm"),
    "cm": (System.METRIC, "cm"),
    "m": (System.METRIC, "m"),
}
USUAL_PRIORITIES = (
    "required rules", "advised rules", "sheet room", "walking", "moves", "open floor",
)  # fmt: skip
PRIORITIES = (*USUAL_PRIORITIES, "airflow", "margin", "stage changes")

_Made = TypeVar("_Made")


def assemble(top: MappingNode, path: str, *, supposed: bool = False) -> tuple[Shop, Layout]:
    """The shop and today's layout. Raises ShopFileError with every fault found.

    Where things have only `supposed` sizes, drawers may come to stick out beyond their side.
    """
    top.check_keys(TOP_KEYS)
    top, staging = take_stages(top)
    reading = _start(top)
    reading.named = _names(top)
    reading.supposed = supposed
    name, date = _title(top)
    people_node = top.get("people")
    people = 1 if people_node is None else (people_node.integer(1, 2) or 1)
    room_node = require(top, "room")
    room = read_room(reading, room_node)
    room_read = room is not None
    room = room or stand_in(reading, room_node)
    doors = _named(top, "doors", lambda n, b: read_door(reading, room, n, b))
    windows = _named(top, "windows", lambda n, b: read_window(reading, room, n, b))
    things, nodes = _things(reading, top, room)
    places = _named(top, "places", lambda n, b: read_place(reading, n, b))
    stock = {s.name: s for s in _named(top, "stock", lambda n, b: read_stock(reading, n, b))}
    _unique_names(top)
    tasks, things = _tasks(reading, top, things, doors, stock)
    jobs = _jobs(reading, top, things, doors, places, stock, tasks)
    power = read_power(reading, top.get("power") if room_read else None, room, things)
    outlets = () if power is None else power.outlets
    points = [*(place.name for place in places), *(outlet.name for outlet in outlets)]
    _check_links(reading, things, nodes, points)
    layout = PoseReader(reading, room, things, nodes).layout()
    air = read_air(reading, top.get("air"), things, room, has_shed=_has_shed(top))
    plan, layout = read_plan(staging, room, things, layout, () if air is None else air.runs)
    moved = stage_poses(staging, plan, reading, room, things, layout)
    plan = plan and replace(plan, poses=moved)
    survey = read_survey(reading, top.get("floor") if room_read else None, things, layout, nodes)
    site = read_site(
        reading, top.get("site") if room_read else None, room,
        circuit_starts(things, layout, places),
    )  # fmt: skip
    air = air and with_shed_inlet(air, site)
    shop = Shop(
        name=name,
        path=path,
        system=reading.system,
        room=room,
        rules=reading.rules,
        measurements=reading.measurements,
        doors=tuple(doors),
        windows=tuple(windows),
        things=tuple(things.values()),
        keep_clears=tuple(read_keep_clears(reading, room_node, room.height)),
        places=tuple(places),
        stock=tuple(stock.values()),
        tasks=tuple(tasks),
        jobs=tuple(jobs),
        people=people,
        priorities=_priorities(top),
        notes=tuple(reading.notes),
        date=date,
        floor=survey,
        air=air,
        plan=plan,
        site=site,
        power=power,
    )
    if room_read:
        _check_sense(top, shop, layout, nodes)
    top.faults.raise_if_any()
    return shop, layout


def _names(top: MappingNode) -> frozenset[str]:
    """Every name that the file gives to something."""
    found: set[str] = set()
    for key in ("fixed", "equipment", "doors", "windows", "places", "stock", "tasks"):
        node = top.get(key)
        if isinstance(node, MappingNode):
            found.update(node.entries)
    return frozenset(found)


def _title(top: MappingNode) -> tuple[str, str]:
    node = require(top, "shop")
    if node is None:
        return "", ""
    if isinstance(node, Scalar):
        return node.name() or "", ""
    mapping = node.mapping()
    if mapping is None:
        return "", ""
    mapping.check_keys(("name", "date", "about"))
    name_node, date_node = require(mapping, "name"), mapping.get("date")
    name = None if name_node is None else name_node.name()
    date = None if date_node is None else date_node.name()
    return name or "", date or ""


def _start(top: MappingNode) -> Reading:
    units_node = top.get("units")
    choice = "feet and inches" if units_node is None else units_node.choice(UNITS)
    system, unit = UNITS[choice or "feet and inches"]
    metric = system is System.METRIC
    rules = _rules(top, load_rules(metric), unit)
    reading = Reading(
        top.faults, system, unit, rules.value("tape-plan"), rules.value("tape-height"), rules
    )
    tape = top.get("tape")
    if tape is None:
        return reading
    if isinstance(tape, Scalar):
        found = tape.length(unit)
        if found is not None:
            reading.tape_plan = reading.tape_height = float(found[0])
        return reading
    mapping = tape.mapping()
    if mapping is not None:
        mapping.check_keys(("plan", "height"))
        for key, attribute in (("plan", "tape_plan"), ("height", "tape_height")):
            node = mapping.get(key)
            found = None if node is None else node.length(unit)
            if found is not None:
                setattr(reading, attribute, float(found[0]))
    return reading


def _rules(top: MappingNode, book: RuleBook, unit: str | None) -> RuleBook:
    node = top.get("rules")
    mapping = None if node is None else node.mapping()
    for rule_id, entry in mapping.items() if mapping is not None else ():
        try:
            book = _override(book, rule_id, entry, unit)
        except RuleError as wrong:
            top.faults.add(entry.key or entry, str(wrong))
    return book


def _override(book: RuleBook, rule_id: str, entry: Node, unit: str | None) -> RuleBook:
    if isinstance(entry, MappingNode):
        entry.check_keys(("value", "kind"))
        value_node, kind_node = entry.get("value"), entry.get("kind")
        return book.with_override(
            rule_id,
            value=None if value_node is None else value_node.text(),
            kind=None if kind_node is None else kind_node.text(),
            line=entry.line,
            default_unit=unit,
        )
    text = entry.text()
    if text is None:
        return book
    word = text.strip().lower()
    if word in ("off", "no", "false"):
        return book.with_override(rule_id, off=True, line=entry.line)
    if word in ("required", "advised"):
        return book.with_override(rule_id, kind=word, line=entry.line)
    return book.with_override(rule_id, value=text, line=entry.line, default_unit=unit)


def _named(
    top: MappingNode, key: str, read: Callable[[str, MappingNode], _Made | None]
) -> list[_Made]:
    node = top.get(key)
    mapping = None if node is None or node.is_empty else node.mapping()
    out = []
    for name, entry in mapping.items() if mapping is not None else ():
        body = entry.mapping()
        made = None if body is None else read(name, body)
        if made is not None:
            out.append(made)
    return out


def _things(
    reading: Reading, top: MappingNode, room: Room
) -> tuple[dict[str, Thing], dict[str, MappingNode]]:
    things: dict[str, Thing] = {}
    nodes: dict[str, MappingNode] = {}
    for key, fixed in (("fixed", True), ("equipment", False)):

        def read(name: str, body: MappingNode, fixed: bool = fixed) -> Thing | None:
            thing = read_thing(reading, room, name, body, fixed=fixed)
            if thing is not None:
                things[name], nodes[name] = thing, body
            if fixed and "at" not in body:
                body.faults.add(body.key or body, f"`{name}` is fixed, so it needs an `at:`")
            return thing

        _named(top, key, read)
    return things, nodes


def _has_shed(top: MappingNode) -> bool:
    """Whether the file has a shed for the collector."""
    site = top.get("site")
    return isinstance(site, MappingNode) and "shed" in site


def _unique_names(top: MappingNode) -> None:
    """One name means one thing in the whole file."""
    seen: dict[str, str] = {"floor": "the floor", "ceiling": "the ceiling"}
    for key in ("fixed", "equipment", "places", "doors", "windows"):
        node = top.get(key)
        mapping = None if node is None or node.is_empty else node.mapping()
        for name, entry in mapping.items() if mapping is not None else ():
            if name in seen:
                top.faults.add(
                    entry.key or entry, f"`{name}` is the name of {seen[name]} already",
                    "give one of the two another name",
                )  # fmt: skip
            line = entry.key.line if entry.key else entry.line
            seen[name] = f"something in line {line}"


def _tasks(
    reading: Reading,
    top: MappingNode,
    things: dict[str, Thing],
    doors: list[Door],
    stock: dict[str, Stock],
) -> tuple[list[Task], dict[str, Thing]]:
    by_name = {door.name: door for door in doors}
    read = _named(top, "tasks", lambda n, b: read_task(reading, n, b, things, by_name, stock))
    tasks = [task for task, _ in read]
    for task, present in read:
        for name in present:
            thing = things[name]
            things[name] = replace(thing, only_in=(thing.only_in or frozenset()) | {task.name})
    tasks = default_tasks(tasks, things.values())
    names = [task.name for task in tasks]
    for task in tasks:
        for other in task.together_with:
            if other not in names:
                top.faults.add_at(
                    task.line, 1, f"there is no task `{other}`", fix=nearest(other, names)
                )
    for thing in things.values():
        for other in sorted(thing.only_in or ()):
            if other not in names:
                top.faults.add_at(
                    thing.line, 1, f"there is no task `{other}`", fix=nearest(other, names)
                )
    return tasks, things


def _jobs(
    reading: Reading,
    top: MappingNode,
    things: dict[str, Thing],
    doors: list[Door],
    places: list[NamedPlace],
    stock: dict[str, Stock],
    tasks: list[Task],
) -> list[Job]:
    stops = [*things, *(door.name for door in doors), *(place.name for place in places)]
    reader = JobReader(reading, things, stops, stock, {task.name: task for task in tasks})
    return _named(top, "jobs", reader.read)


def _check_links(
    reading: Reading,
    things: dict[str, Thing],
    nodes: dict[str, MappingNode],
    points: Sequence[str],
) -> None:
    """Machines, things and points (places and outlets) that links name are there."""
    for thing in things.values():
        for link in thing.outfeed_of:
            node = nodes[thing.name].get("takes the outfeed of")
            assert node is not None
            target = things.get(link.machine)
            if target is None and link.machine in reading.named:
                continue
            if target is None:
                able = [n for n, t in things.items() if t.cutter is not None]
                node.fault(f"there is no machine `{link.machine}`", nearest(link.machine, able))
            elif target.cutter is None:
                node.fault(
                    f"nothing is fed through `{link.machine}`", "name a machine with a blade"
                )
            elif thing.surface is None:
                node.fault(
                    f"`{thing.name}` has no surface to take the work",
                    "add `surface: 34 in`, the height of its top",
                )
        for reach in thing.within_of:
            if reach.target not in (*things, *points, *reading.named):
                reading.faults.add_at(
                    reach.line,
                    1,
                    f"there is no thing, place or outlet `{reach.target}`",
                    fix=nearest(reach.target, [*things, *points]),
                )


def _usual_priorities(top: MappingNode) -> tuple[str, ...]:
    """Without the file's own: airflow counts before walking where runs of duct are to be found."""
    air = top.get("air")
    if not isinstance(air, MappingNode) or "find" not in air:
        return USUAL_PRIORITIES
    at = USUAL_PRIORITIES.index("walking")
    return (*USUAL_PRIORITIES[:at], "airflow", *USUAL_PRIORITIES[at:])


def _priorities(top: MappingNode) -> tuple[str, ...]:
    node = top.get("priorities")
    if node is None:
        return _usual_priorities(top)
    texts = node.strings() or ()
    out = []
    for text in texts:
        word = " ".join(text.lower().split())
        if word not in PRIORITIES:
            node.fault(f"there is no priority `{text}`", nearest(word, PRIORITIES))
        elif word not in out:
            out.append(word)
    return tuple(out) or USUAL_PRIORITIES


# --- what cannot be ------------------------------------------------------------------------


def _check_sense(
    top: MappingNode, shop: Shop, layout: Layout, nodes: dict[str, MappingNode]
) -> None:
    floor = floor_polygon(shop.room)
    _openings_apart(top, shop)
    if shop.plan is not None:
        check_needs(top, shop, shop.plan)
    _fixtures_in_room(top, shop, floor)
    _fixed_apart(top, shop, layout)
    for thing in shop.things:
        if not _could_fit(shop, thing):
            top.faults.add(
                nodes[thing.name].key or nodes[thing.name],
                f"`{thing.name}` is bigger than the room",
                "check its size and the room's",
            )
            continue
        for (name, place), pose in _all_poses(shop, layout):
            if name != thing.name:
                continue
            body = frame_of(thing, pose).place(thing.body)
            if Polygon(body.points).distance(floor) > TOLERANCE:
                node = nodes[name].get("at" if place == "standing" else place) or nodes[name]
                node.fault(
                    f"`{name}` stands outside the room altogether", _outside_fix(shop, thing, pose)
                )


def _all_poses(shop: Shop, layout: Layout) -> Iterable[tuple[tuple[str, str], Pose]]:
    """Poses of today and of later stages."""
    yield from layout.poses.items()
    for (_, name, place), pose in shop.plan.poses.items() if shop.plan is not None else ():
        yield (name, place), pose


def _openings_apart(top: MappingNode, shop: Shop) -> None:
    for first, second, line in openings_clash(list(shop.doors), list(shop.windows)):
        if _meet(shop, first, second):
            top.faults.add_at(line, 1, f"`{first}` and `{second}` overlap in the same wall")


def _meet(shop: Shop, a: str, b: str) -> bool:
    """Whether two doors, windows, fixed things or pieces of the building share a stage."""
    plan = shop.plan
    if plan is None:
        return True

    def span(name: str) -> Span:
        sort: Sort = "thing" if shop.has(name) else "window"
        return plan.span("door" if any(d.name == name for d in shop.doors) else sort, name)

    return span(a).meets(span(b))


def _outside_fix(shop: Shop, thing: Thing, pose: Pose) -> str:
    swapped = frame_of(thing, Pose(pose.y, pose.x, pose.turn)).place(thing.body)
    if floor_polygon(shop.room).buffer(TOLERANCE).contains(Polygon(swapped.points)):
        return "are x and y swapped? x counts to the east, y to the north"
    return "x counts to the east and y to the north from the room's origin corner"


def _could_fit(shop: Shop, thing: Thing) -> bool:
    """Whether the body could lie in the room's bounding box at some turn."""
    low, high = shop.room.floor.points.min(axis=0), shop.room.floor.points.max(axis=0)
    room = sorted(high - low)
    size = sorted((thing.width.value, thing.depth.value))
    diagonal = float((room[0] ** 2 + room[1] ** 2) ** 0.5)
    return bool(
        size[0] <= room[0] + TOLERANCE
        and size[1] <= max(float(room[1]), diagonal if size[0] < 0.5 * room[0] else 0.0) + TOLERANCE
        and thing.bottom.value < shop.room.height.value
    )


def _fixtures_in_room(top: MappingNode, shop: Shop, floor: Polygon) -> None:
    for fixture in shop.room.fixtures:
        if not Polygon(fixture.outline.points).intersects(floor):
            top.faults.add_at(
                fixture.line, 1, f"`{fixture.name}` lies outside the room",
                fix="x counts to the east and y to the north from the room's origin corner",
            )  # fmt: skip


def _fixed_apart(top: MappingNode, shop: Shop, layout: Layout) -> None:
    """Two solids of the building that overlap are a fault of the file, not a finding."""
    rows: list[tuple[str, int, Volume]] = [
        (name, next(f.line for f in shop.room.fixtures if f.name == name), volume)
        for name, volume in fixture_volumes(shop.room)
    ]
    for thing in shop.things:
        pose = layout.pose(thing.name)
        if thing.fixed and pose is not None:
            body = frame_of(thing, pose).place(thing.body)
            rows.append((thing.name, thing.line, Volume(body, thing.bottom, thing.height)))
    for i, (a, _, volume_a) in enumerate(rows):
        for b, line, volume_b in rows[i + 1 :]:
            if not _meet(shop, a, b):
                continue
            found = gap(volume_a, volume_b)
            depth = -found.distance.value
            if depth > TOLERANCE + found.error(shop.measurements) and not _beams(shop, (a, b)):
                top.faults.add_at(
                    line, 1, f"`{a}` and `{b}` are both fixed but overlap by {_both(depth)}",
                    fix="measure the two again",
                )  # fmt: skip


def _beams(shop: Shop, names: Iterable[str]) -> bool:
    """Posts, partitions and beams of one frame may run into each other."""
    built = {fixture.name for fixture in shop.room.fixtures}
    return all(name in built for name in names)


def _both(metres: float) -> str:
    return f"{metres * 1000:.0f} mm ({metres / 0.0254:.2f} in)"
