"""What was found, worst first, each finding with the part of the plan in which it is."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from html import escape

from floorplan.checks.finding import Finding, measure_text
from floorplan.checks.judge import Judgement
from floorplan.drawing.inline import finding_alone, inline_svg, plan_alone
from floorplan.drawing.notes import Note, in_words, notes
from floorplan.report.markup import table, tag


def findings(judgement: Judgement, remedies: Mapping[int, str]) -> Iterator[str]:
    """The whole plan, the list, and the measures; `remedies` are by identity of the finding."""
    system = judgement.shop.system
    listed = notes(judgement.findings, system)
    yield tag("h2", "Findings")
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
        yield from _item(judgement, note, first[note.text], remedies)
    if listed:
        yield "</ol>"
    passed = sum(found.verdict == "passes" for found in judgement.findings)
    yield tag("p", f"{passed} checked facts pass.")
    rows = [(name, measure_text(m, system)) for name, m in judgement.measures.items()]
    if rows:
        yield table("Measures", ("measure", "value"), rows)


def _item(
    judgement: Judgement, note: Note, found: Finding, remedies: Mapping[int, str]
) -> Iterator[str]:
    tasks = f" ({', '.join(note.tasks)})" if note.tasks else ""
    line = f" [line {found.line}]" if found.line else ""
    yield f"<li><strong>{escape(note.heading)}:</strong> {escape(note.text + tasks + line)}"
    remedy = remedies.get(id(found))
    if remedy:
        yield f"<br>Cleared by: {escape(remedy)}"
    if found.assumed:
        yield f"<br>Assumed: {escape(', '.join(found.assumed))}"
    source = escape(f"rule {found.rule}: {found.source}")
    yield f'<br><span class="source">{source}</span>'
    page = finding_alone(judgement, note)
    if page is not None:
        yield '<div class="crop">'
        yield inline_svg(page, f"finding-{note.number}", f"Part of the plan, north up: {note.text}")
        yield "</div>"
    yield "</li>"
