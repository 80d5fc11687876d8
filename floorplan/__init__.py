r"""Decide what stands where in a small woodworking shop, and prove that it works.

The same from Python, by examples.  `load` reads a shop file, `parse` its text; what they give back
never changes, so it can be kept, compared and sent to other processes.

>>> from floorplan import Layout, Pose, arrange, check, load, parse
>>> file = parse('''
... shop: a corner of a garage
... tape: 0
... units: in
... room: {size: [144, 120], height: 96}
... doors:
...   door: {wall: south, at: 12, width: 36, height: 80, swing: out, leads to: outside}
... equipment:
...   bench: {width: 60, depth: 24, height: 34, at: {x: 80, y: 96},
...           zones: {front: {side: front, depth: 24, purpose: stand}}}
...   press: {width: 20, depth: 20, height: 66, at: {x: 90, y: 80}}
... ''')

`check` judges a layout.  Each finding carries what was measured and needed, the margin and its
error, in metres, and the geometry that proves it.

>>> today = check(file.shop, file.layout)
>>> today.verdict
'fails'
>>> worst = today.findings[0]
>>> worst.about, worst.verdict, round(worst.margin / 0.0254, 3)
(('bench', 'press'), 'fails', -16.0)

A layout is only where things stand.  Poses are in metres, the turn in degrees.

>>> moved = file.layout.with_pose("press", Pose.at(0.0, 96 * 0.0254, 0.0))
>>> check(file.shop, moved).verdict
'passes'

`arrange` searches; the same seed and effort give the same layouts.

>>> found = arrange(file.shop, file.layout, seed=1, effort=100)
>>> {ranked.judgement.verdict for ranked in found.layouts}
{'passes'}
>>> isinstance(found.layouts[0].layout, Layout)
True

A file with faults tells them all at once, each with its line and what would be right.

>>> from floorplan import ShopFileError
>>> try:
...     parse("shop: a\nroom: {size: [10 ft, 8 ft], height: 8}\n", "mine.yaml")
... except ShopFileError as wrong:
...     for fault in wrong.faults:
...         print(fault.line, fault.message)
2 `8` has no unit; write `8 in` or `8 mm`, or set `units: in` or `units: mm` at the top of the file
"""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from floorplan.checks.judge import judge as check
    from floorplan.search.arrange import arrange
    from floorplan.shop.faults import ShopFileError
    from floorplan.shop.model import Layout, Pose, Shop
    from floorplan.shop.reader import ShopFile, load, parse

__all__ = [
    "Layout",
    "Pose",
    "Shop",
    "ShopFile",
    "ShopFileError",
    "arrange",
    "check",
    "load",
    "parse",
]

_HOMES = {
    "Layout": "shop.model",
    "Pose": "shop.model",
    "Shop": "shop.model",
    "ShopFile": "shop.reader",
    "ShopFileError": "shop.faults",
    "arrange": "search.arrange",
    "check": "checks.judge",
    "load": "shop.reader",
    "parse": "shop.reader",
}
"""Where each public name lives.  Looked up when it is asked for: `--help` waits for nothing."""


def __getattr__(name: str) -> Any:
    """A public name. Raises AttributeError for any other."""
    if name not in _HOMES:
        raise AttributeError(f"floorplan has no `{name}`")
    home = import_module(f"floorplan.{_HOMES[name]}")
    return getattr(home, "judge" if name == "check" else name)


def __dir__() -> list[str]:
    """The public names."""
    return __all__
