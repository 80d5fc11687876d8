"""Sections of the page that each answer what one command answers: sheets, air, feet, stages."""

from __future__ import annotations

import re
from collections.abc import Iterator

from floorplan.checks.feet import FeetAnswer, FeetError, feet_of
from floorplan.checks.judge import Judgement
from floorplan.checks.judge_stages import StagedJudgement, stage_name
from floorplan.checks.way_words import way_sentences, way_title
from floorplan.drawing.inline import (
    air_alone,
    cords_alone,
    feet_alone,
    inline_svg,
    site_alone,
    state_alone,
    way_alone,
)
from floorplan.drawing.states import state_sentences, state_title, states_of
from floorplan.report.cords import cord_tables, cord_ways
from floorplan.report.ducts import air_of, duct_sheet_of
from floorplan.report.feet import feet_head, feet_sentences
from floorplan.report.markup import bullets, table, tag
from floorplan.report.shed import (
    nowhere_sentences,
    ruled_out_sentences,
    shed_head,
    site_parts,
)
from floorplan.report.sheet import SheetAnswer, support_sentences
from floorplan.report.stages import change_words, staged_headline
from floorplan.report.text import headline
from floorplan.report.unchecked import unchecked
from floorplan.search.shed import NOT_KNOWN, ShedAnswer
from floorplan.units import format_length


def sheets(judgement: Judgement) -> Iterator[str]:
    """How pieces are carried and fed, with a drawing of each way."""
    answer = SheetAnswer(judgement)
    if not (answer.ways or answer.fed or answer.left_out):
        return
    made = judgement.scene
    yield tag("h2", "The way of sheets")
    for number, (way, helped) in enumerate(answer.ways, 1):
        title = way_title(way)
        yield tag("h3", f"{way.job}: {title}")
        yield inline_svg(
            way_alone(made, way), f"way-{number}",
            f"The plan from above, north up, with {title}.",
        )  # fmt: skip
        yield bullets(way_sentences(made, way, helped))
    for what in answer.left_out:
        yield tag("p", f"Not answered, an end has no place in this layout: {what}.")
    for one in answer.fed:
        feed = one.feed
        yield tag("h3", f"{one.job}: {feed.stock} ({feed.cut}) through {feed.machine}")
        yield bullets(support_sentences(made, one))


def air(judgement: Judgement) -> Iterator[str]:
    """Ducts and hoses with their parts list."""
    if judgement.shop.air is None:
        return
    sheet = duct_sheet_of(air_of(judgement))
    yield tag("h2", "Ducts and hoses")
    yield inline_svg(
        air_alone(judgement.scene, sheet), "air",
        "The plan from above, north up, with runs of duct and the ways of a hose.",
    )  # fmt: skip
    yield bullets(sheet.sentences)
    if sheet.parts:
        yield tag("h3", "Parts")
        yield bullets(sheet.parts)


def states(judgement: Judgement) -> Iterator[str]:
    """What is parked, brought or away for which tasks, and how it is rolled there."""
    found = states_of(judgement)
    if len(found) < 2:
        return
    yield tag("h2", "The shop in its states")
    for number, state in enumerate(found, 1):
        title = state_title(state, found)
        yield tag("h3", title[0].upper() + title[1:])
        page = state_alone(state, f"State {number}: {title}")
        yield inline_svg(page, f"state-{number}", f"The plan from above, north up, {title}.")
        sentences = tuple(state_sentences(state, found[0]))
        if sentences:
            yield bullets(sentences)


def cords(judgement: Judgement) -> Iterator[str]:
    """How far every cord reaches, and what each circuit gives."""
    if judgement.shop.power is None:
        return
    ways = cord_ways(judgement)
    yield tag("h2", "Cords and circuits")
    yield inline_svg(
        cords_alone(judgement.scene, ways), "cords",
        "The plan from above, north up, with the way of every cord to its outlet.",
    )  # fmt: skip
    for title, (head, *rows) in cord_tables(judgement, ways):
        yield table(title, head, rows)
    yield tag("p", "All of it is advice: wiring is for a licensed electrician.")


def shed(answer: ShedAnswer | None) -> Iterator[str]:
    """Where the collector's shed can stand."""
    if answer is None:
        return
    yield tag("h2", "The collector's shed")
    yield tag("p", f"{shed_head(answer)}.")
    yield inline_svg(
        site_alone(answer), "site",
        "The lot from above, north up, with numbered places for the shed.",
    )  # fmt: skip
    for title, sentences in site_parts(answer):
        yield tag("h3", title)
        yield bullets(sentences)
    if not answer.sites:
        yield bullets(nowhere_sentences(answer))
    if answer.ruled_out:
        yield tag("h3", "Not there")
        yield bullets(ruled_out_sentences(answer))
    yield tag("p", NOT_KNOWN)


def feet(judgement: Judgement) -> Iterator[str]:
    """What to set each levelling foot to."""
    footed = [thing.name for thing in judgement.shop.things if thing.feet is not None]
    if not footed:
        return
    yield tag("h2", "Levelling feet")
    for name in footed:
        yield tag("h3", name)
        answer: FeetAnswer | None = None
        try:
            answer = feet_of(judgement.scene, name)
        except FeetError as wrong:
            yield tag("p", f"Not answered: {wrong}.")
        if answer is not None:
            yield from _feet(judgement, answer)


def _feet(judgement: Judgement, answer: FeetAnswer) -> Iterator[str]:
    name, system = answer.thing.name, judgement.shop.system
    yield tag("p", feet_head(answer))
    yield inline_svg(
        feet_alone(judgement.scene, answer),
        f"feet-{re.sub('[^a-z0-9]+', '-', name.lower())}-{answer.thing.line}",
        f"{name} from above, north up, each foot with the length to set it to.",
    )
    rows = [
        (f"foot {foot.number}", *(format_length(v, system) for v in (foot.length, foot.shim)))
        for foot in answer.feet
    ]
    yield table(f"Feet of {name}", ("foot", "set to", "shim"), rows)
    yield bullets(feet_sentences(answer))


def stages(judged: StagedJudgement | None) -> Iterator[str]:
    """Every stage of a plan over years, and what is done between them."""
    if judged is None:
        return
    yield tag("h2", "Stages")
    yield tag("p", staged_headline(judged, judged.shop.name))
    for i, made in enumerate(judged.stages):
        yield tag("h3", f"Stage {stage_name(made)}")
        if i:
            yield tag("p", f"Before it: {change_words(judged.changes[i])}.")
        yield tag("p", headline(made, stage_name(made)))
        failing = [found.message for found in made.failing]
        if failing:
            yield bullets(failing)


def not_checked(judgement: Judgement) -> Iterator[str]:
    """So that nobody takes silence for a yes."""
    yield tag("h2", "Not checked")
    yield bullets(unchecked(judgement))
