"""What keeps a thing from where it cannot stand: along each edge, and by part of the floor."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from shapely.geometry import LineString, MultiPolygon, Polygon
from shapely.geometry.base import BaseGeometry

from floorplan.motion.free import Edge, FreeRegion
from floorplan.search.link_limits import LinkLimit
from floorplan.search.setting import Label
from floorplan.search.subject import Combination, Subject
from floorplan.units import TOLERANCE

LEAST = 1e-4
"""Smaller parts of the floor are not worth a name [m2]."""
ORDER = (
    "walls",
    "solids",
    "keep-clears",
    "others' work",
    "own work",
    "links",
    "way out",
    "rolling",
)
"""What rules a place out first: where several do, the first of these is named."""
Blocked = Sequence[tuple[str, BaseGeometry]]


@dataclass(frozen=True, slots=True, eq=False)
class Limit:
    """An edge of a region of places and what limits the thing there."""

    line: LineString
    """[m]"""
    names: tuple[str, ...]
    """`saw`, `bench: front drawer against saw`, `way out from saw`."""


@dataclass(frozen=True, slots=True, eq=False)
class RuledOut:
    """A part of the floor where the thing cannot stand."""

    kind: str
    """One of ORDER."""
    name: str
    area: MultiPolygon
    """Places of the reference point [m]."""


# --- along the edges -------------------------------------------------------------------------


def limits_of(
    area: MultiPolygon,
    free: Sequence[tuple[Combination, FreeRegion]],
    links: Sequence[LinkLimit],
    subject: Subject,
    blocked: Blocked,
    doubted: Blocked = (),
) -> tuple[Limit, ...]:
    """Name what limits along every edge of an area; neighbouring edges alike are joined."""
    if area.is_empty:
        return ()
    names: list[dict[str, None]] = []
    edges: tuple[Edge, ...] = ()
    for made, region in free:
        edges = FreeRegion(area, (), (), region.no_fit).edges()
        names = names or [{} for _ in edges]
        for edge, known in zip(edges, names, strict=True):
            for own, other in edge.pairs:
                labels = subject.labels[made.own[own].label], subject.labels[made.rest[other].label]
                known[pair_name(subject, *labels)] = None
    tight = [(link.name, link.region.boundary) for link in links]
    tight += [(f"way out from {owner}", places) for owner, places in blocked]
    tight += doubted
    for edge, known in zip(edges, names, strict=True):
        if not known:
            known.update(dict.fromkeys(_touching(edge, tight)))
    return tuple(_joined(edges, [tuple(known) for known in names]))


def _touching(edge: Edge, tight: Blocked) -> list[str]:
    middle = shapely.points(np.add(edge.start, edge.end) / 2)
    found = [name for name, there in tight if there.dwithin(middle, 10 * TOLERANCE)]
    return found or ["way out"]


def _joined(edges: Sequence[Edge], names: Sequence[tuple[str, ...]]) -> Iterator[Limit]:
    run: list[tuple[float, float]] = []
    last: tuple[str, ...] = ()
    for edge, known in zip(edges, names, strict=True):
        if run and known == last and run[-1] == edge.start:
            run.append(edge.end)
            continue
        if run:
            yield Limit(_line(run), last)
        run, last = [edge.start, edge.end], known
    if run:
        yield Limit(_line(run), last)


def _line(points: list[tuple[float, float]]) -> LineString:
    return LineString(points)


# --- by part of the floor --------------------------------------------------------------------


def ruled_out(
    subject: Subject,
    free: Sequence[tuple[Combination, FreeRegion]],
    links: Sequence[LinkLimit],
    room: BaseGeometry,
    blocked: Blocked,
    possible: BaseGeometry,
    stuck: Blocked = (),
) -> tuple[RuledOut, ...]:
    """Every part of the room where the thing cannot stand, by what rules it out first.

    `blocked` is told by whose way out it is, `stuck` by what is not rolled from there.
    """
    groups: dict[tuple[int, str], list[BaseGeometry]] = {}
    for made, region in free[:1]:
        sets = region.no_fit
        shapes = [shapely.box(*b) for b in sets.boxes] + [Polygon(o) for o in sets.outlines]
        for shape, (own, other) in zip(shapes, [*sets.box_pairs, *sets.outline_pairs], strict=True):
            labels = subject.labels[made.own[own].label], subject.labels[made.rest[other].label]
            kind, name = rule_out_name(subject, *labels)
            groups.setdefault((ORDER.index(kind), name), []).append(shape)
    for link in links:
        groups[ORDER.index("links"), link.name] = [room.difference(link.region)]
    for owner, places in blocked:
        groups[ORDER.index("way out"), f"way out from {owner}"] = [places]
    for name, places in stuck:
        groups.setdefault((ORDER.index("rolling"), name), []).append(places)
    left: BaseGeometry = room.difference(possible)
    out = []
    for (kind_number, name), shapes in sorted(groups.items(), key=lambda row: row[0]):
        together = shapely.union_all(shapes)
        area = areas(left.intersection(together))
        if area.area > LEAST:
            out.append(RuledOut(ORDER[kind_number], name, area))
            left = left.difference(together)
    return tuple(out)


def pair_name(subject: Subject, own: Label, other: Label) -> str:
    """How a person names what touches: the other, and the thing's own part if not its body."""
    if other.limit_of:
        return other.element.owner
    if own.gap_of or other.gap_of:
        return f"gap to {other.element.owner}"
    mine = own.element
    is_body = mine.name in ("", "body") and mine.owner == subject.lead.name
    return other.text if is_body else f"{mine.label} against {other.text}"


def rule_out_name(subject: Subject, own: Label, other: Label) -> tuple[str, str]:
    """Which kind of rule a pair of pieces breaks, and against what."""
    mine, theirs = own.element, other.element
    if other.limit_of:
        return "walls", theirs.owner
    if theirs.nature == "keep-clear":
        return "keep-clears", other.text
    if mine.nature == theirs.nature == "solid":
        return ("walls" if theirs.owner in subject.walls else "solids"), theirs.owner
    if mine.nature == "solid":
        return "others' work", other.text
    return "own work", theirs.owner


def areas(shape: BaseGeometry) -> MultiPolygon:
    """What of a shape has an area."""
    parts = shapely.get_parts(shape)
    parts = shapely.get_parts(parts)  # a collection may hold collections
    return MultiPolygon([p for p in parts if isinstance(p, Polygon) and p.area > 0])
