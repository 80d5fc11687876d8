"""Things on a plan: bodies, parts, blade and feed, each with its name, size and height."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from itertools import combinations

from shapely import box as rectangle
from shapely.prepared import prep

from floorplan.drawing.canvas import Label, Plan, heights
from floorplan.drawing.placing import Box, beside, inside
from floorplan.drawing.room import DASHES, HEADROOM, body_boxes, wall_boxes
from floorplan.drawing.style import (
    BLACK,
    FINE,
    FIXED_FACE,
    FURNITURE_FACE,
    HEAVY,
    LIGHT,
    MACHINE_FACE,
    MEDIUM,
    NAME_SIZE,
    SMALL_SIZE,
    THIN,
    tint,
)
from floorplan.shop.model import PLACES, Pose, Thing
from floorplan.shop.scene import Element, Frame, frame_of
from floorplan.units import TOLERANCE

CUT = tint(BLACK, 0.9)


def bodies(plan: Plan) -> list[tuple[Thing, Element]]:
    """Main bodies that are drawn, lower ones first so that higher ones lie on top."""
    found = [
        (thing, element)
        for thing in plan.scene.shop.things
        for element in plan.scene.things.get(thing.name, ())
        if element.name == "body" and element.nature == "solid"
    ]
    return sorted(found, key=lambda pair: pair[1].volume.top.value)


def hangs(element: Element) -> bool:
    """Whether one walks or works under it, so that it is drawn dashed."""
    return element.volume.bottom.value >= min(HEADROOM, 1.2)


def occasional(element: Element) -> bool:
    """Whether it is there only during some tasks."""
    return element.presence.only is not None


def draw_equipment(plan: Plan, *, details: bool = True) -> None:
    """Bodies and parts; with details also blades and feed arrows."""
    for rank, (thing, element) in enumerate(bodies(plan)):
        dashed = hangs(element) or occasional(element)
        plan.page.area(
            plan.shape(element.volume.polygon, cut=False),
            face="none" if dashed else _face(thing),
            width=MEDIUM,
            dashes=DASHES if dashed else (),
            z=5.8 if dashed else 3.0 + 0.01 * rank,
            gid=f"thing: {thing.name}" + (" (at times)" if occasional(element) else ""),
        )
        for part in _parts(plan, thing) if details else ():
            plan.page.area(
                plan.shape(part.volume.polygon, cut=False),
                width=THIN,
                dashes=DASHES if occasional(part) else (),
                z=5.0,
                gid=f"part: {part.label}",
            )
    if details:
        for thing, frame in _placed(plan):
            _draw_cut(plan, thing, frame)


def _face(thing: Thing) -> str:
    if thing.fixed:
        return FIXED_FACE
    return MACHINE_FACE if thing.cutter is not None or thing.ports else FURNITURE_FACE


def _parts(plan: Plan, thing: Thing) -> Iterator[Element]:
    for element in plan.scene.things.get(thing.name, ()):
        if element.nature == "solid" and element.name != "body":
            yield element


def _placed(plan: Plan) -> Iterator[tuple[Thing, Frame]]:
    for thing in plan.scene.shop.things:
        pose: Pose | None = plan.scene.layout.pose(thing.name)
        if pose is not None:
            yield thing, frame_of(thing, pose)


def _draw_cut(plan: Plan, thing: Thing, frame: Frame) -> None:
    """The blade at table height as a heavy line, and the way the work goes."""
    cutter = thing.cutter
    if cutter is None:
        return
    ahead = {"away": (0.0, 1.0), "right": (1.0, 0.0), "left": (-1.0, 0.0)}[cutter.feed]

    def at(along: float) -> tuple[float, float]:
        point = frame.point(cutter.x + along * ahead[0], cutter.y + along * ahead[1])
        return plan.to_paper(point[0].value, point[1].value)

    unit = plan.ratio / 1000.0
    front, back = -cutter.front.value, cutter.back.value
    plan.page.line([at(front), at(back)], width=HEAVY, colour=CUT, z=5.3, gid=f"cut: {thing.name}")
    tip, tail = at(back + 4.5 * unit), at(back + 0.8 * unit)
    plan.page.line([tail, tip], width=LIGHT, colour=CUT, z=5.3)
    dx, dy = ((tip[i] - tail[i]) / 3.7 for i in (0, 1))
    barbs = [
        (tip[0] - 1.3 * dx - side * 0.6 * dy, tip[1] - 1.3 * dy + side * 0.6 * dx)
        for side in (-1, 1)
    ]
    plan.page.line(
        [barbs[0], tip, barbs[1]], width=LIGHT, colour=CUT, z=5.3, gid=f"feed: {thing.name}"
    )


# --- lettering -------------------------------------------------------------------------------


def letter_equipment(plan: Plan, busy: Sequence[Box] = (), *, sizes: bool = True) -> None:
    """A label for every thing: within its outline where it fits, else beside it with a leader."""
    # small things first: they have the fewest places
    for thing, element in sorted(bodies(plan), key=lambda pair: pair[1].volume.polygon.area):
        _letter(plan, thing, element, busy, sizes)


def _letter(plan: Plan, thing: Thing, element: Element, busy: Sequence[Box], sizes: bool) -> None:
    """Within, beside with a leader, then the bare name: the first way that finds room."""
    body = plan.seen(element.volume.polygon)
    if body is None:
        return
    lines = _lines(plan, thing, element, sizes)
    away = [*busy, *body_boxes(plan), *wall_boxes(plan)]
    gid = f"label: {thing.name}"
    if _write_within(plan, thing, element, _variants(lines, body), busy):
        return
    ways = ((lines, 14.0, 0.0), (lines[:1], 14.0, 0.0), (lines, 60.0, 0.0), (lines[:1], 120.0, 1e9))
    for i, (shown, reach, most) in enumerate(ways):
        if i == 1 and _write_within(plan, thing, element, _names(lines[0]), busy):
            return
        if _write_beside(plan, element, Label(shown, SMALL_SIZE, bold=1), away, reach, most, gid):
            return


def _write_within(
    plan: Plan, thing: Thing, element: Element, labels: Iterable[Label], busy: Sequence[Box]
) -> bool:
    inner = [*busy, *_crossing(plan, thing, element)]
    body = plan.seen(element.volume.polygon) or plan.box(element.volume.polygon)
    whole = prep(plan.shape(element.volume.polygon).buffer(0.05))
    for label in labels:
        places = (
            b
            for b in inside(body.grown(-0.2), *label.extent)
            if whole.contains(rectangle(b.left, b.bottom, b.right, b.top))
        )
        found = plan.placer.find(places, busy=inner, most=0.03 * label.extent[0] * label.extent[1])
        if found is not None:
            plan.write(label, found, gid=f"label: {thing.name}")
            return True
    return False


def _write_beside(
    plan: Plan,
    element: Element,
    label: Label,
    busy: Sequence[Box],
    reach: float,
    most: float,
    gid: str,
) -> bool:
    body = plan.seen(element.volume.polygon) or plan.box(element.volume.polygon)
    found = plan.placer.find(beside(body, *label.extent, reach=reach), busy=busy, most=most)
    if found is None:
        return False
    plan.write(label, found, gid=gid)
    start = found.nearest(*body.centre)
    end = body.grown(-min(0.8, body.width / 2, body.height / 2)).nearest(*start)
    plan.page.line([start, end], width=FINE, z=8.0, gid=gid.replace("label", "leader"))
    return True


def _lines(plan: Plan, thing: Thing, element: Element, sizes: bool) -> tuple[str, ...]:
    name = thing.name
    if occasional(element):
        name += f" ({_place(plan, thing, element)})"
    if not sizes:
        return (name,)
    size = " x ".join(plan.length(side) for side in _sides(thing, element))
    high = heights(element.volume, plan.system)
    if thing.surface is not None and abs(thing.surface.value - thing.height.value) > 1e-3:
        high += f", table {plan.length(thing.surface.value)}"
    return name, size, high


def _sides(thing: Thing, element: Element) -> tuple[float, float]:
    """Sizes as the thing lies, west to east first; at a slant its own width and depth [m]."""
    west, south, east, north = element.volume.bounds
    wide, deep = thing.width.value, thing.depth.value
    lies = (east - west, north - south)
    return lies if abs(sum(lies) - wide - deep) < TOLERANCE else (wide, deep)


def _place(plan: Plan, thing: Thing, element: Element) -> str:
    """`parked` or `working`, else the tasks during which it is there."""
    for place in PLACES[1:]:
        pose = plan.scene.layout.pose(thing.name, place)
        if pose is not None:
            points = frame_of(thing, pose).place(thing.body).points
            if abs(points - element.volume.outline.points).max() < 1e-9:
                return place
    return ", ".join(sorted(element.presence.only or ()))


def _variants(lines: tuple[str, ...], body: Box) -> Iterator[Label]:
    """Ways to set the lines, the most readable first; along the longer side of the body."""
    stacks = list(_stacks(lines))
    ways = (False, True) if body.width >= body.height * 0.6 else (True, False)
    for size in (NAME_SIZE, SMALL_SIZE):
        for stack, bold in stacks:
            for upright in ways:
                yield Label(stack, size, bold=bold, upright=upright)


def _names(name: str) -> Iterator[Label]:
    """The bare name."""
    for stack in _folded(name):
        for upright in (False, True):
            yield Label(stack, SMALL_SIZE, bold=len(stack), upright=upright)


def _stacks(lines: tuple[str, ...]) -> Iterator[tuple[tuple[str, ...], int]]:
    """Ways to break the lines, each with the number of lines that the name takes."""
    if len(lines) == 1:
        yield from ((folded, len(folded)) for folded in _folded(lines[0]))
        return
    name, size, high = lines
    yield lines, 1
    yield (name, f"{size}, {high}"), 1
    for folded in _folded(name):
        if len(folded) > 1:
            yield (*folded, size, high), len(folded)


def _folded(name: str) -> Iterator[tuple[str, ...]]:
    """The name on one line, then on two and three."""
    words = name.split()
    yield (name,)
    for breaks in (1, 2):
        for cuts in combinations(range(1, len(words)), breaks):
            edges = (0, *cuts, len(words))
            yield tuple(" ".join(words[edges[i] : edges[i + 1]]) for i in range(len(edges) - 1))


def _crossing(plan: Plan, thing: Thing, element: Element) -> list[Box]:
    """Boxes of what crosses the body: its thin parts, its blade, and bodies that lie over it."""
    boxes = [plan.box(part.volume.polygon) for part in _parts(plan, thing)]
    shape = element.volume.polygon
    boxes += [
        plan.box(other.volume.polygon)
        for _, other in bodies(plan)
        if other is not element
        and other.volume.top.value >= element.volume.top.value
        and other.volume.polygon.intersects(shape)
        and other.volume.polygon.intersection(shape).area > 1e-6
    ]
    pose = plan.scene.layout.pose(thing.name)
    if thing.cutter is not None and pose is not None:
        point = frame_of(thing, pose).point(thing.cutter.x, thing.cutter.y)
        reach = (thing.cutter.front.value + thing.cutter.back.value) * 500.0 / plan.ratio + 3.0
        x, y = plan.to_paper(point[0].value, point[1].value)
        ahead = frame_of(thing, pose).heading(
            *({"away": (0.0, 1.0)}.get(thing.cutter.feed, (1.0, 0.0)))
        )
        wide = 2.0 + 2 * reach * abs(ahead[0])
        high = 2.0 + 2 * reach * abs(ahead[1])
        boxes.append(Box.about(x, y, wide, high))
    return boxes
