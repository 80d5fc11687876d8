"""What makes one layout better than another while searching: cheap stand-ins for the measures.

Walking as straight lines between the places where one stands, links as the distance from where
they hold, and moves from today.  Many states are priced at once.  Every layout that is shown is
judged exactly afterwards.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from floorplan.checks.ground import ways_out
from floorplan.geometry.affine import Array
from floorplan.search.duct_wish import DuctWish
from floorplan.search.outfeed_wish import OutfeedWish
from floorplan.search.problem import State, States
from floorplan.search.setting import Setting
from floorplan.search.sides import Side, side_of
from floorplan.search.ways_wish import WayOutPriced, Ways
from floorplan.shop import building
from floorplan.shop.model import OutfeedLink, Shop

Indices = NDArray[np.intp]

LINK_WEIGHT = 200.0
"""Cost of one metre by which a link is missed [m of walking / m]."""
WALL_WEIGHT = 3.0
"""Cost of one metre between a thing and the nearest wall, where nothing calls it to the middle
[m of walking / m]."""
MOVE_WEIGHT = 0.05
"""Cost of moving one thing by one metre from today [m of walking / m]."""
ROLL_WEIGHT = 0.2
"""Cost of one metre between where a thing stands and where it is parked or works
[m of walking / m]."""

KNOWN = 64
"""Answers about ways out that are kept at hand."""


@dataclass(frozen=True, slots=True)
class Tie:
    """A walk between two stops, as indices of items or fixed points."""

    a: int | Array
    b: int | Array
    times: float


@dataclass(frozen=True, slots=True, eq=False)
class Partner:
    """A thing that another has to do with: an item, or one that stays where it is."""

    item: int | None
    sides: tuple[Side, ...]
    """at each of its turns"""
    at: Array
    """where it stays [m]; means nothing for an item"""

    def stands(self, states: States) -> tuple[Indices, Array] | None:
        """(s,) turns and (s, 2) reference points in all states; None where it does not stand."""
        if self.item is None:
            count = len(states.xy)
            return np.zeros(count, dtype=np.intp), np.broadcast_to(self.at, (count, 2))
        if not states.placed[self.item]:
            return None
        return states.turn[:, self.item], states.xy[:, self.item]


End = Partner | Array
"""What something must be near to: a thing, or a point of the room."""


class Wishes(WayOutPriced):
    """The cost of a state; what a search makes small."""

    def __init__(self, setting: Setting) -> None:
        self.setting = setting
        self.shop = setting.shop
        self.index = {thing.name: i for i, thing in enumerate(setting.things)}
        self.members = [self.shop.thing(name) for name, _ in setting.spots]
        self.sides = [
            tuple(side_of(self.shop, thing, turn) for turn in setting.problem.items[i].turns)
            for i, thing in enumerate(self.members)
        ]
        self.stops = [np.array([side.stop for side in sides]) for sides in self.sides]
        self.lows = [np.array([side.low for side in sides]) for sides in self.sides]
        self.highs = [np.array([side.high for side in sides]) for sides in self.sides]
        self.ties = [*self._ties(), *self._rolls()]
        self.duct = DuctWish.of(setting.shop)
        self.links = list(self._links())
        self.reaches = list(self._reaches())
        self.today = setting.state(setting.layout)
        self.ways = Ways(setting) if ways_out(self.shop) else None
        self.known: dict[bytes, int] = {}
        self.walls = _wall_lines(self.shop)
        free = {link.machine for t in self.shop.things for link in t.outfeed_of}
        self.hugs = [
            not t.outfeed_of and t.name not in free and t.freedom.along is None
            for t in self.members
        ]

    # --- what is known beforehand ------------------------------------------------------------

    def _point(self, name: str) -> int | Array | None:
        return self.index[name] if name in self.index else self._fixed(name)

    def _fixed(self, name: str) -> Array | None:
        """Where one stops at what is never moved."""
        point = self.shop.spot(name)
        if point is not None:
            return np.array([v.value for v in point])
        for door in self.shop.doors:
            if door.name == name:
                middle = building.doorway(self.shop, door).centroid
                return np.array([middle.x, middle.y])
        stays = self._partner(name)
        return None if stays is None else stays.sides[0].stop + stays.at

    def _partner(self, name: str) -> Partner | None:
        """A thing of that name, if it stands anywhere."""
        if name in self.index:
            item = self.index[name]
            return Partner(item, self.sides[item], np.zeros(2))
        pose = self.setting.layout.pose(name)
        if pose is None or not self.shop.has(name):
            return None
        side = side_of(self.shop, self.shop.thing(name), pose.turn)
        return Partner(None, (side,), np.array([pose.x.value, pose.y.value]))

    def _ties(self) -> list[Tie]:
        total: dict[tuple[str, str], float] = {}
        for job in self.shop.jobs:
            for leg in job.legs:
                key = (min(leg.start, leg.end), max(leg.start, leg.end))
                total[key] = total.get(key, 0.0) + leg.times
        out = []
        for (start, end), times in total.items():
            a, b = self._point(start), self._point(end)
            if a is not None and b is not None and (isinstance(a, int) or isinstance(b, int)):
                out.append(Tie(a, b, times))
        return out

    def _rolls(self) -> list[Tie]:
        """What is parked or brought to its work is not rolled far."""
        out = []
        for i, (name, place) in enumerate(self.setting.spots):
            home = self._point(name) if place != "standing" else None
            if home is not None:
                out.append(Tie(i, home, ROLL_WEIGHT))
        return out

    def _links(self) -> Iterator[tuple[Partner, Partner, OutfeedWish]]:
        """(bench, machine, link) of which one can be moved at least."""
        for name, link in self._outfeeds():
            bench, machine = self._partner(name), self._partner(link.machine)
            if bench is not None and machine is not None:
                yield bench, machine, OutfeedWish.of(link, machine.sides, bench.sides)

    def _outfeeds(self) -> Iterator[tuple[str, OutfeedLink]]:
        for thing in self.shop.things:
            for link in thing.outfeed_of:
                if thing.name in self.index or link.machine in self.index:
                    yield thing.name, link

    def _reaches(self) -> Iterator[tuple[End, End, float]]:
        """What must be near to what, and how near [m]."""
        for thing in self.shop.things:
            for near in thing.within_of:
                if thing.name in self.index or near.target in self.index:
                    own, other = self._end(thing.name), self._end(near.target)
                    if own is not None and other is not None:
                        yield own, other, near.distance.value

    def _end(self, name: str) -> End | None:
        partner = self._partner(name)
        return self._fixed(name) if partner is None else partner

    # --- the cost ----------------------------------------------------------------------------

    def guides_each(self, item: int, states: States) -> tuple[Array, Array]:
        """(s, t, g) coordinates at which a stop lines up with its partners, or a link holds."""
        count, turns = len(states.xy), len(self.sides[item])
        columns: list[Array] = [
            (spots[:, None] - self.stops[item])[:, :, None] for spots, _ in self._ends(item, states)
        ]
        every = np.arange(turns)
        for bench, machine, link in self.links:
            if bench.item == item:
                other = machine.stands(states)
                if other is not None:
                    columns.append(other[1][:, None, None] + link.steps[other[0]])
            elif machine.item == item:
                other = bench.stands(states)
                if other is not None:
                    steps = link.steps[every[None, :], other[0][:, None]]
                    columns.append(other[1][:, None, None] - steps)
        if self.today.placed[item]:
            columns.append(np.broadcast_to(self.today.xy[item], (count, turns, 1, 2)))
        if not columns:
            nothing = np.full((count, turns, 1), np.nan)
            return nothing, nothing
        found = np.concatenate(columns, axis=2)
        return found[..., 0], found[..., 1]

    def score_each(
        self, item: int, which: Indices, turn: Indices, xy: Array, states: States
    ) -> Array:
        """(k,) cost that depends on where an item stands, at (k, 2) in state (k,)."""
        cost = np.zeros(len(xy))
        stop = xy + self.stops[item][turn]
        for spots, times in self._ends(item, states):
            cost += times * np.hypot(*(stop - spots[which]).T)
        low, high = xy + self.lows[item][turn], xy + self.highs[item][turn]
        if self.today.placed[item]:
            away = np.hypot(*(xy - self.today.xy[item]).T)
            turned = np.where(turn == self.today.turn[item], 0.0, 0.5)
            cost += MOVE_WEIGHT * (np.minimum(away, 2.0) + turned)
        if self.hugs[item]:
            cost += WALL_WEIGHT * np.minimum(self._to_wall(low, high), 1.0)
        if self.duct is not None and self.setting.spots[item][1] == "standing":
            turns = self.setting.problem.items[item].turns
            for t in np.unique(turn).tolist():
                mine = turn == t
                cost[mine] += self.duct.cost(self.members[item], turns[t], xy[mine])
        missed = self._missed(item, which, turn, xy, states)
        return cost + LINK_WEIGHT * (missed + self._too_far(item, which, low, high, states))

    def _ends(self, item: int, states: States) -> Iterator[tuple[Array, float]]:
        """(s, 2) the other end of each walk from an item in all states [m], and how often."""
        for tie in self.ties:
            for own, other in ((tie.a, tie.b), (tie.b, tie.a)):
                if not isinstance(own, int) or own != item:
                    continue
                if not isinstance(other, int):
                    yield np.broadcast_to(other, (len(states.xy), 2)), tie.times
                elif states.placed[other]:
                    spots = states.xy[:, other] + self.stops[other][states.turn[:, other]]
                    yield spots, tie.times

    def _missed(self, item: int, which: Indices, turn: Indices, xy: Array, states: States) -> Array:
        """(k,) how far its links are from holding [m]."""
        miss = np.zeros(len(xy))
        for bench, machine, link in self.links:
            if bench.item == item:
                other = machine.stands(states)
                if other is not None:
                    miss += link.missed(other[0][which], turn, xy - other[1][which])
            elif machine.item == item:
                other = bench.stands(states)
                if other is not None:
                    miss += link.missed(turn, other[0][which], other[1][which] - xy)
        return miss

    def _too_far(self, item: int, which: Indices, low: Array, high: Array, states: States) -> Array:
        """(k,) how much farther it is than it may be from what it must be near [m]."""
        far = np.zeros(len(low))
        for a, b, most in self.reaches:
            for own, other in ((a, b), (b, a)):
                if not isinstance(own, Partner) or own.item != item:
                    continue
                box = _box(other, states)
                if box is not None:
                    gaps = np.maximum(box[0][which] - high, low - box[1][which])
                    away = np.hypot(*np.maximum(gaps, 0.0).T)
                    far += np.maximum(away - most, 0.0)
        return far

    def _to_wall(self, low: Array, high: Array) -> Array:
        """(k,) gap between a bounding box and the nearest wall along x or y [m]."""
        gap = np.full(len(low), np.inf)
        for axis, at, start, end in self.walls:
            other = 1 - axis
            beside = (low[:, other] < end) & (high[:, other] > start)
            away = np.minimum(np.abs(low[:, axis] - at), np.abs(high[:, axis] - at))
            gap = np.where(beside, np.minimum(gap, away), gap)
        return gap

    def standing_each(self, states: States) -> Array:
        """(s,) cost of where everything stands, ways out left aside."""
        every = np.arange(len(states.xy))
        cost = np.zeros(len(every))
        for item in np.flatnonzero(states.placed).tolist():
            turn, xy = states.turn[:, item], states.xy[:, item]
            cost += self.score_each(item, every, turn, xy, states)
        return cost / 2.0

    def blocked(self, state: State) -> int:
        """How many standing places have no way out, looked up where it was asked just now."""
        if self.ways is None:
            return 0
        key = state.turn.tobytes() + state.xy.tobytes()
        if key not in self.known:
            if len(self.known) > KNOWN:
                self.known.clear()
            self.known[key] = self.ways.blocked(state)
        return self.known[key]


def _box(end: End, states: States) -> tuple[Array, Array] | None:
    """(s, 2) corners of a bounding box in all states [m]; too large for slanted things."""
    if not isinstance(end, Partner):
        spots = np.broadcast_to(end, (len(states.xy), 2))
        return spots, spots
    stands = end.stands(states)
    if stands is None:
        return None
    turn, at = stands
    lows, highs = np.array([s.low for s in end.sides]), np.array([s.high for s in end.sides])
    return at + lows[turn], at + highs[turn]


def _wall_lines(shop: Shop) -> list[tuple[int, float, float, float]]:
    """Walls that run along x or y: (axis they fix, where, from, to) [m]."""
    out = []
    for wall in shop.room.walls:
        (ax, ay), (bx, by) = ((p[0].value, p[1].value) for p in (wall.start, wall.end))
        if abs(ax - bx) < 1e-9:
            out.append((0, ax, min(ay, by), max(ay, by)))
        elif abs(ay - by) < 1e-9:
            out.append((1, ay, min(ax, bx), max(ax, bx)))
    return out
