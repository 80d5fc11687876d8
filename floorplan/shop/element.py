"""One volume in the room: whose it is, when it is there, and what it may not overlap."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from floorplan.geometry.volume import Volume
from floorplan.rules.overlap import Area, may_overlap
from floorplan.shop.presence import ALWAYS, Presence

Nature = Literal["solid", "keep-clear", "zone", "moving"]


@dataclass(frozen=True, eq=False)
class Element:
    """One volume in the room."""

    owner: str
    name: str
    nature: Nature
    volume: Volume
    presence: Presence = ALWAYS
    purpose: str = ""
    advised: bool = False
    even_while_working: bool = False
    blocks_feed: bool = False
    rule: str = ""
    alternatives: tuple[Volume, ...] = ()
    """Other places of a keep-clear that may slide; one free place is enough."""
    slide: tuple[float, float] = (0.0, 0.0)
    """The way along which it may slide, from the first to the last place [m]."""
    building: bool = False
    two_people: bool = False
    """True where two people work at one time."""
    line: int = 0

    @property
    def label(self) -> str:
        """Owner and part in one phrase: `saw: rip fence`."""
        return self.owner if self.name in ("", "body") else f"{self.owner}: {self.name}"


def may_not_overlap(a: Element, b: Element) -> bool:
    """Whether the two conflict when plans and heights overlap.

    Solid/solid, solid/keep-clear and solid/zone conflict; zone/keep-clear only where the
    keep-clear holds even while working; zone/zone only within one task or tasks that go on
    together, and between two owners.  Where two people work, the overlap matrix decides about
    zones.
    """
    if a.owner == b.owner:
        return _own_conflict(a, b)
    kinds = {a.nature, b.nature}
    if kinds == {"keep-clear"}:
        return False
    if "keep-clear" in kinds:
        keep, other = (a, b) if a.nature == "keep-clear" else (b, a)
        return other.nature == "solid" or keep.even_while_working
    if "moving" in kinds and "solid" not in kinds:
        return False
    if kinds == {"zone"} and (a.two_people or b.two_people):
        return _two_people_conflict(a, b)
    return a.presence.meets(b.presence)


def area_of(zone: Element) -> Area:
    """What a zone is in the overlap matrix: a person's place, or room for work and drawers."""
    return Area.STANDING_PLACE if zone.purpose in ("stand", "push") else Area.USE_ZONE


def _two_people_conflict(a: Element, b: Element) -> bool:
    """Zones of one task are one person's, those of two tasks that may coincide two people's."""
    kinds = area_of(a), area_of(b)
    if a.presence.shares_task(b.presence) and not may_overlap(*kinds, same_person=True):
        return True
    coincide = a.presence.beside(b.presence) or (
        a.presence.meets(b.presence) and not a.presence.shares_task(b.presence)
    )
    return coincide and not may_overlap(*kinds, same_person=False)


def _own_conflict(a: Element, b: Element) -> bool:
    """A thing is in its own way only where a part says that it blocks the feed."""
    for part, zone in ((a, b), (b, a)):
        if part.blocks_feed and zone.nature == "zone" and zone.purpose in ("infeed", "outfeed"):
            return part.presence.meets(zone.presence)
    return False
