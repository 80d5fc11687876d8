"""Findings about a shed, also those in units other than metres."""

from __future__ import annotations

from collections.abc import Callable

from shapely.geometry.base import BaseGeometry

from floorplan.checks.finding import Finding, FindingKind, rule_of, verdict_of
from floorplan.geometry.affine import Affine
from floorplan.rules.book import citation
from floorplan.shop.model import Shop

NAME = "shed"
"""Of the check."""
SHED = "shed"
"""What findings call it."""
CLOSE = 1e-9
"""Areas, levels and shares closer than this are equal, each in its own unit."""


def counted(
    shop: Shop,
    *,
    rule: str,
    about: tuple[str, ...],
    margin: Affine,
    needed: float,
    unit: str,
    message: str,
    show: Callable[[float], str],
    where: BaseGeometry | None,
    line: int,
    at_most: bool = True,
    kind: FindingKind | None = None,
) -> Finding:
    """A finding in a unit of its own; `show` writes an amount of it."""
    book_rule = rule_of(shop, rule)
    error = margin.error(shop.measurements)
    verdict = verdict_of(margin.value, error, CLOSE)
    if verdict == "unsure":
        drawn = "passes" if margin.value >= -CLOSE else "fails"
        message += (
            f"; too close to call: as drawn it {drawn} by {show(abs(margin.value))}, the tape "
            f"allows ± {show(error)}"
        )
    return Finding(
        check=NAME,
        rule=rule,
        kind=kind or ("advised" if book_rule.kind == "advised" else "required"),
        about=about,
        task=None,
        verdict=verdict,
        measured=needed - margin.value if at_most else needed + margin.value,
        needed=needed,
        margin=margin.value,
        error=error,
        unit=unit,
        certified=True,
        assumed=margin.assumed(shop.measurements),
        where=where,
        line=line or None,
        message=message,
        source=citation(book_rule),
        terms=dict(margin.terms),
    )


def unchecked(shop: Shop, *, rule: str, about: tuple[str, ...], message: str, line: int) -> Finding:
    """What nobody can say, because the file does not state what is needed for it."""
    book_rule = rule_of(shop, rule)
    return Finding(
        check=NAME,
        rule=rule,
        kind="advised" if book_rule.kind == "advised" else "required",
        about=about,
        task=None,
        verdict="unsure",
        measured=None,
        needed=None,
        margin=None,
        error=0.0,
        unit="m",
        certified=False,
        assumed=(),
        where=None,
        line=line or None,
        message=message,
        source=citation(book_rule),
    )
