"""What a shed's collector brings with it: its noise, its circuit, the air it takes out."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from math import inf

import numpy as np
from shapely.geometry import LineString, Point

from floorplan.air.make_up import air_changes, heat_lost, opening_area, opening_pressure
from floorplan.air.noise import level_at, level_per_metre
from floorplan.checks.duct_system import ducts_of
from floorplan.checks.finding import Finding, Measure
from floorplan.checks.lot import keeps_off, nearest_line
from floorplan.checks.shed_finding import SHED, counted
from floorplan.geometry.affine import Affine, affine
from floorplan.shop.building import floor_polygon
from floorplan.shop.model import Shop
from floorplan.shop.scene import Scene
from floorplan.shop.shed_body import ShedBody
from floorplan.shop.site import Shed, ShedPlace, Site
from floorplan.shop.wire import resistance, voltage_drop
from floorplan.units import format_area, format_length

FUEL_BURNING = frozenset({"water heater", "furnace"})
"""Kinds of the catalogue that burn fuel unless their name says that they are electric."""
NEAREST_HEARD = 0.5
"""A sound level nearer to a wall than this is not told [m]."""


@dataclass(frozen=True, slots=True)
class Services:
    """What was found."""

    findings: tuple[Finding, ...]
    measures: Mapping[str, Measure]


def services(
    scene: Scene,
    site: Site,
    shed: Shed,
    place: ShedPlace,
    body: ShedBody,
    *,
    flow: float | None = None,
) -> Services:
    """Noise, voltage drop and make-up air; `flow` is the collector's where it is known [m3/s]."""
    shop = scene.shop
    heard = heard_at(shop, site, shed, place, body)
    findings = [row for row in (noise_finding(shop, shed, h) for h in heard) if row is not None]
    measures = {f"noise at {h.name}": Measure(h.level.value, "dB") for h in heard}
    drop = drop_of(shop, shed, body)
    if drop is not None:
        findings.append(drop_finding(shop, shed, drop))
        measures["voltage drop"] = Measure(drop.share.value, "1")
    air = make_up(scene, shed, flow if flow is not None else largest_flow(scene))
    if air is not None:
        findings.extend(air_findings(shop, shed, air))
        if not shed.return_air:
            measures["make-up opening"] = Measure(air.opening, "m2")
            measures["heat lost"] = Measure(air.heat, "W")
    return Services(tuple(findings), measures)


# --- noise -------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Heard:
    """The level at one place outside, counted from the shed's nearest wall."""

    name: str
    level: Affine
    """[dB]"""
    limit: float | None
    """[dB]"""
    place: LineString


def heard_at(
    shop: Shop, site: Site, shed: Shed, place: ShedPlace, body: ShedBody
) -> tuple[Heard, ...]:
    """Levels at every window of the site and at the nearest lot line; none when not told."""
    if shed.noise is None:
        return ()
    line = nearest_line(site, body.walls)
    rows = [(line.reach.line.name, line.distance, site.limits.noise_at_line, line.place)]
    for window in site.receivers:
        away, joint = keeps_off(body.walls, window.x, window.y)
        rows.append((window.name, away, window.limit, joint))
    out = []
    for name, away, limit, joint in rows:
        level = sound_level(shop, shed, away, attached=place.wall is not None)
        out.append(Heard(name, level, limit, joint))
    return tuple(out)


def sound_level(shop: Shop, shed: Shed, away: Affine, *, attached: bool) -> Affine:
    """Level at a distance from the shed [dB]; its walls are taken to hold back nothing."""
    assert shed.noise is not None
    level, known_at = shed.noise
    far = max(away.value, NEAREST_HEARD)
    value = level_at(level, known_at=known_at, distance=far)
    if attached:
        value += shop.rules.value("noise-wall")
    slope = -level_per_metre(far) if away.value > NEAREST_HEARD else 0.0
    return Affine(value, (away * slope).terms)


def _decibels(level: float) -> str:
    return f"{level:.1f} dB"


def noise_finding(shop: Shop, shed: Shed, heard: Heard) -> Finding | None:
    """Against the limit of the file; None where it states none."""
    if heard.limit is None:
        return None
    return counted(
        shop, rule="shed-noise", about=(SHED, heard.name), margin=-heard.level + heard.limit,
        needed=heard.limit, unit="dB", show=_decibels, where=heard.place, line=shed.line,
        message=f"the collector is heard with {_decibels(heard.level.value)} at {heard.name}, "
        f"{_decibels(heard.limit)} at most",
    )  # fmt: skip


# --- power -------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True, eq=False)
class Drop:
    """Voltage lost on the way to the shed."""

    length: Affine
    """Of the cable one way [m]."""
    volts: Affine
    share: Affine
    """[1]"""
    path: LineString
    """In plan."""


def drop_of(shop: Shop, shed: Shed, body: ShedBody) -> Drop | None:
    """The voltage drop of the shed's circuit, None when the file tells of none.

    Where the file gives no length the cable goes up to the ceiling, along the walls and down.
    """
    power = shed.power
    if power is None:
        return None
    x = (body.walls.lowest(0) + body.walls.highest(0)) / 2
    y = (body.walls.lowest(1) + body.walls.highest(1)) / 2
    across, up = x - power.x, y - power.y
    plan = across * float(np.sign(across.value)) + up * float(np.sign(up.value))
    length = power.length or plan + shop.room.height * 2.0
    ohms = resistance(power.gauge, power.make)
    per_metre = voltage_drop(length=1.0, amps=power.amps, ohms_per_metre=ohms)
    corner = (x.value, power.y.value)
    path = LineString([(power.x.value, power.y.value), corner, (x.value, y.value)])
    return Drop(length, length * per_metre, length * (per_metre / power.volts), path)


def drop_finding(shop: Shop, shed: Shed, drop: Drop) -> Finding:
    """Against what the electrical code recommends for one circuit."""
    power = shed.power
    assert power is not None
    most = shop.rules.value("voltage-drop-branch")
    length = format_length(drop.length.value, shop.system, rounding="up")
    return counted(
        shop, rule="voltage-drop-branch", about=(SHED, power.start),
        margin=-drop.share + most, needed=most, unit="1", where=drop.path,
        line=power.line, show=lambda share: f"{100 * share:.2f} %",
        message=f"{length} of {power.gauge} AWG {power.make} wire from {power.start} lose "
        f"{drop.volts.value:.2f} V, {100 * drop.share.value:.2f} % of {power.volts:g} V; "
        f"{100 * most:g} % at most is a recommendation",
    )  # fmt: skip


# --- air ---------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class MakeUp:
    """Air that the collector takes out of the shop, or that comes back from it."""

    flow: float
    """[m3/s]"""
    pressure: float
    """Below outdoors, allowed in the shop [Pa]."""
    opening: float
    """Free area through which that much comes in at that pressure [m2]."""
    drawn: float
    """Pressure that the file's own opening makes [Pa]; infinite without one."""
    heat: float
    """Lost at the difference of temperature that is told [W]."""
    changes: float
    """Of the room's air [1/h]."""
    heaters: tuple[str, ...]
    """Things in the shop that burn fuel."""


def largest_flow(scene: Scene) -> float | None:
    """The most that the collector moves in any gate state with a clean filter [m3/s]."""
    ducts = ducts_of(scene)
    if ducts is None:
        return None
    flows = [state.clean.flow for state in ducts.states if state.clean.flow is not None]
    return max(flows, default=None)


def heaters(shop: Shop) -> tuple[str, ...]:
    """Things that burn fuel, unless their name says that they are electric."""
    return tuple(
        thing.name
        for thing in shop.things
        if thing.kind in FUEL_BURNING and "electric" not in thing.name.lower()
    )


def make_up(scene: Scene, shed: Shed, flow: float | None) -> MakeUp | None:
    """What the air that goes out asks for; None where no flow is known."""
    if flow is None:
        return None
    shop = scene.shop
    burning = heaters(shop)
    rule = "make-up-pressure-flames" if burning else "make-up-pressure"
    pressure = shop.rules.value(rule)
    volume = floor_polygon(shop.room).area * shop.room.height.value
    return MakeUp(
        flow,
        pressure,
        opening_area(flow, pressure),
        inf if shed.opening is None else opening_pressure(flow, shed.opening),
        heat_lost(flow, shop.rules.value("winter-difference")),
        air_changes(flow, volume),
        burning,
    )


def air_findings(shop: Shop, shed: Shed, air: MakeUp) -> Iterator[Finding]:
    """The opening of the file against what is needed, and flames, where air goes outdoors."""
    if shed.return_air:
        return
    where = Point(floor_polygon(shop.room).representative_point())
    if shed.opening is not None:
        yield counted(
            shop, rule="make-up-air", about=(SHED,), margin=affine(shed.opening - air.opening),
            needed=air.opening, unit="m2", at_most=False, where=where, line=shed.line,
            show=lambda area: format_area(area, shop.system),
            message=f"air comes in through {format_area(shed.opening, shop.system)}, "
            f"{format_area(air.opening, shop.system)} of free opening keep the shop within "
            f"{air.pressure:g} Pa of outdoors",
        )  # fmt: skip
    if air.heaters:
        names = " and ".join(air.heaters)
        pulled = "an unknown pressure" if air.drawn == inf else f"{air.drawn:.1f} Pa"
        yield counted(
            shop, rule="make-up-flames", about=(SHED, *air.heaters),
            margin=affine(-min(air.drawn, 1000.0)), needed=0.0, unit="Pa", where=where,
            line=shed.line, show=lambda pressure: f"{pressure:.1f} Pa",
            message=f"DANGER: the collector pulls {pulled} below outdoors while {names} burns "
            "fuel in the same room; its fumes may come back into the room. Lead the filtered air "
            "back, or have someone qualified test it before the collector runs",
        )  # fmt: skip
