"""One thing at each of its turns, as pieces, and all else as obstacles, exactly as it is judged.

A search may blunt arcs and keep room for rounding; an answer that names every place must not.  What
is taken here is what the checks of overlap ask as required: with a reserve, what surely passes; as
drawn, what surely fails without it.  Things that move together are one rigid thing.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import product
from math import cos, pi

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import MultiPoint, Polygon

from floorplan.checks.feeding import RULE as FEED_RULES
from floorplan.checks.zones import RULE as ZONE_RULES
from floorplan.geometry.affine import ZERO, Array, Outline, rotation
from floorplan.geometry.convex import convex_pieces
from floorplan.geometry.pieces import Conflict, Piece
from floorplan.geometry.volume import Volume
from floorplan.geometry.volume import conflict as volumes_conflict
from floorplan.search.setting import Demands, Label, Setting, conflict
from floorplan.search.setting import _common as common_volume
from floorplan.shop.model import Layout, Pose, Shop, Thing
from floorplan.shop.scene import (
    Element,
    building_elements,
    frame_of,
    may_not_overlap,
    standing_presence,
    thing_elements,
)
from floorplan.units import TOLERANCE

Flags = NDArray[np.bool_]
ARC = 16
"""Chords to a quarter circle where a gap is kept round corners."""


@dataclass(frozen=True, slots=True, eq=False)
class Choice:
    """A keep-clear that may slide: one of these classes of pieces must be free."""

    labels: tuple[int, ...]


@dataclass(frozen=True, slots=True, eq=False)
class Combination:
    """One choice made for every keep-clear that may slide."""

    own: tuple[Piece, ...]
    rest: tuple[Piece, ...]


class Subject(Setting):
    """A thing, with what moves along with it, among everything that stays."""

    def __init__(self, shop: Shop, layout: Layout, names: Sequence[str], *, reserve: bool) -> None:
        super().__init__(shop, layout, names, Demands(reserve=reserve, advised=False))
        self._growth = 0.0  # places are named as they are, not rounded to the step of a tape
        self.lead = shop.thing(names[0])
        self.names = frozenset(names)
        self.walls = {wall.name for wall in shop.room.walls} | {"ceiling"}
        self._choices: list[Choice] = []
        self.rest = self._everything_else()
        self._rest_labels = sorted({p.label for p in self.rest})
        self._rest_choices = tuple(self._usable(self._choices))
        free = {label for choice in self._rest_choices for label in choice.labels}
        taken = [c for c in self._choices if free.isdisjoint(c.labels)]
        self.is_vague = bool(taken)
        """Whether a keep-clear has no free place even without the thing: to be sure, the thing
        keeps off every place of it; none of them is held against the thing."""
        self._sliding = {label for choice in self._choices for label in choice.labels}
        if reserve:
            self._sliding -= {label for choice in taken for label in choice.labels}
        self._rows: dict[object, Flags] = {}
        self.slopes: dict[tuple[str, str, float, int], Array] = {}
        """How the margins of links change with the place; the same for the thing in any size."""
        self.lean = (ZERO, ZERO)
        """The origin, with the errors of what the thing is pushed against."""
        self.passed_over: frozenset[str] = frozenset()
        """Owners that are left out of what it may not overlap."""
        self._own: dict[float, tuple[tuple[Piece, ...], tuple[Choice, ...]]] = {}

    # --- what counts -------------------------------------------------------------------------

    def _wanted(self, element: Element) -> bool:
        return not element.advised and self._is_required(element)

    def _is_required(self, element: Element) -> bool:
        if element.nature == "solid":
            return True
        if element.nature == "keep-clear":
            rule = self.shop.rules[element.rule]
            return not rule.off and not (rule.overridden and rule.kind == "advised")
        if element.nature == "moving":
            rule = self.shop.rules["drawer-open-share"]
            # opened in part it may do; then its full way proves nothing against a place
            if rule.value < 1.0 and not self.demands.reserve:
                return False
        else:
            rules = {**FEED_RULES, **ZONE_RULES}
            rule = self.shop.rules[rules.get(element.purpose, "zone-free")]
        return not rule.off and rule.kind != "advised"

    # --- pieces ------------------------------------------------------------------------------

    def _pieces(self, element: Element, label: int, *, fixed: bool) -> Iterator[Piece]:
        volume = element.volume
        bottom, top = volume.bottom.value, volume.top.value
        if self.demands.reserve:
            bottom -= volume.bottom.error(self.shop.measurements)
            top += volume.top.error(self.shop.measurements)
        for outline in self._outlines(volume, fixed):
            yield Piece(outline, bottom, top, label)

    def _element_pieces(self, element: Element, *, fixed: bool) -> Iterator[Piece]:
        """Pieces of an element, those of one that may slide for each of its places."""
        if len(element.alternatives) < 2:
            yield from self._pieces(element, self._label(Label(element)), fixed=fixed)
            return
        if not fixed and not self.demands.reserve:
            # somewhere between the places tried it may be free: only what all share refutes
            one = replace(element, volume=common_volume(element), alternatives=())
            yield from self._pieces(one, self._label(Label(one)), fixed=fixed)
            return
        labels = []
        for volume in element.alternatives:
            one = replace(element, volume=volume, alternatives=())
            labels.append(self._label(Label(one)))
            yield from self._pieces(one, labels[-1], fixed=fixed)
        self._choices.append(Choice(tuple(labels)))

    def _everything_else(self) -> tuple[Piece, ...]:
        shop = self.shop
        elements = list(building_elements(shop))
        for thing in shop.things:
            away = thing.name in self.names
            layout = self.layout.without("") if away else self.layout
            for pose, presence in standing_presence(shop, thing, layout):
                # parked and working places of what is being placed stay where they are
                if not away or presence.only is not None:
                    elements += thing_elements(shop, thing, pose, presence)
        kept = [self._slid(e, elements) for e in elements if self._wanted(e)]
        out = [p for e in kept for p in self._element_pieces(e, fixed=True)]
        out += self._outside()
        out += self._areas()
        for thing in shop.things:
            if thing.name not in self.names and thing.freedom.keep_gap.value > 0:
                own = [e for e in elements if e.owner == thing.name]
                out += self._gap_round(thing, own)
        return tuple(out)

    def _slid(self, keep: Element, elements: Sequence[Element]) -> Element:
        """A keep-clear that may slide, with every place at an end of where it is free to slide.

        If any place is clear of one more convex body, one of these is.
        """
        reach = float(np.hypot(*keep.slide))
        if len(keep.alternatives) < 2 or reach < TOLERANCE:
            return keep
        way = np.array(keep.slide) / reach
        first = min(keep.alternatives, key=lambda v: float((v.outline.points @ way).min()))
        low, high = (float(f(first.outline.points @ way)) for f in (np.min, np.max))
        whole = _stretched(first.outline.points, np.array(keep.slide))
        swept = Volume(whole, first.bottom, first.top)
        stops = {0.0, reach}
        for rival in elements:
            if may_not_overlap(keep, rival) and volumes_conflict(swept, rival.volume):
                shadow = swept.polygon.intersection(rival.volume.polygon)
                across = np.asarray(shapely.get_coordinates(shadow)) @ way
                stops |= {float(across.max()) - low, float(across.min()) - high}
        places = tuple(
            replace(first, outline=first.outline.moved(*(float(w) * stop for w in way)))
            for stop in sorted(stops)
            if -TOLERANCE <= stop <= reach + TOLERANCE
        )
        return replace(keep, alternatives=places)

    def _gap_round(self, thing: Thing, elements: Iterable[Element]) -> Iterator[Piece]:
        """Solids of a thing grown by the gap that it wants to all others."""
        gap = thing.freedom.keep_gap.value
        grown = gap / cos(pi / (4 * ARC)) if self.demands.reserve else gap
        for element in elements:
            if element.nature != "solid":
                continue
            label = self._label(Label(element, gap_of=thing.name))
            for piece in self._pieces(element, label, fixed=True):
                polygon = Polygon(piece.outline).buffer(grown, quad_segs=ARC)
                for outline in convex_pieces(polygon):
                    yield Piece(outline, piece.bottom - gap, piece.top + gap, label)

    def own(self, turn: float) -> tuple[tuple[Piece, ...], tuple[Choice, ...]]:
        """Pieces of what moves, from the reference point of the first thing, and its choices."""
        if turn not in self._own:
            self._choices = []
            pieces: list[Piece] = []
            for thing, pose in self.members(turn):
                made = list(thing_elements(self.shop, thing, pose, self._standing(thing)))
                for element in made:
                    if self._wanted(element):
                        pieces += self._element_pieces(element, fixed=False)
                if thing.freedom.keep_gap.value > 0:
                    pieces += self._gap_round(thing, made)
            self._own[turn] = tuple(pieces), tuple(self._choices)
        return self._own[turn]

    def forget(self) -> None:
        """Forget the pieces of what moves: it has changed."""
        self._own = {}

    def members(self, turn: float) -> Iterator[tuple[Thing, Pose]]:
        """Everything that moves, the first thing's reference point being the origin."""
        yield self.lead, Pose(*self.lean, turn % 360.0)
        first = self.layout.pose(self.lead.name)
        for name in sorted(self.names - {self.lead.name}):
            thing, pose = self.shop.thing(name), self.layout.pose(name)
            if first is None or pose is None:
                raise ValueError(f"`{name}` and `{self.lead.name}` need places to move together")
            yield thing, _along(self.lead, first, turn, thing, pose)

    def placed(self, x: float, y: float, turn: float) -> Layout:
        """The layout with everything that moves at a place [m, m, deg]."""
        layout = self.layout
        for thing, pose in self.members(turn):
            at = Pose.at(pose.x.value + x, pose.y.value + y, pose.turn)
            layout = layout.with_pose(thing.name, at)
        return layout

    # --- what may not overlap ----------------------------------------------------------------

    def conflicts(self, own: Sequence[Piece]) -> Conflict:
        """Which classes may not overlap; asked only between what moves and what stays."""
        size = len(self.labels)
        matrix = np.zeros((size, size), dtype=np.bool_)
        for a in sorted({p.label for p in own}):
            row = self._row(self.labels[a])
            matrix[a, self._rest_labels] = matrix[self._rest_labels, a] = row
        return matrix

    def _row(self, mine: Label) -> Flags:
        """Which classes of what stays a class must not meet; the same for it in any size."""
        e = mine.element
        key = (e.owner, e.name, e.nature, e.purpose, e.presence, mine.gap_of)
        if key not in self._rows:
            others = (self.labels[b] for b in self._rest_labels)
            self._rows[key] = np.array([self._may_not(mine, other) for other in others])
        return self._rows[key]

    def _may_not(self, mine: Label, other: Label) -> bool:
        if mine.gap_of is None and other.gap_of is None:
            return conflict(mine, other)
        if mine.limit_of or other.limit_of or (mine.gap_of and other.gap_of):
            return False
        a, b = mine.element, other.element
        if b.owner in self.walls or {a.nature, b.nature} != {"solid"}:
            return False
        return may_not_overlap(a, b)

    def combinations(self, turn: float) -> Iterator[Combination]:
        """What moves and what stays, for each way to settle the keep-clears that may slide."""
        own, choices = self.own(turn)
        sliding = [*self._rest_choices, *choices]
        every = self._sliding | {label for choice in choices for label in choice.labels}
        for chosen in product(*(choice.labels for choice in sliding)):
            out = every - set(chosen)
            yield Combination(
                tuple(p for p in own if p.label not in out),
                tuple(
                    p
                    for p in self.rest
                    if p.label not in out
                    and self.labels[p.label].element.owner not in self.passed_over
                ),
            )

    def _usable(self, choices: Iterable[Choice]) -> Iterator[Choice]:
        """Keep-clears that may slide, each with the places that nothing else takes."""
        solids = [
            label.element
            for label in self.labels
            if label.element.nature == "solid"
            and not label.limit_of
            and not label.gap_of
            and label.element.owner not in self.names
        ]
        for choice in choices:
            free = []
            for label in choice.labels:
                keep = self.labels[label].element
                rivals = [e for e in solids if may_not_overlap(keep, e)]
                if not any(volumes_conflict(keep.volume, e.volume) for e in rivals):
                    free.append(label)
            if free:
                yield Choice(tuple(free))


def _stretched(points: Array, way: Array) -> Outline:
    """What a convex outline passes over while it moves along a way."""
    hull = MultiPoint(np.vstack([points, points + way])).convex_hull
    return Outline(np.asarray(hull.normalize().exterior.coords)[:-1][::-1], {})


def _along(lead: Thing, first: Pose, turn: float, thing: Thing, pose: Pose) -> Pose:
    """Where a companion comes to stand when the lead is turned and set to the origin."""
    old, other = frame_of(lead, first), frame_of(thing, pose)
    away = np.array([other.dx.value - old.dx.value, other.dy.value - old.dy.value])
    by = turn - first.turn
    new = frame_of(lead, Pose.at(0.0, 0.0, turn))
    origin = np.array([new.dx.value, new.dy.value]) + rotation(by % 360.0) @ away
    turned = thing.body.turned((pose.turn + by) % 360.0)
    low: Array = turned.points.min(axis=0) + origin
    return Pose.at(float(low[0]), float(low[1]), pose.turn + by)
