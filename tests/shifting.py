"""A shop as it would be if the tape had been off: every measured number moved a little."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import fields, is_dataclass, replace
from types import MappingProxyType
from typing import Any

from floorplan.geometry.affine import Affine, Outline
from floorplan.rules.book import RuleBook


def shifted(value: Any, offsets: Mapping[str, float]) -> Any:
    """The same shop, layout or part of one with each measurement off by `offsets` [m]."""
    if isinstance(value, Affine):
        return Affine(value.shifted(offsets), value.terms)
    if isinstance(value, Outline):
        return Outline(value.shifted(offsets), value.terms)
    if isinstance(value, RuleBook):
        return value
    if isinstance(value, tuple):
        return tuple(shifted(item, offsets) for item in value)
    if isinstance(value, dict | MappingProxyType):
        return {key: shifted(item, offsets) for key, item in value.items()}
    if is_dataclass(value) and not isinstance(value, type):
        changed = {
            f.name: shifted(getattr(value, f.name), offsets) for f in fields(value) if f.init
        }
        return replace(value, **changed)
    return value
