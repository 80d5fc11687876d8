"""Results as plain data in SI units, the same keys for every command."""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping
from math import isfinite
from pathlib import Path
from typing import Any

import shapely
from shapely.geometry.base import BaseGeometry

from floorplan.checks.finding import Finding, Measure
from floorplan.checks.judge import Judgement
from floorplan.search.arrange import Arrangement
from floorplan.search.rank import Ranked
from floorplan.shop.model import Layout

VERSION = 1
"""Version of the keys below."""
DIGITS = 6
"""Decimals of every number: micrometres are finer than any tape."""

Data = dict[str, Any]


def number(value: float | None) -> float | None:
    """A number as it is printed; what is not finite is not known."""
    if value is None or not isfinite(value):
        return None
    return round(value, DIGITS) + 0.0


def geometry(shape: BaseGeometry | None) -> Data | None:
    """Type and coordinates of a shape [m]."""
    if shape is None or shape.is_empty:
        return None
    mapped = shapely.geometry.mapping(shapely.set_precision(shape, 1e-6, mode="pointwise"))
    if "coordinates" not in mapped:
        return {"type": mapped["type"], "geometries": [dict(g) for g in mapped["geometries"]]}
    return {"type": mapped["type"], "coordinates": mapped["coordinates"]}


def finding(found: Finding) -> Data:
    """One checked fact."""
    return {
        "check": found.check,
        "rule": found.rule,
        "kind": found.kind,
        "about": list(found.about),
        "task": found.task,
        "verdict": found.verdict,
        "measured": number(found.measured),
        "needed": number(found.needed),
        "margin": number(found.margin),
        "error": number(found.error),
        "unit": found.unit,
        "certified": found.certified,
        "assumed": list(found.assumed),
        "where": geometry(found.where),
        "line": found.line,
        "message": found.message,
        "source": found.source,
    }


def findings(judgement: Judgement) -> list[Data]:
    """Every finding, each with its stage where the shop is that of a stage."""
    stage = judgement.shop.stage
    more = {} if stage is None else {"stage": stage.name}
    return [finding(found) | more for found in judgement.findings]


def measures(found: Mapping[str, Measure]) -> Data:
    """Measures by name."""
    return {name: {"value": number(m.value), "unit": m.unit} for name, m in found.items()}


def poses(layout: Layout) -> Data:
    """Where things stand: thing -> place -> x, y [m] and turn [deg]."""
    out: Data = {}
    for (thing, place), pose in layout.poses.items():
        out.setdefault(thing, {})[place] = {
            "x": number(pose.x.value),
            "y": number(pose.y.value),
            "turn": number(pose.turn),
        }
    return out


def envelope(
    command: str,
    judgement: Judgement,
    cautions: Iterable[str],
    files: Iterable[Path],
    **blocks: Any,
) -> Data:
    """The object every command prints."""
    shop = judgement.shop
    return {
        "version": VERSION,
        "command": command,
        "shop": shop.name,
        "verdict": judgement.verdict,
        "findings": findings(judgement),
        "measures": measures(judgement.measures),
        "cautions": list(cautions),
        "files": [str(f) for f in files],
        "assumed": list(judgement.assumed),
        "not placed": list(judgement.scene.absent),
        "rules changed": [
            {"id": r.id, "value": number(r.value), "off": r.off, "line": r.line}
            for r in shop.rules.changed
        ],
        "notes": list(shop.notes),
        **({} if shop.stage is None else {"stage": shop.stage.name}),
        **blocks,
    }


def ranked(layout: Ranked) -> Data:
    """One ranked layout."""
    made = layout.judgement
    return {
        "rank": layout.rank,
        "verdict": made.verdict,
        "poses": poses(made.layout),
        "measures": measures(made.measures),
        "best_for": list(layout.best_for),
        "dominated": layout.dominated,
        "reason": layout.reason,
        "findings": findings(made),
        "assumed": list(made.assumed),
    }


def arrangement(found: Arrangement) -> Data:
    """The block of the main job."""
    today = found.today
    return {
        "seed": found.seed,
        "tried": found.tried,
        "interrupted": found.interrupted,
        "note": found.note,
        "clash": list(found.clash),
        "today": {
            "verdict": today.verdict,
            "poses": poses(today.layout),
            "measures": measures(today.measures),
            "findings": findings(today),
        },
        "layouts": [ranked(layout) for layout in found.layouts],
    }


def dump(data: Data) -> str:
    """One JSON object as text, keys in the order given."""
    return json.dumps(data, ensure_ascii=False, allow_nan=False, indent=1)
