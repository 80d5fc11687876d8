"""Levelling feet as data, in words and as a drawn map."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from pathlib import Path
from textwrap import fill

from floorplan.checks.feet import FeetAnswer, Foot
from floorplan.report.data import Data, number
from floorplan.report.text import tail
from floorplan.report.words import WIDTH
from floorplan.units import System, format_length


def feet_data(answer: FeetAnswer) -> Data:
    """The blocks of `feet`: `feet`, one entry a foot, and `levels`; SI units."""
    known = answer.shop.measurements
    steps = answer.steps
    return {
        "thing": answer.thing.name,
        "feet": [
            {
                "foot": foot.number,
                "length": number(foot.length),
                "shim": number(foot.shim),
                "needed": number(foot.needed.value),
                "error": number(foot.needed.error(known)),
                "x": number(foot.x.value),
                "y": number(foot.y.value),
                "floor": number(foot.floor.value),
                "verdict": foot.verdict,
                "without a shim": foot.reach,
            }
            for foot in answer.feet
        ],
        "levels": {
            "level with": answer.other.name,
            "table": number(answer.table.value),
            "wanted": number(answer.target.value),
            "lowest": number(answer.lowest.value),
            "highest": number(answer.highest.value),
            "datum": number(answer.datum.value),
            "step": None if steps is None else [number(step.value) for step in steps],
            "step error": None if steps is None else [number(s.error(known)) for s in steps],
            "step verdict": answer.step_verdict,
        },
    }


def feet_sentences(answer: FeetAnswer) -> Iterator[str]:
    """What to set, what limits it, and how the step comes out."""
    known = answer.shop.measurements
    for foot in answer.feet:
        yield foot_words(foot, answer.shop.system, foot.needed.error(known))
    yield from feet_notes(answer)


def feet_notes(answer: FeetAnswer) -> Iterator[str]:
    """What limits the feet and how the step comes out, beside a table that holds the lengths."""
    system = answer.shop.system
    name, other = answer.thing.name, answer.other.name
    if answer.verdict == "fails":
        yield (
            f"The floor is too high for {name}: all feet screwed in, its surface comes no lower "
            f"than {_up(answer.lowest.value, system)}; {_down(answer.target.value, system)} is "
            "wanted."
        )
    elif answer.verdict == "unsure":
        yield "Too close to call whether the shortest foot is short enough; measure it again."
    if answer.lowest.value > answer.highest.value:
        yield "The floor falls more under it than its feet give: no level is free of shims."
    else:
        yield (
            f"Without shims its surface can lie from {_up(answer.lowest.value, system)} to "
            f"{_down(answer.highest.value, system)} high."
        )
    if answer.steps is not None:
        yield _step_words(answer)
    where = "as the file says" if answer.datum_given else f"the floor under the middle of {other}"
    yield f"Heights count from where the rod shows {_near(answer.datum.value, system)}: {where}."
    yield f"At the end lay a straightedge over {other} and {name}: it also sees what no rod does."


def foot_words(foot: Foot, system: System, error: float) -> str:
    """One foot in words."""
    text = f"foot {foot.number}: {_near(foot.length, system)}"
    if foot.verdict == "fails":
        return f"{text}, screwed all the way in; {_near(foot.needed.value, system)} would be right"
    if foot.shim > 0:
        text += f" on a shim of {_near(foot.shim, system)}"
    elif foot.reach == "unsure":
        text += ", perhaps with a shim"
    if error > 0:
        text += f" (± {_up(error, system)})"
    return text


def _step_words(answer: FeetAnswer) -> str:
    assert answer.steps is not None
    system, known = answer.shop.system, answer.shop.measurements
    first, last = (_signed(step.value, system) for step in answer.steps)
    text = f"Along the sheet's way it lies {first} where the work comes onto it"
    text += f", {last} where it leaves"
    error = max(step.error(known) for step in answer.steps)
    if error > 0:
        text += f" (± {_up(error, system)})"
    words = {
        "passes": "the step is as it should be",
        "fails": "the step is NOT as it should be",
        "unsure": "too close to call whether the step is as it should be",
    }
    assert answer.step_verdict is not None
    return f"{text}: {words[answer.step_verdict]}."


def _signed(step: float, system: System) -> str:
    if system is System.IMPERIAL:
        amount = format_length(abs(step), system, denominator=64)
    else:
        amount = f"{abs(step) * 1000:.1f} mm"
    return f"{amount} {'HIGHER' if step < -1e-5 else 'lower'}"


def _near(metres: float, system: System) -> str:
    return format_length(metres, system)


def _up(metres: float, system: System) -> str:
    return format_length(metres, system, rounding="up")


def _down(metres: float, system: System) -> str:
    return format_length(metres, system, rounding="down")


def feet_head(answer: FeetAnswer) -> str:
    """The answer in one line."""
    system = answer.shop.system
    step = answer.table.value - answer.target.value
    level = f"level with {answer.other.name}"
    if step:
        level = f"{_near(abs(step), system)} {'below' if step > 0 else 'above'} {answer.other.name}"
    shims = sum(foot.shim > 0 for foot in answer.feet)
    if answer.verdict == "fails":
        return f"{answer.thing.name} cannot stand {level}"
    with_shims = f", {shims} of {len(answer.feet)} feet on shims" if shims else ""
    sure = "" if answer.verdict == "passes" else ", perhaps: a foot is too close to call"
    return f"{answer.thing.name} stands {level}{with_shims}{sure}"


def feet_text(answer: FeetAnswer, cautions: Iterable[str], files: Iterable[Path]) -> str:
    """The answer of `feet`."""
    lines = [fill(feet_head(answer), WIDTH), ""]
    lines += [
        fill(text, WIDTH, initial_indent="  ", subsequent_indent="    ")
        for text in feet_sentences(answer)
    ]
    lengths = [foot.needed for foot in answer.feet]
    assumed = sorted({n for length in lengths for n in length.assumed(answer.shop.measurements)})
    lines += tail(answer.shop, assumed, cautions, files)
    return "\n".join(lines) + "\n"
