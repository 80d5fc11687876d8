"""The stages of a plan as one placement problem: two things conflict only if they share a stage.

Each stage is a setting of its own; pieces that are the same in several stages become one piece
that carries the set of its stages.  A thing keeps one pose through all its stages, unless it is
split: then it stands in one place before a stage and in another from then on.
"""

from __future__ import annotations

from collections.abc import Hashable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from floorplan.geometry.pieces import Piece
from floorplan.search.problem import Item, Problem, State, States
from floorplan.search.setting import Demands, Label, Setting, Spot, conflict, movable_spots
from floorplan.shop.model import Layout, Shop

Split = tuple[str, int]
"""A thing that may be moved once, and the stage from which it stands elsewhere."""


@dataclass(frozen=True, slots=True)
class Member:
    """One item of the problem: a thing at one of its places through some of its stages."""

    thing: str
    place: str
    stages: tuple[int, ...]
    before: int | None = None
    """The member that is the same thing before it was moved."""
    forerunner: int | None = None
    """The member in whose place it comes."""


@dataclass(frozen=True, slots=True, eq=False)
class Shape:
    """One piece at every turn, with the stages in which it is there as a set of bits."""

    label: Label
    pieces: tuple[Piece, ...]
    stages: int


def held(
    layouts: Sequence[Layout], spots: Iterable[Spot], splits: Iterable[Split] = ()
) -> tuple[Layout, ...]:
    """Layouts in which each movable thing keeps its first pose, or its first since it is split."""
    keys, moves = set(spots), set(splits)
    out: list[Layout] = []
    for number, layout in enumerate(layouts):
        poses = dict(layout.poses)
        for key in keys & set(poses):
            before = out[-1].pose(*key) if out else None
            if before is not None and (key[0], number) not in moves:
                poses[key] = before
        out.append(Layout(poses))
    return tuple(out)


class StagedSetting:
    """Shops and layouts of consecutive stages, with some things to be placed in all of them."""

    def __init__(
        self,
        shops: Sequence[Shop],
        layouts: Sequence[Layout],
        movable: Iterable[str],
        demands: Demands,
        splits: Iterable[Split] = (),
        replaces: Mapping[str, str] | None = None,
        spots: Iterable[Spot] = (),
    ) -> None:
        names, others = tuple(dict.fromkeys(movable)), tuple(dict.fromkeys(spots))
        every = (*((name, "standing") for name in names), *others)
        self.layouts = held(layouts, every, splits)
        self.settings = tuple(
            Setting(
                shop, layout, [n for n in names if shop.has(n)], demands,
                [spot for spot in movable_spots(shop, layout) if spot in others],
            )
            for shop, layout in zip(shops, self.layouts, strict=True)
        )  # fmt: skip
        members = tuple(_members(self.settings, every, frozenset(splits)))
        self.members = _after(members, replaces or {})
        self.at = [
            [_index(setting, m, number) for m in self.members]
            for number, setting in enumerate(self.settings)
        ]
        """For each stage the index of each member among its things, -1 where it is not there."""
        self.order = [_inverse(row) for row in self.at]

    # --- the problem -----------------------------------------------------------------------

    @cached_property
    def problem(self) -> Problem:
        """Items, fixed pieces, and the conflict of their classes within a common stage."""
        labels: list[Label] = []
        masks: list[int] = []
        known: dict[Hashable, int] = {}

        def numbered(shape: Shape) -> int:
            key = (_key(shape.label), shape.stages)
            if key not in known:
                known[key] = len(labels)
                labels.append(shape.label)
                masks.append(shape.stages)
            return known[key]

        items = tuple(self._item(i, member, numbered) for i, member in enumerate(self.members))
        fixed = tuple(
            _labelled(shape.pieces[0], numbered(shape))
            for shape in _merged(
                (1 << number, setting.labels, [(p,) for p in setting.problem.fixed])
                for number, setting in enumerate(self.settings)
            )
        )
        bounds = self.settings[0].problem.bounds
        return Problem(
            items,
            fixed,
            lambda a, b: bool(masks[a] & masks[b]) and conflict(labels[a], labels[b]),
            bounds,
        )

    def _item(self, number: int, member: Member, numbered) -> Item:  # type: ignore[no-untyped-def]
        sources = []
        first: Item | None = None
        for stage in member.stages:
            setting = self.settings[stage]
            item = setting.problem.items[self.at[stage][number]]
            first = first or item
            rows = list(zip(*item.pieces, strict=True))
            sources.append((1 << stage, setting.labels, rows))
        assert first is not None
        shapes = list(_merged(sources))
        labels = [numbered(shape) for shape in shapes]
        per_turn = tuple(
            tuple(
                _labelled(shape.pieces[turn], label)
                for shape, label in zip(shapes, labels, strict=True)
            )
            for turn in range(len(first.turns))
        )
        return Item(member.thing, first.turns, per_turn, first.within)

    # --- states ----------------------------------------------------------------------------

    def part(self, state: State, stage: int) -> State:
        """The state of one stage, for its own setting."""
        order = self.order[stage]
        return State(state.turn[order], state.xy[order], state.placed[order])

    def parts(self, states: States, stage: int) -> States:
        """The states of one stage, for its own setting."""
        order = self.order[stage]
        return States(states.turn[:, order], states.xy[:, order], states.placed[order])

    def state(self, layouts: Sequence[Layout]) -> State:
        """Layouts of all stages as one state: each member where it stands at its first stage."""
        state = State.empty(len(self.members))
        parts = [s.state(layout) for s, layout in zip(self.settings, layouts, strict=True)]
        for i, member in enumerate(self.members):
            stage = member.stages[0]
            k = self.at[stage][i]
            if parts[stage].placed[k]:
                state.put(i, int(parts[stage].turn[k]), parts[stage].xy[k])
        return state

    def layouts_of(self, state: State, *, rounded: bool) -> tuple[Layout, ...]:
        """A state as one layout a stage."""
        return tuple(
            setting.layout_of(self.part(state, number), rounded=rounded)
            for number, setting in enumerate(self.settings)
        )


def _members(
    settings: Sequence[Setting], spots: Sequence[Spot], splits: frozenset[Split]
) -> Iterator[Member]:
    count = 0
    for spot in spots:
        run: list[int] = []
        before: int | None = None
        for stage in (i for i, setting in enumerate(settings) if spot in setting.spots):
            if run and (spot[0], stage) in splits:
                yield Member(*spot, tuple(run), before)
                before, run = count, []
                count += 1
            run.append(stage)
        if run:
            yield Member(*spot, tuple(run), before)
            count += 1


def _after(members: tuple[Member, ...], replaces: Mapping[str, str]) -> tuple[Member, ...]:
    """Members that know in whose place they come: the last one of the thing they replace."""
    last = {m.thing: i for i, m in enumerate(members) if m.place == "standing"}
    return tuple(
        replace(m, forerunner=last.get(replaces[m.thing]))
        if m.before is None and m.thing in replaces and m.place == "standing"
        else m
        for m in members
    )


def _index(setting: Setting, member: Member, stage: int) -> int:
    if stage not in member.stages:
        return -1
    return setting.spots.index((member.thing, member.place))


def _inverse(row: Sequence[int]) -> NDArray[np.intp]:
    """For each thing of a stage the member that it is."""
    there = [(i, member) for member, i in enumerate(row) if i >= 0]
    return np.array([member for _, member in sorted(there)], dtype=np.intp)


# --- merging pieces ------------------------------------------------------------------------


def _key(label: Label) -> Hashable:
    """What decides about the conflicts of a class of pieces."""
    e = label.element
    return (
        label.limit_of, label.gap_of, e.owner, e.name, e.nature, e.presence, e.purpose,
        e.advised, e.even_while_working, e.blocks_feed, e.two_people, e.building,
    )  # fmt: skip


def _merged(
    sources: Iterable[tuple[int, Sequence[Label], Sequence[tuple[Piece, ...]]]],
) -> Iterator[Shape]:
    """Shapes of several stages, those that are the same in every turn taken together."""
    found: dict[Hashable, Shape] = {}
    for bit, labels, rows in sources:
        seen: dict[Hashable, int] = {}
        for row in rows:
            label = labels[row[0].label]
            same: Hashable = (
                _key(label), *((p.bottom, p.top, p.outline.tobytes()) for p in row)
            )  # fmt: skip
            # the same shape twice in one stage stays two shapes
            seen[same] = seen.get(same, 0) + 1
            key = (same, seen[same])
            old = found.get(key)
            stages = bit | (0 if old is None else old.stages)
            found[key] = Shape(label, row, stages)
    yield from found.values()


def _labelled(piece: Piece, label: int) -> Piece:
    return Piece(piece.outline, piece.bottom, piece.top, label)
