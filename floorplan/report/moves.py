"""The order of moves as data and in words: steps, ways, effort, rings."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from math import degrees
from pathlib import Path
from textwrap import fill

from floorplan.checks.finding import amount
from floorplan.checks.judge import judge_scene
from floorplan.checks.way_words import listed
from floorplan.report.data import Data, envelope, number
from floorplan.report.text import tail
from floorplan.report.words import WIDTH
from floorplan.search.relocation import Relocation, Step, same
from floorplan.shop.model import Shop, Thing
from floorplan.shop.scene import scene
from floorplan.units import format_exact, format_mass

_CHANGES_SIDE = ", then round to its "


def moves_data(found: Relocation, cautions: Iterable[str], files: Iterable[Path]) -> Data:
    """The object that `moves` prints: blocks `moves`, `parking`, `ring`, `waits`, SI units."""
    judgement = judge_scene(scene(found.shop, found.wanted), ())
    data = envelope(
        "moves", judgement, cautions, files,
        moves=[_step(found.shop, i, step) for i, step in enumerate(found.steps, 1)],
        length=number(found.length) if found.steps else None,
        parking=found.parking,
        ring=list(found.ring),
        waits=[{"thing": w.thing, "behind": list(w.behind)} for w in found.waits],
    )  # fmt: skip
    data["none without parking"] = found.none_without_parking
    data["exhausted"] = found.exhausted
    data["verdict"] = found.verdict
    return data


def _step(shop: Shop, position: int, step: Step) -> Data:
    passage, spare = step.passage, step.spare
    return {
        "step": position,
        "thing": step.thing,
        "path": [[number(p.x), number(p.y), number(degrees(p.angle))] for p in passage.path],
        "parked": step.parked,
        "verdict": passage.verdict,
        "length": number(passage.length),
        "turned": number(degrees(passage.turned)),
        "from": _pose(step.start.x.value, step.start.y.value, step.start.turn),
        "to": _pose(step.goal.x.value, step.goal.y.value, step.goal.turn),
        "mover": [stretch.side for stretch in passage.stretches],
        "doors open": list(passage.doors),
        "margin": number(spare.margin),
        "error": number(spare.error),
        "pinch": {
            "at": [number(spare.pose.x), number(spare.pose.y), number(degrees(spare.pose.angle))],
            "beside": list(spare.beside),
        },
        "plan": [[number(x), number(y)] for x, y in passage.mobile.hull],
        "effort": _effort(shop, shop.thing(step.thing), passage.length),
    }


def _pose(x: float, y: float, turn: float) -> Data:
    return {"x": number(x), "y": number(y), "turn": number(turn)}


def _effort(shop: Shop, thing: Thing, length: float) -> Data:
    rules = shop.rules
    mass = thing.mass
    push = None
    if mass is not None and thing.on_wheels:
        push = {
            "smooth floor": number(mass * rules.value("push-share-level")),
            "uneven floor": number(mass * rules.value("push-share-uneven")),
        }
    return {
        "mass": number(mass), "on wheels": thing.on_wheels, "push": push,
        "words": effort_words(shop, thing, length),
    }  # fmt: skip


def effort_words(shop: Shop, thing: Thing, length: float) -> str:
    """Weight and push beside the published guideline figures, which are no safe limits."""
    if thing.mass is None:
        return "weight not known"

    def kg(value: float) -> str:
        return format_mass(value, shop.system)

    rules, mass = shop.rules, thing.mass
    if not thing.on_wheels:
        men, women = rules.value("lift-men"), rules.value("lift-women")
        if mass <= women:
            return f"{kg(mass)}, within the lifting filter"
        two = rules.value("lift-two-share") * 2
        return (
            f"{kg(mass)} and not on wheels: the lifting filter is {kg(men)} for a man, "
            f"{kg(women)} for a woman, {kg(two * men)} / {kg(two * women)} for two; put it on a "
            "dolly"
        )
    low, high = (mass * rules.value(f"push-share-{kind}") for kind in ("level", "uneven"))
    start = f"{kg(rules.value('push-start-men'))} / {kg(rules.value('push-start-women'))}"
    within = [high <= rules.value(f"push-start-{who}") for who in ("men", "women")]
    word = "within" if all(within) else "beyond" if not any(within) else "for a woman beyond"
    text = (
        f"{kg(mass)} on wheels, a push of {kg(low)} on a smooth floor and {kg(high)} on an uneven "
        f"one, {word} the guideline of {start} (man / woman) to start it"
    )
    if length > rules.value("push-distance"):
        text += f"; rest after {amount(shop, rules.value('push-distance'))}"
    return text


# --- words ---------------------------------------------------------------------------------


def moves_headline(found: Relocation) -> str:
    """What was found and what was proved, in one sentence."""
    things = list(dict.fromkeys(step.thing for step in found.steps))
    if found.steps:
        count = f"{len(things)} thing{'' if len(things) == 1 else 's'}, {len(found.steps)} move"
        count += "" if len(found.steps) == 1 else "s"
        far = amount(found.shop, found.length, "nearest")
        text = f"{count}, {far} rolled in all"
        if found.verdict != "passes":
            text += "; free as drawn, but too close to call within what the tape may be off"
        if found.parking != "none":
            waiting = listed(list(dict.fromkeys(s.thing for s in found.steps if s.parked)))
            why = "no order without it exists" if found.none_without_parking else (
                "none without it was found")  # fmt: skip
            text += f"; {waiting} waits in between: {why}"
        return text
    if not found.waits and not found.none_without_parking and found.exhausted and not found.ring:
        return _nothing(found)
    if found.none_without_parking:
        return (
            "no order exists in which each thing is moved once, and none was found with one thing "
            "that waits somewhere"
        )
    return _nothing(found)


def _nothing(found: Relocation) -> str:
    if found.verdict == "passes":
        if found.today.poses.keys() == found.wanted.poses.keys() and all(
            same(pose, found.wanted.poses[key]) for key, pose in found.today.poses.items()
        ):
            return "nothing has to be moved: both layouts are the same"
        return "nothing has to be moved: only where things are parked or brought to work differs"
    given_up = "" if found.exhausted else "; the search was given up, more --effort looks further"
    return f"no order was found, which is no proof that there is none{given_up}"


def moves_text(found: Relocation, cautions: Iterable[str], files: Iterable[Path]) -> str:
    """The answer in plain words."""
    lines = [fill(f"{found.shop.name}: {moves_headline(found)}", WIDTH), ""]
    for position, step in enumerate(found.steps, 1):
        lines.extend(_step_lines(found.shop, position, step))
    lines.extend(fill(line, WIDTH, subsequent_indent="  ") for line in why_lines(found))
    lines.extend(tail(found.shop, (), cautions, files))
    return "\n".join(lines) + "\n"


def why_lines(found: Relocation) -> Iterator[str]:
    """Rings and who waits for whom, where that was proved."""
    if found.ring:
        turns = ", ".join(
            f"{a} waits for {b}"
            for a, b in zip(found.ring, (*found.ring[1:], found.ring[0]), strict=True)
        )
        yield f"Ring: {turns}."
    for wait in found.waits:
        if not wait.behind:
            yield f"{wait.thing} surely has no way to its new place, whatever else is moved."
        elif not found.steps:
            one = "stands" if len(wait.behind) == 1 else "stand"
            yield f"{wait.thing} surely cannot go while {listed(wait.behind)} {one} there."


def _step_lines(shop: Shop, position: int, step: Step) -> Iterator[str]:
    indent = "     "
    where, effort = step_sentences(shop, step)
    yield fill(f"{position:>3}. {where}", WIDTH, subsequent_indent=indent)
    yield fill(indent + effort, WIDTH, subsequent_indent=indent)


def step_sentences(shop: Shop, step: Step) -> tuple[str, str]:
    """What goes where and how, and what it weighs."""
    where = "parked at" if step.parked else "to"
    x, y = (format_exact(v.value, shop.system) for v in (step.goal.x, step.goal.y))
    return (
        f"{step.thing} {where} x {x}, y {y}, turn {step.goal.turn:g}: {step_words(shop, step)}",
        effort_words(shop, shop.thing(step.thing), step.passage.length),
    )


def step_words(shop: Shop, step: Step) -> str:
    """Way, turning, who is where, doors and what is to spare."""
    passage, spare = step.passage, step.spare
    text = amount(shop, passage.length, "up")
    turned = round(degrees(passage.turned))
    text += f" and turned {turned}° in all" if turned else " without a turn"
    sides = [stretch.side for stretch in passage.stretches if stretch.side is not None]
    if sides:
        text += f", somebody at its {_CHANGES_SIDE.join(sides)}"
    if passage.doors:
        text += f", open: {listed(passage.doors)}"
    text += f"; {amount(shop, spare.margin, 'down')} to spare on every side"
    if spare.beside:
        text += f", tightest beside {listed(spare.beside)}"
    if spare.error > spare.margin:
        text += f" (too close to call, the tape allows {amount(shop, spare.error, 'up')})"
    return text
