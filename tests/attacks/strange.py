"""Shops drawn at random that are as odd as the form of the file allows: every shape and unit."""

from __future__ import annotations

from math import cos, pi, sin
from random import Random
from typing import Any

import yaml

INCH = 0.0254
HAIRS = (0.0, 0.0, 1e-9, -1e-9, 1e-6, 1e-5, -1e-5, 0.0005)
"""What a place may be off a neighbour's face [m]."""


def length(random: Random, metres: float) -> str:
    """A length as one of many hands would write it."""
    how = random.randrange(5)
    if how == 0:
        return f"{metres * 1000:.6f} mm"
    if how == 1:
        return f"{metres * 100:.7f} cm"
    if how == 2:
        return f"{metres:.9f} m"
    inches = metres / INCH
    if how == 3 and metres >= 0:
        feet = int(inches // 12)
        return f"{feet}' {inches - 12 * feet:.8f}\""
    return f"{inches:.8f} in"


class StrangeShop:
    """One random shop file; `text` is YAML."""

    def __init__(self, random: Random, things: int) -> None:
        self.random = random
        self.things = things
        self.width = random.uniform(1.8, 20.0)
        self.depth = random.uniform(1.7, 20.0)
        self.height = random.uniform(2.1, 4.0)
        self.names: list[str] = []
        self.doors: list[str] = []

    def n(self, metres: float) -> str:
        return length(self.random, metres)

    # --- the room

    def corners(self) -> list[tuple[float, float]]:
        r, w, d = self.random, self.width, self.depth
        shape = r.choice(("box", "box", "L", "T", "many", "turned", "doubled"))
        box = [(0.0, 0.0), (w, 0.0), (w, d), (0.0, d)]
        if shape == "L":
            x, y = w * r.uniform(0.4, 0.8), d * r.uniform(0.4, 0.8)
            return [(0, 0), (w, 0), (w, y), (x, y), (x, d), (0, d)]
        if shape == "T":
            x, y = w * 0.3, d * 0.5
            return [(0, 0), (w, 0), (w, y), (w - x, y), (w - x, d), (x, d), (x, y), (0, y)]
        if shape == "many":
            count = r.randint(5, 12)
            turn = r.uniform(0, pi)
            ring = [turn + 2 * pi * k / count for k in range(count)]
            return [(w / 2 + w / 2 * cos(a), d / 2 + d / 2 * sin(a)) for a in ring]
        if shape == "turned":
            a = r.uniform(0.05, 0.7)
            return [(x * cos(a) - y * sin(a), x * sin(a) + y * cos(a)) for x, y in box]
        if shape == "doubled":
            return [(0, 0), (w / 2, 0), (w, 0), (w, d / 3), (w, d), (0, d)]
        return box

    def room(self) -> dict[str, Any]:
        r = self.random
        room: dict[str, Any] = {"height": self.n(self.height)}
        self.shape = self.corners()
        if len(self.shape) == 4 and r.random() < 0.7:
            room["size"] = [self.n(self.width), self.n(self.depth)]
            self.shape = [(0, 0), (self.width, 0), (self.width, self.depth), (0, self.depth)]
        else:
            room["corners"] = [[self.n(x), self.n(y)] for x, y in self.shape]
        if r.random() < 0.3:
            room["posts"] = {"post": self._post()}
        if r.random() < 0.2:
            ends = [[self.n(self.width * a), self.n(self.depth * b)] for a, b in
                    ((0.2, 0.5), (r.uniform(0.4, 0.7), 0.5))]  # fmt: skip
            wall = {"from": ends[0], "to": ends[1], "thickness": self.n(0.1)}
            room["partitions"] = {"partition": wall}
        if r.random() < 0.2:
            beam = {"from": [self.n(0), self.n(self.depth * 0.4)],
                    "to": [self.n(self.width), self.n(self.depth * 0.4)],
                    "width": self.n(0.15), "bottom": self.n(self.height - 0.25)}  # fmt: skip
            room["beams"] = {"beam": beam}
        if r.random() < 0.2:
            at = [self.n(self.width * 0.4), self.n(self.depth * 0.4)]
            room["keep clear"] = {"hatch": {"at": at, "size": [self.n(0.4), self.n(0.4)]}}
        return room

    def _post(self) -> dict[str, Any]:
        r = self.random
        at = [self.n(self.width * r.uniform(0.3, 0.6)), self.n(self.depth * r.uniform(0.3, 0.6))]
        if r.random() < 0.5:
            return {"at": at, "diameter": self.n(0.1)}
        return {"at": at, "size": [self.n(0.1), self.n(0.1)]}

    def openings(self) -> dict[str, Any]:
        r = self.random
        doors: dict[str, Any] = {}
        if r.random() < 0.85:
            clear = r.uniform(0.6, min(1.2, 0.6 * self.width))
            doors["way"] = {
                "wall": "south", "at": self.n(0.05), "width": self.n(clear),
                "height": self.n(2.0), "leads to": "outside",
                "kind": r.choice(("hinged", "sliding", "opening")),
                **({"swing": r.choice(("in", "out"))} if r.random() < 0.5 else {}),
            }  # fmt: skip
            if doors["way"]["kind"] != "hinged":
                doors["way"].pop("swing", None)
        if self.width > 5 and len(self.shape) == 4 and r.random() < 0.5:
            doors["big"] = {"wall": "south", "at": self.n(1.6), "width": self.n(2.7),
                            "height": self.n(2.05), "kind": "overhead",
                            "leads to": "outside"}  # fmt: skip
        self.doors = list(doors)
        return doors

    # --- things

    def equipment(self) -> dict[str, Any]:
        out: dict[str, Any] = {}
        west, south = min(x for x, _ in self.shape), min(y for _, y in self.shape)
        east, north = max(x for x, _ in self.shape), max(y for _, y in self.shape)
        x, y, row = west, south + 0.9, 0.0
        for number in range(self.things):
            name = f"thing {number}"
            thing, wide, deep = self._thing()
            if x + wide > east:
                x, y, row = west, y + row + self.random.uniform(0.3, 1.0), 0.0
            if self.random.random() < 0.9 and y + deep < north:
                hair = self.random.choice(HAIRS)
                thing["at"] = {"x": self.n(x + hair), "y": self.n(y)}
                if self.random.random() < 0.4:
                    thing["at"]["turn"] = self.random.choice((0, 90, 180, 270, 30, 45.5, 7))
                x, row = x + wide, max(row, deep)
                if self.random.random() < 0.5:
                    x += self.random.uniform(0.2, 1.0)
            out[name] = thing
            self.names.append(name)
        return out

    def _thing(self) -> tuple[dict[str, Any], float, float]:
        r = self.random
        if r.random() < 0.2:
            kind = r.choice(("drill press", "planer", "router table", "workbench", "band saw",
                             "shop vacuum", "contractor table saw"))  # fmt: skip
            return {"kind": kind}, 1.0, 0.8
        wide = r.choice((0.002, 0.05, 0.3, 0.5, 0.8, 1.2, r.uniform(0.2, 1.5)))
        deep = r.choice((0.003, 0.2, 0.4, 0.6, r.uniform(0.2, 0.9)))
        top = r.choice((0.01, 0.6, 0.9, 0.9005, 1.5, 2.0))
        thing: dict[str, Any] = {"height": self.n(top)}
        if r.random() < 0.15 and wide > 0.2 and deep > 0.15:
            thing["outline"] = [[self.n(a * wide), self.n(b * deep)] for a, b in r.choice((
                ((0, 0), (0.5, 0), (1, 0), (1, 1), (0, 1)),
                ((0, 0), (1, 0), (1, 0.4), (0.4, 0.4), (0.4, 1), (0, 1)),
                ((0, 0), (1, 0), (0.5, 1)),
                ((0, 1), (1, 1), (1, 0), (0, 0)),
            ))]  # fmt: skip
        else:
            thing |= {"width": self.n(wide), "depth": self.n(deep)}
        if top > 1 and r.random() < 0.3:
            thing["bottom"] = self.n(top - 0.4)
        if r.random() < 0.3:
            thing["zones"] = {"stand": {"side": r.choice(("front", "back", "left", "right")),
                                        "depth": self.n(r.choice((0.0005, 0.4, 0.6)))}}  # fmt: skip
        if wide > 0.4 and top > 0.5 and "bottom" not in thing and r.random() < 0.2:
            thing["drawers"] = {"drawer": {
                "side": "front", "at": self.n(0.05), "width": self.n(0.3), "travel": self.n(0.4),
                "bottom": self.n(0.2), "top": self.n(0.4)}}  # fmt: skip
        if r.random() < 0.2:
            thing["may"] = r.choice(("stay", "move", "move and turn"))
        return thing, wide, deep

    # --- the file

    def text(self) -> str:
        r = self.random
        file: dict[str, Any] = {
            "shop": "a strange shop",
            "units": r.choice(("feet and inches", "metric", "mm", "in")),
            "tape": r.choice(("0", "1/8 in", "3 mm")),
            "room": self.room(),
        }
        doors = self.openings()
        if doors:
            file["doors"] = doors
        file["equipment"] = self.equipment()
        if self.doors and r.random() < 0.4:
            file["stock"] = {"sheet": {"length": self.n(r.choice((1.2, 2.44))),
                                       "width": self.n(r.choice((0.3, 1.22))),
                                       "thickness": self.n(0.018)}}  # fmt: skip
            stands = [n for n in self.names if "at" in file["equipment"][n]]
            if stands:
                end = r.choice(stands)
                job = {"carry": [{"stock": "sheet", "from": self.doors[0], "to": end}],
                       "walk": [{"from": self.doors[0], "to": end, "times": 3}]}  # fmt: skip
                file["jobs"] = {"job": job}
        if r.random() < 0.1:
            file["people"] = 2
        return yaml.safe_dump(file, sort_keys=False, width=200)
