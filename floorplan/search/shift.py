"""The least move of one thing to where all rules between pairs pass, everything else as it is.

The free region is exact, so its nearest point is the least move; what the region does not know,
such as the way out, comes back from the judge as cuts, and the nearest point is taken again.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import replace
from itertools import product
from math import ceil, floor, hypot

import numpy as np
import shapely
from shapely.geometry import LineString, Point, Polygon, box
from shapely.geometry.base import BaseGeometry
from shapely.ops import nearest_points

from floorplan.checks.finding import Finding
from floorplan.geometry.affine import Affine
from floorplan.search.change import STEP, Cut, Draft, Step, length_text, with_pose
from floorplan.search.pairwise import pairwise_spots
from floorplan.search.subject import Subject
from floorplan.shop.model import Pose, Shop, Thing
from floorplan.units import TOLERANCE

SET_X, SET_Y = "place set: x", "place set: y"
"""No measurements, so they bring no error; but margins say how they change with them."""
FAR = 100.0
NEARLY = 0.0254
"""A thing that is kept in line may stand this far beside the reserve of its line [m]."""
KEPT = 1e-6
"""Coordinates that change by less are kept as they were measured [m]."""


class Moves:
    """Shifts and turns of one thing, the least of each; `lifted` things count as away."""

    def __init__(self, draft: Draft, name: str, lifted: Iterable[str] = ()) -> None:
        thing, pose = draft.shop.thing(name), draft.layout.pose(name)
        free = not thing.fixed and thing.freedom.moves and pose is not None
        self._mover = _Mover(draft, thing, pose, tuple(lifted)) if free and pose else None
        self._shifts: dict[bool, list[Step]] = {}
        self._turns: list[Step] | None = None

    def shifts(self, *, ground: bool = False) -> list[Step]:
        """The least shift, and the least along each axis, shortest first.

        With `ground` a thing that is in nobody's way yet may still have to give way to walkers:
        then its present place stands for the shift that the judge will ask for.
        """
        if ground not in self._shifts:
            self._shifts[ground] = self._least(ground)
        return self._shifts[ground]

    def _least(self, ground: bool) -> list[Step]:
        mover = self._mover
        if mover is None:
            return []
        unlike: dict[str, Step] = {}
        for way in ("any", "x", "y"):
            step = mover.shift(way, (), ground)
            if step is not None:
                unlike.setdefault(way if step.is_still else step.text, step)
        return sorted(unlike.values(), key=lambda step: step.trouble)

    def aside(self, by: float) -> list[Step]:
        """The least shift that goes at least so far [m] east, north, west or south, each."""
        mover = self._mover
        if mover is None:
            return []
        here = (mover.pose.x.value, mover.pose.y.value)
        ways = ((1.0, 0.0), (0.0, 1.0), (-1.0, 0.0), (0.0, -1.0))
        made = (mover.shift("any", [Cut(here, way, by)], may_stay=False) for way in ways)
        return [step for step in made if step is not None]

    def turns(self) -> list[Step]:
        """Every other turn that the thing may take, the least move of its middle first."""
        if self._turns is None:
            self._turns = self._turned()
        return self._turns

    def _turned(self) -> list[Step]:
        mover = self._mover
        if mover is None:
            return []
        found = [
            step
            for turn in mover.turns
            if turn != mover.pose.turn and (step := mover.turn(turn, ())) is not None
        ]
        return sorted(found, key=lambda step: step.trouble)


def cuts_of(found: Iterable[Finding], pose: Pose) -> list[Cut] | None:
    """What failing checks ask of a place; None where moving the thing changes nothing."""
    out = []
    for failing in found:
        slope = (failing.terms.get(SET_X, 0.0), failing.terms.get(SET_Y, 0.0))
        if failing.unit != "m" or failing.margin is None or hypot(*slope) < 1e-9:
            return None
        short = failing.error - failing.margin
        out.append(Cut((pose.x.value, pose.y.value), slope, short))
    return out


class _Mover:
    """One thing among all that stays."""

    def __init__(self, draft: Draft, thing: Thing, pose: Pose, lifted: tuple[str, ...]) -> None:
        self.draft = draft
        self.thing = thing
        self.pose = pose
        layout = draft.layout
        for name in lifted:
            layout = layout.without(name)
        self.subject = Subject(draft.shop, layout, (thing.name,), reserve=True)
        self.turns = tuple(turn % 360.0 for turn in self.subject.turns(thing))
        self._places: dict[float, BaseGeometry] = {}

    def places(self, turn: float) -> BaseGeometry:
        """Where it passes with reserve at a turn."""
        if turn not in self._places:
            self._places[turn] = pairwise_spots(self.subject, turn).places
        return self._places[turn]

    # --- shift -----------------------------------------------------------------------------

    def shift(self, way: str, cuts: Sequence[Cut], may_stay: bool) -> Step | None:
        """The least shift, in any direction or along one axis with the other kept."""
        here = (self.pose.x.value, self.pose.y.value)
        region = self.places(self.pose.turn)
        if way != "any":
            region = _in_line(region, here, way)
        spot = _nearest(_cut(region, cuts), here)
        if spot is None:
            return None
        to = self._rounded(spot, region, here)
        dx, dy = to[0] - here[0], to[1] - here[1]
        if hypot(dx, dy) < TOLERANCE and not may_stay:
            return None
        return Step(
            "shift",
            self.thing.name,
            hypot(dx, dy),
            "m",
            f"shift {self.thing.name} {shift_words(self.draft.shop, dx, dy)}",
            with_pose(self.draft, self.thing.name, self._pose(to, self.pose.turn)),
            hypot(dx, dy),
            with_pose(self.draft, self.thing.name, self._probe(to, self.pose.turn, way)),
            lambda more: self.shift(way, [*cuts, *more], may_stay),
        )

    def _rounded(
        self, spot: tuple[float, float], region: BaseGeometry, here: tuple[float, float]
    ) -> tuple[float, float]:
        """The spot in steps of a tape where that stays inside, else as it is."""
        step = STEP[self.draft.shop.system]
        options = [
            (here[i],) if abs(spot[i] - here[i]) < KEPT
            else (floor(spot[i] / step) * step, ceil(spot[i] / step) * step)
            for i in (0, 1)
        ]  # fmt: skip
        corners = [(float(x), float(y)) for x, y in product(*options)]
        near = sorted(corners, key=lambda c: hypot(c[0] - spot[0], c[1] - spot[1]))
        inside = region.buffer(TOLERANCE / 2)
        return next((c for c in near if inside.covers(Point(c))), spot)

    def _pose(self, to: tuple[float, float], turn: float) -> Pose:
        """The new place; a coordinate that is kept keeps its measuring error."""
        if turn != self.pose.turn:
            return Pose.at(*to, turn)
        kept = [
            old if abs(old.value - new) < KEPT else Affine(new)
            for old, new in ((self.pose.x, to[0]), (self.pose.y, to[1]))
        ]
        return Pose(kept[0], kept[1], turn)

    def _probe(self, to: tuple[float, float], turn: float, way: str = "any") -> Pose:
        """The new place, so that margins say how they change with it.

        A coordinate that may change is set and no longer measured, so it brings no error.
        """
        pose = self._pose(to, turn)
        x = Affine(to[0]) if way != "y" else pose.x
        y = Affine(to[1]) if way != "x" else pose.y
        return replace(pose, x=x + Affine(0.0, {SET_X: 1.0}), y=y + Affine(0.0, {SET_Y: 1.0}))

    # --- turn ------------------------------------------------------------------------------

    def turn(self, turn: float, cuts: Sequence[Cut]) -> Step | None:
        """Another turn, its middle as near as possible to where it was."""
        middle = np.array([self.pose.x.value, self.pose.y.value]) + self._half(self.pose.turn)
        wanted = middle - self._half(turn)
        region = self.places(turn)
        spot = _nearest(_cut(region, cuts), (float(wanted[0]), float(wanted[1])))
        if spot is None:
            return None
        to = self._rounded(spot, region, (np.inf, np.inf))
        dx, dy = to[0] - float(wanted[0]), to[1] - float(wanted[1])
        by = (turn - self.pose.turn + 180.0) % 360.0 - 180.0
        text = turn_text(self.thing.name, by)
        if hypot(dx, dy) > TOLERANCE:
            text += f" and set its middle {shift_words(self.draft.shop, dx, dy)}"
        return Step(
            "turn",
            self.thing.name,
            abs(by),
            "deg",
            text,
            with_pose(self.draft, self.thing.name, self._pose(to, turn)),
            hypot(dx, dy),
            with_pose(self.draft, self.thing.name, self._probe(to, turn)),
            lambda more: self.turn(turn, [*cuts, *more]),
        )

    def _half(self, turn: float) -> np.ndarray:
        points = self.thing.body.turned(turn).points
        half: np.ndarray = np.ptp(points, axis=0) / 2
        return half


def shift_words(shop: Shop, dx: float, dy: float) -> str:
    """A way in plan [m] as one would walk it."""
    parts = [
        f"{length_text(shop, d)} {plus if d > 0 else minus}"
        for d, plus, minus in ((dx, "east", "west"), (dy, "north", "south"))
        if abs(d) > TOLERANCE
    ]
    return " and ".join(parts) or "nowhere"


def turn_text(what: str, by: float) -> str:
    """A turn [deg], counter-clockwise positive, in words."""
    if abs(by) == 180.0:
        return f"turn {what} round"
    way = "counter-clockwise" if by > 0 else "clockwise"
    return f"turn {what} {abs(by):g}° {way}"


def set_text(shop: Shop, what: str, pose: Pose) -> str:
    """Where to set what has no place yet."""
    x, y = (length_text(shop, v.value) for v in (pose.x, pose.y))
    return f"set {what} {x} east and {y} north of the origin, turned {pose.turn:g}°"


def _in_line(region: BaseGeometry, here: tuple[float, float], way: str) -> BaseGeometry:
    """Places on the line through `here`, taken over from just beside it.

    What is pushed against a wall may stay there without reserve; the free region with reserve
    begins a little beside that line.
    """
    x, y = here
    strip = (
        box(-FAR, y - NEARLY, FAR, y + NEARLY)
        if way == "x"
        else box(x - NEARLY, -FAR, x + NEARLY, FAR)
    )
    lines = []
    for part in _parts(region.intersection(strip)):
        west, south, east, north = part.bounds
        ends = [(west, y), (east, y)] if way == "x" else [(x, south), (x, north)]
        lines.append(LineString(ends) if ends[0] != ends[1] else Point(ends[0]))
    return shapely.GeometryCollection(lines)


def _parts(geometry: BaseGeometry) -> Iterator[BaseGeometry]:
    for part in shapely.get_parts(geometry):
        if hasattr(part, "geoms"):
            yield from _parts(part)
        elif not part.is_empty:
            yield part


def _cut(region: BaseGeometry, cuts: Sequence[Cut]) -> BaseGeometry:
    """The places that also follow what the judge asks."""
    parts = list(_parts(region))
    for cut in cuts:
        slope = np.array(cut.slope)
        length = float(np.hypot(*slope))
        normal = slope / length
        foot = np.array(cut.at) + normal * (cut.short + TOLERANCE) / length
        side = np.array([-normal[1], normal[0]]) * FAR
        plane = Polygon([foot - side, foot + side, foot + side + FAR * normal,
                         foot - side + FAR * normal])  # fmt: skip
        parts = [piece for part in parts for piece in _parts(part.intersection(plane))]
    return shapely.GeometryCollection(parts)


def _nearest(region: BaseGeometry, here: tuple[float, float]) -> tuple[float, float] | None:
    if region.is_empty:
        return None
    spot = nearest_points(region, Point(here))[0]
    return float(spot.x), float(spot.y)
