"""Room for a carried piece where its way begins and ends at a thing.

A layout in which a sheet cannot even be held before its rack is not worth a look, so the search
keeps that room free as it keeps zones free.  Whether a way leads there is asked of what it finds.
"""

from __future__ import annotations

from collections.abc import Iterator
from math import radians

import numpy as np

from floorplan.geometry.affine import Outline
from floorplan.geometry.volume import Volume
from floorplan.motion.carry import Body
from floorplan.shop.carrying import load_of, stands
from floorplan.shop.model import Carry, Layout, Pose, Shop, Thing
from floorplan.shop.presence import Presence
from floorplan.shop.scene import Element, Scene, scene

CARRYING = "carrying"
"""The moment in which something is carried, no task going on."""


def carry_ends(shop: Shop, thing: Thing, pose: Pose) -> Iterator[Element]:
    """Where pieces are held at a thing that stands at a pose.

    Only ends at which there is no choice: where one of several poses is enough, none is needed.
    """
    alone = scene(shop, Layout({(thing.name, "standing"): pose}))
    for job, carry in shop.carries():
        if carry.how == "tilted up" or carry.thing == thing.name:
            continue
        for goal, name in ((False, carry.start), (True, carry.goal)):
            if name == thing.name:
                yield from _held(alone, thing, job, carry, goal=goal)


def _held(alone: Scene, thing: Thing, job: str, carry: Carry, *, goal: bool) -> Iterator[Element]:
    """The piece alone where someone carries it at its side: they may be on either side."""
    load = load_of(alone, carry)
    found = stands(alone, carry, load, goal=goal)
    if len(found) != 1:
        return
    stand = found[0]
    width = load.width.value - load.beside.value
    corners = Body.rectangle(load.length.value, width).at(radians(stand.turn))
    outline = Outline(corners + np.array([stand.x, stand.y]), {})
    for band in (load.piece,) if load.beside.value > 0 else load.bands:
        yield Element(
            thing.name,
            f"{carry.piece} ({job}) {stand.words}",
            "zone",
            Volume(outline, band.bottom, band.top),
            Presence(frozenset((carry.task or CARRYING,))),
            line=carry.line,
        )
