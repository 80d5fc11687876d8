"""What one search for changes has worked out already, so that nothing is worked out twice.

A clash is found by asking the same shop again and again with other findings left out: free regions,
trials among a few things and judgements of whole layouts stay the same all along.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import replace
from typing import Generic, TypeVar

from floorplan.checks import carrying, rolling, way_out
from floorplan.checks.duct_finding import with_found_runs
from floorplan.checks.finding import Answer, Finding
from floorplan.checks.judge import Judgement, judge_scene
from floorplan.search.change import Change, Draft, Step
from floorplan.search.concerned import GROUND, hard
from floorplan.search.few_moves import few_moves
from floorplan.search.screening import Rows, also, certified, demanding
from floorplan.search.shift import Moves
from floorplan.search.steps import among, costly, in_turn, named_by
from floorplan.search.unmet import Key, key_of
from floorplan.shop.model import Carry, Shop, Task
from floorplan.shop.reader import ShopFile
from floorplan.shop.scene import Scene, scene

Made = TypeVar("Made")

ROLLED = 2
"""Rolls take so many times as long as all that stands; counted with the layouts judged."""
WALKS = ((way_out.CHECK, way_out.demanded),)
WAY_CHECKS = frozenset({way_out.CHECK, carrying.CHECK, rolling.CHECK})
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
        self.layouts = 0
        """Layouts put to the checks."""
        self.cut_short = False
        """Whether a search stopped because its share of work was spent."""
        self._kept: list[object] = []
        self._moves: dict[tuple[int, str, tuple[str, ...]], Moves] = {}
        self._steps: dict[tuple[int, str, tuple[str, ...], tuple[int, ...]], Once[Step]] = {}
        self._among: dict[tuple[int, frozenset[str], bool], Once[Finding]] = {}
        self._judged: dict[int, Judgement] = {}
        self._whole: dict[int, Judgement] = {}
        self._rolls: dict[int, Once[Finding]] = {}
        self._fewest: dict[int, tuple[Change, ...]] = {}
        self._was_stuck: set[str] = set()
        self._walks: dict[tuple[int, frozenset[str]], frozenset[Key]] = {}
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

    def judge(
        self, draft: Draft, dropped: frozenset[Key] = frozenset(), mending: str | None = None
    ) -> Judgement:
        """What is required of a draft as far as all passes but what is dropped, ways last.

        Where something fails that no place of the thing that is `mending` can mend, or with none
        anything at all but ways, no ways are asked.  Nothing is measured that surely passes, nor
        by how much something rolls too wide.
        """
        if id(draft) not in self._judged:
            self._kept.append(draft)
            self.judged += 1
            self.layouts += 1
            self._judged[id(draft)] = self._beside_ways(draft)
        made = self._judged[id(draft)]
        if self.only is not None:
            return made
        hopeless = (mending is None or mending not in f.about for f in hard(made.failing)
                    if key_of(f) not in dropped)  # fmt: skip
        if any(hopeless):
            return made
        if id(draft) not in self._whole:
            self._whole[id(draft)] = also(made, _of_ground(demanding(draft.shop)))
        made = self._whole[id(draft)]
        for way in (self._rolled, self._carried):
            if any(key_of(f) not in dropped for f in made.failing):
                break
            made = also(made, way(draft, dropped))
        return made

    def expect(self, failing: Sequence[Finding]) -> None:
        """What does not roll today is asked first of every other layout."""
        stuck = {f.task for f in failing if f.check == rolling.CHECK and f.verdict == "fails"}
        self._was_stuck.update(name for name in stuck if name is not None)

    def fewest(self, draft: Draft, today: Judgement) -> tuple[Change, ...]:
        """The layout that moves the fewest things, told as a change where one was found."""
        if id(draft) not in self._fewest:
            self._kept.append(draft)
            self._fewest[id(draft)], to_its_end = few_moves(draft, today)
            self.cut_short |= not to_its_end
        return self._fewest[id(draft)]

    def measured(self, made: Judgement) -> Judgement:
        """The judgement with how much what does not roll is too wide."""
        if all(f.check != rolling.CHECK for f in made.failing):
            return made
        others = tuple(f for f in made.findings if f.check != rolling.CHECK)
        return also(replace(made, findings=others), ((rolling.CHECK, rolling.doubtful),))

    def sure(self, made: Judgement) -> Judgement:
        """What passes, with the runs of duct found that are to be found."""
        if with_found_runs(made.shop, made.layout) is made.shop:
            return made
        return certified(made)

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
            self.worked += 1
            self._clears[key] = wanted.isdisjoint(self.walks_without(draft, gone)) and not any(
                key_of(f) in wanted for f in self._ways_without(draft, gone, wanted)
            )
        return self._clears[key]

    def walks_without(self, draft: Draft, gone: frozenset[str]) -> frozenset[Key]:
        """Ways of people that fail with things gone, and so wherever these stand."""
        key = (id(draft), gone)
        if key not in self._walks:
            self._kept.append(draft)
            made = judge_scene(_without(draft, gone), WALKS)
            self._walks[key] = frozenset(key_of(f) for f in made.failing)
        return self._walks[key]

    def _ways_without(
        self, draft: Draft, gone: frozenset[str], wanted: set[Key]
    ) -> Iterator[Finding]:
        made = _without(draft, gone)
        carries = {key for key in wanted if key[0] == carrying.CHECK}
        others = frozenset(self._carry_keys(draft.shop)) - carries
        yield from judge_scene(made, _carried(self._carries(draft.shop, others))).failing
        for task in draft.shop.tasks:
            if any(key[0] == rolling.CHECK and key[3] == task.name for key in wanted):
                yield from judge_scene(made, _rolled(task)).failing

    # --- the costly checks -----------------------------------------------------------------

    def _beside_ways(self, draft: Draft) -> Judgement:
        """Everything that is required but what asks the whole floor."""
        rows = demanding(draft.shop)
        made = scene(draft.shop, draft.layout, only=None if self.only is None else set(self.only))
        if self.only is not None:
            rows = (*rows, (carrying.CHECK, carrying.check))
        return judge_scene(made, tuple(row for row in rows if row[0] not in GROUND))

    def _rolled(self, draft: Draft, dropped: frozenset[Key]) -> Rows:
        """Rolls up to the first that does not pass and counts."""
        if id(draft) not in self._rolls:
            self.judged += ROLLED
            self._rolls[id(draft)] = Once(self._stuck(draft))
        return ((rolling.CHECK, lambda _: Answer(self._until(self._rolls[id(draft)], dropped))),)

    def _until(self, found: Once[Finding], dropped: frozenset[Key]) -> tuple[Finding, ...]:
        out: list[Finding] = []
        for one in found:
            out.append(one)
            if key_of(one) not in dropped:
                break
        return tuple(out)

    def _stuck(self, draft: Draft) -> Iterator[Finding]:
        """What does not roll, asked first what was shut the last time and seems to be again."""
        made = self._judged[id(draft)].scene
        tasks = sorted(draft.shop.tasks, key=lambda task: task.name not in self._was_stuck)
        told: set[Key] = set()
        for row in (rolling.shut, rolling.stuck):
            for task in tasks:
                if row is rolling.shut and task.name not in self._was_stuck:
                    continue
                failing = judge_scene(made, _rolled(task, row)).failing
                if any(f.verdict == "fails" for f in failing):
                    self._was_stuck.add(task.name)
                yield from (f for f in failing if key_of(f) not in told)
                told.update(map(key_of, failing))

    def _carried(self, draft: Draft, dropped: frozenset[Key]) -> Rows:
        return _carried(self._carries(draft.shop, dropped))

    def _carries(self, shop: Shop, dropped: frozenset[Key]) -> frozenset[Carry]:
        keys = self._carry_keys(shop)
        return frozenset(wanted for key, wanted in keys.items() if key in dropped)

    def _carry_keys(self, shop: Shop) -> dict[Key, Carry]:
        """What is carried, by the key of the finding about its way."""
        return {
            (carrying.CHECK, carrying.RULE, (wanted.piece,), wanted.task, wanted.line): wanted
            for _, wanted in shop.carries()
        }


def _without(draft: Draft, gone: frozenset[str]) -> Scene:
    layout = draft.layout
    for name in sorted(gone):
        layout = layout.without(name)
    return scene(draft.shop, layout)


def _rolled(task: Task, asked: Callable[[Scene, Task], Answer] = rolling.stuck) -> Rows:
    return ((rolling.CHECK, lambda made: asked(made, task)),)


def _carried(spared: frozenset[Carry]) -> Rows:
    return ((carrying.CHECK, lambda made: carrying.doubtful(made, spared)),)


def _of_ground(rows: Rows) -> Rows:
    return tuple(row for row in rows if row[0] in GROUND)
