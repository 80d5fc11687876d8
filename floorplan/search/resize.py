"""The least cut in the width or depth of a bench, rack or table."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace

from floorplan.checks.finding import Finding
from floorplan.geometry.affine import Affine
from floorplan.geometry.volume import gap
from floorplan.search.change import Draft, Step, length_text, outward
from floorplan.shop.model import Pose, Shop, Thing
from floorplan.shop.reader import ShopFile, parse
from floorplan.shop.scene import Scene, may_not_overlap
from floorplan.shop.whatif import WhatIf, WhatIfError, beyond
from floorplan.units import TOLERANCE

MOST = 1 / 3
"""No more than this share of a side is cut off: common practice, no source."""
NEAR = 0.05


def may_be_smaller(thing: Thing) -> bool:
    """Whether a thing is made of boards, so that a smaller one can be made: no machine."""
    plain = not (thing.fixed or thing.cutter or thing.ports or thing.plugs)
    return plain and thing.kind != "car" and len(thing.body.points) == 4


def smaller(
    file: ShopFile, draft: Draft, name: str, scene: Scene, failing: Sequence[Finding]
) -> Iterator[Step]:
    """The thing less wide or less deep, either end kept where it is."""
    thing, pose = draft.shop.thing(name), draft.layout.pose(name)
    if pose is None or not may_be_smaller(thing) or pose.turn % 90.0 != 0.0:
        return
    for less in sorted(_amounts(draft.shop, name, scene, failing)):
        for side in ("width", "depth"):
            whole = thing.width if side == "width" else thing.depth
            if less > whole.value * MOST:
                continue
            made = _reread(file, thing, draft.shop, side, less)
            if made is None:
                continue
            axis = 0 if (side == "width") == (pose.turn % 180.0 == 0.0) else 1
            for keep_far in (False, True):
                moved = _moved(pose, axis, less) if keep_far else pose
                yield Step(
                    "size",
                    name,
                    -less,
                    "m",
                    f"make {name} {length_text(draft.shop, less)} "
                    f"{'narrower' if side == 'width' else 'less deep'}, "
                    f"at its {_end(axis, keep_far)} end",
                    Draft(made, draft.layout.with_pose(name, moved)),
                    less,
                )


def _end(axis: int, keep_far: bool) -> str:
    return (("east", "west"), ("north", "south"))[axis][keep_far]


def _moved(pose: Pose, axis: int, by: float) -> Pose:
    return replace(pose, x=pose.x + by) if axis == 0 else replace(pose, y=pose.y + by)


def _amounts(shop: Shop, name: str, scene: Scene, failing: Sequence[Finding]) -> set[float]:
    """By how much something reaches too far, wherever the thing is concerned [m]."""
    errors = shop.measurements
    out: set[float] = set()
    for mine in scene.things.get(name, ()):
        for other in scene.elements:
            if other.owner == name or not may_not_overlap(mine, other):
                continue
            if mine.volume.polygon.distance(other.volume.polygon) > NEAR:
                continue
            found = gap(mine.volume, other.volume)
            if not found.by_height:
                out.add(found.error(errors) - found.distance.value)
    out |= {f.error - f.margin for f in failing if f.unit == "m" and f.margin is not None}
    return {outward(less, shop.system) for less in out if less > TOLERANCE}


def _reread(file: ShopFile, thing: Thing, shop: Shop, side: str, less: float) -> Shop | None:
    """The shop with the thing as the file would give it at the smaller size."""

    def text(size: Affine, cut: float) -> str:
        return f"{size.value - cut:.6f} m +- {size.error(shop.measurements):.6f} m"

    width = text(thing.width, less if side == "width" else 0.0)
    depth = text(thing.depth, less if side == "depth" else 0.0)
    changes = file.changes or WhatIf()
    supposed = replace(changes, sizes=(*changes.sizes, (thing.name, (width, depth))))
    try:
        made = parse(file.text, file.path, supposed).as_of(shop.stage)
    except WhatIfError:
        return None
    if beyond(made.shop, thing.name):
        return None  # its drawers would no longer go in
    numbers = {**shop.measurements, **made.shop.measurements}
    return replace(shop.with_thing(made.shop.thing(thing.name)), measurements=numbers)
