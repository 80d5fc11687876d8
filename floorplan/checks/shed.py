"""May the collector's shed stand where it does, and can it be used there?

Legality is that of the owner's own limits in the shop file.  Distances count from the walls or
from the eaves, as the file says the setbacks do.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import shapely
from shapely.geometry import Polygon
from shapely.geometry.base import BaseGeometry

from floorplan.checks.finding import Answer, Finding, Measure, amount, finding
from floorplan.checks.lot import keeps_off, line_distances, nearest_line
from floorplan.checks.shed_finding import SHED, counted, unchecked
from floorplan.checks.shed_services import services
from floorplan.geometry.affine import ZERO, Outline, affine
from floorplan.geometry.volume import Volume, gap, plan_gap
from floorplan.shop.building import FAR, frame
from floorplan.shop.model import Door, Shop
from floorplan.shop.scene import Scene
from floorplan.shop.shed_body import ShedBody, placed
from floorplan.shop.site import Shed, ShedPlace, Site
from floorplan.units import format_area

CHECK = "shed"
INSIDE = "the room"
"""What findings call the floor within the shop's walls."""


@dataclass(frozen=True, eq=False)
class StandingShed:
    """A shed where it stands on its site."""

    shop: Shop
    site: Site
    shed: Shed
    place: ShedPlace
    body: ShedBody

    @property
    def measured(self) -> Outline:
        """The outline from which the local rules count."""
        return self.body.walls if self.site.measured_to == "wall" else self.body.eaves

    @property
    def part(self) -> str:
        """What the local rules count from, in words."""
        return "the shed's wall" if self.site.measured_to == "wall" else "the shed's eave"


def standing_shed(shop: Shop, place: ShedPlace | None = None) -> StandingShed | None:
    """The shed at a place, or where the file has it; None when there is none or no place."""
    site = shop.site
    if site is None or site.shed is None:
        return None
    at = place or site.shed.place
    if at is None:
        return None
    return StandingShed(shop, site, site.shed, at, placed(site.shed, at))


def check(scene: Scene) -> Answer:
    """The shed of the file, where it stands."""
    standing = standing_shed(scene.shop)
    if standing is None or not standing.shed.there:
        return Answer()
    return check_standing(scene, standing)


def check_standing(scene: Scene, standing: StandingShed, *, flow: float | None = None) -> Answer:
    """Legality, room to use it, noise, power and air of a shed at a place.

    `flow` is the collector's there [m3/s], None: that of the runs as the file has them.
    """
    served = services(scene, standing.site, standing.shed, standing.place, standing.body, flow=flow)
    findings = (*legality(standing), *usability(standing), *fire(standing), *served.findings)
    nearest = nearest_line(standing.site, standing.measured).distance.value
    return Answer(findings, {"shed to lot line": Measure(nearest, "m"), **served.measures})


# --- the owner's local limits ------------------------------------------------------------------


def legality(standing: StandingShed) -> Iterator[Finding]:
    """Lot lines, setbacks, other buildings, trees, area and height."""
    yield from _lot_lines(standing)
    yield from _buildings(standing)
    yield from _trees(standing)
    yield from _limits(standing)


def _lot_lines(standing: StandingShed) -> Iterator[Finding]:
    shop, site = standing.shop, standing.site
    eaves = line_distances(site, standing.body.eaves)
    for over, found in zip(eaves, line_distances(site, standing.measured), strict=True):
        reach, away = found.reach, found.distance.value
        if over.distance.value < 0.0 or reach.line.setback is None:
            yield finding(
                shop, check=CHECK, rule="shed-on-lot", about=(SHED, reach.line.name),
                margin=over.distance, needed=0.0, where=over.place, line=standing.shed.line,
                message=f"the shed reaches over {reach.line.name} by {{spare}}"
                if over.distance.value < 0.0 else
                f"the shed's eave stands {{have}} from {reach.line.name}",
            )  # fmt: skip
        if reach.line.setback is None:
            continue
        stands = "stands {have} from"
        if away < 0.0:
            stands = f"lies {amount(shop, -away, 'up')} beyond"
        yield finding(
            shop, check=CHECK, rule="shed-setback", about=(SHED, reach.line.name),
            margin=found.distance - reach.line.setback, needed=reach.line.setback,
            where=found.place, line=standing.shed.line,
            message=f"{standing.part} {stands} {reach.line.name}, {{need}} wanted",
        )  # fmt: skip
    if site.unset:
        yield unchecked(
            shop, rule="shed-setback", about=(SHED, *site.unset), line=site.line,
            message="NOT CHECKED whether the shed may stand there: the file states no setback "
            f"for {', '.join(site.unset)}; ask the local office and write `setbacks:`",
        )  # fmt: skip


def _buildings(standing: StandingShed) -> Iterator[Finding]:
    shop = standing.shop
    own = Volume(standing.measured, ZERO, standing.shed.height)
    rows: list[tuple[str, Volume, float]] = [
        (b.name, Volume(b.outline, ZERO, b.height or affine(FAR)), b.separation)
        for b in standing.site.buildings
    ]
    for name, volume, apart in (*rows, *_room_walls(standing)):
        found = plan_gap(own, volume)
        yield finding(
            shop, check=CHECK, rule="shed-separation", about=(SHED, name),
            margin=found - apart, needed=apart, where=_between(own, volume),
            line=standing.shed.line,
            message=f"{standing.part} stands {{have}} from {name}"
            + (", {need} wanted" if apart else "")
            if found.value >= 0.0 else f"the shed is in {name} by {{spare}}",
        )  # fmt: skip


def _room_walls(standing: StandingShed) -> Iterator[tuple[str, Volume, float]]:
    """The room's wall that is nearest, save the one that a shed is attached to."""
    room, place = standing.shop.room, standing.place
    own = Volume(standing.measured, ZERO, standing.shed.height)
    walls = [
        (wall.name, Volume(outer_wall(standing.shop, wall.name), ZERO, room.height + FAR))
        for wall in room.walls
        if wall.name != place.wall
    ]
    walls.append((INSIDE, Volume(room.floor, ZERO, room.height + FAR)))
    name, volume = min(walls, key=lambda row: plan_gap(own, row[1]).value)
    if place.wall is None or plan_gap(own, volume).value < 0.0:
        yield name, volume, 0.0 if place.wall else standing.site.room_separation


def outer_wall(shop: Shop, name: str) -> Outline:
    """A wall at its thickness, with the corners at both ends."""
    line, thick = frame(shop.room.wall(name)), shop.room.wall_thickness
    return line.box(-thick, line.length + thick, 0.0, -thick)


def _between(a: Volume, b: Volume) -> BaseGeometry:
    common = a.polygon.intersection(b.polygon)
    return common if common.area > 0.0 else shapely.shortest_line(a.polygon, b.polygon)


def _trees(standing: StandingShed) -> Iterator[Finding]:
    site = standing.site
    spots = (*site.trees, *(() if site.house_door is None else (site.house_door,)))
    for spot in spots:
        away, place = keeps_off(standing.measured, spot.x, spot.y)
        is_door = spot is site.house_door
        yield finding(
            standing.shop, check=CHECK, rule="shed-off-doors" if is_door else "shed-tree",
            about=(SHED, spot.name), margin=away - spot.keep, needed=spot.keep.value,
            where=place, line=standing.shed.line,
            message=f"{standing.part} stands {{have}} from {spot.name}, {{need}} wanted"
            if away.value >= 0.0 else f"the shed stands on {spot.name}",
        )  # fmt: skip


def _limits(standing: StandingShed) -> Iterator[Finding]:
    shop, shed, limits = standing.shop, standing.shed, standing.site.limits
    w, d = shed.width, shed.depth
    area = w * d.value + d * w.value - w.value * d.value
    where = Polygon(standing.body.walls.points)

    def show(square_metres: float) -> str:
        return format_area(square_metres, shop.system)

    for rule, most in (
        ("shed-area", limits.area), ("shed-permit-area", shop.rules.value("shed-permit-area"))
    ):  # fmt: skip
        if most is None:
            continue
        ask = "" if rule == "shed-area" else "; beyond that a shed needs a building permit"
        yield counted(
            shop, rule=rule, about=(SHED,), margin=-area + most, needed=most, unit="m2",
            message=f"the shed covers {show(area.value)}, {show(most)} at most{ask}", show=show,
            where=where, line=shed.line,
        )  # fmt: skip
    if limits.height is not None:
        yield finding(
            shop, check=CHECK, rule="shed-height", about=(SHED,),
            margin=-shed.height + limits.height, needed=limits.height, at_most=True,
            message="the shed is {have} high, {need} at most", where=where, line=shed.line,
            by_height=True,
        )  # fmt: skip


# --- using it ----------------------------------------------------------------------------------


def usability(standing: StandingShed) -> Iterator[Finding]:
    """Room before its door and for its bin; doors and windows of the shop that it leaves free."""
    body = standing.body
    for outline, what, rule in (
        (body.door, "the ground before the shed's door", "shed-door-room"),
        (body.bin, "the way of the shed's bin", "shed-bin-room"),
    ):
        if outline is not None:
            yield _ground(standing, outline, what, rule)
    shed = standing.shed
    if shed.bin is not None and shed.door is not None:
        yield finding(
            standing.shop, check=CHECK, rule="shed-bin-room", about=(SHED, "bin"),
            margin=shed.door.width - shed.bin.width, needed=shed.bin.width.value,
            message="the shed's door is {have} wide and its bin {need}",
            where=None if body.door is None else Polygon(body.door.points),
            line=shed.line,
        )  # fmt: skip
    yield from _off_doors(standing)
    yield from _off_windows(standing)


def ground_obstacles(standing: StandingShed) -> Iterator[tuple[str, Volume]]:
    """What ground before a door must not meet: other buildings and the room's walls."""
    for b in standing.site.buildings:
        yield b.name, Volume(b.outline, ZERO, affine(FAR))
    for wall in standing.shop.room.walls:
        outline = outer_wall(standing.shop, wall.name)
        yield wall.name, Volume(outline, ZERO, affine(FAR))
    yield INSIDE, Volume(standing.shop.room.floor, ZERO, affine(FAR))


def _ground(standing: StandingShed, outline: Outline, what: str, rule: str) -> Finding:
    own = Volume(outline, ZERO, affine(FAR))
    rows = [
        (plan_gap(own, volume), name, _between(own, volume))
        for name, volume in ground_obstacles(standing)
    ]
    line = nearest_line(standing.site, outline)
    rows.append((line.distance, line.reach.line.name, line.place))
    distance, name, where = min(rows, key=lambda row: row[0].value)
    return finding(
        standing.shop, check=CHECK, rule=rule, about=(SHED, name), margin=distance, needed=0.0,
        message=f"{what} is free, {{have}} from {name}"
        if distance.value >= 0.0 else f"{what} meets {name} by {{spare}}",
        where=where, line=standing.shed.line,
    )  # fmt: skip


def landing(shop: Shop, door: Door) -> Outline:
    """The ground before an outside door that a shed leaves free."""
    line, thick = frame(shop.room.wall(door.wall)), shop.room.wall_thickness
    deep = shop.rules.value("shed-off-doors")
    return line.box(door.start, door.start + door.width, -thick, -(thick + deep))


def _off_doors(standing: StandingShed) -> Iterator[Finding]:
    own = Volume(standing.measured, ZERO, standing.shed.height)
    for door in standing.shop.doors:
        if door.leads_to != "outside":
            continue
        ground = Volume(landing(standing.shop, door), ZERO, affine(FAR))
        away = plan_gap(own, ground)
        yield finding(
            standing.shop, check=CHECK, rule="shed-off-doors", about=(SHED, door.name),
            margin=away, needed=0.0, where=_between(own, ground), line=standing.shed.line,
            message=f"the ground before {door.name} is free, {{have}} from the shed"
            if away.value >= 0.0 else
            f"the shed stands before {door.name}, {{spare}} into the ground kept there",
        )  # fmt: skip


def _off_windows(standing: StandingShed) -> Iterator[Finding]:
    shop = standing.shop
    own = Volume(standing.body.eaves, ZERO, standing.shed.height)
    deep = shop.rules.value("shed-off-windows")
    for window in shop.windows:
        line, thick = frame(shop.room.wall(window.wall)), shop.room.wall_thickness
        box = line.box(window.start, window.start + window.width, -thick, -(thick + deep))
        found = gap(own, Volume(box, window.sill, window.head))
        yield finding(
            shop, check=CHECK, rule="shed-off-windows", about=(SHED, window.name),
            margin=found.distance, needed=0.0, where=found.place, line=standing.shed.line,
            by_height=found.by_height,
            message=f"the room before {window.name} is free by {{have}}"
            if found.distance.value >= 0.0 else
            f"the shed stands before {window.name}, {{spare}} into the room kept there",
        )  # fmt: skip


# --- yardsticks of the model code --------------------------------------------------------------


def fire(standing: StandingShed) -> Iterator[Finding]:
    """Distances below which the model code asks for fire-rated walls, eaves and no openings.

    It does not ask of a detached shed so small that it needs no permit.
    """
    shop, site, body = standing.shop, standing.site, standing.body
    area = standing.shed.width.value * standing.shed.depth.value
    if standing.place.wall is None and area <= shop.rules.value("shed-permit-area"):
        return
    rows: list[tuple[str, Outline, str]] = [
        ("setback-wall", body.walls, "the shed's wall stands {have} from {name}; nearer than "
         "{need} it is to be fire-rated"),
        ("setback-eaves", body.eaves, "the shed's eave stands {have} from {name}; "
         "the fire rating of eaves is told for {need} and more"),
    ]  # fmt: skip
    if body.opening is not None:
        rows.append(
            ("setback-no-openings", body.opening, "the shed's door stands {have} from {name}; "
             "nearer than {need} a wall has no openings")
        )  # fmt: skip
    for rule, outline, words in rows:
        found = nearest_line(site, outline)
        need = shop.rules.value(rule)
        message = words.replace("{name}", found.reach.line.name)
        yield finding(
            shop, check=CHECK, rule=rule, about=(SHED, found.reach.line.name),
            margin=found.distance - need, needed=need, where=found.place,
            line=standing.shed.line, message=message,
        )  # fmt: skip
