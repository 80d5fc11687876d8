"""The room that runs of duct take: each straight stretch as a volume with its band of heights."""

from __future__ import annotations

from collections.abc import Iterator

from floorplan.geometry.affine import Affine, Outline
from floorplan.geometry.volume import Volume
from floorplan.shop.air import DUCTS, AirPlan, Run, Spot
from floorplan.shop.building import frame
from floorplan.shop.element import Element
from floorplan.shop.model import Wall
from floorplan.shop.read_room import round_outline
from floorplan.units import TOLERANCE

UPRIGHT = 1e-3
"""A stretch that moves less than this in plan goes straight up or down [m]."""


def leg_volumes(run: Run, *, round_it: bool = False) -> tuple[Volume, ...]:
    """The stretches of a run as volumes, corners covered, with its clear-round if asked for.

    Around its middle line a duct takes half its diameter on all sides; a sloping stretch takes
    the whole band between its ends.
    """
    radius = run.diameter / 2 + (run.clear if round_it else 0.0)
    return tuple(_leg(run, i, radius) for i in range(len(run.path) - 1))


def _leg(run: Run, index: int, radius: Affine) -> Volume:
    a, b = run.legs[index]
    low, high = (a, b) if a[2].value <= b[2].value else (b, a)
    if (b[0].value - a[0].value) ** 2 + (b[1].value - a[1].value) ** 2 >= UPRIGHT**2:
        return Volume(_box(a, b, radius), low[2] - radius, high[2] + radius)
    # an upright pipe ends square where its path does; at a corner the elbow reaches beyond
    ends = (run.path[0], run.path[-1])
    return Volume(
        round_outline((a[0] - radius, a[1] - radius), radius * 2),
        low[2] - (0.0 if low in ends else radius),
        high[2] + (0.0 if high in ends else radius),
    )


def _box(a: Spot, b: Spot, radius: Affine) -> Outline:
    line = frame(Wall("", (a[0], a[1]), (b[0], b[1])))
    return line.box(-radius, line.length + radius, radius, -radius)


def duct_elements(plan: AirPlan | None) -> Iterator[Element]:
    """What runs bring into the room.

    A duct that hangs there is solid. Round it, and at the place of a later one, stays clear.
    """
    for run in () if plan is None else plan.runs:
        if not run.later:
            for volume in leg_volumes(run):
                yield Element(DUCTS, run.name, "solid", volume, building=True, line=run.line)
        if run.later or run.clear.value > TOLERANCE:
            for volume in leg_volumes(run, round_it=True):
                yield Element(
                    DUCTS, f"{run.name}, room kept for it" if run.later else f"round {run.name}",
                    "keep-clear", volume, rule="duct-strip", building=True, line=run.line,
                )  # fmt: skip
