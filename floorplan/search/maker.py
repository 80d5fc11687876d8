"""What whoever makes a bench or rack in some size needs to know about it."""

from __future__ import annotations

from collections.abc import Iterator
from math import ceil

from floorplan.shop.model import Shop, Thing
from floorplan.units import TOLERANCE, format_length

THICKEST = 0.05
"""Stock up to this thickness is a sheet or board that a top can be cut from [m]."""
NARROWEST = 0.3
"""Stock at least this wide [m]."""


def maker_notes(shop: Shop, thing: Thing) -> Iterator[str]:
    """Reach across, sheets that the top can be cut from, drawers that grow with it."""
    system = shop.system
    width, depth = thing.width.value, thing.depth.value
    reach = shop.rules.value("reach-across")
    if depth > 2 * reach + TOLERANCE:
        yield (
            f"nobody reaches the middle: {format_length(reach, system, rounding='down')} "
            "from either side"
        )
    elif depth > reach + TOLERANCE:
        yield (
            f"deeper than one reaches from one side, "
            f"{format_length(reach, system, rounding='down')}: it is worked at from both"
        )
    for sheet in shop.stock:
        long, wide = sorted((sheet.length.value, sheet.width.value), reverse=True)
        if sheet.thickness.value > THICKEST or wide < NARROWEST:
            continue
        yield f"top from {sheet.name}: {_sheets(max(width, depth), min(width, depth), long, wide)}"
    for opening in thing.openings:
        if opening.kind != "door" and any(
            n.startswith(f"{thing.name}: ") for n in opening.travel.terms
        ):
            yield f"{opening.name} opens {format_length(opening.travel.value, system)}"


def _sheets(long: float, wide: float, sheet_long: float, sheet_wide: float) -> str:
    """How many sheets a top takes: one, or strips joined along or across."""
    if long <= sheet_long + TOLERANCE and wide <= sheet_wide + TOLERANCE:
        return "one piece of one sheet"
    along = ceil(long / sheet_long - 1e-9) * ceil(wide / sheet_wide - 1e-9)
    across = ceil(long / sheet_wide - 1e-9) * ceil(wide / sheet_long - 1e-9)
    pieces = min(along, across)
    return f"{pieces} pieces joined, from as many sheets at most"
