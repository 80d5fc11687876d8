"""An order of moves in which any number of things may wait: out of the way first, then home.

Depth first: what can go to its new place without shutting another's way there goes; where nothing
can, one that stands in the way of others is put where it bothers least.  What is found is then
shortened.  That nothing is found proves nothing.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from math import hypot

from floorplan.checks.finding import Verdict
from floorplan.motion.turning import outline_at
from floorplan.search.parking import APART, parking_places, straight_way
from floorplan.search.trips import TODAY, WANTED, State, Trip, Trips
from floorplan.shop.model import Pose

_TRIED = 3
"""Places tried for one thing that is to wait."""


class Clearing:
    """The search from one state, within so many ways worked out."""

    def __init__(
        self,
        trips: Trips,
        start: State,
        *,
        accepted: Sequence[Verdict],
        effort: int,
        waits: bool = True,
    ) -> None:
        self.trips = trips
        self.start = start
        self.accepted = tuple(accepted)
        self.waits = waits
        """Whether anything may be put somewhere to wait."""
        self._most = trips.floor.carried + effort
        self._seen: set[State] = set()
        self._goal: State = (WANTED,) * len(start)
        self._crossed = self._crossings()

    @property
    def given_up(self) -> bool:
        """Whether all that may be spent is spent."""
        return self.trips.floor.carried >= self._most

    def order(self) -> tuple[Trip, ...] | None:
        """Trips one after the other, None when none was found."""
        found = self._from(self.start, ())
        return None if found is None else self._shortened(found)

    def _from(self, state: State, so_far: tuple[Trip, ...]) -> tuple[Trip, ...] | None:
        if state == self._goal:
            return so_far
        if state in self._seen or self.given_up:
            return None
        self._seen.add(state)
        if any(not self._passes((i, at, WANTED), self._at_home(state)) for i, at in _away(state)):
            return None  # something has no way any more even if all that may still leave were gone
        waits: set[int] = set()
        back = {number for number, _, _ in so_far}
        for trip in self._next(state, back):
            number, _, place = trip
            if number in waits or not self._passes(trip, _others(state, number)):
                continue
            if place > WANTED:
                waits.add(number)  # where else it waited would leave the others as stuck
            found = self._from(_after(state, trip), (*so_far, trip))
            if found is not None or self.given_up:
                return found
        return None

    def _next(self, state: State, back: set[int]) -> Iterator[Trip]:
        """What may go: home, those never moved first; then to wait, the most in the way first.

        Those `back` have stepped aside and come back already.
        """
        for number, at in sorted(_away(state), key=lambda one: (one[1] != TODAY, one)):
            yield number, at, WANTED
        if not self.waits:
            return
        shut = self._shutting(state)
        waiting = [
            i
            for i, at in enumerate(state)
            if at == TODAY or (at == WANTED == self.start[i] and i not in back)
        ]
        for number in sorted(waiting, key=lambda i: (-shut[i], -self._crossed[i], i)):
            for place in self._places(number, state):
                yield number, TODAY, place

    def _places(self, number: int, state: State) -> list[int]:
        """Numbers of places where a thing can wait as things stand."""
        standing = [(i, at) for i, at in enumerate(state) if i != number]
        later = [(i, WANTED) for i, at in standing if at != WANTED]
        found = parking_places(self.trips, number, [*standing, *later]) or parking_places(
            self.trips, number, standing
        )
        ends = self.trips.places[number][: WANTED + 1]
        elsewhere = [pose for pose in found if all(_far(pose, end) > APART for end in ends)]
        return [self.trips.add(number, pose) for pose in elsewhere[:_TRIED]]

    def _shutting(self, state: State) -> list[int]:
        """For each thing how many trips home are surely shut while it stands where it stands."""
        now = frozenset(enumerate(state))
        counts = [0] * len(state)
        for number, at in _away(state):
            for some in self.trips.shut.get((number, at, WANTED), ()):
                for other, _ in some if some <= now else ():
                    counts[other] += 1
        return counts

    def _crossings(self) -> list[int]:
        """For each thing how many straight ways of others it stands in today."""
        trips = self.trips
        numbers = range(len(self.start))
        ways = [straight_way(trips, i) for i in numbers]
        here = [outline_at(trips.mobiles[i].body(None), trips.pose(i, TODAY)) for i in numbers]
        return [sum(bool(ways[j].intersects(here[i])) for j in numbers if j != i) for i in numbers]

    def _at_home(self, state: State) -> frozenset[tuple[int, int]]:
        """What has come home; what only steps aside may do so again."""
        rows = zip(state, self.start, strict=True)
        return frozenset(
            (i, at) for i, (at, at_first) in enumerate(rows) if at_first != at == WANTED
        )

    def _passes(self, trip: Trip, others: frozenset[tuple[int, int]]) -> bool:
        if self.given_up:
            return False
        passage = self.trips.passage(trip, others)
        return bool(passage.stretches) and passage.verdict in self.accepted

    # --- shorter -------------------------------------------------------------------------------

    def _shortened(self, order: tuple[Trip, ...]) -> tuple[Trip, ...]:
        """The same without each wait that turns out not to be needed."""
        shorter = True
        while shorter:
            shorter = False
            for trial in _without_a_wait(order):
                if self._holds(trial):
                    order, shorter = trial, True
                    break
        return order

    def _holds(self, order: tuple[Trip, ...]) -> bool:
        state = self.start
        for trip in order:
            if not self._passes(trip, _others(state, trip[0])):
                return False
            state = _after(state, trip)
        return state == self._goal


def _without_a_wait(order: tuple[Trip, ...]) -> Iterator[tuple[Trip, ...]]:
    """Orders in which one thing goes straight home, late or early."""
    for first, (number, start, place) in enumerate(order):
        if place <= WANTED:
            continue
        last = next(
            k for k in range(first + 1, len(order)) if order[k][0] == number
        )  # what waits is fetched
        home = (number, start, order[last][2])
        middle = order[first + 1 : last]
        if start != home[2]:
            yield (*order[:first], *middle, home, *order[last + 1 :])
            yield (*order[:first], home, *middle, *order[last + 1 :])


def _far(a: Pose, b: Pose) -> float:
    return hypot(a.x.value - b.x.value, a.y.value - b.y.value)


def _away(state: State) -> list[tuple[int, int]]:
    return [(i, at) for i, at in enumerate(state) if at != WANTED]


def _others(state: State, number: int) -> frozenset[tuple[int, int]]:
    return frozenset((i, at) for i, at in enumerate(state) if i != number)


def _after(state: State, trip: Trip) -> State:
    return (*state[: trip[0]], trip[2], *state[trip[0] + 1 :])
