"""Tables for a spreadsheet: places, what to tape, findings, the from-to chart, walks.

Comma-separated as RFC 4180 has it, UTF-8, units in the head.  A text that a spreadsheet would
take for a formula gets an apostrophe before it.
"""

from __future__ import annotations

import csv
import io
from collections import Counter
from collections.abc import Iterator, Sequence
from math import isfinite
from pathlib import Path

from floorplan.checks.judge import Judgement
from floorplan.checks.walking import leg_lengths
from floorplan.drawing.tape_sheet import taped
from floorplan.shop.edit import write_beside_then_replace
from floorplan.units import System, format_length

Cell = str | float | None
Table = Iterator[Sequence[Cell]]
_FORMULA = ("=", "+", "-", "@", "\t", "\r")
UNIT = {System.IMPERIAL: ("in", 0.0254), System.METRIC: ("mm", 0.001)}


def write_csv(judgement: Judgement, out_dir: str | Path, name: str) -> tuple[Path, ...]:
    """`out_dir/name-places.csv` and so on. Raises OSError."""
    folder = Path(out_dir)
    folder.mkdir(parents=True, exist_ok=True)
    written = []
    for table, rows in (
        ("places", places(judgement)), ("tape", tape(judgement)),
        ("findings", findings(judgement)), ("from-to", from_to(judgement)),
        ("walks", walks(judgement)),
    ):  # fmt: skip
        path = folder / f"{name}-{table}.csv"
        write_beside_then_replace(path, csv_text(rows))
        written.append(path)
    return tuple(written)


def csv_text(rows: Table) -> str:
    """Rows as text, lines ended as RFC 4180 wants it."""
    out = io.StringIO(newline="")
    csv.writer(out, lineterminator="\r\n").writerows([[guarded(c) for c in row] for row in rows])
    return out.getvalue()


def guarded(cell: Cell) -> str:
    """A cell as it is written: a text never begins as a formula does, a number stays one."""
    if cell is None:
        return ""
    if isinstance(cell, str):
        return f"'{cell}" if cell.startswith(_FORMULA) else cell
    return f"{cell:.6g}" if isfinite(cell) else ""


def places(judgement: Judgement) -> Table:
    """Where things stand."""
    unit, size = UNIT[judgement.shop.system]
    yield "thing", "place", f"x [{unit}]", f"y [{unit}]", "turn [deg]"
    for (thing, place), pose in judgement.layout.poses.items():
        yield thing, place, pose.x.value / size, pose.y.value / size, pose.turn


def tape(judgement: Judgement) -> Table:
    """Two corners of each thing from two walls, in the order of taping."""
    system = judgement.shop.system
    yield (
        "order", "thing", "place", "corner", "across", "from wall", "up", "from wall",
        "side A to B", "diagonal",
    )  # fmt: skip
    for row in taped(judgement.scene):
        for corner, diagonal in zip(row.corners, row.diagonals, strict=True):
            across, up, side, check = (
                format_length(v, system)
                for v in (corner.across.distance, corner.up.distance, row.side, diagonal)
            )
            yield (
                row.number, row.thing, row.place, corner.name, across,
                corner.across.wall or "origin", up, corner.up.wall or "origin", side, check,
            )  # fmt: skip


def findings(judgement: Judgement) -> Table:
    """Everything checked, worst first; sizes in metres or degrees as the unit says."""
    yield (
        "verdict", "kind", "check", "rule", "about", "task", "measured", "needed", "margin",
        "error", "unit", "line", "message", "source",
    )  # fmt: skip
    for f in judgement.findings:
        yield (
            f.verdict, f.kind, f.check, f.rule, "; ".join(f.about), f.task, f.measured, f.needed,
            f.margin, f.error, f.unit, f.line, f.message, f.source,
        )  # fmt: skip


def from_to(judgement: Judgement) -> Table:
    """How often one walks from each stop (rows) to each other (columns), all jobs together."""
    trips: Counter[tuple[str, str]] = Counter()
    for job in judgement.shop.jobs:
        for leg in job.legs:
            trips[leg.start, leg.end] += leg.times  # type: ignore[assignment]
    stops = list(dict.fromkeys(stop for pair in trips for stop in pair))
    yield "times, from (rows) to (columns)", *stops
    for start in stops:
        yield start, *(trips.get((start, end)) for end in stops)


def walks(judgement: Judgement) -> Table:
    """Every leg of every job with its length."""
    lengths = leg_lengths(judgement.scene)
    imperial = judgement.shop.system is System.IMPERIAL
    unit, size = ("ft", 0.3048) if imperial else ("m", 1.0)
    yield "job", "from", "to", "times", f"each [{unit}]", f"together [{unit}]"
    for job in judgement.shop.jobs:
        for leg in job.legs:
            length = lengths.get((leg.start, leg.end))
            each = None if length is None else length / size
            together = None if each is None else each * leg.times
            yield job.name, leg.start, leg.end, leg.times, each, together
