"""The layout that moves least: today's, with only what has to stand elsewhere placed anew.

A search of the whole shop moves nearly everything, for every place is as good as today's to it.
Here all stays exactly where it is but for a few things: those with a part in what fails, then what
stands in their way, until the rest passes; then each of them that need not move after all goes
back.  None of these few can be spared, but nobody proves that no other few would do.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Sequence

from floorplan.checks.judge import Judgement
from floorplan.search.change import Draft
from floorplan.search.concerned import beside, hard, movers
from floorplan.search.placing import search
from floorplan.search.setting import Demands, Setting, Spot
from floorplan.search.wishes import Wishes
from floorplan.shop.model import Layout, Shop

EFFORT = 60
"""Items put back for each thing that is free."""
ROUNDS = 8
"""How often more things are freed."""
BETWEEN = frozenset({"solids", "keep-clears", "zones", "openings", "feeding"})
"""Checks of pairs: two that stand where they stand fail each other wherever the rest is."""
JUDGED = 8
"""Clearly different layouts judged for one set of free things."""

Judge = Callable[[Layout], Judgement]
Enough = Callable[[], bool]


class FewestMoves:
    """Looks for a small set of things whose places alone put a shop right."""

    def __init__(
        self, shop: Shop, today: Layout, movable: Sequence[str], spots: Sequence[Spot], seed: int
    ) -> None:
        self.shop, self.today, self.seed = shop, today, seed
        self.movable, self.spots = movable, spots
        self.placeless = {name for name in movable if today.pose(name) is None}
        self.tried = 0
        self.known: dict[tuple[tuple[object, ...], ...], Judgement] = {}
        self.without: set[frozenset[str]] = set()
        """Things whose places alone put nothing right."""

    def found(
        self, now: Judgement, judged: Judge, enough: Enough, asked: Judge | None = None
    ) -> Judgement | None:
        """A layout that passes and moves few things; None where none was found.

        Parameters
        ----------
        now
            today's layout, judged
        judged
            judges a layout
        enough
            whether to stop early
        asked
            judges as quickly as it can whether a layout passes; `judged` where it is not given
        """
        free = self._concerned(now)
        best: Judgement | None = None
        for _ in range(ROUNDS):
            if enough() or not free:
                return None
            made = self._placed(free, judged)
            if made is not None and made.verdict == "passes":
                best = made
                break
            self.without.add(free)
            more = self._more(free, made)
            if not more:
                return None
            free = free | more
        return None if best is None else self._spared(best, free, now, asked or judged, enough)

    def _concerned(self, now: Judgement) -> frozenset[str]:
        """As few things as together have a part in every failing pair, and what has no place."""
        draft = Draft(self.shop, self.today)
        left = [set(movers(draft, [f])) & set(self.movable) for f in hard(now.failing)]
        left = [names for names in left if names and not names & self.placeless]
        free = set(self.placeless)
        while left:
            counts = Counter(name for names in left for name in names)
            first = max(self._unbladed(counts), key=lambda n: (counts[n], -self._order(n)))
            free.add(first)
            left = [names for names in left if first not in names]
        if not free:
            named = [n for n in movers(draft, now.failing) if n in self.movable]
            free.update(named[:1])
        return frozenset(free)

    def _unbladed(self, names: Counter[str]) -> list[str]:
        """A machine with a blade is moved last: it pays to choose another of the pair."""
        others = [name for name in names if self.shop.thing(name).cutter is None]
        return others or list(names)

    def _order(self, name: str) -> int:
        return self.movable.index(name)

    def _placed(
        self, free: frozenset[str], judged: Judge, *, advised: bool = False
    ) -> Judgement | None:
        """The best layout found with only some things elsewhere; None if they fit nowhere."""
        spots = [s for s in self.spots if s[0] in free or self.today.pose(*s) is None]
        setting = Setting(self.shop, self.today, free, Demands(advised=advised), spots)
        found = search(
            setting.problem, Wishes(setting), seed=self.seed, effort=EFFORT * (len(free) + 1),
            start=setting.state(self.today), keep=JUDGED,
        )  # fmt: skip
        self.tried += found.tried
        if found.interrupted:
            raise KeyboardInterrupt
        best: Judgement | None = None
        for _, state in found.archive:
            made = self._judged(setting.layout_of(state, rounded=True), judged)
            if made.verdict == "passes":
                return made
            if best is None or len(made.failing) < len(best.failing):
                best = made
        return best

    def _judged(self, layout: Layout, judged: Judge) -> Judgement:
        """Each layout is judged once, whichever things were free to reach it."""
        poses = layout.poses.items()
        key = tuple(sorted((*spot, p.x.value, p.y.value, p.turn) for spot, p in poses))
        if key not in self.known:
            self.known[key] = judged(layout)
        return self.known[key]

    def _more(self, free: frozenset[str], made: Judgement | None) -> frozenset[str]:
        """What to free besides: who has a part in what still fails, else a neighbour."""
        draft = Draft(self.shop, self.today if made is None else made.layout)
        able = [name for name in self.movable if name not in free]
        if made is not None:
            named = Counter(
                name
                for f in made.failing
                for name in movers(draft, [f])
                if name in able
            )  # fmt: skip
            if named:
                return frozenset([max(named, key=lambda n: (named[n], -self._order(n)))])
        near = [other for name in sorted(free) for other in beside(draft, name, able)[:1]]
        return frozenset((near or able)[:1])

    def _spared(
        self,
        best: Judgement,
        free: frozenset[str],
        now: Judgement,
        asked: Judge,
        enough: Enough,
    ) -> Judgement:
        """The same with fewer things moved, where some of them can stay after all."""
        for name in sorted(free - self.placeless, key=self._order):
            if len(free) == 1 or enough():
                break
            if free - {name} in self.without or self._stays_wrong(now, free - {name}):
                continue
            made = self._placed(free - {name}, asked)
            if made is not None and made.verdict == "passes":
                best, free = made, free - {name}
        # the same few, following the advised rules as well if they can
        better = None if enough() else self._placed(free, asked, advised=True)
        return better if better is not None and better.verdict == "passes" else best

    def _stays_wrong(self, now: Judgement, free: frozenset[str]) -> bool:
        """Whether things that stay where they are fail each other, wherever the free ones stand."""
        return any(f.check in BETWEEN and free.isdisjoint(f.about) for f in now.failing)
