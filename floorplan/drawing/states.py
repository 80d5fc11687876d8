"""The shop in its states side by side: what is there, and how it is rolled there.

A state is one way in which the shop is set up for tasks: what is parked, at its working place,
there or away.  Tasks that find everything alike share a state.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from math import degrees, dist
from pathlib import Path
from string import ascii_lowercase

from floorplan.checks.finding import Finding, Measure, amount
from floorplan.checks.passage import Spare
from floorplan.checks.rolling import Roll, ends_of, rolls_of, spare_beside
from floorplan.drawing.canvas import Label, Plan
from floorplan.drawing.comparison import Candidate, comparison
from floorplan.drawing.judged import Judged, Ranked
from floorplan.drawing.page import FORMATS, Page, save
from floorplan.drawing.placing import around
from floorplan.drawing.style import ALERT, BLUE, FINE, LIGHT, MEDIUM, SMALL_SIZE
from floorplan.motion.turning import outline_at
from floorplan.shop.model import AT_REST, ELSEWHERE, Layout, Shop
from floorplan.shop.presence import ALWAYS
from floorplan.shop.scene import Element, Scene
from floorplan.units import format_length

MOST = 6
"""States on one sheet; more would be too small to read."""
_ARROW = 1.6
"""Length of an arrow's barbs [mm]."""
_DASHES = (3.0, 2.0)

Standing = tuple[tuple[str, str | None], ...]
"""At which of its places each thing is, None where it is not there."""


@dataclass(frozen=True, slots=True, eq=False)
class RolledIn:
    """One roll with what is left over beside it."""

    roll: Roll
    spare: Spare | None
    """None where there is no way."""

    @property
    def left(self) -> float:
        """On both sides together [m]."""
        return 0.0 if self.spare is None else 2 * self.spare.margin


@dataclass(frozen=True, eq=False)
class State:
    """The shop as some tasks find it."""

    whole: Judged
    moments: tuple[str, ...]
    """The tasks, `at rest` first where it is one of them."""
    standing: Standing

    @property
    def shop(self) -> Shop:
        """The shop."""
        return self.whole.shop

    @cached_property
    def layout(self) -> Layout:
        """Everything that is there, where it is."""
        known = self.whole.layout.poses
        return Layout({(n, "standing"): known[n, p] for n, p in self.standing if p is not None})

    @cached_property
    def scene(self) -> Scene:
        """What is there, as if it always were."""
        made = self.whole.scene
        moment = self.moments[0]

        def there(elements: Sequence[Element]) -> tuple[Element, ...]:
            return tuple(replace(e, presence=ALWAYS) for e in elements if e.presence.during(moment))

        places = dict(self.standing)
        things = {
            name: kept
            for name, elements in made.things.items()
            if places.get(name) is not None and (kept := there(elements))
        }
        return Scene(made.shop, self.layout, there(made.building), things)

    @property
    def findings(self) -> tuple[Finding, ...]:
        """Those of its tasks; at rest also those of no task."""
        tasks = {None, *self.moments} if AT_REST in self.moments else set(self.moments)
        return tuple(f for f in self.whole.findings if f.task in tasks)

    @property
    def verdict(self) -> str:
        """The worst of what is required of its tasks."""
        found = {f.verdict for f in self.findings if f.kind == "required"}
        return next((v for v in ("fails", "unsure") if v in found), "passes")

    @cached_property
    def rolls(self) -> tuple[RolledIn, ...]:
        """What is rolled from rest into this state, in its order."""
        task = next((t for t in self.shop.tasks if t.name in self.moments), None)
        if task is None or AT_REST in self.moments:
            return ()
        made = rolls_of(self.whole.scene, task)
        return tuple(
            RolledIn(roll, spare_beside(made.floor, roll) if roll.passage.stretches else None)
            for roll in made.rolls
        )

    @property
    def measures(self) -> Mapping[str, Measure]:
        """How far things are rolled, and how tight that is."""
        spares = [made.left for made in self.rolls if made.spare is not None]
        if not spares or len(spares) < len(self.rolls):
            return {}
        far = sum(made.roll.passage.length for made in self.rolls)
        return {"rolled": Measure(far, "m"), "least to spare": Measure(min(spares), "m")}


def states_of(judged: Judged) -> tuple[State, ...]:
    """Every state of a shop, at rest first; one alone where its tasks find everything alike."""
    found: dict[Standing, list[str]] = {}
    for moment in judged.scene.task_names():
        found.setdefault(_standing(judged, moment), []).append(moment)
    return tuple(State(judged, tuple(names), where) for where, names in found.items())


def _standing(judged: Judged, moment: str) -> Standing:
    return tuple((thing.name, _place(judged, thing.name, moment)) for thing in judged.shop.things)


def _place(judged: Judged, name: str, moment: str) -> str | None:
    elements = judged.scene.things.get(name, ())
    if not any(e.name == "body" and e.presence.during(moment) for e in elements):
        return None
    task = next((t for t in judged.shop.tasks if t.name == moment), None)
    for place in ELSEWHERE:
        if name in getattr(task, place, ()) and judged.layout.pose(name, place) is not None:
            return place
    return "standing"


def states_sheet(
    judged: Judged, out_dir: str | Path, name: str, *, formats: Sequence[str] = FORMATS
) -> tuple[Path, ...]:
    """All states on one sheet; nothing where there is but one.

    Raises OSError, ValueError when no paper holds them.
    """
    states = states_of(judged)[:MOST]
    if len(states) < 2:
        return ()
    return save(states_page(states), Path(out_dir) / name, formats)


def ranked_states(
    layouts: Sequence[Ranked], out_dir: str | Path, *, formats: Sequence[str] = FORMATS
) -> tuple[Path, ...]:
    """The states of each layout that a search offers: `rank-1-states` and so on.

    Raises OSError, ValueError when no paper holds them.
    """
    files: tuple[Path, ...] = ()
    for ranked in layouts:
        name = f"rank-{ranked.rank}-states"
        files += states_sheet(ranked.judgement, out_dir, name, formats=formats)
    return files


def states_page(states: Sequence[State]) -> Page:
    """The sheet, not yet saved."""
    candidates = [
        Candidate(
            state_title(state, states),
            state,
            " ".join(state_sentences(state, states[0])),
            _short(state),
        )
        for state in states
    ]

    def over(plan: Plan, index: int) -> None:
        draw_rolls(plan, states[index])

    return comparison(candidates, subject="The shop in its states", over=over)


# --- words ---------------------------------------------------------------------------------


def _short(state: State) -> str:
    return state.moments[0]


def state_title(state: State, states: Sequence[State]) -> str:
    """Its tasks; the first state also says what is there in others only."""
    here = dict(state.standing)
    later = [n for n, place in here.items() if place is None]
    later = [n for n in later if any(dict(other.standing)[n] for other in states)]
    without = f", without {', '.join(later)}" if later and state is states[0] else ""
    first, *others = state.moments
    if not others:
        return first + without
    more = ", ".join(others[:3])
    left = f" and {len(others) - 3} more" if len(others) > 3 else ""
    return f"{first}{without}; alike: {more}{left}"


def state_sentences(state: State, rest: State) -> Iterator[str]:
    """What differs from the first state, and the rolls in their order."""
    here, there = dict(state.standing), dict(rest.standing)
    come = [name for name, place in here.items() if place is not None and there[name] is None]
    gone = [name for name, place in here.items() if place is None and there[name] is not None]
    if come:
        yield f"There: {', '.join(come)}."
    if gone:
        yield f"Away: {', '.join(gone)}."
    for letter, made in zip(ascii_lowercase, state.rolls, strict=False):
        yield f"{letter}: {_roll_words(state.shop, made)}."


def _roll_words(shop: Shop, made: RolledIn) -> str:
    roll, passage = made.roll, made.roll.passage
    if made.spare is None:
        return f"{roll.thing}: no way to its {roll.place} place"
    turned = degrees(passage.turned)
    turn = f", {turned:.0f}° of turning" if turned > 1.0 else ""
    far = amount(shop, passage.length, "up")
    return f"{roll.thing} rolls {far}{turn}, at least {amount(shop, made.left, 'down')} to spare"


def draw_rolls(plan: Plan, state: State) -> None:
    """Every roll into a state, lettered in its order."""
    for letter, made in zip(ascii_lowercase, state.rolls, strict=False):
        _draw_roll(plan, state.whole, letter, made)


# --- lines ---------------------------------------------------------------------------------


def _draw_roll(plan: Plan, judged: Judged, letter: str, made: RolledIn) -> None:
    """Where it stood, dashed; its middle's way with an arrow and a letter; where it is tight."""
    page, passage = plan.page, made.roll.passage
    alone = passage.mobile.body(None)
    path = passage.path or ends_of(judged.layout, made.roll)
    stood = plan.shape(outline_at(alone, path[0]))
    page.area(stood, edge=BLUE, width=LIGHT, dashes=_DASHES, z=9.2)
    points = [plan.to_paper(pose.x, pose.y) for pose in path]
    gid = f"roll: {made.roll.thing}"
    if made.spare is None:  # as the crow flies, for there is no way
        page.line(points, width=MEDIUM, colour=ALERT, dashes=_DASHES, z=9.4, gid=gid)
        _write_near(plan, points[0], f"{letter}: no way", ALERT)
        return
    page.line(points, width=MEDIUM, colour=BLUE, z=9.4, gid=gid)
    _draw_arrow(plan, points)
    _write_near(plan, points[0], letter)
    pose = made.spare.pose
    tight = plan.shape(outline_at(alone, pose))
    page.area(tight, edge=BLUE, width=FINE, z=9.3, gid=f"tightest: {made.roll.thing}")
    left = format_length(made.left, plan.system, rounding="down")
    _write_near(plan, plan.to_paper(pose.x, pose.y), f"{letter}: {left}")


def _draw_arrow(plan: Plan, points: Sequence[tuple[float, float]]) -> None:
    """Barbs at the end, as the last step that is long enough on paper goes."""
    tip = points[-1]
    back = next((p for p in reversed(points) if dist(p, tip) > _ARROW), None)
    if back is None:
        return
    dx, dy = ((tip[i] - back[i]) / dist(back, tip) * _ARROW for i in (0, 1))
    barbs = [(tip[0] - dx - s * 0.5 * dy, tip[1] - dy + s * 0.5 * dx) for s in (-1, 1)]
    plan.page.line([barbs[0], tip, barbs[1]], width=MEDIUM, colour=BLUE, z=9.5)


def _write_near(plan: Plan, point: tuple[float, float], words: str, colour: str = BLUE) -> None:
    """At a point, or as near as there is room."""
    label = Label((words,), SMALL_SIZE, bold=1)
    found = plan.placer.find(around(*point, *label.extent, first=0.5, reach=30.0))
    if found is not None:
        plan.write(label, found, colour=colour)
