"""Every change of one thing, in the order in which an owner would try them."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from floorplan.checks.finding import Finding
from floorplan.checks.judge import CHECKS
from floorplan.search.change import SHORT_SHIFT, Draft, Step
from floorplan.search.concerned import GROUND, is_door
from floorplan.search.rehang import openings, room_door
from floorplan.search.resize import smaller
from floorplan.search.rework import cut_flat, feet, sheet
from floorplan.search.shift import Moves
from floorplan.search.unmet import Key, key_of
from floorplan.shop.model import Layout, Shop
from floorplan.shop.reader import ShopFile
from floorplan.shop.scene import Scene, scene
from floorplan.units import TOLERANCE


def in_turn(
    file: ShopFile,
    draft: Draft,
    name: str,
    made: Scene,
    about: Sequence[Finding],
    lifted: Sequence[str],
) -> Iterator[Step]:
    """Every change of one thing, worked out only when the easier ones did not do."""
    if not draft.shop.has(name):
        if is_door(draft, name):
            yield from room_door(draft, name)
        return
    machine = draft.shop.thing(name).cutter is not None
    moves = Moves(draft, name, lifted)
    ground = any(f.check in GROUND for f in about)
    if not machine:
        yield from feet(draft, name, made, about)
    if any(f.check == "feeding" and f.about[0] == name for f in about):
        yield from sheet(draft, name)
    if any(f.check == "openings" for f in about):
        yield from openings(draft, name)
    if any(f.check == "feeding" and f.about[0] == name for f in about):
        yield from cut_flat(draft, name)
    if machine:
        every = [*feet(draft, name, made, about), *moves.shifts(ground=ground), *moves.turns()]
        yield from sorted(every, key=lambda step: step.order)
        return
    shifts = moves.shifts(ground=ground)
    yield from (step for step in shifts if step.trouble <= SHORT_SHIFT + TOLERANCE)
    yield from moves.turns()
    yield from (step for step in shifts if step.trouble > SHORT_SHIFT + TOLERANCE)
    yield from smaller(file, draft, name, made, about)


def clears(
    step: Step,
    about: Sequence[Finding],
    lifted: Sequence[str] = (),
    dropped: frozenset[Key] = frozenset(),
) -> bool:
    """Whether nothing of this thing fails among the things concerned alone.

    What fails among a few things fails among all, so this spares the judge hopeless steps.
    """
    shop = step.draft.shop
    names = {step.thing, *(n for f in about for n in f.about)} - set(lifted)
    few = {name for name in names if shop.has(name)}
    layout = Layout({k: p for k, p in step.draft.layout.poses.items() if k[0] in few})
    made = scene(shop, layout, only=few)
    return not any(
        found.verdict != "passes" and step.thing in found.about and counts(shop, found)
        for name, check in CHECKS
        if name not in GROUND
        for found in check(made).findings
        if key_of(found) not in dropped
    )


def counts(shop: Shop, found: Finding) -> bool:
    """Whether a finding is required by the shop's rules as the user set them."""
    rule = shop.rules[found.rule]
    softened = rule.overridden and rule.kind == "advised"
    return found.kind == "required" and not rule.off and not softened


def same(old: Step, new: Step) -> bool:
    """Whether two changes of a thing do about the same: its shift, or its size, or that turn."""
    if (old.thing, old.kind) != (new.thing, new.kind):
        return False
    if old.kind in ("shift", "size", "feet"):
        return True
    before, after = old.draft.layout.pose(old.thing), new.draft.layout.pose(new.thing)
    if old.kind == "turn" and before is not None and after is not None:
        return before.turn == after.turn
    return old.text == new.text
