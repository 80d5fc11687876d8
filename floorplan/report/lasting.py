"""What may be done while a task goes on by itself: as data, in words, on the page."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from textwrap import fill

from floorplan.checks.judge import Judgement
from floorplan.checks.judge_beside import Beside, beside_lasting
from floorplan.report.data import Data
from floorplan.report.markup import tag
from floorplan.report.words import WIDTH
from floorplan.shop.model import Shop

HOUR = 3600.0


def beside_data(rows: Sequence[Beside]) -> list[Data]:
    """One entry for each lasting task with each other."""
    return [
        {
            "tasks": [row.lasting, row.other],
            "verdict": row.verdict,
            "because": list(row.because),
        }
        for row in rows
    ]


def beside_lines(shop: Shop, rows: Sequence[Beside]) -> Iterator[str]:
    """A line for each lasting task and verdict."""
    for name in dict.fromkeys(row.lasting for row in rows):
        yield f"While {name} goes on by itself ({how_long(shop, name)}):"
        for row in rows:
            if row.lasting == name:
                yield fill(f"  {row.other}: {_words(row)}", WIDTH, subsequent_indent="      ")


def beside_section(judgement: Judgement) -> Iterator[str]:
    """The page's table of what may go on beside what."""
    rows = beside_lasting(judgement.shop, judgement.layout)
    if not rows:
        return
    yield tag("h2", "What may be done while something lasts")
    for name in dict.fromkeys(row.lasting for row in rows):
        yield tag("p", f"While {name} goes on by itself ({how_long(judgement.shop, name)}):")
        yield "<ul>"
        for row in rows:
            if row.lasting == name:
                yield tag("li", f"{row.other}: {_words(row)}")
        yield "</ul>"


def how_long(shop: Shop, task: str) -> str:
    """How long a task goes on by itself."""
    hours = shop.task(task).lasts / HOUR
    return f"{hours:g} h" if hours >= 1.0 else f"{hours * 60:g} min"


def _words(row: Beside) -> str:
    word = "too close to call" if row.verdict == "unsure" else row.verdict
    return f"{word}; {'; '.join(row.because)}" if row.because else word
