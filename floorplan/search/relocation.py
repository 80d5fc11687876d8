"""From today's layout to another one: in what order the things can be moved, and where one waits.

The orders are searched by their least steps, then by the way rolled.  That there is none is said
only where every order ends at passages that surely fail.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from math import hypot
from typing import Literal

from floorplan.checks.finding import Verdict
from floorplan.checks.mobile import mobile_of
from floorplan.checks.passage import Passage, Spare
from floorplan.checks.rolling_floor import RollingFloor
from floorplan.search.clearing import Clearing
from floorplan.search.orders import EFFORT, Orders
from floorplan.search.parking import parking_places
from floorplan.search.rings import Wait, ring_of, waits_of
from floorplan.search.trips import TODAY, WANTED, State, Trip, Trips
from floorplan.shop.model import Layout, Pose, Shop
from floorplan.shop.scene import scene
from floorplan.units import TOLERANCE

Parking = Literal["none", "given", "found"]

_SHARES = {"any order": 0.4, "straight": 0.25, "shorter": 0.1, "proof": 0.1, "one waits": 0.25}
"""What each search may spend of all the ways that may be worked out, as far as they are left."""


@dataclass(frozen=True, eq=False)
class Step:
    """One thing moved."""

    thing: str
    start: Pose
    goal: Pose
    passage: Passage
    parked: bool
    """True when it only waits there."""
    before: Layout
    """Where everything stands before."""
    spare: Spare


@dataclass(frozen=True, eq=False)
class Relocation:
    """The answer."""

    shop: Shop
    today: Layout
    wanted: Layout
    verdict: Verdict
    """`unsure`: an order that is free as drawn, or none found without proof that there is none."""
    steps: tuple[Step, ...] = ()
    parking: Parking = "none"
    """Whether something waits in between, and who said where."""
    none_without_parking: bool = False
    """Proved: each thing moved once, no order works."""
    ring: tuple[str, ...] = ()
    """Things each of which surely has to wait for the next, the last one for the first."""
    waits: tuple[Wait, ...] = ()
    exhausted: bool = True
    """False when the search was given up."""

    @property
    def length(self) -> float:
        """Way rolled in all [m]."""
        return sum(step.passage.length for step in self.steps)


class RelocationError(ValueError):
    """Two layouts of which one cannot become the other by moving things about, in words."""


# --- what moves ----------------------------------------------------------------------------


def movers(shop: Shop, today: Layout, wanted: Layout) -> tuple[str, ...]:
    """Things that stand elsewhere than today, in file order. Raises RelocationError."""
    out = []
    for thing in shop.things:
        old, new = today.pose(thing.name), wanted.pose(thing.name)
        if thing.only_in is not None or (old is None and new is None):
            continue
        if old is None or new is None:
            has, lacks = ("today", "in the other layout") if new is None else ("there", "today")
            raise RelocationError(
                f"`{thing.name}` stands somewhere {has}, but nowhere {lacks}; give it a place in "
                "both, or leave it out with --without"
            )
        if same(old, new):
            continue
        if thing.fixed:
            raise RelocationError(f"`{thing.name}` is fixed, yet the other layout has it elsewhere")
        out.append(thing.name)
    return tuple(out)


def same(old: Pose, new: Pose) -> bool:
    """Whether two places are one within the tolerance."""
    way = hypot(new.x.value - old.x.value, new.y.value - old.y.value)
    turned = abs((new.turn - old.turn + 180.0) % 360.0 - 180.0)
    return way <= TOLERANCE and turned <= 1e-6


def relocate(
    shop: Shop,
    today: Layout,
    wanted: Layout,
    *,
    parking: bool = True,
    park: Mapping[str, Pose] | None = None,
    effort: int = EFFORT,
) -> Relocation:
    """The order in which things get from today's layout to another.

    `park` names where things may wait; else, with `parking`, places are looked for, at most one
    thing waiting at a time.  Raises RelocationError.
    """
    given = dict(park or {})
    names = list(movers(shop, today, wanted))
    names += [name for name in given if name not in names]
    return _Question(shop, today, wanted, tuple(names), given, effort).answer(parking=parking)


class _Question:
    """One relocation: first each thing once, then with one that waits somewhere."""

    def __init__(
        self,
        shop: Shop,
        today: Layout,
        wanted: Layout,
        names: tuple[str, ...],
        given: Mapping[str, Pose],
        effort: int,
        aside: tuple[str, ...] = (),
    ) -> None:
        self.effort = effort
        self.aside = aside
        """Things that stay where they are and may step aside meanwhile."""
        self.shop, self.today, self.wanted = shop, today, wanted
        self.names, self.given = names, given
        staying = [e for e in scene(shop, today).elements if e.owner not in names]
        mobiles = [mobile_of(shop, shop.thing(name)) for name in names]
        places = []
        for name in names:
            old, new = today.pose(name), wanted.pose(name)
            if old is None or new is None:
                raise RelocationError(f"`{name}` has no place to wait from: it stands nowhere")
            places.append((old, new, *([given[name]] if name in given else [])))
        self.trips = Trips(RollingFloor(shop, staying), mobiles, places)
        # what only waits and comes back is where it is to be from the beginning
        self.given_up = False
        self.start: State = tuple(WANTED if same(row[0], row[1]) else TODAY for row in places)

    def answer(self, *, parking: bool) -> Relocation:
        """Ways that are surely free come before those that are free as drawn."""
        any_order = self._any_order(waits=parking and not self.given)
        waits = sum(place > WANTED for _, _, place in any_order or ())
        at_once = any_order is not None and not waits  # then all that is left is a shorter way
        found = self._best(("passes",), 0, part="shorter" if at_once else "straight")
        if found is None and at_once:
            found = any_order
        if found is not None:
            return self._told(found, "none")
        proved = self._proved_none()
        if self.given:
            found = self._best(("passes",), len(self.given), part="one waits")
        elif parking:
            found = any_order if waits > 1 else self._one_waits() or any_order
        if found is not None:
            return self._told(found, "given" if self.given else "found", proved)
        if parking and not self.given and (others := self._in_the_way()):
            left = self.effort - self.trips.floor.carried
            more = _Question(
                self.shop, self.today, self.wanted, (*self.names, *others), {}, left, aside=others
            )
            again = more.answer(parking=True)
            if again.steps:
                return again
        if not proved:
            found = self._best(("passes", "unsure"), 0)
        return self._told(found, "none", proved)

    def _in_the_way(self) -> tuple[str, ...]:
        """Things that stay where they are, yet would have to step aside for one that moves."""
        if self.aside:
            return ()
        stuck: dict[str, None] = {}
        for i, at in enumerate(self.start):
            alone = self.trips.passage((i, at, WANTED), frozenset())
            if at != WANTED and not alone.stretches:
                stuck |= dict.fromkeys(self.trips.stuck_between((i, at, WANTED), frozenset()))
        return tuple(
            name
            for name in stuck
            if self.shop.has(name)
            and name not in self.names
            and not self.shop.thing(name).fixed
            and self.shop.thing(name).only_in is None
        )

    def _any_order(self, *, waits: bool) -> tuple[Trip, ...] | None:
        """The first order found at all, however many things wait in it."""
        effort = self._share(_SHARES["any order"])
        clearing = Clearing(
            self.trips, self.start, accepted=("passes",), effort=effort, waits=waits
        )
        found = clearing.order()
        self.given_up |= clearing.given_up
        return found

    def _share(self, part: float) -> int:
        """What one search may spend: a part of all, and no more than is left of it."""
        left = self.effort - self.trips.floor.carried
        return max(0, min(left, round(part * self.effort)))

    def _best(
        self, accepted: tuple[Verdict, ...], parkings: int, *, part: str = "straight"
    ) -> tuple[Trip, ...] | None:
        share = _SHARES[part]
        if "unsure" in accepted:
            self.trips, share = self.trips.as_drawn(), 1.0
        orders = Orders(
            self.trips, self.start, parkings=parkings, accepted=accepted, effort=self._share(share)
        )
        found = orders.best()
        self.given_up |= orders.given_up
        return found

    def _proved_none(self) -> bool:
        """Whether no order exists in which each thing is moved once: a ring, or all looked at."""
        if ring_of(self.trips) or any(not some for some in self._first_waits()):
            return True
        possible: tuple[Verdict, ...] = ("passes", "unsure")
        effort = self._share(_SHARES["proof"])
        orders = Orders(self.trips, self.start, parkings=0, accepted=possible, effort=effort)
        return not orders.exists()

    def _first_waits(self) -> list[tuple[str, ...]]:
        return [wait.behind for wait in waits_of(self.trips, self.start)]

    def _one_waits(self) -> tuple[Trip, ...] | None:
        """The best order in which one thing waits at a place found for it."""
        ring = ring_of(self.trips)
        some = [i for i, name in enumerate(self.names) if name in ring] or range(len(self.names))
        self.trips = self.trips.with_parking({i: parking_places(self.trips, i) for i in some})
        return self._best(("passes",), 1, part="one waits")

    def _told(
        self,
        found: tuple[Trip, ...] | None,
        parking: Parking,
        none_without: bool = False,
    ) -> Relocation:
        steps = () if found is None else self._steps(found)
        sure = all(step.passage.verdict == "passes" for step in steps)
        verdict: Verdict = "passes" if found is not None and sure else "unsure"
        if found is None and none_without:
            verdict = "fails"
        shown = found is None or none_without
        return Relocation(
            self.shop, self.today, self.wanted, verdict, steps, parking, none_without,
            ring_of(self.trips) if shown else (), waits_of(self.trips, self.start) if shown else (),
            not self.given_up,
        )  # fmt: skip

    def _steps(self, found: tuple[Trip, ...]) -> tuple[Step, ...]:
        layout, state, out = self.today, self.start, []
        for trip in found:
            number, start, goal = trip
            row = self.trips.places[number]
            others = frozenset((i, at) for i, at in enumerate(state) if i != number)
            passage = self.trips.passage(trip, others)
            name = self.names[number]
            spare = self.trips.spare(passage, others)
            parked = goal > WANTED
            out.append(Step(name, row[start], row[goal], passage, parked, layout, spare))
            layout = layout.with_pose(name, row[goal])
            state = (*state[:number], goal, *state[number + 1 :])
        return tuple(out)
