"""What would put a shop right, as data and in words."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from pathlib import Path
from textwrap import fill

from floorplan.report.data import Data, finding, number
from floorplan.report.stages import staged_headline
from floorplan.report.text import headline, tail
from floorplan.report.words import WIDTH
from floorplan.search.change import Change, Step
from floorplan.search.fix import Fixes
from floorplan.search.fix_stages import StagedChange, StagedFixes
from floorplan.search.unmet import Clash


def fix_data(found: Fixes) -> Data:
    """The blocks `fix` and `clash`."""
    return {
        "fix": [_change(change) for change in found.changes],
        "clash": None if found.clash is None else _clash(found.clash),
        "stopped_after": found.stopped_after or None,
    }


def staged_fix_data(found: StagedFixes) -> Data:
    """The same for a plan, with the stage of the clash."""
    return {
        "fix": [_change(change) for change in found.changes],
        "clash": None if found.clash is None else {**_clash(found.clash), "stage": found.stage},
        "stopped_after": found.stopped_after or None,
    }


def _change(change: Change | StagedChange) -> Data:
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
        lines += _change_lines(found.changes, "it was put through every check")
    elif found.clash is not None:
        lines += _clash_lines(found.clash)
    elif found.today.failing:
        lines.append("No change tried makes it pass.")
    else:
        lines.append("Nothing has to be changed.")
    lines += _stopped(found.stopped_after)
    last = found.changes[0].verified if found.changes else found.today
    lines += _left_out(last.scene.absent)
    lines += tail(last.shop, last.assumed, cautions, files)
    return "\n".join(lines) + "\n"


def staged_fix_text(found: StagedFixes, cautions: Iterable[str], files: Iterable[Path]) -> str:
    """The answer of `fix` for a plan: what holds at every stage."""
    shop = found.today.shop
    lines = [fill(staged_headline(found.today, shop.name), WIDTH), ""]
    if found.changes:
        lines += _change_lines(found.changes, "it was put through every check of every stage")
    elif found.clash is not None:
        lines += [f"At stage {found.stage}:", *_clash_lines(found.clash)]
    elif found.today.verdict != "passes":
        lines.append("No change tried makes it pass at every stage.")
        lines.append(ARRANGE)
    else:
        lines.append("Nothing has to be changed.")
    lines += _stopped(found.stopped_after)
    last = found.changes[0].verified if found.changes else found.today
    lines += _left_out(name for made in last.stages for name in made.scene.absent)
    assumed = sorted({name for made in last.stages for name in made.assumed})
    lines += tail(shop, assumed, cautions, files)
    return "\n".join(lines) + "\n"


def _stopped(after: int) -> Iterator[str]:
    """That the bound on the work was reached, so that something smaller may have been missed."""
    if after:
        yield ""
        yield fill(
            f"The search stopped at its bound, after {after} layout{'' if after == 1 else 's'} "
            "put to the checks: a smaller "
            "change may be there that it did not come to.",
            WIDTH,
        )


def _left_out(absent: Iterable[str]) -> Iterator[str]:
    """Things that no check has seen, since nobody said where they go."""
    names = list(dict.fromkeys(absent))
    if names:
        yield ""
        yield fill(f"Left out, having no place yet: {', '.join(names)}", WIDTH)


ARRANGE = "`arrange` may still find a layout by moving everything that may be moved."


def _change_lines(changes: Sequence[Change | StagedChange], through: str) -> Iterator[str]:
    many = len(changes) > 1
    which = "Any one of these" if many else "This"
    yield f"{which} makes it pass; {through.replace('it was', 'each was') if many else through}:"
    for count, change in enumerate(changes, 1):
        yield fill(f"{count:>3}. {change.text}", WIDTH, subsequent_indent="     ")


def _clash_lines(clash: Clash) -> Iterator[str]:
    yield fill(f"No change tried makes it pass; {_together(clash)}", WIDTH)
    for count, demand in enumerate(clash.demands, 1):
        place = f" [line {demand.finding.line}]" if demand.finding.line else ""
        text = f"{count:>3}. {demand.finding.message}{place}"
        yield fill(text, WIDTH, subsequent_indent="     ")
        if demand.without and len(clash.demands) > 1:
            yield fill(f"     without it: {demand.without}", WIDTH, subsequent_indent="     ")
    if not clash.alone:
        yield ARRANGE


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
        return f"no change of one or two things was found to meet this{away}:"
    return (
        f"no change of one or two things was found to meet all of these{away}; dropping any one "
        "frees the rest:"
    )
