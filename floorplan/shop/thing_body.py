"""What the parts of a thing hang on while it is read: its sizes, sides and outline."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from shapely.geometry import Polygon

from floorplan.geometry.affine import ZERO, Affine, Outline, affine
from floorplan.shop.building import signed_area
from floorplan.shop.model import SIDES, Side
from floorplan.shop.nodes import Node
from floorplan.shop.reading import Layers, Reading, Sizes, size


@dataclass(frozen=True, slots=True)
class Body:
    """What the parts of a thing hang on while it is read."""

    reading: Reading
    name: str
    sizes: Sizes

    @property
    def width(self) -> Affine:
        """Size along local x [m]."""
        return self.sizes["width"]

    @property
    def depth(self) -> Affine:
        """Size along local y [m]."""
        return self.sizes["depth"]

    def size(
        self,
        layers: Layers,
        key: str,
        what: str,
        *,
        default: Affine | None = None,
        height: bool = False,
        signed: bool = False,
        positive: bool = False,
    ) -> Affine | None:
        """A size of a part, which may follow the thing's own sizes [m]."""
        return size(
            self.reading,
            layers,
            key,
            f"{self.name}: {what} {key}",
            sizes=self.sizes,
            default=default,
            height=height,
            signed=signed,
            positive=positive,
        )

    def at(self, layers: Layers, what: str, key: str = "at") -> tuple[Affine, Affine] | None:
        """Local point `[from the left, from the rear]` as x and y [m]."""
        node, assumed = layers.get(key)
        pair = self.reading.pair(node, "a place `[from the left, from the rear]`")
        if pair is None:
            return None
        right = self.length(pair[0], f"{self.name}: {what} from the left", assumed)
        rear = self.length(pair[1], f"{self.name}: {what} from the rear", assumed)
        return None if right is None or rear is None else (right, -rear)

    def length(self, node: Node, name: str, assumed: bool) -> Affine | None:
        """A local coordinate; a bare 0 is the edge itself and carries no error [m]."""
        return self.reading.length(node, name, signed=True, assumed=assumed, contact_at_zero=True)

    def side_box(
        self, side: str, start: Affine, end: Affine, near: Affine | float, far: Affine | float
    ) -> Outline:
        """Local box on a side, `start` to `end` along it, `near` to `far` away from it [m].

        Along the front and back one counts from the left, along the ends from the rear.
        """
        if side == "front":
            return Outline.box(
                left=start, right=end, south=-self.depth - far, north=-self.depth - near
            )
        if side == "back":
            return Outline.box(left=start, right=end, south=affine(near), north=affine(far))
        if side == "left":
            return Outline.box(left=-affine(far), right=-affine(near), south=-end, north=-start)
        return Outline.box(left=self.width + near, right=self.width + far, south=-end, north=-start)

    def side_length(self, side: str) -> Affine:
        """Length of a side [m]."""
        return self.width if side in ("front", "back") else self.depth


def outline_of(body: Body, layers: Layers) -> Outline | None:
    """Plan of a body or part; also sets its width and depth when only corners are given."""
    node, assumed = layers.get("outline")
    if node is None:
        return Outline.box(left=ZERO, right=body.width, south=-body.depth, north=ZERO)
    items = node.sequence()
    if items is None:
        return None
    if len(items) < 3:
        node.fault("an outline has at least three corners")
        return None
    points = []
    for i, item in enumerate(items):
        pair = body.reading.pair(item, "a corner `[from the left, from the rear]`")
        if pair is None:
            return None
        x = body.length(pair[0], f"{body.name}: corner {i + 1} from the left", assumed)
        y = body.length(pair[1], f"{body.name}: corner {i + 1} from the rear", assumed)
        if x is None or y is None:
            return None
        points.append((x, -y))
    ring = body.reading.ring(node, points)
    if ring is None:
        return None
    points = ring
    outline = Outline.of(points)
    polygon = Polygon(outline.points)
    if not polygon.is_valid or polygon.area < 1e-6:
        node.fault(
            f"the outline of `{body.name}` crosses itself or has no area",
            "give the corners in order, walking round it",
        )
        return None
    sizes = body.sizes
    assert isinstance(sizes, dict)
    sizes.setdefault("width", outline.highest(0) - outline.lowest(0))
    sizes.setdefault("depth", outline.highest(1) - outline.lowest(1))
    return outline if signed_area(outline.points) > 0 else Outline.of(points[::-1])


def children(layers: Layers, key: str) -> Iterator[tuple[str, Layers]]:
    """Named entries under a key, without those set to `none` or told as faults already."""
    table = layers.child(key)
    if layers.is_none(key):
        return
    for name in table.names() if table.own or table.kind else ():
        child = table.child(name)
        if child.node_or_none is not None:  # else its fault is told already
            yield name, child


def tasks_of(spec: Layers, key: str) -> frozenset[str] | None:
    """Names of tasks under a key, None when the key is missing."""
    node, _ = spec.get(key)
    names = None if node is None else node.strings()
    return None if names is None else frozenset(names)


def side_of(spec: Layers, name: str) -> Side | None:
    """The side on which something sits, None after a fault."""
    node, _ = spec.get("side")
    if node is None:
        spec.node.fault(f"`{name}` needs `side:`", f"one of {', '.join(SIDES)}")
        return None
    chosen = node.choice(SIDES)
    return next((side for side in SIDES if side == chosen), None)
