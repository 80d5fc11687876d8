"""Can a sheet or cabinet be turned upright in its own plane where it is?

It turns about the lower corner of one end, which stays where it is.  The far upper corner runs on
a circle of the diagonal's length D about that corner, so over a place x along the floor from it
the piece reaches sqrt(D^2 - x^2): all it passes over is one flat profile in a vertical plane.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from math import cos, hypot, inf, radians, sin, sqrt

import numpy as np
from shapely import get_coordinates
from shapely.geometry import Polygon

from floorplan.checks.finding import Answer, Finding, amount, finding
from floorplan.checks.obstruction import ceiling, walls_about
from floorplan.checks.turning_on_top import bearing, placed, top_of
from floorplan.geometry.affine import ZERO, Affine, Outline, greater
from floorplan.geometry.volume import Volume, plan_gap
from floorplan.shop.carrying import Load, Stand, load_of, stands
from floorplan.shop.model import AT_REST, Carry, Shop
from floorplan.shop.scene import Element, Scene
from floorplan.units import TOLERANCE

CHECK = "tilting"
RULE = "carry-head"


@dataclass(frozen=True, eq=False)
class Tilt:
    """One way to turn a piece upright: about which end, and what comes nearest."""

    carry: Carry
    stand: Stand
    strip: Volume
    """What it passes over in plan, up to the diagonal's height."""
    margin: Affine
    nearest: Element
    overhead: bool
    """Whether heights decide."""
    end: float
    """Which end stays: the one along (1) or against (-1) the direction of the piece."""
    low: Affine
    """Height of its underside [m]."""


@dataclass(frozen=True, slots=True)
class Overhead:
    """Something in the strip that a piece turns in, seen from the side."""

    name: str
    near: float
    far: float
    """Where it is along the piece, from the corner that stays [m]."""
    bottom: float
    top: float
    """[m]"""


def check(scene: Scene) -> Answer:
    """Every piece that a job turns upright."""
    tops = [
        bearing(scene, wanted, tuple(tilts(scene, wanted)))
        for _, wanted in scene.shop.carries()
        if wanted.on_top and wanted.start in scene.things
    ]
    return Answer((*(_finding(scene, best) for best in best_tilts(scene)), *tops))


def best_tilts(scene: Scene) -> Iterator[Tilt]:
    """The way with most room for every piece that a job turns upright, if its place is there."""
    for _, wanted in scene.shop.carries():
        if wanted.how == "tilted up":
            best = max(tilts(scene, wanted), key=lambda t: t.margin.value, default=None)
            if best is not None:
                yield best


def tilts(scene: Scene, wanted: Carry) -> Iterator[Tilt]:
    """Turning about either end, at every pose that the place allows."""
    load = load_of(scene, wanted)
    for stand in stands(scene, wanted, load, goal=False):
        for end in (1.0, -1.0):
            where: Stand | None = stand
            if wanted.on_top:
                where = placed(stand, end, wanted, top_of(scene, wanted))
            if where is not None:
                yield _tilt(scene, wanted, load, where, end)


def _tilt(scene: Scene, wanted: Carry, load: Load, stand: Stand, end: float) -> Tilt:
    """About the end that lies along (1) or against (-1) the direction of the piece."""
    length, width = wanted.length, wanted.width
    low = load.piece.bottom
    strip = Volume(
        _strip(stand, end, length, width, wanted.thickness),
        ZERO,
        low + profile_height(length, width, 0.0),
    )
    best: tuple[Affine, Element, bool] | None = None
    for element in _candidates(scene, wanted, strip):
        margin, overhead = _margin(element, strip, stand, end, length, width, low)
        if best is None or margin.value < best[0].value:
            best = margin, element, overhead
    assert best is not None
    return Tilt(wanted, stand, strip, *best, end, low)


def _candidates(scene: Scene, wanted: Carry, strip: Volume) -> tuple[Element, ...]:
    """All that a piece may hit while it turns."""
    task = (wanted.task,) if wanted.task is not None else ()
    return (
        *(e for e in scene.solids(wanted.task or AT_REST) if not _own(wanted, e)),
        *walls_about(scene, strip, *task),
        ceiling(scene.shop),
    )


def _own(wanted: Carry, element: Element) -> bool:
    """The thing that turns, and the top it turns on; what is on that top stays in the way."""
    if element.owner == wanted.thing:
        return True
    return wanted.on_top and element.owner == wanted.start and element.name == "body"


def overhead(scene: Scene, tilt: Tilt) -> tuple[Overhead, ...]:
    """All that is in the strip of a turn, from the lowest up."""
    found = []
    half = tilt.carry.length.value / 2
    along = np.array([cos(radians(tilt.stand.turn)), sin(radians(tilt.stand.turn))]) * tilt.end
    for element in _candidates(scene, tilt.carry, tilt.strip):
        common = element.volume.polygon.intersection(tilt.strip.polygon)
        if common.area <= TOLERANCE**2:
            continue
        at = (get_coordinates(common) - (tilt.stand.x, tilt.stand.y)) @ along - half
        heights = element.volume.bottom.value, element.volume.top.value
        found.append(Overhead(element.owner, float(at.min()), float(at.max()), *heights))
    return tuple(sorted(found, key=lambda o: (o.bottom, o.near)))


def profile_height(length: Affine, width: Affine, along: float) -> Affine:
    """Greatest height over a place `along` the floor from the corner that stays [m].

    `length` lies down and comes to stand up; the place is from `-length` to `width`.
    """
    square = length.value**2 + width.value**2 - along**2
    height = sqrt(max(square, 0.0))
    if height == 0.0:
        return ZERO
    rate = length * (length.value / height) + width * (width.value / height)
    return Affine(height, rate.terms)


def _strip(stand: Stand, end: float, length: Affine, width: Affine, thick: Affine) -> Outline:
    """Plan of the piece lying and standing, the corner that stays at `end` x length / 2."""
    ux, uy = cos(radians(stand.turn)) * end, sin(radians(stand.turn)) * end
    far, near = length * -0.5, length * 0.5 + width
    corners = []
    for along, side in ((far, -0.5), (near, -0.5), (near, 0.5), (far, 0.5)):
        across = thick * side
        corners.append((along * ux - across * uy + stand.x, along * uy + across * ux + stand.y))
    return Outline.of(corners)


def _margin(
    element: Element,
    strip: Volume,
    stand: Stand,
    end: float,
    length: Affine,
    width: Affine,
    low: Affine,
) -> tuple[Affine, bool]:
    """The larger of the gaps in plan and in height, and whether it is the latter."""
    plan = plan_gap(strip, element.volume)
    if plan.value >= -TOLERANCE:
        return plan, False
    reach = _least_off(element, strip, stand, end, length)
    over = element.volume.bottom - (low + profile_height(length, width, reach))
    under = low - element.volume.top
    height = greater(over, under)
    return (height, True) if height.value > plan.value else (plan, False)


def _least_off(element: Element, strip: Volume, stand: Stand, end: float, length: Affine) -> float:
    """How near to the place above the corner that stays an element comes, along the piece [m]."""
    common = strip.polygon.intersection(element.volume.polygon)
    ux, uy = cos(radians(stand.turn)) * end, sin(radians(stand.turn)) * end
    least = inf
    for part in getattr(common, "geoms", [common]):
        if isinstance(part, Polygon) and not part.is_empty:
            points = np.asarray(part.exterior.coords) - (stand.x, stand.y)
            along = points @ np.array([ux, uy]) - length.value / 2
            crosses = along.min() <= 0.0 <= along.max()
            least = min(least, 0.0 if crosses else float(np.abs(along).min()))
    return least if least < inf else 0.0


def message_of(shop: Shop, tilt: Tilt) -> str:
    """How high its corner rises and what limits it, `{spare}` standing for by how much."""
    wanted = tilt.carry
    peak = hypot(wanted.length.value, wanted.width.value)
    what = f"{wanted.piece} turned upright {tilt.stand.words}"
    reach = f"its corner rises to {amount(shop, tilt.strip.top.value, 'up')} (diagonal "
    reach += f"{amount(shop, peak, 'up')})"
    how = "in height" if tilt.overhead else "in plan"
    if tilt.margin.value >= 0:
        return f"{what}: {reach}, {tilt.nearest.label} is nearest, {{spare}} away {how}"
    return f"{what}: {reach}, {tilt.nearest.label} is in the way by {{spare}} {how}"


def _finding(scene: Scene, tilt: Tilt) -> Finding:
    shop, wanted = scene.shop, tilt.carry
    return finding(
        shop, check=CHECK, rule=RULE, about=(wanted.piece, tilt.nearest.owner), margin=tilt.margin,
        needed=0.0, message=message_of(shop, tilt), where=tilt.strip.polygon, task=wanted.task,
        line=wanted.line, by_height=tilt.overhead,
    )  # fmt: skip
