"""Room kept free at a stage for runs of duct that are found only at a later one.

What comes later binds what is there before: the runs found at a later stage keep out of all that
stands at the stages before it, and there their room is kept clear, as that of given runs is.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from functools import lru_cache

from floorplan.checks.duct_finding import Poses, with_found_runs
from floorplan.geometry.volume import Volume
from floorplan.shop.model import KeepClear, Layout, Shop
from floorplan.shop.scene import scene
from floorplan.shop.stages import layout_at, shop_at, strip


def with_later_strips(shops: Sequence[Shop], layouts: Sequence[Layout]) -> tuple[Shop, ...]:
    """The shops of all stages, each with the strips of runs that are found later.

    The same objects where no stage asks for runs to be found, and for the same layouts.
    """
    if not any(_asks(shop) for shop in shops[1:]):
        return tuple(shops)
    return _kept(tuple(shops), tuple(Poses(layout) for layout in layouts))


def stage_with_strips(shop: Shop, layout: Layout, stage: int) -> Shop:
    """The shop of one stage, by number from 0, with the strips of runs that are found later.

    `shop` has all its stages, `layout` all first poses.
    """
    if shop.plan is None or shop.air is None or shop.air.find is None:
        return shop_at(shop, stage)
    numbers = range(len(shop.plan.stages))
    shops = [shop_at(shop, i) for i in numbers]
    return with_later_strips(shops, [layout_at(shop, layout, i) for i in numbers])[stage]


def with_strips_of(shop: Shop, other: Shop) -> Shop:
    """A shop that was read anew, with what another reading of it keeps free for later runs."""
    known = {keep.name for keep in shop.keep_clears}
    more = tuple(
        keep for keep in other.keep_clears if keep.rule == "duct-strip" and keep.name not in known
    )
    air = shop.air
    if air is not None and other.air is not None and other.air.earlier:
        air = replace(air, earlier=other.air.earlier)
    if not more and air is shop.air:
        return shop
    return replace(shop, keep_clears=(*shop.keep_clears, *more), air=air)


def _asks(shop: Shop) -> bool:
    return shop.air is not None and shop.air.find is not None


@lru_cache(maxsize=32)
def _kept(shops: tuple[Shop, ...], poses: tuple[Poses, ...]) -> tuple[Shop, ...]:
    out = list(shops)
    layouts = [pose.layout for pose in poses]
    for number in range(1, len(shops)):
        air = shops[number].air
        if air is None or air.find is None:
            continue
        before = tuple(_standing(shops[:number], layouts[:number]))
        later = replace(out[number], air=replace(air, earlier=before))
        out[number] = later
        found = with_found_runs(shops[number] if not before else later, layouts[number])
        assert found.air is not None
        strips = tuple(keep for run in found.air.runs for keep in strip(run))
        for i in range(number):
            notes = tuple(_untold(found, layouts[number]))
            out[i] = _with(out[i], strips, notes)
    return tuple(out)


def _with(shop: Shop, strips: tuple[KeepClear, ...], notes: tuple[str, ...]) -> Shop:
    """A shop that keeps strips, each place once however many later stages want it."""
    there = {(k.name, k.outline.points.tobytes(), k.bottom.value) for k in shop.keep_clears}
    new = tuple(
        k for k in strips if (k.name, k.outline.points.tobytes(), k.bottom.value) not in there
    )
    told = tuple(note for note in notes if note not in shop.notes)
    return replace(shop, keep_clears=(*shop.keep_clears, *new), notes=(*shop.notes, *told))


def _standing(shops: Sequence[Shop], layouts: Sequence[Layout]) -> Iterator[tuple[str, Volume]]:
    """What stands in the way at some stage: each solid of a thing at its place, once."""
    seen = set()
    for shop, layout in zip(shops, layouts, strict=True):
        made = scene(shop, layout)
        for element in made.of("solid"):
            volume = element.volume
            key = (element.label, volume.outline.points.tobytes(), volume.bottom.value)
            if not element.building and key not in seen:
                seen.add(key)
                yield f"{element.label} ({shop.stage.name if shop.stage else 'before'})", volume


def _untold(found: Shop, layout: Layout) -> Iterator[str]:
    """What a strip is missing for, in words."""
    assert found.air is not None
    assert found.air.find is not None
    stage = "a later stage" if found.stage is None else f"stage {found.stage.name}"
    for why in found.air.no_way:
        yield f"no room is kept free for the ducts of {stage}: {why}"
    names = found.air.find.machines or tuple(t.name for t in found.things if t.ports)
    without = [name for name in names if found.has(name) and layout.pose(name) is None]
    if without:
        yield (
            f"no room is kept free for the ducts of {', '.join(without)} at {stage}: "
            "no place is known yet"
        )
