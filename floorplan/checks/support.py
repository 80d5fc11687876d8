"""What carries a piece while it is fed, where it tips, and what force of the hand keeps it level.

Statics of a stiff plate: while its centre of gravity lies over the hull of what carries it, it
rests by itself; beyond an edge of that hull it tips about it, along the feed or sideways, unless
a hand at its tail takes up the moment.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from functools import cached_property, lru_cache

import numpy as np
from shapely.geometry import LineString, Point, box
from shapely.geometry.base import BaseGeometry

from floorplan.checks.bearing import (
    Feedwise,
    Lane,
    Surface,
    carrying,
    feeds,
    heading,
    link_to,
    surfaces,
)
from floorplan.checks.finding import Answer, Finding, amount, finding, verdict_of
from floorplan.checks.tipping import Sideways, covered, sideways
from floorplan.geometry.affine import Affine
from floorplan.geometry.balance import bearing, hand_force, heads_of_change
from floorplan.shop.model import Cutter, Feed, Shop, Thing
from floorplan.shop.scene import Scene, frame_of
from floorplan.units import TOLERANCE, format_mass

CHECK = "support"
RULE = "feed-support"
SIDE_RULE = "feed-support-side"
GRAVITY = 9.80665
"""Standard acceleration of free fall [m/s2] (3rd General Conference on Weights and Measures)."""
POWER_FED = frozenset({"planer"})
"""Kinds whose rollers move the piece, so that one may go round and hold its leading end."""
STEPS = 96
"""Places at which the hand force is worked out along a feed."""


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
    """All under the piece, the machine's own table first."""
    covered: Affine
    """How far behind the blade its centre of gravity is carried before the piece tips [m]."""
    needed: Affine
    """Where its centre of gravity is when it is clear of the cutter, behind the blade [m]."""
    with_hand: Affine
    """How far it must be carried for the usual force of a hand to keep it level [m]."""
    sideways: Sideways | None
    """Where it comes nearest to tipping to a side, None where it hangs over no side."""
    where: BaseGeometry
    rollers: bool = False
    """Whether rollers move the piece and the hand may be at either end of it."""

    @cached_property
    def curve(self) -> tuple[tuple[float, float], ...]:
        """(way of the leading end behind the blade [m], force of the hand [N]).

        Positive presses down, negative lifts, infinite where no force holds it.
        """
        last, weight = (self.needed + self.length / 2).value, self.mass * GRAVITY
        return _curve(self.surfaces, Lane.of(self.feed), last, weight, rollers=self.rollers)

    @property
    def tips_at(self) -> float | None:
        """Way of the leading end at which the piece begins to tip forwards, None if never [m]."""
        if self.covered.value >= self.needed.value - TOLERANCE:
            return None
        return self.covered.value + self.length.value / 2

    @property
    def _on_table(self) -> float:
        """Way of the leading end from which the table could carry the piece alone [m]."""
        return self.surfaces[0].near.value + self.length.value / 2

    @property
    def lift(self) -> float:
        """Largest force that carries the tail before the table [N]."""
        return max((-f for head, f in self.curve if head < self._on_table), default=0.0)

    @property
    def hold_down(self) -> float:
        """Largest force that keeps the piece from tipping on the table until it is clear [N]."""
        return max((abs(f) for head, f in self.curve if head >= self._on_table), default=0.0)

    @property
    def can_be_held(self) -> bool:
        """Whether a hand could keep it level at all: with no more than the piece's own weight."""
        return self.hold_down <= self.mass * GRAVITY

    @property
    def stopped_by(self) -> Surface | None:
        """The first higher surface that the piece runs against behind the table."""
        return next((s for s in self.surfaces if s.stops() and s.near.value > 0.0), None)


def check(scene: Scene) -> Answer:
    """Every piece that a job feeds."""
    asked = {id(feed) for _, feed in scene.shop.feeds()}
    made = [m for m in supports(scene) if id(m.feed) in asked]
    return Answer(tuple(f for one in made for f in _findings(scene, one)))


@lru_cache(maxsize=32)
def supports(scene: Scene) -> tuple[Support, ...]:
    """How every fed piece is carried, machines without a pose left out."""
    return tuple(
        support(scene, job, feed, thing, cutter) for job, feed, thing, cutter in feeds(scene)
    )


def support(scene: Scene, job: str, feed: Feed, thing: Thing, cutter: Cutter) -> Support:
    """How one piece is carried."""
    piece, found = Lane.of(feed), tuple(surfaces(scene, feed, thing, cutter))
    tail = cutter.back + scene.shop.rules.value("feed-push-through")
    mass, hand = piece_mass(scene.shop, feed), scene.shop.rules.value("hold-down-most")
    rollers = thing.kind in POWER_FED
    return Support(
        job, feed, piece.length, mass, found, covered(found, piece),
        tail + piece.length / 2, tail + piece.length * _share(hand / mass, rollers=rollers),
        None if rollers else sideways(found, piece, (tail + piece.length).value, hand / mass),
        _line(scene, thing, cutter, tail.value + piece.length.value / 2), rollers,
    )  # fmt: skip


def _share(hand: float, *, rollers: bool) -> float:
    """How far from the tail an edge holds a plate by a hand of so much of its weight [-].

    Moments about the edge: a hand that presses the tail down from e carries 1/2 - e = hand x e;
    one that lifts the leading end carries 1/2 - e = hand x (1 - e).
    """
    press = 0.5 / (1.0 + hand)
    if not rollers:
        return press
    return min(press, max((0.5 - hand) / (1.0 - hand), 0.0) if hand < 1.0 else 0.0)


def _curve(
    found: tuple[Surface, ...], piece: Lane, last: float, weight: float, *, rollers: bool
) -> tuple[tuple[float, float], ...]:
    """Force of the hand from where the piece comes onto the table until it is clear."""
    plate, under, first = piece.plate, carrying(found), found[0].near.value
    heads = np.append(np.linspace(first, last, STEPS + 1), heads_of_change(under, plate))
    heads = np.unique(np.append(heads, heads + 1e-9))
    heads = heads[(heads >= first) & (heads <= last + 1e-12)]
    hulls = bearing(under, plate, heads)
    forces = hand_force(weight, plate, heads, hulls)
    if rollers:
        other = hand_force(weight, plate, heads, hulls, leading=True)
        forces = np.where(np.abs(other) < np.abs(forces), other, forces)
    return tuple(zip(heads.tolist(), forces.tolist(), strict=True))


def piece_mass(shop: Shop, feed: Feed) -> float:
    """Mass of a fed piece by its stock's density, else that of fibreboard [kg]."""
    density = next((s.density for s in shop.stock if s.name == feed.stock), None)
    if density is None:
        density = shop.rules.value("density-mdf")
    return feed.length.value * feed.width.value * feed.thickness.value * density


def _line(scene: Scene, thing: Thing, cutter: Cutter, far: float) -> LineString:
    pose = scene.layout.pose(thing.name)
    assert pose is not None
    x, y = frame_of(thing, pose).point(cutter.x, cutter.y)
    dx, dy = heading(scene, thing, cutter)
    return LineString([(x.value, y.value), (x.value + dx * far, y.value + dy * far)])


def where_it_tips(scene: Scene, made: Support) -> tuple[BaseGeometry, ...]:
    """The piece where it tips or comes nearest to it, what bears it there, its centre of gravity.

    In the room; nothing where it neither tips nor hangs over a side.
    """
    head = made.tips_at
    if head is None:
        if made.sideways is None:
            return ()
        head = made.sideways.head
    thing = scene.shop.thing(made.feed.machine)
    assert thing.cutter is not None
    plate, heads = Lane.of(made.feed).plate, np.array([head])
    piece = box(head - plate.length, plate.low, head, plate.high)
    hull = bearing(carrying(made.surfaces), plate, heads)[0]
    into = Feedwise(scene, thing, thing.cutter)
    return tuple(into.back(shape) for shape in (piece, hull, Point(plate.centres(heads)[0])))


# --- findings --------------------------------------------------------------------------------


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
    if made.sideways is not None:
        yield finding(
            shop, check=CHECK, rule=SIDE_RULE, about=(feed.machine, feed.stock),
            margin=made.sideways.margin, needed=0.0, where=made.where, task=feed.task,
            line=feed.line, message=_over_the_side(shop, made, made.sideways),
        )  # fmt: skip
    for surface in made.surfaces[1:]:
        spare = surface.most - surface.step
        doubtful = verdict_of(spare.value, spare.error(shop.measurements)) == "unsure"
        if doubtful and link_to(shop, surface.owner, feed.machine) is None:
            yield finding(
                shop, check=CHECK, rule="outfeed-step-most", kind="advised",
                about=(surface.owner, feed.machine), margin=spare, needed=surface.most.value,
                at_most=True, by_height=True, where=made.where, task=feed.task, line=feed.line,
                message=f"{surface.owner} lies {{have}} below the table of {feed.machine}, "
                "up to {need} carries",
            )  # fmt: skip


def _over_the_side(shop: Shop, made: Support, beside: Sideways) -> str:
    """Where a piece hangs over a side, and whether the hand keeps it level."""
    feed = made.feed
    most = format_mass(shop.rules.value("hold-down-most"), shop.system)
    over = amount(shop, beside.over, "up")
    text = f"{feed.stock} ({feed.cut}) hangs {over} over what carries it on the {beside.side} of "
    text += feed.machine
    if beside.margin.value >= 0:
        return f"{text}: a hand of {most} keeps it level with {{spare}} to spare"
    at = amount(shop, beside.head)
    return (
        f"{text}: it tips to that side when its leading end is {at} behind the blade, "
        f"{{spare}} of surface short for a hand of {most}"
    )


def _holding(shop: Shop, made: Support) -> str:
    """What the missing surface means for the hand."""
    most = format_mass(shop.rules.value("hold-down-most"), shop.system)
    weight = format_mass(made.mass, shop.system)
    if not made.can_be_held:
        return f"no hand at the tail holds its {weight} to the end"
    force = format_mass(made.hold_down / GRAVITY, shop.system)
    if made.rollers:
        return f"whoever takes its {weight} off holds up to {force}, more than {most}"
    return f"the hand would press its {weight} down with {force}, more than {most}"
