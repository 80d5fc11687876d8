"""How big a thing can be: the largest depth for each width, and what stops it."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
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
    later: tuple[Shop, ...] = ()
    """The shop at each later stage of a plan at which the same sizes have the same place."""


def largest(
    shop: Shop,
    layout: Layout,
    thing: str,
    *,
    text: str,
    anywhere: bool = False,
    later: Sequence[tuple[Shop, Layout]] = (),
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
    later
        the same at later stages of a plan: sizes hold at all of them

    Raises
    ------
    KeyError
        when there is no such thing
    ValueError
        when it has no place, or another one at a later stage, and `anywhere` is not asked for
    WhatIfError
        when it has no width and depth of its own

    """
    shop.thing(thing)
    stages = [(shop, layout), *later]
    if not anywhere:
        _stands_still(stages, thing)
    search = _search(stages, thing, text, anywhere, reserve=True)
    if search.place(search.sizes.width * LEAST, search.sizes.depth * LEAST) is None:
        search = _search(stages, thing, text, anywhere, reserve=False)
    edges = tuple(_edges(search)) if not anywhere else ()
    corners = tuple(search.frontier())
    search.expect(len(corners))
    found = tuple(_size(search, *corner) for corner in corners)
    shops = tuple(at for at, _ in later)
    reserve = search.subject.demands.reserve
    return Largest(shop, layout, thing, anywhere, found, edges, reserve, shops)


def _stands_still(stages: Sequence[tuple[Shop, Layout]], thing: str) -> None:
    poses = [layout.pose(thing) for _, layout in stages]
    if poses[0] is None:
        raise ValueError(f"`{thing}` has no place yet; look for its largest size anywhere")
    for (shop, _), pose in zip(stages, poses, strict=True):
        if pose != poses[0] and shop.stage is not None:
            raise ValueError(
                f"`{thing}` stands elsewhere at stage `{shop.stage.name}`; "
                "ask about one stage, or look for its largest size anywhere"
            )


def _search(
    stages: Sequence[tuple[Shop, Layout]], thing: str, text: str, anywhere: bool, *, reserve: bool
) -> SizeSearch:
    later: list[SizeSearch] = []
    for shop, layout in reversed(stages):
        sizes = Sizes(text, shop.path, thing, shop.stage)
        pose = None if anywhere else layout.pose(thing)
        first = len(later) == len(stages) - 1
        made = SizeSearch(sizes, layout, pose, reserve=reserve, later=later if first else ())
        later.insert(0, made)
    return later[0]


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
