"""The question put to the search over a plan: the stages as one problem, and their joint cost."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from floorplan.geometry.affine import Array, rotation
from floorplan.search.problem import Objective, Problem, State
from floorplan.search.setting import Demands, Spot
from floorplan.search.staged_setting import Split, StagedSetting
from floorplan.search.wishes import BLOCKED, BLOCKED_SHARE, Wishes
from floorplan.shop.model import Layout, Shop

CHANGE_WEIGHT = 15.0
"""Cost of moving a thing between two stages [m of walking]."""
NEAR = 0.15
"""A replacement this near to where its forerunner stood is in its place [m]."""


class StagedWishes:
    """The costs of all stages added up; what a search over a plan makes small."""

    def __init__(self, setting: StagedSetting) -> None:
        self.setting = setting
        self.stages = [Wishes(part) for part in setting.settings]
        self.best = np.inf

    def guides(self, item: int, turn: int, state: State) -> tuple[Array, Array]:
        """Coordinates that are good in any stage, and the place of what was there before."""
        member = self.setting.members[item]
        found = [
            self.stages[s].guides(self.setting.at[s][item], turn, self.setting.part(state, s))
            for s in member.stages
        ]
        xs, ys = ([one[axis] for one in found] for axis in (0, 1))
        before = self._before(item, turn, state)
        if before is not None:
            xs.append(before[:1])
            ys.append(before[1:])
        return np.concatenate(xs), np.concatenate(ys)

    def score(self, item: int, turn: int, xy: Array, state: State) -> Array:
        """(k,) cost that depends on where a thing stands in its stages."""
        member = self.setting.members[item]
        cost = np.zeros(len(xy))
        for s in member.stages:
            part = self.setting.part(state, s)
            cost += self.stages[s].score(self.setting.at[s][item], turn, xy, part)
        if member.before is not None or member.forerunner is not None:
            before = self._before(item, turn, state)
            away = True if before is None else np.hypot(*(xy - before).T) > self._slack(item)
            cost += CHANGE_WEIGHT * np.asarray(away)
        return cost

    def total(self, state: State) -> float:
        """Cost of a whole state; ways out are looked at where they could still matter."""
        cost = self._changing(state)
        for number, wishes in enumerate(self.stages):
            cost += wishes.standing(self.setting.part(state, number))
        if cost < 1.1 * self.best + 1.0:
            cost *= 1.0 + BLOCKED_SHARE * self.blocked(state)
        self.best = min(self.best, cost)
        return cost

    def settled(self, state: State, cost: float) -> float:
        """The cost of a state that is kept: each place without a way out at its full price."""
        return cost + BLOCKED * self.blocked(state)

    def blocked(self, state: State) -> int:
        """How many standing places have no way out, those of all stages together."""
        return sum(
            wishes.blocked(self.setting.part(state, number))
            for number, wishes in enumerate(self.stages)
        )

    # --- from stage to stage -----------------------------------------------------------------

    def _before(self, item: int, turn: int, state: State) -> Array | None:
        """Where the item stands if it keeps its place, or that of what it replaces.

        None where its turn is another one, or nothing stood there.
        """
        member = self.setting.members[item]
        other = member.before if member.before is not None else member.forerunner
        if other is None or not state.placed[other]:
            return None
        old, new = self._turn(other, int(state.turn[other])), self._turn(item, turn)
        if abs((old - new + 180.0) % 360.0 - 180.0) > 1e-6:
            return None
        spot: Array = state.xy[other] + self._rear(other, old) - self._rear(item, new)
        return spot

    def _turn(self, item: int, number: int) -> float:
        return self.setting.problem.items[item].turns[number]

    def _rear(self, item: int, turn: float) -> Array:
        """The middle of a thing's back, from its reference point [m]."""
        member = self.setting.members[item]
        thing = self.setting.settings[member.stages[0]].shop.thing(member.thing)
        points = thing.body.points
        (west, _), (east, north) = points.min(axis=0), points.max(axis=0)
        matrix = rotation(turn)
        spot: Array = matrix @ np.array([(west + east) / 2, north])
        spot -= (points @ matrix.T).min(axis=0)
        return spot

    def _slack(self, item: int) -> float:
        return 1e-6 if self.setting.members[item].before is not None else NEAR

    def _changing(self, state: State) -> float:
        """Cost of all that does not keep its place."""
        cost = 0.0
        for i, member in enumerate(self.setting.members):
            changes = member.before is not None or member.forerunner is not None
            if changes and state.placed[i]:
                before = self._before(i, int(state.turn[i]), state)
                slack = self._slack(i)
                if before is None or float(np.hypot(*(state.xy[i] - before))) > slack:
                    cost += CHANGE_WEIGHT
        return cost


@dataclass(frozen=True)
class StagedPlacement:
    """The question put to the search, over all stages."""

    shops: tuple[Shop, ...]
    layouts: tuple[Layout, ...]
    movable: tuple[str, ...]
    demands: Demands
    splits: frozenset[Split] = frozenset()
    replaces: tuple[tuple[str, str], ...] = ()
    """(thing, the thing in whose place it comes)"""
    spots: tuple[Spot, ...] = ()
    """Parked and working places that are sought as well."""

    @cached_property
    def setting(self) -> StagedSetting:
        """The stages as one placement problem."""
        return StagedSetting(
            self.shops, self.layouts, self.movable, self.demands, self.splits,
            dict(self.replaces), self.spots,
        )  # fmt: skip

    @property
    def start(self) -> State:
        """Where things stand in the file."""
        return self.setting.state(self.setting.layouts)

    def wishes(self) -> Objective:
        """What makes one plan better than another."""
        return StagedWishes(self.setting)

    def posed(self) -> tuple[Problem, Objective]:
        """The problem, and wishes that know nothing of earlier runs."""
        return self.setting.problem, self.wishes()

    def __getstate__(self) -> dict[str, object]:
        """What another process needs; it makes its own setting."""
        return {key: value for key, value in self.__dict__.items() if key != "setting"}
