"""When no change helps: the smallest set of findings that clash, and what dropping each frees."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from floorplan.checks.finding import Finding

Key = tuple[str, str, tuple[str, ...], str | None, int | None]
"""What makes a finding the same finding in another layout."""


@dataclass(frozen=True, slots=True, eq=False)
class Demand:
    """One rule of the clash, and what becomes possible without it."""

    finding: Finding
    without: str
    """The change that makes all the rest of the clash pass once this rule is dropped; empty when
    that was not found out."""


@dataclass(frozen=True, slots=True, eq=False)
class Clash:
    """Rules that no change tried can meet together; each of them is needed for that."""

    demands: tuple[Demand, ...]
    smallest: bool = True
    """False when patience ran out: then some that were not tried may be no part of it."""
    alone: bool = False
    """Each demand by itself cannot be met, even with everything else carried out."""


class OutOfPatience(Exception):  # noqa: N818 - no error, a limit of work
    """Too much was tried already."""


def key_of(found: Finding) -> Key:
    """Names the finding whatever stands in its way: rule, whose it is, task and line."""
    return (found.check, found.rule, found.about[:1], found.task, found.line)


def smallest_clash(
    failing: Sequence[Finding], frees: Callable[[frozenset[Key]], str | None]
) -> Clash | None:
    """Leave out one finding after the other; what cannot be left out is the clash.

    `frees` is given findings that need not be met and says how the others can be, or None.  The
    set is smallest in that no finding of it can be spared: each was tried, and freed it.
    """
    ordered = {key_of(f): f for f in failing}
    kept = dict(ordered)
    freed: dict[Key, str] = {}
    try:
        for key in list(reversed(kept)):
            how = frees(frozenset((set(ordered) - set(kept)) | {key}))
            if how is None:
                del kept[key]
            else:
                freed[key] = how  # it stays true when more of the others are left out
    except OutOfPatience:
        pass  # what is left is told as not proved smallest
    demands = tuple(Demand(found, freed.get(key, "")) for key, found in kept.items())
    return Clash(demands, all(demand.without for demand in demands)) if demands else None
