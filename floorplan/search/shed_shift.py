"""The least move of the collector's shed to where the site's limits allow it.

The legal ground is exact, so its nearest point is the least move; first at its turn and wall as it
is, then on the ground at its other turns or along another wall.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from itertools import product
from math import ceil, floor, hypot

import numpy as np
from shapely.geometry import Point
from shapely.ops import nearest_points

from floorplan.checks.shed_finding import SHED
from floorplan.search.change import STEP, Draft, Step
from floorplan.search.shed_ground import SAME_TURN, Ground, grounds
from floorplan.search.shift import shift_words, turn_text
from floorplan.shop.model import Shop
from floorplan.shop.shed_body import placed
from floorplan.shop.site import Shed, ShedPlace
from floorplan.units import TOLERANCE

KEPT = 1e-6
"""Coordinates that change by less are kept as they were measured [m]."""


def is_shed(draft: Draft, name: str) -> bool:
    """Whether a name is that of the site's shed, and the file says where that stands."""
    return name == SHED and not draft.shop.has(name) and _place(draft.shop) is not None


def shed_steps(draft: Draft) -> Iterator[Step]:
    """The shed at the nearest legal places, the least move first, those that turn it last."""
    here = _place(draft.shop)
    if here is None:
        return
    rows = [(ground, to) for ground in grounds(draft.shop) if (to := _nearest(draft, ground, here))]
    yield from sorted(
        (_step(draft, here, ground, to) for ground, to in rows),
        key=lambda step: (step.kind == "turn", step.trouble),
    )


def _place(shop: Shop) -> ShedPlace | None:
    return None if shop.site is None or shop.site.shed is None else shop.site.shed.place


def _alike(here: ShedPlace, ground: Ground) -> bool:
    """Whether a shed keeps its turn and wall there."""
    apart = abs((here.turn - ground.turn + 180.0) % 360.0 - 180.0)
    return apart < SAME_TURN and here.wall == ground.wall


def _nearest(draft: Draft, ground: Ground, here: ShedPlace) -> tuple[float, float] | None:
    """The nearest place, in steps of a tape where such a one is legal [m]."""
    at = (here.x.value, here.y.value)
    spot = nearest_points(ground.places, Point(at))[0]
    if _alike(here, ground) and hypot(spot.x - at[0], spot.y - at[1]) < TOLERANCE:
        return None
    step = STEP[draft.shop.system]
    options = [
        (was,) if abs(v - was) < KEPT else (floor(v / step) * step, ceil(v / step) * step)
        for v, was in zip((spot.x, spot.y), at, strict=True)
    ]
    inside = ground.places.buffer(TOLERANCE / 2)
    corners = [(float(x), float(y)) for x, y in product(*options)]
    corners.sort(key=lambda c: hypot(c[0] - spot.x, c[1] - spot.y))
    exact = (float(spot.x), float(spot.y))
    return next((c for c in corners if inside.covers(Point(c))), exact)


def _step(draft: Draft, here: ShedPlace, ground: Ground, to: tuple[float, float]) -> Step:
    dx, dy = to[0] - here.x.value, to[1] - here.y.value
    far = hypot(dx, dy)
    words = shift_words(draft.shop, dx, dy)
    place = _set(here, ground, to)
    made = _moved(draft, place)
    if _alike(here, ground):
        return Step("shift", SHED, far, "m", f"shift the shed {words}", made, far)
    by = (ground.turn - here.turn + 180.0) % 360.0 - 180.0
    what = turn_text("the shed", by) if abs(by) > SAME_TURN else "move the shed"
    beside = f" against {ground.wall}" if ground.wall else ""
    text = f"{what} and set its west and south sides {words}{beside}"
    return Step("turn", SHED, abs(by), "deg", text, made, _farthest(draft, here, place))


def _set(here: ShedPlace, ground: Ground, to: tuple[float, float]) -> ShedPlace:
    """The new place; a coordinate that is kept keeps its measuring error."""
    place = ground.place(*to)
    if not _alike(here, ground):
        return place
    return replace(
        place,
        x=here.x if abs(here.x.value - to[0]) < KEPT else place.x,
        y=here.y if abs(here.y.value - to[1]) < KEPT else place.y,
    )


def _farthest(draft: Draft, one: ShedPlace, other: ShedPlace) -> float:
    """How far the corner goes that goes farthest [m]."""
    assert draft.shop.site is not None
    shed = draft.shop.site.shed
    assert shed is not None
    before, after = (placed(shed, place).walls.points for place in (one, other))
    return float(np.hypot(*(after - before).T).max())


def _moved(draft: Draft, place: ShedPlace) -> Draft:
    site = draft.shop.site
    assert site is not None
    shed: Shed | None = site.shed
    assert shed is not None
    shop = replace(draft.shop, site=replace(site, shed=replace(shed, place=place)))
    return Draft(shop, draft.layout)
