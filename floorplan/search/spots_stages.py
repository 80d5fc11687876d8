"""Where a thing can stand at every stage of a plan at which it is there: what all stages share."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace

import shapely
from shapely.geometry import GeometryCollection, LineString, MultiPolygon, Point
from shapely.geometry.base import BaseGeometry

from floorplan.motion.free import FreeRegion
from floorplan.search.best_spot import with_checked_best
from floorplan.search.contact import Contact
from floorplan.search.limits import LEAST, Limit, RuledOut, areas
from floorplan.search.spots import (
    NOTHING,
    Spots,
    TurnSpots,
    best_of,
    parts_of,
    spots,
    without_slivers,
)
from floorplan.shop.model import Layout, Shop
from floorplan.units import TOLERANCE


def spots_at_all(
    stages: Sequence[tuple[Shop, Layout]],
    thing: str,
    *,
    step15: bool = False,
    together: Sequence[str] = (),
) -> Spots:
    """Every place that holds at each of some stages; limits of one stage only are named with it.

    Parameters are those of `spots`; a companion counts at the stages at which it is there.
    """
    each = [
        spots(shop, layout, thing, step15=step15, together=[t for t in together if shop.has(t)])
        for shop, layout in stages
    ]
    if len(each) == 1:
        return with_checked_best(each[0])
    first = each[0]
    turns = [at.turn for at in first.turns if all(_has(found, at.turn) for found in each)]
    shared = replace(
        first,
        turns=tuple(
            _shared([_turn(found, turn) for found in each], _names(each)) for turn in turns
        ),
        lost=tuple(sorted({name for found in each for name in found.lost})),
        singly=tuple(dict.fromkeys(name for found in each for name in found.singly)),
        stuck=tuple(sorted({name for found in each for name in found.stuck})),
        later=tuple(each[1:]),
    )
    return with_checked_best(shared)


def _has(found: Spots, turn: float) -> bool:
    return any(at.turn == turn for at in found.turns)


def _turn(found: Spots, turn: float) -> TurnSpots:
    return next(at for at in found.turns if at.turn == turn)


def _names(each: Sequence[Spots]) -> list[str]:
    return ["" if found.shop.stage is None else found.shop.stage.name for found in each]


def _shared(each: Sequence[TurnSpots], stages: Sequence[str]) -> TurnSpots:
    """What all stages leave of one turn."""
    certain = _common([GeometryCollection([t.region, *t.segments, *t.points]) for t in each])
    hoped = _common([shapely.union_all([t.region, *t.segments, *t.points, t.unsure]) for t in each])
    area = areas(certain)
    near = area.buffer(3 * TOLERANCE)
    lines = [s for s in parts_of(certain, LineString) if s.length > 4 * TOLERANCE]
    lines = [s for s in lines if not near.covers(s)]
    spots_ = [p for p in parts_of(certain, Point) if not near.covers(p)]
    region = FreeRegion(area, tuple(lines), tuple(spots_), NOTHING)
    unsure = without_slivers(hoped.difference(area))
    contacts = tuple(_contacts(each, near))
    return TurnSpots(
        each[0].turn,
        area,
        region.segments,
        region.points,
        unsure,
        best_of(region, unsure, contacts),
        tuple(_limits(area, each, stages)),
        tuple(_ruled_out(each, stages)),
        contacts,
    )


def _contacts(each: Sequence[TurnSpots], near: BaseGeometry) -> Iterator[Contact]:
    """Places against walls that are certain at every stage, there or without the wall."""
    for walls in dict.fromkeys(c.walls for at in each for c in at.contacts):
        certain = [
            shapely.union_all(
                [
                    at.region, *at.segments, *at.points,
                    *(c.places for c in at.contacts if c.walls == walls),
                ]
            )
            for at in each
        ]  # fmt: skip
        lines = shapely.union_all(
            [c.places for at in each for c in at.contacts if c.walls == walls]
        )
        left = _common([lines, *certain]).difference(near)
        if not left.is_empty:
            yield Contact(walls, left)


def _common(shapes: Sequence[BaseGeometry]) -> BaseGeometry:
    """What all shapes share; areas that only touch share a line without any play."""
    left = shapely.union_all(shapes[0])
    for shape in shapes[1:]:
        left = left.intersection(shapely.union_all(shape))
    return left


def _limits(
    area: MultiPolygon, each: Sequence[TurnSpots], stages: Sequence[str]
) -> Iterator[Limit]:
    """Edges of each stage where they still bound what is left."""
    rim = area.boundary.buffer(2 * TOLERANCE)
    found: dict[tuple[str, ...], dict[str, BaseGeometry]] = {}
    for at, stage in zip(each, stages, strict=True):
        for limit in at.limits:
            part = limit.line.intersection(rim)
            if part.length > 10 * TOLERANCE:
                known = found.setdefault(limit.names, {})
                known[stage] = shapely.union_all([known.get(stage, LineString()), part])
    along: dict[tuple[tuple[float, ...], ...], tuple[LineString, list[str]]] = {}
    for names, by_stage in found.items():
        told = names if len(by_stage) == len(stages) else _at(names, by_stage)
        for line in parts_of(shapely.union_all(list(by_stage.values())), LineString):
            # what different stages put against one edge is told there together
            ends = tuple(
                sorted((round(x, 3), round(y, 3)) for x, y in (line.coords[0], line.coords[-1]))
            )
            along.setdefault(ends, (line, []))[1].extend(told)
    for line, told_here in along.values():
        yield Limit(line, tuple(dict.fromkeys(told_here)))


def _at(names: tuple[str, ...], stages: dict[str, BaseGeometry]) -> tuple[str, ...]:
    return tuple(f"{name} ({', '.join(stages)})" for name in names)


def _ruled_out(each: Sequence[TurnSpots], stages: Sequence[str]) -> Iterator[RuledOut]:
    """Parts of the floor by what rules them out: at the first stage, then what later ones add."""
    gone: BaseGeometry = GeometryCollection()
    for number, (at, stage) in enumerate(zip(each, stages, strict=True)):
        before = gone
        for part in at.ruled_out:
            left = areas(part.area.difference(before))
            if left.area > LEAST:
                yield RuledOut(
                    part.kind, part.name if number == 0 else f"{part.name} ({stage})", left
                )
            gone = gone.union(part.area)
