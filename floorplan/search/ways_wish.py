"""The way out as a price while searching: a quick yes or no for each standing place.

It is looked at only where a state costs little enough besides, since it costs more to ask than all
other prices together.  Every layout that is shown is judged exactly afterwards.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import shapely
from shapely.ops import unary_union

from floorplan.checks.ground import goal, open_ground
from floorplan.geometry.affine import Array
from floorplan.geometry.pieces import Piece
from floorplan.search.pricing import ManyFirst
from floorplan.search.problem import State, States
from floorplan.search.setting import Setting

BLOCKED = 400.0
"""Cost of each standing place without a way out, in a layout that is kept [m of walking]."""
BLOCKED_SHARE = 0.2
"""The same while searching, as a share of the other costs: low enough to pass through."""


class WayOutPriced(ManyFirst):
    """An objective in which each standing place without a way out raises all other costs."""

    best = np.inf
    """The least total so far; dearer states are not worth asking about ways out."""

    def standing_each(self, states: States) -> Array:
        """(s,) cost of where everything stands, ways out left aside."""
        raise NotImplementedError

    def blocked(self, state: State) -> int:
        """How many standing places have no way out."""
        raise NotImplementedError

    def standing(self, state: State) -> float:
        """Cost of where everything stands, ways out left aside."""
        return float(self.standing_each(States.alone(state))[0])

    def total_each(self, states: States) -> Array:
        """(s,) costs of whole states; ways out are looked at where they could still matter."""
        costs = self.standing_each(states)
        for number, cost in enumerate(costs.tolist()):
            if cost < 1.1 * self.best + 1.0:
                cost *= 1.0 + BLOCKED_SHARE * self.blocked(states.one(number))
            self.best = min(self.best, cost)
            costs[number] = cost
        return costs

    def settled(self, state: State, cost: float) -> float:
        """The cost of a state that is kept: each place without a way out at its full price."""
        return cost + BLOCKED * self.blocked(state)


@dataclass(frozen=True, slots=True)
class _Moment:
    """Tasks that leave the same solids standing: the ground then, and who stands and moves."""

    ground: shapely.Geometry
    solid: list[list[list[Array]]]
    """Outlines in the walker's way by item and turn, from the reference point."""
    stands: list[list[list[Array]]]
    """Standing places likewise."""
    fixed_stands: list[Array]


class Ways:
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
