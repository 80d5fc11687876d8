"""The whole answer as one page to read or print: no file beside it, no request to anywhere."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field
from html import escape
from pathlib import Path
from string import Template

from floorplan.checks.judge import Judgement, laid_out
from floorplan.checks.judge_stages import StagedJudgement
from floorplan.report.laid_out import laid_section
from floorplan.report.lasting import beside_section
from floorplan.report.markup import bullets, table, tag
from floorplan.report.page_findings import findings
from floorplan.report.page_layouts import Layouts, layouts, moves
from floorplan.report.page_parts import air, cords, feet, not_checked, shed, sheets, stages, states
from floorplan.report.text import headline
from floorplan.report.trust import percent
from floorplan.search.shed import ShedAnswer
from floorplan.search.trust import Trust
from floorplan.shop.edit import write_beside_then_replace
from floorplan.units import format_length

NAME = "report.html"


@dataclass(frozen=True, eq=False)
class Report:
    """What the page tells."""

    judgement: Judgement
    trust: Trust
    layouts: Layouts = field(default_factory=Layouts)
    shed: ShedAnswer | None = None
    """Places for the shed, where the file asks for one."""
    cautions: tuple[str, ...] = ()
    staged: StagedJudgement | None = None
    """Every stage, where the file has some."""
    remedies: Mapping[int, str] = field(default_factory=dict)
    """What clears a finding, by its identity."""
    ran: tuple[str, ...] = ()
    """What was run for this page, in words."""


Section = Callable[[Report], Iterator[str]]


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
    parts = [line for section in SECTIONS for line in section(report)]
    return frame.substitute(title=escape(f"{shop.name}: report"), body="\n".join(parts))


# --- sections -------------------------------------------------------------------------------


def _question(report: Report) -> Iterator[str]:
    judgement = report.judgement
    shop = judgement.shop
    yield tag("h1", f"Does {shop.name} work as it stands?")
    if shop.date:
        yield tag("p", shop.date)
    for text in shop.notes:
        yield tag("p", text[0].upper() + text[1:])
    kind = "verdict" if judgement.verdict == "passes" else "verdict fails"
    yield tag("p", headline(judgement, shop.name), kind)
    if report.ran:
        yield tag("p", f"Run for this page: {'; '.join(report.ran)}.")


def _again(report: Report) -> Iterator[str]:
    found, system = report.trust, report.judgement.shop.system
    yield tag("h2", "What to measure again")
    yield tag(
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
        yield table("Measure these again first", head, rows)
    if found.assumed:
        yield tag("p", "Assumed, never measured:")
        yield bullets(found.assumed)


def _sources(report: Report) -> Iterator[str]:
    yield tag("h2", "Sources")
    findings = report.judgement.findings
    sources = dict(sorted({f.rule: f.source for f in findings}.items()))
    if not sources:
        yield tag("p", "No rule was put to this shop.")
        return
    yield bullets(f"{rule}: {source}" for rule, source in sources.items())


def _cautions(report: Report) -> Iterator[str]:
    yield tag("h2", "Cautions")
    yield bullets(report.cautions)


def _laid(judgement: Judgement) -> Iterator[str]:
    yield from laid_section(judgement.shop, laid_out(judgement.scene))


def _of_judgement(section: Callable[[Judgement], Iterator[str]]) -> Section:
    return lambda report: section(report.judgement)


SECTIONS: tuple[Section, ...] = (
    _question,
    lambda report: findings(report.judgement, report.remedies),
    lambda report: layouts(report.judgement, report.layouts),
    lambda report: moves(report.judgement, report.layouts),
    *(_of_judgement(s) for s in (states, sheets, _laid, beside_section, air, cords, feet)),
    lambda report: shed(report.shed),
    lambda report: stages(report.staged),
    _again,
    _of_judgement(not_checked),
    _sources,
    _cautions,
)
"""In the order of the page; a section gives nothing where the file does not ask for it."""
