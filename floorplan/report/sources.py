"""Every rule and constant with its source, as data and in words."""

from __future__ import annotations

from collections.abc import Iterator
from textwrap import fill
from typing import Any

from floorplan.report.data import VERSION
from floorplan.report.words import WIDTH
from floorplan.rules.book import UNSOURCED
from floorplan.rules.sources import SourceRow, all_sources


def rows() -> tuple[SourceRow, ...]:
    """Rules, tables and the constants of the air physics."""
    return all_sources(_air_rows())


def _air_rows() -> Iterator[SourceRow]:
    """Entries of the air physics as rows like all others."""
    from floorplan.air.sources import air_entries

    for entry in air_entries():
        value = "a formula or table" if entry.value is None else f"{entry.value:g}"
        yield SourceRow(
            id=entry.id,
            value=value,
            unit=entry.unit,
            kind="constant",
            about=entry.about,
            source="" if entry.mark in UNSOURCED else entry.source,
            mark=entry.mark,
        )


def sources_data() -> dict[str, Any]:
    """The block of `sources`."""
    return {
        "version": VERSION,
        "command": "sources",
        "sources": [
            {
                "id": row.id,
                "value": row.value,
                "unit": row.unit,
                "kind": row.kind,
                "about": row.about,
                "source": row.ground,
                "mark": row.mark,
                "checked": row.checked,
            }
            for row in rows()
        ],
    }


def sources_text() -> str:
    """One paragraph a rule."""
    out = []
    for row in rows():
        kind = row.kind if row.checked else f"{row.kind}, to read: nothing is checked by it"
        head = f"{row.id}: {row.value} ({kind})"
        out.append(head)
        out.append(fill(row.about, WIDTH, initial_indent="  ", subsequent_indent="  "))
        out.append(fill(row.ground, WIDTH, initial_indent="  ", subsequent_indent="  "))
    return "\n".join(out) + "\n"
