"""The order of moves to a layout, kept by `moves` so that the page of everything can tell it."""

from __future__ import annotations

import json
from dataclasses import dataclass
from hashlib import sha256
from pathlib import Path

from floorplan.drawing.arrangement import COLUMN
from floorplan.drawing.column import Row, paragraph
from floorplan.report.data import dump, poses
from floorplan.report.kept import mark_of
from floorplan.report.moves import moves_headline, step_sentences, why_lines
from floorplan.search.relocation import Relocation, RelocationError, movers, relocate
from floorplan.shop.edit import write_beside_then_replace
from floorplan.shop.model import Layout
from floorplan.shop.reader import ShopFile

NAME = "moves.json"
_VERSION = 1


@dataclass(frozen=True, slots=True)
class Order:
    """An order of moves in words."""

    headline: str
    steps: tuple[tuple[str, str], ...]
    """What goes where and how, and what it weighs."""
    why: tuple[str, ...]
    """Who surely waits for whom."""


def order_of(found: Relocation) -> Order:
    """An answer of `moves` in words."""
    steps = tuple(step_sentences(found.shop, step) for step in found.steps)
    return Order(moves_headline(found), steps, tuple(why_lines(found)))


def keep_order(file: ShopFile, found: Relocation, folder: Path) -> Path:
    """Write `moves.json` into a folder, beside the orders of other layouts. Raises OSError."""
    folder.mkdir(parents=True, exist_ok=True)
    path, made = folder / NAME, order_of(found)
    orders = _orders(file, path)
    orders[_mark(found.wanted)] = {
        "headline": made.headline,
        "steps": [list(step) for step in made.steps],
        "why": list(made.why),
    }
    data = {"version": _VERSION, "file": mark_of(file), "orders": dict(sorted(orders.items()))}
    write_beside_then_replace(path, dump(data) + "\n")
    return path


def known_order(file: ShopFile, wanted: Layout, folder: Path) -> Order | None:
    """The order to a layout: the one kept, or of at most one thing worked out; else None."""
    kept = _orders(file, folder / NAME).get(_mark(wanted))
    if kept is not None:
        return _read(kept)
    try:
        if len(movers(file.shop, file.layout, wanted)) > 1:
            return None
        return order_of(relocate(file.shop, file.layout, wanted, parking=False))
    except RelocationError as wrong:
        return Order(str(wrong), (), ())


def order_rows(order: Order | None, command: str) -> tuple[Row, ...]:
    """The order for a printed sheet, or the command that works it out."""
    if order is None:
        return paragraph(f"`{command}` works out the order of moves.", COLUMN, before=0.8)
    rows = [*paragraph(f"{order.headline[0].upper()}{order.headline[1:]}.", COLUMN, before=0.8)]
    for number, (where, effort) in enumerate(order.steps, 1):
        rows += paragraph(f"{number}. {where}; {effort}", COLUMN, before=0.5)
    for line in order.why:
        rows += paragraph(line, COLUMN, before=0.5)
    return tuple(rows)


def _mark(wanted: Layout) -> str:
    return sha256(dump(poses(wanted)).encode()).hexdigest()


def _orders(file: ShopFile, path: Path) -> dict[str, object]:
    """What is kept for this file as it is; nothing where that cannot be read."""
    try:
        data = json.loads(path.read_text(encoding="utf-8"))
        if data["file"] == mark_of(file):
            return dict(data["orders"])
    except (OSError, ValueError, KeyError, TypeError):
        pass
    return {}


def _read(kept: object) -> Order | None:
    try:
        assert isinstance(kept, dict)
        steps = tuple((str(where), str(effort)) for where, effort in kept["steps"])
        return Order(str(kept["headline"]), steps, tuple(str(line) for line in kept["why"]))
    except (AssertionError, KeyError, TypeError, ValueError):
        return None
