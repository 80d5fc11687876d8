"""Can what a task parks, or brings to its working place, be rolled there, and in what order?

The rolls are made before the task begins: what is away by then is away, doors of machines and
drawers are shut, and what comes only for the task has not come yet.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from itertools import islice
from math import degrees, hypot, inf

from shapely.geometry import LineString, Point
from shapely.geometry.base import BaseGeometry

from floorplan.checks.confined import confined
from floorplan.checks.finding import Answer, Finding, Measure, Verdict, amount, finding
from floorplan.checks.mobile import mobile_of
from floorplan.checks.passage import Passage, Spare
from floorplan.checks.passing import FINEST, lacking, passage_of, spare_of, surely_shut
from floorplan.checks.rolling_floor import RollingFloor
from floorplan.geometry.affine import Affine
from floorplan.motion.carry import Pose
from floorplan.shop.model import ELSEWHERE, Layout, Shop, Task
from floorplan.shop.scene import Element, Scene, thing_elements

CHECK = "rolling"
RULE = "roll-way"
MOST_WAYS = 24
"""Ways looked for among different orders of one task's rolls before it is given up."""


@dataclass(frozen=True, slots=True, eq=False)
class Roll:
    """One thing on its way from where it stands at rest to where a task wants it."""

    task: Task
    thing: str
    place: str
    """`parked` or `working`."""
    passage: Passage
    others: tuple[Element, ...]
    """What stands elsewhere meanwhile of the things that are rolled for the task."""
    certified: bool = True
    """False where it fails in this order and might pass in one that nobody can be sure of."""


@dataclass(frozen=True, eq=False)
class Rolls:
    """All rolls of one task, in the order in which they are made."""

    floor: RollingFloor
    rolls: tuple[Roll, ...]


def check(scene: Scene) -> Answer:
    """Every roll of every task, and things that have no place to roll to."""
    findings: list[Finding] = []
    length = 0.0
    for task in scene.shop.tasks:
        findings.extend(_without_place(scene, task))
        made = rolls_of(scene, task)
        findings.extend(_finding(scene, made.floor, roll) for roll in made.rolls)
        length += sum(roll.passage.length for roll in made.rolls)
    certified = all(f.verdict == "passes" for f in findings if f.kind == "required")
    rolled = any(f.kind == "required" for f in findings)
    return Answer(tuple(findings), {"rolled": Measure(length, "m")} if rolled and certified else {})


def blocked(scene: Scene) -> bool:
    """Cheap form of `check`: whether something has surely no way, even when all others are gone."""
    return any(
        orders.shut_alone(name)
        for task in scene.shop.tasks
        for orders in (Orders(scene, task),)
        for name in orders.places
    )


def doubtful(scene: Scene) -> Answer:
    """Cheap form of `check`: findings of all but what surely passes, whose margin costs most."""
    return Answer(
        tuple(
            _finding(scene, made.floor, roll)
            for made in (rolls_of(scene, task) for task in scene.shop.tasks)
            for roll in made.rolls
            if roll.passage.verdict != "passes"
        )
    )


def stuck(scene: Scene, task: Task) -> Answer:
    """The same of one task with nothing measured: what does not surely pass, and why."""
    made = rolls_of(scene, task)
    doubted = (roll for roll in made.rolls if roll.passage.verdict != "passes")
    return Answer(tuple(_finding(scene, made.floor, r, measured=False) for r in doubted))


def shut(scene: Scene, task: Task) -> Answer:
    """Cheap part of that: what surely has no way, even when all others that roll are gone."""
    orders = Orders(scene, task)
    rolls = (
        Roll(task, name, place, Passage("fails", orders.mobiles[name]), ())
        for name, place in orders.places.items()
        if orders.shut_alone(name)
    )
    return Answer(tuple(_finding(scene, orders.floor, r, measured=False) for r in rolls))


# --- orders --------------------------------------------------------------------------------


@lru_cache(maxsize=32)
def rolls_of(scene: Scene, task: Task) -> Rolls:
    """The rolls of a task in an order in which each passes, or in one where most of them do."""
    orders = Orders(scene, task)
    return Rolls(orders.floor, orders.best())


def _wanted(scene: Scene, task: Task) -> Iterator[tuple[str, str]]:
    """Things with the places that a task wants them at, both places being known and different."""
    for place in ELSEWHERE:
        for name in getattr(task, place):
            here = scene.layout.pose(name)
            there = scene.layout.pose(name, place)
            if scene.shop.has(name) and None not in (here, there) and here != there:
                yield name, place


class Orders:
    """Orders of the rolls of one task, each way worked out once.

    Of things `added` since the orders `before` a way may stay clear, and then it is the same way.
    What an unsure one gets stuck between is looked for only where it is to be `named`.
    """

    def __init__(
        self,
        scene: Scene,
        task: Task,
        before: Orders | None = None,
        added: frozenset[str] = frozenset(),
        *,
        named: bool = True,
    ) -> None:
        self.scene, self.task, self.named = scene, task, named
        self.before, self.added = before, added
        self.places = dict(_wanted(scene, task))
        staying = [
            e
            for e in scene.elements
            if e.owner not in self.places and e.presence.during(task.name)
        ]  # fmt: skip
        self.floor = RollingFloor(scene.shop, staying if self.places else ())
        self.mobiles = {name: mobile_of(scene.shop, scene.shop.thing(name)) for name in self.places}
        self.known: dict[tuple[str, frozenset[str]], Passage] = {}

    def best(self) -> tuple[Roll, ...]:
        """The longest order, and what has no place in it as it is after that."""
        best, every = self._longest(tuple(self.places), inf)
        # what nobody can tell of one roll may be what lets another pass
        sure = every and all(found.verdict != "unsure" for found in self.known.values())
        return tuple(self._rolls(best, sure))

    def passing(self, spared: Collection[str] = (), most: float = inf) -> tuple[Roll, ...]:
        """The longest order found in which each passes, what is `spared` staying where it is.

        Given up when about `most` ways were worked out.
        """
        order, _ = self._longest(tuple(name for name in self.places if name not in spared), most)
        return tuple(islice(self._rolls(order, sure=True), len(order)))

    def _longest(self, names: Sequence[str], most: float) -> tuple[tuple[str, ...], bool]:
        """Depth first through the sets of things already rolled; whether there is no better."""
        best: tuple[str, ...] = ()
        seen: set[frozenset[str]] = set()
        stack: list[tuple[str, ...]] = [()]
        while stack and len(self.known) < MOST_WAYS:
            done = stack.pop()
            if len(done) > len(best):
                best = done
            if len(best) == len(names) or self.floor.carried >= most:
                break
            rolled = frozenset(done)
            if rolled in seen:
                continue
            seen.add(rolled)
            stack.extend(
                (*done, name)
                for name in reversed(names)
                if name not in rolled and self.passage(name, rolled).verdict == "passes"
            )
        return best, not stack or len(best) == len(names)

    def _rolls(self, order: tuple[str, ...], sure: bool) -> Iterator[Roll]:
        rest = [name for name in self.places if name not in order]
        for number, name in enumerate((*order, *rest)):
            rolled = frozenset(order[:number])
            found = self.passage(name, rolled)
            certified = sure or found.verdict != "fails" or self.shut_alone(name)
            yield Roll(
                self.task, name, self.places[name], found, self.others(name, rolled), certified
            )

    def shut_alone(self, name: str) -> bool:
        """Whether a thing surely has no way, even when all others are gone."""
        return surely_shut(self.floor, self.mobiles[name], self.ends(name), ())

    def confined(self, name: str) -> BaseGeometry | None:
        """Places of its middle, not turned, from which a thing surely has no way, others gone."""
        return confined(self.floor, self.mobiles[name], *self.ends(name), FINEST)

    def passage(self, name: str, rolled: frozenset[str]) -> Passage:
        """The way of a thing when some have been rolled already."""
        if (name, rolled) not in self.known:
            others = self.others(name, rolled)
            self.known[name, rolled] = self._as_before(name, rolled, others) or passage_of(
                self.floor, self.mobiles[name], self.ends(name), others, named=self.named
            )
        return self.known[name, rolled]

    def beside(self, scene: Scene, added: frozenset[str]) -> Orders:
        """The same task in a scene with some more things, what is known here taken over."""
        return Orders(scene, self.task, self, added, named=self.named)

    def _as_before(
        self, name: str, rolled: frozenset[str], others: Sequence[Element]
    ) -> Passage | None:
        """The answer without what was added, if that changes nothing."""
        if self.before is None or name in self.added:
            return None
        found = self.before.passage(name, rolled - self.added)
        if found.verdict == "unsure":
            return found  # it is no surer with more things about
        known = self.before.reserve(name, rolled - self.added)
        if self.floor.reserve(self.mobiles[name], others) > known + 1e-12:
            return None
        mine = [e for e in (*self.floor.staying, *others) if e.owner in self.added]
        # what has no way has none with more things about either
        return found if found.verdict == "fails" or found.clear_of(self.floor, mine) else None

    def reserve(self, name: str, rolled: frozenset[str]) -> float:
        """What the tape may be off while a thing is rolled [m]."""
        return self.floor.reserve(self.mobiles[name], self.others(name, rolled))

    def ends(self, name: str) -> tuple[Pose, Pose]:
        """Where the middle of a thing is before and after."""
        layout = self.scene.layout
        start, goal = layout.pose(name), layout.pose(name, self.places[name])
        assert start is not None
        assert goal is not None
        return self.mobiles[name].pose(start), self.mobiles[name].pose(goal)

    def others(self, name: str, rolled: frozenset[str]) -> tuple[Element, ...]:
        """The other things of the task, where each is when some have been rolled."""
        out: list[Element] = []
        for other in self.places:
            if other == name:
                continue
            pose = self.scene.layout.pose(
                other, self.places[other] if other in rolled else "standing"
            )
            assert pose is not None
            made = thing_elements(self.scene.shop, self.scene.shop.thing(other), pose)
            out.extend(e for e in made if self.floor.stands(e))
        return tuple(out)


@lru_cache(maxsize=32)
def spare_beside(floor: RollingFloor, roll: Roll) -> Spare:
    """What is left over beside a roll that has a way, and where."""
    return spare_of(floor, roll.passage, roll.others)


# --- findings ------------------------------------------------------------------------------


def _finding(scene: Scene, floor: RollingFloor, roll: Roll, *, measured: bool = True) -> Finding:
    shop, passage = scene.shop, roll.passage
    thing = shop.thing(roll.thing)
    width = 2 * passage.mobile.half_width
    error, margin, beside, where = 0.0, -width, passage.blocked_by, _goal(scene, roll)
    if passage.stretches:
        spare = spare_beside(floor, roll)
        margin, error, beside = 2 * spare.margin, 2 * spare.error, spare.beside
        where = _line(passage, spare.pose)
    elif passage.verdict == "fails" and measured:
        margin = -2 * lacking(floor, passage.mobile, ends_of(scene.layout, roll), roll.others)
    made = finding(
        shop, check=CHECK, rule=RULE, about=(roll.thing, *beside), margin=Affine(margin),
        needed=width, where=where, task=roll.task.name, line=roll.task.line or thing.line,
        message=_message(shop, roll, beside),
    )  # fmt: skip
    verdict: Verdict = passage.verdict if roll.certified else "unsure"
    words = made.message
    if verdict == "unsure":
        words += "; not certified within what the tape may be off"
        words += "" if roll.certified else ", nor in every order"
    return replace(made, verdict=verdict, error=error, message=words, certified=verdict != "unsure")


def _message(shop: Shop, roll: Roll, beside: tuple[str, ...]) -> str:
    passage, between = roll.passage, _between(beside)
    what = f"{roll.thing} to its {roll.place} place"
    if passage.verdict == "passes":
        far = amount(shop, passage.length, "up")
        turn = degrees(passage.turned)
        turned = f" and {turn:.0f}° of turning" if turn > 1.0 else ""
        tight = f"tightest{between}" if between else "tightest"
        return f"{what} rolls: {far}{turned}, {tight} with at least {{spare}} to spare"
    if passage.verdict == "fails":
        return f"{what} does not roll{between}: it is about {{spare}} too wide or has no room there"
    return f"{what}: no way is sure{between}"


def _between(names: tuple[str, ...]) -> str:
    if not names:
        return ""
    return f" by {names[0]}" if len(names) == 1 else f" between {' and '.join(names[:2])}"


def _line(passage: Passage, tightest: Pose) -> BaseGeometry:
    """The way of the thing's middle; the tightest place where it hardly moves."""
    path = passage.path
    far = any(hypot(p.x - path[0].x, p.y - path[0].y) > 0.01 for p in path)
    return LineString([(p.x, p.y) for p in path]) if far else Point(tightest.x, tightest.y)


def ends_of(layout: Layout, roll: Roll) -> tuple[Pose, Pose]:
    """Where the thing's middle is before and after."""
    start, goal = layout.pose(roll.thing), layout.pose(roll.thing, roll.place)
    assert start is not None
    assert goal is not None
    return roll.passage.mobile.pose(start), roll.passage.mobile.pose(goal)


def _goal(scene: Scene, roll: Roll) -> BaseGeometry:
    at = ends_of(scene.layout, roll)[1]
    return Point(at.x, at.y)


def _without_place(scene: Scene, task: Task) -> Iterator[Finding]:
    """Things that a task wants elsewhere and that have no place there: taken where they stand."""
    for place in ELSEWHERE:
        for name in getattr(task, place):
            if not scene.shop.has(name) or scene.layout.pose(name) is None:
                continue
            if scene.layout.pose(name, place) is None:
                line = task.line or scene.shop.thing(name).line
                made = finding(
                    scene.shop, check=CHECK, rule=RULE, about=(name,), margin=Affine(0.0),
                    needed=0.0, where=None, task=task.name, line=line, kind="advised",
                    certified=False,
                    message=f"{name} has no {place} place: it is taken where it stands",
                )  # fmt: skip
                yield replace(
                    made, measured=None, needed=None, margin=None,
                    message=made.message.partition(";")[0],
                )  # fmt: skip
