"""The smallest change that makes a failing shop pass.

Changes are tried in the order in which an owner would: feet, the sheet, what opens, cutting flat,
a short shift, a turn, a longer shift, a smaller size, and last the machine with a blade; one thing
first, then two, then as many as there are separate troubles.  Whatever is offered has been through
every check.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from heapq import merge
from itertools import islice

from floorplan.checks import rolling
from floorplan.checks.finding import Finding
from floorplan.checks.judge import Judgement, judge
from floorplan.search.change import Change, Draft, Step
from floorplan.search.concerned import common, hard, movers, pairs
from floorplan.search.few_moves import moved_step
from floorplan.search.hopeless import hopeless, named_together
from floorplan.search.known import Known
from floorplan.search.screening import in_full
from floorplan.search.shift import cuts_of
from floorplan.search.steps import same
from floorplan.search.unmet import Clash, Key, OutOfPatience, key_of, smallest_clash
from floorplan.shop.reader import ShopFile

MOST = 5
RETRIES = 4
"""How often the nearest place is taken again after the judge asked for more."""
FEW = 3
"""Changes of a first thing that are followed up with a second."""
MOST_THINGS = 6
"""Things that are changed together at most."""
PATIENCE = 16
"""Layouts judged at most for two things, and again for more of them."""
PATIENCE_OF_ONE = 48
"""The same for changes of one thing."""
WORK = 400
"""Free regions and trials among a few things on the way to a change at most."""
CLASH_PATIENCE = 48
"""Layouts judged to find out what clashes at most."""
CLASH_WORK = 1200
"""The same for what clashes, in free regions and trials."""
TRIES = 160
"""Steps looked at on the way to a change of many things at most."""


@dataclass(frozen=True, slots=True, eq=False)
class Fixes:
    """What would put a shop right."""

    today: Judgement
    changes: tuple[Change, ...]
    """Smallest first; empty when nothing is wrong, or nothing was found."""
    clash: Clash | None
    """When nothing was found: rules that no change of one or two things meets together, and how
    dropping each of them frees the rest."""
    stopped_after: int = 0
    """Layouts judged when the bound on the work was reached; 0 where all was looked at."""


def fix(file: ShopFile, *, most: int = MOST, known: Known | None = None) -> Fixes:
    """The smallest changes after which a shop passes, at most `most` of them, smallest first.

    `known` may ask more of a change than that the shop passes.
    """
    today = judge(file.shop, file.layout)
    if not today.failing:
        return Fixes(today, (), None)
    known = known or Known(file)
    known.expect(today.failing)
    start = Draft(file.shop, file.layout)
    tried: set[frozenset[str]] = set()
    for found in hopeless(file, start, today.failing):
        few, alone = named_together(start, found)
        if few not in tried:
            tried.add(few)
            apart = Known(file, few)
            clash = _clash(apart, alone, apart.judge(alone))
            if clash is not None:
                return Fixes(today, (), replace(clash, alone=True))
    changes = _shown(Fixer(known).changes(start, today, most)) or known.fewest(start, today)
    stopped = known.layouts if known.cut_short else 0
    return Fixes(today, changes, None if changes else _clash(known, start, today), stopped)


def _shown(changes: tuple[Change, ...]) -> tuple[Change, ...]:
    """The changes, the first of them with all that is measured, for that one is drawn."""
    for number, change in enumerate(changes):
        made = in_full(change.verified)
        if made.verdict == "passes":
            return replace(change, verified=made), *changes[number + 1 :]
    return ()


def _clash(known: Known, start: Draft, today: Judgement) -> Clash | None:
    """The smallest set of findings that nothing tried clears together."""
    patience = Patience(known, CLASH_PATIENCE, CLASH_WORK)

    def frees(dropped: frozenset[Key]) -> str | None:
        """How it passes when some findings do not count, None when nothing was found."""
        if all(key_of(f) in dropped for f in today.failing):
            return "then nothing else is wrong"
        if patience.is_over:
            raise OutOfPatience
        found = Fixer(known, dropped).changes(start, today, 1)
        return found[0].text if found else None

    return None if frees(frozenset()) else smallest_clash(today.failing, frees)


class Patience:
    """A share of work, counted: so much more and no further."""

    def __init__(self, known: Known, judged: int, worked: int) -> None:
        self.known = known
        self.judged = known.judged + judged
        self.worked = known.worked + worked

    @property
    def is_over(self) -> bool:
        """Whether all of it is spent; who asks stops there, and that is kept in mind."""
        over = self.known.judged >= self.judged or self.known.worked >= self.worked
        self.known.cut_short |= over
        return over


class Fixer:
    """One search; findings in `dropped` do not count."""

    def __init__(self, known: Known, dropped: frozenset[Key] = frozenset()) -> None:
        self.known = known
        self.dropped = dropped
        self.tries = 0

    def changes(self, start: Draft, today: Judgement, most: int) -> tuple[Change, ...]:
        """Verified changes of as few things as possible."""
        failing = self._counting(today)
        found = self._one(start, today, failing, most)
        if not found and not self.dropped and not hard(failing):
            # what only the whole floor can put right has no second thing that is named
            found = [c for c in self.known.fewest(start, today) if len(c.steps) == 1]
        if not found:
            found = self._two(start, today, failing, most)
        if not found and not self.dropped and len(hard(failing)) > 1:
            found = self._many(start, today, failing)
        found = [_moved_once(start, change) for change in found]
        return tuple(sorted(found, key=lambda change: change.order)[:most])

    def _counting(self, judgement: Judgement) -> list[Finding]:
        return [f for f in judgement.failing if key_of(f) not in self.dropped]

    # --- verifying -------------------------------------------------------------------------

    def _verified(self, step: Step | None) -> tuple[Step, Judgement] | None:
        """A step after which everything passes: this one, or the next that the judge asks for."""
        for _ in range(RETRIES):
            if step is None:
                return None
            made = self.known.judge(step.draft, self.dropped, step.thing)
            failing = self._counting(made)
            if not failing and step.is_still:
                return None
            if not failing and (step.kind != "cut flat" or _lies_flat(made)):
                made = self.known.sure(made)
                failing = self._counting(made)
                if not failing:
                    return step, made
            if step.again is None or step.probe is None or _hopeless(step, failing):
                return None
            if any(f.check == rolling.CHECK for f in failing):
                return None  # it tells no slope to follow
            probed = self._counting(self.known.judge(step.probe, self.dropped, step.thing))
            pose = step.draft.layout.pose(step.thing)
            cuts = None if pose is None else cuts_of(probed, pose)
            step = step.again(cuts) if cuts else None
        return None

    # --- steps of one thing ----------------------------------------------------------------

    def _steps(
        self,
        draft: Draft,
        name: str,
        judgement: Judgement,
        failing: Sequence[Finding],
        lifted: Sequence[str] = (),
    ) -> Iterator[Step]:
        """Changes of one thing or door that clear its own troubles, as an owner would try them."""
        about = [f for f in failing if name in f.about]
        for step in self.known.steps(draft, name, judgement, about, lifted):
            left = self.known.among(step, about, lifted)
            if all(key_of(found) in self.dropped for found in left):
                yield step

    def _may_do(self, draft: Draft, failing: Sequence[Finding], *names: str) -> bool:
        """Whether the ways that fail may pass once these things are elsewhere."""
        return self.known.clears(draft, frozenset(names), failing)

    def _is_shut_without(self, draft: Draft, name: str) -> bool:
        """Whether a way fails wherever this thing stands."""
        if not draft.shop.has(name) or self.known.only is not None:
            return False
        return not self.known.walks_without(draft, frozenset({name})) <= self.dropped

    # --- one thing -------------------------------------------------------------------------

    def _one(
        self, draft: Draft, judgement: Judgement, failing: Sequence[Finding], most: int
    ) -> list[Change]:
        names = [n for n in common(draft, failing) if self._may_do(draft, failing, n)]
        ordered = merge(
            *(self._steps(draft, name, judgement, failing) for name in names),
            key=lambda step: step.order,
        )
        found: list[Change] = []
        patience = Patience(self.known, PATIENCE_OF_ONE, WORK)
        for step in ordered:
            if patience.is_over:
                break
            if step.kind == "size" and any(same(c.steps[0], step) for c in found):
                continue
            done = self._verified(step)
            if done is not None and not any(same(c.steps[0], done[0]) for c in found):
                found.append(Change((done[0],), done[1]))
            if len(found) >= most:
                break
        return found

    # --- two things ------------------------------------------------------------------------

    def _two(
        self, draft: Draft, judgement: Judgement, failing: Sequence[Finding], most: int
    ) -> list[Change]:
        found: list[Change] = []
        patience = Patience(self.known, PATIENCE, WORK)
        for first, second in pairs(draft, failing):
            if not self._may_do(draft, failing, first, second):
                continue
            for lifted in ((), (second,)):
                if len(found) >= most or patience.is_over:
                    return found
                change = self._after(draft, judgement, failing, first, second, lifted)
                if change is not None:
                    if not any(_alike(change, other) for other in found):
                        found.append(change)
                    break
        return found

    def _after(
        self,
        draft: Draft,
        judgement: Judgement,
        failing: Sequence[Finding],
        first: str,
        second: str,
        lifted: Sequence[str],
    ) -> Change | None:
        """A change of the first thing and then the least of the second that makes all pass."""
        for step in islice(self._steps(draft, first, judgement, failing, lifted), FEW):
            if step.is_still:
                continue
            if self._is_shut_without(step.draft, second):
                continue
            rest = [f for f in failing if first not in f.about]
            then = self._steps(step.draft, second, judgement, rest or failing)
            for last in islice(then, FEW):
                done = self._verified(last)
                if done is not None:
                    return Change((step, done[0]), done[1])
        return None

    # --- as many as there are troubles --------------------------------------------------------

    def _many(self, draft: Draft, judgement: Judgement, failing: Sequence[Finding]) -> list[Change]:
        """One separate trouble after the other, each with its least change."""
        patience = Patience(self.known, PATIENCE, WORK)
        self.tries = 0
        for steps in self._sequences(draft, judgement, hard(failing), ()):
            made = self.known.judge(steps[-1].draft)
            if not self._counting(made):
                made = self.known.sure(made)
                if not self._counting(made):
                    return [Change(steps, made)]
            if patience.is_over:
                break
            rest = self._counting(made)
            if len(steps) < MOST_THINGS and not hard(rest):
                made = self.known.measured(made)
                last = self._one(steps[-1].draft, made, self._counting(made), 1)
                if last:
                    return [Change((*steps, *last[0].steps), last[0].verified)]
        return []

    def _sequences(
        self,
        draft: Draft,
        judgement: Judgement,
        failing: Sequence[Finding],
        done: tuple[Step, ...],
    ) -> Iterator[tuple[Step, ...]]:
        """Ways to clear all failing pairs, one thing at a time."""
        if not failing:
            yield done
            return
        if len(done) >= MOST_THINGS or self.tries > TRIES:
            self.known.cut_short |= self.tries > TRIES
            return
        touched = {step.thing for step in done}
        options = [
            (name, [f for f in failing if name in f.about])
            for name in movers(draft, failing)
            if name not in touched
        ]
        # what is named most often first: it is likely the one that stands wrong
        options.sort(key=lambda row: -len(row[1]))
        for name, about in options[:2]:
            rest = [f for f in failing if name not in f.about]
            later = {n for f in rest for n in movers(draft, [f])} - touched - {name}
            for lifted in dict.fromkeys(((), tuple(sorted(later)))):
                for step in islice(self._steps(draft, name, judgement, about, lifted), 2):
                    self.tries += 1
                    yield from self._sequences(step.draft, judgement, rest, (*done, step))


def _moved_once(start: Draft, change: Change) -> Change:
    """The change with each thing that was moved twice on the way told as moved once."""
    names = [step.thing for step in change.steps]
    steps: list[Step] = []
    for step in change.steps:
        own = [other for other in change.steps if other.thing == step.thing]
        old, new = (at.layout.pose(step.thing) for at in (start, own[-1].draft))
        moved = {other.kind for other in own} <= {"shift", "turn"}
        if len(own) == 1 or not moved or old is None or new is None:
            steps.append(step)
        elif step is own[-1]:
            steps.append(moved_step(step.draft, step.thing, "standing", old, new))
    return change if len(steps) == len(names) else Change(tuple(steps), change.verified)


def _alike(one: Change, other: Change) -> bool:
    """Whether two changes are the same steps in another order."""
    return {step.text for step in one.steps} == {step.text for step in other.steps}


def _lies_flat(made: Judgement) -> bool:
    """Whether there is room to cut flat, though the rule about it only advises."""
    return all(f.verdict == "passes" for f in made.findings if f.check == "break-down")


def _hopeless(step: Step, failing: Sequence[Finding]) -> bool:
    """Whether something fails that no place of this thing can mend."""
    return any(step.thing not in f.about for f in hard(failing))
