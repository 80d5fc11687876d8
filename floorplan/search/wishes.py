"""What makes one layout better than another while searching: cheap stand-ins for the measures.

Walking as straight lines between the places where one stands, links as the distance from where
they hold, moves from today, and the way out as a quick yes or no.  Every layout that is shown is
judged exactly afterwards.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import shapely
from shapely.ops import unary_union

from floorplan.checks.ground import goal, open_ground, ways_out
from floorplan.geometry.affine import Array, rotation
from floorplan.geometry.pieces import Piece
from floorplan.search.duct_wish import DuctWish
from floorplan.search.problem import State
from floorplan.search.setting import Setting
from floorplan.shop import building
from floorplan.shop.model import Cutter, OutfeedLink, Shop, Thing

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
BLOCKED = 400.0
"""Cost of each standing place without a way out, in a layout that is kept [m of walking]."""
BLOCKED_SHARE = 0.2
"""The same while searching, as a share of the other costs: low enough to pass through."""

KNOWN = 64
"""Answers about ways out that are kept at hand."""


@dataclass(frozen=True, slots=True)
class Tie:
    """A walk between two stops, as indices of items or fixed points."""

    a: int | Array
    b: int | Array
    times: float


@dataclass(frozen=True, slots=True)
class Side:
    """A thing's own points at one turn, from its reference point [m]."""

    stop: Array
    low: Array
    high: Array
    table_edge: float
    """Reach of the table along the feed, from the reference point."""
    spindle: float
    middle: float
    """Middle of the usual piece, across the feed."""
    along: Array
    across: Array


class Wishes:
    """The cost of a state; what a search makes small."""

    def __init__(self, setting: Setting) -> None:
        self.setting = setting
        self.shop = setting.shop
        self.index = {thing.name: i for i, thing in enumerate(setting.things)}
        members = [self.shop.thing(name) for name, _ in setting.spots]
        self.sides = [
            [self._side(thing, turn) for turn in setting.problem.items[i].turns]
            for i, thing in enumerate(members)
        ]
        self.ties = [*self._ties(), *self._rolls()]
        self.duct = DuctWish.of(setting.shop)
        self.links = self._links()
        self.reaches = self._reaches()
        self.today = setting.state(setting.layout)
        self.ways = _Ways(setting) if ways_out(self.shop) else None
        self.best = np.inf
        self.known: dict[bytes, int] = {}
        self.walls = _wall_lines(self.shop)
        free = {link.machine for t in self.shop.things for link in t.outfeed_of}
        self.hugs = [
            not t.outfeed_of and t.name not in free and t.freedom.along is None for t in members
        ]

    # --- what is known beforehand ------------------------------------------------------------

    def _side(self, thing: Thing, turn: float) -> Side:
        matrix = rotation(turn)
        body = thing.body.points @ matrix.T
        shift = -body.min(axis=0)

        def at(x: float, y: float) -> Array:
            found: Array = matrix @ np.array([x, y]) + shift
            return found

        stop = at(*self._stop(thing))
        edge = spindle = middle = 0.0
        along, across = np.array([0.0, 1.0]), np.array([1.0, 0.0])
        cutter = thing.cutter
        if cutter is not None:
            along, across = _directions(cutter, matrix)
            here = at(cutter.x.value, cutter.y.value)
            edge = float(((body + shift) @ along).max())
            spindle = float(here @ along)
            middle = float(here @ across) + self._piece_middle(thing)
        return Side(
            stop, (body + shift).min(axis=0), (body + shift).max(axis=0),
            edge, spindle, middle, along, across,
        )  # fmt: skip

    def _piece_middle(self, thing: Thing) -> float:
        from floorplan.shop.feeding import feeds_of, lane

        feeds = feeds_of(self.shop, thing)
        if not feeds:
            return 0.0
        left, right = lane(feeds[0][1])
        return (left.value + right.value) / 2

    def _stop(self, thing: Thing) -> tuple[float, float]:
        for zone in thing.zones:
            if zone.purpose == "stand" and not zone.advised:
                x, y = zone.outline.points.mean(axis=0)
                return float(x), float(y)
        deep = self.shop.rules.value("standing-depth")
        return thing.width.value / 2, -thing.depth.value - deep / 2

    def _point(self, name: str) -> int | Array | None:
        if name in self.index:
            return self.index[name]
        for place in self.shop.places:
            if place.name == name:
                return np.array([place.x.value, place.y.value])
        for door in self.shop.doors:
            if door.name == name:
                middle = building.doorway(self.shop, door).centroid
                return np.array([middle.x, middle.y])
        pose = self.setting.layout.pose(name)
        if pose is None or not self.shop.has(name):
            return None
        side = self._side(self.shop.thing(name), pose.turn)
        spot: Array = side.stop + np.array([pose.x.value, pose.y.value])
        return spot

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

    def _links(self) -> list[tuple[int | str, int | str, OutfeedLink]]:
        """(thing, machine, link): indices, or names of what stays where it is."""
        return [
            (self.index.get(t.name, t.name), self.index.get(link.machine, link.machine), link)
            for t in self.shop.things
            for link in t.outfeed_of
            if t.name in self.index or link.machine in self.index
        ]

    def _reaches(self) -> list[tuple[int | str, int | str, float]]:
        return [
            (self.index.get(t.name, t.name), self.index.get(r.target, r.target), r.distance.value)
            for t in self.shop.things
            for r in t.within_of
            if t.name in self.index or r.target in self.index
        ]

    # --- the cost ----------------------------------------------------------------------------

    def guides(self, item: int, turn: int, state: State) -> tuple[Array, Array]:
        """Coordinates at which a stop lines up with its partners, or a link holds."""
        side = self.sides[item][turn]
        xs: list[float] = []
        ys: list[float] = []
        for tie in self.ties:
            for own, other in ((tie.a, tie.b), (tie.b, tie.a)):
                if isinstance(own, int) and own == item:
                    spot = self._spot(other, state)
                    if spot is not None:
                        xs.append(float(spot[0] - side.stop[0]))
                        ys.append(float(spot[1] - side.stop[1]))
        for thing, machine, link in self.links:
            for x, y in self._link_guides(item, turn, state, thing, machine, link):
                xs.append(x)
                ys.append(y)
        if self.today.placed[item]:
            xs.append(float(self.today.xy[item][0]))
            ys.append(float(self.today.xy[item][1]))
        return np.array(xs), np.array(ys)

    def _spot(self, stop: int | Array, state: State) -> Array | None:
        if not isinstance(stop, int):
            return stop
        if not state.placed[stop]:
            return None
        spot: Array = state.xy[stop] + self.sides[stop][int(state.turn[stop])].stop
        return spot

    def _placed(self, name: int | str, state: State) -> tuple[Side, Array] | None:
        """Sides and reference point of a thing in a state, or where it stays."""
        if isinstance(name, int):
            if not state.placed[name]:
                return None
            return self.sides[name][int(state.turn[name])], state.xy[name]
        pose = self.setting.layout.pose(name)
        if pose is None or not self.shop.has(name):
            return None
        return (
            self._side(self.shop.thing(name), pose.turn),
            np.array([pose.x.value, pose.y.value]),
        )

    def _link_guides(
        self,
        item: int,
        turn: int,
        state: State,
        thing: int | str,
        machine: int | str,
        link: OutfeedLink,
    ) -> list[tuple[float, float]]:
        gap = _wanted_gap(link)
        if thing == item:
            saw = self._placed(machine, state)
            if saw is None:
                return []
            own = self.sides[item][turn]
            return _beside(own, *saw, gap, own_is_bench=True)
        if machine == item:
            bench = self._placed(thing, state)
            if bench is None:
                return []
            own = self.sides[item][turn]
            return _beside(own, *bench, gap, own_is_bench=False)
        return []

    def score(self, item: int, turn: int, xy: Array, state: State) -> Array:
        """(k,) cost that depends on where an item stands."""
        side = self.sides[item][turn]
        cost = self._walking(item, side, xy, state)
        if self.today.placed[item]:
            away = np.hypot(*(xy - self.today.xy[item]).T)
            turned = 0.0 if turn == self.today.turn[item] else 0.5
            cost += MOVE_WEIGHT * (np.minimum(away, 2.0) + turned)
        if self.hugs[item]:
            cost += WALL_WEIGHT * np.minimum(self._to_wall(side, xy), 1.0)
        name, place = self.setting.spots[item]
        if self.duct is not None and place == "standing":
            turned_to = self.setting.problem.items[item].turns[turn]
            cost += self.duct.cost(self.shop.thing(name), turned_to, xy)
        return cost + LINK_WEIGHT * self._missed(item, side, xy, state)

    def _walking(self, item: int, side: Side, xy: Array, state: State) -> Array:
        cost = np.zeros(len(xy))
        for tie in self.ties:
            for own, other in ((tie.a, tie.b), (tie.b, tie.a)):
                if isinstance(own, int) and own == item:
                    spot = self._spot(other, state)
                    if spot is not None:
                        cost += tie.times * np.hypot(*(xy + side.stop - spot).T)
        return cost

    def _missed(self, item: int, side: Side, xy: Array, state: State) -> Array:
        """How far its links are from holding [m]."""
        miss = np.zeros(len(xy))
        for thing, machine, link in self.links:
            cover = 0.0 if link.cover is None else link.cover.value
            if thing == item:
                saw = self._placed(machine, state)
                if saw is not None:
                    miss += _miss(saw[0], saw[1], side, xy, link, cover)
            elif machine == item:
                bench = self._placed(thing, state)
                if bench is not None:
                    miss += _miss(side, xy, bench[0], bench[1], link, cover)
        for name, target, most in self.reaches:
            if item in (name, target):
                partner = target if name == item else name
                miss += np.maximum(self._away(side, xy, partner, state) - most, 0.0)
        return miss

    def _to_wall(self, side: Side, xy: Array) -> Array:
        """Gap between a thing's bounding box and the nearest wall along x or y [m]."""
        low, high = xy + side.low, xy + side.high
        gap = np.full(len(xy), np.inf)
        for axis, at, start, end in self.walls:
            other = 1 - axis
            beside = (low[:, other] < end) & (high[:, other] > start)
            away = np.minimum(np.abs(low[:, axis] - at), np.abs(high[:, axis] - at))
            gap = np.where(beside, np.minimum(gap, away), gap)
        return gap

    def _away(self, side: Side, xy: Array, other: int | str, state: State) -> Array:
        """Distance between bounding boxes [m]; a lower bound for slanted things."""
        placed = self._placed(other, state)
        if placed is not None:
            low, high = placed[0].low + placed[1], placed[0].high + placed[1]
        else:
            spot = self._point(other) if isinstance(other, str) else None
            if spot is None or isinstance(spot, int):
                return np.zeros(len(xy))
            low = high = spot
        gap = np.maximum(np.maximum(low - (xy + side.high), (xy + side.low) - high), 0.0)
        return np.asarray(np.hypot(*gap.T))

    def total(self, state: State) -> float:
        """Cost of a whole state; the way out is looked at where it could still matter."""
        cost = self.standing(state)
        if cost < 1.1 * self.best + 1.0:
            cost *= 1.0 + BLOCKED_SHARE * self.blocked(state)
        self.best = min(self.best, cost)
        return cost

    def standing(self, state: State) -> float:
        """Cost of where everything stands, ways out left aside."""
        cost = 0.0
        for item in range(len(self.sides)):
            if state.placed[item]:
                half = self.score(item, int(state.turn[item]), state.xy[item][None, :], state)
                cost += float(half[0])
        return cost / 2.0

    def settled(self, state: State, cost: float) -> float:
        """The cost of a state that is kept: each place without a way out at its full price."""
        return cost + BLOCKED * self.blocked(state)

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


def _directions(cutter: Cutter, matrix: Array) -> tuple[Array, Array]:
    along = {"away": (0.0, 1.0), "left": (-1.0, 0.0), "right": (1.0, 0.0)}[cutter.feed]
    across = (along[1], -along[0])
    return matrix @ np.array(along), matrix @ np.array(across)


def _wanted_gap(link: OutfeedLink) -> float:
    return (link.gap_least.value + link.gap_most.value) / 2


def _extent(side: Side, way: Array) -> tuple[float, float]:
    """Reach of a thing's bounding box along a direction [m]."""
    corners = np.array(
        [[x, y] for x in (side.low[0], side.high[0]) for y in (side.low[1], side.high[1])]
    )
    reach = corners @ way
    return float(reach.min()), float(reach.max())


def _beside(
    own: Side, other: Side, at: Array, gap: float, *, own_is_bench: bool
) -> list[tuple[float, float]]:
    """Reference points that put a bench behind a machine, flush or centred on its piece."""
    saw, bench = (other, own) if own_is_bench else (own, other)
    near, _ = _extent(bench, saw.along)
    left, right = _extent(bench, saw.across)
    saw_left, saw_right = _extent(saw, saw.across)
    along = saw.table_edge + gap - near
    out = []
    for across in (
        saw.middle - (left + right) / 2,
        saw_left - left,
        saw_right - right,
        saw.middle - left - 0.05,
        saw.middle - right + 0.05,
    ):
        step = saw.along * along + saw.across * across
        spot = at + step if own_is_bench else at - step
        out.append((float(spot[0]), float(spot[1])))
    return out


def _miss(
    saw: Side, saw_at: Array, bench: Side, bench_at: Array, link: OutfeedLink, cover: float
) -> Array:
    """How far a bench is from taking a machine's outfeed [m]; arrays broadcast."""
    away = bench_at - saw_at
    near, far = _extent(bench, saw.along)
    left, right = _extent(bench, saw.across)
    along = away @ saw.along
    across = away @ saw.across
    gap = along + near - saw.table_edge
    out = np.maximum(link.gap_least.value - gap, 0.0) + np.maximum(gap - link.gap_most.value, 0.0)
    out = out + np.maximum(cover - (along + far - saw.spindle), 0.0)
    out = out + np.maximum(across + left - saw.middle, 0.0)
    return np.asarray(out + np.maximum(saw.middle - (across + right), 0.0))


@dataclass(frozen=True, slots=True)
class _Moment:
    """Tasks that leave the same solids standing: the ground then, and who stands and moves."""

    ground: shapely.Geometry
    solid: list[list[list[Array]]]
    """Outlines in the walker's way by item and turn, from the reference point."""
    stands: list[list[list[Array]]]
    """Standing places likewise."""
    fixed_stands: list[Array]


class _Ways:
    """Counts standing places without a way out, by one erosion of the floor for each moment."""

    def __init__(self, setting: Setting) -> None:
        shop = setting.shop
        self.setting = setting
        self.goal = goal(shop)
        self.half = shop.rules.value("way-out-width") / 2
        self.tall = shop.rules.value("way-out-height")
        self.walls = {w.name for w in shop.room.walls} | {"ceiling"}
        groups: dict[tuple[bool, ...], list[str]] = {}
        for task in shop.tasks:
            groups.setdefault(self._solids_of(task.name), []).append(task.name)
        self.moments = [self._moment(tasks) for tasks in groups.values()]

    def _solids_of(self, task: str) -> tuple[bool, ...]:
        return tuple(
            label.element.presence.during(task)
            for label in self.setting.labels
            if label.element.nature == "solid" and label.element.owner not in self.walls
        )

    def _in_way(self, piece: Piece, task: str) -> bool:
        label = self.setting.labels[piece.label]
        element = label.element
        return (
            element.nature == "solid"
            and not label.limit_of
            and not label.gap_of
            and element.owner not in self.walls
            and element.presence.during(task)
            and piece.bottom < self.tall
            and piece.top > 0
        )

    def _stands(self, piece: Piece, tasks: list[str]) -> bool:
        element = self.setting.labels[piece.label].element
        only = element.presence.only
        return (
            element.purpose in ("stand", "push")
            and not element.advised
            and only is not None
            and any(task in only for task in tasks)
        )

    def _moment(self, tasks: list[str]) -> _Moment:
        problem = self.setting.problem
        fixed = [p.outline for p in problem.fixed if self._in_way(p, tasks[0])]
        ground = open_ground(self.setting.shop).difference(
            unary_union([shapely.Polygon(o) for o in fixed])
        )
        items = [
            [
                (
                    [p.outline for p in pieces if self._in_way(p, tasks[0])],
                    [p.outline for p in pieces if self._stands(p, tasks)],
                )
                for pieces in item.pieces
            ]
            for item in problem.items
        ]
        return _Moment(
            ground,
            [[turn[0] for turn in item] for item in items],
            [[turn[1] for turn in item] for item in items],
            [p.outline for p in problem.fixed if self._stands(p, tasks)],
        )

    def blocked(self, state: State) -> int:
        """How many standing places have no way out of the needed width."""
        return sum(self._blocked(moment, state) for moment in self.moments)

    def _blocked(self, moment: _Moment, state: State) -> int:
        bodies: list[Array] = []
        places = list(moment.fixed_stands)
        for i in range(len(moment.solid)):
            if state.placed[i]:
                turn, at = int(state.turn[i]), state.xy[i]
                bodies += [o + at for o in moment.solid[i][turn]]
                places += [o + at for o in moment.stands[i][turn]]
        if not places:
            return 0
        free = moment.ground.difference(unary_union([shapely.Polygon(o) for o in bodies]))
        parts = shapely.get_parts(shapely.buffer(free, -self.half * 1.01, quad_segs=4))
        reached = parts[shapely.intersects(parts, self.goal)]
        if not len(reached):
            return len(places)
        out = shapely.union_all(reached)
        shapely.prepare(out)
        return int(np.sum(~shapely.intersects(out, [shapely.Polygon(o) for o in places])))
