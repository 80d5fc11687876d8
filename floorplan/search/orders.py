"""Orders in which things go to their new places: the one of fewest steps, then of the least way.

A* over what stands where.  What is left to roll is bounded by the ways that would be free if
nothing else that moves were there, and a passage is worked out only when its turn comes.
"""

from __future__ import annotations

import heapq
from collections.abc import Iterator, Sequence
from itertools import count
from math import dist, inf

from floorplan.checks.finding import Verdict
from floorplan.checks.passage import Passage
from floorplan.search.trips import TODAY, WANTED, State, Trip, Trips

Node = tuple[State, int]
"""What stands where, and how often something was put somewhere to wait."""
Cost = tuple[int, float]
"""Steps, and way rolled [m]."""

EFFORT = 250
"""Ways worked out before a search is given up."""
_DIGITS = 4  # ways that differ by less count as equal, so that sums in any order do [m]


class Orders:
    """All orders from a state to that in which everything stands where it is wanted."""

    def __init__(
        self,
        trips: Trips,
        start: State,
        *,
        parkings: int,
        accepted: Sequence[Verdict],
        effort: int = EFFORT,
    ) -> None:
        self.trips = trips
        self.start = start
        self.parkings = parkings
        """How often a thing may be put somewhere to wait."""
        self.accepted = tuple(accepted)
        """Verdicts of passages that an order may hold."""
        self.given_up = False
        self._by_ways = True  # else a trip whose way nobody knows may be part of an order too
        self._goal: State = (WANTED,) * len(start)
        self._most = trips.floor.carried + effort

    def best(self) -> tuple[Trip, ...] | None:
        """Trips of the best order, None when there is none or the search was given up."""
        first = (self.start, 0)
        least: dict[Node, Cost] = {first: (0, 0.0)}
        came: dict[Node, tuple[Node, Trip]] = {}
        numbers = count()
        # an entry reaches a state, or holds a trip from it that is still to be worked out
        queue: list[tuple[Cost, int, int, Node, Trip | None]] = []

        def push(bound: Cost, node: Node, trip: Trip | None) -> None:
            there = sum(place == WANTED for place in node[0])
            entry = (bound[0], round(bound[1], _DIGITS)), -there, next(numbers), node, trip
            heapq.heappush(queue, entry)

        push(self._left(self.start), first, None)
        done: set[Node] = set()
        while queue and not self.given_up:
            _, _, _, node, trip = heapq.heappop(queue)
            if trip is None:
                if node[0] == self._goal:
                    return _retraced(came, node)
                if node in done or self._doomed(node):
                    continue
                done.add(node)
                for more in self._trips(node):
                    push(self._through(least[node], node, more, self._bound(more)), node, more)
                continue
            passage = self._passage(node[0], trip)
            if passage is None:
                continue
            after = _after(node, trip)
            cost = least[node][0] + 1, least[node][1] + passage.length
            if after not in done and cost < least.get(after, (len(self.start) + 99, inf)):
                least[after], came[after] = cost, (node, trip)
                push(_sum(cost, self._left(after[0])), after, None)
        return None

    def exists(self) -> bool:
        """Whether any order has accepted passages only, or it could not be found out."""
        self._by_ways = False
        first = (self.start, 0)
        waiting, seen = [first], {first}
        while waiting and not self.given_up:
            node = waiting.pop()
            if node[0] == self._goal:
                return True
            if self._doomed(node):
                continue
            for trip in self._trips(node):
                after = _after(node, trip)
                if after not in seen and self._passage(node[0], trip) is not None:
                    seen.add(after)
                    waiting.append(after)
        return self.given_up

    def _passage(self, state: State, trip: Trip) -> Passage | None:
        """The passage of a trip if it is accepted."""
        return self._accepted(trip, frozenset(enumerate(state)) - {(trip[0], trip[1])})

    def _accepted(self, trip: Trip, others: frozenset[tuple[int, int]]) -> Passage | None:
        if self.trips.floor.carried >= self._most:
            self.given_up = True
            return None
        passage = self.trips.passage(trip, others)
        known = bool(passage.stretches) or not self._by_ways
        return passage if known and passage.verdict in self.accepted else None

    def _doomed(self, node: Node) -> bool:
        """Whether something has no way any more, even if all that may still leave were gone."""
        state, parked = node
        there = {(i, at) for i, at in enumerate(state) if at == WANTED}
        if parked < self.parkings:
            there = {(i, at) for i, at in there if len(self.trips.places[i]) <= WANTED + 1}
        elsewhere = parked < self.parkings
        return any(
            self._accepted((i, at, WANTED), frozenset(there)) is None
            for i, at in enumerate(state)
            if at != WANTED and not (elsewhere and at == TODAY and self._may_wait(i))
        )

    def _may_wait(self, number: int) -> bool:
        return len(self.trips.places[number]) > WANTED + 1

    def _trips(self, node: Node) -> Iterator[Trip]:
        """Everything that may go next; who waits goes to its end from there."""
        state, parked = node
        for number, at in enumerate(state):
            if at != WANTED:
                yield number, at, WANTED
            comes_back = self.start[number] == WANTED and at == WANTED
            if parked < self.parkings and (at == TODAY or comes_back):
                for place in range(WANTED + 1, len(self.trips.places[number])):
                    yield number, at, place

    def _bound(self, trip: Trip) -> float:
        """Way of a trip if nothing else that moves were there [m]; of parking a straight line."""
        if trip[1:] == (TODAY, WANTED):
            alone = self.trips.passage(trip, frozenset())
            if alone.stretches:
                return alone.length
        a, b = (self.trips.pose(trip[0], place) for place in trip[1:])
        return dist((a.x, a.y), (b.x, b.y))

    def _left(self, state: State) -> Cost:
        left = [(i, at, WANTED) for i, at in enumerate(state) if at != WANTED]
        return len(left), sum(self._bound(trip) for trip in left)

    def _through(self, cost: Cost, node: Node, trip: Trip, length: float) -> Cost:
        return _sum((cost[0] + 1, cost[1] + length), self._left(_after(node, trip)[0]))


def _sum(a: Cost, b: Cost) -> Cost:
    return a[0] + b[0], a[1] + b[1]


def _after(node: Node, trip: Trip) -> Node:
    state, parked = node
    number, _, place = trip
    return (*state[:number], place, *state[number + 1 :]), parked + (place > WANTED)


def _retraced(came: dict[Node, tuple[Node, Trip]], node: Node) -> tuple[Trip, ...]:
    trips: list[Trip] = []
    while node in came:
        node, trip = came[node]
        trips.append(trip)
    return tuple(reversed(trips))
