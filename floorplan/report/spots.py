"""Places of a thing as data and in words."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from pathlib import Path
from textwrap import fill

import shapely

from floorplan.checks.judge import Judgement
from floorplan.report.data import Data, geometry, number
from floorplan.report.text import finding_lines, tail
from floorplan.report.words import WIDTH
from floorplan.search.spots import Best, Spots, TurnSpots
from floorplan.units import System, format_area, format_length

MOST_ROWS = 12
"""Names of what rules a place out, listed for each turn; the largest parts first."""


def spots_data(found: Spots) -> list[Data]:
    """The block `spots`: one entry a turn, shapes with coordinates in m."""
    return [_turn(at) for at in found.turns]


def _turn(at: TurnSpots) -> Data:
    return {
        "turn": number(at.turn),
        "region": geometry(at.region),
        "segments": [geometry(s) for s in at.segments],
        "points": [geometry(p) for p in at.points],
        "contacts": [{"against": list(c.walls), "where": geometry(c.places)} for c in at.contacts],
        "unsure": geometry(at.unsure),
        "best": _best(at.best),
        "limits": [{"edge": geometry(e.line), "names": list(e.names)} for e in at.limits],
        "ruled out": [
            {"kind": p.kind, "name": p.name, "area": number(p.area.area), "where": geometry(p.area)}
            for p in at.ruled_out
        ],
    }


def _best(best: Best | None) -> Data | None:
    if best is None:
        return None
    return {
        "x": number(best.x),
        "y": number(best.y),
        "play": number(best.play),
        "certain": best.certain,
        "against": list(best.against),
    }


def spots_text(
    found: Spots, at_best: Judgement | None, cautions: Iterable[str], files: Iterable[Path]
) -> str:
    """The answer of `spots`; `at_best` is the judgement with the thing at its best spot."""
    lines = [fill(_headline(found), WIDTH), ""]
    if found.later:
        names = [each.shop.stage.name for each in (found, *found.later) if each.shop.stage]
        text = f"Places hold at all these stages: {', '.join(names)}; `--stage` asks about one."
        lines += [fill(text, WIDTH, subsequent_indent="  "), ""]
    for at in found.turns:
        lines.extend(_turn_lines(at, found.shop.system))
    if found.lost:
        lost = ", ".join(found.lost)
        text = f"Not because of {found.thing}: no sure way out leads from {lost} even without it."
        lines += [fill(text, WIDTH, subsequent_indent="  "), ""]
    if found.stuck:
        stuck = "; ".join(found.stuck)
        text = f"Not because of {found.thing}: without it too no way is sure: {stuck}."
        lines += [fill(text, WIDTH, subsequent_indent="  "), ""]
    if found.singly:
        text = f"Asked at the best spot, not over the regions: {'; '.join(found.singly)}."
        lines += [fill(text, WIDTH, subsequent_indent="  "), ""]
    if at_best is not None and at_best.failing:
        lines.append(f"With {found.thing} at the best spot these still do not pass:")
        for i, wrong in enumerate(at_best.failing, 1):
            lines.extend(finding_lines(wrong, i))
    assumed = at_best.assumed if at_best is not None else ()
    lines.extend(tail(found.shop, assumed, cautions, files))
    return "\n".join(lines) + "\n"


def _headline(found: Spots) -> str:
    name = " with ".join((found.thing, *found.together))
    best = found.best
    if best is None:
        return f"{name} can stand nowhere at these turns"
    turn, spot = best
    if not spot.certain:
        return f"no place of {name} is certain; the roomiest unsure one: {_spot(spot, turn, found)}"
    return f"{name} can stand {_how_much(found)}; the best spot: {_spot(spot, turn, found)}"


def _how_much(found: Spots) -> str:
    turns = [at for at in found.turns if not at.is_empty]
    many = f"{len(turns)} of {len(found.turns)} turns"
    return f"at {many}"


def _spot(best: Best, turn: float, found: Spots) -> str:
    system = found.shop.system
    x, y = format_length(best.x, system), format_length(best.y, system)
    play = format_length(best.play, system, rounding="down")
    if best.against:
        return f"x {x}, y {y}, turn {turn:g}, pushed against {' and '.join(best.against)}"
    return f"x {x}, y {y}, turn {turn:g}, {play} of play all round"


def _turn_lines(at: TurnSpots, system: System) -> Iterator[str]:
    kinds = [f"{format_area(at.region.area, system)} of places"] if not at.region.is_empty else []
    if at.segments:
        kinds.append(f"{len(at.segments)} with play along a line only")
    if at.points:
        kinds.append(f"{len(at.points)} without any play")
    kinds += [f"a place against {' and '.join(c.walls)}" for c in at.contacts]
    if not at.unsure.is_empty:
        kinds.append(f"{format_area(shapely.area(at.unsure), system)} unsure")
    places = f"Turn {at.turn:g}: {', '.join(kinds) or 'no place'}"
    yield fill(places, WIDTH, subsequent_indent="    ")
    if at.best is not None:
        x, y = format_length(at.best.x, system), format_length(at.best.y, system)
        play = format_length(at.best.play, system, rounding="down")
        yield f"  best x {x}, y {y}, {play} of play" + ("" if at.best.certain else ", unsure")
    named = dict.fromkeys(name for limit in at.limits for name in limit.names)
    if named:
        yield fill(f"  limited by {'; '.join(named)}", WIDTH, subsequent_indent="    ")
    largest = sorted(at.ruled_out, key=lambda p: -p.area.area)[:MOST_ROWS]
    if largest:
        parts = (f"{p.name} ({p.kind}) {format_area(p.area.area, system)}" for p in largest)
        yield fill(f"  ruled out by {'; '.join(parts)}", WIDTH, subsequent_indent="    ")
    yield ""
