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
from itertools import pairwise
from math import ceil, hypot, inf

import numpy as np
import shapely
from shapely.geometry import Polygon
from shapely.geometry.base import BaseGeometry

from floorplan.checks.mobile import Mobile
from floorplan.checks.passage import Passage, Spare, Stretch
from floorplan.checks.rolling_floor import RollingFloor
from floorplan.geometry.affine import ZERO
from floorplan.motion.carry import Body, Carried, CarrySpace, Pose, carry
from floorplan.motion.replay import is_clear
from floorplan.motion.turning import outline_at
from floorplan.motion.walk import passable
from floorplan.shop import building
from floorplan.shop.model import Door, Side
from floorplan.shop.scene import Element
from floorplan.units import TOLERANCE

_MOST_SPARE = 0.15  # room to spare beyond this is not looked for [m]
_SPARE_STEP = 0.012  # and it is found to this [m]
_CLOSE = 0.05  # between poses at which it is measured [m, rad]
FINEST = 0.0254 / 4
"""Ways are refined until corners move less than this within one turn [m]."""
_COARSE = 0.0254
"""The same when asking how much is left over: what is not found wider is not counted [m]."""
_HANDOVERS = (0.5, 0.2, 0.8)  # shares of the way at which whoever moves it goes round it


def passage_of(
    floor: RollingFloor,
    mobile: Mobile,
    ends: tuple[Pose, Pose],
    others: Iterable[Element],
    *,
    as_drawn: bool = False,
) -> Passage:
    """The way of a thing from pose to pose while others stand where they stand.

    With `as_drawn` one without the tape's reserve is looked for where nothing is sure.
    """
    question = _Question(floor, mobile, *ends, tuple(others))
    found = question.answer()
    again = as_drawn and found.verdict == "unsure" and question.reserve > 0.0
    return question.as_drawn() if again else found


def spare_of(floor: RollingFloor, passage: Passage, others: Iterable[Element]) -> Spare:
    """How much larger all round the thing could be, away from its two places."""
    ends = passage.path[0], passage.path[-1]
    return _Question(floor, passage.mobile, *ends, tuple(others), _COARSE).spare(passage)


def surely_shut(
    floor: RollingFloor, mobile: Mobile, ends: tuple[Pose, Pose], others: Iterable[Element]
) -> bool:
    """Whether a thing surely has no way from pose to pose."""
    return _Question(floor, mobile, *ends, tuple(others)).fails()


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

    def answer(self) -> Passage:
        """Tried in turn: one side all the way, round to another side, no way at all."""
        if self._surely_no_room():
            return Passage("fails", self.mobile, blocked_by=self.blocked_by())
        for doors in self._door_sets():
            found = self._with_mover(doors, self.reserve)
            if found:
                return Passage("passes", self.mobile, found, _names(doors), self.reserve)
        return Passage("fails" if self.fails() else "unsure", self.mobile,
                       blocked_by=self.blocked_by())  # fmt: skip

    def as_drawn(self) -> Passage:
        """A way that is free if everything stands just as drawn; unsure also where there is one."""
        for doors in self._door_sets():
            found = self._with_mover(doors, 0.0)
            if found:
                return Passage("unsure", self.mobile, found, _names(doors), 0.0)
        return Passage("unsure", self.mobile, blocked_by=self.blocked_by())

    def _carry(self, space: CarrySpace, body: Body, start: Pose, goal: Pose) -> Carried:
        self.floor.carried += 1
        return carry(space, body, start=start, goal=goal, finest=self.finest, margin=False)

    @cached_property
    def reserve(self) -> float:
        """What the tape may be off [m]."""
        return self.floor.reserve(self.mobile, self.others)

    def fails(self) -> bool:
        """Whether there is surely no way, not even for what surely moves."""
        if self._surely_no_room():
            return True
        space, least = self._lenient()[0], self.mobile.least(self.reserve)
        found = self._carry(space, least, *self._ends)
        return found.verdict == "fails"

    def blocked_by(self) -> tuple[str, ...]:
        """What the thing, as drawn and moved by nobody, gets stuck between; may be empty."""
        space, owners = self._lenient()
        found = self._carry(space, self.mobile.least(), *self._ends)
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
        known = self.floor.shop.measurements
        low, high = self.mobile.band if lean > 0 else self.mobile.core_band
        kept = []
        for door in doors:
            lacks = (high - low - door.head, door.sill - ZERO)
            if all(v.value + lean * v.error(known) <= TOLERANCE for v in lacks):
                kept.append(door)
        return tuple(kept)

    # --- spaces --------------------------------------------------------------------------------

    def _strict(self, side: Side | None, doors: tuple[Door, ...], grown: float) -> CarrySpace:
        """Everything that may be in the way, but for what is touched at the two ends."""
        floor, mobile = self.floor, self.mobile
        bands = mobile.bands(side)
        solids = [
            e.volume.polygon
            for e in (*floor.staying, *self.others)
            if floor.may_block(e, bands)
        ]  # fmt: skip
        leaves = (building.open_leaf(floor.shop, door) for door in doors)
        solids += [v.polygon for v in leaves if v is not None and floor.reaches(v, bands, 1.0)]
        ground = floor.ground(self._passable_doors(doors, 1.0), mobile)
        return self._cleared(ground, solids, self._rims(side, grown))

    def _rims(self, side: Side | None, grown: float) -> list[BaseGeometry]:
        """What it stands in now, and what growing takes beyond it at the ends [m]."""
        rims: list[BaseGeometry] = [outline_at(self.mobile.body(None), self.start)]
        if grown > 0.0:
            wide, drawn = self.mobile.body(side, grown), self.mobile.body(side)
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
        floor, mobile = self.floor, self.mobile
        solids = [
            e
            for e in (*floor.staying, *self.others)
            if e.nature == "solid" and floor.reaches(e.volume, (mobile.core_band,), -1.0)
        ]
        ground = floor.ground(self._passable_doors(floor.outside, -1.0), mobile)
        rim = outline_at(mobile.least(), self.start).buffer(TOLERANCE, join_style="mitre")
        space = self._cleared(ground, [e.volume.polygon for e in solids], [rim])
        return space, tuple(e.owner for e in solids)

    def _surely_no_room(self) -> bool:
        """Whether something surely stands where the thing is to stand."""
        least = outline_at(self.mobile.least(self.reserve), self.goal)
        return any(
            e.nature == "solid"
            and self.floor.reaches(e.volume, (self.mobile.core_band,), -1.0)
            and e.volume.polygon.buffer(-TOLERANCE, join_style="mitre").intersects(least)
            for e in (*self.floor.staying, *self.others)
        )

    # --- ways ----------------------------------------------------------------------------------

    def _with_mover(self, doors: tuple[Door, ...], grown: float) -> tuple[Stretch, ...]:
        """Somebody at one side all the way, the first that passes, or round to another side."""
        alone: Stretch | None = None
        for side in self.mobile.sides:
            found = self._stretch(side, doors, grown, *self._ends)
            if found is not None:
                return (found,)
            if alone is None and side is not None:
                alone = self._stretch(None, doors, grown, *self._ends)
                if alone is None:
                    return ()  # with somebody beside it there is less room still
        return () if alone is None else self._round_to_another_side(alone, doors, grown)

    def _stretch(
        self, side: Side | None, doors: tuple[Door, ...], grown: float, start: Pose, goal: Pose
    ) -> Stretch | None:
        """A way that is free with the reserve, and as drawn up to the very ends."""
        drawn = self.mobile.body(side)
        true = self._strict(side, doors, 0.0)
        if not all(is_clear(true, drawn, (pose, pose)) for pose in (start, goal)):
            return None
        wide, space = drawn, true
        if grown > 0.0:
            wide, space = self.mobile.body(side, grown), self._strict(side, doors, grown)
        found = self._carry(space, wide, start, goal)
        if found.verdict != "passes" or not is_clear(true, drawn, found.path):
            return None
        return Stretch(side, drawn, found.path)

    def _round_to_another_side(
        self, alone: Stretch, doors: tuple[Door, ...], grown: float
    ) -> tuple[Stretch, ...]:
        """Somebody at one side first, who then walks round to another, each part asked once."""
        sides = self.mobile.sides
        spaces = {side: self._strict(side, doors, 0.0) for side in sides}

        def free(side: Side | None, pose: Pose) -> bool:
            return is_clear(spaces[side], self.mobile.body(side), (pose, pose))

        first = [side for side in sides if free(side, self.start)]
        last = [side for side in sides if free(side, self.goal)]
        pairs = [(a, b) for a in first for b in last if a != b]
        before: dict[tuple[Side | None, Pose], Stretch | None] = {}
        after: dict[tuple[Side | None, Pose], Stretch | None] = {}
        for pose in _spread(alone.path):
            for a, b in pairs:
                if not (free(a, pose) and free(b, pose) and self._walks_round(a, b, pose, doors)):
                    continue
                if (a, pose) not in before:
                    before[a, pose] = self._stretch(a, doors, grown, self.start, pose)
                start = before[a, pose]
                if start and (b, pose) not in after:
                    after[b, pose] = self._stretch(b, doors, grown, pose, self.goal)
                end = after.get((b, pose))
                if start and end:
                    return start, end
        return ()

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
            found = self._stretch(stretch.side, doors, grown, *ends)
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
            wide = self.mobile.body(stretch.side, grown)
            space = self._strict(stretch.side, doors, grown)
            rest = shapely.union_all([*space.obstacles, shapely.boundary(space.workspace)])
            for pose in _dense(stretch.path):
                outline = outline_at(wide, pose)
                gap = outline.distance(rest)
                if gap < best - TOLERANCE:
                    best, where, near = gap, pose, outline
        reach = best + 2 * _SPARE_STEP
        sides = {stretch.side for stretch in stretches}
        bands = [band for side in sides for band in self.mobile.bands(side)]
        names = [
            e.owner
            for e in (*self.floor.staying, *self.others)
            if self.floor.may_block(e, bands) and e.volume.polygon.distance(near) <= reach
        ]
        if building.floor_polygon(self.floor.shop.room).boundary.distance(near) <= reach:
            names.append("the walls")
        return where, tuple(dict.fromkeys(names))

    def _walks_round(
        self, a: Side | None, b: Side | None, pose: Pose, doors: tuple[Door, ...]
    ) -> bool:
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
        rooms = [outline_at(mobile.body(side), pose).difference(own) for side in (a, b)]
        width = floor.shop.rules.value("body-depth")
        return passable(free, [rooms[0]], rooms[1], width)[0]


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
