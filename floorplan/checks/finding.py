"""What a check answers: a verdict, a margin with its error, and the place that proves it."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from functools import lru_cache
from math import isfinite
from typing import Literal

from shapely.geometry.base import BaseGeometry

from floorplan.geometry.affine import Affine
from floorplan.rules.book import Rule, citation
from floorplan.shop.model import Shop
from floorplan.units import (
    TOLERANCE,
    Rounding,
    System,
    at_least,
    format_area,
    format_length,
    have_and_need,
)

Verdict = Literal["passes", "fails", "unsure"]
FindingKind = Literal["required", "advised"]
NO_TERMS: Mapping[str, float] = {}

DEGREE_TOLERANCE = 1e-6
"""Angles closer than this are equal [deg]."""


@dataclass(frozen=True, slots=True)
class Finding:
    """One checked fact."""

    check: str
    rule: str
    kind: FindingKind
    about: tuple[str, ...]
    """Names of the things, doors and walls concerned."""
    task: str | None
    verdict: Verdict
    measured: float | None
    """What there is, in `unit`."""
    needed: float | None
    """What there should be at least, or at most, in `unit`."""
    margin: float | None
    """How much is to spare, negative when short, in `unit`."""
    error: float
    """Worst case of what the measured numbers may be off, in `unit`."""
    unit: str
    certified: bool
    assumed: tuple[str, ...]
    """Assumed numbers on which the margin depends."""
    where: BaseGeometry | None = field(repr=False)
    line: int | None
    message: str
    source: str
    terms: Mapping[str, float] = field(default_factory=lambda: NO_TERMS, repr=False)
    """Sensitivity of the margin to each measured number."""
    by_height: bool = False
    """True when heights, not plans, decide."""


@dataclass(frozen=True, slots=True)
class Measure:
    """A number by which layouts are compared."""

    value: float
    unit: str


@dataclass(frozen=True, slots=True)
class Answer:
    """What one check found."""

    findings: tuple[Finding, ...] = ()
    measures: Mapping[str, Measure] = field(default_factory=dict)


def verdict_of(margin: float, error: float, tolerance: float = TOLERANCE) -> Verdict:
    """The one place where a margin becomes a verdict.

    A margin that covers the error passes, one short by more than the error fails, between the
    two nobody can tell.  Without error, exactly enough passes.
    """
    if at_least(margin, error, tolerance):
        return "passes"
    return "unsure" if margin > -error + tolerance else "fails"


def rule_of(shop: Shop, rule_id: str) -> Rule:
    """The rule as this shop has it."""
    return shop.rules[rule_id]


def finding(
    shop: Shop,
    *,
    check: str,
    rule: str,
    about: Iterable[str],
    margin: Affine,
    needed: float,
    message: str,
    where: BaseGeometry | None,
    task: str | None = None,
    kind: FindingKind | None = None,
    at_most: bool = False,
    unit: str = "m",
    line: int | None = None,
    by_height: bool = False,
    certified: bool = True,
) -> Finding:
    """A finding whose verdict, error and assumed sizes follow from its margin.

    `message` may hold `{have}`, `{need}`, `{spare}`: lengths rounded so that a "have" never looks
    larger than it is.  `needed` and `margin` are in `unit`; `at_most` turns the measured value to
    the other side of the needed one.  What is not `certified` neither passes nor fails.
    """
    book_rule = rule_of(shop, rule)
    error = margin.error(shop.measurements)
    tolerance = TOLERANCE if unit == "m" else DEGREE_TOLERANCE
    verdict = verdict_of(margin.value, error, tolerance)
    sure = certified or verdict == "unsure"
    if not sure:
        verdict = "unsure"
    measured = needed - margin.value if at_most else needed + margin.value
    chosen: FindingKind = kind or ("advised" if book_rule.kind == "advised" else "required")
    return Finding(
        check=check,
        rule=rule,
        kind=chosen,
        about=tuple(dict.fromkeys(about)),
        task=task,
        verdict=verdict,
        measured=measured,
        needed=needed,
        margin=margin.value,
        error=error,
        unit=unit,
        certified=certified,
        assumed=margin.assumed(shop.measurements),
        where=where,
        line=line or None,
        message=_worded(
            shop, message, (measured, needed), margin.value, error, verdict, unit, at_most
        )
        + ("" if sure else "; not certified, it may be more"),
        source=citation(book_rule),
        terms=dict(margin.terms),
        by_height=by_height,
    )


def _worded(
    shop: Shop,
    message: str,
    numbers: tuple[float, float],
    margin: float,
    error: float,
    verdict: Verdict,
    unit: str,
    at_most: bool,
) -> str:
    measured, needed = numbers
    words: dict[str, str] = {}
    if unit != "m":
        words = {
            "have": f"{measured:.1f}°",
            "need": f"{needed:.1f}°",
            "spare": f"{abs(margin):.1f}°",
        }
    elif "{have}" in message or "{need}" in message:
        # what is there must not look better than it is: less for "at least", more for "at most"
        first, last = _two_lengths(*((needed, measured) if at_most else numbers), shop.system)
        words = {"have": last, "need": first} if at_most else {"have": first, "need": last}
    close = verdict == "unsure" and abs(margin) < error + TOLERANCE and error > 0
    if unit == "m" and (close or "{spare}" in message):
        words["spare"] = amount(shop, abs(margin), rounding="down" if margin >= 0 else "up")
    text = message.format(**words)
    if close:
        drawn = "passes" if margin >= -TOLERANCE else "fails"
        off = amount(shop, error, rounding="up") if unit == "m" else f"{error:.1f}°"
        text += (
            f"; too close to call: as drawn it {drawn} by {words['spare']}, the tape allows ± {off}"
        )
    return text


_two_lengths = lru_cache(maxsize=4096)(have_and_need)
_one_length = lru_cache(maxsize=4096)(format_length)


def amount(shop: Shop, metres: float, rounding: Rounding = "nearest") -> str:
    """A length in the user's system [m]."""
    return _one_length(metres, shop.system, rounding=rounding)


def measure_text(measure: Measure, system: System) -> str:
    """A measure in the user's units; what is not finite has no way."""
    if not isfinite(measure.value):
        return "no way"
    if measure.unit == "m2":
        return format_area(measure.value, system)
    if measure.unit == "m":
        # a room to spare is never shown larger than it is; a walk is rounded as one says it
        rounding: Rounding = "down" if abs(measure.value) < 3.0 else "nearest"
        return format_length(measure.value, system, rounding=rounding)
    if measure.unit == "1":
        return f"{measure.value:.0%}"
    return f"{measure.value:.3g} {measure.unit}".rstrip()


SEVERITY: dict[tuple[str, str], int] = {
    ("required", "fails"): 0,
    ("required", "unsure"): 1,
    ("advised", "fails"): 2,
    ("advised", "unsure"): 3,
    ("required", "passes"): 4,
    ("advised", "passes"): 5,
}


def worst_first(findings: Iterable[Finding]) -> tuple[Finding, ...]:
    """Failing required ones first, within each rank the least margin first."""
    return tuple(
        sorted(
            findings,
            key=lambda f: (
                SEVERITY[f.kind, f.verdict],
                f.margin if f.margin is not None else 0.0,
                f.check,
                f.about,
                f.task or "",
            ),
        )
    )


def overall(findings: Iterable[Finding]) -> Verdict:
    """Fails if a required finding fails, else unsure if one is unsure, else passes."""
    verdicts = {f.verdict for f in findings if f.kind == "required"}
    if "fails" in verdicts:
        return "fails"
    return "unsure" if "unsure" in verdicts else "passes"
