"""The generic kinds of equipment, read once from the catalogue in the words of a shop file."""

from __future__ import annotations

from functools import cache
from importlib.resources import files

from floorplan.shop.nodes import Mapping as MappingNode
from floorplan.shop.nodes import compose

FIXED_KINDS = ("water heater", "furnace", "electrical panel")
"""Kinds that belong to the building; the rest is equipment."""


@cache
def kinds() -> dict[str, MappingNode]:
    """Name of each kind -> its named values."""
    text = files("floorplan.shop").joinpath("catalogue.yaml").read_text(encoding="utf-8")
    top = compose(text, "catalogue.yaml")
    out: dict[str, MappingNode] = {}
    for name, node in top.items():
        body = node.mapping()
        if body is not None:
            out[name] = body
    top.faults.raise_if_any()
    return out
