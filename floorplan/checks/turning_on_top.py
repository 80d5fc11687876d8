"""Where on a top a piece is turned upright: it lies with its middle on it, and stands on it wholly.

It turns about the lower corner of one end.  Lying it may jut out by half its length, standing
by nothing, so along the turn the top is as long as the width and half the length at least.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from math import cos, radians, sin

import numpy as np
from shapely.geometry import Point, Polygon

from floorplan.checks.finding import Finding, finding
from floorplan.geometry.affine import Affine, greater, smaller
from floorplan.shop.carrying import Stand
from floorplan.shop.model import Carry
from floorplan.shop.scene import Scene
from floorplan.units import TOLERANCE

RULE = "turned-on-top"


def top_of(scene: Scene, carry: Carry) -> Polygon:
    """The top that a piece is turned on, from above."""
    return scene.things[carry.start][0].volume.polygon


def placed(stand: Stand, end: float, carry: Carry, top: Polygon) -> Stand | None:
    """As near the middle of a top as it can be turned towards one end; None: nowhere.

    `end` is the end that stays: along (1) or against (-1) the direction of the piece.
    """
    length, width = carry.length.value, carry.width.value
    way = np.array([cos(radians(stand.turn)), sin(radians(stand.turn))]) * end
    middle = np.array([stand.x, stand.y])
    along = (np.asarray(top.exterior.coords) - middle) @ way
    least, most = along.min() + length / 2, along.max() - width
    if most < least - TOLERANCE:
        return None
    corner = max(min((length - width) / 2, most), least)
    lying = middle + (corner - length / 2) * way
    base = _base(middle + corner * way, way, width, carry.thickness.value)
    near = top.buffer(TOLERANCE, join_style="mitre")
    if not (near.covers(Point(lying)) and near.covers(base)):
        return None
    return replace(stand, x=float(lying[0]), y=float(lying[1]))


def _base(corner: np.ndarray, way: np.ndarray, width: float, thickness: float) -> Polygon:
    """What it stands on when it is upright."""
    aside = np.array([-way[1], way[0]]) * (thickness / 2)
    far = corner + width * way
    return Polygon([corner - aside, far - aside, far + aside, corner + aside])


def bearing(scene: Scene, carry: Carry, found: Sequence[object]) -> Finding:
    """Whether the top is large enough; `found` are the ways to turn the piece on it."""
    thing, shop = scene.shop.thing(carry.start), scene.shop
    needed = carry.width + carry.length * 0.5
    rooms = [
        smaller(along - needed, across - carry.thickness)
        for along, across in ((thing.width, thing.depth), (thing.depth, thing.width))
    ]
    margin: Affine = greater(*rooms)
    enough = margin.value >= -TOLERANCE
    words = f"{{spare}} larger than it has to be to turn {carry.piece} upright on it"
    if not enough:
        words = f"{{spare}} too small to turn {carry.piece} upright on it"
    return finding(
        shop, check="tilting", rule=RULE, about=(carry.start, carry.piece), margin=margin,
        needed=0.0, message=f"the top of {carry.start} is {words}", where=top_of(scene, carry),
        task=carry.task, line=carry.line, certified=not enough or bool(found),
    )  # fmt: skip
