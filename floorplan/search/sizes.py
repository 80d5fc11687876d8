"""A thing in other widths and depths, everything on it following as the file says.

Every outline and height knows how it follows the width and the depth, so a size is a shift of two
measured numbers.  The file is read once with the present size written out, to learn that; what is
reported is read again in earnest.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import fields, is_dataclass, replace
from functools import lru_cache
from typing import Any

from floorplan.checks.duct_later import stage_with_strips, with_strips_of
from floorplan.geometry.affine import Affine, Outline
from floorplan.shop.model import Layout, Opening, Shop, Stage, Thing
from floorplan.shop.reader import ShopFile, parse
from floorplan.shop.whatif import WhatIf
from floorplan.units import format_exact


class Sizes:
    """One thing of a shop in any size.

    Raises
    ------
    WhatIfError
        when the thing has an outline of its own, not a width and a depth

    """

    def __init__(self, text: str, path: str, name: str, stage: Stage | None = None) -> None:
        self.text, self.path, self.name = text, path, name
        self.stage = stage
        file = _read(text, path, None)
        shop = file.as_of(stage).shop
        if stage is not None and file.shop.plan is not None:
            number = [s.name for s in file.shop.plan.stages].index(stage.name)
            shop = stage_with_strips(file.shop, file.layout, number)
        self._kept = shop
        thing, self._system = shop.thing(name), shop.system
        self.width, self.depth = thing.width.value, thing.depth.value
        self.shop, self.layout = self.read(self.width, self.depth)
        self._model = self.shop.thing(name)
        if not self._model.width.terms:
            # without a measuring error numbers do not say what they follow
            told = self.read(self.width, self.depth, off=" +- 1 mm")[0].thing(name)
            self._model = replace(told, only_in=self._model.only_in)

    def read(self, width: float, depth: float, *, off: str = "") -> tuple[Shop, Layout]:
        """The shop file with the thing in another size [m], read in earnest."""
        lengths = tuple(format_exact(size, self._system) + off for size in (width, depth))
        file = _read(self.text, self.path, (self.name, lengths)).as_of(self.stage)
        return with_strips_of(file.shop, self._kept), file.layout

    def thing(self, width: float, depth: float) -> Thing:
        """The thing in another size [m]."""
        offsets = {
            f"{self.name}: width": width - self._model.width.value,
            f"{self.name}: depth": depth - self._model.depth.value,
        }
        made: Thing = _shifted(self._model, offsets)
        return made


@lru_cache(maxsize=8)
def _read(text: str, path: str, size: tuple[str, tuple[str, ...]] | None) -> ShopFile:
    """A shop file with a thing in some size; every stage of a plan asks for the same."""
    return parse(text, path, None if size is None else WhatIf(sizes=(size,)))


def _shifted(made: Any, offsets: Mapping[str, float]) -> Any:
    """The same with every number moved by what it follows."""
    if isinstance(made, Affine):
        return Affine(made.shifted(offsets), made.terms)
    if isinstance(made, Outline):
        return Outline(made.shifted(offsets), made.terms)
    if isinstance(made, tuple):
        return tuple(_shifted(part, offsets) for part in made)
    if is_dataclass(made) and not isinstance(made, type):
        new = {f.name: _shifted(getattr(made, f.name), offsets) for f in fields(made) if f.init}
        moved = replace(made, **new)
        return _rehung(made, moved) if isinstance(moved, Opening) else moved
    return made


def _rehung(before: Any, after: Opening) -> Opening:
    """A door turns about the corner of its sweep where its hinge was."""
    if before.hinge is None:
        return after
    away = abs(before.sweep.points - before.hinge).sum(axis=1)
    x, y = after.sweep.points[int(away.argmin())]
    return replace(after, hinge=(float(x), float(y)))
