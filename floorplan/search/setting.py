"""A shop as a placement problem: which pieces each thing brings, and what may not overlap.

The pieces are those of the exact scene, so what the search finds feasible is what the checks of
overlap pass.  With a reserve each piece is grown by what the tape may be off on each of its
sides, so that a found layout passes although nothing was measured exactly.
"""

from __future__ import annotations

import itertools
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
from shapely.geometry import Polygon, box

from floorplan.geometry.affine import ZERO, Affine, Array, Outline
from floorplan.geometry.convex import convex_pieces, is_convex
from floorplan.geometry.pieces import Piece
from floorplan.geometry.volume import Volume
from floorplan.search.carry_ends import CARRYING, carry_ends
from floorplan.search.problem import Item, Problem, State
from floorplan.shop import building
from floorplan.shop.model import ELSEWHERE, Layout, Pose, Shop, Thing
from floorplan.shop.read_poses import pose_on_wall, turn_to_wall
from floorplan.shop.scene import (
    Element,
    Presence,
    building_elements,
    frame_of,
    may_not_overlap,
    presence_at,
    tasks_at,
    thing_elements,
)
from floorplan.units import System

GRID = {System.IMPERIAL: 0.0254 / 16, System.METRIC: 0.001}
"""Coordinates are offered in these steps [m]: what a tape shows."""
ROOMY = 0.99
"""Share of half a step that a piece is grown, so that rounding to the step stays within."""


@dataclass(frozen=True, slots=True)
class Demands:
    """What a search asks of a layout."""

    reserve: bool = True
    """Need plus error, so that the tape cannot spoil it."""
    advised: bool = True
    """Advised zones count like required ones."""
    arcs: bool = False
    """Door swings with their arcs; without, as steps of boxes round them, which are quicker."""
    without: frozenset[str] = frozenset()
    """Labels of elements left out, to see what clashes."""


Spot = tuple[str, str]
"""A thing and the place at which it is: standing, parked or working."""


@dataclass(frozen=True, slots=True)
class Label:
    """One class of pieces: an element of the scene, or a limit of one thing."""

    element: Element
    limit_of: str | None = None
    """The only thing whose main body must keep out of it."""
    gap_of: str | None = None
    """The thing whose wanted gap or carried piece this is: it meets solids only."""

    @property
    def text(self) -> str:
        """What a person calls it."""
        return self.element.label


def conflict(a: Label, b: Label) -> bool:
    """Whether two classes of pieces may not overlap."""
    if a.limit_of or b.limit_of:
        limit, other = (a, b) if a.limit_of else (b, a)
        return (
            not other.limit_of
            and not other.gap_of
            and other.element.owner == limit.limit_of
            and other.element.name == "body"
        )
    if a.gap_of or b.gap_of:
        both = a.gap_of is not None and b.gap_of is not None
        solid = b.element if a.gap_of else a.element
        return (
            not both
            and a.element.owner != b.element.owner
            and solid.nature == "solid"
            and a.element.presence.meets(b.element.presence)
        )
    return may_not_overlap(a.element, b.element)


class Setting:
    """A shop with some things to be placed and the rest where it stands."""

    def __init__(
        self,
        shop: Shop,
        layout: Layout,
        movable: Iterable[str],
        demands: Demands,
        spots: Iterable[Spot] = (),
    ) -> None:
        self.shop = shop
        self.layout = layout
        self.demands = demands
        names = set(movable)
        self.things = tuple(t for t in shop.things if t.name in names)
        self.spots: tuple[Spot, ...] = (*((t.name, "standing") for t in self.things), *spots)
        """What each item of the problem is: a thing at its standing place, then those that are
        sought a place for some tasks."""
        self.labels: list[Label] = []
        self._growth = GRID[shop.system] / 2 * ROOMY if demands.reserve else 0.0

    # --- pieces ----------------------------------------------------------------------------

    def _label(self, label: Label) -> int:
        self.labels.append(label)
        return len(self.labels) - 1

    def _wanted(self, element: Element) -> bool:
        if element.advised and not self.demands.advised:
            return False
        return element.label not in self.demands.without

    def _pieces(self, element: Element, label: int, *, fixed: bool) -> Iterator[Piece]:
        """Convex pieces of an element; a sliding keep-clear by what all its places share."""
        volume = element.volume
        if len(element.alternatives) > 1:
            volume = _common(element)
        if element.nature == "moving" and element.purpose == "door":
            # a little more than the leaf sweeps, and much quicker: boxes are searched exactly
            volume = _boxed(volume)
        bottom, top = volume.bottom.value, volume.top.value
        if self.demands.reserve:
            bottom -= volume.bottom.error(self.shop.measurements)
            top += volume.top.error(self.shop.measurements)
        for outline in self._outlines(volume, fixed):
            for part in [coarser(outline)] if self.demands.arcs else boxes_round(outline):
                yield Piece(part, bottom, top, label)

    def _outlines(self, volume: Volume, fixed: bool) -> list[Array]:
        if not self.demands.reserve:
            return list(volume.pieces)
        # half a step of rounding belongs to each moving side; what stays fixed has none
        step = 0.0 if fixed else self._growth
        points = volume.outline.points
        low, high = points.min(axis=0), points.max(axis=0)
        is_box = len(points) == 4 and bool(
            np.all((np.abs(points - low) < 1e-9) | (np.abs(points - high) < 1e-9))
        )
        errors = self.shop.measurements
        outline = volume.outline
        if is_box:
            west = low[0] - outline.lowest(0).error(errors) - step
            south = low[1] - outline.lowest(1).error(errors) - step
            east = high[0] + outline.highest(0).error(errors) + step
            north = high[1] + outline.highest(1).error(errors) + step
            return [np.array([[east, south], [east, north], [west, north], [west, south]])]
        worst = max(
            sum(axis.error(errors) for axis in outline.vertex(i)) for i in range(len(points))
        )
        grown = volume.polygon.buffer(worst + step, join_style="mitre")
        return list(convex_pieces(grown))

    # --- fixed -----------------------------------------------------------------------------

    def _fixed(self) -> tuple[Piece, ...]:
        shop = self.shop
        moved = {t.name for t in self.things}
        out: list[Piece] = []
        elements = [e for e in building_elements(shop) if self._wanted(e)]
        for thing in shop.things:
            # parked and working places that are not sought stay where they are
            for place, presence in self._presence(thing).items():
                pose = self.layout.pose(thing.name, place)
                if pose is not None and (thing.name, place) not in self.spots:
                    elements += [
                        e for e in thing_elements(shop, thing, pose, presence) if self._wanted(e)
                    ]
        for element in elements:
            label = self._label(Label(element))
            out.extend(self._pieces(element, label, fixed=True))
        for thing in shop.things:
            stands = self.layout.pose(thing.name)
            if thing.name not in moved and stands is not None:
                for element in self._held(thing, stands):
                    label = self._label(Label(element, gap_of=thing.name))
                    out.extend(self._pieces(element, label, fixed=True))
        out.extend(self._outside())
        return tuple(out)

    def _outside(self) -> Iterator[Piece]:
        """Walls and ceiling, the walls with openings for tasks that have doors open."""
        shop = self.shop
        open_tasks = {t.name: t.open_doors for t in shop.tasks if t.open_doors}
        closed = Presence(None, frozenset({*open_tasks, CARRYING}))
        every_door = [door.name for door in shop.doors]
        grown = self.demands.reserve
        for walls, presence in [
            (building.solid_walls(shop.room), closed),
            # who carries something opens the doors that are in the way
            (building.opened_walls(shop, every_door), Presence(frozenset((CARRYING,)))),
            *(
                (building.opened_walls(shop, doors), Presence(frozenset((task,))))
                for task, doors in open_tasks.items()
            ),
        ]:
            for piece in walls:
                element = Element(
                    piece.wall, "body", "solid", piece.volume, presence, building=True
                )
                label = self._label(Label(element))
                yield from self._pieces(element, label, fixed=True)
        ceiling = Element("ceiling", "body", "solid", building.ceiling(shop.room), building=True)
        label = self._label(Label(ceiling))
        bottom = shop.room.height.value
        if grown:
            bottom -= shop.room.height.error(shop.measurements)
        yield Piece(ceiling.volume.outline.points, bottom, np.inf, label)

    # --- movable ---------------------------------------------------------------------------

    def turns(self, thing: Thing, place: str = "standing") -> tuple[float, ...]:
        """Allowed turns of a thing [deg]; a wall holds it where it stands only."""
        freedom = thing.freedom
        if freedom.along is not None and place == "standing":
            return (turn_to_wall(self.shop.room.wall(freedom.along)),)
        if freedom.turns:
            return freedom.turns
        pose = self.layout.pose(thing.name, place)
        return (pose.turn,) if pose is not None else (0.0, 90.0, 180.0, 270.0)

    def _item(self, thing: Thing, place: str) -> Item:
        turns = self.turns(thing, place)
        presence = self._presence(thing)[place]
        here = place == "standing"
        per_turn: list[tuple[Piece, ...]] = []
        labels: list[int] | None = None
        for turn in turns:
            elements = [
                e
                for e in thing_elements(self.shop, thing, Pose.at(0.0, 0.0, turn), presence)
                if self._wanted(e)
            ]
            held = self._held(thing, Pose.at(0.0, 0.0, turn)) if here else []
            if labels is None:
                labels = [self._label(Label(e)) for e in elements]
                labels += [self._label(Label(e, gap_of=thing.name)) for e in held]
                gap_label = self._gap_label(thing, elements)
            pieces = [
                piece
                for label, e in zip(labels, elements + held, strict=True)
                for piece in self._pieces(e, label, fixed=False)
            ]
            if gap_label is not None:
                pieces.extend(self._gap_pieces(thing, elements[0], gap_label))
            per_turn.append(tuple(pieces))
        within = self._within(thing, turns[0]) if here else None
        return Item(thing.name, turns, tuple(per_turn), within)

    def _presence(self, thing: Thing) -> dict[str, Presence]:
        """When a thing is at each place that it has or is sought."""
        has = [
            place
            for place in ELSEWHERE
            if (thing.name, place) in self.spots or self.layout.pose(thing.name, place) is not None
        ]
        return presence_at(self.shop, thing.name, has)

    def _standing(self, thing: Thing) -> Presence:
        return self._presence(thing)["standing"]

    def _held(self, thing: Thing, pose: Pose) -> list[Element]:
        """Where what is carried begins or ends its way at a thing, if that is asked for."""
        return list(carry_ends(self.shop, thing, pose)) if self.demands.reserve else []

    def _gap_label(self, thing: Thing, elements: list[Element]) -> int | None:
        if thing.freedom.keep_gap.value <= 0:
            return None
        return self._label(Label(elements[0], gap_of=thing.name))

    def _gap_pieces(self, thing: Thing, body: Element, label: int) -> Iterator[Piece]:
        grown = body.volume.polygon.buffer(thing.freedom.keep_gap.value, quad_segs=4)
        for outline in convex_pieces(grown):
            yield Piece(outline, body.volume.bottom.value, body.volume.top.value, label)

    def _within(
        self, thing: Thing, turn: float
    ) -> tuple[float, float, float, float] | Array | None:
        """Limits of the reference point: the line along a wall, or none."""
        freedom = thing.freedom
        if freedom.along is None:
            return None
        wall = self.shop.room.wall(freedom.along)
        line = building.frame(wall)
        extent = float(np.ptp(thing.body.turned(turn).points @ line.along))
        ends = [
            pose_on_wall(thing, wall, Affine(a))
            for a in (0.0, max(line.length.value - extent, 0.0))
        ]
        a, b = ((p.x.value, p.y.value) for p in ends)
        inward = line.inward * (self._reserve_to_wall(thing) if self.demands.reserve else 0.0)
        a = (a[0] + float(inward[0]), a[1] + float(inward[1]))
        b = (b[0] + float(inward[0]), b[1] + float(inward[1]))
        if abs(a[0] - b[0]) < 1e-9 or abs(a[1] - b[1]) < 1e-9:
            return (min(a[0], b[0]), min(a[1], b[1]), max(a[0], b[0]), max(a[1], b[1]))
        return np.array([a, b])

    def _reserve_to_wall(self, thing: Thing) -> float:
        """How far off its wall a grown thing must stay to touch nothing [m]."""
        wall = self.shop.room.wall(thing.freedom.along or "")
        errors = self.shop.measurements
        walls = max(c.error(errors) for c in (*wall.start, *wall.end))
        sizes = thing.width.error(errors) + thing.depth.error(errors)
        return walls + sizes + self._growth

    def _areas(self) -> Iterator[Piece]:
        """What lies outside the area that a thing must keep within."""
        low = self.shop.room.floor.points.min(axis=0) - 1.0
        high = self.shop.room.floor.points.max(axis=0) + 1.0
        for thing in self.things:
            if len(thing.freedom.within) < 3:
                continue
            area = Polygon(thing.freedom.within)
            outside = box(*low, *high).difference(area)
            element = Element(
                f"area of {thing.name}", "body", "solid",
                Volume(thing.body, ZERO, ZERO), building=True,
            )  # fmt: skip
            label = self._label(Label(element, limit_of=thing.name))
            for part in getattr(outside, "geoms", [outside]):
                for outline in convex_pieces(part):
                    yield Piece(outline, -np.inf, np.inf, label)

    def _indoors(self) -> Iterator[Piece]:
        """What is put aside while doors stand open stays in the room all the same."""
        aside = dict.fromkeys(name for name, place in self.spots if place != "standing")
        for name in aside:
            for wall in building.solid_walls(self.shop.room):
                element = Element(wall.wall, "body", "solid", wall.volume, building=True)
                label = self._label(Label(element, limit_of=name))
                yield from self._pieces(element, label, fixed=True)

    # --- the problem -----------------------------------------------------------------------

    @cached_property
    def problem(self) -> Problem:
        """Items, fixed pieces and the conflict of their classes."""
        fixed = self._fixed()
        items = tuple(self._item(self.shop.thing(name), place) for name, place in self.spots)
        areas = (*self._areas(), *self._indoors())
        labels = self.labels
        low = self.shop.room.floor.points.min(axis=0)
        high = self.shop.room.floor.points.max(axis=0)
        return Problem(
            items,
            fixed + areas,
            lambda a, b: conflict(labels[a], labels[b]),
            (float(low[0]), float(low[1]), float(high[0]), float(high[1])),
        )

    def state(self, layout: Layout) -> State:
        """A layout as a state; things without a pose stay out."""
        state = State.empty(len(self.spots))
        for i, spot in enumerate(self.spots):
            pose = layout.pose(*spot)
            turns = self.problem.items[i].turns
            if pose is None:
                continue
            near = [k for k, t in enumerate(turns) if abs((t - pose.turn + 180) % 360 - 180) < 1e-6]
            if near:
                state.put(i, near[0], np.array([pose.x.value, pose.y.value]))
        return state

    def layout_of(self, state: State, *, rounded: bool) -> Layout:
        """A state as a layout, coordinates rounded to the step of the tape if asked.

        A thing that slides along a wall is set against it, without any gap.
        """
        step = GRID[self.shop.system]
        layout = self.layout
        for i, (name, place) in enumerate(self.spots):
            if not state.placed[i]:
                continue
            thing = self.shop.thing(name)
            x, y = (float(v) for v in state.xy[i])
            turn = self.problem.items[i].turns[int(state.turn[i])]
            if rounded:
                x, y = round(x / step) * step, round(y / step) * step
            pose = Pose.at(x, y, turn)
            if thing.freedom.along is not None and place == "standing":
                pose = self._against(thing, pose)
            layout = layout.with_pose(name, pose, place)
        return layout

    def _against(self, thing: Thing, pose: Pose) -> Pose:
        wall = self.shop.room.wall(thing.freedom.along or "")
        line = building.frame(wall)
        body = frame_of(thing, pose).place(thing.body)
        start = float((body.points @ line.along).min())
        origin = np.array([line.origin[0].value, line.origin[1].value])
        along = start - float(origin @ line.along)
        return pose_on_wall(thing, wall, Affine(max(along, 0.0)))


FEW_EDGES = 8
"""Arcs are searched with about so many edges; the exact checks use many more."""


def coarser(outline: Array) -> Array:
    """A convex outline of few edges that contains a given one: every edge kept lies on the old."""
    count = len(outline)
    if count <= FEW_EDGES:
        return outline
    edge = np.roll(outline, -1, axis=0) - outline
    length = np.hypot(*edge.T)
    stride = -(-count // FEW_EDGES)
    kept = [i for i in range(count) if i % stride == 0 or length[i] > 3.0 * np.median(length)]
    corners = []
    for a, b in zip(kept, kept[1:] + kept[:1], strict=True):
        matrix = np.column_stack([edge[a], -edge[b]])
        if abs(float(np.linalg.det(matrix))) < 1e-12:
            return outline
        share = np.linalg.solve(matrix, outline[b] - outline[a])
        corners.append(outline[a] + share[0] * edge[a])
    found = np.array(corners)
    is_sound = building.signed_area(found) >= building.signed_area(outline) - 1e-12
    return found if is_sound and is_convex(found) else outline


STEPS = 5
"""Boxes set round a rounded outline."""
SLIM = 0.3
"""Rounded outlines smaller than this are searched as one box [m]."""
ROUNDED = 8
"""Outlines of more corners than this are rounded ones."""


def boxes_round(outline: Array) -> list[Array]:
    """A rounded outline as a few boxes that cover it; one of few corners as it is."""
    if len(outline) <= ROUNDED:
        return [outline]
    low, high = outline.min(axis=0), outline.max(axis=0)
    strips = 1 if float((high - low).max()) < SLIM else STEPS
    shape = Polygon(outline)
    edges = np.linspace(low[0], high[0], strips + 1)
    out = []
    for west, east in itertools.pairwise(edges):
        part = shape.intersection(box(west, low[1], east, high[1]))
        south, north = part.bounds[1], part.bounds[3]
        out.append(np.array([[west, south], [east, south], [east, north], [west, north]]))
    return out


def _boxed(volume: Volume) -> Volume:
    """The bounding box of a volume, each side as uncertain as the outline's own extreme."""
    outline = volume.outline
    return replace(
        volume,
        outline=Outline.box(
            left=outline.lowest(0),
            right=outline.highest(0),
            south=outline.lowest(1),
            north=outline.highest(1),
        ),
    )


def _common(element: Element) -> Volume:
    """What all places of a sliding keep-clear share: it is needed wherever it lies."""
    polygon = element.alternatives[0].polygon
    for other in element.alternatives[1:]:
        polygon = polygon.intersection(other.polygon)
    points = np.asarray(polygon.normalize().exterior.coords)[:-1][::-1]
    return replace(element.volume, outline=Outline(points, {}))


def movable_spots(shop: Shop, layout: Layout) -> tuple[Spot, ...]:
    """Parked and working places that some task asks for and a search may choose."""
    return tuple(
        (t.name, place)
        for t in shop.things
        for place in ELSEWHERE
        if not t.fixed
        and tasks_at(shop, t.name, place)
        and (t.freedom.moves or layout.pose(t.name, place) is None)
    )


def movable_names(shop: Shop, layout: Layout) -> tuple[str, ...]:
    """Things that a search may place: those that may move, and those without a place."""
    return tuple(
        t.name
        for t in shop.things
        if not t.fixed and (t.freedom.moves or layout.pose(t.name) is None)
    )
