"""Does everything that a task lays out to dry find a place while it lasts?

Racks and tops are filled first, then the floor.  What lies on tops and floor is put into the shop
and every task that goes on meanwhile is judged with it: a part that brings new trouble lies
elsewhere or not at all.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from math import inf

from shapely import union_all

from floorplan.checks.finding import Answer, Finding, Verdict, amount, rule_of
from floorplan.checks.lying import Area, LeftOut, Place, areas, part_name, partners, with_parts
from floorplan.rules.book import citation
from floorplan.shop.lay_out import FLOOR, LayOut
from floorplan.shop.model import Shop, Task
from floorplan.shop.scene import Scene, scene
from floorplan.units import TOLERANCE

CHECK = "lay-out"
RULE = "lay-out-places"
TRIALS = 16
"""How often parts that are in the way are laid elsewhere before they are left out."""

Key = tuple[object, ...]
Failing = Callable[[Scene], tuple[Finding, ...]]
"""The required findings of a scene that do not pass."""


@dataclass(frozen=True, slots=True, eq=False)
class Laid:
    """Where the parts of one task lie."""

    task: Task
    spec: LayOut
    areas: tuple[Area, ...]
    left_out: tuple[LeftOut, ...]
    places: tuple[Place, ...]
    """As many as are needed, or were found."""
    found: int
    """How many lie, with every other task of the same time passing as without them."""
    most: int
    """More do not lie there in any case."""

    def on(self) -> dict[str, int]:
        """How many lie on each thing and the floor, in the order in which they are filled."""
        return dict(Counter(place.area.on for place in self.places))


def answer(shop: Shop, laid: Sequence[Laid]) -> Answer:
    """One finding for each task that lays parts out."""
    return Answer(tuple(_finding(shop, one) for one in laid))


def lay_out(made: Scene, failing: Failing) -> tuple[Laid, ...]:
    """Where all parts lie."""
    return tuple(
        _laid(made, task, task.lay_out, failing)
        for task in made.shop.tasks
        if task.lay_out is not None
    )


def _laid(made: Scene, task: Task, spec: LayOut, failing: Failing) -> Laid:
    found, left_out = areas(made, task, spec)
    offered = [p for a in found if a.on != FLOOR for p in _places(a)]
    trial = _Trial(made, task, failing)
    floor = [a for a in found if a.on == FLOOR]
    offered += [p for a in floor for p in _by_the_wall(made, _places(a))]
    places = trial.fit(offered, spec.count)
    if len(places) < spec.count and floor:
        more = [Place(a, spot) for a in floor for spot in a.corners]
        again = trial.fit([*offered, *_by_the_wall(made, more)], spec.count)
        places = max((places, again), key=len)
    most = sum(area.most for area in found)
    return Laid(task, spec, found, left_out, places, len(places), max(most, len(places)))


def _places(area: Area) -> list[Place]:
    return [Place(area, spot) for spot in area.places]


def _by_the_wall(made: Scene, places: Sequence[Place]) -> list[Place]:
    """Places on the floor, those farthest from the open middle first."""
    middle = made.floor.buffer(-1.0)
    middle = made.floor.centroid if middle.is_empty else middle
    return sorted(places, key=lambda p: -round(p.plan.distance(middle), 3))


# --- what goes on meanwhile ----------------------------------------------------------------


@dataclass(frozen=True, slots=True, eq=False)
class _Trial:
    """Judges the task, alone and with each that goes on meanwhile, with parts lying about."""

    made: Scene
    task: Task
    failing: Failing

    def fit(self, offered: Sequence[Place], count: int) -> tuple[Place, ...]:
        """The first of the offered places that bring no new trouble, `count` at most."""
        known = {key: by for key, (_, by) in self._trouble(()).items()}
        refused: set[int] = set()
        chosen: list[int] = []
        for trial in range(TRIALS + count):
            if trial < TRIALS:
                chosen = _first(offered, refused, count)
            else:
                chosen = [i for i in chosen if i not in refused]
            new = self._new(known, [offered[i] for i in chosen])
            if not new:
                return tuple(offered[i] for i in chosen)
            refused |= self._blamed(new, chosen)
        return ()

    def _new(self, known: dict[Key, float], places: Sequence[Place]) -> list[Finding]:
        """Trouble that is not there, or not as deep, without the parts."""
        if all(place.area.shelf is not None for place in places):
            return []
        trouble = self._trouble(places)
        return [f for key, (f, by) in trouble.items() if by < known.get(key, 0.0) - TOLERANCE]

    def _trouble(self, places: Sequence[Place]) -> dict[Key, tuple[Finding, float]]:
        """What does not pass, by what it is about, with its margin less its error."""
        loaded = with_parts(self.made, self.task, places)
        out: dict[Key, tuple[Finding, float]] = {}
        for tasks in self._moments():
            moment = scene(replace(loaded.shop, tasks=tasks), loaded.layout)
            for f in self.failing(moment):
                by = f.margin - f.error - TOLERANCE if f.margin is not None else -inf
                if _key(f) not in out or by < out[_key(f)][1]:
                    out[_key(f)] = f, by
        return out

    def _moments(self) -> Iterator[tuple[Task, ...]]:
        """The task and one that goes on meanwhile; by itself where none does."""
        others = partners(self.made.shop, self.task)
        if not others:
            yield (replace(self.task, together_with=()),)
        for other in others:
            yield (
                replace(self.task, together_with=(other.name,)),
                replace(other, together_with=()),
            )

    def _blamed(self, new: Sequence[Finding], chosen: Sequence[int]) -> set[int]:
        """Parts that the findings name; the last one where they name none."""
        words = [" ".join((*f.about, f.message)) for f in new]
        names = {part_name(self.task, n): i for n, i in enumerate(chosen, 1)}
        named = {
            i
            for name, i in names.items()
            if any(re.search(rf"{re.escape(name)}\b", w) for w in words)
        }
        return named or {chosen[-1]}


def _first(offered: Sequence[Place], refused: set[int], count: int) -> list[int]:
    """The first `count` that are not refused and do not meet one another."""
    chosen: list[int] = []
    for i, place in enumerate(offered):
        if len(chosen) == count:
            break
        if i not in refused and not any(place.meets(offered[j]) for j in chosen):
            chosen.append(i)
    return chosen


def _key(found: Finding) -> Key:
    """The same trouble with and without parts; a way out may be narrow at other things."""
    about = found.about[:1] if found.check == "way-out" else found.about
    return found.check, found.rule, found.task, *about


# --- told ----------------------------------------------------------------------------------


def _finding(shop: Shop, laid: Laid) -> Finding:
    rule, spec = rule_of(shop, RULE), laid.spec
    enough, short = laid.found >= spec.count, laid.most < spec.count
    verdict: Verdict = "passes" if enough else "fails" if short else "unsure"
    plans = [place.plan for place in laid.places]
    return Finding(
        check=CHECK,
        rule=RULE,
        kind="advised" if rule.kind == "advised" else "required",
        about=tuple(laid.on()) or (laid.task.name,),
        task=laid.task.name,
        verdict=verdict,
        measured=float(laid.found),
        needed=float(spec.count),
        margin=float(laid.found - spec.count),
        error=0.0,
        unit="parts",
        certified=enough or short,
        assumed=(),
        where=union_all(plans) if plans else None,
        line=spec.line or None,
        message=_words(shop, laid),
        source=citation(rule),
    )


def _words(shop: Shop, laid: Laid) -> str:
    spec = laid.spec
    size = f"{amount(shop, spec.length.value)} x {amount(shop, spec.width.value)}"
    count = f"all {spec.count}" if laid.found >= spec.count else f"{laid.found} of {spec.count}"
    text = f"{count} parts of {size} have a place while {laid.task.name} lasts"
    where = [f"{n} on {'the ' * (on == FLOOR)}{on}" for on, n in laid.on().items()]
    text += f": {', '.join(where)}" if where else ""
    text += "".join(f"; none on {out.on}, {out.why}" for out in laid.left_out)
    if laid.found < spec.count <= laid.most:
        text += "; not certified, it may be more"
    return text
