"""Puts judged layouts in the user's order and says in plain words what each wins and loses."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from math import hypot, inf

from floorplan.checks.judge import Judgement
from floorplan.checks.stage_changes import stands_elsewhere
from floorplan.rules.book import RuleBook
from floorplan.shop.model import ELSEWHERE, Layout, Shop
from floorplan.units import TOLERANCE, System, format_area, format_length

AIRFLOW_STEP = 0.02
"""Airflow at the worst machine within this share counts as equal [1]."""


@dataclass(frozen=True, slots=True)
class Criterion:
    """One thing the user cares about, as a number to make small."""

    name: str
    value: Callable[[Judgement, Layout], float]
    step: Callable[[RuleBook, float], float]
    """Values within this of the best count as equal."""


def moved(shop: Shop, layout: Layout, today: Layout) -> tuple[str, ...]:
    """Things that stand elsewhere than today, or have come."""
    out = []
    for thing in shop.things:
        new, old = layout.pose(thing.name), today.pose(thing.name)
        if new is None:
            continue
        if old is None or stands_elsewhere(new, old):
            out.append(thing.name)
    return tuple(out)


def reparked(shop: Shop, layout: Layout, today: Layout) -> tuple[str, ...]:
    """Things that have another place to be parked or to work at than today, or have come by one."""
    spots = ((thing.name, place) for thing in shop.things for place in ELSEWHERE)
    changed = []
    for name, place in spots:
        new, old = layout.pose(name, place), today.pose(name, place)
        if new is not None and (old is None or stands_elsewhere(new, old)):
            changed.append(name)
    return tuple(dict.fromkeys(changed))


def _measure(judgement: Judgement, name: str, default: float) -> float:
    found = judgement.measures.get(name)
    return default if found is None else found.value


def _least_margin(judgement: Judgement) -> float:
    """The least margin over its error among required findings in metres that can have any."""
    margins = [
        f.margin - f.error
        for f in judgement.findings
        if f.kind == "required" and f.unit == "m" and f.margin is not None
    ]
    return min(margins, default=0.0)


CRITERIA: dict[str, Criterion] = {
    "required rules": Criterion(
        "required rules",
        lambda j, _: sum(10.0 if f.verdict == "fails" else 1.0 for f in j.failing),
        lambda _b, _v: 0.0,
    ),
    "advised rules": Criterion(
        "advised rules", lambda j, _: float(len(j.wishes)), lambda _b, _v: 0.0
    ),
    "sheet room": Criterion(
        "sheet room",
        lambda j, _: -_measure(j, "sheet room", 0.0),
        lambda book, _: book.value("rank-step-margin"),
    ),
    "walking": Criterion(
        "walking",
        lambda j, _: _measure(j, "walking", 0.0),
        lambda book, best: book.value("rank-step-walking") * abs(best),
    ),
    "stage changes": Criterion(
        "stage changes", lambda j, _: _measure(j, "stage changes", 0.0), lambda _b, _v: 0.0
    ),
    "moves": Criterion(
        "moves",
        lambda j, today: float(len(moved(j.shop, j.layout, today))),
        lambda book, _: max(book.value("rank-step-moved") - 1.0, 0.0),
    ),
    "open floor": Criterion(
        "open floor",
        lambda j, _: -_measure(j, "open floor", 0.0),
        lambda book, _: book.value("rank-step-floor"),
    ),
    "airflow": Criterion(
        "airflow",
        lambda j, _: -_measure(j, "worst airflow", 0.0),
        lambda _book, best: AIRFLOW_STEP * abs(best),
    ),
    "margin": Criterion(
        "margin",
        lambda j, _: -_least_margin(j),
        lambda book, _: book.value("rank-step-margin"),
    ),
}


@dataclass(frozen=True, eq=False)
class Ranked:
    """One layout with its place in the order."""

    rank: int
    judgement: Judgement
    values: dict[str, float]
    """Criterion -> value, smaller is better."""
    best_for: tuple[str, ...]
    dominated: bool
    """Another layout shown is as good in everything and better in something."""
    reason: str

    @property
    def layout(self) -> Layout:
        """Where things stand."""
        return self.judgement.layout


def values_of(judgement: Judgement, today: Layout, priorities: Sequence[str]) -> dict[str, float]:
    """Every criterion of a layout."""
    return {name: CRITERIA[name].value(judgement, today) for name in priorities}


def in_order(shop: Shop, rows: Sequence[dict[str, float]], priorities: Sequence[str]) -> list[int]:
    """Indices from best to worst: criterion by criterion, values within a step being equal."""
    left = list(range(len(rows)))
    order: list[int] = []
    while left:
        tied = left
        for name in priorities:
            best = min(rows[i][name] for i in tied)
            if best == inf:
                continue
            step = CRITERIA[name].step(shop.rules, best)
            tied = [i for i in tied if rows[i][name] <= best + step + 1e-12]
        # among equals the one that is better without any step, then the one found first
        first = min(tied, key=lambda i: (tuple(rows[i][n] for n in priorities), i))
        order.append(first)
        left.remove(first)
    return order


def clearly_different(shop: Shop, a: Layout, b: Layout) -> bool:
    """Some thing stands 3 ft away, or is turned and 1 ft away."""
    far = shop.rules.value("layouts-differ")
    turned = shop.rules.value("layouts-differ-turned")
    for thing in shop.things:
        p, q = a.pose(thing.name), b.pose(thing.name)
        if p is None or q is None:
            if p is not q:
                return True
            continue
        away = hypot(p.x.value - q.x.value, p.y.value - q.y.value)
        if away >= far - TOLERANCE or (p.turn != q.turn and away >= turned - TOLERANCE):
            return True
    return False


def rank(
    judgements: Sequence[Judgement], today: Layout, *, show: int, priorities: Sequence[str]
) -> tuple[Ranked, ...]:
    """The best clearly different layouts, best first."""
    if not judgements:
        return ()
    shop = judgements[0].shop
    rows = [values_of(j, today, priorities) for j in judgements]
    chosen: list[int] = []
    for i in in_order(shop, rows, priorities):
        if len(chosen) == show:
            break
        if all(clearly_different(shop, judgements[i].layout, judgements[k].layout) for k in chosen):
            chosen.append(i)
    layouts = [judgement.layout for judgement in judgements]
    chosen = with_fewest_moves(shop, layouts, today, chosen, show)
    picked = [rows[i] for i in chosen]
    counts = [len(moved(shop, layouts[i], today)) for i in chosen]
    elsewhere = [reparked(shop, layouts[i], today) for i in chosen]
    return tuple(
        Ranked(
            position + 1,
            judgements[i],
            rows[i],
            _best_for(shop, picked, counts, position),
            _dominated(shop, picked, position),
            _reason(shop, picked, position, _moves(counts[position], elsewhere[position])),
        )
        for position, i in enumerate(chosen)
    )


def with_fewest_moves(
    shop: Shop, layouts: Sequence[Layout], today: Layout, chosen: Sequence[int], show: int
) -> list[int]:
    """The chosen layouts, the last one given up for the one that moves fewest things of all.

    It is worth its place only where it moves fewer than each of them and is clearly different.
    """
    if not chosen or not layouts:
        return list(chosen)
    counts = [len(moved(shop, layout, today)) for layout in layouts]
    fewest = min(range(len(layouts)), key=lambda i: (counts[i], i))
    kept = list(chosen[: show - 1]) if len(chosen) >= show else list(chosen)
    if (
        not kept
        or counts[fewest] >= min(counts[i] for i in chosen)
        or not all(clearly_different(shop, layouts[fewest], layouts[i]) for i in kept)
    ):
        return list(chosen)
    return [*kept, fewest]


def _step(shop: Shop, name: str, value: float) -> float:
    return CRITERIA[name].step(shop.rules, value) if value != inf else 0.0


def _best_for(
    shop: Shop, rows: list[dict[str, float]], counts: list[int], at: int
) -> tuple[str, ...]:
    out = []
    for name in rows[at]:
        best = min(row[name] for row in rows)
        second = sorted(row[name] for row in rows)[1] if len(rows) > 1 else inf
        clear = second > best + _step(shop, name, best)
        if rows[at][name] == best and clear and len(rows) > 1:
            out.append(name)
    # who does not rank by moves is told all the same
    if "moves" not in rows[at] and len(rows) > 1 and counts.count(min(counts)) == 1:
        out += ["moves"] * (counts[at] == min(counts))
    return tuple(out)


def _dominated(shop: Shop, rows: list[dict[str, float]], at: int) -> bool:
    own = rows[at]
    for k, other in enumerate(rows):
        if k == at:
            continue
        no_worse = all(other[n] <= own[n] + 1e-12 for n in own)
        better = any(other[n] < own[n] - _step(shop, n, other[n]) - 1e-12 for n in own)
        if no_worse and better:
            return True
    return False


def _moves(count: int, elsewhere: tuple[str, ...]) -> str:
    """How much has to move, in words; only where nothing else does, what is parked elsewhere."""
    if count:
        return f"{count} thing{'s' * (count > 1)} to move"
    if elsewhere:
        return f"nothing has to move but where {' and '.join(elsewhere)} is parked"
    return "nothing has to move"


def _reason(shop: Shop, rows: list[dict[str, float]], at: int, moves: str) -> str:
    """One sentence: what it wins and loses against the first, or the first against the second."""
    if len(rows) == 1:
        return f"the only clearly different layout found; {moves}"
    other = rows[1] if at == 0 else rows[0]
    wins: list[str] = []
    loses: list[str] = []
    for name in rows[at]:
        if name == "moves":
            continue
        difference = other[name] - rows[at][name]
        if difference != difference or abs(difference) <= _step(shop, name, other[name]) + 1e-9:
            continue
        told = words(shop, name, difference)
        (wins if difference > 0 else loses).append(told)
    against = "rank 2" if at == 0 else "rank 1"
    if not wins and not loses:
        return f"as good as {against} in everything that is measured; {moves}"
    parts = []
    if wins:
        parts.append(" and ".join(wins))
    if loses:
        parts.append(("but " if wins else "") + " and ".join(loses))
    return f"against {against}: {', '.join(parts)}; {moves}"


def words(shop: Shop, name: str, difference: float) -> str:
    """A difference of one criterion in words; positive is better."""
    system = shop.system
    size = abs(difference)
    better = difference > 0
    if name == "walking":
        if size == inf:
            return "every walk is possible" if better else "a walk is blocked"
        return f"walks {_long(size, system)} {'less' if better else 'more'}"
    if name == "open floor":
        return f"leaves {format_area(size, system)} {'more' if better else 'less'} floor open"
    if name == "sheet room":
        return f"gives fed pieces {format_length(size, system)} {'more' if better else 'less'} room"
    if name == "airflow":
        return f"gives the worst machine {size:.0%} {'more' if better else 'less'} of its air"
    if name == "margin":
        return f"has {format_length(size, system)} {'more' if better else 'less'} to spare"
    if name == "advised rules":
        n = round(size)
        return f"misses {n} {'fewer' if better else 'more'} advised rule{'s' * (n > 1)}"
    if name == "stage changes":
        n = round(size)
        return f"has {n} {'fewer' if better else 'more'} change{'s' * (n > 1)} between stages"
    return "fails fewer required rules" if better else "fails more required rules"


def _long(metres: float, system: System) -> str:
    """A walk: whole feet or metres are enough."""
    if system is System.METRIC:
        return f"{metres:.1f} m"
    return f"{metres / 0.3048:.0f} ft"
