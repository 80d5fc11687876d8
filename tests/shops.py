"""Small shops for tests: written as a user would write them, or drawn at random in millimetres."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from random import Random

from floorplan.checks.finding import Finding
from floorplan.checks.judge import Judgement, judge
from floorplan.shop.reader import parse

WALLS = "SENW"


def text_of(
    *equipment: str,
    room: str = "size: [20', 16']",
    height: str = "9'",
    more: str = "",
    tape: str = "0",
    units: str = "feet and inches",
) -> str:
    """A shop file: one line for each thing, `more` are further sections at the left margin."""
    lines = "".join(f"  {line}\n" for line in equipment)
    return (
        f"shop: a shop\nunits: {units}\ntape: {tape}\n"
        f"room: {{{room}, height: {height}}}\n"
        f"equipment:\n{lines}{more}"
    )


def judged(text: str) -> Judgement:
    """The judgement of a shop file."""
    file = parse(text)
    return judge(file.shop, file.layout)


def pick(
    judgement: Judgement, check: str, *about: str, task: str | None = None, kind: str = ""
) -> Finding:
    """The worst finding of a check that is about all of these names; it must be there."""
    found = [
        f
        for f in judgement.findings
        if f.check == check
        and set(about) <= set(f.about)
        and (task is None or f.task == task)
        and kind in ("", f.kind)
    ]
    assert found, [(f.check, f.about, f.task, f.message) for f in judgement.findings]
    return found[0]


# --- random shops --------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Box:
    """A thing: size at turn 0, westernmost and southernmost point, turn in quarters [mm]."""

    name: str
    width: float
    depth: float
    bottom: float
    top: float
    x: float
    y: float
    quarters: int
    stand: float
    """Depth of the standing place before its front, 0 for none [mm]."""

    @property
    def extent(self) -> tuple[float, float]:
        """Size west to east and south to north [mm]."""
        if self.quarters % 2:
            return self.depth, self.width
        return self.width, self.depth


@dataclass(frozen=True, slots=True)
class Doorway:
    """An opening without a leaf in one of the walls S, E, N, W [mm]."""

    wall: str
    at: float
    """From the wall's west or south end [mm]."""
    width: float


@dataclass(frozen=True, slots=True)
class Plan:
    """A rectangular shop with boxes and one doorway [mm]."""

    west: float
    south: float
    width: float
    depth: float
    height: float
    door: Doorway
    boxes: tuple[Box, ...]

    # --- moves that must not change an answer

    def moved(self, dx: float, dy: float) -> Plan:
        """The whole shop elsewhere."""
        boxes = tuple(replace(b, x=b.x + dx, y=b.y + dy) for b in self.boxes)
        return replace(self, west=self.west + dx, south=self.south + dy, boxes=boxes)

    def mirrored(self) -> Plan:
        """East and west exchanged."""
        boxes = tuple(
            replace(b, x=-(b.x + b.extent[0]), quarters=-b.quarters % 4) for b in self.boxes
        )
        door = self.door
        if door.wall in "SN":
            door = replace(door, at=self.width - door.at - door.width)
        else:
            door = replace(door, wall={"E": "W", "W": "E"}[door.wall])
        return replace(self, west=-(self.west + self.width), door=door, boxes=boxes)

    def turned(self) -> Plan:
        """A quarter turn counter-clockwise."""
        boxes = tuple(
            replace(b, x=-(b.y + b.extent[1]), y=b.x, quarters=(b.quarters + 1) % 4)
            for b in self.boxes
        )
        door = replace(self.door, wall=WALLS[(WALLS.index(self.door.wall) + 1) % 4])
        if self.door.wall in "EW":
            door = replace(door, at=self.depth - door.at - door.width)
        return Plan(
            -(self.south + self.depth), self.west, self.depth, self.width, self.height, door, boxes
        )

    def ordered(self, names: Iterable[str]) -> Plan:
        """The things in another order."""
        by_name = {b.name: b for b in self.boxes}
        return replace(self, boxes=tuple(by_name[name] for name in names))

    # --- as a file

    def text(self, unit: str = "mm", tape: str = "0") -> str:
        """The shop file, its numbers in mm or in decimal inches."""

        def n(mm: float) -> str:
            return f"{mm / (25.4 if unit == 'in' else 1.0):.12f} {unit}"

        w, s, e, t = self.west, self.south, self.west + self.width, self.south + self.depth
        corners = ", ".join(f"[{n(x)}, {n(y)}]" for x, y in ((w, s), (e, s), (e, t), (w, t)))
        wall = {"S": "south", "E": "east", "N": "north", "W": "west"}[self.door.wall]
        lines = [
            "shop: a random shop",
            "units: metric",
            f"tape: {tape}",
            f"room: {{corners: [{corners}], height: {n(self.height)}, wall thickness: {n(150)}}}",
            f"doors: {{way: {{wall: {wall}, at: {n(self.door.at)}, width: {n(self.door.width)}, "
            f"clear width: {n(self.door.width)}, height: {n(2100)}, kind: opening, "
            "leads to: outside}}",
            "equipment:",
        ]
        for b in self.boxes:
            stand = f", zones: {{front: {{side: front, depth: {n(b.stand)}}}}}" if b.stand else ""
            lines.append(
                f"  {b.name}: {{width: {n(b.width)}, depth: {n(b.depth)}, height: {n(b.top)}, "
                f"bottom: {n(b.bottom)}{stand}, "
                f"at: {{x: {n(b.x)}, y: {n(b.y)}, turn: {90 * b.quarters}}}}}"
            )
        return "\n".join(lines) + "\n"


def random_plan(random: Random, things: int = 5) -> Plan:
    """A shop in which some things are free, some in the way; numbers on a raster of 10 mm."""

    def of(low: int, high: int) -> float:
        return 10.0 * random.randint(low // 10, high // 10)

    width, depth = of(3000, 6000), of(3000, 6000)
    wall = random.choice(WALLS)
    room = width if wall in "SN" else depth
    door_width = of(700, 1200)
    door = Doorway(wall, of(0, int(room - door_width)), door_width)
    boxes = []
    for number in range(things):
        box = Box(
            f"thing {number}", of(300, 1500), of(300, 900),
            *random.choice(((0.0, 900.0), (0.0, 2000.0), (1200.0, 2000.0), (0.0, 600.0))),
            0.0, 0.0, random.randrange(4), random.choice((0.0, 600.0, 800.0)),
        )  # fmt: skip
        x, y = box.extent
        # now and then a little into a wall or a neighbour
        place = of(-50, int(width - x) + 50), of(-50, int(depth - y) + 50)
        boxes.append(replace(box, x=place[0], y=place[1]))
    return Plan(0.0, 0.0, width, depth, 2700.0, door, tuple(boxes))


def answers(judgement: Judgement) -> list[tuple[object, ...]]:
    """What a judgement says, without names and wording, in an order of its own."""
    rows = []
    for f in judgement.findings:
        margin = None if f.margin is None else round(f.margin, 6) + 0.0
        rows.append((f.check, f.rule, f.kind, f.task or "", f.verdict, margin))
    return sorted(rows, key=repr)
