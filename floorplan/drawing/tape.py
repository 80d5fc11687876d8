"""Where each thing stands as a tape reads it on the floor: from two walls, and its turn."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from floorplan.shop.building import frame
from floorplan.shop.model import PLACES, Pose, Room, Thing
from floorplan.shop.scene import Scene, frame_of
from floorplan.units import TOLERANCE, System, format_angle, format_length

Array = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Reading:
    """One distance to tape."""

    distance: float
    """[m]"""
    wall: str
    """The wall it starts from; empty: the origin corner, when no square wall is in line."""
    sense: float = 1.0
    """+1 when the tape runs east or north from there, else -1."""


@dataclass(frozen=True, slots=True)
class TapeRow:
    """How to tape one thing on the floor."""

    thing: str
    place: str
    across: Reading
    """From a west or east wall to the near edge of the body."""
    up: Reading
    """From a south or north wall to the near edge of the body."""
    turn: float
    """Counter-clockwise [deg]."""
    corner: tuple[float, float]
    """Where the two lines meet, a corner of the body's upright box [m]."""

    def words(self, system: System, usual: tuple[str, str]) -> tuple[str, str, str]:
        """Both distances and the turn as text; a wall is named where it is not the usual one."""
        cells = []
        for reading, wall in ((self.across, usual[0]), (self.up, usual[1])):
            text = format_length(reading.distance, system)
            if reading.wall != wall:
                text += f" from {reading.wall or 'the origin'}"
            cells.append(text)
        return cells[0], cells[1], format_angle(self.turn)


def tape_table(scene: Scene) -> tuple[TapeRow, ...]:
    """One row for every pose of the layout, in the order of the file.

    A distance is taken from the west and the south wall in line with the thing, else from the
    east or north one, so that no other wall lies under the tape's line.
    """
    rows = []
    for thing in scene.shop.things:
        for place in PLACES:
            pose = scene.layout.pose(thing.name, place)
            if pose is not None:
                rows.append(_row(scene.shop.room, thing, place, pose))
    return tuple(rows)


def usual_walls(rows: tuple[TapeRow, ...]) -> tuple[str, str]:
    """The two walls from which most distances are taken, for the head of the table."""
    names = [[row.across.wall for row in rows], [row.up.wall for row in rows]]
    across, up = (
        max(dict.fromkeys(column), key=column.count) if column else "" for column in names
    )
    return across, up


def _row(room: Room, thing: Thing, place: str, pose: Pose) -> TapeRow:
    points = frame_of(thing, pose).place(thing.body).points
    across, x = _reading(room, points, 0, pose.x.value)
    up, y = _reading(room, points, 1, pose.y.value)
    return TapeRow(thing.name, place, across, up, pose.turn, (x, y))


def _reading(room: Room, points: Array, axis: int, coordinate: float) -> tuple[Reading, float]:
    """Distance along an axis from a wall square to it, and the edge it leads to [m]."""
    for sign in (-1.0, 1.0):
        reach = points[:, axis] * sign
        edge = float(reach.max()) * sign
        flush = points[reach > reach.max() - TOLERANCE]
        across = float(flush[:, 1 - axis].mean())
        found = wall_in_line(room, axis, sign, edge, across)
        if found is not None:
            wall, at = found
            return Reading(abs(edge - at), wall, -sign), edge
    return Reading(coordinate, ""), coordinate


def wall_in_line(
    room: Room, axis: int, sign: float, edge: float, across: float
) -> tuple[str, float] | None:
    """The first wall met from an edge outwards, None when it is slanting or behind the edge."""
    best: tuple[float, str, float] | None = None
    for wall in room.walls:
        start, end = (np.array([c[0].value, c[1].value]) for c in (wall.start, wall.end))
        low, high = sorted((float(start[1 - axis]), float(end[1 - axis])))
        if not low - TOLERANCE <= across <= high + TOLERANCE or high - low < TOLERANCE:
            continue
        square = abs(float(frame(wall).along[axis])) < 1e-9
        share = (across - start[1 - axis]) / (end[1 - axis] - start[1 - axis])
        at = float(start[axis] + share * (end[axis] - start[axis]))
        distance = (at - edge) * sign
        if distance >= -TOLERANCE and (best is None or distance < best[0]):
            best = (distance, wall.name if square else "", at)
    return None if best is None or not best[1] else (best[1], best[2])


def readings_at(room: Room, at: tuple[float, float]) -> tuple[Reading, Reading]:
    """Distances of a point from the nearer of the walls on either side, along both axes [m]."""
    return _nearer(room, at, 0), _nearer(room, at, 1)


def _nearer(room: Room, at: tuple[float, float], axis: int) -> Reading:
    edge = at[axis]
    found = []
    for sign in (-1.0, 1.0):
        wall = wall_in_line(room, axis, sign, edge, at[1 - axis])
        if wall is not None:
            found.append(Reading(abs(edge - wall[1]), wall[0], -sign))
    return min(found, key=lambda reading: reading.distance, default=Reading(edge, ""))


def reading_words(reading: Reading, system: System) -> str:
    """`5' from west`."""
    return f"{format_length(reading.distance, system)} from {reading.wall or 'the origin'}"
