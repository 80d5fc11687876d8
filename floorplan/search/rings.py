"""Who has to wait for whom, and the rings in which nobody can go first."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from floorplan.search.trips import TODAY, WANTED, Standing, Trips


@dataclass(frozen=True, slots=True)
class Wait:
    """A thing that surely cannot go while others stand where they stand."""

    thing: str
    behind: tuple[str, ...]
    """It has no way while all of these stand where they are today; empty: it never has one."""


def waits_of(trips: Trips, start: Sequence[int]) -> tuple[Wait, ...]:
    """For each thing that surely cannot go first, what keeps it."""
    now = frozenset(enumerate(start))
    out = []
    for number, name in enumerate(trips.names):
        sets = trips.shut.get((number, TODAY, WANTED), ())
        holding = [some for some in sets if some <= now]
        if holding:
            fewest = min(holding, key=lambda some: (len(some), sorted(some)))
            out.append(Wait(name, tuple(trips.names[i] for i, _ in sorted(fewest))))
    return tuple(out)


def ring_of(trips: Trips) -> tuple[str, ...]:
    """Things that wait each for the next and the last for the first; empty when none is proved.

    One that has no way while another stands at its place of today waits for it; one that has none
    once another stands at its new place has to go before that.
    """
    after: dict[int, set[int]] = {}
    for (number, start, goal), sets in trips.shut.items():
        if (start, goal) != (TODAY, WANTED):
            continue
        for some in sets:
            if len(some) == 1:
                ((other, place),) = some
                _note(after, number, (other, place))
    best: tuple[int, ...] = ()
    for first in sorted(after):
        ring = _shortest_ring(after, first)
        if ring and (not best or len(ring) < len(best)):
            best = ring
    return tuple(trips.names[i] for i in best)


def _note(after: dict[int, set[int]], number: int, other: Standing) -> None:
    if other[1] == TODAY:
        after.setdefault(number, set()).add(other[0])
    elif other[1] == WANTED:
        after.setdefault(other[0], set()).add(number)


def _shortest_ring(after: dict[int, set[int]], first: int) -> tuple[int, ...]:
    """Breadth first from a thing along those it waits for, back to itself."""
    paths: list[tuple[int, ...]] = [(first,)]
    seen = {first}
    while paths:
        path = paths.pop(0)
        for other in sorted(after.get(path[-1], ())):
            if other == first:
                return path
            if other not in seen:
                seen.add(other)
                paths.append((*path, other))
    return ()
