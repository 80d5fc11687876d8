"""What one search for changes has worked out already, so that nothing is worked out twice.

A clash is found by asking the same shop again and again with other findings left out: free regions,
trials among a few things and judgements of whole layouts stay the same all along.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from functools import partial
from typing import Generic, TypeVar

from floorplan.checks import carrying, rolling, way_out
from floorplan.checks.finding import Finding, overall, worst_first
from floorplan.checks.judge import CHECKS, Judgement, judge_scene
from floorplan.search.change import Draft, Step
from floorplan.search.concerned import GROUND
from floorplan.search.screening import STANDING, in_full
from floorplan.search.shift import Moves
from floorplan.search.steps import among, costly, in_turn, named_by
from floorplan.search.unmet import Key, key_of
from floorplan.shop.model import Carry, Shop
from floorplan.shop.reader import ShopFile
from floorplan.shop.scene import Scene, scene

Made = TypeVar("Made")

ROLLED = 2
"""Rolls take so many times as long as all that stands; counted with the layouts judged."""
WALKS = ((way_out.CHECK, way_out.check),)
WAY_CHECKS = frozenset({way_out.CHECK, carrying.CHECK})
"""Checks whose findings cannot fail for want of a thing that is taken away."""


class Once(Generic[Made]):
    """What is made one by one, only as far as somebody asks, and only once."""

    def __init__(self, source: Iterator[Made]) -> None:
        self._source = source
        self._made: list[Made] = []

    def __iter__(self) -> Iterator[Made]:
        at = 0
        while True:
            if at == len(self._made):
                try:
                    self._made.append(next(self._source))
                except StopIteration:
                    return
            yield self._made[at]
            at += 1


class Known:
    """Answers by the drafts and steps that they are about; all are kept alive as long as this.

    With `only` a few things are looked at, as if everything else were carried out; the checks of
    the whole floor are then left out.
    """

    def __init__(self, file: ShopFile, only: frozenset[str] | None = None) -> None:
        self.file = file
        self.only = only
        self.worked = 0
        """Free regions asked for and trials among a few things, each counted once."""
        self.judged = 0
        """Layouts put through every check, each once and more where something is rolled."""
        self._kept: list[object] = []
        self._moves: dict[tuple[int, str, tuple[str, ...]], Moves] = {}
        self._steps: dict[tuple[int, str, tuple[str, ...], tuple[int, ...]], Once[Step]] = {}
        self._among: dict[tuple[int, frozenset[str], bool], Once[Finding]] = {}
        self._judged: dict[int, Judgement] = {}
        self._rolls: dict[int, Judgement] = {}
        self._clears: dict[tuple[int, frozenset[str], frozenset[Key]], bool] = {}

    def moves(self, draft: Draft, name: str, lifted: Sequence[str]) -> Moves:
        """Shifts and turns of one thing."""
        key = (id(draft), name, tuple(lifted))
        if key not in self._moves:
            self._kept.append(draft)
            self.worked += 1
            self._moves[key] = Moves(draft, name, lifted)
        return self._moves[key]

    def steps(
        self,
        draft: Draft,
        name: str,
        judgement: Judgement,
        about: Sequence[Finding],
        lifted: Sequence[str],
    ) -> Once[Step]:
        """Every change of one thing in the order in which an owner would try them."""
        key = (id(draft), name, tuple(lifted), tuple(id(found) for found in about))
        if key not in self._steps:
            self._kept += [draft, *about]
            self._steps[key] = Once(
                in_turn(
                    self.file, draft, name, judgement.scene, about,
                    lambda: self.moves(draft, name, lifted),
                )
            )  # fmt: skip
        return self._steps[key]

    def among(self, step: Step, about: Sequence[Finding], lifted: Sequence[str]) -> Once[Finding]:
        """What fails of a changed thing among the things concerned alone."""
        few = named_by(step, about, lifted)
        every = costly(about)
        key = (id(step), few, every)
        if key not in self._among:
            self._kept.append(step)
            self.worked += 1
            self._among[key] = Once(among(step, few, every))
        return self._among[key]

    def judge(self, draft: Draft, dropped: frozenset[Key] = frozenset()) -> Judgement:
        """Every check of a draft as far as all passes but what is dropped, the costly ones last.

        Of what is carried or rolled nothing is measured that surely passes.
        """
        if id(draft) not in self._judged:
            self._kept.append(draft)
            self.judged += 1
            self._judged[id(draft)] = self._standing(draft)
        made = self._judged[id(draft)]
        carried = partial(self._carried, dropped=dropped)
        for way in () if self.only is not None else (self._rolled, carried):
            if any(key_of(f) not in dropped for f in made.failing):
                break
            asked = way(draft, made.scene)
            findings = worst_first([*made.findings, *asked.findings])
            made = replace(made, findings=findings, verdict=overall(findings))
        return made

    def in_full(self, draft: Draft) -> Judgement:
        """Every check of a draft with all that is measured."""
        return in_full(self._judged[id(draft)])

    def clears(self, draft: Draft, gone: frozenset[str], failing: Sequence[Finding]) -> bool:
        """Whether what fails of the ways of people, things and pieces may pass with things gone.

        With less standing about nothing of it gets worse, so what fails even then no place of
        these things can mend.
        """
        wanted = {key_of(f) for f in failing if f.check in WAY_CHECKS}
        if not wanted or self.only is not None:
            return True
        key = (id(draft), gone, frozenset(wanted))
        if key not in self._clears:
            self._kept.append(draft)
            self.worked += 1
            self._clears[key] = not wanted & set(self._ways_without(draft, gone, wanted))
        return self._clears[key]

    def _ways_without(self, draft: Draft, gone: frozenset[str], wanted: set[Key]) -> Iterator[Key]:
        layout = draft.layout
        for name in gone:
            layout = layout.without(name)
        made = scene(draft.shop, layout)
        yield from map(key_of, judge_scene(made, WALKS).failing)
        others = frozenset(self._carry_keys(draft.shop)) - wanted
        yield from map(key_of, self._carried(draft, made, dropped=others).failing)

    # --- the costly checks -----------------------------------------------------------------

    def _standing(self, draft: Draft) -> Judgement:
        if self.only is None:
            return judge_scene(scene(draft.shop, draft.layout), STANDING)
        made = scene(draft.shop, draft.layout, only=set(self.only))
        return judge_scene(made, tuple(row for row in CHECKS if row[0] not in GROUND))

    def _rolled(self, draft: Draft, made: Scene) -> Judgement:
        if id(draft) not in self._rolls:
            self.judged += ROLLED
            self._rolls[id(draft)] = judge_scene(made, ((rolling.CHECK, rolling.doubtful),))
        return self._rolls[id(draft)]

    def _carried(self, draft: Draft, made: Scene, *, dropped: frozenset[Key]) -> Judgement:
        keys = self._carry_keys(draft.shop)
        spared = frozenset(wanted for key, wanted in keys.items() if key in dropped)
        return judge_scene(made, ((carrying.CHECK, lambda at: carrying.doubtful(at, spared)),))

    def _carry_keys(self, shop: Shop) -> dict[Key, Carry]:
        """What is carried, by the key of the finding about its way."""
        return {
            (carrying.CHECK, carrying.RULE, (wanted.piece,), wanted.task, wanted.line): wanted
            for _, wanted in shop.carries()
        }
