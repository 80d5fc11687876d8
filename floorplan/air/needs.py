"""How much air a woodworking machine usually asks for, where nobody says it.

From memory of the VS-95 plates of ACGIH, Industrial Ventilation, as commonly quoted, a size class
up or down; a machine that none of them names gets what carries chips in a duct of its port's size.
"""

from __future__ import annotations

from floorplan.air.network import BRANCH_FLOOR
from floorplan.air.properties import duct_area
from floorplan.air.registry import Entry

CFM = 4.719474e-4
"""[m3/s]"""
_MEMORY = "ACGIH, Industrial Ventilation, plates VS-95, from memory"


def _need(kind: str, cfm: float, about: str) -> Entry:
    return Entry(
        f"need.{kind.replace(' ', '-')}", f"Usual airflow of a {kind}: {about}", "m3/s", _MEMORY,
        "from memory", cfm * CFM,
    )  # fmt: skip


_NEEDS = {
    "table saw": _need("table saw", 350.0, "blade to 16 in"),
    "jointer": _need("jointer", 440.0, "6 to 12 in wide"),
    "planer": _need("planer", 785.0, "to 20 in wide"),
    "band saw": _need("band saw", 700.0, "blade to 2 in, both wheels"),
    "disc sander": _need("disc sander", 350.0, "disc to 12 in"),
    "belt sander": _need("belt sander", 440.0, "belt to 6 in"),
    "router table": _need("router table", 350.0, "small"),
    "lathe": _need("lathe", 350.0, "least"),
}
ENTRIES = tuple(_NEEDS.values())


def usual_need(kind: str, port: float) -> float:
    """Return a usual airflow [m3/s] of a machine by the words of its kind.

    `port` is the diameter of its port [m]: no machine is taken to need more than its port passes
    at twice the velocity that carries chips.
    """
    carried = BRANCH_FLOOR.constant * float(duct_area(port))
    for word, entry in _NEEDS.items():
        if word in kind:
            return min(entry.constant, 2.0 * carried)
    return carried
