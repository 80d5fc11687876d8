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
from shapely.geometry import GeometryCollection, LineString, Point, Polygon
from shapely.geometry.base import BaseGeometry

from floorplan.checks import carrying, rolling
from floorplan.checks.mobile import Band
from floorplan.checks.obstruction import look
from floorplan.checks.passage import swept_parts
from floorplan.checks.passing import FINEST
from floorplan.checks.rolling import Roll, Rolls, rolls_of
from floorplan.checks.ways import body_of, ends_that_count
from floorplan.geometry.affine import Array, greater, smaller
from floorplan.geometry.convex import convex_pieces
from floorplan.geometry.pieces import Piece
from floorplan.motion.carry import carry
from floorplan.search.subject import Subject
from floorplan.search.walk_space import complement, hull_sum
from floorplan.shop.carrying import load_of
from floorplan.shop.model import AT_REST, ELSEWHERE, Carry, Pose, Task
from floorplan.shop.scene import Element, Scene, scene
from floorplan.units import TOLERANCE

TRIES = 3
"""Places at which ways are looked for at one turn, the roomiest first."""
ASIDE = 0.25
"""So far round a place at which something has no sure way none is asked again [m]."""


NOWHERE = GeometryCollection()


@dataclass(frozen=True, slots=True, eq=False)
class Swept:
    """All that one roll or carry sweeps, with the tape's reserve."""

    name: str
    parts: tuple[BaseGeometry, ...]
    """Convex plans [m]."""
    bands: tuple[Band, ...]
    task: str
    """During which it happens."""


@dataclass(frozen=True, slots=True, eq=False)
class Kept:
    """Places sorted by what was proved about them."""

    passes: BaseGeometry
    unsure: tuple[tuple[str, BaseGeometry], ...]
    """(what has no sure way, places)"""


class WaysKept:
    """What is rolled and carried in a shop while one thing is to be placed."""

    def __init__(self, subject: Subject) -> None:
        self.subject, shop = subject, subject.shop
        layout = subject.layout
        for name in subject.names:
            layout = layout.without(name)
        away = scene(shop, layout)
        self.lost: set[str] = set()
        """What has no sure way even while the thing is gone; never held against a place."""
        self._own = [t for t in shop.tasks if self._rolls_in(t)] if _asked(away, rolling) else []
        self._others = [t for t in shop.tasks if t not in self._own and _has_rolls(away, t)]
        carries = [c for _, c in shop.carries() if c.how != "tilted up"]
        ends = [c for c in carries if {c.start, c.goal, c.thing} & subject.names]
        asked = _asked(away, carrying)
        self._carries = [c for c in carries if c not in ends] if asked else []
        self.singly = tuple(dict.fromkeys(_carry_name(c) for c in ends)) if asked else ()
        """What begins or ends at the thing: each place has its own way, asked at the best only."""
        self._known = tuple(self._sure(away, self._others if _asked(away, rolling) else []))
        self._carries = [c for c in self._carries if _carry_name(c) not in self.lost]

    def _rolls_in(self, task: Task) -> bool:
        return any(
            name in self.subject.names and self.subject.layout.pose(name, place) is not None
            for place in ELSEWHERE
            for name in getattr(task, place)
        )

    def _sure(self, away: Scene, tasks: Sequence[Task]) -> Iterator[Swept]:
        """Ways of all others with the thing gone; notes what has none."""
        for task in tasks:
            for roll in rolls_of(away, task).rolls:
                if roll.passage.verdict == "passes":
                    yield _swept_roll(roll)
                else:
                    self.lost.add(_roll_name(roll))
        for wanted in self._carries:
            found = _swept_carry(away, wanted)
            if found is None:
                self.lost.add(_carry_name(wanted))
            else:
                yield found

    # --- whole regions ---------------------------------------------------------------------------

    def sort(self, turn: float, places: BaseGeometry, *, tries: int = TRIES) -> Kept:
        """Sort places [m] at one turn by whether everything surely has a way."""
        if not (self._known or self._own):
            return Kept(places, ())
        doubt: list[tuple[str, BaseGeometry]] = []
        passed, left = [], places
        blocked: list[tuple[str, BaseGeometry]] = []
        if not self._own:
            blocked = [(way.name, self._blocked(way, turn)) for way in self._known]
            good = _less(places, [area for _, area in blocked])
            passed.append(good)
            left = _less(places, [good])
        failed: list[Point] = []
        for _ in range(tries):
            at = _roomiest(left) if self._own or not failed else _farthest(left, failed)
            if at is None:
                break
            good, name = self._at(turn, at, left)
            passed.append(good)
            left = _less(left, [good])
            if left.dwithin(at, TOLERANCE):
                near = self._beside(left, at)
                doubt += [(each, near) for each in ((name,) if name else self.names)]
                left = _less(left, [near])
            if name:
                failed.append(at)
        if not left.is_empty:
            doubt += self._by_name(left, blocked)
        return Kept(shapely.union_all(passed), tuple(doubt))

    def _by_name(
        self, left: BaseGeometry, blocked: Sequence[tuple[str, BaseGeometry]]
    ) -> list[tuple[str, BaseGeometry]]:
        """What has no sure way at places that are left, as far as that can be told."""
        if self._own:
            return [(name, left) for name in self.names]
        parts = shapely.get_parts(shapely.get_parts(left))
        told = [(name, shapely.union_all(shapely.intersection(parts, a))) for name, a in blocked]
        return [(name, places) for name, places in told if not places.is_empty]

    @property
    def names(self) -> tuple[str, ...]:
        """What has to have a way."""
        own = [f"{n} rolled for {task.name}" for task in self._own for n in self.subject.names]
        return tuple(dict.fromkeys([*own, *(way.name for way in self._known)]))

    def _beside(self, left: BaseGeometry, at: Point) -> BaseGeometry:
        """Places not asked again where one does not pass."""
        if not self._own:
            return left.intersection(at.buffer(ASIDE))
        # it is pushed all over the part in which it is, and gets out nowhere
        parts = shapely.get_parts(shapely.get_parts(left))
        return shapely.union_all(parts[shapely.dwithin(parts, at, TOLERANCE)])

    def _at(self, turn: float, at: Point, left: BaseGeometry) -> tuple[BaseGeometry, str]:
        """Places proved by the ways found with the thing at one place, or what has none there."""
        made = scene(self.subject.shop, self.subject.placed(at.x, at.y, turn))
        good = left
        for task in (*self._own, *self._others):
            rolls = rolls_of(made, task)
            names = [roll.thing in self.subject.names for roll in rolls.rolls]
            last = max((i for i, own in enumerate(names) if own), default=len(names))
            for number, roll in enumerate(rolls.rolls):
                if _roll_name(roll) in self.lost:
                    continue
                if roll.passage.verdict != "passes":
                    return NOWHERE, _roll_name(roll)
                if names[number]:
                    good = good.intersection(self._starts(rolls, roll, turn, at))
                elif number < last:
                    good = _less(good, [self._blocked(_swept_roll(roll), turn)])
        for wanted in self._carries:
            found = _swept_carry(made, wanted)
            if found is None:
                return NOWHERE, _carry_name(wanted)
            good = _less(good, [self._blocked(found, turn)])
        return good, ""

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

    def _blocked(self, way: Swept, turn: float) -> BaseGeometry:
        """Places at which the thing would stand in what is swept."""
        outlines = [piece.outline for piece in self._pieces(turn, way)]
        return _no_fit(way.parts, outlines)

    def _starts(self, rolls: Rolls, roll: Roll, turn: float, at: Point) -> BaseGeometry:
        """Places from which the thing is pushed straight or bent to `at`, without being turned."""
        floor, passage = rolls.floor, roll.passage
        mover, mobile = passage.stretches[0].mover, passage.mobile
        wide = mobile.body(mover, passage.reserve + FINEST)
        middle = mobile.pose(Pose.at(0.0, 0.0, turn))
        at = np.array([middle.x, middle.y])
        outlines = [o + at for o in wide.all_at(radians(turn))]
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


# --- ways --------------------------------------------------------------------------------------


def _asked(made: Scene, check: object) -> bool:
    rule = made.shop.rules[rolling.RULE if check is rolling else carrying.RULE]
    return not rule.off and rule.kind == "required"


def _has_rolls(made: Scene, task: Task) -> bool:
    return any(getattr(task, place) for place in ELSEWHERE) and bool(rolls_of(made, task).rolls)


def _roll_name(roll: Roll) -> str:
    return f"{roll.thing} rolled for {roll.task.name}"


def _carry_name(wanted: Carry) -> str:
    return f"{wanted.piece} carried to {wanted.goal}"


def _swept_roll(roll: Roll) -> Swept:
    passage = roll.passage
    parts: list[BaseGeometry] = []
    bands: list[Band] = []
    for stretch in passage.stretches:
        wide = passage.mobile.body(stretch.mover, passage.reserve)
        parts += swept_parts(wide, stretch.path)
        bands += passage.mobile.bands(stretch.mover)
    return Swept(_roll_name(roll), tuple(parts), tuple(bands), AT_REST)


def _swept_carry(made: Scene, wanted: Carry) -> Swept | None:
    """A way with more width than any tape is off, or none."""
    load = load_of(made, wanted)
    counting = ends_that_count(made, wanted, load)
    if counting is None:
        return None
    most, start, goal = counting
    wide = body_of(load).widened(look(made.shop, 0.0))
    found = carry(most.space, wide, start=start, goal=goal, margin=False)
    if found.verdict != "passes":
        return None
    bands = tuple((band.bottom, band.top) for band in load.bands)
    parts = tuple(swept_parts(wide, found.path))
    return Swept(_carry_name(wanted), parts, bands, wanted.task or AT_REST)


# --- shapes ------------------------------------------------------------------------------------


def _less(places: BaseGeometry, areas: Sequence[BaseGeometry]) -> BaseGeometry:
    """Places without some areas; their rims stay, since touching is allowed."""
    away = shapely.union_all(areas)
    away = away.buffer(-TOLERANCE, join_style="mitre") if away.area > 0.0 else away
    left = [part.difference(away) for part in shapely.get_parts(shapely.get_parts(places))]
    return shapely.union_all([part for part in left if not part.is_empty])


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
