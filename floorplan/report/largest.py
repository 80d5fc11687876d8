"""Largest sizes of a thing as data and in words."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from pathlib import Path
from textwrap import fill

from floorplan.report.data import Data, number
from floorplan.report.text import tail
from floorplan.report.words import WIDTH
from floorplan.search.largest import Edge, Largest, Size
from floorplan.units import System, format_length


def largest_data(found: Largest) -> list[Data]:
    """The block `largest`: one entry a size, from narrow to wide, in m and degrees."""
    return [
        {
            "width": number(size.width),
            "depth": number(size.depth),
            "x": number(size.x),
            "y": number(size.y),
            "turn": number(size.turn),
            "stopped_by": list(size.stopped_by),
            "verdict": size.verdict,
            "notes": list(size.notes),
        }
        for size in found.sizes
    ]


def edges_data(found: Largest) -> list[Data]:
    """The block `edges`: how far each side can grow where the thing stands [m]."""
    return [
        {"side": e.side, "grows": number(e.grows), "stopped_by": list(e.stopped_by)}
        for e in found.edges
    ]


def largest_text(found: Largest, cautions: Iterable[str], files: Iterable[Path]) -> str:
    """The answer of `largest`."""
    system = found.shop.system
    lines = [fill(_headline(found), WIDTH)]
    if not found.reserve:
        lines.append(
            fill(
                "Nothing fits with a reserve for the measuring errors: these sizes fit as drawn, "
                "with less to spare than the tape may be off.",
                WIDTH,
            )
        )
    if found.later:
        names = ", ".join(at.stage.name for at in (found.shop, *found.later) if at.stage)
        text = f"Sizes hold at all these stages: {names}; `--stage` asks about one."
        lines.append(fill(text, WIDTH, subsequent_indent="  "))
    lines.append("")
    lines += [
        fill(_edge_line(edge, system), WIDTH, subsequent_indent="    ") for edge in found.edges
    ]
    for size in found.sizes:
        lines.extend(_size_lines(size, system))
    lines.extend(tail(found.shop, (), cautions, files))
    return "\n".join(lines) + "\n"


def _headline(found: Largest) -> str:
    where = "anywhere" if found.anywhere else "where it stands"
    if not found.sizes:
        return f"no size of {found.thing} fits {where}"
    system = found.shop.system
    most = max(found.sizes, key=lambda s: s.width * s.depth)
    return (
        f"{found.thing} can be {_length(most.width, system)} wide and "
        f"{_length(most.depth, system)} deep {where}; each size below is the deepest of its width"
    )


def _length(metres: float, system: System) -> str:
    return format_length(metres, system, rounding="down")


def _edge_line(edge: Edge, system: System) -> str:
    stops = "; ".join(edge.stopped_by) or "nothing found"
    return f"  {edge.side}: grows {_length(edge.grows, system)}, stopped by {stops}"


def _size_lines(size: Size, system: System) -> Iterator[str]:
    x, y = (format_length(v, system) for v in (size.x, size.y))
    yield ""
    yield (
        f"{_length(size.width, system)} wide, {_length(size.depth, system)} deep: {size.verdict}; "
        f"x {x}, y {y}, turn {size.turn:g}"
    )
    stops = "; ".join(size.stopped_by) or "nothing found"
    yield fill(f"  deeper it meets {stops}", WIDTH, subsequent_indent="    ")
    for note in size.notes:
        yield fill(f"  {note}", WIDTH, subsequent_indent="    ")
