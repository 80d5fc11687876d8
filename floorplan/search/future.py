"""Why the present of a plan differs from what it would be without its future.

The first stage is searched alone, as if nothing came later.  What it offers is then held, and
what comes later is put to it: a strip or keep-clear that it stands in, a later thing that finds
no place, or only a worse plan.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

from floorplan.checks.finding import Finding
from floorplan.checks.judge import Judgement
from floorplan.checks.judge_stages import StagedJudgement, shops_of, stage_name
from floorplan.search.placing import first_feasible, search
from floorplan.search.plans import PlanJudgement, as_plan, plan_priorities
from floorplan.search.rank import CRITERIA, in_order, moved, values_of, words
from floorplan.search.screening import screened
from floorplan.search.setting import Demands, Spot, movable_names, movable_spots
from floorplan.search.staged_placement import StagedPlacement
from floorplan.shop.model import Layout, Shop
from floorplan.shop.stages import shop_at

PROBE = 200
"""Items put back when asking whether later things find places."""
MOST_REASONS = 3


@dataclass(frozen=True, slots=True, eq=False)
class Held:
    """A present that is held while the rest of the plan is placed round it."""

    layouts: tuple[Layout, ...]
    """Of each stage, later things without a pose."""
    against: tuple[str, ...]
    """What rules it out, in words; empty when a plan was found."""
    plan: PlanJudgement | None


@dataclass(frozen=True, slots=True, eq=False)
class Future:
    """What the future does to the present."""

    lone: Judgement
    """The best first stage found as if nothing came later."""
    differs: tuple[str, ...]
    """Things that stand elsewhere in the plan's first stage."""
    because: tuple[str, ...]
    """What rules the lone layout out, or what it would cost, in words."""

    @property
    def text(self) -> str:
        """All of it in plain words."""
        if not self.differs:
            return "The present stands as it would without its future"
        names = ", ".join(self.differs)
        return (
            f"Without its future the present would be another one: {names} would stand elsewhere. "
            f"Against that speaks: {'; '.join(self.because)}"
        )


def alone(shop: Shop) -> Shop:
    """The shop of the first stage as if nothing came later: no strips, no later keep-clears."""
    assert shop.plan is not None
    first = shop_at(shop, 0)
    own = tuple(
        keep
        for keep in shop.keep_clears
        if shop.plan.there("keep-clear", keep.name, 0)
    )  # fmt: skip
    return replace(first, keep_clears=own, reserved=())


def hold(
    shop: Shop,
    layouts: Sequence[Layout],
    present: Layout,
    demands: Demands,
    *,
    seed: int,
    effort: int,
) -> Held:
    """Put all that comes later round a present that is held.

    `layouts` are the file's, one a stage; what it fixes in later stages stays there.
    """
    shops = shops_of(shop)
    fixed = _holding(shop, shops, layouts, present)
    against = tuple(_in_the_way(shops, fixed))[:MOST_REASONS]
    if against:
        return Held(fixed, against, None)
    later = tuple(n for n in _movable(shop, layouts) if present.pose(n) is None)
    state = None
    if later:
        spots = tuple(spot for spot in spots_of(shops, fixed) if spot[0] in later)
        question = StagedPlacement(shops, fixed, later, demands, spots=spots)
        state = first_feasible(
            question.setting.problem, question.wishes(), seed=seed, effort=PROBE,
            start=question.start,
        )  # fmt: skip
        if state is None:
            return Held(fixed, tuple(_no_place(shops, fixed, later, demands, seed)), None)
        outcome = search(
            question.setting.problem, question.wishes(), seed=seed, effort=effort, start=state
        )
        best = outcome.best if outcome.feasible else state
        placed = question.setting.layouts_of(best, rounded=True)
    else:
        placed = fixed
    made = as_plan(shop, [screened(s, where) for s, where in zip(shops, placed, strict=True)])
    against = tuple(_told(f, made) for f in made.failing)[:MOST_REASONS]
    return Held(fixed, against, None if against else made)


def spots_of(shops: Sequence[Shop], layouts: Sequence[Layout]) -> tuple[Spot, ...]:
    """Parked and working places that are sought in any stage."""
    found = (movable_spots(s, where) for s, where in zip(shops, layouts, strict=True))
    return tuple(dict.fromkeys(spot for spots in found for spot in spots))


def _movable(shop: Shop, layouts: Sequence[Layout]) -> tuple[str, ...]:
    union: dict[tuple[str, str], object] = {}
    for layout in layouts:
        union.update(layout.poses)
    return movable_names(shop, Layout(union))  # type: ignore[arg-type]


def _holding(
    shop: Shop, shops: Sequence[Shop], layouts: Sequence[Layout], present: Layout
) -> tuple[Layout, ...]:
    """Each stage with the present's things where they are now; later things have no pose."""
    movable = set(_movable(shop, layouts))
    out = []
    for at, layout in zip(shops, layouts, strict=True):
        poses = {key: pose for key, pose in layout.poses.items() if key[0] not in movable}
        poses.update(
            (key, pose)
            for key, pose in present.poses.items()
            if at.has(key[0]) and key[0] in movable
        )
        out.append(Layout(poses))
    return tuple(out)


def _in_the_way(shops: Sequence[Shop], layouts: Sequence[Layout]) -> Iterator[str]:
    """What fails with the present held, before anything later is placed; the first such stage."""
    for shop, layout in zip(shops, layouts, strict=True):
        made = screened(shop, layout)
        if made.failing:
            yield from (_in_stage(found, made) for found in made.failing)
            return


def _in_stage(found: Finding, made: Judgement) -> str:
    return f"{found.message} (stage {stage_name(made)})"


def _told(found: Finding, plan: PlanJudgement) -> str:
    made = next(j for j in plan.staged.stages if any(f is found for f in j.findings))
    return _in_stage(found, made)


def _no_place(
    shops: Sequence[Shop],
    layouts: Sequence[Layout],
    later: Sequence[str],
    demands: Demands,
    seed: int,
) -> Iterator[str]:
    """The first later thing, or the first few together, for which no place was found."""

    def found(names: Sequence[str]) -> bool:
        question = StagedPlacement(tuple(shops), tuple(layouts), tuple(names), demands)
        problem = question.setting.problem
        return first_feasible(problem, seed=seed, effort=PROBE, start=question.start) is not None

    single = [name for name in later if not found([name])]
    for name in single[:MOST_REASONS]:
        stage = next(s for s in shops if s.has(name)).stage
        assert stage is not None
        yield f"it leaves no place for {name} in stage {stage.name}"
    if single:
        return
    for count in range(2, len(later) + 1):
        if not found(later[:count]):
            yield f"no places were found for {' and '.join(later[:count])} together"
            return
    yield f"no places were found for {' and '.join(later)} together"


def future_of(shop: Shop, lone: Judgement, best: StagedJudgement, held: Held) -> Future:
    """Why the first stage of a plan is not the one that would be best alone."""
    differs = moved(lone.shop, best.stages[0].layout, lone.layout)
    if not differs:
        return Future(lone, (), ())
    because = held.against
    if held.plan is not None:
        because = (_costs(shop, held.plan, best),)
    return Future(lone, differs, because)


def _costs(shop: Shop, held: PlanJudgement, best: StagedJudgement) -> str:
    """What the whole plan would lose with the lone present held, first things first."""
    other = as_plan(shop, best.stages)
    today = other.layout
    priorities = plan_priorities(shop.priorities)
    for name in priorities:
        a, b = (CRITERIA[name].value(j, today) for j in (held, other))
        step = CRITERIA[name].step(shop.rules, b)
        if name != "moves" and a > b + step + 1e-9:
            return f"with it the plan, all stages together, {words(shop, name, b - a)}"
    rows = [values_of(j, today, priorities) for j in (other, held)]
    if in_order(shop, rows, priorities)[0] == 0:
        return "the plan with it would be no better, within the steps that count"
    return "nothing: the plan with it is as good"
