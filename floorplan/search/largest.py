"""How big a thing can be: the largest depth for each width, and what stops it."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from floorplan.checks.finding import Verdict
from floorplan.search.maker import maker_notes
from floorplan.search.size_search import LEAST, Place, SizeSearch
from floorplan.search.sizes import Sizes
from floorplan.shop.model import SIDES, Layout, Shop, Side


@dataclass(frozen=True, slots=True)
class Size:
    """One largest size."""

    width: float
    """[m]"""
    depth: float
    """[m]"""
    x: float
    """[m]"""
    y: float
    """[m]"""
    turn: float
    """[deg]"""
    stopped_by: tuple[str, ...]
    """What it would meet if it were deeper."""
    verdict: Verdict
    """Of everything that concerns it, the file read again with this size."""
    notes: tuple[str, ...]
    """What a maker needs to know."""


@dataclass(frozen=True, slots=True)
class Edge:
    """How far one side can grow while the other three stay."""

    side: Side
    grows: float
    """[m]"""
    stopped_by: tuple[str, ...]


@dataclass(frozen=True, slots=True, eq=False)
class Largest:
    """The frontier of width against depth."""

    shop: Shop
    layout: Layout
    thing: str
    anywhere: bool
    sizes: tuple[Size, ...]
    """From narrow to wide; none of them is smaller both ways than another."""
    edges: tuple[Edge, ...]
    """Where it stands now; empty if it is looked for anywhere."""
    reserve: bool
    """Whether the sizes fit whatever the tape may be off, or only as drawn."""


def largest(
    shop: Shop, layout: Layout, thing: str, *, text: str, anywhere: bool = False
) -> Largest:
    """The largest sizes of a thing, in place (its footprint nested in the present one) or anywhere.

    Parameters
    ----------
    shop, layout
        the shop, and where all stands
    thing
        its name
    text
        the shop file, from which the thing is read in other sizes
    anywhere
        whether it may also stand elsewhere, at any turn that it may take

    Raises
    ------
    KeyError
        when there is no such thing
    ValueError
        when it has no place and `anywhere` is not asked for
    WhatIfError
        when it has no width and depth of its own

    """
    pose = layout.pose(thing)
    shop.thing(thing)
    if pose is None and not anywhere:
        raise ValueError(f"`{thing}` has no place yet; look for its largest size anywhere")
    sizes = Sizes(text, shop.path, thing, shop.stage)
    search = SizeSearch(sizes, layout, pose if not anywhere else None, reserve=True)
    if search.place(sizes.width * LEAST, sizes.depth * LEAST) is None:
        search = SizeSearch(sizes, layout, pose if not anywhere else None, reserve=False)
    edges = tuple(_edges(search)) if not anywhere else ()
    corners = tuple(search.frontier())
    search.expect(len(corners))
    found = tuple(_size(search, *corner) for corner in corners)
    return Largest(shop, layout, thing, anywhere, found, edges, search.subject.demands.reserve)


def _edges(search: SizeSearch) -> Iterator[Edge]:
    for side in SIDES:
        grows = search.grows(side)
        by = 0.0 if grows is None else grows + search.step
        yield Edge(side, grows or 0.0, search.stops(side, by))


def _size(search: SizeSearch, width: float, depth: float, found: Place) -> Size:
    stops = search.beyond(width, depth, found)
    verdict = search.judged(width, depth, found)
    notes = tuple(maker_notes(search.sizes.shop, search.sizes.thing(width, depth)))
    return Size(width, depth, found.x, found.y, found.turn, stops, verdict, notes)
