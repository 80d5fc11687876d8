"""Asks of one size of a thing after the other whether there is a place for it."""

from __future__ import annotations

import copy
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from math import ceil, floor

import numpy as np
import shapely
from shapely.geometry import LineString, Point, Polygon
from shapely.geometry.base import BaseGeometry

from floorplan.checks import carrying, open_floor, reach, walking
from floorplan.checks.finding import Verdict
from floorplan.checks.judge import CHECKS, Judgement, judge_scene
from floorplan.geometry.affine import Affine, Array, rotation
from floorplan.geometry.nofit import no_fit_sets
from floorplan.geometry.pieces import penetration
from floorplan.geometry.volume import Volume, gap
from floorplan.search.carried_past import CarriedPast
from floorplan.search.limits import pair_name
from floorplan.search.pairwise import pairwise_spots
from floorplan.search.screening import WAYS
from floorplan.search.setting import GRID
from floorplan.search.sizes import Sizes
from floorplan.search.subject import Subject
from floorplan.search.walk_space import Trial, WaysOut
from floorplan.shop.model import Layout, Pose, Shop, Side, Thing
from floorplan.shop.scene import frame_of, scene
from floorplan.units import TOLERANCE

WIDTHS = 7
"""Widths of which the largest depth is sought."""
LEAST = 0.5
"""Share of the present size from which on sizes are of interest [-]."""
SPARSE = 8
"""Lengths tried where the least one does not fit."""
TRIED = 60
"""Corners of one region at which the way out is looked at."""
FIRST = 4
"""The roomiest places are asked before all others."""

ONLY_ADVISED = (walking.CHECK, open_floor.CHECK, reach.CHECK)
CONCERNED = [
    (name, dict(WAYS).get(name, check)) for name, check in CHECKS if name not in ONLY_ADVISED
]
"""Checks that a size can fail; what surely can be carried is not measured."""


@dataclass(frozen=True, slots=True)
class Place:
    """Where a size was found to fit."""

    x: float
    y: float
    turn: float
    spare: float
    """Room all round that the rules between pairs leave there [m]."""


class SizeSearch:
    """Asks of one size after the other whether there is a place for it."""

    def __init__(
        self,
        sizes: Sizes,
        layout: Layout,
        pose: Pose | None,
        *,
        reserve: bool,
        later: Sequence[SizeSearch] = (),
    ) -> None:
        self.sizes, self.layout, self.pose = sizes, layout, pose
        self.stages: tuple[SizeSearch, ...] = (self, *later)
        """The search at each stage of a plan at which the size must have the same place."""
        self.subject = Subject(sizes.shop, layout, (sizes.name,), reserve=reserve)
        self.turns = (pose.turn,) if pose is not None else self.subject.turns(self.subject.lead)
        self.turns = tuple(t for t in self.turns if all(t in each.turns for each in later))
        if pose is not None:
            x, y = _kept(pose.x, 0.0, f"{sizes.name}: x"), _kept(pose.y, 0.0, f"{sizes.name}: y")
            self.subject.lean = (x, y)
        self._lately = tuple(self.turns)
        self._concerned = CONCERNED
        for turn in self.turns:
            self.subject.own(turn)
        self.pushed = self._pushed() if reserve else None
        self.ways = WaysOut(self.subject)
        self.step = GRID[sizes.shop.system]
        floor_points = sizes.shop.room.floor.points
        self.most = float(np.hypot(*np.ptp(floor_points, axis=0)))

    def _pushed(self) -> Subject | None:
        """The thing among what it is pushed against: contact is declared and carries no error.

        However it grows, it is measured from there; so these are judged as drawn, by themselves.
        """
        if self.pose is None:
            return None
        drawn = Subject(self.sizes.shop, self.layout, (self.sizes.name,), reserve=False)
        thing = drawn.lead
        body = Volume(frame_of(thing, self.pose).place(thing.body), thing.bottom, thing.height)
        errors = self.sizes.shop.measurements
        touching: set[str] = set()
        for label in drawn.labels:
            element = label.element
            if element.nature != "solid" or label.limit_of or label.gap_of:
                continue
            apart = gap(body, element.volume)
            if abs(apart.distance.value) < TOLERANCE and apart.error(errors) < TOLERANCE:
                touching.add(element.owner)
        if not touching:
            return None
        every = {label.element.owner for label in drawn.labels}
        self.subject.passed_over = frozenset(touching)
        drawn.passed_over = frozenset(every - touching)
        return drawn

    def sized(self, width: float, depth: float, subject: Subject | None = None) -> Subject:
        """The thing in another size among the same things."""
        made = copy.copy(subject or self.subject)
        made.lead = self.sizes.thing(width, depth)
        made.shop = self.sizes.shop.with_thing(made.lead)
        made.labels = list(made.labels)
        made.forget()
        return made

    # --- one size ------------------------------------------------------------------------------

    def _subjects(self, width: float, depth: float) -> tuple[Subject, ...]:
        """The thing in another size at each stage."""
        return tuple(each.sized(width, depth) for each in self.stages)

    def place(self, width: float, depth: float) -> Place | None:
        """The roomiest place found for a size; None if there is none."""
        subjects = self._subjects(width, depth)
        found = [at for turn in self.turns if (at := self._place(subjects, turn)) is not None]
        # of equal ones the first turn
        return max(found, key=lambda at: at.spare, default=None)

    def fits(self, width: float, depth: float) -> bool:
        """Whether there is any place for a size; turns that had one lately are asked first."""
        subjects = self._subjects(width, depth)
        for turn in self._lately:
            if self._place(subjects, turn) is not None:
                self._lately = (turn, *(t for t in self._lately if t != turn))
                return True
        return False

    def _place(self, subjects: Sequence[Subject], turn: float) -> Place | None:
        """The roomiest place at one turn; places without play only count where no other does."""
        within = self._nested(subjects[0].lead) if self.pose is not None else None
        free = self._free(subjects, turn, within, slots=False)
        found = self._open(subjects, turn, free)
        if found is None and (free.area > 0.0 or len(subjects) > 1):
            found = self._open(subjects, turn, self._free(subjects, turn, within, slots=True))
        return found

    def _free(
        self, subjects: Sequence[Subject], turn: float, within: BaseGeometry | None, *, slots: bool
    ) -> BaseGeometry:
        """Places at which nothing overlaps that may not, at any stage."""
        left = within
        for each, subject in zip(self.stages, subjects, strict=True):
            left = each._free_by_itself(subject, turn, left, slots=slots)
        assert left is not None
        return left

    def _free_by_itself(
        self, subject: Subject, turn: float, within: BaseGeometry | None, *, slots: bool
    ) -> BaseGeometry:
        """The same at this stage alone."""
        if self.pushed is not None:
            thing = subject.lead
            pushed = self.sized(thing.width.value, thing.depth.value, self.pushed)
            within = pairwise_spots(pushed, turn, within=within).places
            slots = True
        return pairwise_spots(subject, turn, within=within, slots=slots).places

    def _nested(self, thing: Thing) -> BaseGeometry:
        """Reference points at which the footprint contains the present one, or lies in it."""
        assert self.pose is not None
        old = frame_of(self.subject.lead, self.pose).place(self.subject.lead.body).points
        low, extent = old.min(axis=0), np.ptp(old, axis=0)
        less = extent - np.ptp(thing.body.turned(self.pose.turn).points, axis=0)
        a, b = low + np.minimum(less, 0.0), low + np.maximum(less, 0.0)
        flat = b - a < TOLERANCE
        if flat.all():
            return Point(low)
        if flat.any():
            a, b = np.where(flat, low, a), np.where(flat, low, b)
            return LineString([a, b])
        return shapely.box(*a, *b)

    def _open(self, subjects: Sequence[Subject], turn: float, places: BaseGeometry) -> Place | None:
        """The roomiest of some places at which everybody has a way out."""
        if places.is_empty:
            return None
        points = _samples(places)
        spare = shapely.distance(shapely.points(points), shapely.boundary(places.buffer(0)))
        areas = shapely.union_all(shapely.get_parts(places))
        inside = shapely.intersects(areas.buffer(-TOLERANCE), shapely.points(points))
        spare = np.where(inside, np.nan_to_num(spare), 0.0)
        order = np.argsort(-spare, kind="stable")
        trials = self._trials(subjects, turn)
        for some in (order[:FIRST], order[FIRST:]):
            good = some
            for trial in trials:
                if len(good):
                    cells = np.concatenate([points[good], points[good]], axis=1)
                    good = good[trial.passes(cells)]
            if len(good):
                x, y = points[good[0]]
                return Place(float(x) + 0.0, float(y) + 0.0, turn, float(spare[good[0]]))  # no -0.0
        return None

    def _trials(self, subjects: Sequence[Subject], turn: float) -> list[Trial]:
        """Every walk that the thing may block, at all stages."""
        return [
            trial
            for each, subject in zip(self.stages, subjects, strict=True)
            for trial in each._trials_by_itself(subject, turn)
        ]

    def _trials_by_itself(self, subject: Subject, turn: float) -> list[Trial]:
        pieces = subject.own(turn)[0]
        ways = copy.copy(self.ways)
        ways.subject = subject
        out = []
        for walk in ways.walks:
            solids = tuple(ways.solids(pieces, walk.moments))
            own = tuple(ways.places(pieces, walk.moments))
            if own or (solids and walk.places):
                out.append(Trial(ways, walk, solids, own, walk.places))
        return out

    # --- growing -------------------------------------------------------------------------------

    def grown(self, fits: Callable[[float], bool], low: float, high: float) -> float | None:
        """The largest length from `low` to `high` that fits, to the step of a tape, or none [m]."""
        step = self.step
        if fits(high):
            return high
        start = low
        tried = 0
        while not fits(start):
            # a cover that is wanted, or a zone that follows the size, may ask for more
            tried += 1
            start = low + (high - low) * tried / SPARSE
            if tried >= SPARSE:
                return None
        a, b = floor(start / step + 1e-6), ceil(high / step - 1e-6)
        while b - a > 1:
            middle = (a + b) // 2
            a, b = (middle, b) if fits(middle * step) else (a, middle)
        return a * step

    def frontier(self) -> Iterator[tuple[float, float, Place]]:
        """For some widths the largest depth, left out what another beats both ways."""
        width, depth, step = self.sizes.width, self.sizes.depth, self.step
        least = ceil(depth * LEAST / step) * step
        low = ceil(width * LEAST / step) * step
        widest = self.grown(lambda w: self.fits(w, least), low, self.most)
        if widest is None:
            return
        every = (*np.linspace(low, widest, WIDTHS), min(max(width, low), widest))
        high = self.most
        rows: list[tuple[float, float, Place]] = []
        for wide in sorted({floor(w / step + 1e-6) * step for w in every}):

            def fits(deep: float, wide: float = wide) -> bool:
                return self.fits(wide, deep)

            deep = self.grown(fits, least, high)
            found = None if deep is None else self.place(wide, deep)
            if deep is not None and found is not None:
                rows.append((wide, deep, found))
                # where a wider one fits, one less wide does too
                high = deep
        for i, (wide, deep, _) in enumerate(rows):
            if not any(d >= deep - TOLERANCE for _, d, _ in rows[i + 1 :]):
                corner = self._widened(wide, deep, rows[i + 1][0] if i + 1 < len(rows) else wide)
                yield corner

    def _widened(self, width: float, depth: float, most: float) -> tuple[float, float, Place]:
        """The corner of the frontier: the largest width that still takes a depth."""
        wide = self.grown(lambda w: self.fits(w, depth), width, most) or width
        found = self.place(wide, depth)
        if found is None:
            wide, found = width, self.place(width, depth)
        assert found is not None
        return wide, depth, found

    def grows(self, side: Side) -> float | None:
        """How far one side can move out while the others stay; None if it does not fit at all."""

        def fits(by: float) -> bool:
            return self._place_of(side, by) is not None

        return self.grown(fits, 0.0, self.most) if fits(0.0) else None

    def _grown_one_way(self, side: Side, by: float) -> tuple[float, float, Array]:
        """Width, depth and reference point when one side moves out [m]."""
        assert self.pose is not None
        width, depth = self.sizes.width, self.sizes.depth
        if side in ("left", "right"):
            width += by
        else:
            depth += by
        frame = frame_of(self.subject.lead, self.pose)
        shift = {"left": (-by, 0.0), "back": (0.0, by)}.get(side, (0.0, 0.0))
        origin = np.array([frame.dx.value, frame.dy.value])
        origin = origin + rotation(self.pose.turn) @ np.array(shift)
        low = self.sizes.thing(width, depth).body.turned(self.pose.turn).points.min(axis=0)
        return width, depth, origin + low

    def _place_of(self, side: Side, by: float) -> Place | None:
        assert self.pose is not None
        width, depth, at = self._grown_one_way(side, by)
        subjects = self._subjects(width, depth)
        free = self._free(subjects, self.pose.turn, Point(at), slots=True)
        return self._open(subjects, self.pose.turn, free)

    # --- what stops it -------------------------------------------------------------------------

    def stops(self, side: Side, by: float) -> tuple[str, ...]:
        """What is met when one side has moved out by so much [m]."""
        assert self.pose is not None
        width, depth, at = self._grown_one_way(side, by)
        return self.met(width, depth, at, self.pose.turn)

    def met(self, width: float, depth: float, at: Array, turn: float) -> tuple[str, ...]:
        """What a size meets at a place: things, walls, zones, else links and ways out.

        What it meets at some stages only is named with them.
        """
        subjects = self._subjects(width, depth)
        pairs = zip(self.stages, subjects, strict=True)
        found = [each._overlapped(subject, at, turn) for each, subject in pairs]
        if not any(found):
            pairs = zip(self.stages, subjects, strict=True)
            found = [each._blocked(subject, at, turn) for each, subject in pairs]
        return tuple(_with_stages(found, [each.subject.shop for each in self.stages]))

    def _overlapped(self, subject: Subject, at: Array, turn: float) -> list[str]:
        among = [subject]
        if self.pushed is not None:
            thing = subject.lead
            among.append(self.sized(thing.width.value, thing.depth.value, self.pushed))
        return list(dict.fromkeys(name for each in among for name in _overlapped(each, at, turn)))

    def _blocked(self, subject: Subject, at: Array, turn: float) -> list[str]:
        """Whose way out it blocks, or leaves unsure."""
        cell = np.concatenate([at, at])[None]
        names: dict[str, None] = {}
        for trial in self._trials_by_itself(subject, turn):
            if trial.passes(cell)[0]:
                continue
            blocked = int(trial.fails(cell)[0])
            owners = trial.doubted(cell) if blocked < 0 else (trial.names[blocked],)
            names.update(dict.fromkeys(f"way out from {owner}" for owner in owners))
        return list(names)

    def beyond(self, width: float, depth: float, found: Place) -> tuple[str, ...]:
        """What stops a size from being deeper at its place, at the front or at the back."""
        more = self.step + 2 * found.spare
        thing = self.sizes.thing(width, depth)
        frame = frame_of(thing, Pose.at(found.x, found.y, found.turn))
        origin = np.array([frame.dx.value, frame.dy.value])
        low = self.sizes.thing(width, depth + more).body.turned(found.turn).points.min(axis=0)
        names: dict[str, None] = {}
        for back in (0.0, more):
            at = origin + rotation(found.turn) @ np.array([0.0, back]) + low
            names.update(dict.fromkeys(self.met(width, depth + more, at, found.turn)))
        return tuple(names)

    def judged(self, width: float, depth: float, found: Place) -> Verdict:
        """What the checks of all stages say about the thing in this size, the worst of them."""
        return worst([each._judged(width, depth, found) for each in self.stages])

    def _judged(self, width: float, depth: float, found: Place) -> Verdict:
        """What the checks say about the thing in this size, the file read again with it."""
        shop, layout = self.sizes.read(width, depth)
        name = self.sizes.name
        pose = Pose.at(found.x, found.y, found.turn)
        if self.pose is not None:
            x = _kept(self.pose.x, found.x, f"{name}: x")
            pose = Pose(x, _kept(self.pose.y, found.y, f"{name}: y"), found.turn)
        made = scene(shop, layout.with_pose(name, pose))
        return _worst_of(judge_scene(made, self._concerned), name)

    def expect(self, sizes: int) -> None:
        """Several sizes are going to be judged: what is carried past the thing is found once."""
        if sizes <= 1:
            return
        for each in self.stages:
            past = CarriedPast(each.sizes.shop, each.layout, each.sizes.name)
            each._concerned = [(n, past.check if n == carrying.CHECK else c) for n, c in CONCERNED]


def _with_stages(found: Sequence[Sequence[str]], shops: Sequence[Shop]) -> Iterator[str]:
    """Each name once, with its stages where it is not met at all of them."""
    for name in dict.fromkeys(name for names in found for name in names):
        at = [shop for shop, names in zip(shops, found, strict=True) if name in names]
        stages = ", ".join(shop.stage.name for shop in at if shop.stage is not None)
        yield name if len(at) == len(shops) else f"{name} ({stages})"


def _overlapped(subject: Subject, at: Array, turn: float) -> Iterator[str]:
    """What the pieces of a thing at a place overlap and may not."""
    made = next(subject.combinations(turn))
    sets = no_fit_sets(made.own, made.rest, subject.conflicts(made.own))
    for own, other in (*sets.box_pairs, *sets.outline_pairs):
        a, b = made.own[own], made.rest[other]
        if penetration(a.outline + at, b.outline) > TOLERANCE:
            yield pair_name(subject, subject.labels[a.label], subject.labels[b.label])


def _kept(before: Affine, now: float, own: str) -> Affine:
    """A coordinate that leans on something else still does; a measured one is set anew."""
    return Affine(now) if own in before.terms else before + (now - before.value)


def _worst_of(made: Judgement, name: str) -> Verdict:
    return worst([f.verdict for f in made.findings if f.kind == "required" and name in f.about])


def worst(verdicts: Sequence[Verdict]) -> Verdict:
    """Fails if one fails, else unsure if one is unsure."""
    if "fails" in verdicts:
        return "fails"
    return "unsure" if "unsure" in verdicts else "passes"


def _samples(places: BaseGeometry) -> Array:
    """(k, 2) places of a shape worth a look: middles first, corners, and points spread over it."""
    spread: list[Sequence[float]] = []
    for part in shapely.get_parts(places):
        if isinstance(part, Polygon):
            circle = shapely.maximum_inscribed_circle(part, tolerance=1e-3)
            spread.append(circle.coords[0])
            spread += list(part.exterior.coords)[:TRIED]
            west, south, east, north = part.bounds
            grid = np.array(
                [(x, y) for x in np.linspace(west, east, 7) for y in np.linspace(south, north, 7)]
            )
            spread += list(grid[shapely.contains_xy(part, grid)])
        else:
            middle = part.interpolate(0.5, normalized=True) if part.length else part
            spread += [middle.coords[0], *part.coords]
    return np.array(spread, dtype=np.float64).reshape(-1, 2)
