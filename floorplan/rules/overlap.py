"""Who may overlap whom on the floor when two people work at the same time.

The cells about a standing place are those of ASR A1.2 (5.1.5, read in a reproduction), which calls
it the movement area and a use zone the function zone. It may not overlap another person's movement
area, a traffic route, a footprint, a function zone or a safety distance; it may overlap the
function zones of what its own user uses, and that user's own mobile tools. The other cells are
the meanings of this program.
"""

from dataclasses import dataclass
from enum import StrEnum
from itertools import combinations_with_replacement


class Area(StrEnum):
    """What takes up floor."""

    STANDING_PLACE = "standing place"
    WALKWAY = "walkway"
    SOLID = "solid"
    USE_ZONE = "use zone"
    SAFETY_DISTANCE = "safety distance"
    MOBILE_TOOL = "mobile tool"


@dataclass(frozen=True, slots=True)
class Cell:
    """Whether two areas may overlap, both used by one person or by two people."""

    same_person: bool
    two_people: bool
    published: bool


PUBLISHED_IN = "ASR A1.2, 5.1.5"
"""Where the published cells stand; read in a reproduction."""

_NEVER = (False, False)
_OWN_ONLY = (True, False)
_ALWAYS = (True, True)

_PUBLISHED = {
    Area.STANDING_PLACE: _OWN_ONLY,
    Area.WALKWAY: _NEVER,
    Area.SOLID: _NEVER,
    Area.USE_ZONE: _OWN_ONLY,
    Area.SAFETY_DISTANCE: _NEVER,
    Area.MOBILE_TOOL: _OWN_ONLY,
}
"""What a standing place may overlap."""

_OURS = {
    # Two ways may cross, and two distances from danger may be kept on one floor.
    (Area.WALKWAY, Area.WALKWAY): _ALWAYS,
    (Area.SAFETY_DISTANCE, Area.SAFETY_DISTANCE): _ALWAYS,
    # One person does one thing after the other; a second one is in the way.
    (Area.WALKWAY, Area.USE_ZONE): _OWN_ONLY,
    (Area.USE_ZONE, Area.USE_ZONE): _OWN_ONLY,
}
"""The pairs without a standing place that may overlap; no other such pair may."""


def _cell(first: Area, second: Area) -> Cell:
    if first is Area.STANDING_PLACE:
        return Cell(*_PUBLISHED[second], published=True)
    return Cell(*_OURS.get((first, second), _NEVER), published=False)


MATRIX = {pair: _cell(*pair) for pair in combinations_with_replacement(Area, 2)}
"""Every pair of areas, in the order of `Area`, with its cell."""


def may_overlap(kind_a: Area, kind_b: Area, same_person: bool) -> bool:
    """Whether the two areas may share floor at the same time.

    Args:
        kind_a: one area; the order of the two does not matter.
        kind_b: the other.
        same_person: whether one person uses both; of a solid or mobile tool, whether that
            person is the one who uses it.

    """
    cell = MATRIX.get((kind_a, kind_b)) or MATRIX[kind_b, kind_a]
    return cell.same_person if same_person else cell.two_people
