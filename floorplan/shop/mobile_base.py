"""A base on wheels under a thing: it lifts everything the thing has, and juts out at the floor."""

from __future__ import annotations

from dataclasses import replace
from typing import TypeVar

from floorplan.geometry.affine import ZERO, Affine, Outline
from floorplan.shop.model import KeepClear, Opening, Part, Plug, Port, Thing, Zone
from floorplan.shop.nodes import Mapping as MappingNode
from floorplan.shop.reading import Reading, require
from floorplan.units import TOLERANCE

_Band = TypeVar("_Band", Part, Opening, Zone, KeepClear)
_AboveFloor = TypeVar("_AboveFloor", Zone, KeepClear)
_Point = TypeVar("_Point", Port, Plug)

BASE = "mobile base"
BASE_KEYS = ("height", "overhang")


def on_mobile_base(reading: Reading, own: MappingNode, thing: Thing) -> Thing:
    """The thing as it stands on the base that the file gives it, if it gives one.

    Its sizes are read as those of the thing without the base.
    """
    node = own.get(BASE)
    mapping = None if node is None else node.mapping()
    if node is None or mapping is None:
        return thing
    mapping.check_keys(BASE_KEYS)
    height = reading.length(
        require(mapping, "height"), f"{thing.name}: {BASE} height", height=True, positive=True
    )
    overhang = reading.length(mapping.get("overhang"), f"{thing.name}: {BASE} overhang")
    if "overhang" not in mapping:
        overhang = ZERO
    if thing.bottom.value > TOLERANCE:
        node.fault(
            f"`{thing.name}` begins above the floor, so it stands on no base",
            "take out its `bottom:`, or the base",
        )
    elif thing.feet is not None:
        node.fault(
            f"`{thing.name}` has levelling feet, so it does not stand on wheels",
            "take out `feet:`, or the base",
        )
    elif height is not None and overhang is not None:
        return raised(thing, height, overhang)
    return thing


def raised(thing: Thing, height: Affine, overhang: Affine = ZERO) -> Thing:
    """A thing set on a base that is `height` high and juts out on every side by `overhang` [m].

    What stands or hangs on the thing goes up with it; people and what reaches down to the floor
    stay on the floor.
    """
    body = thing.body
    plan = Outline.box(
        left=body.lowest(0) - overhang,
        right=body.highest(0) + overhang,
        south=body.lowest(1) - overhang,
        north=body.highest(1) + overhang,
    )
    cutter = thing.cutter
    return replace(
        thing,
        height=thing.height + height,
        surface=None if thing.surface is None else thing.surface + height,
        parts=(*(_up(part, height) for part in thing.parts), Part(BASE, plan, ZERO, height)),
        zones=tuple(_above_floor(zone, height) for zone in thing.zones),
        openings=tuple(_up(opening, height) for opening in thing.openings),
        keep_clears=tuple(_above_floor(keep, height) for keep in thing.keep_clears),
        cutter=None if cutter is None else replace(cutter, table=cutter.table + height),
        ports=tuple(_higher(port, height) for port in thing.ports),
        plugs=tuple(_higher(plug, height) for plug in thing.plugs),
        on_wheels=True,
        overhang=overhang,
    )


def _up(one: _Band, by: Affine) -> _Band:
    return replace(one, bottom=one.bottom + by, top=one.top + by)


def _above_floor(one: _AboveFloor, by: Affine) -> _AboveFloor:
    return _up(one, by) if one.bottom.value > TOLERANCE else one


def _higher(one: _Point, by: Affine) -> _Point:
    return replace(one, height=one.height + by)
