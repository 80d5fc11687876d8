"""Reads a shop file: text in, an unchanging shop and today's layout out, or all faults at once."""

from __future__ import annotations

import sys
from dataclasses import dataclass, replace
from pathlib import Path

from floorplan.shop.assemble import assemble
from floorplan.shop.faults import Fault, ShopFileError
from floorplan.shop.model import Layout, Shop, Stage
from floorplan.shop.naming import compose_shop
from floorplan.shop.stages import layout_at, shop_at, stages_of
from floorplan.shop.syntax import decode
from floorplan.shop.whatif import WhatIf, suppose


@dataclass(frozen=True)
class ShopFile:
    """A shop file as read."""

    path: str
    text: str
    shop: Shop
    layout: Layout
    """Where things stand today."""
    supposed: tuple[str, ...] = ()
    """What was supposed instead of what the text says, in words."""
    changes: WhatIf | None = None

    def at(self, stage: int) -> ShopFile:
        """The same file at one stage of its plan; itself where there is no plan."""
        return replace(
            self,
            shop=shop_at(self.shop, stage),
            layout=layout_at(self.shop, self.layout, stage),
        )

    def as_of(self, stage: Stage | None) -> ShopFile:
        """The same file at a stage given by name, as a shop of one stage names it."""
        names = [s.name for s in stages_of(self.shop)]
        return (
            self if stage is None or stage.name not in names else self.at(names.index(stage.name))
        )


def load(path: str | Path, changes: WhatIf | None = None) -> ShopFile:
    """Read a shop file; `-` is standard input. What `changes` supposes is not written anywhere.

    Raises:
        ShopFileError: with every fault, its line, its column and the fix.
        WhatIfError: when a supposition cannot be made.

    """
    shown = "<stdin>" if str(path) == "-" else str(path)
    try:
        raw = sys.stdin.buffer.read() if str(path) == "-" else Path(path).read_bytes()
    except FileNotFoundError:
        raise _no_file(shown, "there is no such file", f"try `floorplan start {shown}`") from None
    except IsADirectoryError:
        raise _no_file(shown, "this is a folder, not a shop file", "name the file in it") from None
    except OSError as wrong:
        raise _no_file(shown, f"the file cannot be read: {wrong.strerror}", "") from None
    return parse(raw, shown, changes)


def _no_file(path: str, message: str, fix: str) -> ShopFileError:
    return ShopFileError(path, (Fault(1, 1, message, "", fix),))


def parse(text: str | bytes, path: str = "<text>", changes: WhatIf | None = None) -> ShopFile:
    """Read the text of a shop file. Raises as `load` does."""
    plain = text if isinstance(text, str) else decode(text, path)[0]
    if changes:
        shop, layout, supposed = suppose(text, path, changes)
        return ShopFile(path, plain, shop, layout, supposed, changes)
    shop, layout = assemble(compose_shop(text, path), path)
    return ShopFile(path, plain, shop, layout)
