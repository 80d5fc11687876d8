"""A sheet among convex obstacles, decided by brute force on a lattice of poses.

Nodes are h apart and turns so that no corner moves more than h between two.  Where the sheet
grown by half of that has a way from node to node, the sheet itself passes; where the sheet shrunk
by what the nearest node may be off has none, not even over corners, it does not.  Tests of two
convex shapes are by separating axes; nothing is shared with the program.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise
from math import ceil, cos, hypot, pi, sin
from random import Random
from typing import Any

import numpy as np
from scipy import ndimage

Array = Any
Pose = tuple[float, float, float]


@dataclass(frozen=True)
class SheetScene:
    """A room, convex obstacles (lists of corners), a sheet and its two ends [m, rad]."""

    width: float
    depth: float
    obstacles: tuple[tuple[tuple[float, float], ...], ...]
    long: float
    wide: float
    start: Pose
    goal: Pose
    step: float


def random_scene(random: Random) -> SheetScene | None:
    """A scene whose ends are free; None where none was found in a few tries."""
    width, depth = random.uniform(2.0, 3.6), random.uniform(2.0, 3.6)
    step = random.choice((0.04, 0.05, 0.06))
    long, wide = random.uniform(0.7, 2.0), random.choice((0.01, random.uniform(0.02, 0.7)))
    obstacles = [_box(random, width, depth) for _ in range(random.randint(2, 8))]
    if random.random() < 0.7:
        # a wall across with one doorway
        at, gap = depth * random.uniform(0.35, 0.65), random.uniform(0.15, 0.8)
        door = random.uniform(0.0, width - gap)
        thick = random.choice((0.05, 0.1, 0.3))
        obstacles = obstacles[:4] + [
            tuple((x, y) for x, y in ((a, at), (b, at), (b, at + thick), (a, at + thick)))
            for a, b in ((0.0, door), (door + gap, width))
            if b - a > 1e-6
        ]
    scene = SheetScene(width, depth, tuple(obstacles), long, wide, (0, 0, 0), (0, 0, 0), step)
    turns = angles(scene)
    ends = []
    for _ in range(60):
        node = (
            step * random.randrange(int(width / step) + 1),
            step * random.randrange(int(depth / step) + 1),
            float(random.choice(turns)),
        )
        if _free(scene, np.array([node[0]]), np.array([node[1]]), node[2], 0.0)[0, 0]:
            across = not ends or abs(node[1] - ends[0][1]) > depth / 3
            if across or random.random() < 0.02:
                ends.append(node)
        if len(ends) == 2:
            parts = width, depth, scene.obstacles, long, wide
            return SheetScene(*parts, ends[0], ends[1], step)
    return None


def _box(random: Random, width: float, depth: float) -> tuple[tuple[float, float], ...]:
    a, b = random.uniform(0.05, 1.2), random.uniform(0.05, 0.8)
    x, y = random.uniform(0, width), random.uniform(0, depth)
    turn = random.choice((0.0, 0.0, 0.0, random.uniform(0, pi)))
    c, s = cos(turn), sin(turn)
    corners = ((-a, -b), (a, -b), (a, b), (-a, b)) if random.random() < 0.8 else (
        (-a, -b), (a, -b), (0.0, b))  # fmt: skip
    return tuple((x + (u * c - v * s) / 2, y + (u * s + v * c) / 2) for u, v in corners)


def angles(scene: SheetScene) -> Array:
    """Turns of the lattice over half a turn [rad]."""
    radius = hypot(scene.long, scene.wide) / 2
    return np.arange(count := ceil(pi * radius / scene.step)) * pi / count


def _free(scene: SheetScene, xs: Array, ys: Array, angle: float, grown: float) -> Array:
    """(y, x): whether the sheet, grown all round, meets nothing at each node."""
    a, b = max(scene.long / 2 + grown, 0.0), max(scene.wide / 2 + grown, 0.0)
    u, v = np.array([cos(angle), sin(angle)]), np.array([-sin(angle), cos(angle)])
    reach_x, reach_y = abs(u[0]) * a + abs(v[0]) * b, abs(u[1]) * a + abs(v[1]) * b
    grid_x, grid_y = np.meshgrid(xs, ys)
    slack = 1e-9
    free = (grid_x >= reach_x - slack) & (grid_x <= scene.width - reach_x + slack)
    free &= (grid_y >= reach_y - slack) & (grid_y <= scene.depth - reach_y + slack)
    for corners in scene.obstacles:
        q = np.array(corners)
        edges = np.roll(q, -1, axis=0) - q
        normals = np.stack([edges[:, 1], -edges[:, 0]], axis=1)
        normals /= np.linalg.norm(normals, axis=1)[:, None]
        apart = np.zeros_like(free)
        for axis in (u, v, *normals):
            half = abs(axis @ u) * a + abs(axis @ v) * b
            middle = grid_x * axis[0] + grid_y * axis[1]
            along = q @ axis
            apart |= (middle - half >= along.max() - slack) | (middle + half <= along.min() + slack)
        free &= apart
    return free


def linked(scene: SheetScene, grown: float, *, over_corners: bool) -> bool:
    """Whether the sheet, grown by so much, gets from start to goal node by node."""
    xs = np.arange(0.0, scene.width + scene.step, scene.step)
    ys = np.arange(0.0, scene.depth + scene.step, scene.step)
    turns = angles(scene)
    free = np.stack([_free(scene, xs, ys, float(t), grown) for t in (*turns, turns[0] + pi)])
    ends = [
        (round(t / (pi / len(turns))) % len(turns), round(y / scene.step), round(x / scene.step))
        for x, y, t in (scene.start, scene.goal)
    ]
    if not over_corners and not all(free[e] for e in ends):
        return False
    # a sheet is itself again after half a turn: first and last layer are one
    free = np.concatenate([free, free[1:-1][:1]])
    around = ndimage.generate_binary_structure(3, 3 if over_corners else 1)
    labels, count = ndimage.label(free, structure=around)
    root = list(range(count + 1))

    def top(k: int) -> int:
        while root[k] != k:
            root[k] = root[root[k]]
            k = root[k]
        return k

    layers = ((0, len(turns)), (1, len(turns) + 1))
    for first, last in layers:
        same = free[first] & free[last]
        pairs = np.unique(np.stack([labels[first][same], labels[last][same]]), axis=1)
        for p, q in pairs.T:
            root[top(int(p))] = top(int(q))
    tops = [{top(int(k)) for k in np.unique(labels[e]) if k} for e in ends]
    return bool(tops[0] & tops[1])


def growth(scene: SheetScene) -> float:
    """Half of what any point moves between two neighbouring nodes at most [m]."""
    radius = hypot(scene.long / 2 + scene.step, scene.wide / 2 + scene.step)
    return max(scene.step / 2, radius * pi / len(angles(scene)) / 2)


def shrinkage(scene: SheetScene) -> float:
    """How far any point is off at the nearest node at most [m]."""
    radius = hypot(scene.long, scene.wide) / 2
    return scene.step / 2**0.5 + radius * pi / len(angles(scene)) / 2


def touches(scene: SheetScene, path: list[Pose], allowed: float) -> Pose | None:
    """First finely sampled pose at which the sheet is in something by more than allowed [m]."""
    radius = hypot(scene.long, scene.wide) / 2
    rows = []
    for a, b in pairwise(np.array(path)):
        way = hypot(b[0] - a[0], b[1] - a[1]) + radius * abs(b[2] - a[2])
        rows.append(a + (b - a) * np.linspace(0.0, 1.0, 2 + ceil(way / 0.004))[:, None])
    poses = np.vstack(rows)
    c, s = np.cos(poses[:, 2]), np.sin(poses[:, 2])
    half = np.array([scene.long, scene.wide]) / 2 - allowed
    corners = np.stack(
        [
            poses[:, :2] + np.stack([u * c - v * s, u * s + v * c], axis=1)
            for u, v in ((-1, -1) * half, (1, -1) * half, (1, 1) * half, (-1, 1) * half)
        ],
        axis=1,
    )
    hit = ((corners < 0) | (corners > (scene.width, scene.depth))).any(axis=(1, 2))
    for obstacle in scene.obstacles:
        q = np.array(obstacle)
        edges = np.roll(q, -1, axis=0) - q
        axes = [np.stack([c, s], axis=1), np.stack([-s, c], axis=1)]
        axes += [np.broadcast_to((e[1], -e[0]) / np.hypot(*e), (len(c), 2)) for e in edges]
        apart = np.zeros(len(c), dtype=bool)
        for axis in axes:
            own = np.einsum("nki,ni->nk", corners, axis)
            other = axis @ q.T
            apart |= (own.min(axis=1) >= other.max(axis=1)) | (own.max(axis=1) <= other.min(axis=1))
        hit |= ~apart
    return tuple(poses[np.argmax(hit)]) if hit.any() else None
