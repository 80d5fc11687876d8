"""Whole sheets: a plan with everything that was found, one of a ranked layout, and a comparison."""

from __future__ import annotations

from collections.abc import Sequence
from functools import partial
from math import hypot
from pathlib import Path

from floorplan.drawing.arrangement import BAND, COLUMN, RULER, Arrangement, Printing, choose
from floorplan.drawing.canvas import Plan, drawn_bounds
from floorplan.drawing.column import Row, flow, paragraph, set_text
from floorplan.drawing.contents import (
    absent_rows,
    assumed_rows,
    caution_texts,
    legend_rows,
    measure_rows,
    note_rows,
    tape_rows,
    verdict_rows,
)
from floorplan.drawing.judged import Judged, Ranked, why
from floorplan.drawing.notes import Note, notes
from floorplan.drawing.page import FORMATS, Page, save
from floorplan.drawing.plan import draw_plan, place_plan
from floorplan.drawing.style import ZoneStyle, drawing_defaults
from floorplan.drawing.tape import TapeRow, tape_table
from floorplan.drawing.titling import Title, draw_foot, draw_title, foot_height
from floorplan.drawing.zones import drawn_keep_clears, drawn_zones, styled
from floorplan.units import TOLERANCE, format_angle, format_length

FEWEST = 8
"""Findings that a sheet should list before a larger one is taken."""


@drawing_defaults()
def plan_sheet(
    judged: Judged,
    *,
    subject: str = "Plan",
    lead: Sequence[Row] = (),
    sheet: int = 1,
    of: int = 1,
    printing: Printing | None = None,
) -> tuple[Page, Plan]:
    """One plan with its text, not yet saved; more can be drawn over `Plan`.

    `lead` are rows below the verdict.  In a printed set all findings are listed, if need be on
    the next sheet, and how to tape, measures and assumed sizes have sheets of their own.
    """
    scene = judged.scene
    all_notes = notes(judged.findings, scene.shop.system)
    styles = _styles(judged)
    west, south, east, north = drawn_bounds(scene)

    def fits(arrangement: Arrangement) -> bool:
        few = all_notes[:FEWEST] if printing is None else all_notes
        rows = _text(judged, few, all_notes, styles, lead, alone=printing is None)
        return flow(rows, arrangement.columns).left_over == 0

    texts = caution_texts(scene)
    where = choose(
        east - west, north - south, scene.shop.system, partial(foot_height, texts), fits, printing
    )
    listed = all_notes
    if printing is None:
        listed = _most_that_fit(judged, all_notes, styles, lead, where)
    page = Page(where.width, where.height, f"{scene.shop.name}: {subject}")
    plan = place_plan(page, scene, _middle(where), where.ratio)
    draw_plan(plan, notes=listed, findings=judged.findings)
    rows = _text(judged, listed, all_notes, styles, lead, alone=printing is None)
    set_text(page, rows, where.columns, goes_on=printing is not None)
    numbered = of if printing is None else 0
    title = Title(subject, scene.shop, where.paper, where.ratio, sheet, numbered)
    draw_title(page, title, where.title)
    draw_foot(page, where.foot, where.ratio, scene.shop.system, texts)
    return page, plan


def _middle(where: Arrangement) -> tuple[float, float]:
    return (
        (where.plan.left + RULER + where.plan.right - BAND) / 2,
        (where.plan.bottom + RULER + where.plan.top - BAND) / 2,
    )


def _styles(judged: Judged) -> tuple[ZoneStyle, ...]:
    plan = Plan.__new__(Plan)
    plan.scene = judged.scene
    elements = (*drawn_zones(plan), *drawn_keep_clears(plan))
    return tuple(dict.fromkeys(styled(element) for element in elements))


def _text(
    judged: Judged,
    listed: Sequence[Note],
    all_notes: Sequence[Note],
    styles: Sequence[ZoneStyle],
    lead: Sequence[Row],
    *,
    alone: bool = True,
) -> list[Row]:
    """Everything beside the plan, the most needed first."""
    first = [*verdict_rows(judged), *lead]
    if not alone:
        return [
            *first,
            *legend_rows(styles, outlets=judged.shop.power is not None),
            *note_rows(listed, all_notes),
        ]
    return [
        *first,
        *note_rows(listed, all_notes),
        *tape_rows(judged.scene),
        *absent_rows(judged.scene),
        *measure_rows(judged),
        *legend_rows(styles, outlets=judged.shop.power is not None),
        *assumed_rows(judged),
    ]


def _most_that_fit(
    judged: Judged,
    all_notes: tuple[Note, ...],
    styles: Sequence[ZoneStyle],
    lead: Sequence[Row],
    where: Arrangement,
) -> tuple[Note, ...]:
    """The worst notes for which all text finds room; at least one."""
    low, high = min(1, len(all_notes)), len(all_notes)
    while low < high:
        middle = (low + high + 1) // 2
        rows = _text(judged, all_notes[:middle], all_notes, styles, lead)
        if flow(rows, where.columns).left_over == 0:
            low = middle
        else:
            high = middle - 1
    return all_notes[:low]


def check_sheet(
    judged: Judged, out_dir: str | Path, name: str, *, formats: Sequence[str] = FORMATS
) -> tuple[Path, ...]:
    """The shop as it stands: `out_dir/name.svg` and so on. Raises OSError."""
    page, _ = plan_sheet(judged, subject="The shop as it stands")
    return save(page, Path(out_dir) / name, formats)


def layout_sheet(
    ranked: Ranked,
    out_dir: str | Path,
    name: str,
    *,
    today: Judged | None = None,
    since: str = "today",
    sheet: int = 1,
    of: int = 1,
    formats: Sequence[str] = FORMATS,
) -> tuple[Path, ...]:
    """One ranked layout with its reason and, beside `today`, what has to be moved.

    `since` says what `today` is where it is another time.
    """
    lead = [*heading_rows(ranked)]
    if today is not None:
        lead += move_rows(today, ranked.judgement, since)
    page, _ = plan_sheet(
        ranked.judgement, subject=f"Layout {ranked.rank}", lead=lead, sheet=sheet, of=of
    )
    return save(page, Path(out_dir) / name, formats)


def heading_rows(ranked: Ranked) -> tuple[Row, ...]:
    """Why this layout is shown."""
    rest = " Another layout is at least as good in everything." if ranked.dominated else ""
    return paragraph(f"{why(ranked)}{rest}", COLUMN)


def move_rows(today: Judged, after: Judged, since: str = "today") -> tuple[Row, ...]:
    """What stands elsewhere than today, and by how much."""
    return paragraph(moved_words(today, after, since), COLUMN, before=0.8)


def moved_words(today: Judged, after: Judged, since: str = "today") -> str:
    """The same as a sentence."""
    before = {(row.thing, row.place): row for row in tape_table(today.scene)}
    texts = []
    for row in tape_table(after.scene):
        old = before.get((row.thing, row.place))
        if old is None:
            texts.append(f"{_named(row)} (new)")
            continue
        way = hypot(row.corner[0] - old.corner[0], row.corner[1] - old.corner[1])
        turned = (row.turn - old.turn) % 360.0
        if way > TOLERANCE or turned:
            by = f"{_named(row)} {format_length(way, today.shop.system)}"
            texts.append(f"{by}, turned {format_angle(turned)}" if turned else by)
    if not texts:
        return "Nothing moves."
    return f"Moved from {since}: {'; '.join(texts)}."


def _named(row: TapeRow) -> str:
    return row.thing if row.place == "standing" else f"{row.thing} ({row.place})"


def ranked_sheets(
    layouts: Sequence[Ranked],
    today: Judged,
    out_dir: str | Path,
    *,
    formats: Sequence[str] = FORMATS,
) -> tuple[Path, ...]:
    """The layouts side by side, then a plan of each. Raises OSError."""
    from floorplan.drawing.comparison import compare_sheet

    files = compare_sheet(layouts, out_dir, "layouts", today=today, formats=formats)
    for ranked in layouts:
        files += layout_sheet(
            ranked, out_dir, f"rank-{ranked.rank}", today=today, sheet=ranked.rank,
            of=len(layouts), formats=formats,
        )  # fmt: skip
    return files
