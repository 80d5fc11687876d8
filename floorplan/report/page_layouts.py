"""Ranked layouts on the page, what moves for each, and in what order for the best."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from floorplan.checks.finding import measure_text
from floorplan.checks.judge import Judgement
from floorplan.drawing.inline import inline_svg, plan_alone
from floorplan.drawing.judged import why
from floorplan.drawing.plan import SMALL
from floorplan.drawing.sheets import moved_words
from floorplan.report.markup import bullets, table, tag
from floorplan.report.order import Order
from floorplan.report.text import headline
from floorplan.search.rank import Ranked
from floorplan.units import format_length


@dataclass(frozen=True, eq=False)
class Layouts:
    """Ranked layouts beside today's."""

    ranked: tuple[Ranked, ...] = ()
    remarks: tuple[str, ...] = ()
    """Where they come from, or how to have some; what had to be given up; what clashes."""
    order: Order | None = None
    """From today's to the first; None where it was not worked out."""
    how: str = ""
    """The command that works out the order."""


def layouts(today: Judgement, found: Layouts) -> Iterator[str]:
    """Each layout with its plan and places, then all measures side by side."""
    if not (found.ranked or found.remarks):
        return
    yield tag("h2", "Ranked layouts")
    for remark in found.remarks:
        yield tag("p", remark)
    for ranked in found.ranked:
        yield from _layout(today, ranked)
    if found.ranked:
        yield _measures_table(today, found.ranked)


def moves(today: Judgement, found: Layouts) -> Iterator[str]:
    """What is moved for the best layout, and in what order."""
    if not found.ranked:
        return
    best = found.ranked[0]
    yield tag("h2", f"Order of moves to layout {best.rank}")
    yield tag("p", moved_words(today, best.judgement))
    order = found.order
    if order is None:
        yield tag("p", f"In what order has not been worked out: `{found.how}` does, and this page "
                  "tells it from then on.")  # fmt: skip
        return
    yield tag("p", order.headline[0].upper() + order.headline[1:] + ".")
    if order.steps:
        yield "<ol>"
        yield from (tag("li", f"{where}; {effort}") for where, effort in order.steps)
        yield "</ol>"
    if order.why:
        yield bullets(order.why)


def _layout(today: Judgement, ranked: Ranked) -> Iterator[str]:
    made = ranked.judgement
    system = made.shop.system
    yield tag("h3", f"Layout {ranked.rank}")
    yield tag("p", headline(made, f"Layout {ranked.rank}"))
    yield tag("p", f"{why(ranked)}. {moved_words(today, made)}".removeprefix(". "))
    page = plan_alone(made, f"Layout {ranked.rank}", detail=SMALL)
    yield inline_svg(page, f"layout-{ranked.rank}", f"Layout {ranked.rank} from above, north up.")
    rows = []
    for (thing, place), pose in made.layout.poses.items():
        x, y = (format_length(v.value, system) for v in (pose.x, pose.y))
        where = "" if place == "standing" else f", {place}"
        rows.append((thing + where, x, y, f"{pose.turn:g}°"))
    caption = f"Places in layout {ranked.rank}, from the room's origin"
    yield table(caption, ("thing", "x", "y", "turn"), rows)


def _measures_table(today: Judgement, ranked: Sequence[Ranked]) -> str:
    system = today.shop.system
    judgements = [today, *(one.judgement for one in ranked)]
    names = dict.fromkeys(name for j in judgements for name in j.measures)
    rows = [
        (
            name,
            *(measure_text(j.measures[name], system) if name in j.measures else "-"
              for j in judgements),
        )
        for name in names
    ]  # fmt: skip
    head = ("measure", "today", *(f"layout {one.rank}" for one in ranked))
    return table("Measures of today and of each layout", head, rows)
