"""Writes a plan into a shop file: first poses after `at:`, later ones after `stages:`."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from floorplan.shop.edit import Keys, Value, replace_values
from floorplan.shop.model import Layout, Pose
from floorplan.shop.naming import compose_shop
from floorplan.shop.read_poses import PLACE_KEYS
from floorplan.shop.reader import ShopFile, parse
from floorplan.shop.stages import layout_at
from floorplan.shop.writer import LayoutError, Spot, is_same, thing_keys, with_layout, written_pose


def with_stages(file: ShopFile, layouts: Sequence[Layout]) -> str:
    """The file's text in which things stand as in `layouts`, one a stage; comments are kept.

    A thing that is moved between stages, or that the file moves and the plan does not, gets its
    place for that stage written out. Raises as `with_layout` does.
    """
    plan = file.shop.plan
    if plan is None or len(layouts) != len(plan.stages):
        raise LayoutError("there must be one layout for each stage of the file")
    first: dict[Spot, Pose] = {}
    for layout in layouts:
        for spot, pose in layout.poses.items():
            first.setdefault(spot, pose)
    text = with_layout(file, Layout(first))
    changes = {
        keys: value for number, spot, pose in _later(file, layouts)
        for keys, value in [_change(text, file, number, spot, pose)]
    }  # fmt: skip
    if changes:
        text = replace_values(text, changes)
    found = parse(text, file.path)
    for number, layout in enumerate(layouts):
        there = layout_at(found.shop, found.layout, number)
        if not all(is_same(there, spot, pose) for spot, pose in layout.poses.items()):
            raise LayoutError("the plan does not come back from the file as it was written")
    return text


def _later(file: ShopFile, layouts: Sequence[Layout]) -> Iterator[tuple[int, Spot, Pose]]:
    """Poses that differ from those of the stage before, or that the file says already."""
    plan = file.shop.plan
    assert plan is not None
    for number in range(1, len(layouts)):
        before = layouts[number - 1]
        for spot, pose in layouts[number].poses.items():
            said = (number, *spot) in plan.poses
            if said or (before.pose(*spot) is not None and not is_same(before, spot, pose)):
                yield number, spot, pose


def _change(text: str, file: ShopFile, number: int, spot: Spot, pose: Pose) -> tuple[Keys, Value]:
    """Where and how the file says, or would say, a pose of a later stage."""
    plan = file.shop.plan
    assert plan is not None
    keys = thing_keys(compose_shop(text, file.path), spot[0])
    stage = plan.stages[number].name
    return (*keys, "stages", stage, PLACE_KEYS[spot[1]]), written_pose(pose, file.shop.system)
