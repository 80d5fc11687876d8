"""Results in plain words for a terminal: the headline, findings worst first, measures, cautions."""

from __future__ import annotations

from collections.abc import Container, Iterable, Iterator, Mapping, Sequence
from pathlib import Path
from textwrap import fill

from floorplan.checks.finding import Finding, measure_text
from floorplan.checks.judge import Judgement, laid_out
from floorplan.checks.judge_beside import Beside
from floorplan.report.laid_out import laid_lines
from floorplan.report.lasting import beside_lines
from floorplan.report.trust import trust_lines
from floorplan.report.words import WIDTH
from floorplan.search.arrange import Arrangement
from floorplan.search.rank import Ranked
from floorplan.search.trust import Trust
from floorplan.shop.model import Shop
from floorplan.units import format_exact

WORDS = {
    ("required", "fails"): "FAIL",
    ("required", "unsure"): "UNSURE",
    ("required", "passes"): "ok",
    ("advised", "fails"): "advice",
    ("advised", "unsure"): "advice?",
    ("advised", "passes"): "ok",
}


def headline(judgement: Judgement, what: str) -> str:
    """The verdict in one line; never a bare yes."""
    failing = [f for f in judgement.failing if f.verdict == "fails"]
    unsure = [f for f in judgement.failing if f.verdict == "unsure"]
    if judgement.verdict == "fails":
        text = f"{what} FAILS: {_count(failing, 'required rule')} not met"
        if unsure:
            text += f", {len(unsure)} too close to call"
    elif judgement.verdict == "unsure":
        text = f"{what} is UNSURE: {_count(unsure, 'required rule')} too close to call"
    elif not any(f.kind == "required" for f in judgement.findings):
        text = f"{what}: nothing stands in it yet that could be checked"
    else:
        tight = tightest(judgement)
        text = f"{what} passes"
        if judgement.assumed:
            text += f" on {_count(judgement.assumed, 'assumed size')}"
        if tight is not None:
            text += f"; tightest: {tight.message}"
    if judgement.scene.absent:
        text += f"; left out, no place yet: {', '.join(judgement.scene.absent)}"
    return text


def tightest(judgement: Judgement) -> Finding | None:
    """The required finding with the least to spare beyond its error, contact left aside."""
    rows = [
        f
        for f in judgement.findings
        if f.kind == "required" and f.unit == "m" and f.margin is not None and f.margin > 1e-4
    ]
    return min(rows, key=lambda f: (f.margin or 0.0) - f.error, default=None)


def _count(rows: Iterable[object], noun: str) -> str:
    n = len(list(rows))
    return f"{n} {noun}{'' if n == 1 else 's'}"


def finding_lines(found: Finding, number: int) -> Iterator[str]:
    """One finding over as many lines as it takes."""
    word = WORDS[found.kind, found.verdict]
    place = f" [line {found.line}]" if found.line else ""
    task = f" ({found.task})" if found.task else ""
    yield fill(
        f"{number:>3}. {word}: {found.message}{task}{place}",
        WIDTH,
        subsequent_indent="     ",
    )
    if found.verdict != "passes":
        yield fill(f"     rule {found.rule}: {found.source}", WIDTH, subsequent_indent="     ")
        if found.assumed:
            yield fill(
                f"     assumed: {', '.join(found.assumed)}", WIDTH, subsequent_indent="     "
            )


def check_text(
    judgement: Judgement,
    cautions: Iterable[str],
    files: Iterable[Path],
    *,
    trusted: Trust | None = None,
    remedies: Mapping[int, str] | None = None,
    beside: Sequence[Beside] = (),
) -> str:
    """The answer of `check`; `remedies` are the least changes by identity of the finding."""
    lines = [fill(headline(judgement, judgement.shop.name), WIDTH), ""]
    worst = [f for f in judgement.findings if f.verdict != "passes"]
    for number, found in enumerate(worst, 1):
        lines.extend(finding_lines(found, number))
        remedy = (remedies or {}).get(id(found))
        if remedy:
            lines.append(fill(f"     cleared by: {remedy}", WIDTH, subsequent_indent="     "))
    passed = len(judgement.findings) - len(worst)
    lines.append(f"{passed} further checked facts pass.")
    lines.append("")
    lines.extend(measure_lines(judgement))
    lines.extend(laid_lines(judgement.shop, laid_out(judgement.scene)))
    lines.extend(beside_lines(judgement.shop, beside))
    if trusted is not None:
        lines.extend(trust_lines(trusted, judgement.shop.system))
    lines.extend(tail(judgement.shop, judgement.assumed, cautions, files))
    return "\n".join(lines) + "\n"


def measure_lines(judgement: Judgement) -> Iterator[str]:
    """Measures, one a line."""
    for name, measure in judgement.measures.items():
        yield f"  {name}: {measure_text(measure, judgement.shop.system)}"


def tail(
    shop: Shop, assumed: Iterable[str], cautions: Iterable[str], files: Iterable[Path]
) -> Iterator[str]:
    """What was assumed, what the user changed, cautions and files."""
    names = list(assumed)
    if names:
        yield ""
        yield fill(f"Assumed, not measured: {', '.join(names)}", WIDTH, subsequent_indent="  ")
    for rule in shop.rules.changed:
        what = "switched off" if rule.off else f"set to {rule.text}, {rule.kind}"
        place = f" (line {rule.line})" if rule.line else ""
        yield f"Your rules: {rule.id} is {what}{place}"
    for note in shop.notes:
        yield fill(f"Note: {note}", WIDTH, subsequent_indent="  ")
    yield ""
    for caution in cautions:
        yield fill(f"! {caution}", WIDTH, subsequent_indent="  ")
    paths = [str(f) for f in files]
    if paths:
        yield ""
        yield "Drawn: " + "\n       ".join(paths)


def arrange_text(found: Arrangement, cautions: Iterable[str], files: Iterable[Path]) -> str:
    """The answer of `arrange`."""
    lines: list[str] = []
    shop = found.today.shop
    if found.interrupted:
        lines.append("Interrupted: the best found so far.")
    if found.note:
        lines.append(fill(found.note[0].upper() + found.note[1:] + ".", WIDTH))
    if found.clash:
        lines.append(
            fill(
                "As far as was found these cannot all be met; dropping any one of them ends this "
                "clash, and there may be others: " + "; ".join(found.clash),
                WIDTH,
                subsequent_indent="  ",
            )
        )
    lines.append(fill(headline(found.today, "Today's layout"), WIDTH))
    lines.append("")
    for layout in found.layouts:
        lines.extend(_layout_lines(layout))
    assumed = sorted({name for layout in found.layouts for name in layout.judgement.assumed})
    lines.extend(tail(shop, assumed, cautions, files))
    return "\n".join(lines) + "\n"


def _layout_lines(layout: Ranked) -> Iterator[str]:
    made = layout.judgement
    mark = "  (another one shown is as good in everything)" if layout.dominated else ""
    yield fill(headline(made, f"Rank {layout.rank}"), WIDTH) + mark
    yield fill(f"  {layout.reason}", WIDTH, subsequent_indent="  ")
    if layout.best_for:
        yield f"  best for: {', '.join(layout.best_for)}"
    shown = (*made.failing, *made.wishes[:5])
    for number, found in enumerate(shown, 1):
        yield from finding_lines(found, number)
    yield from measure_lines(made)
    yield "  places, west and south points of each body from the room's origin:"
    yield from place_lines(made, {thing for thing, _ in made.layout.poses})
    yield ""


def place_lines(made: Judgement, names: Container[str]) -> Iterator[str]:
    """Where things stand, one a line."""
    for (thing, place), pose in made.layout.poses.items():
        if thing not in names:
            continue
        where = "" if place == "standing" else f" ({place})"
        x, y = (format_exact(v.value, made.shop.system) for v in (pose.x, pose.y))
        yield f"    {thing + where:<26} x {x:<14} y {y:<14} turn {pose.turn:g}"
