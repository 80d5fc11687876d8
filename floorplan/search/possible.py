"""A possible true shop: every measured number off by something within its error.

All coordinates are affine in what was measured, so a possible shop is a plain substitution, and
the checks judge it exactly, without any error left.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import fields, is_dataclass, replace
from typing import Any

import numpy as np

from floorplan.geometry.affine import Affine, Outline
from floorplan.rules.book import RuleBook
from floorplan.shop.model import Layout, Opening, Shop

Offsets = Mapping[str, float]
"""Measurement -> by how much the truth differs from what was read [m]."""


def possible(shop: Shop, layout: Layout, offsets: Offsets) -> tuple[Shop, Layout]:
    """The shop and layout as they truly are if the readings are off by `offsets` [m]."""
    true_shop = _substituted(replace(shop, measurements={}), offsets)
    return true_shop, Layout(_substituted(dict(layout.poses), offsets))


def _substituted(value: Any, offsets: Offsets) -> Any:
    """The value with every affine number in it settled; what holds none is kept as it is."""
    if isinstance(value, Affine):
        return Affine(value.shifted(offsets)) if value.terms else value
    if isinstance(value, Outline):
        return Outline(value.shifted(offsets), {}) if value.terms else value
    if isinstance(value, tuple):
        made = tuple(_substituted(item, offsets) for item in value)
        unchanged = all(a is b for a, b in zip(made, value, strict=True))
        return value if unchanged or hasattr(value, "_fields") else made
    if isinstance(value, dict):
        return {key: _substituted(item, offsets) for key, item in value.items()}
    if isinstance(value, type) or not is_dataclass(value) or isinstance(value, RuleBook):
        return value
    changed = {}
    for field in fields(value):
        old = getattr(value, field.name)
        new = _substituted(old, offsets)
        if new is not old and field.init:
            changed[field.name] = new
    if isinstance(value, Opening) and value.hinge is not None and "sweep" in changed:
        changed["hinge"] = _hinge(value, changed["sweep"])
    return replace(value, **changed) if changed else value


def _hinge(opening: Opening, sweep: Outline) -> tuple[float, float]:
    """The pivot is a corner of what the leaf passes over, and moves with it [m]."""
    away = np.hypot(*(opening.sweep.points - np.array(opening.hinge)).T)
    x, y = sweep.points[int(np.argmin(away))]
    return float(x), float(y)
