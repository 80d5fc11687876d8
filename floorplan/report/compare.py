"""Layouts side by side, as data and in words."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from math import isfinite
from pathlib import Path
from textwrap import fill

from floorplan.checks.finding import Measure, measure_text
from floorplan.report.data import Data, finding, measures, number, poses
from floorplan.report.text import headline, tail
from floorplan.report.words import WIDTH
from floorplan.search.compare import Comparison, Difference, Row
from floorplan.units import System, format_angle, format_length

LISTED = 8
"""Findings listed for each."""


def compare_data(found: Comparison) -> Data:
    """The block `compare`."""
    return {
        "layouts": [_layout(found, which) for which in range(len(found.names))],
        "measures": [
            {
                "name": row.name,
                "unit": row.unit,
                "better": "less" if row.less_is_better else "more",
                "values": [number(value) for value in row.values],
                "step": number(row.step),
                "best": [found.names[i] for i in row.best],
            }
            for row in found.rows
        ],
    }


def _layout(found: Comparison, which: int) -> Data:
    judgement = found.judgements[which]
    return {
        "name": found.names[which],
        "shop": judgement.shop.name,
        "verdict": judgement.verdict,
        "poses": poses(judgement.layout),
        "measures": measures(judgement.measures),
        "changed": [_difference(row) for row in found.changed[which]],
        "mended": [finding(f) for f in found.mended[which]],
        "broken": [finding(f) for f in found.broken[which]],
        "wins": [row.name for row in found.wins(which)],
        "loses": [row.name for row in found.loses(which)],
        "assumed": list(judgement.assumed),
    }


def _difference(row: Difference) -> Data:
    def value(what: tuple[float, ...] | str) -> object:
        return what if isinstance(what, str) else [number(v) for v in what]

    return {
        "what": row.what,
        "kind": row.kind,
        "east": number(row.east),
        "north": number(row.north),
        "turn": number(row.turn),
        "before": value(row.before),
        "after": value(row.after),
    }


# --- words -----------------------------------------------------------------------------------


def compare_text(found: Comparison, cautions: Iterable[str], files: Iterable[Path]) -> str:
    """The answer of `compare`."""
    system = found.judgements[0].shop.system
    lines: list[str] = []
    for which, name in enumerate(found.names):
        lines.append(fill(headline(found.judgements[which], name), WIDTH))
        if which:
            lines += _against(found, which, system)
        lines.append("")
    lines += _table(found, system)
    lines.append("")
    for which, name in enumerate(found.names):
        lines.append(fill(_verdict(found, which, name, system), WIDTH, subsequent_indent="  "))
    first = found.judgements[0]
    assumed = sorted({name for j in found.judgements for name in j.assumed})
    lines += tail(first.shop, assumed, cautions, files)
    return "\n".join(lines) + "\n"


def _against(found: Comparison, which: int, system: System) -> Iterator[str]:
    """What is otherwise than in the first."""
    changed = found.changed[which]
    if not changed:
        yield "  nothing is otherwise"
    for row in changed:
        yield fill(f"  {difference_text(row, system)}", WIDTH, subsequent_indent="    ")
    for word, findings in (("mended", found.mended[which]), ("broken", found.broken[which])):
        for one in findings[:LISTED]:
            yield fill(f"  {word}: {one.message}", WIDTH, subsequent_indent="    ")
        if len(findings) > LISTED:
            yield f"  {word}: {len(findings) - LISTED} more"


def difference_text(row: Difference, system: System) -> str:
    """One difference in words."""
    if row.kind == "moved":
        ways = [
            f"{format_length(abs(step), system)} {plus if step > 0 else minus}"
            for step, plus, minus in ((row.east, "east", "west"), (row.north, "north", "south"))
            if abs(step) > 1e-5
        ]
        if abs(row.turn) > 1e-6:
            ways.append(f"turned {format_angle(row.turn)}")
        return f"{row.what}: {', '.join(ways)}"
    if row.kind in ("came", "gone"):
        return f"{row.what}: {'is there' if row.kind == 'came' else 'is not there'}"
    before, after = (
        side if isinstance(side, str) else " x ".join(format_length(v, system) for v in side)
        for side in (row.before, row.after)
    )
    return f"{'rule ' if row.kind == 'rule' else ''}{row.what}: {after}, was {before}"


def value_text(row: Row, which: int, system: System) -> str:
    """One value of the table."""
    value = row.values[which]
    if value is None:
        return "-"
    if not row.unit:
        return f"{value:g}"
    return measure_text(Measure(value, row.unit), system)


def _table(found: Comparison, system: System) -> Iterator[str]:
    """Measures in rows, layouts in columns; a star marks the best of a row."""
    cells = [["", *found.names]]
    for row in found.rows:
        star = len(row.best) < len(found.names)
        cells.append(
            [
                row.name,
                *(
                    value_text(row, i, system) + (" *" if star and i in row.best else "")
                    for i in range(len(found.names))
                ),
            ]
        )
    widths = [max(len(line[i]) for line in cells) for i in range(len(cells[0]))]
    for line in cells:
        yield "  ".join(cell.ljust(wide) for cell, wide in zip(line, widths, strict=True)).rstrip()
    if any(len(row.best) < len(found.names) for row in found.rows):
        yield "  * best, by more than counts as equal"


def _verdict(found: Comparison, which: int, name: str, system: System) -> str:
    """What one wins and loses against the best of the others."""
    wins = [_by(row, which, system) for row in found.wins(which)]
    loses = [_by(row, which, system) for row in found.loses(which)]
    if not wins and not loses:
        return f"{name}: as good as the others in everything that is measured"
    parts = []
    if wins:
        parts.append(f"wins {'; '.join(wins)}")
    if loses:
        parts.append(f"loses {'; '.join(loses)}")
    return f"{name}: {', but '.join(parts)}"


def _by(row: Row, which: int, system: System) -> str:
    """By how much one is better than the next, or worse than the best."""
    own = row.values[which]
    wins = which in row.best
    others = [v for i, v in enumerate(row.values) if v is not None and (i in row.best) is not wins]
    if own is None or not others:
        return row.name
    other = min(others, key=lambda v: abs(v - own))
    if not (isfinite(own) and isfinite(other)):
        return f"{row.name} {'possible' if isfinite(own) else 'blocked'}"
    by = abs(own - other)
    if not row.unit:
        return f"{by:g} {'fewer' if own < other else 'more'} {row.name}"
    amount = measure_text(Measure(by, row.unit), system)
    return f"{amount} {'less' if own < other else 'more'} {row.name}"
