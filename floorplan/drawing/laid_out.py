"""The shop while parts lie out to dry: every part where it lies, numbered."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from floorplan.checks.lay_out import Laid
from floorplan.drawing.arrangement import COLUMN, Printing
from floorplan.drawing.canvas import Label, Plan, drawn_bounds
from floorplan.drawing.column import paragraph
from floorplan.drawing.one_plan import OnePlan, one_plan_page, title_rows
from floorplan.drawing.page import FORMATS, Page, save
from floorplan.drawing.placing import around
from floorplan.drawing.style import BLUE, MEDIUM, SMALL_SIZE, drawing_defaults, tint
from floorplan.shop.scene import Scene


def laid_sheet(
    scene: Scene,
    laid: Laid,
    sentences: Sequence[str],
    out_dir: str | Path,
    name: str,
    *,
    formats: Sequence[str] = FORMATS,
) -> tuple[Path, ...]:
    """The parts of one task on one sheet: `out_dir/name.svg` and so on.  Raises OSError."""
    return save(laid_page(scene, laid, sentences), Path(out_dir) / name, formats)


@drawing_defaults()
def laid_page(
    scene: Scene,
    laid: Laid,
    sentences: Sequence[str],
    sheet: int = 1,
    of: int = 1,
    printing: Printing | None = None,
) -> Page:
    """The parts of one task on one sheet, not yet saved."""
    subject = f"Laid out: {laid.task.name}"
    rows = title_rows(subject)
    for sentence in sentences:
        rows.extend(paragraph(sentence, COLUMN, before=0.8))
    one = OnePlan(subject, subject, drawn_bounds(scene), rows, lambda plan: draw_parts(plan, laid))
    return one_plan_page(scene, one, sheet, of, printing)


def draw_parts(plan: Plan, laid: Laid) -> None:
    """Each part by its number; those of shelves one over the other share their numbers' place."""
    stacked: dict[tuple[float, ...], list[int]] = {}
    for number, place in enumerate(laid.places, 1):
        stacked.setdefault(place.plan.bounds, []).append(number)
    for number, place in enumerate(laid.places, 1):
        here = stacked[place.plan.bounds]
        if here[0] != number:
            continue
        shape = plan.shape(place.plan)
        plan.page.area(
            shape, face=tint(BLUE, 0.25), edge=BLUE, width=MEDIUM, alpha=0.7, z=9.5,
            gid=f"part {number}",
        )  # fmt: skip
        label = Label((_numbers(here),), SMALL_SIZE, bold=1)
        middle = shape.centroid
        at = plan.placer.find(around(middle.x, middle.y, *label.extent, first=0.0, reach=12.0))
        if at is not None:
            plan.write(label, at, colour=BLUE)


def _numbers(here: Sequence[int]) -> str:
    """`7`, or `1, 3, 5 ...` for several shelves."""
    return ", ".join(map(str, here[:3])) + (" ..." if len(here) > 3 else "")
