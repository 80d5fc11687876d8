"""Do things that belong together stand together: outfeed cover, gap and step; reach?"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
from shapely.geometry import LineString, Point

from floorplan.checks.finding import Answer, Finding, finding
from floorplan.geometry.affine import Affine, Outline, smaller
from floorplan.geometry.volume import gap
from floorplan.shop.feeding import feeds_of, lane
from floorplan.shop.model import Cutter, Feed, OutfeedLink, Thing
from floorplan.shop.scene import Frame, Scene, frame_of

CHECK = "links"
_FEED = {"away": (0.0, 1.0), "left": (-1.0, 0.0), "right": (1.0, 0.0)}


def check(scene: Scene) -> Answer:
    """Every link of every thing that stands somewhere."""
    findings: list[Finding] = []
    for thing in scene.shop.things:
        pose = scene.layout.pose(thing.name)
        if pose is None:
            continue
        for link in thing.outfeed_of:
            findings.extend(_outfeed(scene, thing, link))
        for reach in thing.within_of:
            findings.extend(_within(scene, thing, reach.target, reach.distance, reach.line))
    return Answer(tuple(findings))


def _outfeed(scene: Scene, bench: Thing, link: OutfeedLink) -> Iterator[Finding]:
    machine = scene.shop.thing(link.machine)
    saw_pose, bench_pose = scene.layout.pose(machine.name), scene.layout.pose(bench.name)
    cutter = machine.cutter
    if saw_pose is None or bench_pose is None or cutter is None or bench.surface is None:
        return
    frame = frame_of(machine, saw_pose)
    top = frame_of(bench, bench_pose).place(bench.body)
    yield from _step(scene, bench, machine, link, cutter)
    along = np.array(frame.heading(*_FEED[cutter.feed]))
    edge = _table_edge(frame, cutter, machine, along)
    near, far = _extremes(top, along)
    where = LineString(
        [frame_point(frame, cutter), tuple(np.array(frame_point(frame, cutter)) + along * 1.0)]
    )
    gap = near - edge
    begins = f"{bench.name} begins {{have}} behind the table of {machine.name}"
    yield _limit(
        scene, bench, machine, link, gap - link.gap_least, link.gap_least,
        "outfeed-gap-most", where,
        f"{begins}, at least {{need}} wanted",
    )  # fmt: skip
    yield _limit(
        scene, bench, machine, link, link.gap_most - gap, link.gap_most,
        "outfeed-gap-most", where,
        f"{begins}, at most {{need}} allowed",
        at_most=True,
    )  # fmt: skip
    spindle = _along(frame.point(cutter.x, cutter.y), along)
    covered = far - spindle
    wanted = (
        link.cover if link.cover is not None else Affine(scene.shop.rules.value("take-off-table"))
    )
    yield _limit(
        scene, bench, machine, link, covered - wanted, wanted, "take-off-table", where,
        f"the surface of {bench.name} reaches {{have}} behind the blade of {machine.name}; "
        "{need} wanted",
        required=link.cover is not None,
    )  # fmt: skip
    yield from _beside(scene, bench, machine, link, frame, cutter, top, where)


def frame_point(frame: Frame, cutter: Cutter) -> tuple[float, float]:
    """The blade in room coordinates [m]."""
    x, y = frame.point(cutter.x, cutter.y)
    return x.value, y.value


def _along(point: tuple[Affine, Affine], way: np.ndarray) -> Affine:
    return point[0] * float(way[0]) + point[1] * float(way[1])


def _extremes(outline: Outline, way: np.ndarray) -> tuple[Affine, Affine]:
    reach = outline.points @ way
    low = outline.vertex(int(np.argmin(reach)))
    high = outline.vertex(int(np.argmax(reach)))
    return _along(low, way), _along(high, way)


def _table_edge(frame: Frame, cutter: Cutter, machine: Thing, along: np.ndarray) -> Affine:
    """The machine's own edge towards the outfeed, along the feed [m]."""
    if cutter.feed == "away":
        return _along(frame.point(cutter.x, machine.body.highest(1)), along)
    side = machine.body.lowest(0) if cutter.feed == "left" else machine.body.highest(0)
    return _along(frame.point(side, cutter.y), along)


def _step(
    scene: Scene, bench: Thing, machine: Thing, link: OutfeedLink, cutter: Cutter
) -> Iterator[Finding]:
    assert bench.surface is not None
    step = cutter.table - bench.surface
    spot = scene.things[bench.name][0].volume.polygon.centroid
    lower = "lower than" if step.value >= 0 else "HIGHER than"
    base = f"{bench.name} is {{have}} {lower} the table of {machine.name}"
    if step.value < 0:
        base = (
            f"{bench.name} is {{spare}} HIGHER than the table of {machine.name}: it stops the work"
        )
    yield _limit(
        scene, bench, machine, link, step - link.step_least, link.step_least,
        "outfeed-step-least", spot, base, by_height=True,
    )  # fmt: skip
    yield _limit(
        scene, bench, machine, link, link.step_most - step, link.step_most,
        "outfeed-step-most", spot,
        f"{bench.name} is {{have}} lower than the table of {machine.name}, at most {{need}} carries"
        if step.value >= 0
        else f"{bench.name} is not too low for {machine.name}",
        at_most=True, by_height=True,
    )  # fmt: skip


def _beside(
    scene: Scene,
    bench: Thing,
    machine: Thing,
    link: OutfeedLink,
    frame: Frame,
    cutter: Cutter,
    top: Outline,
    where: LineString,
) -> Iterator[Finding]:
    """The middle of every piece must run onto the surface."""
    feeds = feeds_of(scene.shop, machine)
    along = _FEED[cutter.feed]
    right = np.array(frame.heading(along[1], -along[0]))
    blade = _along(frame.point(cutter.x, cutter.y), right)
    low, high = _extremes(top, right)
    if not feeds:
        return
    # the middle of the piece carries its weight: it must come to lie on the surface
    inner = min((_inside(blade, low, high, feed) for _, feed in feeds), key=lambda m: m.value)
    yield _limit(
        scene, bench, machine, link, inner, Affine(0.0), "outfeed-cover", where,
        f"the middle of the piece from {machine.name} comes to lie {{spare}} inside the edge of "
        f"{bench.name}"
        if inner.value >= 0
        else f"the middle of the piece from {machine.name} passes {{spare}} beside {bench.name}",
    )  # fmt: skip


def _inside(blade: Affine, low: Affine, high: Affine, feed: Feed) -> Affine:
    """How far inside the edges of a surface the middle of a piece comes to lie [m]."""
    left, right = lane(feed)
    middle = blade + (left + right) / 2
    return smaller(middle - low, high - middle)


def _limit(
    scene: Scene,
    bench: Thing,
    machine: Thing,
    link: OutfeedLink,
    margin: Affine,
    needed: Affine,
    rule: str,
    where: object,
    message: str,
    *,
    at_most: bool = False,
    required: bool = True,
    by_height: bool = False,
) -> Finding:
    return finding(
        scene.shop,
        check=CHECK,
        rule=rule,
        about=(bench.name, machine.name),
        margin=margin,
        needed=needed.value,
        message=message,
        where=where,
        kind="required" if required else "advised",
        at_most=at_most,
        line=link.line,
        by_height=by_height,
    )


def _within(scene: Scene, thing: Thing, target: str, most: Affine, line: int) -> Iterator[Finding]:
    """Straight distance in plan to a thing's outline, a named point or an outlet."""
    here = scene.things[thing.name][0].volume
    place = scene.shop.spot(target)
    if place is not None:
        spot = Point(place[0].value, place[1].value)
        x, y = here.outline.nearest((spot.x, spot.y))
        reach = np.array([spot.x - x.value, spot.y - y.value])
        far = 0.0 if here.polygon.covers(spot) else float(np.hypot(*reach))
        terms: Affine = Affine(0.0)
        if far > 0:
            ux, uy = reach / far
            terms = (place[0] - x) * float(ux) + (place[1] - y) * float(uy)
        distance = Affine(far, terms.terms)
        where: object = LineString([(x.value, y.value), (spot.x, spot.y)])
    elif target in scene.things:
        found = gap(here, scene.things[target][0].volume)
        reach_to, where = found.plan[0], found.place
        distance = reach_to if reach_to.value > 0 else Affine(0.0)
    else:
        return
    yield finding(
        scene.shop,
        check=CHECK,
        rule="within-reach",
        about=(thing.name, target),
        margin=most - distance,
        needed=most.value,
        message=f"{thing.name} stands {{have}} from {target}, at most {{need}} wanted",
        where=where,
        at_most=True,
        line=line,
    )
