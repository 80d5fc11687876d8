"""The question put to the search over a plan: the stages as one problem, and their joint cost."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from floorplan.geometry.affine import Array, rotation
from floorplan.search.problem import Objective, Problem, State, States
from floorplan.search.setting import Demands, Spot
from floorplan.search.staged_setting import Split, StagedSetting
from floorplan.search.ways_wish import WayOutPriced
from floorplan.search.wishes import Wishes
from floorplan.shop.model import Layout, Shop

Indices = NDArray[np.intp]

CHANGE_WEIGHT = 15.0
"""Cost of moving a thing between two stages [m of walking]."""
NEAR = 0.15
"""A replacement this near to where its forerunner stood is in its place [m]."""
SAME_PLACE = 1e-6
"""What is left of rounding where a thing keeps its place [m]."""
SAME_TURN = 1e-6
"""What is left of rounding where it keeps its turn [deg]."""


class StagedWishes(WayOutPriced):
    """The costs of all stages added up; what a search over a plan makes small."""

    def __init__(self, setting: StagedSetting) -> None:
        self.setting = setting
        self.stages = [Wishes(part) for part in setting.settings]
        self.keeps = [self._keeping(item) for item in range(len(setting.members))]

    def guides_each(self, item: int, states: States) -> tuple[Array, Array]:
        """(s, t, g) coordinates good in any stage, and the place of what was there before."""
        found = [
            self.stages[s].guides_each(self.setting.at[s][item], self.setting.parts(states, s))
            for s in self.setting.members[item].stages
        ]
        before = self._before_each(item, states)[:, :, None]
        xs, ys = ([each[axis] for each in found] for axis in (0, 1))
        return (
            np.concatenate([*xs, before[..., 0]], axis=2),
            np.concatenate([*ys, before[..., 1]], axis=2),
        )

    def score_each(
        self, item: int, which: Indices, turn: Indices, xy: Array, states: States
    ) -> Array:
        """(k,) cost that depends on where a thing stands in its stages."""
        cost = np.zeros(len(xy))
        for s in self.setting.members[item].stages:
            part = self.setting.parts(states, s)
            cost += self.stages[s].score_each(self.setting.at[s][item], which, turn, xy, part)
        return cost + self._changing(item, which, turn, xy, states)

    def standing_each(self, states: States) -> Array:
        """(s,) cost of where everything stands, ways out left aside."""
        every = np.arange(len(states.xy))
        cost = np.zeros(len(every))
        for item in np.flatnonzero(states.placed).tolist():
            cost += self._changing(item, every, states.turn[:, item], states.xy[:, item], states)
        for number, wishes in enumerate(self.stages):
            cost += wishes.standing_each(self.setting.parts(states, number))
        return cost

    def blocked(self, state: State) -> int:
        """How many standing places have no way out, those of all stages together."""
        return sum(
            wishes.blocked(self.setting.part(state, number))
            for number, wishes in enumerate(self.stages)
        )

    # --- from stage to stage -----------------------------------------------------------------

    def _keeping(self, item: int) -> Array | None:
        """(t, u, 2) way from where the other stood at turn u to where the item keeps its place.

        The other is the item itself a stage before, or what it replaces; nan where the turns
        differ, None where nothing was there before.
        """
        other = self._other(item)
        if other is None:
            return None
        new, old = (self.setting.problem.items[i].turns for i in (item, other))
        way: Array = (
            np.array([self._rear(other, turn) for turn in old])[None, :]
            - np.array([self._rear(item, turn) for turn in new])[:, None]
        )
        between = np.abs((np.subtract.outer(new, old) + 180.0) % 360.0 - 180.0)
        way[between > SAME_TURN] = np.nan
        return way

    def _other(self, item: int) -> int | None:
        member = self.setting.members[item]
        return member.before if member.before is not None else member.forerunner

    def _before_each(self, item: int, states: States) -> Array:
        """(s, t, 2) where an item stands if it keeps its place; nan where it cannot [m]."""
        other, keeps = self._other(item), self.keeps[item]
        if other is None or keeps is None or not states.placed[other]:
            turns = len(self.setting.problem.items[item].turns)
            return np.full((len(states.xy), turns, 2), np.nan)
        way: Array = keeps[:, states.turn[:, other]].transpose(1, 0, 2)
        return states.xy[:, other][:, None] + way

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

    def _changing(
        self, item: int, which: Indices, turn: Indices, xy: Array, states: States
    ) -> Array:
        """(k,) cost of not keeping its place."""
        if self.keeps[item] is None:
            return np.zeros(len(xy))
        slack = SAME_PLACE if self.setting.members[item].before is not None else NEAR
        before = self._before_each(item, states)[which, turn]
        # no place to keep is nan, and nan is not near
        keeps = np.hypot(*(xy - before).T) <= slack
        return np.where(keeps, 0.0, CHANGE_WEIGHT)


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
