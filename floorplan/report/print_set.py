"""Everything about one layout as one PDF to scale: plan, tape, ways, air, feet, notes."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from functools import partial
from pathlib import Path

from floorplan.checks.feet import FeetError, feet_of
from floorplan.checks.finding import measure_text
from floorplan.checks.judge import Judgement
from floorplan.drawing.arrangement import COLUMN, Printing, scale_words
from floorplan.drawing.canvas import drawn_bounds
from floorplan.drawing.carry import way_page
from floorplan.drawing.column import Row, heading, paragraph, table
from floorplan.drawing.contents import caution_texts, verdict_words
from floorplan.drawing.cords import SUBJECT, cords_page
from floorplan.drawing.ducts import ducts_page
from floorplan.drawing.feet import feet_page
from floorplan.drawing.one_plan import OnePlan, one_plan_page, title_rows
from floorplan.drawing.page import PAPERS, Page, Paper, bound
from floorplan.drawing.sheets import plan_sheet
from floorplan.drawing.site import site_page
from floorplan.drawing.states import draw_rolls, state_sentences, state_title, states_of
from floorplan.drawing.support import support_page
from floorplan.drawing.tape_sheet import tape_page
from floorplan.drawing.text_page import text_pages
from floorplan.drawing.tiles import plan_extent, tile_pages
from floorplan.drawing.tilt import tilt_page
from floorplan.drawing.titling import number_sheet
from floorplan.report.cords import cord_tables, cord_ways
from floorplan.report.ducts import air_of, duct_sheet_of
from floorplan.report.feet import feet_head, feet_notes
from floorplan.report.shed import shed_head
from floorplan.report.sheet import SheetAnswer, support_sentences, tilt_sentences
from floorplan.report.text import headline
from floorplan.report.unchecked import unchecked
from floorplan.search.shed import sheds
from floorplan.shop.edit import write_beside_then_replace
from floorplan.shop.stages import stages_of

Pages = Iterator[tuple[str, Page]]
"""Sheets with their subject."""


@dataclass(frozen=True, eq=False)
class PrintSet:
    """What a set of sheets is made of."""

    judgement: Judgement
    subject: str
    """`The shop as it stands`, `Layout 2`."""
    printing: Printing
    cautions: tuple[str, ...]
    lead: tuple[Row, ...] = ()
    """Rows below the verdict: why this layout, what moves."""


def write_print_set(made: PrintSet, out_dir: str | Path, name: str) -> tuple[Path, ...]:
    """`out_dir/name.pdf`. Raises OSError, and ValueError where the paper is too small."""
    path = Path(out_dir) / f"{name}.pdf"
    title = f"{made.judgement.shop.name}: {made.subject}"
    data = bound(set_pages(made), title)
    path.parent.mkdir(parents=True, exist_ok=True)
    write_beside_then_replace(path, data)
    return (path,)


def set_pages(made: PrintSet) -> tuple[Page, ...]:
    """All sheets, numbered. Raises ValueError where the paper is too small."""
    shop, printing = made.judgement.shop, made.printing
    texts = caution_texts(made.judgement.scene)
    pages: list[Page] = []
    for part in PARTS:
        for subject, page in part(made):
            pages.append(page)
            pages.extend(text_pages(page.rest, shop, f"{subject}, continued", texts, printing))
    pages.extend(text_pages(_note_rows(made), shop, "Notes", texts, printing))
    for number, page in enumerate(pages, 1):
        number_sheet(page, number, len(pages))
    return tuple(pages)


# --- one function for each part; nothing where the file asks for nothing --------------------------


def _plan(made: PrintSet) -> Pages:
    printing, judged = made.printing, made.judgement
    words = verdict_words(judged)
    subject = f"{made.subject}: {words[0].lower()}{words[1:]}"
    page, plan = plan_sheet(
        judged, subject=subject, lead=(*made.lead, *_scale_rows(made)), printing=printing
    )
    yield made.subject, page
    if printing.exact and plan.ratio > printing.ratio:
        for tile in tile_pages(judged, made.subject, printing):
            yield made.subject, tile


def _tape(made: PrintSet) -> Pages:
    yield "Tape sheet", tape_page(made.judgement.scene, made.printing)


def _states(made: PrintSet) -> Pages:
    """What is parked, brought or away for which tasks, on a sheet each."""
    found = states_of(made.judgement)
    for state in found if len(found) > 1 else ():
        title = state_title(state, found)
        subject = title[0].upper() + title[1:]
        rows = title_rows(subject)
        for text in state_sentences(state, found[0]):
            rows += paragraph(text, COLUMN, before=0.8)
        bounds = drawn_bounds(made.judgement.scene)
        plan = OnePlan(subject, f"state: {title}", bounds, rows, partial(draw_rolls, state=state))
        yield subject, one_plan_page(state.scene, plan, of=0, printing=made.printing)


def _ways(made: PrintSet) -> Pages:
    answer, scene = SheetAnswer(made.judgement), made.judgement.scene
    printing = replace(made.printing, together=True)
    for way, helped in answer.ways:
        subject = f"{way.carry.piece}: {way.carry.start} to {way.carry.goal}"
        yield subject, way_page(scene, way, helped, of=0, printing=printing)
    for tilt in answer.tilts:
        sentences = tuple(tilt_sentences(scene, tilt))
        page = tilt_page(scene, tilt, sentences, of=0, printing=printing)
        yield f"{tilt.carry.piece} turned upright", page
    fed = {(one.feed.machine, one.feed.stock, one.feed.cut): one for one in answer.fed}
    for one in fed.values():
        sentences = tuple(support_sentences(scene, one))
        page = support_page(scene, one, sentences, of=0, printing=printing)
        yield f"{one.feed.stock} through {one.feed.machine}", page


def _air(made: PrintSet) -> Pages:
    if made.judgement.shop.air is not None:
        sheet = duct_sheet_of(air_of(made.judgement))
        printing = replace(made.printing, together=True)
        yield "Ducts and hoses", ducts_page(made.judgement.scene, sheet, printing)


def _cords(made: PrintSet) -> Pages:
    if made.judgement.shop.power is not None:
        ways = cord_ways(made.judgement)
        tables = tuple(cord_tables(made.judgement, ways))
        yield SUBJECT, cords_page(made.judgement.scene, ways, tables, made.printing)


def _shed(made: PrintSet) -> Pages:
    """Where the collector's shed can stand; of a plan over years, with its last stage."""
    shop, stages = made.judgement.shop, stages_of(made.judgement.shop)
    if shop.site is None or shop.site.shed is None:
        return
    if shop.stage is not None and stages and shop.stage.name != stages[-1].name:
        return
    answer = sheds(shop, made.judgement.layout)
    yield "Places for the shed", site_page(answer, shed_head(answer), made.printing)


def _feet(made: PrintSet) -> Pages:
    scene = made.judgement.scene
    for thing in scene.shop.things:
        if thing.feet is None:
            continue
        try:
            answer = feet_of(scene, thing.name)
        except FeetError:
            continue  # said among the notes
        sentences = tuple(feet_notes(answer))
        page = feet_page(scene, answer, feet_head(answer), sentences, made.printing)
        yield f"Feet of {thing.name}", page


PARTS: tuple[Callable[[PrintSet], Pages], ...] = (
    _plan, _tape, _states, _ways, _air, _cords, _feet, _shed,
)  # fmt: skip
"""In the order in which one works with the sheets."""


# --- notes --------------------------------------------------------------------------------------


def _scale_rows(made: PrintSet) -> tuple[Row, ...]:
    """Which paper the wanted scale takes, where this one is too small."""
    printing, system = made.printing, made.judgement.shop.system
    width, height = plan_extent(made.judgement, printing.ratio)
    if _holds(printing.paper, width, height):
        return ()
    words = scale_words(printing.ratio, system)
    larger = next((name for name, p in PAPERS.items() if _holds(p, width, height)), None)
    needed = "a larger sheet" if larger is None else f"{PAPERS[larger].name} paper ({larger})"
    text = f"At {words} this plan needs {needed}."
    if printing.exact:
        text += " Here is an overview; the parts at that scale follow."
    return paragraph(text, COLUMN, before=0.8)


FRAME = (20.0, 50.0)
"""Taken by margins, title block and foot across and up the sheet [mm]."""


def _holds(paper: Paper, width: float, height: float) -> bool:
    ways = ((paper.width, paper.height), (paper.height, paper.width))
    return any(width <= w - FRAME[0] and height <= h - FRAME[1] for w, h in ways)


def _note_rows(made: PrintSet) -> list[Row]:
    """What no plan shows: measures, what was assumed, what was not checked, sources."""
    judged = made.judgement
    shop = judged.shop
    rows: list[Row] = list(paragraph(headline(judged, made.subject), COLUMN, bold=True))
    if judged.measures:
        rows.append(heading("Measures"))
        cells = [(n, measure_text(m, shop.system)) for n, m in judged.measures.items()]
        rows += table([("measure", "value"), *cells], (46.0, 36.0), right=frozenset((1,)))
    rows += _listed("Assumed, never measured", judged.assumed or ("nothing",))
    rows += _listed("Not checked", (*_unanswered(judged), *unchecked(judged)))
    rows += _listed("Your rules", tuple(_changed(judged)))
    rows += _listed("Read from the file", shop.notes)
    rows += _listed("Cautions", made.cautions)
    sources = dict(sorted({f.rule: f.source for f in judged.findings}.items()))
    rows += _listed("Rules and their sources", [f"{r}: {s}" for r, s in sources.items()])
    return rows


def _listed(title: str, items: Sequence[str]) -> list[Row]:
    rows: list[Row] = [heading(title)] if items else []
    for item in items:
        rows += paragraph(item, COLUMN, indent=2.5, sign=_bullet, before=0.3)
    return rows


def _bullet(page: Page, x: float, y: float) -> None:
    page.line([(x + 0.3, y), (x + 1.3, y)])


def _changed(judged: Judgement) -> Iterator[str]:
    for rule in judged.shop.rules.changed:
        if not rule.off:
            yield f"{rule.id} is set to {rule.text}, {rule.kind}"


def _unanswered(judged: Judgement) -> Iterator[str]:
    for what in SheetAnswer(judged).left_out:
        yield f"{what}: an end has no place in this layout"
    for thing in judged.shop.things:
        if thing.feet is not None:
            try:
                feet_of(judged.scene, thing.name)
            except FeetError as wrong:
                yield f"feet of {thing.name}: {wrong}"
