"""Places for the collector's shed as data, in words and as a drawn site."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from math import isfinite
from pathlib import Path
from textwrap import fill

from shapely.geometry import Polygon

from floorplan.report.data import Data, finding, geometry, number
from floorplan.report.text import tail
from floorplan.report.words import WIDTH
from floorplan.search.shed import NOT_KNOWN, ShedAnswer, ShedSite
from floorplan.search.shed_largest import LEAST, LargestShed, ruled_out_words
from floorplan.shop.building import frame
from floorplan.units import System, format_area, format_flow, format_length

STAYS = (
    "At every place but the file's own the collector's inlet is taken in the middle of the shed; "
    "take `at:` out of its `inlet:`, so that it goes along when a place is written."
)
CAUTIONS = ("shed", "noise", "dust", "ducts", "flames", "cords")


# --- data ----------------------------------------------------------------------------------


def shed_data(answer: ShedAnswer) -> Data:
    """The block `shed`, best first, and what else was found; SI units."""
    return {
        "shed": [_site_data(site) for site in answer.sites],
        "today": None if answer.today is None else _site_data(answer.today),
        "regions": [
            {
                "turn": number(ground.turn),
                "wall": ground.wall,
                "region": geometry(ground.places),
                "reserve": ground.reserve,
            }
            for ground in answer.grounds
        ],
        "largest": [{"shrunk": row.shrunk, **_largest_data(row)} for row in answer.largest],
        "ruled_out": [
            {
                "part": row.part.name,
                "wall": row.part.wall,
                "as_drawn": row.drawn,
                "clash": list(row.clash),
                "largest": None if row.largest is None else _largest_data(row.largest),
            }
            for row in answer.ruled_out
        ],
        "clash": list(answer.clash),
    }


def _largest_data(row: LargestShed) -> Data:
    return {
        "width": number(row.width),
        "depth": number(row.depth),
        "x": number(row.place.x.value),
        "y": number(row.place.y.value),
        "turn": number(row.place.turn),
        "outline": geometry(row.walls),
    }


def _site_data(site: ShedSite) -> Data:
    known = site.standing.shop.measurements
    way, air, drop, make_up = site.way, site.air, site.drop, site.make_up
    return {
        "rank": site.rank,
        "x": number(site.place.x.value),
        "y": number(site.place.y.value),
        "turn": number(site.place.turn),
        "wall": site.place.wall,
        "verdict": site.verdict,
        "reason": site.reason,
        "distances": [
            {
                "line": row.reach.line.name,
                "distance": number(row.distance.value),
                "error": number(row.distance.error(known)),
                "needed": number(row.reach.line.setback),
            }
            for row in site.distances
        ],
        "outline": geometry(Polygon(site.standing.body.walls.points)),
        "run": None if way is None else {
            "length": number(way.length),
            "elbows": way.elbows,
            "found": way.laid is not None,
            "path": [[number(v) for v in spot] for spot in way.points],
            "crossing": {
                "wall": way.wall, "along": number(way.along), "height": number(way.height),
            },
            "begins": way.begin.words,
            "diameter": number(way.widest),
            "runs": [
                {
                    "run": run.name,
                    "into": None if run.junction is None else run.junction.into,
                    "diameter": number(run.diameter.value),
                    "path": [[number(v.value) for v in spot] for spot in run.path],
                }
                for run in (() if way.laid is None else way.laid.runs)
            ],
        },
        "no_way": site.no_way or None,
        "airflow": None if air is None else {
            "machine": air.machine, "flow": number(air.flow), "share": number(air.share),
        },
        "noise": [
            {
                "at": row.name, "level": number(row.level.value), "limit": number(row.limit),
                "unit": "dB",
            }
            for row in site.heard
        ],
        "power": None if drop is None else {
            "length": number(drop.length.value), "volts": number(drop.volts.value),
            "share": number(drop.share.value),
        },
        "make_up": None if make_up is None else {
            "flow": number(make_up.flow), "pressure": number(make_up.pressure),
            "opening": number(make_up.opening), "heat": number(make_up.heat),
            "changes": number(make_up.changes), "heaters": list(make_up.heaters),
        },
        "findings": [finding(found) for found in site.findings],
    }  # fmt: skip


# --- words ---------------------------------------------------------------------------------


def shed_head(answer: ShedAnswer) -> str:
    """The answer in one line."""
    if not answer.sites:
        return "The shed fits nowhere on this lot"
    sure = "" if answer.reserve else ", none of them with what the tape may be off to spare"
    count = len(answer.sites)
    return f"The shed can stand: {count} place{'s' if count > 1 else ''} ranked{sure}"


def nowhere_sentences(answer: ShedAnswer) -> Iterator[str]:
    """What would let it fit."""
    system = answer.shop.system
    if answer.clash:
        yield (
            f"What leaves no room together: {', '.join(answer.clash)}; "
            "without any one of these there would be some."
        )
    else:
        yield "It does not even fit onto the lot with nothing else there."
    if not answer.largest:
        least = format_length(LEAST, system)
        yield f"Nor would one with a side of {least}, the smallest that is tried."
    for row in answer.largest:
        size = " x ".join(format_length(v, system, rounding="down") for v in (row.width, row.depth))
        how = {"width": "less wide", "depth": "less deep"}.get(row.shrunk, "smaller both ways")
        yield f"It would fit {how}: {size}."


def ruled_out_sentences(answer: ShedAnswer) -> Iterator[str]:
    """Each other part of the lot: what rules it out, and by how much."""
    return (ruled_out_words(answer.shop, row) for row in answer.ruled_out)


def site_sentences(site: ShedSite) -> Iterator[str]:
    """Where it stands, the distances, and what the place means for duct, power, noise and air."""
    shop = site.standing.shop
    system, known = shop.system, shop.measurements

    def near(metres: float) -> str:
        return format_length(metres, system)

    turn = f", turned {site.place.turn:.3g} degrees" if site.place.turn % 360.0 else ""
    yield (
        f"Walls' west and south points at x {near(site.place.x.value)}, "
        f"y {near(site.place.y.value)} from the room's origin{turn}."
    )
    part = site.standing.part
    rows = []
    for row in site.distances:
        have = format_length(row.distance.value, system, rounding="down")
        error = row.distance.error(known)
        off = f" ± {format_length(error, system, rounding='up')}" if error > 0 else ""
        setback = row.reach.line.setback
        need = "no setback told" if setback is None else f"{near(setback)} wanted"
        rows.append(f"{row.reach.line.name} {have}{off} ({need})")
    yield f"From {part} to the lot lines: {', '.join(rows)}."
    if site.way is None:
        why = site.no_way or "openings take up every wall, or the roof is too low"
        yield f"No duct can be led there: {why}."
    else:
        way = site.way
        yield (
            f"{'Duct' if way.laid is None else 'Duct found'} from {way.begin.words}: "
            f"{format_length(way.length, system, rounding='up')} with "
            f"{way.elbows} elbow{'' if way.elbows == 1 else 's'}, through {way.wall} with its "
            f"middle {near(way.along)} from that wall's {_end_of(site)} and {near(way.height)} "
            "above the floor."
        )
    if site.air is not None:
        share = "" if site.air.share is None else f", {site.air.share:.0%} of what it needs"
        yield (
            f"Least air: {format_flow(site.air.flow, system, rounding='down')} at "
            f"{site.air.machine}{share}."
        )
    if site.drop is not None:
        yield (
            f"Power: {format_length(site.drop.length.value, system, rounding='up')} of cable one "
            f"way, {site.drop.volts.value:.1f} V lost, {site.drop.share.value:.1%}."
        )
    for heard in site.heard:
        limit = "" if heard.limit is None else f", {heard.limit:.0f} dB at most"
        yield f"Heard at {heard.name}: {heard.level.value:.0f} dB{limit}."
    if site.make_up is not None:
        yield from _air_sentences(site, system)


def _end_of(site: ShedSite) -> str:
    assert site.way is not None
    line = frame(site.standing.shop.room.wall(site.way.wall))
    return "west end" if abs(line.along[0]) > abs(line.along[1]) else "south end"


def _air_sentences(site: ShedSite, system: System) -> Iterator[str]:
    air = site.make_up
    assert air is not None
    if site.standing.shed.return_air:
        yield f"Its air comes back into the shop: {format_flow(air.flow, system)}, filtered."
        return
    opening = format_area(air.opening, system)
    drawn = f"; yours draws {air.drawn:.0f} Pa" if isfinite(air.drawn) else ""
    yield (
        f"It takes {format_flow(air.flow, system)} out of the shop, {air.changes:.0f} times its "
        f"air an hour: {opening} of free opening keeps the shop within {air.pressure:g} Pa{drawn}; "
        f"{air.heat / 1000.0:.1f} kW of heat goes with it in winter."
    )
    if air.heaters:
        yield (
            f"DANGER: {', '.join(air.heaters)} may burn fuel. Air drawn out of the shop can draw "
            "its fumes back into it: lead the air back or have it tested by a qualified person "
            "first."
        )


def shed_text(answer: ShedAnswer, cautions: Iterable[str], files: Iterable[Path]) -> str:
    """The answer of `shed`."""
    lines = [fill(shed_head(answer), WIDTH)]
    if answer.stays_behind:
        lines.append(fill(STAYS, WIDTH))
    for title, sentences in site_parts(answer):
        lines += ["", fill(title, WIDTH), *map(_indented, sentences)]
    if not answer.sites:
        lines += [_indented(text) for text in nowhere_sentences(answer)]
    if answer.ruled_out:
        lines += ["", "Not there:", *map(_indented, ruled_out_sentences(answer))]
    lines += ["", fill(NOT_KNOWN, WIDTH)]
    assumed = sorted({n for site in _sites(answer) for f in site.findings for n in f.assumed})
    lines += tail(answer.shop, assumed, cautions, files)
    return "\n".join(lines) + "\n"


def site_parts(answer: ShedAnswer) -> Iterator[tuple[str, list[str]]]:
    """Every place in a title, with what it means and which findings do not pass."""
    for site in _sites(answer):
        name = f"Place {site.rank}" if site.rank else "Where the file has it"
        words = {"passes": "", "fails": " FAILS", "unsure": ", too close to call"}[site.verdict]
        title = f"{name}{words}: {site.reason}".removesuffix(": ")
        found = [
            f"{'advice' if f.kind == 'advised' else f.verdict.upper()}: {f.message}"
            for f in site.findings
            if f.verdict != "passes"
        ]
        yield title, [*site_sentences(site), *found]


def _sites(answer: ShedAnswer) -> list[ShedSite]:
    return [*answer.sites, *(() if answer.today is None else (answer.today,))]


def _indented(text: str) -> str:
    return fill(text, WIDTH, initial_indent="  ", subsequent_indent="    ")
