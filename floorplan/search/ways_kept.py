"""Where a thing can stand without spoiling what is rolled or carried: over whole regions.

A way found with the tape's reserve stays as it is wherever the thing keeps clear of all that is
swept on it.  A thing that is rolled itself reaches its goal from every place from which it can be
pushed, without being turned, to one where its way is known.  Each proves whole areas at once; what
neither proves after a few places were asked is left unsure.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from math import radians

import numpy as np
import shapely
from shapely.affinity import translate
from shapely.geometry import GeometryCollection, LineString, Point, Polygon
from shapely.geometry.base import BaseGeometry

from floorplan.checks import carrying, rolling
from floorplan.checks.mobile import Band
from floorplan.checks.passing import FINEST
from floorplan.checks.rolling import Orders, Roll
from floorplan.geometry.affine import Array, greater, smaller
from floorplan.geometry.convex import convex_pieces
from floorplan.geometry.pieces import Piece
from floorplan.search.subject import Subject
from floorplan.search.swept import (
    MOST_CARRIED,
    Swept,
    Wanted,
    WantedCarry,
    WantedRolls,
    carry_name,
    roll_name,
    swept_roll,
    told,
)
from floorplan.search.walk_space import complement, hull_sum
from floorplan.shop.model import ELSEWHERE, Pose, Task
from floorplan.shop.scene import Element, Scene, scene
from floorplan.units import TOLERANCE

TRIES = 3
"""Places at which ways are looked for at one turn, the roomiest first."""
ASIDE = 0.25
"""So far round a place at which something has no sure way none is asked again [m]."""


NOWHERE = GeometryCollection()


@dataclass(frozen=True, slots=True, eq=False)
class Kept:
    """Places sorted by what was proved about them."""

    passes: BaseGeometry
    unsure: tuple[tuple[str, BaseGeometry], ...]
    """(what has no sure way, places)"""
    fails: tuple[tuple[str, BaseGeometry], ...] = ()
    """(what surely has no way, places)"""


class WaysKept:
    """What is rolled and carried in a shop while one thing is to be placed."""

    def __init__(self, subject: Subject) -> None:
        self.subject, shop = subject, subject.shop
        layout = subject.layout
        for name in subject.names:
            layout = layout.without(name)
        away = scene(shop, layout)
        rolled = shop.tasks if _asked(away, rolling) else ()
        self._own = {t: Orders(away, t, named=False) for t in rolled if self._rolls_in(t)}
        """Tasks for which the thing itself is rolled, with the rolls of the others."""
        others = [Orders(away, t, named=False) for t in rolled if t not in self._own]
        carries = [c for _, c in shop.carries() if c.how != "tilted up"]
        carries = carries if _asked(away, carrying) else []
        ends = [c for c in carries if {c.start, c.goal, c.thing} & subject.names]
        self.singly = tuple(dict.fromkeys(carry_name(c) for c in ends))
        """What begins or ends at the thing: each place has its own way, asked at the best only."""
        self.lost: set[str] = set()
        """What has no sure way even while the thing is gone; never held against a place."""
        self._wanted: list[Wanted] = []
        for orders in others:
            if orders.places:
                rolls = WantedRolls(orders, subject.names)
                self.lost.update(rolls.lost)
                self._wanted += [rolls] if rolls.ways[0] else []
        for orders in self._own.values():
            rolls_now = orders.best()
            self.lost.update(roll_name(r) for r in rolls_now if r.passage.verdict != "passes")
        for carry in carries:
            if carry not in ends:
                one = WantedCarry(carry)
                none = one.find(away)
                self.lost.update([none] if none else [])
                self._wanted += [] if none else [one]
        self._taken: dict[tuple[float, int], tuple[Swept, list[BaseGeometry]]] = {}
        self._starts: dict[tuple[float, Task], list[BaseGeometry]] = {}

    def _rolls_in(self, task: Task) -> bool:
        return any(
            name in self.subject.names and self.subject.layout.pose(name, place) is not None
            for place in ELSEWHERE
            for name in getattr(task, place)
        )

    # --- whole regions ---------------------------------------------------------------------------

    def sort(self, turn: float, places: BaseGeometry, *, tries: int = TRIES) -> Kept:
        """Sort places [m] at one turn by whether everything surely has a way."""
        if not (self._wanted or self._own):
            return Kept(places, ())
        passed, left = self._settled(turn, places)
        doubt: list[tuple[str, BaseGeometry]] = []
        fails: list[tuple[str, BaseGeometry]] = []
        failed: list[Point] = []
        for _ in range(tries):
            at = _roomiest(left) if self._own or not failed else _farthest(left, failed)
            if at is None:
                break
            made = scene(self.subject.shop, self.subject.placed(at.x, at.y, turn))
            if failed and self._own:
                # where one did not get out it is quicker to see first whether none can
                stuck = list(self._stuck(at, made))
                if stuck:
                    fails += stuck
                    left = _less(left, [area for _, area in stuck])
                    continue
            name, own = self._look(turn, at, made)
            if name and own:
                stuck = list(self._stuck(at, made))
                fails += stuck
                left = _less(left, [area for _, area in stuck])
            good, left = self._settled(turn, left)
            passed = shapely.union_all([passed, good])
            if left.dwithin(at, TOLERANCE):
                near = _part_at(left, at) if own else left.intersection(at.buffer(ASIDE))
                doubt += [(each, near) for each in ((name,) if name else self.names)]
                left = _less(left, [near])
            if name:
                failed.append(at)
        doubt += self._doubts(turn, left)
        return Kept(passed, tuple(doubt), tuple(fails))

    @property
    def names(self) -> tuple[str, ...]:
        """What has to have a way."""
        ways = [way.name for wanted in self._wanted for way in wanted.ways[0]]
        return tuple(dict.fromkeys([*self._own_names, *ways]))

    @property
    def _own_names(self) -> list[str]:
        return [told(n, task) for task in self._own for n in self.subject.names]

    def _settled(self, turn: float, places: BaseGeometry) -> tuple[BaseGeometry, BaseGeometry]:
        """Places at which all is proved by the ways known, and the rest."""
        good = _less(places, [self._blocked(turn, wanted) for wanted in self._wanted])
        for task in self._own:
            good = _common(good, shapely.union_all(self._starts.get((turn, task), [])))
        return good, _less(places, [good])

    def _doubts(self, turn: float, left: BaseGeometry) -> Iterator[tuple[str, BaseGeometry]]:
        """What has no sure way at places that are left, as far as that can be told."""
        if left.is_empty:
            return
        for task in self._own:
            stuck = _less(left, self._starts.get((turn, task), []))
            if not stuck.is_empty:
                yield from ((name, stuck) for name in self._own_names if name.endswith(task.name))
        for wanted in self._wanted:
            blocked = _common(left, self._blocked(turn, wanted))
            for way, taken in zip(wanted.ways[0], self._taken_by(turn, wanted)[0], strict=True):
                places = _common(blocked, taken)
                if not places.is_empty:
                    yield way.name, places

    # --- ways ------------------------------------------------------------------------------------

    def _stuck(self, at: Point, made: Scene) -> Iterator[tuple[str, BaseGeometry]]:
        """What is surely not rolled from a place, and all places of which the same is proved."""
        for before in self._own.values():
            orders = before.beside(made, self.subject.names)
            for name in sorted(self.subject.names & set(orders.places)):
                middles = orders.confined(name)
                if middles is not None:
                    middle = orders.ends(name)[0]
                    places = translate(middles, at.x - middle.x, at.y - middle.y)
                    yield told(name, orders.task), places

    def _look(self, turn: float, at: Point, made: Scene) -> tuple[str, bool]:
        """Look for ways with the thing at a place: what has none there, and if that is its own."""
        for task in self._own:
            name = self._look_from(turn, at, made, task)
            if name:
                return name, True
        for wanted in self._wanted:
            if self._blocked(turn, wanted).dwithin(at, TOLERANCE):
                name = wanted.find(made)
                if name:
                    return name, False
        return "", bool(self._own)

    def _look_from(self, turn: float, at: Point, made: Scene, task: Task) -> str:
        """Roll the thing itself from a place, and keep from where else it gets out like that."""
        orders = self._own[task].beside(made, self.subject.names)
        stay = {name for name in orders.places if told(name, task) in self.lost}
        rolls = orders.passing(stay, MOST_CARRIED)
        missing = set(orders.places) - stay - {roll.thing for roll in rolls}
        if missing:
            return told(min(missing), task)
        own = [roll.thing in self.subject.names for roll in rolls]
        last = max((i for i, is_own in enumerate(own) if is_own), default=len(own))
        good: BaseGeometry = shapely.box(*made.floor.bounds).buffer(made.floor.length)
        for number, roll in enumerate(rolls):
            if own[number]:
                good = good.intersection(self._pushed_to(orders, roll, turn, at))
            elif number < last:
                good = _less(good, [self._taken_from(turn, swept_roll(roll))])
        self._starts.setdefault((turn, task), []).append(good)
        return ""

    def _blocked(self, turn: float, wanted: Wanted) -> BaseGeometry:
        """Places at which the thing would stand in every way known."""
        each = [shapely.union_all(taken) for taken in self._taken_by(turn, wanted)]
        blocked: BaseGeometry = shapely.intersection_all(each)
        return blocked

    def _taken_by(self, turn: float, wanted: Wanted) -> list[list[BaseGeometry]]:
        """Places at which the thing would stand in each way of a row of them, row by row."""
        return [[self._known(turn, way) for way in row] for row in wanted.ways]

    # --- one way ---------------------------------------------------------------------------------

    def _pieces(self, turn: float, way: Swept) -> Iterator[Piece]:
        for piece in self.subject.own(turn)[0]:
            label = self.subject.labels[piece.label]
            element = label.element
            stands = (
                element.even_while_working
                if element.nature == "keep-clear"
                else element.nature == "solid" and element.presence.during(way.task)
            )
            if stands and not label.gap_of and self._reaches(element, way.bands):
                yield piece

    def _reaches(self, element: Element, bands: Sequence[Band]) -> bool:
        known = self.subject.shop.measurements
        for low, high in bands:
            common = smaller(element.volume.top, high) - greater(element.volume.bottom, low)
            if common.value + common.error(known) > TOLERANCE:
                return True
        return False

    def _known(self, turn: float, way: Swept) -> BaseGeometry:
        key = turn, id(way)
        if key not in self._taken:
            self._taken[key] = way, [self._taken_from(turn, way)]
        return self._taken[key][1][0]

    def _taken_from(self, turn: float, way: Swept) -> BaseGeometry:
        """Places at which the thing would stand in what is swept."""
        outlines = [piece.outline for piece in self._pieces(turn, way)]
        return _no_fit(way.parts, outlines)

    def _pushed_to(self, orders: Orders, roll: Roll, turn: float, at: Point) -> BaseGeometry:
        """Places from which the thing is pushed straight or bent to `at`, without being turned."""
        floor, passage = orders.floor, roll.passage
        mover, mobile = passage.stretches[0].mover, passage.mobile
        wide = mobile.body(mover, passage.reserve + FINEST)
        middle = mobile.pose(Pose.at(0.0, 0.0, turn))
        outlines = [o + np.array([middle.x, middle.y]) for o in wide.all_at(radians(turn))]
        bands = mobile.bands(mover)
        solids = [
            e.volume.polygon for e in (*floor.staying, *roll.others) if floor.may_block(e, bands)
        ]
        ground = floor.ground((), mobile)
        around = [Polygon(o) for o in complement(ground)]
        shut = _no_fit([*around, *(Polygon(o) for s in solids for o in convex_pieces(s))], outlines)
        free = shapely.box(*ground.bounds).difference(shut)
        parts = shapely.get_parts(free)
        return shapely.union_all(parts[shapely.intersects(parts, at)])


def _no_fit(parts: Sequence[BaseGeometry], outlines: Sequence[Array]) -> BaseGeometry:
    """Reference points at which convex outlines (n, 2) overlap convex plans [m]."""
    sums = [
        hull_sum(np.asarray(part.exterior.coords)[:-1], -outline)
        for part in parts
        for outline in outlines
    ]
    return shapely.union_all(sums)


def _asked(made: Scene, check: object) -> bool:
    rule = made.shop.rules[rolling.RULE if check is rolling else carrying.RULE]
    return not rule.off and rule.kind == "required"


# --- shapes --------------------------------------------------------------------------------


def _less(places: BaseGeometry, areas: Sequence[BaseGeometry]) -> BaseGeometry:
    """Places without some areas; their rims stay, since touching is allowed."""
    away = shapely.get_parts(shapely.get_parts(shapely.union_all(areas)))
    is_area = shapely.get_dimensions(away) == 2
    inner = shapely.buffer(shapely.union_all(away[is_area]), -TOLERANCE, join_style="mitre")
    left = shapely.difference(shapely.get_parts(shapely.get_parts(places)), inner)
    left = shapely.difference(left, shapely.union_all(away[~is_area]))
    return shapely.union_all(left[~shapely.is_empty(left)])


def _common(places: BaseGeometry, area: BaseGeometry) -> BaseGeometry:
    """Places within an area."""
    return shapely.union_all(
        shapely.intersection(shapely.get_parts(shapely.get_parts(places)), area)
    )


def _part_at(places: BaseGeometry, at: Point) -> BaseGeometry:
    """The part in which a place is: if a thing gets out nowhere there, it is pushed all over it."""
    parts = shapely.get_parts(shapely.get_parts(places))
    return shapely.union_all(parts[shapely.dwithin(parts, at, TOLERANCE)])


def _roomiest(places: BaseGeometry) -> Point | None:
    """The middle of the largest part: areas before lines before points."""
    parts = [p for p in shapely.get_parts(shapely.get_parts(places)) if not p.is_empty]
    found = [p for p in parts if isinstance(p, Polygon) and p.area > TOLERANCE]
    if found:
        circles = shapely.maximum_inscribed_circle(np.array(found, dtype=object), tolerance=1e-3)
        return Point(circles[int(np.argmax(shapely.length(circles)))].coords[0])
    lines = [p for p in parts if isinstance(p, LineString) and p.length > 4 * TOLERANCE]
    if lines:
        return max(lines, key=lambda line: line.length).interpolate(0.5, normalized=True)
    return next((p for p in parts if isinstance(p, Point)), None)


def _farthest(places: BaseGeometry, away: Sequence[Point]) -> Point | None:
    """The corner of some places farthest from some points."""
    corners = shapely.points(shapely.get_coordinates(places))
    if not len(corners):
        return None
    apart = np.min([shapely.distance(corners, point) for point in away], axis=0)
    found: Point = corners[int(np.argmax(np.round(apart, 6)))]
    return found
