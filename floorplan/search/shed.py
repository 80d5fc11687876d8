"""Where the collector's shed can stand: the best legal places, ranked.

The legal ground is exact.  On each part of it the places are looked at from which the duct is
shortest: its corners, and where it is cut by the lines on which a duct needs one elbow less.
Whatever is shown has been judged as a shed of the file is.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from math import floor, hypot, inf, log

import numpy as np
import shapely
from shapely.geometry import LineString, Polygon

from floorplan.checks.finding import Finding, Verdict, overall
from floorplan.checks.lot import LineDistance, line_distances
from floorplan.checks.shed import StandingShed, check_standing, standing_shed
from floorplan.checks.shed_services import (
    Drop,
    Heard,
    MakeUp,
    drop_of,
    heard_at,
    make_up,
)
from floorplan.search.shed_ground import Ground, grounds, parts_of
from floorplan.search.shed_largest import (
    LargestShed,
    RuledOut,
    clashing,
    largest_sheds,
    ruled_out,
)
from floorplan.search.shed_run import (
    Airflow,
    Begin,
    Way,
    airflow,
    begin_of,
    best_way,
    finds_runs,
    found_way,
)
from floorplan.shop.model import Layout, Shop
from floorplan.shop.scene import Scene, scene
from floorplan.shop.shed_body import ShedBody, at_place, local_outlines
from floorplan.shop.site import ShedPlace

NOT_KNOWN = (
    "Not known to this program: easements, buried lines, wells and septic fields, covenants, and "
    "whether the lot lines are where the file has them.  Ask before you dig; have the line staked."
)
MOST = 5
PER_GROUND = 2
"""Places of one turn or wall that are judged."""
LOOKED_AT = 8
"""Places of one turn or wall whose duct is worked out at least."""
SPARE = 3
"""So many more places than are shown have all their runs found, to be ranked by them."""
SAME_PLACE = 0.01
"""Standing alone and standing against a wall are one place when nearer than this [m]."""
STEP_FLOW = 0.02
STEP_LENGTH = 0.03
"""Flows and lengths whose ratio is nearer to 1 count as equal [1]."""


class ShedError(ValueError):
    """A question about a shed that the file does not let be answered."""


@dataclass(frozen=True, slots=True, eq=False)
class ShedSite:
    """One place for the shed with all that speaks for and against it."""

    rank: int
    place: ShedPlace
    standing: StandingShed
    findings: tuple[Finding, ...]
    verdict: Verdict
    distances: tuple[LineDistance, ...]
    """From what the setbacks are measured to, to every lot line."""
    way: Way | None
    no_way: str
    """Why no duct can be led there, where that is known."""
    air: Airflow | None
    heard: tuple[Heard, ...]
    drop: Drop | None
    make_up: MakeUp | None
    reason: str = ""

    @property
    def spare(self) -> float:
        """The least that is left over a setback [m]; minus infinity when none is known."""
        rows = [d.distance.value - (d.reach.line.setback or 0.0) for d in self.distances]
        return min(rows)

    @property
    def wishes(self) -> int:
        """Advised findings that do not pass."""
        return sum(f.kind == "advised" and f.verdict != "passes" for f in self.findings)


@dataclass(frozen=True, slots=True, eq=False)
class ShedAnswer:
    """The answer of `shed`."""

    shop: Shop
    layout: Layout
    scene: Scene
    begin: Begin
    grounds: tuple[Ground, ...]
    sites: tuple[ShedSite, ...]
    today: ShedSite | None
    """Where the file has it."""
    reserve: bool
    """Whether the places keep what the tape leaves open."""
    largest: tuple[LargestShed, ...] = ()
    """Where none fits: the largest that would, by turn."""
    clash: tuple[str, ...] = ()
    """Where none fits: limits of which dropping any one makes room."""
    ruled_out: tuple[RuledOut, ...] = ()
    """The parts of the lot in which it cannot stand."""

    @property
    def stays_behind(self) -> bool:
        """Whether runs are found and the file has the collector's inlet at a point of its own."""
        air = self.shop.air
        inlet = None if air is None or air.collector is None else air.collector.inlet
        return finds_runs(self.shop) and inlet is not None and not inlet.in_shed


def sheds(shop: Shop, layout: Layout, *, most: int = MOST) -> ShedAnswer:
    """The best places for the shed of a shop file. Raises ShedError."""
    if shop.site is None:
        raise ShedError("the file has no `site:`, so nobody knows where a shed can stand")
    if shop.site.shed is None:
        raise ShedError("`site:` has no `shed:`; say its width, depth and height there")
    made = scene(shop, layout)
    begin = begin_of(made)
    found, reserve = grounds(shop), True
    if not found:
        found, reserve = grounds(shop, reserve=False), False
    asked = finds_runs(shop)
    candidates = sorted(
        (row for ground in found for row in _best_on(made, ground, begin)),
        key=lambda row: _rated(row[1]),
    )
    # where all runs are found to each place, that is dear: it is done for what will be shown
    chosen = _apart(candidates, most + SPARE if asked else 3 * most)
    sites = [judged_site(made, place, begin, way) for place, way in chosen]
    ranked = _ranked(sites)[:most]
    own = shop.site.shed.place
    today = None if own is None else judged_site(made, own, begin)
    largest: tuple[LargestShed, ...] = ()
    clash: tuple[str, ...] = ()
    if not ranked:
        largest, clash = largest_sheds(shop), clashing(shop)
    return ShedAnswer(
        shop, layout, made, begin, found, tuple(ranked), today, reserve, largest, clash,
        ruled_out(shop, found),
    )  # fmt: skip


def judged_site(made: Scene, place: ShedPlace, begin: Begin, way: Way | None = None) -> ShedSite:
    """Everything about a shed at one place, its runs found anew where the file asks for that."""
    shop = made.shop
    moved = with_place(shop, place)
    here = replace(made, shop=moved)
    standing = standing_shed(moved)
    assert standing is not None
    shed, site, body = standing.shed, standing.site, standing.body
    why = ""
    if finds_runs(shop):
        way, why = found_way(made, moved)
    elif way is None:
        way = best_way(made, body, shed.height.value, begin)
    air = None if way is None else airflow(made, way)
    findings = check_standing(here, standing, flow=None if air is None else air.most).findings
    kept = tuple(f for f in findings if not shop.rules[f.rule].off)
    return ShedSite(
        0, place, standing, kept, overall(kept),
        line_distances(site, standing.measured),
        way, why, air,
        heard_at(shop, site, shed, place, body),
        drop_of(shop, shed, body),
        make_up(here, shed, None if air is None else air.most),
    )  # fmt: skip


def with_place(shop: Shop, place: ShedPlace | None) -> Shop:
    """The shop with its shed at another place."""
    assert shop.site is not None
    assert shop.site.shed is not None
    return replace(shop, site=replace(shop.site, shed=replace(shop.site.shed, place=place)))


# --- candidates --------------------------------------------------------------------------------


def _best_on(made: Scene, ground: Ground, begin: Begin) -> list[tuple[ShedPlace, Way | None]]:
    """The places of one ground with the least duct, a few that differ.

    No duct is shorter than the straight line to the shed, so places are looked at by that, until
    none can be better.
    """
    assert made.shop.site is not None
    shed = made.shop.site.shed
    assert shed is not None
    local = local_outlines(shed, ground.side if ground.wall else None)
    spots = np.array(list(_spots(ground, local, begin)))
    base = Polygon(at_place(local, ground.place(0.0, 0.0)).walls.points)
    away = shapely.distance(base, shapely.points(np.array(begin.spot[:2]) - spots))
    rows: list[tuple[ShedPlace, Way | None]] = []
    for i in np.argsort(away, kind="stable"):
        if len(rows) >= LOOKED_AT and away[i] > min(_cost(way) for _, way in rows):
            break
        place = ground.place(float(spots[i, 0]), float(spots[i, 1]))
        rows.append((place, best_way(made, at_place(local, place), shed.height.value, begin)))
    return _apart(sorted(rows, key=lambda row: _rated(row[1])), PER_GROUND)


def _cost(way: Way | None) -> float:
    return inf if way is None or way.others else way.cost


def _rated(way: Way | None) -> tuple[int, float]:
    return (99, 0.0) if way is None else (way.others, way.cost)


def _spots(ground: Ground, local: ShedBody, begin: Begin) -> Iterator[tuple[float, float]]:
    """Corners of the ground, and where it is cut by lines on which the duct runs straight."""
    body = at_place(local, ground.place(0.0, 0.0)).walls.points
    low, high = body.min(axis=0), body.max(axis=0)
    middle, radius = body.mean(axis=0), begin.diameter / 2
    west, south, east, north = ground.places.bounds
    lines = [middle] if begin.to_middle else [middle, low + radius, high - radius]
    xs = {float(begin.spot[0] - m[0]) for m in lines}
    ys = {float(begin.spot[1] - m[1]) for m in lines}
    cuts = [LineString([(x, south - 1), (x, north + 1)]) for x in sorted(xs)]
    cuts += [LineString([(west - 1, y), (east + 1, y)]) for y in sorted(ys)]
    seen = set()
    for part in parts_of(ground.places):
        shapes = [part, *(part.intersection(cut) for cut in cuts)]
        for x, y in np.vstack([shapely.get_coordinates(s) for s in shapes]):
            key = (round(float(x), 4), round(float(y), 4))
            if key not in seen:
                seen.add(key)
                yield float(x), float(y)


def _apart(
    rows: Sequence[tuple[ShedPlace, Way | None]], most: int
) -> list[tuple[ShedPlace, Way | None]]:
    """The first rows that are clearly different: 3 ft apart, or at another wall, or turned."""
    kept: list[tuple[ShedPlace, Way | None]] = []
    for place, way in rows:
        if len(kept) == most:
            break
        if all(_differs(place, other) for other, _ in kept):
            kept.append((place, way))
    return kept


def _differs(one: ShedPlace, other: ShedPlace) -> bool:
    moved = hypot(one.x.value - other.x.value, one.y.value - other.y.value)
    turned = abs((one.turn - other.turn + 180.0) % 360.0 - 180.0) > 20.0
    walls = one.wall != other.wall and (turned or moved > SAME_PLACE)
    return moved >= 3 * 0.3048 or walls or (turned and moved >= 0.3048)


# --- ranking -----------------------------------------------------------------------------------


def _step(value: float, step: float) -> int:
    """Number of the step in which a value lies, so that near ones count as equal."""
    return floor(log(max(value, 1e-9)) / log(1.0 + step))


def _order(site: ShedSite) -> tuple[float, ...]:
    verdicts = {"passes": 0, "unsure": 1, "fails": 2}
    way, air = site.way, site.air
    return (
        verdicts[site.verdict],
        way.others if way is not None else 99,
        -_step(air.flow, STEP_FLOW) if air is not None else 0,
        _step(way.length, STEP_LENGTH) if way is not None else 0,
        way.elbows if way is not None else 0,
        site.wishes,
        -site.spare,
    )


def _ranked(sites: Sequence[ShedSite]) -> list[ShedSite]:
    legal = sorted((s for s in sites if s.verdict != "fails"), key=_order)
    return [
        replace(site, rank=rank, reason=_reason(site, legal)) for rank, site in enumerate(legal, 1)
    ]


def _reason(site: ShedSite, others: Sequence[ShedSite]) -> str:
    """What it does best of all, in plain words."""
    best: list[str] = []

    def leads(name: str, value: float | None, values: list[float]) -> None:
        if value is not None and len(values) > 1 and value <= min(values) + 1e-9:
            best.append(name)

    leads("most air", -site.air.flow if site.air else None,
          [-o.air.flow for o in others if o.air])  # fmt: skip
    leads("shortest duct", site.way.length if site.way else None,
          [o.way.length for o in others if o.way])  # fmt: skip
    leads("quietest for those around", max((h.level.value for h in site.heard), default=None),
          [max(h.level.value for h in o.heard) for o in others if o.heard])  # fmt: skip
    leads("most room to spare over its setbacks", -site.spare, [-o.spare for o in others])
    where = f"against the {site.place.wall}" if site.place.wall else "standing alone"
    return where + (": " + ", ".join(best) if best else "")
