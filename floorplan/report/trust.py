"""How far a verdict can be trusted, as data and in words."""

from __future__ import annotations

from collections.abc import Iterator
from math import floor
from textwrap import fill

from floorplan.report.data import Data, number
from floorplan.report.words import WIDTH
from floorplan.search.trust import Trust
from floorplan.units import System, format_length

SHOWN = 5
"""Deciding measurements listed."""


def trust_data(found: Trust) -> Data:
    """The block `trust`."""
    return {
        "share": number(found.share),
        "error": number(found.error),
        "deciding": [
            {
                "measurement": row.measurement,
                "line": row.line or None,
                "error": number(row.error),
                "weight": number(row.weight),
            }
            for row in found.deciding
        ],
        "method": found.method,
        "draws": found.draws,
        "exact": found.exact,
        "assumed": list(found.assumed),
    }


def trust_lines(found: Trust, system: System) -> Iterator[str]:
    """The share, how it was found, and what to measure again first."""
    share = percent(found.share)
    if found.draws:
        share += f" (± {100 * found.error:.1f} %)"
    text = f"Trust: it passes in {share} of the shops that the tape allows; {found.method}"
    if found.assumed:
        text += f"; {len(found.assumed)} assumed sizes taken for right"
    yield fill(text + ".", WIDTH, subsequent_indent="  ")
    for row in found.deciding[:SHOWN]:
        off = format_length(row.error, system, rounding="nearest")
        place = f" [line {row.line}]" if row.line else ""
        yield (
            f"  measure `{row.measurement}` again{place}: ± {off} there is "
            f"{percent(row.weight)} of the doubt"
        )


def percent(share: float) -> str:
    """A share rounded down, so that a doubt that is left never reads as none."""
    if share == 1.0:
        return "100 %"
    return f"{floor(share * 1000) / 10:g} %"
