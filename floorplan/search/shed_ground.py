"""Where a shed may stand, exactly: everything that keeps it off, as sets of forbidden places.

A place is that of its walls' westernmost and southernmost points.  For each turn every obstacle
forbids the Minkowski sum of itself with the shed turned about; what is left of the lot is legal.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from functools import lru_cache
from math import atan2, degrees

import numpy as np
import shapely
from shapely.geometry import LineString, Point, Polygon, box
from shapely.geometry.base import BaseGeometry

from floorplan.checks.lot import reaches
from floorplan.checks.shed import landing
from floorplan.geometry.affine import ZERO, Affine, Array, Outline
from floorplan.geometry.convex import convex_pieces
from floorplan.geometry.grown import grown
from floorplan.shop.building import floor_polygon, frame
from floorplan.shop.model import Shop, Wall
from floorplan.shop.shed_body import (
    ShedBody,
    at_place,
    local_outlines,
    place_at_wall,
    side_length,
)
from floorplan.shop.site import SHED_SIDES, Shed, ShedPlace, ShedSide, Site
from floorplan.units import TOLERANCE

AROUND = 60.0
"""Ground looked at beyond the lot's corners [m]."""
LOT, THE_SHOP, FROM_SHOP = "the lot", "the shop", "the distance from the shop"
SAME_TURN = 1e-6
"""Turns nearer than this are one [deg]."""


@dataclass(frozen=True, slots=True, eq=False)
class Ground:
    """Every legal place of a shed at one turn, or along one wall."""

    turn: float
    wall: str | None
    side: ShedSide
    places: BaseGeometry
    """Polygons, or lines along a wall; parts of no width are left without play [m]."""
    reserve: bool
    """Whether what the tape leaves open is kept free as well."""

    def place(self, x: float, y: float) -> ShedPlace:
        """A place set by a search, without measuring error."""
        return ShedPlace(Affine(x), Affine(y), self.turn, self.wall, self.side)


@dataclass(frozen=True, slots=True, eq=False)
class Barrier:
    """Something that a part of the shed keeps off."""

    name: str
    part: str
    """`measured`, `eaves` or `ground`."""
    pieces: tuple[Array, ...]
    """Convex [m]."""
    distance: float
    error: float
    """What the tape leaves open of its place [m]."""


def grounds(shop: Shop, *, reserve: bool = True, dropped: Iterable[str] = ()) -> tuple[Ground, ...]:
    """Legal ground at every turn and along every wall; `dropped` barriers do not count.

    The room itself always does, and so does the edge of the lot.
    """
    site, shed = _site_and_shed(shop)
    without = frozenset(dropped) - {LOT, THE_SHOP}
    kept = [b for b in barriers(shop) if b.name not in without]
    out: list[Ground] = []
    if shed.attached != "no":
        for wall in allowed_walls(shop):
            out += [
                _along_wall(shop, site, shed, wall, side, kept, reserve)
                for side in SHED_SIDES
                if shed.door is None or side != shed.door.side
            ]
    if shed.attached != "yes":
        kept += [replace(b, distance=0.0) if b.name in without else b for b in own_building(shop)]
        out += [_free(shop, site, shed, turn, kept, reserve) for turn in turns(shop)]
    return tuple(ground for ground in out if not ground.places.is_empty)


def free_ground(shop: Shop, turn: float, *, reserve: bool = True) -> Ground:
    """Legal ground of a shed that stands alone at one turn [deg]; perhaps empty."""
    site, shed = _site_and_shed(shop)
    return _free(shop, site, shed, turn, [*barriers(shop), *own_building(shop)], reserve)


def _site_and_shed(shop: Shop) -> tuple[Site, Shed]:
    assert shop.site is not None
    assert shop.site.shed is not None
    return shop.site, shop.site.shed


def allowed_walls(shop: Shop) -> tuple[Wall, ...]:
    """Walls to which the shed may be attached and through which its duct may go."""
    _, shed = _site_and_shed(shop)
    return tuple(w for w in shop.room.walls if not shed.walls or w.name in shed.walls)


def turns(shop: Shop) -> tuple[float, ...]:
    """The four turns along the axes, and those along every wall and lot line [deg]."""
    site, _ = _site_and_shed(shop)
    found = [0.0]
    ends = [(w.start, w.end) for w in shop.room.walls] + [(k.start, k.end) for k in site.lines]
    for start, end in ends:
        dx, dy = end[0].value - start[0].value, end[1].value - start[1].value
        turn = round(degrees(atan2(dy, dx)) % 90.0, 9) % 90.0
        if all(abs((turn - other + 45.0) % 90.0 - 45.0) > SAME_TURN for other in found):
            found.append(turn)
    return tuple((turn + 90.0 * quarter) % 360.0 for turn in found for quarter in range(4))


# --- what keeps a shed off ---------------------------------------------------------------------


def barriers(shop: Shop) -> list[Barrier]:
    """Lot lines, other buildings, trees, doors: everything but the room itself."""
    site, _ = _site_and_shed(shop)
    found: list[Barrier] = []
    beyond = beyond_lot(site)
    found.append(Barrier(LOT, "eaves", beyond, 0.0, 0.0))
    found.append(Barrier(LOT, "ground", beyond, 0.0, 0.0))
    for reach in reaches(site):
        ends = reach.ends
        feet = [reach.at(end) for end in ends]
        nx, ny = (float(c) for c in reach.inward)
        error = max((x * nx + y * ny).error(shop.measurements) for x, y in feet)
        name = reach.line.name
        found.append(Barrier(LOT, "eaves", (ends,), 0.0, error))
        found.append(Barrier(LOT, "ground", (ends,), 0.0, error))
        found.append(Barrier(name, "measured", (ends,), reach.line.setback or 0.0, error))
    for built in site.buildings:
        pieces, error = _pieces(built.outline), _error(shop, built.outline)
        found.append(Barrier(built.name, "measured", pieces, built.separation, error))
        found.append(Barrier(built.name, "ground", pieces, 0.0, error))
    for spot in (*site.trees, *(() if site.house_door is None else (site.house_door,))):
        point = np.array([[spot.x.value, spot.y.value]])
        error = spot.x.error(shop.measurements) + spot.y.error(shop.measurements)
        found.append(Barrier(spot.name, "measured", (point,), spot.keep.value, error))
    for door in shop.doors:
        if door.leads_to == "outside":
            ground = landing(shop, door)
            found.append(Barrier(door.name, "measured", _pieces(ground), 0.0, _error(shop, ground)))
    room = tuple(convex_pieces(outer_room(shop)))
    found.append(Barrier(THE_SHOP, "ground", room, 0.0, _room_error(shop)))
    found.append(Barrier(THE_SHOP, "attached", room, 0.0, 0.0))
    return found


def own_building(shop: Shop) -> list[Barrier]:
    """The room's building, from which a shed of its own keeps off."""
    site, _ = _site_and_shed(shop)
    room = tuple(convex_pieces(outer_room(shop)))
    return [Barrier(FROM_SHOP, "measured", room, site.room_separation, _room_error(shop))]


def beyond_lot(site: Site) -> tuple[Array, ...]:
    """Everything round the lot in convex pieces [m]."""
    land = Polygon(site.lot.points)
    west, south, east, north = land.bounds
    round_it = box(west - AROUND, south - AROUND, east + AROUND, north + AROUND).difference(land)
    return tuple(piece for part in shapely.get_parts(round_it) for piece in convex_pieces(part))


@lru_cache(maxsize=8)
def outer_room(shop: Shop) -> Polygon:
    """The room with its walls."""
    thick = shop.room.wall_thickness.value
    return floor_polygon(shop.room).buffer(thick, join_style="mitre", mitre_limit=10.0)


def _pieces(outline: Outline) -> tuple[Array, ...]:
    return tuple(convex_pieces(Polygon(outline.points)))


def _error(shop: Shop, outline: Outline) -> float:
    corners = (outline.vertex(i) for i in range(len(outline.points)))
    return max(x.error(shop.measurements) + y.error(shop.measurements) for x, y in corners)


def _room_error(shop: Shop) -> float:
    thick = shop.room.wall_thickness.error(shop.measurements)
    return _error(shop, shop.room.floor) + thick


def own_error(shop: Shop, shed: Shed) -> float:
    """What the tape leaves open of the shed itself [m]."""
    return sum(n.error(shop.measurements) for n in (shed.width, shed.depth, shed.eave))


# --- the ground that is left -------------------------------------------------------------------


def _movers(site: Site, local: ShedBody, turn: float) -> dict[str, tuple[Array, ...]]:
    """Convex parts of the shed at a turn, from the point that a place names [m]."""
    here = at_place(local, ShedPlace(ZERO, ZERO, turn))
    measured = here.walls if site.measured_to == "wall" else here.eaves
    before = tuple(o.points for o in (here.door, here.bin) if o is not None)
    return {
        "measured": (measured.points,),
        "attached": (here.walls.points,),
        "eaves": (here.eaves.points,),
        "ground": before,
    }


def forbidden(
    movers: dict[str, tuple[Array, ...]], kept: Iterable[Barrier], *, reserve: float | None
) -> BaseGeometry:
    """Places at which a part of the shed is nearer to a barrier than it may be.

    With `reserve` [m] the errors of the barriers and so much more are kept free, None keeps none.
    Shrunk by half the tolerance, so that what fits exactly is found.
    """
    corners: list[Array] = []
    for barrier in kept:
        more = 0.0 if reserve is None or barrier.part == "attached" else barrier.error + reserve
        for piece in barrier.pieces:
            wide = grown(piece, barrier.distance + more)
            if len(wide) >= 3:
                # the sum of two convex outlines is the hull of the sums of their corners
                corners += [(wide[:, None] - part).reshape(-1, 2) for part in movers[barrier.part]]
    if not corners:
        return Polygon()
    of = np.repeat(np.arange(len(corners)), [len(c) for c in corners])
    sets = shapely.convex_hull(shapely.linestrings(np.vstack(corners), indices=of))
    union = shapely.union_all(sets)
    return union.buffer(-TOLERANCE / 2, join_style="mitre")


def _free(
    shop: Shop, site: Site, shed: Shed, turn: float, kept: Iterable[Barrier], reserve: bool
) -> Ground:
    local = local_outlines(shed, None)
    rows = [b for b in kept if b.part != "attached"]
    spare = own_error(shop, shed) if reserve else None
    blocked = forbidden(_movers(site, local, turn), rows, reserve=spare)
    west, south, east, north = (
        site.lot.points.min(axis=0).tolist() + site.lot.points.max(axis=0).tolist()
    )
    return Ground(turn, None, "back", box(west, south, east, north).difference(blocked), reserve)


def _along_wall(
    shop: Shop,
    site: Site,
    shed: Shed,
    wall: Wall,
    side: ShedSide,
    kept: Iterable[Barrier],
    reserve: bool,
) -> Ground:
    line, thick = frame(wall), shop.room.wall_thickness.value
    first, last = -thick, line.length.value + thick - side_length(shed, side).value
    ends = [place_at_wall(shop.room, shed, wall, along, side) for along in (first, last)]
    turn = ends[0].turn
    if last < first - TOLERANCE:
        return Ground(turn, wall.name, side, Polygon(), reserve)
    track: BaseGeometry = LineString([(p.x.value, p.y.value) for p in ends])
    if last - first < TOLERANCE:
        track = Point(ends[0].x.value, ends[0].y.value)
    spare = None
    if reserve:
        face = ends[0].x.error(shop.measurements) + ends[0].y.error(shop.measurements)
        spare = own_error(shop, shed) + face
    movers = _movers(site, local_outlines(shed, side), turn)
    left = track.difference(forbidden(movers, kept, reserve=spare))
    return Ground(turn, wall.name, side, left, reserve)


def parts_of(places: BaseGeometry) -> Iterator[BaseGeometry]:
    """The polygons, lines and points of some places."""
    for part in shapely.get_parts(places):
        if hasattr(part, "geoms"):
            yield from parts_of(part)
        elif not part.is_empty:
            yield part
