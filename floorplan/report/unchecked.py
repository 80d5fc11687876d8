"""What no check looked at in this shop, so that nobody takes silence for a yes."""

from __future__ import annotations

from collections.abc import Iterator

from floorplan.checks.judge import Judgement
from floorplan.shop.model import Shop

NEVER = (
    "strength of floors, walls, shelves and of what hangs",
    "wiring, fire, noise and air to breathe",
    "guards, riving knives and how a machine is used",
)
"""Outside of what geometry can tell."""


def unchecked(judgement: Judgement) -> tuple[str, ...]:
    """Each thing not looked at, and why."""
    return (*_things(judgement), *_sections(judgement.shop), *_rules(judgement.shop), *NEVER)


def _things(judgement: Judgement) -> Iterator[str]:
    for name in judgement.scene.absent:
        yield f"{name}: it has no place yet"


def _sections(shop: Shop) -> Iterator[str]:
    if not shop.doors:
        yield "the way out, and how anything is brought in: the file has no doors"
    elif not any(door.leads_to == "outside" for door in shop.doors):
        yield "the way out: no door leads outside"
    if not any(job.carries for job in shop.jobs):
        yield "how sheets are carried: no job carries anything"
    if not any(job.feeds for job in shop.jobs):
        yield "whole sheets on the machines: no job feeds any, the usual pieces were taken"
    if not any(job.legs for job in shop.jobs):
        yield "walking: no job says who walks where"
    if shop.air is None:
        yield "dust and air: the file has no `air`"
    if shop.floor is None:
        yield "the floor: it was not surveyed and is taken as level"


def _rules(shop: Shop) -> Iterator[str]:
    for rule in shop.rules.changed:
        if rule.off:
            yield f"{rule.id}: your file switches this rule off"
