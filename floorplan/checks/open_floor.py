"""How much usable floor is left open at rest?"""

from __future__ import annotations

from shapely.ops import unary_union

from floorplan.checks.finding import Answer, Measure
from floorplan.checks.ground import walker_obstacles
from floorplan.shop.model import AT_REST
from floorplan.shop.scene import Scene

CHECK = "open-floor"


def check(scene: Scene) -> Answer:
    """Floor that a body as wide as a walkway can use; slots behind machines do not count.

    The free floor is eroded and grown again by half a walkway, so what is left are the places
    where a disc of that width can lie.
    """
    solids = walker_obstacles(scene, AT_REST)
    standing = unary_union([e.volume.polygon for e in solids])
    half = scene.shop.rules.value("walkway") / 2
    free = scene.floor.difference(standing)
    usable = free.buffer(-half).buffer(half).intersection(free)
    return Answer((), {"open floor": Measure(float(usable.area), "m2")})
