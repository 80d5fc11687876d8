"""Changes of what opens: a drawer to another side, a door on its other hand, a door outwards."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import replace

import numpy as np
from shapely.geometry import Polygon, box

from floorplan.geometry.affine import Affine, Outline
from floorplan.search.change import Draft, Step
from floorplan.shop.building import signed_area
from floorplan.shop.model import SIDES, Door, Opening, Side, Thing
from floorplan.units import TOLERANCE

Local = tuple[Affine, Affine]
"""Along a side and away from it [m]."""


def openings(draft: Draft, name: str) -> Iterator[Step]:
    """Each drawer and door of a thing hung otherwise."""
    thing = draft.shop.thing(name)
    if thing.fixed:
        return
    for i, opening in enumerate(thing.openings):
        for made, words in _hung(thing, opening):
            changed = replace(thing, openings=(*thing.openings[:i], made, *thing.openings[i + 1 :]))
            kind = "door" if opening.kind == "door" else "drawer"
            yield Step(
                kind,  # type: ignore[arg-type]
                name,
                None,
                "",
                words,
                replace(draft, shop=draft.shop.with_thing(changed)),
                0.0,
            )


def _hung(thing: Thing, opening: Opening) -> Iterator[tuple[Opening, str]]:
    if opening.kind == "door":
        yield (
            _other_hand(thing, opening),
            f"hang door `{opening.name}` of {thing.name} on its other side",
        )
        return
    for side in SIDES:
        made = _on_side(thing, opening, side)
        if made is not None:
            yield made, f"put {opening.kind} `{opening.name}` of {thing.name} on its {side}"


def _to_side(thing: Thing, side: Side) -> Callable[[Affine, Affine], Local]:
    """Local x and y as along and away from a side."""
    width, depth = thing.width, thing.depth
    ways: dict[Side, Callable[[Affine, Affine], Local]] = {
        "front": lambda x, y: (x, -y - depth),
        "back": lambda x, y: (x, y),
        "left": lambda x, y: (-y, -x),
        "right": lambda x, y: (-y, x - width),
    }
    return ways[side]


def _from_side(thing: Thing, side: Side) -> Callable[[Affine, Affine], Local]:
    """Along and away from a side as local x and y."""
    width, depth = thing.width, thing.depth
    ways: dict[Side, Callable[[Affine, Affine], Local]] = {
        "front": lambda s, n: (s, -n - depth),
        "back": lambda s, n: (s, n),
        "left": lambda s, n: (-n, -s),
        "right": lambda s, n: (n + width, -s),
    }
    return ways[side]


def _mapped(outline: Outline, change: Callable[[Affine, Affine], Local]) -> Outline:
    points = [change(*outline.vertex(i)) for i in range(len(outline.points))]
    made = Outline.of(points)
    return made if signed_area(made.points) > 0 else Outline.of(points[::-1])


def _on_side(thing: Thing, opening: Opening, side: Side) -> Opening | None:
    """A drawer on another side, pushed along it as far as it must be; None where it is too wide."""
    if side == opening.side:
        return None
    into, out = _to_side(thing, opening.side), _from_side(thing, side)
    length = thing.width if side in ("front", "back") else thing.depth
    through = thing.depth if side in ("front", "back") else thing.width
    along = [into(*opening.sweep.vertex(i))[0] for i in range(len(opening.sweep.points))]
    start, end = min(a.value for a in along), max(a.value for a in along)
    if end - start > length.value + TOLERANCE:
        return None
    if opening.travel.value > through.value + TOLERANCE:
        return None  # the box would not go in
    shift = min(0.0, length.value - end)

    def change(x: Affine, y: Affine) -> Local:
        s, n = into(x, y)
        return out(s + shift, n)

    stand = opening.stand
    made = replace(
        opening,
        side=side,
        sweep=_mapped(opening.sweep, change),
        stand=None if stand is None else replace(stand, outline=_mapped(stand.outline, change)),
    )
    return None if _taken(thing, opening, made) else made


def _taken(thing: Thing, old: Opening, new: Opening) -> bool:
    """Whether another drawer's box lies where this one's would, or a door hangs before it."""
    inside = _box(thing, new)
    for other in thing.openings:
        if other is old or other.bottom.value >= new.top.value - TOLERANCE:
            continue
        if new.bottom.value >= other.top.value - TOLERANCE:
            continue
        if other.kind == "door":
            if other.side == new.side:
                return True
        elif inside.intersection(_box(thing, other)).area > TOLERANCE:
            return True
    return False


def _box(thing: Thing, opening: Opening) -> Polygon:
    """Where a drawer's box lies when it is shut, local plan [m]."""
    low, high = opening.sweep.points.min(axis=0), opening.sweep.points.max(axis=0)
    deep = opening.travel.value
    width, depth = thing.width.value, thing.depth.value
    boxes = {
        "front": (low[0], -depth, high[0], -depth + deep),
        "back": (low[0], -deep, high[0], 0.0),
        "left": (0.0, low[1], deep, high[1]),
        "right": (width - deep, low[1], width, high[1]),
    }
    return box(*boxes[opening.side])


def _other_hand(thing: Thing, opening: Opening) -> Opening:
    """The same leaf with its hinge at its other end."""
    into, out = _to_side(thing, opening.side), _from_side(thing, opening.side)
    assert opening.hinge is not None
    points = opening.sweep.points
    pivot = int(np.argmin(np.hypot(*(points - np.array(opening.hinge)).T)))
    ends = [into(*opening.sweep.vertex(i)) for i in (pivot - 1, (pivot + 1) % len(points))]
    shut = min(ends, key=lambda end: abs(end[1].value))
    both = into(*opening.sweep.vertex(pivot))[0] + shut[0]

    def change(x: Affine, y: Affine) -> Local:
        s, n = into(x, y)
        return out(both - s, n)

    hinge = change(*opening.sweep.vertex(pivot))
    return replace(
        opening,
        sweep=_mapped(opening.sweep, change),
        hinge=(hinge[0].value, hinge[1].value),
    )


def room_door(draft: Draft, name: str) -> Iterator[Step]:
    """A door of the room on its other hand, or swinging out."""
    door = next(d for d in draft.shop.doors if d.name == name)
    options: list[tuple[Door, str]] = []
    if door.kind in ("hinged", "sliding"):
        other = "left" if door.hand == "right" else "right"
        verb = "hang" if door.kind == "hinged" else "let"
        words = f"on its {other}" if door.kind == "hinged" else f"slide to the {other}"
        options.append((replace(door, hand=other), f"{verb} {name} {words}"))  # type: ignore[arg-type]
    if door.kind == "hinged" and door.swing == "in":
        options.append((replace(door, swing="out"), f"let {name} swing out"))
    for made, words in options:
        doors = tuple(made if d.name == name else d for d in draft.shop.doors)
        yield Step(
            "door", name, None, "", words,
            replace(draft, shop=replace(draft.shop, doors=doors)),
            0.0 if made.hand != door.hand else 0.001,
        )  # fmt: skip
