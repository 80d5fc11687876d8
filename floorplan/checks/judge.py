"""Puts all checks to a shop and a layout.  A new check is one file and one row here."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache

from floorplan.checks import (
    airflow,
    break_down,
    carrying,
    cords,
    feeding,
    hose,
    keep_clears,
    lay_out,
    links,
    open_floor,
    openings,
    reach,
    rolling,
    shed,
    solids,
    support,
    tilting,
    walking,
    way_out,
    zones,
)
from floorplan.checks.duct_finding import with_found_runs
from floorplan.checks.finding import Answer, Finding, Measure, Verdict, overall, worst_first
from floorplan.shop.model import Layout, Shop
from floorplan.shop.scene import Scene, scene

Check = Callable[[Scene], Answer]

AT_ONE_TIME = ("solids", "keep-clears", "zones", "openings", "feeding", "way-out")
"""Checks whose answer depends on what goes on at the same time."""


@lru_cache(maxsize=16)
def laid_out(made: Scene) -> tuple[lay_out.Laid, ...]:
    """Where everything lies that a task lays out to dry."""

    def failing(moment: Scene) -> tuple[Finding, ...]:
        asked = [row for row in CHECKS if row[0] in AT_ONE_TIME]
        return judge_scene(moment, asked).failing

    return lay_out.lay_out(made, failing)


def _laid_out(made: Scene) -> Answer:
    return lay_out.answer(made.shop, laid_out(made))


CHECKS: tuple[tuple[str, Check], ...] = (
    (solids.CHECK, solids.check),
    (keep_clears.CHECK, keep_clears.check),
    (zones.CHECK, zones.check),
    (openings.CHECK, openings.check),
    (feeding.CHECK, feeding.check),
    (carrying.CHECK, carrying.check),
    (tilting.CHECK, tilting.check),
    (rolling.CHECK, rolling.check),
    (links.CHECK, links.check),
    (support.CHECK, support.check),
    (reach.CHECK, reach.check),
    (way_out.CHECK, way_out.check),
    (walking.CHECK, walking.check),
    (lay_out.CHECK, _laid_out),
    (break_down.CHECK, break_down.check),
    (open_floor.CHECK, open_floor.check),
    (airflow.CHECK, airflow.check),
    (hose.CHECK, hose.check),
    (shed.CHECK, shed.check),
    (cords.CHECK, cords.check),
)


@dataclass(frozen=True, eq=False)
class Judgement:
    """Everything that was found about one layout."""

    shop: Shop
    layout: Layout
    scene: Scene
    findings: tuple[Finding, ...]
    """Worst first."""
    measures: Mapping[str, Measure]
    verdict: Verdict

    @property
    def failing(self) -> tuple[Finding, ...]:
        """Required findings that do not pass."""
        return tuple(f for f in self.findings if f.kind == "required" and f.verdict != "passes")

    @property
    def wishes(self) -> tuple[Finding, ...]:
        """Advised findings that do not pass."""
        return tuple(f for f in self.findings if f.kind == "advised" and f.verdict != "passes")

    @property
    def assumed(self) -> tuple[str, ...]:
        """Assumed numbers on which required findings depend."""
        names = {name for f in self.findings if f.kind == "required" for name in f.assumed}
        return tuple(sorted(names))


def judge(shop: Shop, layout: Layout) -> Judgement:
    """Every check, exactly; runs of duct that are to be found are found for this layout."""
    return judge_scene(scene(with_found_runs(shop, layout), layout))


def judge_scene(made: Scene, checks: Sequence[tuple[str, Check]] = CHECKS) -> Judgement:
    """Every check, or some, of a scene that exists already."""
    findings: list[Finding] = []
    measures: dict[str, Measure] = {}
    for _, check in checks:
        answer = check(made)
        findings.extend(_allowed(made.shop, answer.findings))
        measures.update(answer.measures)
    return Judgement(
        made.shop,
        made.layout,
        made,
        worst_first(findings),
        measures,
        overall(findings),
    )


def _allowed(shop: Shop, findings: tuple[Finding, ...]) -> list[Finding]:
    """What the user's rules leave: switched off ones go, softened ones become advice."""
    kept = []
    for found in findings:
        rule = shop.rules[found.rule]
        if rule.off:
            continue
        if rule.overridden and rule.kind == "advised" and found.kind == "required":
            found = replace(found, kind="advised")
        kept.append(found)
    return kept
