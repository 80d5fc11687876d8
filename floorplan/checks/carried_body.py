"""What is carried in plan, part by part, and which part a solid stops by its heights.

The piece and the people who carry it reach to different heights.  A low box stops whoever walks
beside a sheet and not the sheet above it; a cabinet on the wall may stop one and not the other.
"""

from __future__ import annotations

from collections.abc import Iterable

from floorplan.motion.carry import Body
from floorplan.motion.turning import Corners
from floorplan.shop.carrying import Band, Load

ALL = frozenset((0,))
_WHOLE, _PIECE, _PEOPLE = ALL, frozenset((1,)), frozenset((2, 3))


def body_of(load: Load, *, apart: bool = False) -> Body:
    """What a load takes in plan: the piece, and at its middle whoever carries it on its left.

    One rectangle holds a piece with people at both ends.  With `apart` it comes with three more
    parts inside it: the piece between them, and the people at its two ends.
    """
    long = load.length.value
    if load.beside.value > 0.0:
        thick, deep = (load.width - load.beside).value, load.carrier / 2
        low, high = -thick / 2, thick / 2 + load.beside.value
        return Body.rectangle(long, thick).accompanied(_box(-deep, low, deep, high))
    whole = Body.rectangle(long, load.width.value)
    if not apart:
        return whole
    half, (low, high) = long / 2, whole.across
    inner = half - load.ends.value
    boxes = ((-inner, inner), (inner, half), (-half, -inner))
    # turned by half the two people change places, and the body is the same
    return Body(whole.corners, True, tuple(_box(west, low, east, high) for west, east in boxes))


def _box(west: float, south: float, east: float, north: float) -> Corners:
    return ((west, south), (east, south), (east, north), (west, north))


def stretched_by(*, apart: bool) -> tuple[bool, ...]:
    """For each part of the body whether it is as much longer as the piece is."""
    return (True, True, False, False) if apart else (True, False)


def bands_of(load: Load, *, apart: bool) -> tuple[tuple[Band, ...], ...]:
    """For each part of the body the heights it reaches; none for what the others make up."""
    if load.people is None:
        return ((load.piece,),)
    people = (load.people,)
    if load.beside.value > 0.0:
        return ((load.piece,), people)
    return ((), (load.piece,), people, people) if apart else (load.bands,)


def come_apart(load: Load, reached: Iterable[tuple[bool, ...]]) -> bool:
    """Whether something reaches the piece alone or the people alone, who are at its ends."""
    return load.ends.value > 0.0 and any(len(set(each)) > 1 for each in reached)


def stopped_parts(load: Load, reached: tuple[bool, ...], *, apart: bool) -> frozenset[int]:
    """Numbers of the parts that a solid stops which reaches into these of the load's bands."""
    if load.beside.value > 0.0:
        return frozenset(k for k, reaches in enumerate(reached) if reaches)
    if not apart or all(reached):
        return _WHOLE
    return _PIECE if reached[0] else _PEOPLE
