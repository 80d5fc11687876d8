"""The least change that clears one finding, for the things it names alone.

Cheap and exact for what it says: the free region of one of the things beside the others that the
finding names and the building.  Whether the whole shop then passes is a question for `fix`.
"""

from __future__ import annotations

from collections.abc import Iterator

from floorplan.checks.finding import Finding, amount
from floorplan.checks.judge import Judgement
from floorplan.search.change import Draft, Step
from floorplan.search.concerned import GROUND
from floorplan.search.rehang import openings, room_door
from floorplan.search.rework import feet
from floorplan.search.shed_shift import is_shed, shed_steps
from floorplan.search.shift import Moves
from floorplan.search.steps import clears
from floorplan.shop.model import Layout
from floorplan.shop.scene import scene


def least_change(judgement: Judgement, found: Finding) -> str:
    """What clears a finding that does not pass, in words; empty when no single change does."""
    if found.verdict == "passes":
        return ""
    if found.check in GROUND or found.check == "links":
        return _short(judgement, found)
    shop = judgement.shop
    tied = {thing.name for thing in shop.things if thing.outfeed_of or thing.within_of}
    # what is tied to another thing would have to take that along
    steps = sorted(_steps(judgement, found), key=lambda step: (step.thing in tied, step.order))
    for step in steps:
        if clears(step, (found,)):
            return step.text
    for step in sorted(_turns(judgement, found), key=lambda step: (step.thing in tied, step.order)):
        if clears(step, (found,)):
            return step.text
    return ""


def _short(judgement: Judgement, found: Finding) -> str:
    """How much is short, where the ground as a whole decides."""
    if found.margin is None or found.unit != "m":
        return ""
    short = amount(judgement.shop, found.error - found.margin, rounding="up")
    movable = [
        name
        for name in found.about
        if judgement.shop.has(name) and not judgement.shop.thing(name).fixed
    ]
    if found.by_height and movable:
        return f"change the height of {' or '.join(movable)} by {short}"
    if len(found.about) < 2:
        return ""
    first, *others = found.about
    beside = " and ".join(others)
    if found.rule == "outfeed-cover":
        return f"shift {first} {short} across the feed of {beside}"
    if found.rule == "take-off-table":
        return f"make {first} {short} deeper, or set it {short} farther from {beside}"
    return f"{short} {_more_or_less(found)} between {first} and {beside}"


def _more_or_less(found: Finding) -> str:
    """Which way a distance has to change: what may be `at most` so much is measured too large."""
    if found.measured is None or found.needed is None or found.margin is None:
        return "more"
    return "less" if (found.measured - found.needed) * found.margin < 0 else "more"


def _alone(judgement: Judgement, found: Finding) -> tuple[set[str], Draft]:
    """The things that a finding names, and the layout with these alone."""
    few = {name for name in found.about if judgement.shop.has(name)}
    layout = Layout({k: p for k, p in judgement.layout.poses.items() if k[0] in few})
    return few, Draft(judgement.shop, layout)


def _steps(judgement: Judgement, found: Finding) -> Iterator[Step]:
    """Changes of each thing or door named, the others named and the building in place."""
    shop, (few, draft) = judgement.shop, _alone(judgement, found)
    made = scene(shop, draft.layout, only=few)
    for name in found.about:
        if shop.has(name):
            yield from feet(draft, name, made, (found,), judgement.scene)
            if found.check == "openings":
                yield from openings(draft, name)
            yield from Moves(draft, name).shifts()
        elif any(door.name == name for door in shop.doors):
            yield from room_door(draft, name)
        elif is_shed(draft, name):
            yield from shed_steps(draft)


def _turns(judgement: Judgement, found: Finding) -> Iterator[Step]:
    """Things named, turned: asked only where none of that clears the finding."""
    few, draft = _alone(judgement, found)
    for name in found.about:
        if name in few:
            yield from Moves(draft, name).turns()
