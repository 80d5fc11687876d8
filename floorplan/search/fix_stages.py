"""The smallest change that makes a plan over years pass, at every stage at once.

A change is looked for at a stage that fails and carried over to all others: what was moved stands
there too, unless the file moves it later anyhow.  Where one stage's change does not do, the next
stage that fails is changed besides.  Whatever is offered has been through every check of every
stage.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field, fields, replace

from floorplan.checks.judge import Judgement, judge
from floorplan.checks.judge_stages import StagedJudgement
from floorplan.search.change import Change, Draft, Step
from floorplan.search.fix import fix
from floorplan.search.known import Known
from floorplan.search.screening import certified, standing
from floorplan.search.unmet import Clash, Key
from floorplan.shop.model import Door, Job, Layout, Pose, Shop, Thing
from floorplan.shop.reader import ShopFile
from floorplan.shop.site import Site
from floorplan.shop.stages import stages_of
from floorplan.units import TOLERANCE

MOST = 5
FOLLOWED = 2
"""Changes of one stage that are followed up at the next that fails."""
OF_THE_STAGE = frozenset({"only_in", "outfeed_of", "within_of", "keep_clears"})
"""Fields of a thing that a stage settles; no change touches them."""


@dataclass(frozen=True, slots=True, eq=False)
class StagedChange:
    """Steps after which every check of every stage passes."""

    steps: tuple[Step, ...]
    verified: StagedJudgement

    @property
    def text(self) -> str:
        """All steps in one sentence."""
        return "; ".join(dict.fromkeys(step.text for step in self.steps))

    @property
    def order(self) -> tuple[int, int, float]:
        """Fewer things first, then what an owner would rather do, then by how much."""
        steps = self.steps
        things = len({step.thing for step in steps})
        return things, max(s.effort for s in steps), sum(s.trouble for s in steps)


@dataclass(frozen=True, slots=True, eq=False)
class StagedFixes:
    """What would put a plan right."""

    today: StagedJudgement
    changes: tuple[StagedChange, ...]
    """Smallest first."""
    clash: Clash | None
    """Rules of one stage that no change tried meets together, where nothing was found."""
    stage: str = ""
    """The stage of the clash."""
    stopped_after: int = 0
    """Layouts judged when the bound on the work of some stage was reached; 0: all was looked at."""


def fix_at_all(file: ShopFile, *, most: int = MOST) -> StagedFixes:
    """The smallest changes after which a shop with stages passes at each of them."""
    stages = [file.at(number) for number in range(len(stages_of(file.shop)))]
    today = _judged(file.shop, [Draft(s.shop, s.layout) for s in stages])
    if today.verdict == "passes":
        return StagedFixes(today, (), None)
    notes = _Notes()
    found: list[StagedChange] = []
    for change in _changes(file, stages, today, (), most, notes):
        if all(change.text != other.text for other in found):
            found.append(change)
    ordered = tuple(sorted(found, key=lambda change: change.order)[:most])
    clash, stage = notes.clashes[0] if notes.clashes and not ordered else (None, "")
    return StagedFixes(today, ordered, clash, stage, notes.stopped_after)


@dataclass(slots=True)
class _Notes:
    """What the searches of single stages leave to be told."""

    clashes: list[tuple[Clash, str]] = field(default_factory=list)
    stopped_after: int = 0
    """Layouts judged by those that stopped at their bound."""


def _changes(
    file: ShopFile,
    stages: list[ShopFile],
    today: StagedJudgement,
    done: tuple[Step, ...],
    most: int,
    notes: _Notes,
) -> Iterator[StagedChange]:
    """Changes of the first stage that fails, and after them those of the next that still does."""
    number = next(i for i, made in enumerate(today.stages) if made.verdict != "passes")
    here = stages[number]
    at_all = KnownAtAll(here, [s for i, s in enumerate(stages) if i != number])
    found = fix(here, most=most, known=at_all)
    notes.stopped_after += found.stopped_after
    tried = [(change, _everywhere(file, stages, number, change)) for change in found.changes]
    holding = [(change, made) for change, made in tried if made and made.verdict == "passes"]
    for change, made in holding:
        yield StagedChange((*done, *change.steps), made)
    if holding:
        return
    if at_all.stopped:
        # what mends this stage alone may leave to others what they can mend themselves
        found = fix(here, most=most)
        notes.stopped_after += found.stopped_after
        tried = [(change, _everywhere(file, stages, number, change)) for change in found.changes]
    if found.clash is not None:
        notes.clashes.append((found.clash, today.plan.stages[number].name))
    later = [
        (c, m) for c, m in tried if m and all(j.verdict == "passes" for j in m.stages[: number + 1])
    ]
    for change, made in later[:FOLLOWED]:
        now = [
            replace(s, shop=m.shop, layout=m.layout)
            for s, m in zip(stages, made.stages, strict=True)
        ]
        yield from _changes(file, now, made, (*done, *change.steps), 1, notes)


def _everywhere(
    file: ShopFile, stages: list[ShopFile], number: int, change: Change
) -> StagedJudgement | None:
    """Every stage with a change of one of them; None where that cannot be said of one."""
    last = change.steps[-1].draft
    drafts = []
    for i, stage in enumerate(stages):
        draft = last if i == number else carried_over(stages[number], last, stage)
        if draft is None:
            return None
        drafts.append(draft)
    return _judged(file.shop, drafts)


def _judged(shop: Shop, drafts: list[Draft]) -> StagedJudgement:
    return StagedJudgement(shop, tuple(judge(d.shop, d.layout) for d in drafts))


class KnownAtAll(Known):
    """What is known of a stage, and whether a change of it holds at the other stages too."""

    def __init__(self, file: ShopFile, others: list[ShopFile]) -> None:
        super().__init__(file)
        self.others = others
        self.stopped = False
        """Whether another stage ruled out what would have passed at this one."""
        self._elsewhere: dict[int, tuple[Judgement, ...]] = {}

    def judge(
        self, draft: Draft, dropped: frozenset[Key] = frozenset(), mending: str | None = None
    ) -> Judgement:
        """As at one stage; where all passes there, what fails at another."""
        made = super().judge(draft, dropped, mending)
        if made.failing:
            return made
        if id(draft) not in self._elsewhere:
            self._elsewhere[id(draft)] = tuple(self._at_others(draft))
        bad = [m for m in self._elsewhere[id(draft)] if m.failing]
        self.stopped |= bool(bad)
        findings = tuple(f for m in bad for f in m.failing)
        return replace(made, findings=(*findings, *made.findings), verdict="fails") if bad else made

    def _at_others(self, draft: Draft) -> Iterator[Judgement]:
        for other in self.others:
            there = carried_over(self.file, draft, other)
            if there is not None:
                self._kept.append(there)
                self.judged += 1
                self.layouts += 1
                yield certified(standing(there.shop, there.layout))


# --- carrying a change over to another stage -------------------------------------------------


def carried_over(before: ShopFile, after: Draft, other: ShopFile) -> Draft | None:
    """Another stage with what was changed at one; None where that cannot be said of it."""
    shop, old = other.shop, before.shop
    for thing in after.shop.things:
        was = old.thing(thing.name)
        if thing is was or not shop.has(thing.name):
            continue
        made = _as_changed(was, thing, shop.thing(thing.name))
        if made is None:
            return None
        shop = shop.with_thing(made)
    shop = replace(
        shop,
        doors=tuple(_door(old, after.shop, door) for door in shop.doors),
        jobs=tuple(_job(old, after.shop, job) for job in shop.jobs),
        site=_site(old, after.shop, shop),
        measurements={**after.shop.measurements, **shop.measurements},
    )
    return Draft(shop, _layout(before.layout, after.layout, other.layout))


def _as_changed(was: Thing, now: Thing, there: Thing) -> Thing | None:
    """The thing of another stage, changed as this one was."""
    changed = {}
    for one in fields(Thing):
        old, new, own = (getattr(thing, one.name) for thing in (was, now, there))
        if new is old or one.name in OF_THE_STAGE:
            continue
        if isinstance(old, tuple) and len(old) != len(own):
            return None  # the stages differ in what belongs to it
        changed[one.name] = new
    return replace(there, **changed)


def _door(old: Shop, new: Shop, there: Door) -> Door:
    before = {door.name: door for door in old.doors}
    after = {door.name: door for door in new.doors}
    name = there.name
    return there if name not in after or after[name] is before.get(name) else after[name]


def _site(old: Shop, new: Shop, there: Shop) -> Site | None:
    """The site with its shed where it was moved to, if it has one there."""
    if new.site is old.site or new.site is None or new.site.shed is None:
        return there.site
    if there.site is None or there.site.shed is None or there.site.shed.place is None:
        return there.site
    return replace(there.site, shed=replace(there.site.shed, place=new.site.shed.place))


def _job(old: Shop, new: Shop, there: Job) -> Job:
    """A job whose pieces are fed otherwise, where it feeds the same machines."""
    before = {job.name: job for job in old.jobs}.get(there.name)
    after = {job.name: job for job in new.jobs}.get(there.name)
    if before is None or after is None or after is before:
        return there
    if [(f.machine, f.line) for f in before.feeds] != [(f.machine, f.line) for f in there.feeds]:
        return there
    return replace(there, feeds=after.feeds, break_downs=after.break_downs)


def _layout(before: Layout, after: Layout, there: Layout) -> Layout:
    poses = dict(there.poses)
    for key, pose in after.poses.items():
        old = before.poses.get(key)
        if key in poses and (old is None or pose is not old) and _stayed(old, poses[key]):
            poses[key] = pose
    return Layout(poses)


def _stayed(old: Pose | None, there: Pose) -> bool:
    """Whether a thing stands at another stage where it stood at this one."""
    if old is None:
        return False
    near = abs(old.x.value - there.x.value) + abs(old.y.value - there.y.value) <= TOLERANCE
    return near and old.turn == there.turn
