"""Layouts or shops side by side: what changed, and what each wins and loses in real units."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from math import hypot, inf

from floorplan.checks.finding import Finding
from floorplan.checks.judge import Judgement
from floorplan.shop.model import Shop, Thing
from floorplan.units import TOLERANCE

SMALLER_IS_BETTER = ("walking", "sheet way")
"""Measures of which less is better; `sheet way margin` is room, like all others."""
STEPS = {"m2": "rank-step-floor", "m": "rank-step-margin"}
"""Values of a unit that differ by less than this rule says count as equal."""
REQUIRED, ADVISED, SPARE = (
    "required rules not met", "advised rules not met", "least to spare",
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class Difference:
    """One thing that is otherwise than in the first."""

    what: str
    """Name of the thing, door or rule."""
    kind: str
    """`moved`, `came`, `gone`, `size`, `kind`, `rule` or `room`."""
    east: float = 0.0
    north: float = 0.0
    """How far it moved [m]."""
    turn: float = 0.0
    """Counter-clockwise [deg]."""
    before: tuple[float, ...] | str = ""
    after: tuple[float, ...] | str = ""
    """Sizes [m] or words."""


@dataclass(frozen=True, slots=True)
class Row:
    """One measure of all of them."""

    name: str
    unit: str
    less_is_better: bool
    values: tuple[float | None, ...]
    """None where it is not measured; infinite where there is no way."""
    step: float
    """Values that differ by no more count as equal."""
    best: tuple[int, ...]
    """Which of them are best, all when they count as equal."""


@dataclass(frozen=True, slots=True, eq=False)
class Comparison:
    """Everything that can be said of several judged layouts."""

    names: tuple[str, ...]
    judgements: tuple[Judgement, ...]
    changed: tuple[tuple[Difference, ...], ...]
    """For each of them what is otherwise than in the first."""
    mended: tuple[tuple[Finding, ...], ...]
    """Required findings that do not pass in the first and do, or are gone, in this one."""
    broken: tuple[tuple[Finding, ...], ...]
    """Required findings that do not pass in this one and did in the first."""
    rows: tuple[Row, ...]

    def wins(self, which: int) -> tuple[Row, ...]:
        """Measures in which one is the best, or among the best, and not all are."""
        return tuple(r for r in self.rows if which in r.best and len(r.best) < len(self.names))

    def loses(self, which: int) -> tuple[Row, ...]:
        """Measures in which another is better by more than the step."""
        return tuple(r for r in self.rows if which not in r.best and r.values[which] is not None)


def compare(named: Sequence[tuple[str, Judgement]]) -> Comparison:
    """Compare judged layouts with the first of them.

    Raises:
        ValueError: when there are fewer than two.

    """
    if len(named) < 2:
        raise ValueError("two or more are needed to compare")
    names = tuple(name for name, _ in named)
    judgements = tuple(judgement for _, judgement in named)
    first = judgements[0]
    return Comparison(
        names,
        judgements,
        tuple(tuple(_differences(first, other)) for other in judgements),
        tuple(_only_failing(first, other) for other in judgements),
        tuple(_only_failing(other, first) for other in judgements),
        tuple(_rows(judgements)),
    )


def _only_failing(one: Judgement, other: Judgement) -> tuple[Finding, ...]:
    """What fails in one and does not in the other, worst first."""

    def key(found: Finding) -> tuple[str, str, tuple[str, ...], str | None]:
        return found.check, found.rule, found.about, found.task

    there = {key(found) for found in other.failing}
    return tuple(found for found in one.failing if key(found) not in there)


# --- what changed ----------------------------------------------------------------------------


def _differences(first: Judgement, other: Judgement) -> Iterator[Difference]:
    if other is first:
        return
    old, new = first.shop, other.shop
    yield from _room(old, new)
    for thing in new.things:
        if not old.has(thing.name):
            yield Difference(thing.name, "came")
    for thing in old.things:
        if not new.has(thing.name):
            yield Difference(thing.name, "gone")
            continue
        yield from _thing(thing, new.thing(thing.name))
        yield from _place(first, other, thing.name)
    yield from _rules(old, new)


def _room(old: Shop, new: Shop) -> Iterator[Difference]:
    sizes = [
        (*(float(v) for v in shop.room.floor.points.max(axis=0)), shop.room.height.value)
        for shop in (old, new)
    ]
    if not _alike(*sizes):
        yield Difference("room", "room", before=sizes[0], after=sizes[1])
    doors = [{door.name: door for door in shop.doors} for shop in (old, new)]
    for name, door in doors[0].items():
        there = doors[1].get(name)
        if there is None:
            yield Difference(name, "gone")
            continue
        words = [f"{d.hand}, swings {d.swing}" for d in (door, there)]
        if words[0] != words[1] and door.kind == "hinged":
            yield Difference(name, "kind", before=words[0], after=words[1])
        spans = [(d.start.value, d.width.value, d.clear.value) for d in (door, there)]
        if not _alike(*spans):
            yield Difference(name, "size", before=spans[0], after=spans[1])
    yield from (Difference(name, "came") for name in doors[1] if name not in doors[0])


def _thing(old: Thing, new: Thing) -> Iterator[Difference]:
    if old.kind != new.kind:
        yield Difference(old.name, "kind", before=old.kind, after=new.kind)
    sizes = [(t.width.value, t.depth.value, t.height.value) for t in (old, new)]
    if not _alike(*sizes):
        yield Difference(old.name, "size", before=sizes[0], after=sizes[1])


def _alike(one: tuple[float, ...], other: tuple[float, ...]) -> bool:
    return all(abs(a - b) <= TOLERANCE for a, b in zip(one, other, strict=True))


def _place(first: Judgement, other: Judgement, name: str) -> Iterator[Difference]:
    old, new = first.layout.pose(name), other.layout.pose(name)
    if old is None or new is None:
        if new is not None:
            yield Difference(name, "came")
        elif old is not None:
            yield Difference(name, "gone")
        return
    east, north = new.x.value - old.x.value, new.y.value - old.y.value
    turn = (new.turn - old.turn + 180.0) % 360.0 - 180.0
    if hypot(east, north) > TOLERANCE or abs(turn) > 1e-6:
        yield Difference(name, "moved", east, north, turn)


def _rules(old: Shop, new: Shop) -> Iterator[Difference]:
    for before in old.rules:
        after = new.rules[before.id]
        same = abs(before.value - after.value) <= 1e-12 or old.rules.metric != new.rules.metric
        words = [
            "switched off" if rule.off else f"{rule.text}, {rule.kind}" for rule in (before, after)
        ]
        if (before.off, before.kind) != (after.off, after.kind) or not same:
            yield Difference(before.id, "rule", before=words[0], after=words[1])


# --- what each wins --------------------------------------------------------------------------


def _rows(judgements: Sequence[Judgement]) -> Iterator[Row]:
    counts = [tuple(float(len(j.failing)) for j in judgements)]
    counts.append(tuple(float(len(j.wishes)) for j in judgements))
    for name, values in zip((REQUIRED, ADVISED), counts, strict=True):
        yield _row(judgements, name, "", values, less=True, step=0.0)
    names = dict.fromkeys(name for j in judgements for name in j.measures)
    for name in names:
        found = [j.measures.get(name) for j in judgements]
        measured = tuple(None if m is None else m.value for m in found)
        unit = next(m.unit for m in found if m is not None)
        less = name.split(":")[0] in SMALLER_IS_BETTER
        yield _row(judgements, name, unit, measured, less=less, step=_step(judgements, unit, less))
    spare = tuple(_least_to_spare(j) for j in judgements)
    yield _row(judgements, SPARE, "m", spare, less=False, step=_step(judgements, "m", less=False))


def _step(judgements: Sequence[Judgement], unit: str, less: bool) -> float:
    """What counts as equal: a share of a walk, else a step of the unit."""
    rules = judgements[0].shop.rules
    if less:
        return -rules.value("rank-step-walking")
    return rules.value(STEPS[unit]) if unit in STEPS else 0.0


def _least_to_spare(judgement: Judgement) -> float | None:
    """The least margin beyond its error of what is required, contact left aside [m]."""
    rows = [
        f.margin - f.error
        for f in judgement.findings
        if f.kind == "required" and f.unit == "m" and f.margin is not None
        if abs(f.margin) > TOLERANCE
    ]
    return min(rows, default=None)


def _row(
    judgements: Sequence[Judgement],
    name: str,
    unit: str,
    values: tuple[float | None, ...],
    *,
    less: bool,
    step: float,
) -> Row:
    """A negative step is a share of the best value."""
    known = [v for v in values if v is not None]
    best = min(known) if less else max(known)
    within = step if step >= 0 else (0.0 if best == inf else -step * abs(best))

    def is_best(value: float | None) -> bool:
        if value is None:
            return False
        return value == best or abs(value - best) <= within + TOLERANCE * 1e-3

    winners = tuple(i for i in range(len(judgements)) if is_best(values[i]))
    return Row(name, unit, less, values, within, winners)
