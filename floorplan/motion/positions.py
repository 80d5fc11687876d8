"""Free positions: where the reference point of a convex outline may be among solids."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from copy import copy

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import Polygon, box
from shapely.geometry.base import BaseGeometry

from floorplan.geometry.convex import convex_pieces
from floorplan.motion.turning import Body, Outline, covered, end_of

WALL = -1
"""Owner of the pieces that are not an obstacle but the outside of the workspace."""

_GRID = 1e-9  # [m]
_PER_PIECE = 8.0  # more than a full turn [rad], so that edges sort by piece before angle


class CarrySpace:
    """A workspace and its obstacles, prepared once for bodies of any size.

    Parameters
    ----------
    workspace
        Polygon in which the body has to stay: room, doorways, ground outside [m].
    obstacles
        Polygons in which it must not be, already chosen by height [m].
    stops
        For each obstacle the numbers of the body's parts that it stops, as parts of one body
        may be at different heights; without it every obstacle stops every part.  The workspace
        holds every part.
    parts
        How many parts the bodies have of which `stops` speaks.

    Raises
    ------
    ValueError
        If the workspace has no area or a polygon crosses itself.
    """

    def __init__(
        self,
        workspace: BaseGeometry,
        obstacles: Sequence[BaseGeometry] = (),
        stops: Sequence[Collection[int]] | None = None,
        parts: int = 1,
    ) -> None:
        if workspace.is_empty or workspace.area <= 0:
            raise ValueError("a workspace needs an area")
        for polygon in (workspace, *obstacles):
            if not polygon.is_valid:
                raise ValueError(f"not a plan polygon: {shapely.is_valid_reason(polygon)}")
        self.workspace = workspace
        self.obstacles = tuple(obstacles)
        self.parts = None if stops is None or all(len(s) == parts for s in stops) else parts
        """So many parts a body must have; None: any body, whose parts all meet everything."""
        self._stops = tuple(frozenset(s) for s in stops or ())
        self._met: dict[int, CarrySpace] = {}
        self.bounds: tuple[float, float, float, float] = workspace.bounds
        room = box(*self.bounds)
        outlines: list[Outline] = []
        owners: list[int] = []
        self._owned = [(WALL, shapely.difference(room, workspace)), *enumerate(obstacles)]
        for owner, solid in self._owned:
            for polygon in shapely.get_parts(solid):
                if isinstance(polygon, Polygon) and polygon.area > 0 and polygon.intersects(room):
                    # A sliver left by rounding has no corners that count.
                    pieces = [piece for piece in convex_pieces(polygon) if len(piece) > 2]
                    outlines += pieces
                    owners += [owner] * len(pieces)
        self.owners = np.array(owners, dtype=np.intp)
        self.pieces = np.array([Polygon(outline) for outline in outlines], dtype=object)
        self.solids = shapely.STRtree([s for _, s in self._owned if not s.is_empty])
        self._outlines = outlines
        self._edges = _EdgesByAngle(outlines)

    def met_by(self, part: int) -> CarrySpace:
        """The same space with only what one part of a body meets; owners keep their numbers.

        Raises
        ------
        ValueError
            If no body that the space knows has such a part.
        """
        if self.parts is None:
            return self
        if not 0 <= part < self.parts:
            raise ValueError(f"a part between 0 and {self.parts - 1} is known here, not {part}")
        if part not in self._met:
            twin = next((k for k in self._met if self._meets(k) == self._meets(part)), None)
            self._met[part] = self._only(self._meets(part)) if twin is None else self._met[twin]
        return self._met[part]

    def _meets(self, part: int) -> list[int]:
        return [k for k, stopped in enumerate(self._stops) if part in stopped]

    def _only(self, obstacles: list[int]) -> CarrySpace:
        kept = [WALL, *obstacles]
        mask = np.isin(self.owners, kept)
        some = copy(self)
        some.parts, some._stops, some._met = None, (), {}
        some.owners, some.pieces = self.owners[mask], self.pieces[mask]
        some._owned = [(owner, solid) for owner, solid in self._owned if owner in kept]
        some.obstacles = tuple(solid for owner, solid in some._owned if owner != WALL)
        some.solids = shapely.STRtree([s for _, s in some._owned if not s.is_empty])
        some._outlines = [self._outlines[k] for k in np.flatnonzero(mask)]
        some._edges = _EdgesByAngle(some._outlines)
        return some

    def met_by_all(self) -> CarrySpace:
        """The same space with every obstacle stopping every part of any body."""
        if self.parts is None:
            return self
        every = copy(self)
        every.parts, every._stops, every._met = None, (), {}
        return every

    def knows(self, body: Body) -> bool:
        """Whether the space can tell for each part of a body what stops it."""
        return self.parts is None or self.parts == 1 + len(body.beside)

    def side_angles(self, most: int) -> NDArray[np.float64]:
        """(n,) directions modulo a quarter turn of the longest sides of solids [rad]."""
        edges = self._edges.edges
        if not len(edges):
            return np.zeros(1)
        angles = np.round(np.mod(np.arctan2(edges[:, 1], edges[:, 0]), np.pi / 2), 9)
        angles[angles >= round(np.pi / 2, 9)] = 0.0
        kinds, kind = np.unique(angles, return_inverse=True)
        longest = np.zeros(len(kinds))
        np.maximum.at(longest, kind, np.hypot(edges[:, 0], edges[:, 1]))
        first = np.lexsort((kinds, -np.round(longest, 9)))
        # The room's own box is a solid too, though not a piece.
        return np.unique(np.append(kinds[first[:most]], 0.0))

    def free(self, *outlines: Outline, parts: Sequence[int] | None = None) -> NDArray[np.object_]:
        """Polygons of the positions at which none of the outlines (about the origin) hits.

        `parts` says of which part of the body each outline is; without it the first is of the
        first part and so on.
        """
        return self.free_each([outlines], parts)[0]

    def free_each(
        self, rows: Sequence[Sequence[Outline]], parts: Sequence[int] | None = None
    ) -> list[NDArray[np.object_]]:
        """Return the free positions of each row of outlines, faster than one by one.

        All rows have as many outlines, of the same parts.
        """
        together: dict[int, tuple[CarrySpace, list[int]]] = {}
        for k, part in enumerate(range(len(rows[0])) if parts is None else parts):
            met = self.met_by(part)
            together.setdefault(id(met), (met, []))[1].append(k)
        blocked = [
            met._edges.sums([-row[k] for row in rows for k in own]).reshape(len(rows), -1)
            for met, own in together.values()
        ]
        return self._without(np.hstack(blocked), [np.vstack(row) for row in rows])

    def not_always_blocked(self, body: Body, middle: float, half: float) -> NDArray[np.object_]:
        """Polygons that hold every position free at some angle of `middle` +- `half` [rad].

        What an obstacle piece blocks at all those angles is convex, an intersection of sums of
        convex sets. So it holds the hull of what is known of it: the sum with the core, and for
        each end of a rectangle what is hit at both extreme angles.
        """
        blocked, cores = [], []
        for number, part in enumerate(body.parts):
            core = covered(part, middle, half)
            if len(core):
                cores.append(core)
                met = self.met_by(number)
                blocked.append(met._always_blocked(part, core, middle, half))
        return self._without(np.concatenate(blocked).reshape(1, -1), [np.vstack(cores)])[0]

    def _always_blocked(
        self, part: Body, core: Outline, middle: float, half: float
    ) -> NDArray[np.object_]:
        """For each obstacle piece positions at which a convex part hits it at all the angles."""
        blocked = self._edges.sums([-core])
        # The ends add to the core only where it has become a short lozenge.
        is_slender = part.is_rectangle and part.width < part.length * np.sin(half)
        end = end_of(part, half) if is_slender else None
        if end is not None and blocked.size:
            first, last = end.at(middle - half), end.at(middle + half)
            hits = self._edges.sums([-first, -last, first, last])
            both = shapely.intersection(hits[0::2], hits[1::2])
            gathered = shapely.geometrycollections(np.vstack([blocked, both]).T)
            blocked = shapely.convex_hull(gathered)
        return blocked.ravel()

    def _without(
        self, blocked: NDArray[np.object_], outlines: Sequence[Outline]
    ) -> list[NDArray[np.object_]]:
        """For each row, what is left of the positions within the bounds."""
        x0, y0, x1, y1 = self.bounds
        least = np.array([outline.min(axis=0) for outline in outlines])
        most = np.array([outline.max(axis=0) for outline in outlines])
        low, high = (x0, y0) - least, (x1, y1) - most
        fits = (high > low).all(axis=1)
        inner = shapely.box(low[fits, 0], low[fits, 1], high[fits, 0], high[fits, 1])
        left = shapely.difference(inner, _united(blocked[fits]))
        parts, row = shapely.get_parts(left, return_index=True)
        real = shapely.area(parts) > 0
        parts, row = parts[real], np.flatnonzero(fits)[row[real]]
        cuts = np.searchsorted(row, np.arange(1, len(outlines)))
        return np.split(parts, cuts)


def _united(rows: NDArray[np.object_]) -> NDArray[np.object_]:
    """Union of each row of polygons; where rounding defeats it, on a grid far below any tape."""
    try:
        united: NDArray[np.object_] = shapely.union_all(rows, axis=1)
    except shapely.errors.GEOSException:
        united = np.array([_united_row(row) for row in rows], dtype=object)
    return united


def _united_row(row: NDArray[np.object_]) -> BaseGeometry:
    try:
        return shapely.union_all(row)
    except shapely.errors.GEOSException:
        return shapely.union_all(row, grid_size=_GRID)


class _EdgesByAngle:
    """Edges of many convex outlines, so that adding one outline to all is a merge by angle.

    (The edges of a Minkowski sum of convex polygons are those of both, sorted by direction:
    de Berg and others, Computational Geometry, section 13.3.)
    """

    def __init__(self, outlines: Sequence[Outline]) -> None:
        rows = [_from_lowest(outline) for outline in outlines]
        self.count = len(rows)
        self.lowest = np.array([row[0] for row in rows]).reshape(-1, 2)
        edges = [_edges_of(row) for row in rows]
        self.edges = np.vstack(edges) if edges else np.empty((0, 2))
        self._sizes = np.array([len(row) for row in rows], dtype=np.intp)
        piece = np.repeat(np.arange(self.count), self._sizes)
        self._order = _angles(self.edges) + _PER_PIECE * piece

    def sums(self, outlines: Sequence[Outline]) -> NDArray[np.object_]:
        """(k, n) polygons: the Minkowski sum of each of k convex outlines with each piece."""
        shape = len(outlines), self.count
        if not self.count:
            return np.empty(shape, dtype=object)
        added = [_from_lowest(outline) for outline in outlines]
        more = [_edges_of(outline) for outline in added]
        number = _PER_PIECE * np.arange(shape[0] * shape[1]).reshape(shape)
        order = [(self._order + number[:, :1]).ravel()]
        order += [(_angles(e) + n[:, None]).ravel() for e, n in zip(more, number, strict=True)]
        edges = np.vstack([*[self.edges] * shape[0], *[e for e in more for _ in range(self.count)]])
        edges = edges[np.argsort(np.concatenate(order), kind="stable")]
        sizes = np.concatenate([self._sizes + len(e) for e in more])
        corners = np.cumsum(edges, axis=0) - edges
        lowest = np.concatenate([self.lowest + outline[0] for outline in added])
        corners += np.repeat(lowest - corners[np.cumsum(sizes) - sizes], sizes, axis=0)
        rings = shapely.linearrings(corners, indices=np.repeat(np.arange(len(sizes)), sizes))
        sums: NDArray[np.object_] = shapely.polygons(rings).reshape(shape)
        return sums


def _from_lowest(outline: Outline) -> Outline:
    """Return the corners so that the edges come in order of their angle in [0, 2 pi)."""
    x, y = outline[:, 0], outline[:, 1]
    lowest = int(np.flatnonzero(y == y.min())[np.argmin(x[y == y.min()])])
    return np.concatenate([outline[lowest:], outline[:lowest]])


def _edges_of(outline: Outline) -> Outline:
    return np.concatenate([outline[1:], outline[:1]]) - outline


def _angles(edges: Outline) -> NDArray[np.float64]:
    angles: NDArray[np.float64] = np.arctan2(edges[:, 1], edges[:, 0])
    angles[angles < 0] += 2 * np.pi
    return angles
