"""What else is marked before anything is cut or hung: crossings of walls, drops, outlets."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from floorplan.drawing.tape import Reading, reading_words, readings_at
from floorplan.geometry.affine import Affine
from floorplan.shop.air import Run, Spot
from floorplan.shop.building import frame
from floorplan.shop.duct_space import UPRIGHT
from floorplan.shop.model import Room, Shop, Wall
from floorplan.units import TOLERANCE, System, format_length


@dataclass(frozen=True, slots=True)
class WallHole:
    """Where a run of duct goes through a wall."""

    run: str
    wall: str
    along: float
    """From the wall's west or south end, as doors count [m]."""
    height: float
    """Of the duct's middle line [m]."""
    diameter: float
    """Of the duct [m]."""
    at: tuple[float, float]
    """[m]"""


@dataclass(frozen=True, slots=True)
class TapedPoint:
    """A point taped from two walls: a drop of duct, or an outlet."""

    name: str
    across: Reading
    up: Reading
    low: float | None
    """Lower end, or the height of an outlet [m]; None: nobody said."""
    high: float | None
    """Upper end of a drop [m]."""
    at: tuple[float, float]
    """[m]"""


def wall_holes(shop: Shop) -> tuple[WallHole, ...]:
    """Every crossing of a run with a wall of the room, in the order of the file."""
    runs = () if shop.air is None else shop.air.runs
    return tuple(hole for run in runs for hole in _holes(shop.room, run))


def _name(run: Run) -> str:
    return f"{run.name} (later)" if run.later else run.name


def _holes(room: Room, run: Run) -> Iterator[WallHole]:
    name = _name(run)
    for start, end in run.legs:
        for wall in room.walls:
            share = _crossing(wall, start, end)
            if share is None:
                continue
            x, y, z = (
                a.value + share * (b.value - a.value) for a, b in zip(start, end, strict=True)
            )
            line = frame(wall)
            along = (x - line.origin[0].value) * float(line.along[0])
            along += (y - line.origin[1].value) * float(line.along[1])
            yield WallHole(name, wall.name, along, z, run.diameter.value, (x, y))


def _crossing(wall: Wall, start: Spot, end: Spot) -> float | None:
    """Share of a stretch at which it goes through a wall's inner face, None where it does not."""
    line = frame(wall)
    sides, places = [], []
    for spot in (start, end):
        step = [spot[i].value - line.origin[i].value for i in (0, 1)]
        sides.append(float(step[0] * line.inward[0] + step[1] * line.inward[1]))
        places.append(float(step[0] * line.along[0] + step[1] * line.along[1]))
    if min(sides) > -TOLERANCE or max(sides) < TOLERANCE:
        return None
    share = sides[0] / (sides[0] - sides[1])
    along = places[0] + share * (places[1] - places[0])
    return share if -TOLERANCE <= along <= line.length.value + TOLERANCE else None


def drops(shop: Shop) -> tuple[TapedPoint, ...]:
    """Every upright stretch of a run, in the order of the file."""
    found = []
    for run in () if shop.air is None else shop.air.runs:
        for a, b in run.legs:
            x, y = a[0].value, a[1].value
            if (b[0].value - x) ** 2 + (b[1].value - y) ** 2 >= UPRIGHT**2:
                continue
            low, high = sorted((a[2].value, b[2].value))
            found.append(TapedPoint(_name(run), *readings_at(shop.room, (x, y)), low, high, (x, y)))
    return tuple(found)


def outlets(shop: Shop) -> tuple[TapedPoint, ...]:
    """Outlets with their circuits, then named places that a thing has to stand within reach of."""
    rows: list[tuple[str, Affine, Affine, float | None]] = [
        (f"{o.name} ({o.circuit.name}, {o.circuit.amps:g} A, {o.circuit.volts:g} V)", o.x, o.y,
         o.height.value)
        for o in (() if shop.power is None else shop.power.outlets)
    ]  # fmt: skip
    known = set() if shop.power is None else {o.name for o in shop.power.outlets}
    wanted = {link.target for thing in shop.things for link in thing.within_of} - known
    rows += [(p.name, p.x, p.y, None) for p in shop.places if p.name in wanted]
    return tuple(
        TapedPoint(name, *readings_at(shop.room, at), height, None, at)
        for name, x, y, height in rows
        for at in ((x.value, y.value),)
    )


# --- words -------------------------------------------------------------------------------------


def hole_words(hole: WallHole, shop: Shop) -> str:
    """Where to cut, and for what."""
    line = frame(shop.room.wall(hole.wall))
    end = "west" if line.along[0] > 1e-9 else "south"
    along, height, size = (
        format_length(v, shop.system) for v in (hole.along, hole.height, hole.diameter)
    )
    return (
        f"{hole.run} through {hole.wall}: {along} from its {end} end, middle {height} high, "
        f"duct {size} across"
    )


def point_words(point: TapedPoint, system: System) -> str:
    """Where a drop comes down, or an outlet is."""
    text = ", ".join(reading_words(r, system) for r in (point.across, point.up))
    if point.low is not None:
        text += f"; {format_length(point.low, system)}"
        if point.high is not None:
            text += f" to {format_length(point.high, system)}"
        text += " high"
    return f"{point.name}: {text}"
