"""The whole answer as one page to read or print: no file beside it, no request to anywhere."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from html import escape
from pathlib import Path
from string import Template

from floorplan.checks.feet import FeetAnswer, FeetError, feet_of
from floorplan.checks.finding import Finding, measure_text
from floorplan.checks.judge import Judgement
from floorplan.checks.way_words import way_sentences, way_title
from floorplan.drawing.inline import inline_svg, plan_alone
from floorplan.drawing.notes import in_words, notes
from floorplan.drawing.plan import SMALL
from floorplan.report.feet import feet_head, feet_sentences
from floorplan.report.sheet import SheetAnswer, support_sentences
from floorplan.report.text import headline
from floorplan.report.trust import percent
from floorplan.search.arrange import Arrangement
from floorplan.search.rank import Ranked
from floorplan.search.trust import Trust
from floorplan.shop.edit import write_beside_then_replace
from floorplan.units import System, format_exact, format_length

NAME = "report.html"


@dataclass(frozen=True, eq=False)
class Report:
    """What the page tells."""

    judgement: Judgement
    trust: Trust
    arrangement: Arrangement | None = None
    """Ranked layouts, when they were asked for."""
    cautions: tuple[str, ...] = ()


def write_report(report: Report, out_dir: str | Path) -> tuple[Path, ...]:
    """`out_dir/report.html`. Raises OSError."""
    path = Path(out_dir) / NAME
    path.parent.mkdir(parents=True, exist_ok=True)
    write_beside_then_replace(path, report_page(report).encode("utf-8"))
    return (path,)


def report_page(report: Report) -> str:
    """The page as text; the same report gives the same page."""
    frame = Template((Path(__file__).parent / "page.html").read_text(encoding="utf-8"))
    shop = report.judgement.shop
    parts = [
        *_question(report),
        *_findings(report.judgement),
        *_layouts(report.arrangement),
        *_sheets(report.judgement),
        *_feet(report.judgement),
        *_again(report.trust, shop.system),
        *_sources(report.judgement.findings),
        *_cautions(report),
    ]
    return frame.substitute(title=escape(f"{shop.name}: report"), body="\n".join(parts))


# --- pieces of the page ------------------------------------------------------------------------


def _tag(name: str, text: str, kind: str = "") -> str:
    attribute = f' class="{kind}"' if kind else ""
    return f"<{name}{attribute}>{escape(text)}</{name}>"


def _list(items: Iterable[str]) -> str:
    return "\n".join(["<ul>", *(_tag("li", item) for item in items), "</ul>"])


def _table(caption: str, head: Sequence[str], rows: Iterable[Sequence[str]]) -> str:
    """A table that scrolls by itself where the page is narrow; numbers after the first column."""
    lines = ['<div class="wide" tabindex="0" role="region" aria-label="' + escape(caption) + '">']
    lines += ["<table>", _tag("caption", caption), "<tr>"]
    lines += [f'<th scope="col">{escape(cell)}</th>' for cell in head]
    lines.append("</tr>")
    for first, *rest in rows:
        cells = "".join(_tag("td", cell, "number") for cell in rest)
        lines.append(f'<tr><th scope="row">{escape(first)}</th>{cells}</tr>')
    return "\n".join([*lines, "</table>", "</div>"])


# --- sections ------------------------------------------------------------------------------------


def _question(report: Report) -> Iterator[str]:
    judgement = report.judgement
    shop = judgement.shop
    yield _tag("h1", f"Does {shop.name} work as it stands?")
    if shop.date:
        yield _tag("p", shop.date)
    for text in shop.notes:
        yield _tag("p", text[0].upper() + text[1:])
    kind = "verdict" if judgement.verdict == "passes" else "verdict fails"
    yield _tag("p", headline(judgement, shop.name), kind)


def _findings(judgement: Judgement) -> Iterator[str]:
    system = judgement.shop.system
    listed = notes(judgement.findings, system)
    yield _tag("h2", "Findings")
    page = plan_alone(judgement, f"Plan of {judgement.shop.name} as it stands")
    standing = ", ".join(judgement.scene.things)
    yield inline_svg(
        page,
        "plan",
        f"Seen from above, north up. It stands: {standing}. "
        f"{len(listed)} numbered findings are marked.",
    )
    first = {in_words(f, system): f for f in reversed(judgement.findings)}
    if listed:
        yield '<ol class="findings">'
    for note in listed:
        found = first[note.text]
        tasks = f" ({', '.join(note.tasks)})" if note.tasks else ""
        line = f" [line {found.line}]" if found.line else ""
        yield (
            f"<li><strong>{escape(note.heading)}:</strong> {escape(note.text + tasks + line)}"
            f'<br><span class="source">{escape(f"rule {found.rule}: {found.source}")}</span></li>'
        )
    if listed:
        yield "</ol>"
    passed = sum(found.verdict == "passes" for found in judgement.findings)
    yield _tag("p", f"{passed} checked facts pass.")
    rows = [(name, measure_text(m, system)) for name, m in judgement.measures.items()]
    if rows:
        yield _table("Measures", ("measure", "value"), rows)


def _layouts(found: Arrangement | None) -> Iterator[str]:
    if found is None:
        return
    yield _tag("h2", "Ranked layouts")
    if found.note:
        yield _tag("p", found.note[0].upper() + found.note[1:] + ".")
    if found.clash:
        yield _tag("p", f"These cannot all be met, as far as was found: {'; '.join(found.clash)}.")
    if not found.layouts:
        yield _tag("p", "No layout was found.")
        return
    for ranked in found.layouts:
        yield from _layout(ranked)
    yield _measures_table(found)


def _layout(ranked: Ranked) -> Iterator[str]:
    made = ranked.judgement
    system = made.shop.system
    yield _tag("h3", f"Layout {ranked.rank}")
    yield _tag("p", headline(made, f"Rank {ranked.rank}"))
    best = f" Best for {', '.join(ranked.best_for)}." if ranked.best_for else ""
    yield _tag("p", f"{ranked.reason}{best}")
    page = plan_alone(made, f"Layout {ranked.rank}", detail=SMALL)
    yield inline_svg(page, f"layout-{ranked.rank}", f"Layout {ranked.rank} from above, north up.")
    rows = []
    for (thing, place), pose in made.layout.poses.items():
        x, y = (format_exact(round(v.value, 6), system) for v in (pose.x, pose.y))
        where = "" if place == "standing" else f", {place}"
        rows.append((thing + where, x, y, f"{pose.turn:g}°"))
    caption = f"Places in layout {ranked.rank}, from the room's origin"
    yield _table(caption, ("thing", "x", "y", "turn"), rows)


def _measures_table(found: Arrangement) -> str:
    system = found.today.shop.system
    judgements = [found.today, *(ranked.judgement for ranked in found.layouts)]
    names = dict.fromkeys(name for j in judgements for name in j.measures)
    rows = [
        (
            name,
            *(measure_text(j.measures[name], system) if name in j.measures else "-"
              for j in judgements),
        )
        for name in names
    ]  # fmt: skip
    head = ("measure", "today", *(f"layout {ranked.rank}" for ranked in found.layouts))
    return _table("Measures of today and of each layout", head, rows)


def _sheets(judgement: Judgement) -> Iterator[str]:
    answer = SheetAnswer(judgement)
    if not (answer.ways or answer.fed or answer.left_out):
        return
    made = judgement.scene
    yield _tag("h2", "The way of sheets")
    for way, helped in answer.ways:
        yield _tag("h3", f"{way.job}: {way_title(way)}")
        yield _list(way_sentences(made, way, helped))
    for what in answer.left_out:
        yield _tag("p", f"Not answered, an end has no place in this layout: {what}.")
    for one in answer.fed:
        feed = one.feed
        yield _tag("h3", f"{one.job}: {feed.stock} ({feed.cut}) through {feed.machine}")
        yield _list(support_sentences(made, one))


def _feet(judgement: Judgement) -> Iterator[str]:
    footed = [thing.name for thing in judgement.shop.things if thing.feet is not None]
    if not footed:
        return
    yield _tag("h2", "Levelling feet")
    for name in footed:
        yield _tag("h3", name)
        answer: FeetAnswer | None = None
        try:
            answer = feet_of(judgement.scene, name)
        except FeetError as wrong:
            yield _tag("p", f"Not answered: {wrong}.")
        if answer is not None:
            yield _tag("p", feet_head(answer))
            yield _list(feet_sentences(answer))


def _again(found: Trust, system: System) -> Iterator[str]:
    yield _tag("h2", "What to measure again")
    yield _tag(
        "p",
        f"It passes in {percent(found.share)} of the shops that the tape allows; {found.method}.",
    )
    rows = [
        (
            row.measurement,
            str(row.line or "-"),
            f"± {format_length(row.error, system)}",
            percent(row.weight),
        )
        for row in found.deciding
    ]
    if rows:
        head = ("measurement", "line", "may be off", "part of the doubt")
        yield _table("Measure these again first", head, rows)
    if found.assumed:
        yield _tag("p", "Assumed, never measured:")
        yield _list(found.assumed)


def _sources(findings: Iterable[Finding]) -> Iterator[str]:
    yield _tag("h2", "Sources")
    sources = dict(sorted({f.rule: f.source for f in findings}.items()))
    if not sources:
        yield _tag("p", "No rule was put to this shop.")
        return
    yield _list(f"{rule}: {source}" for rule, source in sources.items())


def _cautions(report: Report) -> Iterator[str]:
    yield _tag("h2", "Cautions")
    yield _list(report.cautions)
