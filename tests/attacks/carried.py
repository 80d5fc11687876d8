"""Whole shop files with one carried piece, turned at random in the world and judged twice.

The scene is made in a frame of its own, with walls along the axes; the file holds it turned.  The
second judge stays in that frame: it works out heights, doors and leaves anew from the same
numbers, fills all that is not ground with boxes, and links poses on a lattice.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from itertools import pairwise, product
from math import ceil, cos, degrees, hypot, pi, sin
from random import Random
from typing import Any

import numpy as np
from scipy import ndimage

Array = Any
Box = tuple[float, float, float, float]
"""West, south, east, north [mm]."""
Pose = tuple[float, float, float]
"""x, y [mm] and turn [rad]."""

HOW = ("flat", "on edge", "on edge with carrier", "on cart", "by two", "on end")
RULES = {
    "body-width": 300.0, "body-depth": 150.0, "person-height": 1900.0, "carry-cart-width": 320.0,
    "carry-cart-length": 500.0, "carry-cart-deck": 200.0, "carry-edge-height": 150.0,
    "carry-flat-height": 860.0, "carry-lift": 50.0, "carry-body-depth": 250.0,
}  # fmt: skip
"""Rules of these shops [mm]: people are slim, so that they have ways of carrying to differ in."""
CEILING, THICK = 2400.0, 110.0
BEYOND = 600.0
"""Ground before a door beyond what a piece reaches turned before it [mm]."""
LEAF = 45.0
"""Thickness of a hinged leaf [mm]."""


@dataclass(frozen=True)
class Thing:
    """A box that stands or hangs in the room: its middle, size, own turn and heights."""

    x: float
    y: float
    wide: float
    deep: float
    turn: float
    bottom: float
    top: float

    def corners(self) -> Array:
        """(4, 2) in the scene's frame [mm]."""
        a, b = self.wide / 2, self.deep / 2
        points = _corners((-a, -b, a, b))
        return points @ _rotation(self.turn).T + (self.x, self.y)


@dataclass(frozen=True)
class Door:
    """A door in the south wall, from its west end [mm]."""

    at: float
    width: float
    clear: float
    sill: float
    head: float
    kind: str
    hand: str
    leaf: tuple[float, float, float]
    """Of an overhead door: reach into the room, bottom, top."""

    def gap(self) -> tuple[float, float]:
        """The clear opening along the wall."""
        lost = self.width - self.clear
        if self.kind == "opening" or self.kind == "overhead":
            return self.at + lost / 2, self.at + self.width - lost / 2
        # seen from inside, facing south, the left hand is east
        if self.hand == "left":
            return self.at, self.at + self.clear
        return self.at + lost, self.at + self.width


@dataclass(frozen=True)
class Shop:
    """A room with its north-east corner cut out perhaps, things, a door, and one carry [mm]."""

    width: float
    depth: float
    cut: tuple[float, float]
    door: Door
    things: tuple[Thing, ...]
    size: tuple[float, float, float]
    how: str
    start: Pose
    goal: Pose
    world: float
    """How far the whole is turned in the file [rad]."""
    lattice: float
    shut: bool = False
    """Whether the door is kept shut."""


@dataclass(frozen=True)
class Part:
    """A rectangle of what is carried, about the middle of the piece, and its heights [mm]."""

    box: Box
    bottom: float
    top: float


# --- what is there -------------------------------------------------------------------------


def parts(shop: Shop, side: float) -> tuple[Part, ...]:
    """What is carried in plan; one carrier is on the left (1) or the right (-1) of the piece."""
    long, wide, thick = shop.size
    rule, how = RULES, shop.how
    person = (0.0, rule["person-height"])
    edge = (rule["carry-edge-height"], rule["carry-edge-height"] + wide)

    def around(length: float, width: float, heights: tuple[float, float]) -> Part:
        return Part((-length / 2, -width / 2, length / 2, width / 2), *heights)

    if how == "flat":
        low = rule["carry-flat-height"]
        return (around(long, wide, (low, low + thick)),)
    if how == "on end":
        low = rule["carry-lift"]
        return (around(wide, thick, (low, low + long)),)
    if how == "on edge":
        return (around(long, thick, edge),)
    if how == "on cart":
        deck = rule["carry-cart-deck"]
        length = max(long, rule["carry-cart-length"])
        width = max(thick, rule["carry-cart-width"])
        return tuple(around(length, width, h) for h in ((deck, deck + wide), (0.0, deck)))
    if how == "by two":
        half, width = long / 2, max(thick, rule["body-width"])
        out = half + rule["body-depth"]
        people = ((half, out), (-out, -half))
        return (
            around(long, width, edge),
            *(Part((west, -width / 2, east, width / 2), *person) for west, east in people),
        )
    edges = sorted((-side * thick / 2, side * (thick / 2 + rule["body-width"])))
    deep = rule["carry-body-depth"] / 2
    return around(long, thick, edge), Part((-deep, edges[0], deep, edges[1]), *person)


def opened(shop: Shop) -> bool:
    """Whether the door is open and the piece can go through it by its heights."""
    carried = parts(shop, 1.0)[0]
    low = 0.0 if shop.how == "on cart" else carried.bottom
    return not shop.shut and carried.top <= shop.door.head and low >= shop.door.sill


def ground(shop: Shop) -> tuple[Box, ...]:
    """Boxes of floor, doorway and the land before it."""
    (cut_x, cut_y), door = shop.cut, shop.door
    boxes = [
        (0.0, 0.0, shop.width, shop.depth - cut_y),
        (0.0, 0.0, shop.width - cut_x, shop.depth),
    ]
    if opened(shop):
        all_of = [p.box for p in parts(shop, 1.0)]
        long = max(b[2] for b in all_of) - min(b[0] for b in all_of)
        wide = max(b[3] for b in all_of) - min(b[1] for b in all_of)
        reach = hypot(long, wide) + BEYOND
        west, east = door.gap()
        boxes.append((west, -THICK, east, 0.0))
        land = (door.at - reach, -THICK - reach, door.at + door.width + reach, -THICK)
        boxes.append(land)
    return tuple(boxes)


def filled(shop: Shop) -> list[Array]:
    """Boxes that cover all that is not ground, to some way beyond it."""
    boxes = np.array(ground(shop))
    edge = 200.0
    low, high = boxes[:, :2].min(axis=0) - edge, boxes[:, 2:].max(axis=0) + edge
    xs = np.unique(np.concatenate([boxes[:, 0], boxes[:, 2], [low[0], high[0]]]))
    ys = np.unique(np.concatenate([boxes[:, 1], boxes[:, 3], [low[1], high[1]]]))
    found = []
    for (south, north), (west, east) in product(pairwise(ys), pairwise(xs)):
        x, y = (west + east) / 2, (south + north) / 2
        if not any(w < x < e and s < y < n for w, s, e, n in boxes):
            found.append(_corners((west, south, east, north)))
    return found


def solids(shop: Shop, part: Part) -> list[Array]:
    """Outlines of all that stands or hangs at the heights of one part of what is carried."""
    volumes = [(t.corners(), t.bottom, t.top) for t in shop.things]
    door = shop.door
    if opened(shop) and door.kind == "hinged":
        east = door.hand == "left"
        hinge = door.at + door.width if east else door.at
        west, far = (hinge - LEAF, hinge) if east else (hinge, hinge + LEAF)
        volumes.append((_corners((west, 0.0, far, door.width)), door.sill, door.head))
    if opened(shop) and door.kind == "overhead":
        reach, bottom, top = door.leaf
        plan = _corners((door.at, 0.0, door.at + door.width, reach))
        volumes.append((plan, bottom, top))
    return [
        plan for plan, bottom, top in volumes
        if min(top, part.top) - max(bottom, part.bottom) > 0.01
    ]  # fmt: skip


# --- brute force ---------------------------------------------------------------------------


class Lattice:
    """Poses of what is carried on a lattice of places and turns, over a whole turn."""

    def __init__(self, shop: Shop, carried: tuple[Part, ...]) -> None:
        around = filled(shop)
        self.parts = [(p.box, [*around, *solids(shop, p)]) for p in carried]
        """Each part with what it must not touch."""
        boxes = np.array(ground(shop))
        h = self.step = shop.lattice
        self.xs = np.arange(boxes[:, 0].min(), boxes[:, 2].max() + h, h)
        self.ys = np.arange(boxes[:, 1].min(), boxes[:, 3].max() + h, h)
        plans = {p.box for p in carried}
        reach = np.array(sorted(plans))
        self.radius = float(np.hypot(*np.abs(reach).reshape(-1, 2, 2).max(axis=1).T).max())
        # what is the same again after half a turn needs no more
        same = plans == {(-e, -n, -w, -s) for w, s, e, n in plans}
        self.period = pi if same else 2 * pi
        count = ceil(self.period * self.radius / h)
        self.turns = np.arange(count) * self.period / count
        self.between = max(h / 2, (self.radius + h) * self.period / count / 2)
        """Farthest that a point is from the nearer of two neighbouring poses."""
        self.off = h / 2**0.5 + self.radius * self.period / count / 2
        """Farthest that a point is off at the pose nearest to any other."""

    def free(self, xs: Array, ys: Array, turn: float, grown: float) -> Array:
        """(y, x): whether all parts, grown all round, meet nothing."""
        x, y = np.meshgrid(xs, ys)
        free = np.ones(x.shape, dtype=bool)
        c, s = cos(turn), sin(turn)
        u, v = np.array([c, s]), np.array([-s, c])
        for (west, south, east, north), obstacles in self.parts:
            a, b = max((east - west) / 2 + grown, 0.0), max((north - south) / 2 + grown, 0.0)
            mx, my = (west + east) / 2, (south + north) / 2
            px, py = x + mx * c - my * s, y + mx * s + my * c
            for corners in obstacles:
                free &= _apart(px, py, (u, v), (a, b), corners)
        return free

    def links(self, start: Pose, goals: list[Pose], *, surely: bool) -> bool:
        """Whether a way to any of the goals is certain (`surely`), or cannot be ruled out."""
        grown = self.between if surely else -self.off
        first, *ends = (self._node(p) for p in (start, *goals))
        if surely:
            ends = [n for n in ends if self._joins(n)]
            if not (ends and self._joins(first)):
                return False
        free = np.stack([self.free(self.xs, self.ys, float(t), grown) for t in self.turns])
        free = np.concatenate([free, free[:1]])
        around = ndimage.generate_binary_structure(3, 1 if surely else 3)
        labels, _ = ndimage.label(free, structure=around)
        # the last layer is the first one again
        pairs = np.unique(np.stack([labels[0][free[0]], labels[-1][free[0]]]), axis=1).T
        links = np.concatenate([pairs, pairs[:, ::-1]]) if len(pairs) else np.empty((0, 2), int)
        reached = {int(labels[first])} - {0}
        grew = True
        while grew:
            more = {int(b) for a, b in links if int(a) in reached} - reached - {0}
            grew = bool(more)
            reached |= more
        return any(int(labels[end]) in reached for end in ends)

    def _node(self, pose: Pose) -> tuple[int, int, int]:
        x, y, turn = pose
        k = round(turn / (self.period / len(self.turns))) % len(self.turns)
        return k, round((y - self.ys[0]) / self.step), round((x - self.xs[0]) / self.step)

    def _joins(self, node: tuple[int, int, int]) -> bool:
        """Whether any pose nearest to a node can be moved onto it."""
        k, j, i = node
        if not (0 <= j < len(self.ys) and 0 <= i < len(self.xs)):
            return False
        here = self.xs[i : i + 1], self.ys[j : j + 1]
        return bool(self.free(*here, float(self.turns[k]), self.off)[0, 0])


def touches(shop: Shop, carried: tuple[Part, ...], path: list[Pose], allowed: float) -> Pose | None:
    """First finely sampled pose at which something carried is in something else."""
    lattice = Lattice(shop, carried)
    rows = []
    for a, b in pairwise(np.array(path)):
        way = hypot(b[0] - a[0], b[1] - a[1]) + lattice.radius * abs(b[2] - a[2])
        rows.append(a + (b - a) * np.linspace(0.0, 1.0, 2 + ceil(way / 6.0))[:, None])
    poses = np.vstack(rows)
    x, y = poses[:, 0], poses[:, 1]
    c, s = np.cos(poses[:, 2]), np.sin(poses[:, 2])
    hit = np.zeros(len(poses), dtype=bool)
    for (west, south, east, north), obstacles in lattice.parts:
        half = (east - west) / 2 - allowed, (north - south) / 2 - allowed
        mx, my = (west + east) / 2, (south + north) / 2
        at = x + mx * c - my * s, y + mx * s + my * c
        for corners in obstacles:
            hit |= ~_apart(*at, (np.stack([c, s]), np.stack([-s, c])), half, corners)
    return tuple(poses[np.argmax(hit)]) if hit.any() else None


def _apart(x: Array, y: Array, own: tuple[Array, Array], half: Any, corners: Array) -> Array:
    """Whether a rectangle at each place and a convex outline are parted by a side of either.

    `own` are the directions of its sides, one for all places or one for each.
    """
    edges = np.roll(corners, -1, axis=0) - corners
    normals = np.stack([edges[:, 1], -edges[:, 0]], axis=1) / np.hypot(*edges.T)[:, None]
    apart = np.zeros(x.shape, dtype=bool)
    for axis in (*own, *normals[:2]):
        reach = abs(axis[0] * own[0][0] + axis[1] * own[0][1]) * half[0]
        reach = reach + abs(axis[0] * own[1][0] + axis[1] * own[1][1]) * half[1]
        middle = x * axis[0] + y * axis[1]
        along = [px * axis[0] + py * axis[1] for px, py in corners]
        low, high = np.minimum.reduce(along), np.maximum.reduce(along)
        apart |= (middle - reach >= high - 1e-6) | (middle + reach <= low + 1e-6)
    return apart


def _corners(b: Box) -> Array:
    west, south, east, north = b
    return np.array([(west, south), (east, south), (east, north), (west, north)])


def _rotation(turn: float) -> Array:
    return np.array([[cos(turn), -sin(turn)], [sin(turn), cos(turn)]])


# --- as a file -----------------------------------------------------------------------------


class World:
    """From the scene's frame into the file's, with the room's least corner at the origin."""

    def __init__(self, shop: Shop) -> None:
        self.shop, self.matrix = shop, _rotation(shop.world)
        self.origin = (self.outline() @ self.matrix.T).min(axis=0)

    def outline(self) -> Array:
        """Corners of the room in its own frame [mm]."""
        w, d, (x, y) = self.shop.width, self.shop.depth, self.shop.cut
        if x <= 0.0:
            return np.array([(0, 0), (w, 0), (w, d), (0, d)], dtype=float)
        return np.array([(0, 0), (w, 0), (w, d - y), (w - x, d - y), (w - x, d), (0, d)], float)

    def into(self, points: Array) -> Array:
        """Points of the scene as the file counts them [mm]."""
        return np.asarray(points) @ self.matrix.T - self.origin

    def back(self, x: float, y: float, turn: float) -> Pose:
        """A pose of the file in the scene's frame [mm, rad]."""
        px, py = (np.array([x, y]) + self.origin) @ self.matrix
        return float(px), float(py), turn - self.shop.world


def text_of(shop: Shop) -> str:
    """The shop as a file in millimetres."""
    world = World(shop)
    corners = world.into(world.outline())
    names = ["south", *(f"wall {k}" for k in range(1, len(corners)))]
    door = shop.door
    ahead = world.matrix @ (1.0, 0.0)
    forward = ahead[0] > 1e-9 or (abs(ahead[0]) <= 1e-9 and ahead[1] > 0)
    at = door.at if forward else shop.width - door.at - door.width
    kind = {"hinged": f"kind: hinged, hand: {door.hand}, swing: in"}.get(
        door.kind, f"kind: {door.kind}"
    )
    if door.kind == "overhead":
        reach, bottom, top = door.leaf
        kind += f", side room: 0, leaf: {{reach: {reach}, bottom: {bottom}, top: {top}}}"
    lines = [
        "shop: a shop", "units: mm", "tape: 0",
        f"room: {{corners: {[[_mm(x), _mm(y)] for x, y in corners]}, height: {CEILING},",
        f"  wall thickness: {THICK}, wall names: {names}}}".replace("'", ""),
        f"doors: {{gate: {{wall: south, at: {_mm(at)}, width: {door.width},",
        f"  clear width: {door.clear}, sill: {door.sill}, height: {door.head - door.sill},",
        f"  {kind}, leads to: outside}}}}",
        "equipment:", *(_thing_line(k, t, world) for k, t in enumerate(shop.things)),
        "places:", *(f"  {n}: {_place(p, world)}" for n, p in _ends(shop)),
        "stock: {{piece: {{length: {}, width: {}, thickness: {}}}}}".format(*shop.size),
        f"jobs: {{work: {{carry: {{stock: piece, from: here, to: there, how: {shop.how}}}}}}}",
        "rules:", *(f"  {name}: {value}" for name, value in RULES.items()),
    ]  # fmt: skip
    return "\n".join(lines) + "\n"


def _thing_line(number: int, thing: Thing, world: World) -> str:
    x, y = world.into(thing.corners()).min(axis=0)
    turn = degrees(thing.turn + world.shop.world) % 360.0
    return (
        f"  box {number}: {{width: {thing.wide}, depth: {thing.deep}, bottom: {thing.bottom}, "
        f"height: {thing.top}, at: {{x: {_mm(x)}, y: {_mm(y)}, turn: {turn:.12f}}}}}"
    )


def _ends(shop: Shop) -> tuple[tuple[str, Pose], tuple[str, Pose]]:
    return ("here", shop.start), ("there", shop.goal)


def _place(pose: Pose, world: World) -> str:
    x, y = world.into(np.array([pose[:2]]))[0]
    turn = degrees(pose[2] + world.shop.world) % 360.0
    return f"{{x: {_mm(x)}, y: {_mm(y)}, turn: {turn:.12f}}}"


def _mm(value: float) -> float:
    return round(float(value), 9)


# --- at random -----------------------------------------------------------------------------


def random_shop(random: Random) -> Shop | None:
    """A shop whose ends have room; None where none was found in a few tries."""
    width, depth = random.uniform(2000, 3400), random.uniform(2000, 3400)
    cut = (0.0, 0.0)
    if random.random() < 0.35:
        cut = random.uniform(0.2, 0.6) * width, random.uniform(0.2, 0.6) * depth
    size = random.uniform(700, 2000), random.uniform(200, 800), random.choice((18.0, 60.0, 180.0))
    size = (size[0], min(size[1], size[0]), min(size[2], size[1]))
    shop = Shop(
        round(width, 1), round(depth, 1), (round(cut[0], 1), round(cut[1], 1)),
        _random_door(random, width), tuple(_random_things(random, width, depth, cut)),
        tuple(round(v, 1) for v in size),  # type: ignore[arg-type]
        random.choice(HOW), (0, 0, 0), (0, 0, 0),
        random.choice((0.0, 0.0, pi / 2, pi, random.uniform(-pi, pi))), random.choice((45.0, 60.0)),
    )  # fmt: skip
    return _with_ends(shop, random)


def _random_door(random: Random, width: float) -> Door:
    wide = random.uniform(350, 1100)
    clear = wide - random.choice((0.0, 0.0, random.uniform(0, 60)))
    at, sill = random.uniform(0, width - wide), random.choice((0.0, 0.0, random.uniform(20, 300)))
    head = random.uniform(1700, 2300)
    bottom = random.uniform(1500, 2200)
    leaf = (random.uniform(500, 1800), bottom, bottom + 150.0)
    parts = (round(v, 1) for v in (at, wide, clear, sill, head))
    kind, hand = random.choice(("opening", "hinged", "overhead")), random.choice(("left", "right"))
    return Door(*parts, kind, hand, tuple(round(v, 1) for v in leaf))  # type: ignore[arg-type]


def _random_things(
    random: Random, width: float, depth: float, cut: tuple[float, float]
) -> list[Thing]:
    found = []
    for _ in range(random.randint(2, 8)):
        wide, deep = random.choice((
            (random.uniform(100, 1100), random.uniform(100, 700)),
            (random.uniform(60, 150), random.uniform(60, 150)),  # a post
            (random.uniform(500, 1500), random.uniform(1, 5)),  # a sliver
        ))  # fmt: skip
        bottom, top = random.choice((
            (0.0, random.choice((100.0, 860.0, random.uniform(100, 2300)))),
            (0.0, CEILING),
            (random.choice((1900.0, random.uniform(300, 2200))), CEILING),  # a beam, a cabinet
        ))  # fmt: skip
        turn = random.choice((0.0, 0.0, pi / 2, random.uniform(0, pi)))
        reach = (abs(wide * cos(turn)) + abs(deep * sin(turn))) / 2
        rise = (abs(wide * sin(turn)) + abs(deep * cos(turn))) / 2
        if 2 * reach < width and 2 * rise < depth:
            x, y = random.uniform(reach, width - reach), random.uniform(rise, depth - rise)
            if x > width - cut[0] and y > depth - cut[1]:
                continue
            wide, deep, bottom, top = (round(v, 1) for v in (wide, deep, bottom, top))
            found.append(Thing(x, y, wide, deep, turn, bottom, top))
    return found


def _with_ends(shop: Shop, random: Random) -> Shop | None:
    lattices = [Lattice(shop, parts(shop, side)) for side in (1.0, -1.0)]
    outside = random.random() < 0.5 and opened(shop)
    ends: list[Pose] = []
    for _ in range(80):
        low = -900.0 if outside and not ends else 100.0
        high = -THICK if outside and not ends else shop.depth
        pose = random.uniform(0, shop.width), random.uniform(low, high), random.uniform(0, 2 * pi)
        if any(
            bool(m.free(np.array([pose[0]]), np.array([pose[1]]), pose[2], 1.0)[0, 0])
            for m in lattices
        ):
            ends.append(pose)
        if len(ends) == 2:
            return replace(shop, start=ends[0], goal=ends[1])
    return None
