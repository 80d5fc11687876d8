"""The tape sheet in words, to be read on the floor without a drawing."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

from floorplan.checks.judge import Judgement
from floorplan.drawing.tape import reading_words
from floorplan.drawing.tape_sheet import Taped, point_lists, taped
from floorplan.shop.edit import write_beside_then_replace
from floorplan.units import System, format_angle, format_length


def write_tape(judgement: Judgement, out_dir: str | Path, name: str) -> tuple[Path, ...]:
    """`out_dir/name.txt`. Raises OSError."""
    path = Path(out_dir) / f"{name}.txt"
    path.parent.mkdir(parents=True, exist_ok=True)
    write_beside_then_replace(path, tape_text(judgement))
    return (path,)


def tape_text(judgement: Judgement) -> str:
    """Everything to tape, in the order of taping."""
    rows = taped(judgement.scene)
    lines = [f"To tape {judgement.shop.name} on the floor, in this order:", ""]
    for row in rows:
        lines += _lines(row, judgement)
    for title, marks in point_lists(judgement.shop):
        if marks:
            lines += ["", f"{title}:"]
        lines += [f"{mark:>4}. {words}" for mark, _, words in marks]
    return "\n".join(lines) + "\n"


def _lines(row: Taped, judgement: Judgement) -> Iterator[str]:
    system: System = judgement.shop.system
    pose = judgement.layout.pose(row.thing, row.place)
    turn = "" if pose is None else f", turn {format_angle(pose.turn)}"
    place = "" if row.place == "standing" else f" ({row.place})"
    yield f"{row.number:>3}. {row.thing}{place}{turn}"
    for corner in row.corners:
        across, up = (reading_words(r, system) for r in (corner.across, corner.up))
        yield f"     {corner.name}: {across}, {up}"
    side, first, second = (format_length(v, system) for v in (row.side, *row.diagonals))
    yield f"     check: A to B {side}; diagonals {first} from A, {second} from B"
