"""What there is to say about a carried piece: poses, doors, heights, pinch, weight, remedies."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from math import degrees, inf

from floorplan.checks.finding import amount
from floorplan.checks.giving_way import Remedy
from floorplan.checks.ways import Way
from floorplan.shop.carrying import lean_to_pass
from floorplan.shop.model import Carry
from floorplan.shop.scene import Scene
from floorplan.units import format_length, format_mass

VERDICTS = {"passes": "passes", "fails": "DOES NOT PASS", "unsure": "is UNSURE"}


def label(wanted: Carry) -> str:
    """The piece and how it is carried."""
    return f"{wanted.piece} {wanted.how} from {wanted.start} to {wanted.goal}"


def beside(way: Way) -> str:
    """Between what, or beside what alone, it is tightest."""
    if not way.limits:
        return ""
    return f" {'beside' if len(way.limits) == 1 else 'between'} {listed(way.limits)}"


def listed(names: Sequence[str]) -> str:
    """`a`, `a and b`, `a, b and c`."""
    return " and ".join(filter(None, (", ".join(names[:-1]), names[-1]))) if names else ""


def blocked_words(scene: Scene, way: Way) -> str:
    """Where it stops, what stands there, and how large an opening it would need."""
    blocked = way.answer.blocked_at
    assert blocked is not None
    names = listed(way.limits) or "the walls"
    need = least_opening(scene, way)
    closed = "".join(f"; {words}" for words in way.around.closed)
    if blocked.reason != "way":
        stand = way.start if blocked.reason == "start" else way.goal
        return f"it has no room {stand.words}, {names} in the way; it needs {need}{closed}"
    if way.margin is None:
        narrow = ", however narrow" if way.answer.margin == -inf else ""
        return f"stopped by {names}{narrow}; it needs an opening of {need}{closed}"
    fits = amount(scene.shop, way.load.width.value + way.margin.value, "down")
    return f"stopped by {names}; {fits} wide would pass; it needs an opening of {need}{closed}"


def least_opening(scene: Scene, way: Way) -> str:
    """The smallest straight opening for a piece as it is carried: clear width and height."""
    width = amount(scene.shop, way.load.width.value, "up")
    low = amount(scene.shop, way.load.bottom.value, "down")
    high = amount(scene.shop, way.load.piece.top.value, "up")
    return f"{width} clear width from {low} to {high} above the floor"


def way_title(way: Way) -> str:
    """The piece, its ends and the verdict in one line."""
    return f"{label(way.carry)} {VERDICTS[way.verdict]}"


def way_sentences(scene: Scene, way: Way, helped: Remedy | None) -> Iterator[str]:
    """One sentence a line, the decisive ones first."""
    answer = way.answer
    if answer.verdict == "passes":
        turned = f"{degrees(answer.turned):.0f}°"
        times = f"{answer.turns} time{'' if answer.turns == 1 else 's'}"
        yield f"Way {amount(scene.shop, answer.length, 'up')}, turning {times}, {turned} in all."
    yield from _pinch(scene, way)
    if answer.verdict == "fails":
        words = blocked_words(scene, way)
        yield f"{words[0].upper()}{words[1:]}."
    if answer.verdict == "unsure":
        yield "Neither a way nor that there is none could be certified at the finest turns tried."
    yield from _remedies(scene, helped)
    yield f"From {way.start.words}; to {way.goal.words}."
    doors = ", ".join(way.around.doors) or "none"
    low, high = (format_length(v.value, scene.shop.system) for v in (
        way.load.piece.bottom, way.load.piece.top))  # fmt: skip
    yield f"Doors open: {doors}. {_plan_words(scene, way)}, from {low} to {high} above the floor."
    yield from _lean(scene, way)
    yield from weight_sentences(scene, way.carry.piece, way.carry.mass)


def _plan_words(scene: Scene, way: Way) -> str:
    """What is carried in plan, and who walks beside it."""
    shop, load = scene.shop, way.load
    alone = (load.width - load.beside).value
    long, wide, deep, broad = (
        amount(shop, v, "up") for v in (load.length.value, alone, load.carrier, load.beside.value)
    )
    if load.carrier == 0.0:
        return f"In plan {long} by {wide}"
    return f"In plan {long} by {wide}, with a person {deep} by {broad} at its middle"


def _pinch(scene: Scene, way: Way) -> Iterator[str]:
    """Have, need, spare and error at the tightest place."""
    if way.margin is None:
        return
    shop = scene.shop
    need = way.needed
    error = way.margin.error(shop.measurements)
    have = amount(shop, need + way.margin.value, "down")
    off = f" ± {amount(shop, error, 'up')}" if error > 0 else ""
    spare = amount(shop, abs(way.margin.value), "down" if way.margin.value >= 0 else "up")
    short = "to spare" if way.margin.value >= 0 else "short"
    wanted = amount(shop, need, "up")
    yield f"Tightest{beside(way)}: {have} there, {wanted} needed, {spare} {short}{off}."


def _remedies(scene: Scene, helped: Remedy | None) -> Iterator[str]:
    if helped is None:
        return
    sizes = []
    if helped.width is not None and helped.width > 0:
        sizes.append(f"{amount(scene.shop, helped.width, 'down')} wide at this length")
    if helped.length is not None:
        sizes.append(f"{amount(scene.shop, helped.length, 'down')} long at this width")
    if sizes:
        yield f"What would pass: {' or '.join(sizes)}."
    if helped.without:
        yield f"Out of the way, one of these is enough: {', '.join(helped.without)}."
    elif not sizes:
        yield "Taking any one thing away is not enough."


def _lean(scene: Scene, way: Way) -> Iterator[str]:
    """How far a sheet on end has to lean for the door heads that it is too tall for."""
    if way.carry.how != "on end":
        return
    lift = way.load.piece.bottom.value
    for door in scene.shop.doors:
        if door.name not in way.around.doors:
            continue
        lean = lean_to_pass(way.carry.length.value, door.head.value - lift)
        if lean is not None:
            run = amount(scene.shop, lean[1], "up")
            yield (
                f"Leaned out of its plane to {lean[0]:.1f}° from the floor it would pass "
                f"{door.name}, and takes {run} along the floor."
            )


def weight_sentences(scene: Scene, name: str, mass: float | None) -> Iterator[str]:
    """The weight beside the published lifting figures, which are a filter and no safe limit."""
    if mass is None:
        return
    shop = scene.shop
    men, women = shop.rules.value("lift-men"), shop.rules.value("lift-women")
    share = shop.rules.value("lift-two-share")

    def text(kilograms: float) -> str:
        return format_mass(kilograms, shop.system)

    two = f"{text(2 * share * men)} / {text(2 * share * women)}"
    base = f"{name} weighs {text(mass)}"
    one = f"{text(men)} for a man, {text(women)} for a woman"
    if mass > men:
        yield f"{base}: more than the published lifting filter of {one} (two people: {two})."
    elif mass > women:
        yield f"{base}: beyond the published lifting filter for a woman ({one}; two people: {two})."
    else:
        yield f"{base}: within the published lifting filter ({one})."
