"""What may be done while a task goes on by itself: as data, in words, on the page."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from textwrap import fill

from floorplan.checks.judge import Judgement
from floorplan.checks.judge_beside import Beside, beside_lasting
from floorplan.report.data import Data
from floorplan.report.markup import bullets, tag
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
    """A line for each other task, and for each drawer that does not open."""
    for title, sentences in _told(shop, rows):
        yield title
        for sentence in sentences:
            yield fill(f"  {sentence}", WIDTH, subsequent_indent="      ")


def beside_section(judgement: Judgement) -> Iterator[str]:
    """The page's list of what may go on beside what."""
    rows = beside_lasting(judgement.shop, judgement.layout, judgement.scene)
    if not rows:
        return
    yield tag("h2", "What may be done while something lasts")
    for title, sentences in _told(judgement.shop, rows):
        yield tag("p", title)
        yield bullets(sentences)


def _told(shop: Shop, rows: Sequence[Beside]) -> Iterator[tuple[str, list[str]]]:
    """Each lasting task in a title, with a sentence for each row; drawers that open in one."""
    for name in dict.fromkeys(row.lasting for row in rows):
        mine = [row for row in rows if row.lasting == name]
        told = [row for row in mine if not row.opening or row.verdict != "yes"]
        sentences = [f"{row.other}: {_words(row)}" for row in told]
        opened = len(mine) - len(told)
        if opened:
            other = " other" if any(row.opening for row in told) else ""
            plural = (
                "drawer, door or pull-out opens"
                if opened == 1
                else ("drawers, doors and pull-outs open")
            )
            sentences.append(f"{opened}{other} {plural} meanwhile")
        yield f"While {name} goes on by itself ({how_long(shop, name)}):", sentences


def how_long(shop: Shop, task: str) -> str:
    """How long a task goes on by itself."""
    hours = shop.task(task).lasts / HOUR
    return f"{hours:g} h" if hours >= 1.0 else f"{hours * 60:g} min"


def _words(row: Beside) -> str:
    word = "too close to call" if row.verdict == "unsure" else row.verdict
    return f"{word}; {'; '.join(row.because)}" if row.because else word
