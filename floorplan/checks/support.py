"""What carries a piece while it is fed, where it tips, and what force of the hand keeps it level.

Statics of a stiff beam along the feed: while its centre of gravity lies between the first and the
last place that carries it, it rests by itself; beyond them the hand at its tail holds it, with a
lever arm from the tail to the nearest edge.  Sideways it is taken to be in balance.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from math import inf

import numpy as np
from shapely.geometry import LineString
from shapely.geometry.base import BaseGeometry

from floorplan.checks.finding import Answer, Finding, finding, verdict_of
from floorplan.geometry.affine import Affine, Array, affine
from floorplan.shop.carrying import table_span
from floorplan.shop.feeding import along_and_across, feeds_of, lane
from floorplan.shop.model import AT_REST, Cutter, Feed, OutfeedLink, Shop, Thing
from floorplan.shop.scene import Element, Scene, frame_of
from floorplan.units import TOLERANCE, format_mass

CHECK = "support"
RULE = "feed-support"
GRAVITY = 9.80665
"""Standard acceleration of free fall [m/s2] (3rd General Conference on Weights and Measures)."""
POWER_FED = frozenset({"planer"})
"""Kinds whose rollers grip the piece, so that no hand has to."""
STEPS = 96
"""Places at which the hand force is worked out along a feed."""
_AHEAD = {"away": (0.0, 1.0), "left": (-1.0, 0.0), "right": (1.0, 0.0)}
_LOOK = 12.0  # surfaces are looked for so far before and behind a blade [m]


@dataclass(frozen=True, slots=True)
class Surface:
    """What a fed piece may lie on: where it begins and ends along the feed from the blade."""

    owner: str
    near: Affine
    far: Affine
    step: Affine
    """How much lower it lies than the machine's table [m]."""
    most: Affine
    """How much lower it may lie to carry [m]."""

    def carries(self) -> bool:
        """Whether the piece comes to lie on it, as drawn."""
        return -TOLERANCE <= self.step.value <= self.most.value + TOLERANCE

    def stops(self) -> bool:
        """Whether it stands higher than the table and so blocks the piece."""
        return self.step.value < -TOLERANCE


@dataclass(frozen=True, eq=False)
class Support:
    """How one piece is carried on its way through a machine."""

    job: str
    feed: Feed
    length: Affine
    """Along the feed [m]."""
    mass: float
    """[kg]"""
    surfaces: tuple[Surface, ...]
    """All in line with the middle of the piece, the machine's own table first."""
    covered: Affine
    """How far behind the blade the piece is carried without a break too wide for it [m]."""
    needed: Affine
    """Where its centre of gravity is when it is clear of the cutter, behind the blade [m]."""
    with_hand: Affine
    """How far it must be carried for the usual force of a hand to keep it level [m]."""
    curve: tuple[tuple[float, float], ...]
    """(way of the leading end behind the blade [m], force of the hand at the tail [N]).

    Positive presses down, negative lifts, infinite where no force holds it.
    """
    where: BaseGeometry

    @property
    def tips_at(self) -> float | None:
        """Way of the leading end at which the piece begins to tip, None when it does not [m]."""
        if self.covered.value >= self.needed.value - TOLERANCE:
            return None
        return self.covered.value + self.length.value / 2

    @property
    def lift(self) -> float:
        """Largest force that carries the tail before the table [N]."""
        return max((-force for _, force in self.curve), default=0.0)

    @property
    def hold_down(self) -> float:
        """Largest force that keeps the piece from tipping until it is clear [N]."""
        return max((force for _, force in self.curve), default=0.0)

    @property
    def can_be_held(self) -> bool:
        """Whether a hand could keep it level at all: with no more than the piece's own weight."""
        return self.hold_down <= self.mass * GRAVITY

    @property
    def stopped_by(self) -> Surface | None:
        """The first higher surface that the piece runs against behind the table."""
        return next((s for s in self.surfaces if s.stops() and s.near.value > 0.0), None)


def check(scene: Scene) -> Answer:
    """Every piece that a job feeds by hand."""
    asked = {id(feed) for _, feed in scene.shop.feeds()}
    by_hand = {t.name for t in scene.shop.things if t.kind not in POWER_FED}
    made = [m for m in supports(scene) if id(m.feed) in asked and m.feed.machine in by_hand]
    return Answer(tuple(f for one in made for f in _findings(scene, one)))


def supports(scene: Scene) -> Iterator[Support]:
    """How every fed piece is carried, machines without a pose left out."""
    for thing in scene.shop.things:
        if thing.cutter is None or scene.layout.pose(thing.name) is None:
            continue
        for job, feed in feeds_of(scene.shop, thing):
            yield support(scene, job, feed, thing, thing.cutter)


def support(scene: Scene, job: str, feed: Feed, thing: Thing, cutter: Cutter) -> Support:
    """How one piece is carried."""
    length, _ = along_and_across(feed)
    surfaces = tuple(_surfaces(scene, feed, thing, cutter))
    push = scene.shop.rules.value("feed-push-through")
    tail = cutter.back + push
    carrying = [s for s in surfaces if s.carries()]
    mass, hand = piece_mass(scene.shop, feed), scene.shop.rules.value("hold-down-most")
    spans = [(s.near.value, s.far.value) for s in carrying]
    first = surfaces[0].near.value
    heads = np.linspace(first, tail.value + length.value, STEPS + 1)
    heads = np.unique(np.append(heads, [b + d for b in _edges(spans) for d in (0.0, 1e-9)]))
    heads = heads[(heads >= first) & (heads <= tail.value + length.value + 1e-12)]
    curve = tuple(
        (float(head), hand_force(mass, length.value, float(head), spans)) for head in heads
    )
    return Support(
        job, feed, length, mass, surfaces, _covered(carrying, length.value),
        tail + length / 2, tail + length / 2 * (mass / (mass + hand)), curve,
        _line(scene, thing, cutter, tail.value + length.value / 2),
    )  # fmt: skip


def _edges(spans: list[tuple[float, float]]) -> list[float]:
    return [edge for span in spans for edge in span]


def hand_force(mass: float, length: float, head: float, spans: list[tuple[float, float]]) -> float:
    """Force of the hand at the tail that keeps a stiff piece level [N].

    The leading end is at `head`; `spans` are the stretches along the feed that carry [m].
    Positive presses down, negative lifts, `inf` where the tail is past the last edge.
    """
    tail, centre, weight = head - length, head - length / 2, mass * GRAVITY
    under = [(max(a, tail), min(b, head)) for a, b in spans if b > tail and a <= head]
    if not under:
        return -weight if not spans or head < min(a for a, _ in spans) else inf
    low, high = min(a for a, _ in under), max(b for _, b in under)
    if centre > high:
        return weight * (centre - high) / (high - tail) if high > tail else inf
    if centre < low:
        return -weight * (low - centre) / (low - tail)
    return 0.0


def _covered(carrying: list[Surface], length: float) -> Affine:
    """Farthest edge that the centre of gravity can come to without the piece tipping.

    A stiff piece bridges a break of up to half its length.
    """
    reached = carrying[0].far
    for surface in sorted(carrying[1:], key=lambda s: s.near.value):
        bridged = surface.near.value <= reached.value + length / 2 + TOLERANCE
        if bridged and surface.far.value > reached.value:
            reached = surface.far
    return reached


def piece_mass(shop: Shop, feed: Feed) -> float:
    """Mass of a fed piece by its stock's density, else that of fibreboard [kg]."""
    density = next((s.density for s in shop.stock if s.name == feed.stock), None)
    if density is None:
        density = shop.rules.value("density-mdf")
    return feed.length.value * feed.width.value * feed.thickness.value * density


def _surfaces(scene: Scene, feed: Feed, thing: Thing, cutter: Cutter) -> Iterator[Surface]:
    """The machine's table, then whatever has a surface in line with the middle of the piece."""
    near, far = table_span(thing, cutter)
    most = affine(scene.shop.rules.value("outfeed-step-most"))
    yield Surface(thing.name, near, far, Affine(0.0), most)
    blade, way, line = _middle_line(scene, feed, thing, cutter)
    task = feed.task or next((t.name for t in scene.shop.tasks_using(thing.name)), AT_REST)
    for element in scene.elements:
        if element.nature != "solid" or element.building or not element.presence.during(task):
            continue
        top = _top(scene.shop, element, thing.name)
        if top is None or not element.volume.polygon.intersects(line):
            continue
        ends = _ends(element, line, way, blade)
        if ends is None or ends[1].value <= near.value:
            continue
        if _is_table(ends, (near, far), element, thing):
            continue
        link = _link(scene.shop, element.owner, thing.name)
        limit = link.step_most if link is not None else most
        yield Surface(element.owner, *ends, cutter.table - top, limit)


def _is_table(
    ends: tuple[Affine, Affine], table: tuple[Affine, Affine], element: Element, thing: Thing
) -> bool:
    """Whether a part of the machine lies within its table and adds nothing to it."""
    within = ends[0].value >= table[0].value - TOLERANCE and ends[1].value <= table[1].value
    return element.owner == thing.name and (element.name == "body" or within)


def _top(shop: Shop, element: Element, machine: str) -> Affine | None:
    """Height of a surface that work may lie on; parts count where they belong to the machine."""
    thing = shop.thing(element.owner)
    if element.name == "body":
        return thing.surface
    if element.owner != machine or thing.cutter is None:
        return None
    lower = thing.cutter.table - element.volume.top
    most = shop.rules.value("outfeed-step-most")
    return element.volume.top if -TOLERANCE <= lower.value <= most + TOLERANCE else None


def _link(shop: Shop, name: str, machine: str) -> OutfeedLink | None:
    return next((k for k in shop.thing(name).outfeed_of if k.machine == machine), None)


def _middle_line(
    scene: Scene, feed: Feed, thing: Thing, cutter: Cutter
) -> tuple[tuple[Affine, Affine], Array, LineString]:
    """Blade, direction of the feed, and the line on which the piece's centre of gravity runs."""
    pose = scene.layout.pose(thing.name)
    assert pose is not None
    frame = frame_of(thing, pose)
    way = np.array(frame.heading(*_AHEAD[cutter.feed]))
    right = np.array([way[1], -way[0]])
    left_edge, right_edge = lane(feed)
    blade = frame.point(cutter.x, cutter.y)
    middle = np.array([b.value for b in blade]) + right * (left_edge + right_edge).value / 2
    return blade, way, LineString([middle - way * _LOOK, middle + way * _LOOK])


def _ends(
    element: Element, line: LineString, way: Array, blade: tuple[Affine, Affine]
) -> tuple[Affine, Affine] | None:
    """Where a solid begins and ends along the feed, from the blade [m]."""
    common = element.volume.polygon.intersection(line)
    points = [np.asarray(part.coords) for part in getattr(common, "geoms", [common])]
    both = np.vstack(points)
    if len(both) < 2:
        return None
    reach = both @ way
    out = []
    for index in (int(np.argmin(reach)), int(np.argmax(reach))):
        x, y = element.volume.outline.nearest(both[index])
        out.append((x - blade[0]) * float(way[0]) + (y - blade[1]) * float(way[1]))
    return out[0], out[1]


def _line(scene: Scene, thing: Thing, cutter: Cutter, far: float) -> LineString:
    pose = scene.layout.pose(thing.name)
    assert pose is not None
    frame = frame_of(thing, pose)
    x, y = frame.point(cutter.x, cutter.y)
    dx, dy = frame.heading(*_AHEAD[cutter.feed])
    return LineString([(x.value, y.value), (x.value + dx * far, y.value + dy * far)])


def _findings(scene: Scene, made: Support) -> Iterator[Finding]:
    shop, feed = scene.shop, made.feed
    margin = made.covered - made.with_hand
    piece = f"{feed.stock} ({feed.cut})"
    message = f"{piece} is carried {{have}} behind the blade of {feed.machine}"
    if margin.value < 0:
        message += f", {{need}} needed: {{spare}} short, {_holding(shop, made)}"
    else:
        message += ", {need} needed"
    yield finding(
        shop, check=CHECK, rule=RULE, about=(feed.machine, feed.stock), margin=margin,
        needed=made.with_hand.value, message=message, where=made.where, task=feed.task,
        line=feed.line,
    )  # fmt: skip
    for surface in made.surfaces[1:]:
        spare = surface.most - surface.step
        doubtful = verdict_of(spare.value, spare.error(shop.measurements)) == "unsure"
        if doubtful and _link(shop, surface.owner, feed.machine) is None:
            yield finding(
                shop, check=CHECK, rule="outfeed-step-most", kind="advised",
                about=(surface.owner, feed.machine), margin=spare, needed=surface.most.value,
                at_most=True, by_height=True, where=made.where, task=feed.task, line=feed.line,
                message=f"{surface.owner} lies {{have}} below the table of {feed.machine}, "
                "up to {need} carries",
            )  # fmt: skip


def _holding(shop: Shop, made: Support) -> str:
    """What the missing surface means for the hand at the tail."""
    most = format_mass(shop.rules.value("hold-down-most"), shop.system)
    weight = format_mass(made.mass, shop.system)
    if not made.can_be_held:
        return f"no hand at the tail holds its {weight} to the end"
    force = format_mass(made.hold_down / GRAVITY, shop.system)
    return f"the hand would press its {weight} down with {force}, more than {most}"
