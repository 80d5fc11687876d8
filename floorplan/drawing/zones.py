"""Use zones, keep-clears and feeds on a plan: pale, hatched, each with its letter."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence

import shapely
from shapely import box as rectangle
from shapely.geometry.base import BaseGeometry
from shapely.prepared import prep

from floorplan.drawing.canvas import Label, Plan
from floorplan.drawing.placing import Box, inside
from floorplan.drawing.style import (
    BLACK,
    FED,
    FINE,
    KEEP_CLEAR,
    SMALL_SIZE,
    THIN,
    ZoneStyle,
    tint,
    zone_style,
)
from floorplan.shop.feeding import feeds_of
from floorplan.shop.scene import Element

PALE = 0.14
"""Strength of a zone's face [-]."""


def styled(element: Element) -> ZoneStyle:
    """How a zone, a moving part or a keep-clear is drawn."""
    return KEEP_CLEAR if element.nature == "keep-clear" else zone_style(element.purpose)


def drawn_zones(plan: Plan) -> tuple[Element, ...]:
    """Zones and moving parts once each; the standing places before drawers stay out."""
    seen: set[bytes] = set()
    out = []
    for element in (*plan.scene.of("zone"), *plan.scene.of("moving")):
        if element.advised and element.purpose == "stand":
            continue
        key = element.purpose.encode() + element.volume.polygon.wkb
        if key not in seen:
            seen.add(key)
            out.append(element)
    return tuple(out)


def drawn_keep_clears(plan: Plan) -> tuple[Element, ...]:
    """What must stay clear, but for overhead leaves and door swings, which show as themselves."""
    return tuple(
        e for e in plan.scene.of("keep-clear") if e.rule not in ("overhead-leaf", "door-swing")
    )


def draw_zones(plan: Plan) -> tuple[ZoneStyle, ...]:
    """All of them under the solids; feeds also as dashed outlines over them. Styles drawn."""
    groups: dict[ZoneStyle, list[Element]] = {}
    for element in (*drawn_keep_clears(plan), *drawn_zones(plan)):
        groups.setdefault(styled(element), []).append(element)
    for style, elements in groups.items():
        together = shapely.union_all([e.volume.polygon for e in elements])
        keep = style is KEEP_CLEAR
        edge = tint(style.colour, 0.3 if keep else 0.45)
        plan.page.area(
            plan.shape(together), face=tint(style.colour, 0.05 if keep else PALE), edge=edge,
            width=0.0, hatch=style.hatch, z=1.0 if keep else 1.2, gid=f"zones: {style.letter}",
        )  # fmt: skip
        for element in elements:
            fed = element.purpose in FED
            plan.page.area(
                plan.shape(element.volume.polygon),
                edge=tint(style.colour, 0.9 if fed else 0.7),
                width=THIN if fed else FINE,
                dashes=(9.0, 4.0) if fed else (),
                z=5.5 if fed else 1.5,
                gid=f"{element.nature}: {element.label}",
            )
    return tuple(groups)


def letter_zones(plan: Plan, busy: Sequence[Box]) -> None:
    """A letter in every zone where there is room for one; at feeds also the piece."""
    solids = shapely.union_all(
        [e.volume.polygon for e in plan.scene.of("solid") if e.presence.only is None]
    )
    pieces = dict(_pieces(plan))
    floor = plan.scene.floor
    for element in (*drawn_keep_clears(plan), *drawn_zones(plan)):
        style = styled(element)
        texts = [style.letter]
        if element.purpose in ("infeed", "outfeed") and id(element) in pieces:
            texts.insert(0, f"{style.letter}  {pieces[id(element)]}")
        open_part = plan.shape(element.volume.polygon.intersection(floor).difference(solids))
        _letter(plan, _largest(open_part), texts, style, busy)


def _pieces(plan: Plan) -> Iterator[tuple[int, str]]:
    """Which piece belongs to an infeed or outfeed: they come in the order of the feeds."""
    for thing in plan.scene.shop.things:
        feeds = feeds_of(plan.scene.shop, thing)
        for purpose in ("infeed", "outfeed"):
            zones = [e for e in plan.scene.things.get(thing.name, ()) if e.purpose == purpose]
            fed = [e for e in zones if e.name.endswith("the cutter")]
            for (_, feed), element in zip(feeds, fed, strict=False):
                size = f"{plan.length(feed.length.value)} x {plan.length(feed.width.value)}"
                yield id(element), f"{feed.stock} {size}"


def _letter(
    plan: Plan,
    area: BaseGeometry | None,
    texts: Iterable[str],
    style: ZoneStyle,
    busy: Sequence[Box],
) -> None:
    if area is None:
        return
    bounds = Box(*area.bounds)
    whole = prep(area)
    for text in texts:
        for upright in (False, True) if len(text) > 1 else (False,):
            label = Label((text,), SMALL_SIZE, bold=1, upright=upright)
            places = (
                b
                for b in inside(bounds, *label.extent)
                if whole.contains(rectangle(b.left, b.bottom, b.right, b.top))
            )
            found = plan.placer.find(places, busy=busy, most=0.0)
            if found is not None:
                colour = BLACK if style.colour == BLACK else _dark(style.colour)
                plan.write(label, found, colour=colour)
                return


def _dark(colour: str) -> str:
    """A shade of the colour dark enough to read on white."""
    parts = (int(colour[i : i + 2], 16) for i in (1, 3, 5))
    return "#" + "".join(f"{round(part * 0.55):02X}" for part in parts)


def _largest(area: BaseGeometry) -> BaseGeometry | None:
    parts = [p for p in getattr(area, "geoms", [area]) if p.geom_type == "Polygon"]
    return max(parts, key=lambda p: p.area, default=None)
