"""What would put a shop right, as data and in words."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from pathlib import Path
from textwrap import fill

from floorplan.report.data import Data, finding, number
from floorplan.report.text import headline, tail
from floorplan.report.words import WIDTH
from floorplan.search.change import Change, Step
from floorplan.search.fix import Fixes
from floorplan.search.unmet import Clash


def fix_data(found: Fixes) -> Data:
    """The blocks `fix` and `clash`."""
    return {
        "fix": [_change(change) for change in found.changes],
        "clash": None if found.clash is None else _clash(found.clash),
    }


def _change(change: Change) -> Data:
    first = change.steps[0]
    return {
        "kind": " and ".join(dict.fromkeys(step.kind for step in change.steps)),
        "thing": " and ".join(dict.fromkeys(step.thing for step in change.steps)),
        "by": number(first.by) if len(change.steps) == 1 else None,
        "unit": first.unit if len(change.steps) == 1 else "",
        "verified": change.verified.verdict == "passes",
        "text": change.text,
        "steps": [_step(step) for step in change.steps],
    }


def _step(step: Step) -> Data:
    return {
        "kind": step.kind,
        "thing": step.thing,
        "by": number(step.by),
        "unit": step.unit,
        "text": step.text,
    }


def _clash(clash: Clash) -> Data:
    return {
        "smallest": clash.smallest,
        "alone": clash.alone,
        "demands": [
            {"finding": finding(demand.finding), "without": demand.without}
            for demand in clash.demands
        ],
    }


def fix_text(found: Fixes, cautions: Iterable[str], files: Iterable[Path]) -> str:
    """The answer of `fix`."""
    lines = [fill(headline(found.today, found.today.shop.name), WIDTH), ""]
    if found.changes:
        lines.append("Any one of these makes it pass; each was put through every check:")
        for count, change in enumerate(found.changes, 1):
            lines.append(fill(f"{count:>3}. {change.text}", WIDTH, subsequent_indent="     "))
    elif found.clash is not None:
        lines += _clash_lines(found.clash)
    elif found.today.failing:
        lines.append("No change tried makes it pass.")
    else:
        lines.append("Nothing has to be changed.")
    last = found.changes[0].verified if found.changes else found.today
    lines += tail(last.shop, last.assumed, cautions, files)
    return "\n".join(lines) + "\n"


def _clash_lines(clash: Clash) -> Iterator[str]:
    yield fill(f"No change tried makes it pass; {_together(clash)}", WIDTH)
    for count, demand in enumerate(clash.demands, 1):
        place = f" [line {demand.finding.line}]" if demand.finding.line else ""
        text = f"{count:>3}. {demand.finding.message}{place}"
        yield fill(text, WIDTH, subsequent_indent="     ")
        if demand.without and len(clash.demands) > 1:
            yield fill(f"     without it: {demand.without}", WIDTH, subsequent_indent="     ")
    if not clash.alone:
        yield "`arrange` may still find a layout by moving everything that may be moved."


def _together(clash: Clash) -> str:
    """What is known of a clash, in words."""
    count = len(clash.demands)
    away = " even with everything else carried out" if clash.alone else ""
    if not clash.smallest:
        return (
            f"no change of one or two things was found to meet all of these{away}; "
            "found, not proved smallest:"
        )
    if count == 1:
        return f"changing one or two things cannot meet this{away}:"
    return (
        f"changing one or two things cannot meet all of these{away}, and dropping any one "
        "frees the rest:"
    )
