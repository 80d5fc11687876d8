"""Whole sheets: a plan with everything that was found, one of a ranked layout, and a comparison."""

from __future__ import annotations

from collections.abc import Sequence
from functools import partial
from pathlib import Path
from typing import Protocol

from floorplan.drawing.arrangement import Arrangement, choose
from floorplan.drawing.canvas import Plan, drawn_bounds
from floorplan.drawing.column import Row, flow
from floorplan.drawing.contents import (
    Judged,
    absent_rows,
    assumed_rows,
    caution_texts,
    legend_rows,
    measure_rows,
    note_rows,
    tape_rows,
    verdict_rows,
)
from floorplan.drawing.notes import Note, notes
from floorplan.drawing.page import FORMATS, Page, save
from floorplan.drawing.plan import draw_plan, place_plan
from floorplan.drawing.style import ZoneStyle
from floorplan.drawing.titling import Title, draw_foot, draw_title, foot_height
from floorplan.drawing.zones import drawn_keep_clears, drawn_zones, styled


class Ranked(Protocol):
    """One layout that a search offers."""

    @property
    def rank(self) -> int:
        """1 is the best."""
        ...

    @property
    def judgement(self) -> Judged:
        """What was found about it."""
        ...

    @property
    def best_for(self) -> tuple[str, ...]:
        """What it does best of all."""
        ...

    @property
    def reason(self) -> str:
        """Why it stands where it stands."""
        ...

    @property
    def dominated(self) -> bool:
        """Whether another is at least as good in everything."""
        ...


FEWEST = 8
"""Findings that a sheet should list before a larger one is taken."""


def plan_sheet(
    judged: Judged,
    *,
    subject: str = "Plan",
    lead: Sequence[Row] = (),
    sheet: int = 1,
    of: int = 1,
) -> tuple[Page, Plan]:
    """One plan with its text, not yet saved; more can be drawn over `Plan`.

    `lead` are rows above the verdict.
    """
    scene = judged.scene
    all_notes = notes(judged.findings, scene.shop.system)
    styles = _styles(judged)
    west, south, east, north = drawn_bounds(scene)

    def fits(arrangement: Arrangement) -> bool:
        few = all_notes[:FEWEST]
        return flow(_text(judged, few, all_notes, styles, lead), arrangement.columns).left_over == 0

    texts = caution_texts(scene)
    where = choose(east - west, north - south, scene.shop.system, partial(foot_height, texts), fits)
    listed = _most_that_fit(judged, all_notes, styles, lead, where)
    page = Page(where.width, where.height, f"{scene.shop.name}: {subject}")
    plan = place_plan(page, scene, _middle(where), where.ratio)
    draw_plan(plan, notes=listed, findings=judged.findings)
    flow(_text(judged, listed, all_notes, styles, lead), where.columns).draw(page)
    draw_title(page, Title(subject, scene.shop, where.paper, where.ratio, sheet, of), where.title)
    draw_foot(page, where.foot, where.ratio, scene.shop.system, texts)
    return page, plan


def _middle(where: Arrangement) -> tuple[float, float]:
    from floorplan.drawing.arrangement import BAND, RULER

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
) -> list[Row]:
    """Everything beside the plan, the most needed first."""
    return [
        *lead,
        *verdict_rows(judged),
        *note_rows(listed, all_notes),
        *tape_rows(judged.scene),
        *absent_rows(judged.scene),
        *measure_rows(judged),
        *legend_rows(styles),
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
    """The shop as it stands: `out_dir/name.svg` and so on."""
    page, _ = plan_sheet(judged, subject="The shop as it stands")
    return save(page, Path(out_dir) / name, formats)
