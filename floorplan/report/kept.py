"""Layouts that a search found, kept beside its drawings so that a later command can name one."""

from __future__ import annotations

import json
from collections.abc import Sequence
from hashlib import sha256
from pathlib import Path
from typing import Any

from floorplan.checks.judge import judge
from floorplan.report.data import dump, poses
from floorplan.search.rank import Ranked, values_of
from floorplan.shop.edit import write_beside_then_replace
from floorplan.shop.model import PLACES, Layout, Pose
from floorplan.shop.reader import ShopFile

NAME = "layouts.json"
_VERSION = 1
_SAME = 2e-6  # poses are kept to a micrometre: as near to today's they are today's [m]


class KeptError(ValueError):
    """Kept layouts that cannot be used, in one sentence with what would help."""


def keep_layouts(file: ShopFile, layouts: Sequence[Ranked], folder: Path) -> Path:
    """Write `layouts.json` into a folder, replacing an older one. Raises OSError."""
    folder.mkdir(parents=True, exist_ok=True)
    path = folder / NAME
    data = {
        "version": _VERSION,
        "shop": file.shop.name,
        "file": mark_of(file),
        "layouts": [
            {
                "rank": ranked.rank, "poses": poses(ranked.layout), "reason": ranked.reason,
                "best_for": list(ranked.best_for), "dominated": ranked.dominated,
            }
            for ranked in layouts
        ],
    }  # fmt: skip
    write_beside_then_replace(path, dump(data) + "\n")
    return path


def kept_layout(file: ShopFile, rank: int, folder: Path) -> Layout:
    """A layout kept by the last search in this folder. Raises KeptError."""
    by_rank = _rows(file, folder)
    if rank not in by_rank:
        ranks = ", ".join(str(known) for known in by_rank) or "none"
        raise KeptError(f"there is no rank {rank} in {folder / NAME}; kept are: {ranks}")
    return _layout(file, by_rank[rank], folder)


def kept_ranked(file: ShopFile, folder: Path, most: int) -> tuple[Ranked, ...]:
    """The first layouts kept by the last search in this folder, judged anew. Raises KeptError."""
    rows = list(_rows(file, folder).items())[:most]
    layouts = [(rank, row, _layout(file, row, folder)) for rank, row in rows]
    return tuple(
        Ranked(
            rank=rank,
            judgement=(made := judge(file.shop, layout)),
            values=values_of(made, file.layout, file.shop.priorities),
            best_for=tuple(str(word) for word in row.get("best_for", ())),
            dominated=row.get("dominated") is True,
            reason=str(row.get("reason", "")),
        )
        for rank, row, layout in layouts
    )


def _again(file: ShopFile, folder: Path) -> str:
    """How layouts come to be kept."""
    again = f"run `floorplan arrange {file.path}`"
    if folder != Path("figures") / Path(file.path).stem:
        again += f" with `-o {folder}`"
    return again


def _rows(file: ShopFile, folder: Path) -> dict[int, dict[str, Any]]:
    """What is kept, by rank. Raises KeptError."""
    path, again = folder / NAME, _again(file, folder)
    try:
        data = json.loads(path.read_text(encoding="utf-8"))
        by_rank = {int(row["rank"]): dict(row) for row in data["layouts"]}
        mark = data["file"]
    except FileNotFoundError:
        raise KeptError(f"no layouts are kept in {folder}; {again} first") from None
    except (OSError, ValueError, KeyError, TypeError):
        raise KeptError(f"{path} cannot be read; {again} again") from None
    if mark != mark_of(file):
        raise KeptError(
            f"the layouts in {path} were found for the shop file as it was before, or with "
            f"something supposed; {again} again"
        )
    return by_rank


def mark_of(file: ShopFile) -> str:
    """What tells one shop file, its stage and what is supposed from another."""
    stage = () if file.shop.stage is None else (file.shop.stage.name,)
    return sha256("\n".join((file.text, *file.supposed, *stage)).encode()).hexdigest()


def _layout(file: ShopFile, row: dict[str, Any], folder: Path) -> Layout:
    try:
        return _placed(file, row["poses"])
    except (KeyError, TypeError, ValueError, AttributeError):
        again = _again(file, folder)
        raise KeptError(f"{folder / NAME} cannot be read; {again} again") from None


def _placed(file: ShopFile, kept: dict[str, dict[str, Any]]) -> Layout:
    """Poses of things that stay are today's own, with what the tape may be off."""
    out: dict[tuple[str, str], Pose] = {}
    for name, places in kept.items():
        for place, row in places.items():
            if not file.shop.has(name) or place not in PLACES:
                raise KeyError(name)
            pose = Pose.at(float(row["x"]), float(row["y"]), float(row["turn"]))
            today = file.layout.pose(name, place)
            out[name, place] = today if today is not None and _near(today, pose) else pose
    return Layout(out)


def _near(a: Pose, b: Pose) -> bool:
    off = max(abs(a.x.value - b.x.value), abs(a.y.value - b.y.value))
    return off <= _SAME and abs((a.turn - b.turn + 180.0) % 360.0 - 180.0) <= _SAME
