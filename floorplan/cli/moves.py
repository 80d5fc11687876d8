"""`moves`: in what order things get from today's layout to another one."""

from __future__ import annotations

import argparse
import re
from pathlib import Path
from typing import TYPE_CHECKING

from floorplan.cli.command import (
    NO,
    OK,
    Command,
    RefusedError,
    cautions_for,
    drawn,
    load_shop,
    named_thing,
    out_folder,
    positive,
    shop_arguments,
    told,
)

if TYPE_CHECKING:
    from floorplan.search.relocation import Relocation
    from floorplan.shop.model import Layout, Pose
    from floorplan.shop.reader import ShopFile

_RANK = re.compile(r"(?:rank\s+)?([0-9]+)")


def _arguments(parser: argparse.ArgumentParser) -> None:
    shop_arguments(parser)
    add = parser.add_argument
    add(
        "layout",
        metavar="LAYOUT",
        nargs="+",
        help="a shop file with the same things, or `rank N` of the last arrange",
    )
    add("--effort", type=positive, metavar="N", help="work to spend, not seconds")
    add(
        "--parking",
        choices=("none", "found"),
        default="found",
        help="whether a thing may wait somewhere in between (default found)",
    )
    add(
        "--park",
        action="append",
        default=[],
        metavar="THING=X,Y[,TURN]",
        help="where a thing may wait, as in `planer=10',4',90`",
    )


def _run(options: argparse.Namespace) -> int:
    file = load_shop(options)
    wanted = _wanted(options, file)
    park = dict(_parked(text, file) for text in options.park)
    if park and options.parking == "none":
        raise RefusedError("--park says where to wait and --parking none that nothing may")
    from floorplan.report.moves import moves_data, moves_text
    from floorplan.report.order import keep_order
    from floorplan.search.orders import EFFORT
    from floorplan.search.relocation import RelocationError, relocate

    try:
        found = relocate(
            file.shop,
            file.layout,
            wanted,
            parking=options.parking == "found",
            park=park,
            effort=options.effort or EFFORT,
        )
    except RelocationError as wrong:
        raise RefusedError(str(wrong)) from None
    cautions = cautions_for(file.shop)
    folder = out_folder(options, file)
    files = drawn(options, lambda: (*_sheets(found, folder), keep_order(file, found, folder)))
    told(
        options,
        lambda: moves_data(found, cautions, files),
        lambda: moves_text(found, cautions, files),
    )
    return OK if found.verdict == "passes" else NO


def _sheets(found: Relocation, folder: Path) -> tuple[Path, ...]:
    if not found.steps:
        return ()
    from floorplan.drawing.moves import moves_sheets

    return moves_sheets(found, folder)


def _wanted(options: argparse.Namespace, file: ShopFile) -> Layout:
    words = " ".join(options.layout)
    rank = _RANK.fullmatch(words)
    if rank is not None:
        from floorplan.report.kept import KeptError, kept_layout

        try:
            return kept_layout(file, int(rank[1]), out_folder(options, file))
        except KeptError as wrong:
            raise RefusedError(str(wrong)) from None
    if len(options.layout) > 1:
        raise RefusedError(f"`{words}` is neither a shop file nor `rank N`")
    from floorplan.shop.reader import load

    other = load(options.layout[0], file.changes)
    _same_things(file, other)
    return other.layout


def _same_things(file: ShopFile, other: ShopFile) -> None:
    """Refuse another shop: only where things stand may differ."""
    from floorplan.units import TOLERANCE

    mine, theirs = ({t.name: t for t in f.shop.things} for f in (file, other))
    if mine.keys() != theirs.keys():
        names = ", ".join(sorted(mine.keys() ^ theirs.keys()))
        raise RefusedError(f"{file.path} and {other.path} do not have the same things: {names}")
    for name, thing in mine.items():
        body, changed = thing.body.points, theirs[name].body.points
        if body.shape != changed.shape or abs(body - changed).max() > TOLERANCE:
            raise RefusedError(f"`{name}` has another size in {other.path}")
    floor, changed = file.shop.room.floor.points, other.shop.room.floor.points
    if floor.shape != changed.shape or abs(floor - changed).max() > TOLERANCE:
        raise RefusedError(f"{other.path} is another room")


def _parked(text: str, file: ShopFile) -> tuple[str, Pose]:
    from floorplan.shop.model import Pose
    from floorplan.units import UnitError, parse_length

    name, sign, value = text.partition("=")
    parts = [part.strip() for part in value.split(",")]
    if not sign or len(parts) not in (2, 3):
        raise RefusedError(f"`{text}` is not THING=X,Y; write for example `planer=10',4'`")
    thing = named_thing(file, name)
    today = file.layout.pose(thing)
    try:
        x, y = (float(parse_length(part, None)) for part in parts[:2])
        turn = float(parts[2]) if len(parts) == 3 else 0.0 if today is None else today.turn
    except (UnitError, ValueError) as wrong:
        raise RefusedError(f"--park {text}: {wrong}") from None
    return thing, Pose.at(x, y, turn)


MOVES = Command("moves", "in what order to move things to another layout", _arguments, _run)
