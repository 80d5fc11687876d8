"""Every change of one thing, in the order in which an owner would try them."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence

from floorplan.checks import carrying, rolling
from floorplan.checks.finding import Finding
from floorplan.search.change import SHORT_SHIFT, Draft, Step
from floorplan.search.concerned import GROUND, is_door
from floorplan.search.rehang import openings, room_door
from floorplan.search.resize import smaller
from floorplan.search.rework import cut_flat, feet, sheet
from floorplan.search.screening import STANDING, WAYS
from floorplan.search.shed_shift import is_shed, shed_steps
from floorplan.search.shift import Moves
from floorplan.shop.model import Layout, Shop
from floorplan.shop.reader import ShopFile
from floorplan.shop.scene import Scene, scene
from floorplan.units import TOLERANCE

QUICK = (*STANDING, *WAYS)
"""Every check, the costly ones last and as far as they find fault."""
COSTLY = frozenset({carrying.CHECK})
"""Asked among a few things only where that is what fails."""


SPARE = (0.02, 0.05)
"""A way is lacking so much more than was found for what the tape may be off [m]."""


def in_turn(
    file: ShopFile,
    draft: Draft,
    name: str,
    made: Scene,
    about: Sequence[Finding],
    moves_of: Callable[[], Moves],
) -> Iterator[Step]:
    """Every change of one thing, worked out only when the easier ones did not do."""
    if not draft.shop.has(name):
        if is_door(draft, name):
            yield from room_door(draft, name)
        elif is_shed(draft, name):
            yield from shed_steps(draft)
        return
    machine = draft.shop.thing(name).cutter is not None
    ground = any(f.check in GROUND for f in about)
    if not machine:
        yield from feet(draft, name, made, about)
    if any(f.check == "feeding" and f.about[0] == name for f in about):
        yield from sheet(draft, name)
    if any(f.check == "openings" for f in about):
        yield from openings(draft, name)
    if any(f.check == "feeding" and f.about[0] == name for f in about):
        yield from cut_flat(draft, name)
    moves = moves_of()
    if machine:
        shifts = [*moves.shifts(ground=ground), *aside(moves, name, about)]
        every = [*feet(draft, name, made, about), *shifts, *moves.turns()]
        yield from sorted(every, key=lambda step: step.order)
        return
    shifts = sorted([*moves.shifts(ground=ground), *aside(moves, name, about)], key=_trouble)
    yield from (step for step in shifts if not _is_far(step))
    turns = moves.turns()
    yield from (step for step in turns if not _is_far(step))
    yield from sorted(filter(_is_far, [*shifts, *turns]), key=_trouble)
    yield from smaller(file, draft, name, made, about)


def aside(moves: Moves, name: str, about: Sequence[Finding]) -> list[Step]:
    """Shifts out of the way of what is rolled past, by as much as that is too wide."""
    short = [
        f.error - f.margin
        for f in about
        if f.check == rolling.CHECK and f.margin is not None and f.about[0] != name
    ]
    return [step for more in SPARE for step in moves.aside(max(short) + more)] if short else []


def _trouble(step: Step) -> float:
    return step.trouble


def _is_far(step: Step) -> bool:
    return step.trouble > SHORT_SHIFT + TOLERANCE


def clears(step: Step, about: Sequence[Finding]) -> bool:
    """Whether nothing of this thing fails among the things concerned alone.

    What fails among a few things fails among all, so this spares the judge hopeless steps.
    """
    return not any(among(step, named_by(step, about, ()), costly(about)))


def costly(about: Sequence[Finding]) -> bool:
    """Whether a costly check is in question."""
    return any(f.check in COSTLY for f in about)


def named_by(step: Step, about: Sequence[Finding], lifted: Sequence[str]) -> frozenset[str]:
    """Things that the findings name, with the one that is changed and without what is lifted."""
    names = {step.thing, *(n for f in about for n in f.about)} - set(lifted)
    return frozenset(name for name in names if step.draft.shop.has(name))


def among(step: Step, few: frozenset[str], every: bool) -> Iterator[Finding]:
    """What fails of a changed thing among a few things alone, check after check.

    The costly ones are left out unless `every` check is asked.
    """
    shop = step.draft.shop
    layout = Layout({k: p for k, p in step.draft.layout.poses.items() if k[0] in few})
    made = scene(shop, layout, only=set(few))
    for name, check in QUICK:
        if name in GROUND or (name in COSTLY and not every):
            continue
        for found in check(made).findings:
            if found.verdict != "passes" and step.thing in found.about and counts(shop, found):
                yield found


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
