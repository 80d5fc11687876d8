"""Findings as numbered notes: the same number stands on the plan and in the list beside it."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from shapely.geometry.base import BaseGeometry

from floorplan.checks.finding import Finding, worst_first
from floorplan.units import System, have_and_need

HEADINGS: dict[tuple[str, str], str] = {
    ("required", "fails"): "Fails",
    ("required", "unsure"): "Too close to call",
    ("advised", "fails"): "Advice not met",
    ("advised", "unsure"): "Advice, too close to call",
}


@dataclass(frozen=True, slots=True)
class Note:
    """One finding that does not pass, or several that say the same."""

    number: int
    kind: str
    verdict: str
    text: str
    tasks: tuple[str, ...]
    places: tuple[BaseGeometry, ...]

    @property
    def heading(self) -> str:
        """Under which heading it is listed."""
        return HEADINGS[self.kind, self.verdict]


def notes(findings: Iterable[Finding], system: System) -> tuple[Note, ...]:
    """Findings that do not pass, worst first; those with the same words become one note."""
    groups: dict[tuple[str, str, str], list[Finding]] = {}
    for found in worst_first(findings):
        if found.verdict != "passes":
            key = (found.kind, found.verdict, in_words(found, system))
            groups.setdefault(key, []).append(found)
    out = []
    for number, ((kind, verdict, text), same) in enumerate(groups.items(), start=1):
        tasks = tuple(dict.fromkeys(f.task for f in same if f.task))
        places: dict[str, BaseGeometry] = {}
        for f in same:
            if f.where is not None and not f.where.is_empty:
                places.setdefault(f.where.wkb_hex, f.where)
        out.append(Note(number, kind, verdict, text, tasks, tuple(places.values())))
    return tuple(out)


def in_words(found: Finding, system: System) -> str:
    """The message, with have and need added where it tells of neither."""
    text = found.message
    if found.unit == "m" and found.measured is not None and found.needed:
        at_most = found.margin is not None and found.margin * (found.measured - found.needed) < 0
        if at_most:
            need, have = have_and_need(found.needed, found.measured, system)
        else:
            have, need = have_and_need(found.measured, found.needed, system)
        if have not in text and need not in text:
            text += f" (have {have}, need {need})"
    return text
