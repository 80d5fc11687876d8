"""What shuts a standing place in, when there is no way out at all."""

from __future__ import annotations

from collections.abc import Sequence

from shapely.geometry import MultiPolygon, Polygon

from floorplan.checks.ground import free_floor, goal
from floorplan.motion.widest import passable
from floorplan.shop.scene import Element, Scene
from floorplan.units import TOLERANCE

NARROWEST = 0.01
"""A way narrower than this is none [m]."""


def shut_in(
    scene: Scene, solids: Sequence[Element], area: Polygon | MultiPolygon
) -> tuple[tuple[str, ...], str]:
    """Whose taking away opens a way from a standing place, and that in words.

    Things are taken away one at a time, parts of the building only where no thing helps; where
    none of them is enough alone, all that stand round the place are named. Nothing is named where
    the walls alone shut it in.
    """
    round_about = _round_about(scene, solids, area)
    enough = [name for name in round_about if _opens(scene, solids, name, area)]
    built = {e.owner for e in solids if e.building}
    enough = [name for name in enough if name not in built] or enough
    names = tuple(enough or round_about)
    if not names:
        return (), ""
    if len(enough) > 1:
        return names, f": taking one of these away opens it: {', '.join(names)}"
    hanging = all(e.volume.bottom.value > TOLERANCE for e in solids if e.owner in names)
    does = "hangs too low to pass under" if hanging else "closes it"
    if len(names) > 1:
        does = "hang too low to pass under" if hanging else "close it"
    return names, f": {' and '.join(names)} {does}"


def _round_about(
    scene: Scene, solids: Sequence[Element], area: Polygon | MultiPolygon
) -> list[str]:
    """Owners of what touches the free floor on which one stands, or stands on the place itself."""
    free = free_floor(scene, solids)
    parts = [p for p in getattr(free, "geoms", [free]) if p.intersects(area)]
    touched = parts or [area]
    near = [
        e.owner for e in solids
        if any(e.volume.polygon.distance(shape) < TOLERANCE for shape in touched)
    ]  # fmt: skip
    return list(dict.fromkeys(near))


def _opens(
    scene: Scene, solids: Sequence[Element], name: str, area: Polygon | MultiPolygon
) -> bool:
    rest = tuple(e for e in solids if e.owner != name)
    return passable(free_floor(scene, rest), [area], goal(scene.shop), NARROWEST)[0]
