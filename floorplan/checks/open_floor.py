"""How much floor is left open at rest?"""

from __future__ import annotations

from shapely.ops import unary_union

from floorplan.checks.finding import Answer, Measure
from floorplan.checks.ground import walker_obstacles
from floorplan.shop.model import AT_REST
from floorplan.shop.scene import Scene

CHECK = "open-floor"


def check(scene: Scene) -> Answer:
    """Floor of the room less everything that a walker would meet."""
    solids = walker_obstacles(scene, AT_REST)
    standing = unary_union([e.volume.polygon for e in solids])
    return Answer((), {"open floor": Measure(float(scene.floor.difference(standing).area), "m2")})
