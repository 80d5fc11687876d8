"""How long is each levelling foot, so that a thing stands level with another?

Everything hangs on one sum: foot = wanted level - height without feet - floor under the foot.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np

from floorplan.checks.finding import Verdict, verdict_of
from floorplan.geometry.affine import ZERO, Affine
from floorplan.shop.floor import Feet, FloorSurvey
from floorplan.shop.model import Shop, Thing
from floorplan.shop.scene import Scene, frame_of
from floorplan.units import TOLERANCE, System

SETTING = {System.IMPERIAL: 0.0254 / 16, System.METRIC: 0.001}
"""Feet and shims are set in these steps [m]: what a tape shows."""
_FEED = {"away": (0.0, 1.0), "left": (-1.0, 0.0), "right": (1.0, 0.0)}


class FeetError(ValueError):
    """The question cannot be answered; the message says what is missing."""


@dataclass(frozen=True, slots=True, eq=False)
class Foot:
    """One foot."""

    number: int
    """As listed in the file, from 1."""
    x: Affine
    y: Affine
    """Where it stands in the room [m]."""
    floor: Affine
    """Height of the floor there [m]."""
    needed: Affine
    """Length from the floor to the foot's upper end [m]."""
    length: float
    """What to set: rounded as a tape shows it, and within what the foot can do [m]."""
    shim: float
    """What to lay under it, rounded alike [m]."""
    verdict: Verdict
    """`fails` where the floor is too high for the foot even at its shortest."""
    reach: Verdict
    """`fails` where it needs a shim, `unsure` where the tape cannot tell."""

    @property
    def set_to(self) -> float:
        """Foot with its shim [m]."""
        return self.length + self.shim


@dataclass(frozen=True, slots=True, eq=False)
class FeetAnswer:
    """Feet of one thing, and the levels they can give it."""

    shop: Shop
    thing: Thing
    other: Thing
    """What it is levelled with."""
    table: Affine
    """Level of the other's surface [m]."""
    target: Affine
    """Wanted level of the thing's surface [m]."""
    feet: tuple[Foot, ...]
    lowest: Affine
    highest: Affine
    """Levels of the surface that all feet reach without shims [m]."""
    datum: Affine
    """What the rod shows at height 0 [m]."""
    datum_given: bool
    steps: tuple[Affine, Affine] | None
    """How much lower than the other's surface the thing lies, feet set as told: where the work
    comes onto it and where it leaves [m]; None where nothing is fed through the other."""
    step_limits: tuple[Affine, Affine] | None
    """Least and most step that the thing's outfeed link allows [m]."""

    @property
    def verdict(self) -> Verdict:
        """Whether every foot can be made short enough; shims do the rest."""
        verdicts = {foot.verdict for foot in self.feet}
        return "fails" if "fails" in verdicts else "unsure" if "unsure" in verdicts else "passes"

    @property
    def step_verdict(self) -> Verdict | None:
        """Whether both steps keep the link's limits; never higher where there is no link."""
        if self.steps is None:
            return None
        least, most = self.step_limits or (ZERO, None)
        margins = [step - least for step in self.steps]
        if most is not None:
            margins += [most - step for step in self.steps]
        known = self.shop.measurements
        found = {verdict_of(m.value, m.error(known)) for m in margins}
        return "fails" if "fails" in found else "unsure" if "unsure" in found else "passes"


def surface_of(thing: Thing) -> Affine | None:
    """Height of the table or surface that work lies on [m]."""
    return thing.cutter.table if thing.cutter is not None else thing.surface


def feet_of(scene: Scene, name: str, *, level: Affine | None = None) -> FeetAnswer:
    """Length of each foot of a thing where it stands. Raises FeetError.

    `level` is another level of its surface than the one the file wants [m].
    """
    shop = scene.shop
    thing, survey = shop.thing(name), shop.floor
    if thing.feet is None:
        raise FeetError(
            f"`{name}` has no feet; add `feet: {{at: [[2 in, 2 in], ...], shortest: 1 in, "
            "longest: 4 in, height without feet: 32 in, level with: saw}`"
        )
    if survey is None:
        raise FeetError(
            "the floor is not surveyed; add `floor: {readings: [{at: [x, y], reading: 1-3/8 in}, "
            "...]}` with a rod's reading at each point"
        )
    pose = scene.layout.pose(name)
    if pose is None:
        raise FeetError(f"`{name}` stands nowhere yet, so nobody knows what is under its feet")
    frame = frame_of(thing, pose)
    places = [frame.point(*at) for at in thing.feet.at]
    unknown = [str(i) for i, (x, y) in enumerate(places, 1) if survey.below(x, y) is None]
    if unknown:
        raise FeetError(
            f"the survey does not reach {_feet(unknown)} of `{name}`; take a reading there "
            f"(`{{under: {name}, foot: {unknown[0]}, reading: ...}}`), or say `outside: extend`"
        )
    other = shop.thing(thing.feet.level_with)
    return _answer(scene, thing, other, survey, places, level)


def levels_of(scene: Scene, name: str) -> tuple[Affine, Affine] | None:
    """Lowest and highest level that a thing's feet give it where it stands, without shims [m].

    Where the floor is not surveyed it is taken as level.  None for a thing without feet or place.
    """
    thing, pose = scene.shop.thing(name), scene.layout.pose(name)
    if thing.feet is None or pose is None:
        return None
    try:
        found = feet_of(scene, name)
    except FeetError:
        return thing.feet.body + thing.feet.shortest, thing.feet.body + thing.feet.longest
    return found.lowest, found.highest


def _feet(numbers: list[str]) -> str:
    return f"foot {numbers[0]}" if len(numbers) == 1 else f"feet {', '.join(numbers)}"


def _answer(
    scene: Scene,
    thing: Thing,
    other: Thing,
    survey: FloorSurvey,
    places: list[tuple[Affine, Affine]],
    level: Affine | None,
) -> FeetAnswer:
    shop, feet, table = scene.shop, thing.feet, surface_of(other)
    assert feet is not None
    assert table is not None
    datum = _datum(scene, other, survey)
    target = table - feet.step if level is None else level
    made = []
    for number, (x, y) in enumerate(places, 1):
        below = survey.below(x, y)
        assert below is not None
        made.append(_foot(shop, feet, number, (x, y), datum - below, target))
    high = max(made, key=lambda foot: foot.floor.value).floor
    low = min(made, key=lambda foot: foot.floor.value).floor
    link = next((k for k in thing.outfeed_of if k.machine == other.name), None)
    return FeetAnswer(
        shop, thing, other, table, target, tuple(made),
        lowest=high + feet.shortest + feet.body,
        highest=low + feet.longest + feet.body,
        datum=datum,
        datum_given=survey.datum is not None,
        steps=_steps(scene, thing, other, table, made),
        step_limits=None if link is None else (link.step_least, link.step_most),
    )  # fmt: skip


def _datum(scene: Scene, other: Thing, survey: FloorSurvey) -> Affine:
    """The reading at height 0: as told, else under the middle of what is levelled to."""
    if survey.datum is not None:
        return survey.datum
    pose = scene.layout.pose(other.name)
    low, high = other.body.points.min(axis=0), other.body.points.max(axis=0)
    middle = (low + high) / 2
    below = None
    if pose is not None:
        below = survey.below(*frame_of(other, pose).point(float(middle[0]), float(middle[1])))
    if below is None:
        raise FeetError(
            f"the survey does not reach the floor under `{other.name}`, from which its height "
            "counts; take readings round it, or say `datum:`, the rod's reading at height 0"
        )
    return below


def _foot(
    shop: Shop, feet: Feet, number: int, at: tuple[Affine, Affine], floor: Affine, target: Affine
) -> Foot:
    needed = target - feet.body - floor
    known = shop.measurements
    spare, reach = needed - feet.shortest, feet.longest - needed
    step = SETTING[shop.system]
    told = round(needed.value / step) * step
    length = min(max(told, feet.shortest.value), feet.longest.value)
    over = needed.value - feet.longest.value
    return Foot(
        number, *at, floor, needed,
        length=length,
        shim=round(over / step) * step if over > TOLERANCE else 0.0,
        verdict=verdict_of(spare.value, spare.error(known)),
        reach=verdict_of(reach.value, reach.error(known)),
    )  # fmt: skip


def _steps(
    scene: Scene, thing: Thing, other: Thing, table: Affine, feet: Iterable[Foot]
) -> tuple[Affine, Affine] | None:
    """Step where the work comes onto the thing and where it leaves, feet set as told [m].

    The thing is taken as rigid and lies on the plane that fits the upper ends of its feet best.
    """
    pose, saw = scene.layout.pose(thing.name), scene.layout.pose(other.name)
    if other.cutter is None or pose is None or saw is None or thing.feet is None:
        return None
    way = np.array(frame_of(other, saw).heading(*_FEED[other.cutter.feed]))
    rows = list(feet)
    tops = [foot.floor + foot.set_to + thing.feet.body for foot in rows]
    points = np.array([[foot.x.value, foot.y.value] for foot in rows])
    plane = np.linalg.pinv(np.column_stack([np.ones(len(points)), points]))
    body = frame_of(thing, pose).place(thing.body).points
    blade = np.array([v.value for v in frame_of(other, saw).point(other.cutter.x, other.cutter.y)])
    reach = (body - blade) @ way
    across = body.mean(axis=0) - blade
    across = across - (across @ way) * way
    steps = []
    for along in (float(reach.min()), float(reach.max())):
        spot = blade + across + along * way
        weights = np.array([1.0, *spot]) @ plane
        level = ZERO
        for weight, top in zip(weights, tops, strict=True):
            level = level + top * float(weight)
        steps.append(table - level)
    return steps[0], steps[1]
