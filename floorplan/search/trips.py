"""Passages of several things among each other, remembered by what stands where.

A way that is free stays free wherever nothing new stands in it; a way that is shut stays shut
while the things that shut it stand there, whatever the others do.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from floorplan.checks.mobile import Mobile
from floorplan.checks.passage import Passage, Spare
from floorplan.checks.passing import passage_of, spare_of, stuck_between, surely_shut
from floorplan.checks.rolling_floor import RollingFloor
from floorplan.motion.carry import Pose as MotionPose
from floorplan.shop.model import Pose
from floorplan.shop.scene import Element, thing_elements

TODAY, WANTED = 0, 1
"""Numbers of the first two places of every thing; parking places follow."""

Standing = tuple[int, int]
"""A thing by its number and the number of the place where it stands."""
Trip = tuple[int, int, int]
"""A thing by its number, from place, to place."""
State = tuple[int, ...]
"""For each thing the number of the place where it stands."""


class Trips:
    """Passages between the places of several things."""

    def __init__(
        self, floor: RollingFloor, mobiles: Sequence[Mobile], places: Sequence[Sequence[Pose]]
    ) -> None:
        self.floor = floor
        self.mobiles = tuple(mobiles)
        self.places = tuple(tuple(row) for row in places)
        self._elements: dict[Standing, tuple[Element, ...]] = {}
        self._free: dict[Trip, list[Passage]] = {}
        self._shut: dict[Trip, list[frozenset[Standing]]] = {}
        self._known: dict[tuple[Trip, frozenset[Standing]], Passage] = {}
        self._not_free: dict[Trip, list[frozenset[Standing]]] = {}
        self._drawn = False

    @property
    def shut(self) -> Mapping[Trip, Sequence[frozenset[Standing]]]:
        """For each trip the smallest sets found that surely shut it."""
        return self._shut

    @property
    def names(self) -> tuple[str, ...]:
        """Of the things, by their numbers."""
        return tuple(mobile.thing.name for mobile in self.mobiles)

    def with_parking(self, more: Mapping[int, Sequence[Pose]]) -> Trips:
        """The same with further places for some things; what is known stays known."""
        rows = [(*row, *more.get(i, ())) for i, row in enumerate(self.places)]
        other = Trips(self.floor, self.mobiles, rows)
        other._drawn = self._drawn
        other._elements, other._known = self._elements, self._known
        other._free, other._shut, other._not_free = self._free, self._shut, self._not_free
        return other

    def add(self, number: int, pose: Pose) -> int:
        """The number of a place of a thing, a new one if it has none there yet."""
        row = self.places[number]
        if pose in row:
            return row.index(pose)
        self.places = (*self.places[:number], (*row, pose), *self.places[number + 1 :])
        return len(row)

    def as_drawn(self) -> Trips:
        """The same, but where nothing surely passes a way that is free as drawn is looked for."""
        other = self.with_parking({})
        other._drawn = True
        other._known = {k: p for k, p in self._known.items() if p.verdict != "unsure"}
        other._not_free = {}
        return other

    def pose(self, number: int, place: int) -> MotionPose:
        """Where the middle of a thing is at one of its places."""
        return self.mobiles[number].pose(self.places[number][place])

    def elements(self, standing: Standing) -> tuple[Element, ...]:
        """What a thing takes at one of its places, at rest."""
        if standing not in self._elements:
            number, place = standing
            made = thing_elements(
                self.floor.shop, self.mobiles[number].thing, self.places[number][place]
            )
            self._elements[standing] = tuple(e for e in made if self.floor.stands(e))
        return self._elements[standing]

    def surely_shut(self, trip: Trip, others: frozenset[Standing]) -> bool:
        """Whether it is known already that a trip has no way among these."""
        return any(those <= others for those in self._shut.get(trip, ()))

    def passage(self, trip: Trip, others: frozenset[Standing]) -> Passage:
        """The passage of a trip while the others stand where they stand."""
        known = self._known.get((trip, others))
        if known is None:
            known = self._find(trip, others)
            self._known[trip, others] = known
        return known

    def stuck_between(self, trip: Trip, others: frozenset[Standing]) -> tuple[str, ...]:
        """Names of what is in the way of a trip that has none."""
        number, start, goal = trip
        ends = self.pose(number, start), self.pose(number, goal)
        return stuck_between(self.floor, self.mobiles[number], ends, self._solids(others))

    def spare(self, passage: Passage, others: frozenset[Standing]) -> Spare:
        """What is left over along a way among these."""
        return spare_of(self.floor, passage, self._solids(others))

    def _find(self, trip: Trip, others: frozenset[Standing]) -> Passage:
        number, start, goal = trip
        mobile = self.mobiles[number]
        if self.surely_shut(trip, others):
            return Passage("fails", mobile)
        solids = self._solids(others)
        for earlier in self._free.get(trip, ()):
            if earlier.clear_of(self.floor, solids):
                return earlier
        if any(those <= others for those in self._not_free.get(trip, ())):
            return Passage("unsure", mobile)  # not asked again among still more things
        ends = self.pose(number, start), self.pose(number, goal)
        found = passage_of(self.floor, mobile, ends, solids, as_drawn=self._drawn, named=False)
        if found.stretches:
            self._free.setdefault(trip, []).append(found)
        elif found.verdict == "fails":
            # who has to wait for whom is asked of trips home alone
            home = (start, goal) == (TODAY, WANTED)
            shut = self._reduced(trip, others, found.blocked_by) if home else others
            self._shut.setdefault(trip, []).append(shut)
        else:
            self._not_free.setdefault(trip, []).append(others)
        return found

    def _solids(self, others: frozenset[Standing]) -> tuple[Element, ...]:
        return tuple(e for standing in sorted(others) for e in self.elements(standing))

    def _reduced(
        self, trip: Trip, others: frozenset[Standing], named: Sequence[str]
    ) -> frozenset[Standing]:
        """As few of the others as still shut the way; those named are kept longest."""
        number, start, goal = trip
        ends = self.pose(number, start), self.pose(number, goal)

        def fails(some: frozenset[Standing]) -> bool:
            return surely_shut(self.floor, self.mobiles[number], ends, self._solids(some))

        kept = others
        likely = frozenset(o for o in others if self.names[o[0]] in named)
        if likely < kept and fails(likely):
            kept = likely
        for one in sorted(kept, key=lambda o: (self.names[o[0]] in named, o)):
            if fails(kept - {one}):
                kept = kept - {one}
        return kept
