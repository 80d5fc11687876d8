"""The smallest change that makes a failing shop pass.

Changes are tried in the order in which an owner would: feet, the sheet, what opens, cutting flat,
a short shift, a turn, a longer shift, a smaller size, and last the machine with a blade; one thing
first, then two, then as many as there are separate troubles.  Whatever is offered has been through
every check.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from heapq import merge
from itertools import islice

from floorplan.checks.finding import Finding
from floorplan.checks.judge import CHECKS, Judgement, judge
from floorplan.search.change import SHORT_SHIFT, Change, Draft, Step
from floorplan.search.rehang import openings, room_door
from floorplan.search.resize import smaller
from floorplan.search.rework import cut_flat, feet, sheet
from floorplan.search.shift import Moves, cuts_of
from floorplan.search.unmet import Clash, Key, OutOfPatience, key_of, smallest_clash
from floorplan.shop.model import Layout, Shop
from floorplan.shop.reader import ShopFile
from floorplan.shop.scene import Scene, scene
from floorplan.units import TOLERANCE

GROUND = frozenset({"way-out", "walking", "break-down", "open-floor"})
"""Checks of the whole floor: many things can put them right, not only those they name."""
MOST = 5
RETRIES = 4
"""How often the nearest place is taken again after the judge asked for more."""
FEW = 3
"""Changes of a first thing that are followed up with a second."""
MOST_THINGS = 6
"""Things that are changed together at most."""
PATIENCE = 16
"""Layouts judged at most for two things, and again for more of them."""
CLASH_PATIENCE = 48
"""Layouts judged to find out what clashes at most."""
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


def fix(file: ShopFile, *, most: int = MOST) -> Fixes:
    """The smallest changes after which a shop passes, at most `most` of them, smallest first."""
    today = judge(file.shop, file.layout)
    if not today.failing:
        return Fixes(today, (), None)
    start = Draft(file.shop, file.layout)
    changes = Fixer(file).changes(start, today, most)
    if changes:
        return Fixes(today, changes, None)

    spent = 0

    def frees(dropped: frozenset[Key]) -> str | None:
        """How it passes when some findings do not count, None when nothing was found."""
        nonlocal spent
        if all(key_of(f) in dropped for f in today.failing):
            return "then it passes as it stands"
        if spent > CLASH_PATIENCE:
            raise OutOfPatience
        fixer = Fixer(file, dropped)
        found = fixer.changes(start, today, 1)
        spent += fixer.judged
        return found[0].text if found else None

    return Fixes(today, (), smallest_clash(today.failing, frees))


class Fixer:
    """One search; findings in `dropped` do not count."""

    def __init__(self, file: ShopFile, dropped: frozenset[Key] = frozenset()) -> None:
        self.file = file
        self.dropped = dropped
        self.judged = 0
        self.tries = 0

    def changes(self, start: Draft, today: Judgement, most: int) -> tuple[Change, ...]:
        """Verified changes of as few things as possible."""
        failing = self._counting(today)
        found = self._one(start, today, failing, most)
        if not found:
            found = self._two(start, today, failing, most)
        if not found and not self.dropped and len(_hard(failing)) > 1:
            found = self._many(start, today, failing)
        return tuple(sorted(found, key=lambda change: change.order)[:most])

    def _counting(self, judgement: Judgement) -> list[Finding]:
        return [f for f in judgement.failing if key_of(f) not in self.dropped]

    # --- verifying -------------------------------------------------------------------------

    def _judge(self, draft: Draft) -> Judgement:
        self.judged += 1
        return judge(draft.shop, draft.layout)

    def _verified(self, step: Step | None) -> tuple[Step, Judgement] | None:
        """A step after which everything passes: this one, or the next that the judge asks for."""
        for _ in range(RETRIES):
            if step is None:
                return None
            made = self._judge(step.draft)
            failing = self._counting(made)
            if not failing and (step.kind != "cut flat" or _lies_flat(made)):
                return step, made
            if step.again is None or step.probe is None or _hopeless(step, failing):
                return None
            probed = self._counting(self._judge(step.probe))
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
        for step in _in_turn(self.file, draft, name, judgement.scene, about, lifted):
            if clears(step, about, lifted, self.dropped):
                yield step

    # --- one thing -------------------------------------------------------------------------

    def _one(
        self, draft: Draft, judgement: Judgement, failing: Sequence[Finding], most: int
    ) -> list[Change]:
        ordered = merge(
            *(self._steps(draft, name, judgement, failing) for name in _common(draft, failing)),
            key=lambda step: step.order,
        )
        found: list[Change] = []
        for step in ordered:
            if step.kind == "size" and any(_same(c.steps[0], step) for c in found):
                continue
            done = self._verified(step)
            if done is not None and not any(_same(c.steps[0], done[0]) for c in found):
                found.append(Change((done[0],), done[1]))
            if len(found) >= most:
                break
        return found

    # --- two things ------------------------------------------------------------------------

    def _two(
        self, draft: Draft, judgement: Judgement, failing: Sequence[Finding], most: int
    ) -> list[Change]:
        found: list[Change] = []
        budget = self.judged + PATIENCE
        for first, second in _pairs(draft, failing):
            for lifted in ((), (second,)):
                if len(found) >= most or self.judged >= budget:
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
        budget = self.judged + PATIENCE
        self.tries = 0
        for steps in self._sequences(draft, judgement, _hard(failing), ()):
            made = self._judge(steps[-1].draft)
            if not self._counting(made):
                return [Change(steps, made)]
            if self.judged > budget:
                break
            rest = self._counting(made)
            if len(steps) < MOST_THINGS and not _hard(rest):
                last = self._one(steps[-1].draft, made, rest, 1)
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
            return
        touched = {step.thing for step in done}
        options = [
            (name, [f for f in failing if name in f.about])
            for name in _movers(draft, failing)
            if name not in touched
        ]
        # what is named most often first: it is likely the one that stands wrong
        options.sort(key=lambda row: -len(row[1]))
        for name, about in options[:2]:
            rest = [f for f in failing if name not in f.about]
            later = {n for f in rest for n in _movers(draft, [f])} - touched - {name}
            for lifted in dict.fromkeys(((), tuple(sorted(later)))):
                for step in islice(self._steps(draft, name, judgement, about, lifted), 2):
                    self.tries += 1
                    yield from self._sequences(step.draft, judgement, rest, (*done, step))


def _in_turn(
    file: ShopFile,
    draft: Draft,
    name: str,
    made: Scene,
    about: Sequence[Finding],
    lifted: Sequence[str],
) -> Iterator[Step]:
    """Every change of one thing, worked out only when the easier ones did not do."""
    if not draft.shop.has(name):
        if _is_door(draft, name):
            yield from room_door(draft, name)
        return
    machine = draft.shop.thing(name).cutter is not None
    moves = Moves(draft, name, lifted)
    if not machine:
        yield from feet(draft, name, made, about)
    if any(f.check == "feeding" and f.about[0] == name for f in about):
        yield from sheet(draft, name)
    if any(f.check == "openings" for f in about):
        yield from openings(draft, name)
    if any(f.check == "feeding" and f.about[0] == name for f in about):
        yield from cut_flat(draft, name)
    if machine:
        every = [*feet(draft, name, made, about), *moves.shifts(), *moves.turns()]
        yield from sorted(every, key=lambda step: step.order)
        return
    shifts = moves.shifts()
    yield from (step for step in shifts if step.trouble <= SHORT_SHIFT + TOLERANCE)
    yield from moves.turns()
    yield from (step for step in shifts if step.trouble > SHORT_SHIFT + TOLERANCE)
    yield from smaller(file, draft, name, made, about)


def clears(
    step: Step,
    about: Sequence[Finding],
    lifted: Sequence[str] = (),
    dropped: frozenset[Key] = frozenset(),
) -> bool:
    """Whether nothing of this thing fails among the things concerned alone.

    What fails among a few things fails among all, so this spares the judge hopeless steps.
    """
    shop = step.draft.shop
    names = {step.thing, *(n for f in about for n in f.about)} - set(lifted)
    few = {name for name in names if shop.has(name)}
    layout = Layout({k: p for k, p in step.draft.layout.poses.items() if k[0] in few})
    made = scene(shop, layout, only=few)
    return not any(
        found.verdict != "passes" and step.thing in found.about and counts(shop, found)
        for name, check in CHECKS
        if name not in GROUND
        for found in check(made).findings
        if key_of(found) not in dropped
    )


def counts(shop: Shop, found: Finding) -> bool:
    """Whether a finding is required by the shop's rules as the user set them."""
    rule = shop.rules[found.rule]
    softened = rule.overridden and rule.kind == "advised"
    return found.kind == "required" and not rule.off and not softened


def _is_door(draft: Draft, name: str) -> bool:
    return any(door.name == name for door in draft.shop.doors)


def _hard(failing: Sequence[Finding]) -> list[Finding]:
    """Failing findings that only the things they name can put right."""
    return [f for f in failing if f.check not in GROUND]


def _movers(draft: Draft, failing: Sequence[Finding]) -> list[str]:
    """Things and doors named by findings that may be changed."""
    names = dict.fromkeys(name for f in failing for name in f.about)
    return [
        name
        for name in names
        if _is_door(draft, name) or (draft.shop.has(name) and not draft.shop.thing(name).fixed)
    ]


def _common(draft: Draft, failing: Sequence[Finding]) -> list[str]:
    """What has a part in every failing pair: only that can put all right alone."""
    hard = _hard(failing)
    names = _movers(draft, hard or failing)
    return [name for name in names if all(name in f.about for f in hard)]


def _pairs(draft: Draft, failing: Sequence[Finding]) -> Iterator[tuple[str, str]]:
    """Two things that together have a part in every failing pair."""
    hard = _hard(failing) or list(failing)
    pivot = min(hard, key=lambda f: len(_movers(draft, [f])))
    everything = [
        thing.name
        for thing in draft.shop.things
        if not thing.fixed and thing.freedom.moves and draft.layout.pose(thing.name) is not None
    ]
    for first in _movers(draft, [pivot]):
        rest = [f for f in _hard(failing) if first not in f.about]
        # alone it was not enough: what stands where it could go may have to give way
        named = _common(draft, rest) if rest else _beside(draft, first, everything)
        for second in named:
            if second != first:
                yield first, second
                yield second, first


def _beside(draft: Draft, name: str, names: Sequence[str]) -> list[str]:
    """Things that may move, the nearest first."""
    here = draft.layout.pose(name)
    if here is None:
        return []

    def away(other: str) -> float:
        pose = draft.layout.pose(other)
        assert pose is not None
        return float(abs(pose.x.value - here.x.value) + abs(pose.y.value - here.y.value))

    return sorted((n for n in names if n != name), key=away)[:6]


def _same(old: Step, new: Step) -> bool:
    """Whether two changes of a thing do about the same: its shift, or its size, or that turn."""
    if (old.thing, old.kind) != (new.thing, new.kind):
        return False
    if old.kind in ("shift", "size", "feet"):
        return True
    before, after = old.draft.layout.pose(old.thing), new.draft.layout.pose(new.thing)
    if old.kind == "turn" and before is not None and after is not None:
        return before.turn == after.turn
    return old.text == new.text


def _alike(one: Change, other: Change) -> bool:
    """Whether two changes are the same steps in another order."""
    return {step.text for step in one.steps} == {step.text for step in other.steps}


def _lies_flat(made: Judgement) -> bool:
    """Whether there is room to cut flat, though the rule about it only advises."""
    return all(f.verdict == "passes" for f in made.findings if f.check == "break-down")


def _hopeless(step: Step, failing: Sequence[Finding]) -> bool:
    """Whether something fails that no place of this thing can mend."""
    return any(step.thing not in f.about for f in _hard(failing))
