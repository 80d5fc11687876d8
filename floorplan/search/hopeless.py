"""Findings that no change of a single thing clears, even with everything else carried out.

Where nothing else stands a thing has the most room, so what cannot be cleared there cannot be
cleared anywhere, however many other things give way.  This is cheap and spares the whole search.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from floorplan.checks.finding import Finding
from floorplan.search.change import Draft
from floorplan.search.concerned import hard, movers
from floorplan.search.shift import Moves
from floorplan.search.steps import clears, in_turn
from floorplan.shop.model import Layout
from floorplan.shop.reader import ShopFile
from floorplan.shop.scene import scene


def hopeless(file: ShopFile, draft: Draft, failing: Sequence[Finding]) -> tuple[Finding, ...]:
    """Failing findings of few things that no step of one of these clears among them alone."""
    moves: dict[tuple[str, frozenset[str]], Moves] = {}
    return tuple(f for f in hard(failing) if not _can_be_cleared(file, draft, f, moves))


def _can_be_cleared(
    file: ShopFile,
    whole: Draft,
    found: Finding,
    known: dict[tuple[str, frozenset[str]], Moves],
) -> bool:
    few, draft = named_together(whole, found)
    made = scene(draft.shop, draft.layout, only=set(few))

    def moves(name: str) -> Moves:
        if (name, few) not in known:
            known[name, few] = Moves(draft, name)
        return known[name, few]

    return any(
        clears(step, (found,))
        for name in movers(draft, [found])
        for step in in_turn(file, draft, name, made, (found,), lambda name=name: moves(name))  # type: ignore[misc]
    )


def _only(layout: Layout, few: Iterable[str]) -> Layout:
    """The layout with a few things alone."""
    kept = set(few)
    return Layout({key: pose for key, pose in layout.poses.items() if key[0] in kept})


def named_together(whole: Draft, found: Finding) -> tuple[frozenset[str], Draft]:
    """The things that a finding names, and the shop with everything else carried out."""
    few = frozenset(name for name in found.about if whole.shop.has(name))
    return few, Draft(whole.shop, _only(whole.layout, few))
