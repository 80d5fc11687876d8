"""The shop of one moment: what is there at a stage, and what a later one keeps free already.

Everything that judges, searches or draws one shop takes the shop of a stage unchanged.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace

from floorplan.geometry.affine import ZERO, Affine, Outline
from floorplan.shop.air import AirPlan, Run
from floorplan.shop.duct_space import leg_volumes
from floorplan.shop.model import (
    BreakDown,
    Carry,
    Feed,
    Job,
    KeepClear,
    Layout,
    Leg,
    Pose,
    Reserved,
    Room,
    Shop,
    Task,
    Thing,
)
from floorplan.shop.plan import Plan, Stage
from floorplan.shop.read_work import default_tasks
from floorplan.shop.scene import Frame, frame_of
from floorplan.shop.site import Site


def stages_of(shop: Shop) -> tuple[Stage, ...]:
    """The stages of a shop in order of time; none for a shop without a plan."""
    return () if shop.plan is None else shop.plan.stages


def shop_at(shop: Shop, stage: int) -> Shop:
    """The shop at a stage, by number from 0; the shop itself when it has no plan.

    What later stages keep clear stays in it: keep-clears drawn by hand, those of fixed things
    and the strips of later runs.  What replaces a thing takes its part in tasks, jobs and links.
    """
    plan = shop.plan
    if plan is None:
        return shop
    moment = _Moment(shop, plan, stage)
    things = tuple(moment.things())
    air, strips = _air_at(shop.air, plan, stage)
    return replace(
        shop,
        name=f"{shop.name}, {plan.stages[stage].name}",
        doors=tuple(d for d in shop.doors if plan.there("door", d.name, stage)),
        windows=tuple(w for w in shop.windows if plan.there("window", w.name, stage)),
        things=things,
        keep_clears=(*moment.keep_clears(), *strips),
        tasks=tuple(moment.tasks(things)),
        jobs=tuple(moment.job(j) for j in shop.jobs if plan.there("job", j.name, stage)),
        air=air,
        plan=None,
        stage=plan.stages[stage],
        reserved=tuple(moment.reserved()),
        site=_site_at(shop, plan, stage),
    )


def _site_at(shop: Shop, plan: Plan, stage: int) -> Site | None:
    """The site of a stage: a collector that comes later has its shed built only then."""
    site, air = shop.site, shop.air
    if site is None or site.shed is None or air is None or air.collector is None:
        return site
    there = plan.span("collector", "collector").first <= stage
    return replace(site, shed=replace(site.shed, there=there))


def layout_at(shop: Shop, layout: Layout, stage: int) -> Layout:
    """Where things stand at a stage, as far as the file says: from its first pose, or moved since.

    `layout` is the union of all first poses.
    """
    plan = shop.plan
    if plan is None:
        return layout
    poses = dict(layout.poses)
    for (since, thing, place), pose in sorted(plan.poses.items(), key=lambda row: row[0][0]):
        if since <= stage:
            poses[thing, place] = pose
    return Layout({key: p for key, p in poses.items() if plan.there("thing", key[0], stage)})


class _Moment:
    """One stage of a shop, section by section."""

    def __init__(self, shop: Shop, plan: Plan, stage: int) -> None:
        self.shop = shop
        self.plan = plan
        self.stage = stage
        self.written = {t.name for t in shop.tasks if t.line}
        self.gone = {n for n in self.written if not plan.there("task", n, stage)}

    # --- things ----------------------------------------------------------------------------

    def things(self) -> Iterable[Thing]:
        """Things that are there, without what belongs to tasks that are not."""
        for thing in self.shop.things:
            if self.plan.there("thing", thing.name, self.stage):
                made = self._thing(thing)
                if made.only_in is None or made.only_in:
                    yield made

    def _thing(self, thing: Thing) -> Thing:
        zones = tuple(z for z in thing.zones if z.task not in self.gone)
        parts = tuple(
            replace(p, only_in=self._left(p.only_in))
            for p in thing.parts
            if p.only_in is None or self._left(p.only_in)
        )
        outfeed_of = tuple(
            replace(link, machine=heir)
            for link in thing.outfeed_of
            if (heir := self._cutting(link.machine)) is not None
        )
        within_of = tuple(
            replace(link, target=target)
            for link in thing.within_of
            if (target := self._stop(link.target)) is not None
        )
        return replace(
            thing, zones=zones, parts=parts, only_in=self._left(thing.only_in),
            outfeed_of=outfeed_of, within_of=within_of,
        )  # fmt: skip

    def _left(self, tasks: frozenset[str] | None) -> frozenset[str] | None:
        return None if tasks is None else tasks - self.gone

    def _cutting(self, machine: str) -> str | None:
        heir = self.plan.heir(machine, self.stage)
        return heir if heir is not None and self.shop.thing(heir).cutter is not None else None

    def _stop(self, name: str) -> str | None:
        """A thing, what has come in its place, or a door or place of that name."""
        return self.plan.heir(name, self.stage) if self.shop.has(name) else name

    def _present(self, names: Iterable[str]) -> tuple[str, ...]:
        found = (self._stop(name) for name in names)
        return tuple(dict.fromkeys(name for name in found if name is not None))

    # --- work ------------------------------------------------------------------------------

    def tasks(self, things: tuple[Thing, ...]) -> Iterable[Task]:
        """Tasks of the file, and one for each thing that none of them uses at this stage."""
        own = [
            replace(
                task,
                uses=self._present(task.uses),
                parked=self._present(task.parked),
                working=self._present(task.working),
                away=self._present(task.away),
                together_with=tuple(t for t in task.together_with if t not in self.gone),
            )
            for task in self.shop.tasks
            if task.line and task.name not in self.gone
        ]
        return default_tasks(own, things)

    def job(self, job: Job) -> Job:
        """A job with what has come in the place of what it names."""
        return replace(
            job,
            legs=tuple(Leg(self._name(g.start), self._name(g.end), g.times) for g in job.legs),
            feeds=tuple(self._feed(f) for f in job.feeds),
            break_downs=tuple(self._break_down(b) for b in job.break_downs),
            carries=tuple(self._carry(c) for c in job.carries),
        )

    def _name(self, name: str) -> str:
        return self._stop(name) or name

    def _feed(self, feed: Feed) -> Feed:
        return replace(feed, machine=self._name(feed.machine))

    def _break_down(self, work: BreakDown) -> BreakDown:
        return replace(work, over=self._name(work.over))

    def _carry(self, carry: Carry) -> Carry:
        return replace(carry, start=self._name(carry.start), goal=self._name(carry.goal))

    # --- what stays clear ------------------------------------------------------------------

    def keep_clears(self) -> Iterable[KeepClear]:
        """Drawn by hand: those of this stage and of every later one."""
        for keep in self.shop.keep_clears:
            if self.plan.span("keep-clear", keep.name).last >= self.stage:
                yield keep

    def reserved(self) -> Iterable[Reserved]:
        """Fixed things of later stages; their forerunner may stand where they will."""
        for name, pose in self.plan.fixed.items():
            if self.plan.span("thing", name).first > self.stage:
                yield Reserved(self._forerunner(name), self.shop.thing(name), pose)

    def _forerunner(self, name: str) -> str:
        at = name
        while at in self.plan.replaces:
            at = self.plan.replaces[at]
            if self.plan.there("thing", at, self.stage):
                return at
        return name


# --- air -----------------------------------------------------------------------------------


def _air_at(
    air: AirPlan | None, plan: Plan, stage: int
) -> tuple[AirPlan | None, tuple[KeepClear, ...]]:
    """The air of a stage, and the strips of runs that come later."""
    if air is None:
        return None, ()
    runs = tuple(replace(r, later=False) for r in air.runs if plan.there("run", r.name, stage))
    later = [r for r in air.runs if plan.span("run", r.name).first > stage]
    vacuum = air.vacuum if plan.there("vacuum", "vacuum", stage) else None
    if vacuum is not None and vacuum.serves is not None:
        served = (plan.heir(name, stage) for name in vacuum.serves)
        names = dict.fromkeys(name for name in served if name is not None)
        vacuum = replace(vacuum, serves=tuple(names))
    collector = air.collector if plan.there("collector", "collector", stage) else None
    strips = tuple(keep for run in later for keep in strip(run))
    find = None if collector is None else air.find
    if not runs and vacuum is None and find is None:
        return None, strips
    begins = {run.drop.machine for run in runs if run.drop is not None}
    if find is not None:
        begins |= {name for names in air.together for name in names}
    together = tuple(
        group
        for names in air.together
        if (group := tuple(name for name in names if name in begins))
    )
    kept = replace(air, runs=runs, collector=collector, vacuum=vacuum, together=together, find=find)
    return kept, strips


def strip(run: Run) -> tuple[KeepClear, ...]:
    """The room that a later run of duct will take, with what it keeps free all round."""
    return tuple(
        KeepClear(
            f"strip for {run.name}", volume.outline, volume.bottom, volume.top, "duct-strip",
            line=run.line,
        )
        for volume in leg_volumes(run, round_it=True)
    )  # fmt: skip


def stands_in_for(room: Room, old: Thing, pose: Pose, new: Thing) -> Pose:
    """Where a thing comes to stand in the place of another.

    Back to back and middle to middle, slid into the room's extent where it would reach beyond.
    """
    x, y = frame_of(old, pose).point(*_rear_middle(old))
    own_x, own_y = Frame(pose.turn, ZERO, ZERO).point(*_rear_middle(new))
    body = new.body.turned(pose.turn)
    west, south = (
        _slid_in(room, body, axis, low)
        for axis, low in enumerate((x - own_x + body.lowest(0), y - own_y + body.lowest(1)))
    )
    return Pose(west, south, pose.turn)


def _rear_middle(thing: Thing) -> tuple[Affine, Affine]:
    return (thing.body.lowest(0) + thing.body.highest(0)) / 2, thing.body.highest(1)


def _slid_in(room: Room, body: Outline, axis: int, low: Affine) -> Affine:
    extent = body.highest(axis) - body.lowest(axis)
    first, last = room.floor.lowest(axis), room.floor.highest(axis)
    if low.value < first.value:
        return first
    return last - extent if (low + extent).value > last.value else low
