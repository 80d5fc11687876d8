"""Everywhere one thing can stand while all else stays, and what keeps it from the rest.

Where the plans of two may not overlap the answer is exact; the way out of everybody is certified
by subdivision.  Places that pass whatever the tape may be off are certain; places that pass as
drawn only, or of which nothing was proved, are unsure.
"""

from __future__ import annotations

import copy
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import TypeVar

import numpy as np
import shapely
from shapely.geometry import GeometryCollection, LineString, MultiPolygon, Point
from shapely.geometry.base import BaseGeometry

from floorplan.checks.judge import Judgement, judge
from floorplan.geometry.nofit import no_fit_sets
from floorplan.motion.free import FreeRegion, Spot, roomiest
from floorplan.search.certify import FINEST, certify
from floorplan.search.contact import Contact, leaning_layout, touching
from floorplan.search.limits import Limit, RuledOut, areas, limits_of, ruled_out
from floorplan.search.pairwise import pairwise_spots
from floorplan.search.subject import Subject
from floorplan.search.walk_space import Moment, Place, Trial, WaysOut
from floorplan.search.ways_kept import Kept, WaysKept
from floorplan.shop.model import Layout, Shop
from floorplan.units import TOLERANCE

NEAR = 1e-4
"""The best place has the most play to within this [m]."""
_Kind = TypeVar("_Kind", bound=BaseGeometry)
STEP15 = tuple(15.0 * i for i in range(24))


@dataclass(frozen=True, slots=True)
class Best:
    """The place with the most play."""

    x: float
    """[m]"""
    y: float
    """[m]"""
    play: float
    """How far it may be moved in any direction [m]."""
    certain: bool
    """False where it passes only as drawn, or nothing better than unsure was found."""
    against: tuple[str, ...] = ()
    """Walls that it is pushed against there, without which it is not certain."""


@dataclass(frozen=True, slots=True, eq=False)
class TurnSpots:
    """All places at one turn, as the westernmost and southernmost point of the thing [m]."""

    turn: float
    """[deg]"""
    region: MultiPolygon
    """Certain."""
    segments: tuple[LineString, ...]
    """Certain, with play along a line only."""
    points: tuple[Point, ...]
    """Certain, without any play."""
    unsure: BaseGeometry
    """Neither proved nor refuted, or within what the tape may be off."""
    best: Best | None
    limits: tuple[Limit, ...]
    """What limits it along each edge of the region."""
    ruled_out: tuple[RuledOut, ...]
    """The rest of the floor by what rules it out."""
    contacts: tuple[Contact, ...] = ()
    """Certain too, if the thing is pushed against these walls: places without play."""

    @property
    def is_empty(self) -> bool:
        """Whether no place is certain."""
        return not (self.segments or self.points or self.contacts or not self.region.is_empty)


@dataclass(frozen=True, slots=True, eq=False)
class Spots:
    """All places of a thing, and of what moves along with it."""

    shop: Shop
    layout: Layout
    thing: str
    together: tuple[str, ...]
    turns: tuple[TurnSpots, ...]
    subject: Subject
    lost: tuple[str, ...]
    """Things from which the way out fails, or is not sure, even while this thing is gone."""
    singly: tuple[str, ...] = ()
    """What is carried from or to the thing: asked at the best spot, not over the regions."""
    stuck: tuple[str, ...] = ()
    """What has no sure way to be rolled or carried even while this thing is gone."""
    later: tuple[Spots, ...] = ()
    """The same by itself at each later stage of a plan that was asked about too."""

    @property
    def best(self) -> tuple[float, Best] | None:
        """Turn and place of the best spot of all: certain before unsure, then the most play."""
        found = [(t.turn, t.best) for t in self.turns if t.best is not None]
        return max(found, key=lambda row: (row[1].certain, row[1].play), default=None)

    def placed(self, best: Best, turn: float) -> Layout:
        """The layout with the thing, and what moves along with it, at a spot."""
        if best.against:
            return leaning_layout(self.subject, best.against, best.x, best.y, turn)
        return self.subject.placed(best.x, best.y, turn)

    def at_best(self) -> Judgement | None:
        """Every check with the thing at the best spot; of several stages the worst."""
        found = self.best
        if found is None:
            return None
        turn, best = found
        made = [judge(each.shop, each.placed(best, turn)) for each in (self, *self.later)]
        return max(made, key=lambda m: ("passes", "unsure", "fails").index(m.verdict))


def spots(
    shop: Shop,
    layout: Layout,
    thing: str,
    *,
    turns: Sequence[float] | None = None,
    step15: bool = False,
    together: Sequence[str] = (),
    ways_out: bool = True,
    finest: float = FINEST,
) -> Spots:
    """Every place at which a thing passes all that depends on it.

    Parameters
    ----------
    shop, layout
        the shop, and where all else stands
    thing
        its name
    turns
        turns to try [deg]; by default those it may take, the four quarter turns for most
    step15
        try all turns in steps of 15 degrees
    together
        names of things that keep their place relative to it, and turn with it
    ways_out
        whether everybody's way out counts too
    finest
        how finely the way out is certified [m]

    Raises
    ------
    KeyError
        when there is no such thing
    ValueError
        when things that move together have no place yet

    """
    names = (thing, *together)
    sure = Subject(shop, layout, names, reserve=True)
    drawn = Subject(shop, layout, names, reserve=False)
    asked = _turns(sure, turns, step15)
    for turn in asked:
        sure.own(turn)
        drawn.own(turn)
    walks = (WaysOut(sure), WaysOut(drawn)) if ways_out else ()
    kept = WaysKept(sure) if ways_out else None
    found = tuple(_at_turn(sure, drawn, walks, kept, turn, finest) for turn in asked)
    lost = {p.owner for w in (walks[0].walks if walks else ()) for p in w.lost}
    return Spots(
        shop,
        layout,
        thing,
        tuple(together),
        found,
        sure,
        tuple(sorted(lost)),
        kept.singly if kept is not None else (),
        tuple(sorted(kept.lost)) if kept is not None else (),
    )


def _turns(subject: Subject, turns: Sequence[float] | None, step15: bool) -> tuple[float, ...]:
    if turns is not None:
        return tuple(turn % 360.0 for turn in turns)
    return STEP15 if step15 else subject.turns(subject.lead)


def _at_turn(
    sure: Subject,
    drawn: Subject,
    walks: Sequence[WaysOut],
    kept: WaysKept | None,
    turn: float,
    finest: float,
) -> TurnSpots:
    exact = pairwise_spots(sure, turn)
    # a keep-clear of its own that may slide proves less against a place than for one
    differs = _has_errors(sure.shop) or bool(sure.own(turn)[1]) or sure.is_vague
    hoped = pairwise_spots(drawn, turn) if differs else exact
    certain = certify(exact.places, _trials(walks, turn), finest=finest)
    possible = certain
    if hoped is not exact:
        rest = hoped.places.difference(areas(certain.passes))
        possible = certify(rest, _trials(walks[1:], turn), finest=finest)
    ways = Kept(certain.passes, ()) if kept is None else kept.sort(turn, certain.passes)
    area = _without_slits(areas(ways.passes))
    region = FreeRegion(
        area, parts_of(ways.passes, LineString), parts_of(ways.passes, Point), NOTHING
    )
    unsure = possible.unsure
    if hoped is not exact:
        unsure = shapely.union_all([possible.passes, possible.unsure])
    doubted = [places for _, places in ways.unsure]
    contacts = tuple(_contacts(sure, drawn, walks, kept, turn, finest, region, area))
    shut = shapely.union_all([places for _, places in ways.fails])
    unsure = shapely.union_all([unsure, *doubted])
    unsure = without_slivers(unsure.difference(area).difference(shut))
    return TurnSpots(
        turn,
        area,
        region.segments,
        region.points,
        unsure,
        best_of(region, unsure, contacts),
        limits_of(area, exact.free, exact.links, sure, certain.fails, (*ways.unsure, *ways.fails)),
        ruled_out(
            sure if hoped is exact else drawn, hoped.free, hoped.links, hoped.room, possible.fails,
            shapely.union_all([area, unsure]), ways.fails,
        ),
        contacts,
    )  # fmt: skip


def _contacts(
    sure: Subject,
    drawn: Subject,
    walks: Sequence[WaysOut],
    kept: WaysKept | None,
    turn: float,
    finest: float,
    region: FreeRegion,
    area: MultiPolygon,
) -> Iterator[Contact]:
    """Places that are certain only because the thing is pushed against a wall there."""
    if not _has_errors(sure.shop):
        return
    known = shapely.union_all([area, *region.segments, *region.points])
    for leaning, found in touching(sure, drawn, turn, known):
        ways = [copy.copy(each) for each in walks[:1]]
        for each in ways:
            each.subject = leaning
        certain = certify(found.places, _trials(ways, turn), finest=finest).passes
        passes = certain if kept is None else kept.sort(turn, certain, tries=0).passes
        if not passes.is_empty:
            yield Contact(found.walls, passes)


def _has_errors(shop: Shop) -> bool:
    return any(m.error > 0 for m in shop.measurements.values())


def _trials(walks: Sequence[WaysOut], turn: float) -> list[Trial]:
    """Every walk to keep open at the first accuracy; what is lost there already, at the next."""
    out: list[Trial] = []
    lost: dict[tuple[Moment, ...], tuple[Place, ...]] = {}
    for rank, ways in enumerate(walks):
        pieces = ways.subject.own(turn)[0]
        for walk in ways.walks:
            solids = tuple(ways.solids(pieces, walk.moments))
            if rank == 0:
                own = tuple(ways.places(pieces, walk.moments))
                out.append(Trial(ways, walk, solids, own, walk.places))
                lost[walk.moments] = walk.lost
            elif lost.get(walk.moments):
                left = {(p.owner, p.area.wkb) for p in lost[walk.moments]}
                kept = tuple(p for p in walk.places if (p.owner, p.area.wkb) in left)
                out.append(Trial(ways, walk, solids, (), kept))
    return out


def best_of(
    region: FreeRegion, unsure: BaseGeometry, contacts: Sequence[Contact] = ()
) -> Best | None:
    """The roomiest certain place, else one against a wall, else the roomiest that is unsure."""
    found, certain = _roomiest(region), True
    for contact in contacts if found is None else ():
        lines, points = parts_of(contact.places, LineString), parts_of(contact.places, Point)
        there = _roomiest(FreeRegion(MultiPolygon(), lines, points, NOTHING))
        if there is not None:
            return Best(there.x + 0.0, there.y + 0.0, 0.0, True, contact.walls)
    if found is None:
        lines, points = parts_of(unsure, LineString), parts_of(unsure, Point)
        found, certain = _roomiest(FreeRegion(areas(unsure), lines, points, NOTHING)), False
    if found is None:
        return None
    return Best(found.x + 0.0, found.y + 0.0, found.play, certain)  # no -0.0


def _roomiest(region: FreeRegion) -> Spot | None:
    """The place with the most play to within NEAR; edges cut by subdivision need no finer."""
    if region.area.is_empty:
        return roomiest(region)
    circles = shapely.maximum_inscribed_circle(shapely.get_parts(region.area), tolerance=NEAR)
    x, y = circles[int(np.argmax(shapely.length(circles)))].coords[0]
    play = float(shapely.distance(shapely.points(x, y), shapely.boundary(region.area)))
    return Spot(x, y, play)


# --- shapes --------------------------------------------------------------------------------

NOTHING = no_fit_sets((), (), np.zeros((0, 0), dtype=np.bool_))


def parts_of(shape: BaseGeometry, kind: type[_Kind]) -> tuple[_Kind, ...]:
    """The lines, points or areas of a shape, lines joined where they meet."""
    parts = shapely.get_parts(shapely.get_parts(shape))
    if kind is LineString and len(parts):
        lines = parts[shapely.get_dimensions(parts) == 1]
        parts = shapely.get_parts(shapely.line_merge(shapely.union_all(lines)))
    return tuple(part for part in parts if isinstance(part, kind) and not part.is_empty)


def without_slivers(shape: BaseGeometry) -> BaseGeometry:
    """A shape without the slivers that rounding leaves of areas."""
    parts = shapely.get_parts(shapely.get_parts(shape))
    thin = shapely.is_empty(shapely.buffer(parts, -TOLERANCE, join_style="mitre"))
    kept = parts[~((shapely.get_dimensions(parts) == 2) & thin)]
    return shapely.union_all(kept) if len(kept) else GeometryCollection()


def _without_slits(area: MultiPolygon) -> MultiPolygon:
    """Close what rounding opens between neighbouring cells, and drop corners on a straight edge."""
    if area.is_empty:
        return area
    closed = area.buffer(TOLERANCE / 10, join_style="mitre")
    closed = closed.buffer(-TOLERANCE / 10, join_style="mitre")
    return areas(shapely.simplify(closed, TOLERANCE / 10))
