"""Which things have a part in what fails, and could put it right."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from floorplan.checks.finding import Finding
from floorplan.search.change import Draft
from floorplan.search.shed_shift import is_shed

GROUND = frozenset(
    {"way-out", "walking", "rolling", "break-down", "open-floor", "reach", "lay-out"}
)
"""Checks of the whole floor: many things can put them right, not only those they name."""


def is_door(draft: Draft, name: str) -> bool:
    """Whether a name is that of a door of the room."""
    return any(door.name == name for door in draft.shop.doors)


def hard(failing: Sequence[Finding]) -> list[Finding]:
    """Failing findings that only the things they name can put right."""
    return [f for f in failing if f.check not in GROUND]


def movers(draft: Draft, failing: Sequence[Finding]) -> list[str]:
    """Things and doors named by findings that may be changed."""
    names = dict.fromkeys(name for f in failing for name in f.about)
    return [
        name
        for name in names
        if is_door(draft, name)
        or is_shed(draft, name)
        or (draft.shop.has(name) and not draft.shop.thing(name).fixed)
    ]


def common(draft: Draft, failing: Sequence[Finding]) -> list[str]:
    """What has a part in every failing pair: only that can put all right alone."""
    tied = hard(failing)
    names = movers(draft, tied or failing)
    return [name for name in names if all(name in f.about for f in tied)]


def pairs(draft: Draft, failing: Sequence[Finding]) -> Iterator[tuple[str, str]]:
    """Two things that together have a part in every failing pair."""
    pivot = min(hard(failing) or failing, key=lambda f: len(movers(draft, [f])))
    everything = [
        thing.name
        for thing in draft.shop.things
        if not thing.fixed and thing.freedom.moves and draft.layout.pose(thing.name) is not None
    ]
    for first in movers(draft, [pivot]):
        rest = [f for f in hard(failing) if first not in f.about]
        # alone it was not enough: what stands where it could go may have to give way
        named = common(draft, rest) if rest else beside(draft, first, everything)
        for second in named:
            if second != first:
                yield first, second
                yield second, first


def beside(draft: Draft, name: str, names: Sequence[str]) -> list[str]:
    """Things that may move, the nearest first."""
    here = draft.layout.pose(name)
    if here is None:
        return []

    def away(other: str) -> float:
        pose = draft.layout.pose(other)
        assert pose is not None
        return float(abs(pose.x.value - here.x.value) + abs(pose.y.value - here.y.value))

    return sorted((n for n in names if n != name), key=away)[:6]
