"""What a fed piece may lie on: tables, benches and stands, in the frame of a machine's feed.

In that frame x counts along the feed from the middle of the blade and y to the left of it.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
import shapely
from shapely.affinity import affine_transform
from shapely.geometry import Polygon
from shapely.geometry.base import BaseGeometry

from floorplan.geometry.affine import Affine, Outline, affine, rotation
from floorplan.geometry.balance import Plate
from floorplan.shop.carrying import table_span
from floorplan.shop.feeding import along_and_across, feeds_of, lane
from floorplan.shop.model import AT_REST, Cutter, Feed, OutfeedLink, Shop, Thing
from floorplan.shop.scene import Element, Scene, frame_of
from floorplan.units import TOLERANCE

_AHEAD = {"away": (90.0, (0.0, 1.0)), "left": (180.0, (-1.0, 0.0)), "right": (0.0, (1.0, 0.0))}
_LOOK = 12.0  # surfaces are looked for so far before and behind a blade [m]
_SAME = 1e-7  # a corner found by cutting lies on what it was cut from within this [m]


@dataclass(frozen=True, slots=True, eq=False)
class Surface:
    """What a fed piece may lie on."""

    owner: str
    outline: Outline
    """In the frame of the feed [m]."""
    near: Affine
    far: Affine
    """Where it begins and ends along the feed, under the piece [m]."""
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


@dataclass(frozen=True, slots=True, eq=False)
class Lane:
    """The piece on its way: how long it is, and between which lines it runs [m]."""

    length: Affine
    right: Affine
    left: Affine
    """y of its sides."""

    @classmethod
    def of(cls, feed: Feed) -> Lane:
        """The lane of a fed piece."""
        length, _ = along_and_across(feed)
        left, right = lane(feed)
        return cls(length, -right, -left)

    @property
    def middle(self) -> Affine:
        """Of its centre of gravity [m]."""
        return (self.left + self.right) / 2

    @property
    def plate(self) -> Plate:
        """The piece as drawn."""
        return Plate(self.length.value, self.right.value, self.left.value)

    def polygon(self) -> Polygon:
        """All the ground that the piece passes over."""
        return shapely.box(-_LOOK, self.right.value, _LOOK, self.left.value)


def surfaces(scene: Scene, feed: Feed, thing: Thing, cutter: Cutter) -> Iterator[Surface]:
    """The machine's table, then whatever has a surface under the piece."""
    most = affine(scene.shop.rules.value("outfeed-step-most"))
    piece = Lane.of(feed)
    table = _table(thing, cutter)
    near, far = table_span(thing, cutter)
    yield Surface(thing.name, table, near, far, Affine(0.0), most)
    under, into = piece.polygon(), Feedwise(scene, thing, cutter)
    task = feed.task or next((t.name for t in scene.shop.tasks_using(thing.name)), AT_REST)
    for element in scene.elements:
        if element.nature != "solid" or element.building or not element.presence.during(task):
            continue
        top = _top(scene.shop, element, thing.name)
        if top is None or (element.owner == thing.name and element.name == "body"):
            continue
        outline = into.outline(element)
        shape = Polygon(outline.points)
        common = shape.intersection(under)
        if common.area <= TOLERANCE**2:
            continue
        ends = _ends(outline, common)
        if element.owner == thing.name and Polygon(table.points).covers(shape):
            continue  # a part within the table adds nothing to it
        link = link_to(scene.shop, element.owner, thing.name)
        limit = link.step_most if link is not None else most
        yield Surface(element.owner, outline, *ends, cutter.table - top, limit)


def carrying(found: tuple[Surface, ...]) -> BaseGeometry:
    """All that carries, as drawn, in the frame of the feed."""
    return shapely.union_all([Polygon(s.outline.points) for s in found if s.carries()])


def link_to(shop: Shop, name: str, machine: str) -> OutfeedLink | None:
    """How a thing takes the outfeed of a machine, None if it does not."""
    return next((k for k in shop.thing(name).outfeed_of if k.machine == machine), None)


class Feedwise:
    """From the room into the frame of a machine's feed, and back."""

    def __init__(self, scene: Scene, thing: Thing, cutter: Cutter) -> None:
        pose = scene.layout.pose(thing.name)
        assert pose is not None
        self.blade = frame_of(thing, pose).point(cutter.x, cutter.y)
        self.turn = -(pose.turn + _AHEAD[cutter.feed][0])

    def outline(self, element: Element) -> Outline:
        """A solid's outline in the frame of the feed."""
        x, y = self.blade
        return element.volume.outline.moved(-x, -y).turned(self.turn)

    def back(self, shape: BaseGeometry) -> BaseGeometry:
        """A shape in the frame of the feed as it lies in the room."""
        x, y = (number.value for number in self.blade)
        (a, b), (c, d) = rotation(-self.turn).tolist()
        return affine_transform(shape, [a, b, c, d, x, y])


def heading(scene: Scene, thing: Thing, cutter: Cutter) -> tuple[float, float]:
    """Direction of the feed in the room."""
    pose = scene.layout.pose(thing.name)
    assert pose is not None
    return frame_of(thing, pose).heading(*_AHEAD[cutter.feed][1])


def _table(thing: Thing, cutter: Cutter) -> Outline:
    """A machine's table in the frame of its feed."""
    if thing.body.sides() is None:
        return thing.body.moved(-cutter.x, -cutter.y).turned(-_AHEAD[cutter.feed][0])
    near, far = table_span(thing, cutter)
    if cutter.feed == "away":
        sides = cutter.x - thing.body.highest(0), cutter.x - thing.body.lowest(0)
    elif cutter.feed == "left":
        sides = cutter.y - cutter.table_back, cutter.y - cutter.table_front
    else:
        sides = cutter.table_front - cutter.y, cutter.table_back - cutter.y
    return Outline.box(left=near, right=far, south=sides[0], north=sides[1])


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


def _ends(outline: Outline, common: BaseGeometry) -> tuple[Affine, Affine]:
    """Where the part of a surface under the piece begins and ends along the feed [m]."""
    points = shapely.get_coordinates(common)
    first, last = points[np.argmin(points[:, 0])], points[np.argmax(points[:, 0])]
    return outline.nearest(first)[0], outline.nearest(last)[0]


# --- corners of what carries, with their sensitivities ---------------------------------------


def corner(
    found: tuple[Surface, ...], piece: Lane, head: float, at: tuple[float, float]
) -> tuple[Affine, Affine]:
    """A corner of where the piece lies on what carries it, as sensitive as what makes it one.

    That is a corner of a surface, a corner of the piece, or where their sides cross; there the
    crossing runs along the side that stays when the other moves.
    """
    x, y = at
    side = next((s for s in (piece.left, piece.right) if abs(s.value - y) <= _SAME), None)
    ends = (Affine(head), Affine(head) - piece.length)
    end = next((e for e in ends if abs(e.value - x) <= _SAME), None)
    if side is not None and end is not None:
        return end, side
    carrier = min(
        (s for s in found if s.carries()),
        key=lambda s: Polygon(s.outline.points).exterior.distance(shapely.Point(at)),
    )
    on = carrier.outline.nearest(at)
    if side is None and end is None:
        return on
    nx, ny = _normal(carrier.outline.points, at)
    if side is not None:
        slope = ny / nx if abs(nx) > 1e-9 else 0.0
        return on[0] + (on[1] - side) * slope, side
    assert end is not None
    slope = nx / ny if abs(ny) > 1e-9 else 0.0
    return end, on[1] + (on[0] - end) * slope


def _normal(ring: np.ndarray, at: tuple[float, float]) -> tuple[float, float]:
    """Unit normal of the side of a ring nearest to a point."""
    ahead = np.roll(ring, -1, axis=0) - ring
    lines = shapely.linestrings(np.stack([ring, ring + ahead], axis=1))
    dx, dy = ahead[int(np.argmin(shapely.distance(lines, shapely.Point(at))))]
    length = float(np.hypot(dx, dy)) or 1.0
    return float(dy) / length, -float(dx) / length


def feeds(scene: Scene) -> Iterator[tuple[str, Feed, Thing, Cutter]]:
    """Every fed piece with its machine, machines without a pose left out."""
    for thing in scene.shop.things:
        if thing.cutter is None or scene.layout.pose(thing.name) is None:
            continue
        for job, feed in feeds_of(scene.shop, thing):
            yield job, feed, thing, thing.cutter
