"""Whether a layout passes, asked so that a sure no comes early and margins are left for last.

The certified ways of what is carried or rolled take a second each, half of it for what is left
over beside them.  A search asks only whether they pass; what is shown is judged in full.
"""

from __future__ import annotations

from dataclasses import replace

from floorplan.checks import (
    carrying,
    open_floor,
    reach,
    rolling,
    support,
    walking,
    way_out,
)
from floorplan.checks.duct_finding import with_found_runs
from floorplan.checks.finding import overall, worst_first
from floorplan.checks.judge import CHECKS, Check, Judgement, judge_scene
from floorplan.shop.model import Layout, Shop
from floorplan.shop.scene import scene

WAYS = ((rolling.CHECK, rolling.doubtful), (carrying.CHECK, carrying.doubtful))
"""The certified ways, without what is left over beside those that surely pass."""
STANDING = tuple((name, check) for name, check in CHECKS if name not in dict(WAYS))
"""Every check but those."""
ADVICE = {
    walking.CHECK: (),
    open_floor.CHECK: (),
    support.CHECK: (support.RULE, support.SIDE_RULE),
    reach.CHECK: (reach.RULE,),
}
"""Checks that require nothing unless the user's rules do, with the rules that might."""


Rows = tuple[tuple[str, Check], ...]


def demanding(shop: Shop) -> Rows:
    """The checks of what stands that can make this shop fail; of ways out only what is required."""
    every = dict(STANDING)
    every[way_out.CHECK] = way_out.demanded
    return tuple(
        (name, check)
        for name, check in every.items()
        if name not in ADVICE or any(shop.rules[rule].kind == "required" for rule in ADVICE[name])
    )


def screened(shop: Shop, layout: Layout) -> Judgement:
    """Every check but what is carried and rolled, and those only as far as they surely fail."""
    made = judge_scene(scene(shop, layout), STANDING)
    ways = (carrying.blocked, rolling.blocked)
    if made.verdict == "passes" and any(blocked(made.scene) for blocked in ways):
        return replace(made, verdict="fails")
    return made


def required(shop: Shop, layout: Layout, *, briefly: bool = False) -> Judgement:
    """What `certified` finds of a layout that is screened, as far as it is required.

    With `briefly` the ways of people are not asked where something else fails already.
    """
    made = standing(shop, layout, briefly=briefly)
    ways = (carrying.blocked, rolling.blocked)
    if made.verdict == "passes" and any(blocked(made.scene) for blocked in ways):
        return replace(made, verdict="fails")
    return certified(made)


def standing(shop: Shop, layout: Layout, *, briefly: bool = False) -> Judgement:
    """What is required of all that stands."""
    rows = demanding(shop)
    walks = tuple(row for row in rows if row[0] == way_out.CHECK)
    made = judge_scene(scene(shop, layout), tuple(row for row in rows if row not in walks))
    return made if briefly and made.failing else also(made, walks)


def also(made: Judgement, checks: Rows) -> Judgement:
    """The judgement with what further checks find of the same scene."""
    asked = judge_scene(made.scene, checks)
    findings = worst_first([*made.findings, *asked.findings])
    return replace(made, findings=findings, verdict=overall(findings))


def certified(made: Judgement) -> Judgement:
    """What `judge` finds of a screened layout as far as it passes, else the first that does not.

    Runs of duct that are to be found are found; nothing is measured beside ways that surely pass.
    """
    if made.verdict != "passes":
        return made
    found = with_found_runs(made.shop, made.layout)
    if found is not made.shop:
        made = judge_scene(scene(found, made.layout), STANDING)
    for way in WAYS:
        if made.verdict != "passes":
            break
        asked = judge_scene(made.scene, (way,))
        if asked.verdict != "passes":
            return replace(made, findings=asked.findings, verdict=asked.verdict)
    return made


def in_full(made: Judgement) -> Judgement:
    """Every check of a layout that `certified` has seen; what was worked out then is not again."""
    found = with_found_runs(made.shop, made.layout)
    ready = made.scene.shop is found
    return judge_scene(made.scene if ready else scene(found, made.layout))
