"""Can one thing be moved from pose to pose among others, certified both ways?

It passes when everything that moves, whoever moves it included and grown by what the tape may be
off, has a way that is free; it fails when not even what surely moves has one.  Between the two
nobody can tell.  Where it stands now and where it is to stand the tape's reserve is not asked for:
there it touches what it touches.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from functools import cached_property
from itertools import pairwise, product
from math import ceil, hypot, inf

import numpy as np
import shapely
from shapely.geometry import LineString, Polygon
from shapely.geometry.base import BaseGeometry

from floorplan.checks.confined import passable_doors, surely_in_way
from floorplan.checks.mobile import Mobile, Mover
from floorplan.checks.passage import Passage, Spare, Stretch
from floorplan.checks.rolling_floor import RollingFloor
from floorplan.checks.sliding import joined, slides
from floorplan.motion.carry import Body, Carried, CarrySpace, Pose, carry
from floorplan.motion.replay import is_clear
from floorplan.motion.turning import outline_at
from floorplan.motion.walk import passable
from floorplan.shop import building
from floorplan.shop.model import SIDES, Door
from floorplan.shop.scene import Element
from floorplan.units import TOLERANCE

_MOST_SPARE = 0.15  # room to spare beyond this is not looked for [m]
_SPARE_STEP = 0.012  # and it is found to this [m]
_CLOSE = 0.05  # between poses at which it is measured [m, rad]
FINEST = 0.0254 / 4
"""Ways are refined until corners move less than this within one turn [m]."""
_COARSE = 0.0254
"""The same when asking how much is left over: what is not found wider is not counted [m]."""
_PLAY = 0.002  # a way needs some play to be found [m]
_MOST_MOVERS = 3  # places beside it that are tried at either end
_MOST_STRETCHES = 8  # looked for on the way round it
_HANDOVERS = (0.5, 0.2, 0.8)  # shares of the way at which whoever moves it goes round it


def passage_of(
    floor: RollingFloor,
    mobile: Mobile,
    ends: tuple[Pose, Pose],
    others: Iterable[Element],
    *,
    as_drawn: bool = False,
    named: bool = True,
) -> Passage:
    """The way of a thing from pose to pose while others stand where they stand.

    With `as_drawn` one without the tape's reserve is looked for where nothing is sure; with `named`
    an unsure answer says what the thing would get stuck between.
    """
    question = _Question(floor, mobile, *ends, tuple(others))
    found = question.answer(named=named)
    again = as_drawn and found.verdict == "unsure" and question.reserve > 0.0
    return question.as_drawn(named=named) if again else found


def spare_of(floor: RollingFloor, passage: Passage, others: Iterable[Element]) -> Spare:
    """How much larger all round the thing could be, away from its two places."""
    ends = passage.path[0], passage.path[-1]
    return _Question(floor, passage.mobile, *ends, tuple(others), _COARSE).spare(passage)


def surely_shut(
    floor: RollingFloor, mobile: Mobile, ends: tuple[Pose, Pose], others: Iterable[Element]
) -> bool:
    """Whether a thing surely has no way from pose to pose."""
    return _Question(floor, mobile, *ends, tuple(others)).fails()


def stuck_between(
    floor: RollingFloor, mobile: Mobile, ends: tuple[Pose, Pose], others: Iterable[Element]
) -> tuple[str, ...]:
    """What a thing gets stuck between, as drawn and moved by nobody; may be empty."""
    return _Question(floor, mobile, *ends, tuple(others)).blocked_by()


def lacking(
    floor: RollingFloor, mobile: Mobile, ends: tuple[Pose, Pose], others: Iterable[Element]
) -> float:
    """How much slimmer on every side what surely moves would have to be, about [m]."""
    return _Question(floor, mobile, *ends, tuple(others)).lacking()


@dataclass(frozen=True, eq=False)
class _Question:
    """One passage, asked in every way that may answer it."""

    floor: RollingFloor
    mobile: Mobile
    start: Pose
    goal: Pose
    others: tuple[Element, ...]
    finest: float = FINEST

    def answer(self, *, named: bool = True) -> Passage:
        """Tried in turn: one side all the way, round to another side, no way at all."""
        if self._surely_no_room():
            return Passage("fails", self.mobile, blocked_by=self._at_goal())
        may_be = True  # until it is known that not even what surely moves has a way
        for doors in self._door_sets():
            found, alone = self._with_mover(doors, self.reserve)
            if found:
                return Passage("passes", self.mobile, found, _names(doors), self.reserve)
            if not alone and may_be:
                stuck = self._stuck(self.reserve)
                if stuck is not None:
                    return Passage("fails", self.mobile, blocked_by=stuck)
                may_be = False
        return Passage("unsure", self.mobile, blocked_by=self.blocked_by() if named else ())

    def as_drawn(self, *, named: bool = True) -> Passage:
        """A way that is free if everything stands just as drawn; unsure also where there is one."""
        for doors in self._door_sets():
            found, _ = self._with_mover(doors, 0.0)
            if found:
                return Passage("unsure", self.mobile, found, _names(doors), 0.0)
        return Passage("unsure", self.mobile, blocked_by=self.blocked_by() if named else ())

    def _carry(self, space: CarrySpace, body: Body, start: Pose, goal: Pose) -> Carried:
        self.floor.carried += 1
        return carry(space, body, start=start, goal=goal, finest=self.finest, margin=False)

    @cached_property
    def reserve(self) -> float:
        """What the tape may be off [m]."""
        return self.floor.reserve(self.mobile, self.others)

    def fails(self) -> bool:
        """Whether there is surely no way, not even for what surely moves."""
        return self._surely_no_room() or self._stuck(self.reserve) is not None

    def blocked_by(self) -> tuple[str, ...]:
        """What the thing, as drawn and moved by nobody, gets stuck between; may be empty."""
        return self._at_goal() or self._stuck(0.0) or ()

    def _stuck(self, shrunk: float) -> tuple[str, ...] | None:
        """What keeps what surely moves, `shrunk` [m] on every side; None: that is not sure."""
        space, owners = self._lenient()
        found = self._carry(space, self.mobile.least(shrunk), *self._ends)
        if found.verdict != "fails":
            return None
        if found.blocked_at is None:
            return ()
        names = (owners[i] if i >= 0 else "the walls" for i in found.blocked_at.obstacles)
        return tuple(dict.fromkeys(names))

    def lacking(self) -> float:
        """Bisected between nothing and half the width of the main body [m]."""
        if self._surely_no_room():
            return self.mobile.half_width
        space = self._lenient()[0]
        low, high = 0.0, self.mobile.half_width
        while high - low > _SPARE_STEP:
            trial = (low + high) / 2
            least = self.mobile.least(trial)
            if self._carry(space, least, *self._ends).verdict == "fails":
                low = trial
            else:
                high = trial
        return high

    # --- doors ---------------------------------------------------------------------------------

    def _door_sets(self) -> Iterator[tuple[Door, ...]]:
        """All doors shut where both ends are inside, then those open that lead outside."""
        inside = building.floor_polygon(self.floor.shop.room).buffer(TOLERANCE)
        if all(inside.covers(outline_at(self.mobile.body(None), p)) for p in self._ends):
            yield ()
        if self.floor.outside:
            yield self.floor.outside
        elif not inside.covers(outline_at(self.mobile.body(None), self.start)):
            yield ()  # it stands in a wall as drawn, and has to come out of there

    @property
    def _ends(self) -> tuple[Pose, Pose]:
        return self.start, self.goal

    def _passable_doors(self, doors: Iterable[Door], lean: float) -> tuple[Door, ...]:
        """Doors that the thing rolls through, by their heights; lean 1 surely, -1 perhaps."""
        return passable_doors(self.floor, self.mobile, doors, lean)

    # --- spaces --------------------------------------------------------------------------------

    def _strict(self, mover: Mover | None, doors: tuple[Door, ...], grown: float) -> CarrySpace:
        """Everything that may be in the way, but for what is touched at the two ends."""
        floor, mobile = self.floor, self.mobile
        bands = mobile.bands(mover)
        solids = [
            e.volume.polygon
            for e in (*floor.staying, *self.others)
            if floor.may_block(e, bands)
        ]  # fmt: skip
        leaves = (building.open_leaf(floor.shop, door) for door in doors)
        solids += [v.polygon for v in leaves if v is not None and floor.reaches(v, bands, 1.0)]
        ground = floor.ground(self._passable_doors(doors, 1.0), mobile)
        return self._cleared(ground, solids, self._rims(mover, grown))

    def _rims(self, mover: Mover | None, grown: float) -> list[BaseGeometry]:
        """What it stands in now, and what growing takes beyond it at the ends [m]."""
        rims: list[BaseGeometry] = [outline_at(self.mobile.body(None), self.start)]
        if grown > 0.0:
            wide, drawn = self.mobile.body(mover, grown), self.mobile.body(mover)
            for pose in self._ends:
                within = outline_at(drawn, pose).buffer(-2 * TOLERANCE, join_style="mitre")
                rims.append(outline_at(wide, pose).difference(within))
        return [rim.buffer(TOLERANCE, join_style="mitre") for rim in rims]

    def _cleared(
        self, ground: BaseGeometry, solids: Sequence[BaseGeometry], rims: Sequence[BaseGeometry]
    ) -> CarrySpace:
        away = shapely.union_all(rims)
        left = [s.difference(away) if s.intersects(away) else s for s in solids]
        return CarrySpace(shapely.union_all([ground, *rims]), left)

    def _lenient(self) -> tuple[CarrySpace, tuple[str, ...]]:
        """Only what is surely in the way of what surely moves."""
        ground, solids = surely_in_way(self.floor, self.mobile, self.others)
        rim = outline_at(self.mobile.least(), self.start).buffer(TOLERANCE, join_style="mitre")
        space = self._cleared(ground, [e.volume.polygon for e in solids], [rim])
        return space, tuple(e.owner for e in solids)

    def _surely_no_room(self) -> bool:
        """Whether something surely stands where the thing is to stand."""
        return bool(self._at_goal())

    def _at_goal(self) -> tuple[str, ...]:
        """What surely stands where the thing is to stand."""
        least = outline_at(self.mobile.least(self.reserve), self.goal)
        standing = (
            e.owner
            for e in (*self.floor.staying, *self.others)
            if e.nature == "solid"
            and self.floor.reaches(e.volume, (self.mobile.core_band,), -1.0)
            and e.volume.polygon.buffer(-TOLERANCE, join_style="mitre").intersects(least)
        )
        return tuple(dict.fromkeys(standing))

    # --- ways ----------------------------------------------------------------------------------

    def _with_mover(
        self, doors: tuple[Door, ...], grown: float
    ) -> tuple[tuple[Stretch, ...], bool]:
        """Somebody at one side all the way, the first that passes, or round to another side.

        The second says whether it would pass with nobody's room asked for.
        """
        alone: Stretch | None = None
        for mover in self.mobile.movers:
            found = self._stretch(mover, doors, grown, *self._ends)
            if found is not None:
                return (found,), True
            if alone is None and mover is not None:
                alone = self._stretch(None, doors, grown, *self._ends)
                if alone is None:
                    return (), False  # with somebody beside it there is less room still
        if alone is None:
            return (), False
        return self._round_to_another_side(alone, doors, grown), True

    def _stretch(
        self,
        mover: Mover | None,
        doors: tuple[Door, ...],
        grown: float,
        start: Pose,
        goal: Pose,
    ) -> Stretch | None:
        """A way that is free with the reserve, and as drawn up to the very ends."""
        drawn = self.mobile.body(mover)
        true = self._strict(mover, doors, 0.0)
        if not all(is_clear(true, drawn, (pose, pose)) for pose in (start, goal)):
            return None
        wide, space = drawn, true
        if grown > 0.0:
            wide, space = self.mobile.body(mover, grown), self._strict(mover, doors, grown)
        ease = self.mobile.body(mover, max(grown, _PLAY))
        for out, into in slides(true, drawn, ease, (start, goal)):
            found = self._carry(space, wide, out[0], into[0])
            if found.verdict != "passes":
                continue
            path = joined(found.path, out, into)
            if is_clear(true, drawn, path):
                return Stretch(mover, drawn, path)
        return None

    def _round_to_another_side(
        self, alone: Stretch, doors: tuple[Door, ...], grown: float
    ) -> tuple[Stretch, ...]:
        """Somebody at one side first, who then goes round to another, each part asked once."""
        spaces: dict[Mover, CarrySpace] = {}

        def free(mover: Mover, pose: Pose) -> bool:
            if mover not in spaces:
                spaces[mover] = self._strict(mover, doors, 0.0)
            return is_clear(spaces[mover], self.mobile.body(mover), (pose, pose))

        first, last = (
            [mover for mover in _beside() if free(mover, pose)][:_MOST_MOVERS]
            for pose in self._ends
        )
        both = [mover for mover in first if mover in last and mover.along]
        for mover in both:  # those in the middle of a side were asked before
            found = self._stretch(mover, doors, grown, *self._ends)
            if found is not None:
                return (found,)
        poses = (*_spread(alone.path), *self._roomiest(alone, doors))
        meetings = (
            (pose, a, b)
            for pose, a, b in product(poses, first, last)
            if a != b and free(a, pose) and free(b, pose) and self._walks_round(a, b, pose, doors)
        )
        return self._handed_over(meetings, doors, grown)

    def _handed_over(
        self, meetings: Iterable[tuple[Pose, Mover, Mover]], doors: tuple[Door, ...], grown: float
    ) -> tuple[Stretch, ...]:
        """The way up to a pose at one side and on from there at another, the first that passes."""
        before: dict[tuple[Mover, Pose], Stretch | None] = {}
        after: dict[tuple[Mover, Pose], Stretch | None] = {}
        for pose, a, b in meetings:
            if len(before) + len(after) >= _MOST_STRETCHES:
                break
            if (a, pose) not in before:
                before[a, pose] = self._stretch(a, doors, grown, self.start, pose)
            start = before[a, pose]
            if start and (b, pose) not in after:
                after[b, pose] = self._stretch(b, doors, grown, pose, self.goal)
            end = after.get((b, pose))
            if start and end:
                return start, end
        return ()

    def _roomiest(self, alone: Stretch, doors: tuple[Door, ...]) -> Iterator[Pose]:
        """Where there is most room to go round it: the middle of the widest part of its ground."""
        space = self._strict(self.mobile.movers[0], doors, 0.0)
        free = space.workspace.difference(shapely.union_all(space.obstacles))
        way = LineString([(p.x, p.y) for p in (*alone.path, alone.path[-1])])
        parts = [p for p in shapely.get_parts(free) if isinstance(p, Polygon) and p.intersects(way)]
        circles = [shapely.maximum_inscribed_circle(p, tolerance=_SPARE_STEP) for p in parts]
        if circles:
            x, y = max(circles, key=lambda radius: radius.length).coords[0]
            for angle in dict.fromkeys(pose.angle for pose in self._ends):
                yield Pose(float(x), float(y), angle)

    # --- what is left over ---------------------------------------------------------------------

    def spare(self, passage: Passage) -> Spare:
        """Bisected between what the way was found with and `_MOST_SPARE`."""
        doors = tuple(d for d in self.floor.shop.doors if d.name in passage.doors)
        known, low, high = passage.stretches, passage.reserve, _MOST_SPARE
        trial = high
        while high - low > _SPARE_STEP:
            found = self._again(known, doors, trial)
            if found is None:
                high = trial
            else:
                known, low = found, trial
            trial = (low + high) / 2
        pose, beside = self._tightest(known, doors, low)
        return Spare(low, self.reserve, pose, beside)

    def _again(
        self, stretches: tuple[Stretch, ...], doors: tuple[Door, ...], grown: float
    ) -> tuple[Stretch, ...] | None:
        """The same way, from side to side alike, with another reserve."""
        out = []
        for stretch in stretches:
            ends = stretch.path[0], stretch.path[-1]
            found = self._stretch(stretch.mover, doors, grown, *ends)
            if found is None:
                return None
            out.append(found)
        return tuple(out)

    def _tightest(
        self, stretches: tuple[Stretch, ...], doors: tuple[Door, ...], grown: float
    ) -> tuple[Pose, tuple[str, ...]]:
        """The pose nearest to something that was not touched at an end, and what that is."""
        best, where, near = inf, stretches[0].path[0], Polygon()
        for stretch in stretches:
            wide = self.mobile.body(stretch.mover, grown)
            space = self._strict(stretch.mover, doors, grown)
            rest = shapely.union_all([*space.obstacles, shapely.boundary(space.workspace)])
            for pose in _dense(stretch.path):
                outline = outline_at(wide, pose)
                gap = outline.distance(rest)
                if gap < best - TOLERANCE:
                    best, where, near = gap, pose, outline
        reach = best + 2 * _SPARE_STEP
        movers = {stretch.mover for stretch in stretches}
        bands = [band for mover in movers for band in self.mobile.bands(mover)]
        names = [
            e.owner
            for e in (*self.floor.staying, *self.others)
            if self.floor.may_block(e, bands) and e.volume.polygon.distance(near) <= reach
        ]
        if building.floor_polygon(self.floor.shop.room).boundary.distance(near) <= reach:
            names.append("the walls")
        return where, tuple(dict.fromkeys(names))

    def _walks_round(self, a: Mover, b: Mover, pose: Pose, doors: tuple[Door, ...]) -> bool:
        """Whether somebody gets from one side to another while the thing stands at a pose."""
        floor, mobile = self.floor, self.mobile
        person = (mobile.person,)
        solids = [
            e.volume.polygon
            for e in (*floor.staying, *self.others)
            if floor.may_block(e, person)
        ]  # fmt: skip
        own = outline_at(mobile.body(None), pose)
        ground = floor.ground(self._passable_doors(doors, 1.0), mobile)
        free = ground.difference(shapely.union_all([*solids, own]))
        rooms = [outline_at(mobile.body(mover), pose).difference(own) for mover in (a, b)]
        width = floor.shop.rules.value("body-depth")
        return passable(free, [rooms[0]], rooms[1], width)[0]


def _beside() -> Iterator[Mover]:
    """Where somebody can be beside a thing, the middles of its sides first."""
    return (Mover(side, along) for along in (0, -1, 1) for side in SIDES)


def _dense(path: Sequence[Pose]) -> Iterator[Pose]:
    """Poses along a path, close enough to see where it is tight."""
    for start, end in pairwise(path):
        way = hypot(end.x - start.x, end.y - start.y) + abs(end.angle - start.angle)
        for share in np.linspace(0.0, 1.0, max(2, ceil(way / _CLOSE) + 1)):
            rows = zip((start.x, start.y, start.angle), (end.x, end.y, end.angle), strict=True)
            yield Pose(*(float(a + (b - a) * share) for a, b in rows))


def _names(doors: Iterable[Door]) -> tuple[str, ...]:
    return tuple(door.name for door in doors)


def _spread(path: Sequence[Pose]) -> Iterator[Pose]:
    """Places along a path, the middle first."""
    rows = np.array([(p.x, p.y, p.angle) for p in path])
    steps = np.hypot(*np.diff(rows[:, :2], axis=0).T) + np.abs(np.diff(rows[:, 2]))
    at = np.concatenate([[0.0], np.cumsum(steps)])
    for share in _HANDOVERS:
        yield Pose(*(float(np.interp(share * at[-1], at, rows[:, k])) for k in range(3)))
