"""The plan for drafting programs: DXF of release 12 (AC1009), the oldest that all of them read.

Release 12 has no header variable for the unit, so the file says it in its name, in a line of
text, and by a line of known length.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from pathlib import Path

from shapely.geometry import Polygon
from shapely.geometry.base import BaseGeometry

from floorplan.checks.judge import Judgement
from floorplan.drawing.notes import notes
from floorplan.shop import building
from floorplan.shop.edit import write_beside_then_replace
from floorplan.shop.scene import Element, Scene
from floorplan.units import System

# layer, colour number of the standard palette
LAYERS = (
    ("WALLS", 7), ("DOORS", 3), ("FIXED", 8), ("THINGS", 5), ("PARTS", 4), ("ZONES", 6),
    ("KEEP-CLEAR", 1), ("FINDINGS", 1), ("NAMES", 7), ("UNIT", 8),
)  # fmt: skip
UNIT = {System.IMPERIAL: ("in", 0.0254, 12, "1 ft"), System.METRIC: ("mm", 0.001, 1000, "1 m")}
"""Name of the unit, its size [m], length of the check line in it, and that length in words."""
LETTER = 0.08
"""Height of lettering [m]."""
Pairs = Iterator[tuple[int, str]]


def write_dxf(judgement: Judgement, out_dir: str | Path, name: str) -> tuple[Path, ...]:
    """`out_dir/name-in.dxf` or `-mm.dxf`, after its unit. Raises OSError."""
    unit = UNIT[judgement.shop.system][0]
    path = Path(out_dir) / f"{name}-{unit}.dxf"
    path.parent.mkdir(parents=True, exist_ok=True)
    write_beside_then_replace(path, dxf_text(judgement))
    return (path,)


def dxf_text(judgement: Judgement) -> str:
    """The plan as DXF; ASCII, the same judgement gives the same text."""
    drawing = _Drawing(UNIT[judgement.shop.system][1])
    pairs = [*_head(judgement.scene, drawing.size), *_entities(judgement, drawing), (0, "EOF")]
    return "".join(f"{code:>3}\n{value}\n" for code, value in pairs)


class _Drawing:
    """Entities in one unit of length [m]."""

    def __init__(self, size: float) -> None:
        self.size = size

    def number(self, metres: float) -> str:
        return f"{metres / self.size + 0.0:.6f}"

    def point(self, x: float, y: float) -> Pairs:
        yield 10, self.number(x)
        yield 20, self.number(y)
        yield 30, "0.0"

    def ring(self, layer: str, points: Sequence[Sequence[float]]) -> Pairs:
        """A closed polyline."""
        yield from ((0, "POLYLINE"), (8, layer), (66, "1"))
        yield from ((10, "0.0"), (20, "0.0"), (30, "0.0"), (70, "1"))
        for x, y, *_ in points:
            yield from ((0, "VERTEX"), (8, layer), *self.point(x, y))
        yield from ((0, "SEQEND"), (8, layer))

    def line(self, layer: str, start: tuple[float, float], end: tuple[float, float]) -> Pairs:
        yield from ((0, "LINE"), (8, layer), *self.point(*start))
        yield from ((11, self.number(end[0])), (21, self.number(end[1])), (31, "0.0"))

    def text(self, layer: str, at: tuple[float, float], words: str) -> Pairs:
        yield from ((0, "TEXT"), (8, layer), *self.point(*at))
        yield from ((40, self.number(LETTER)), (1, plain(words)))

    def shape(self, layer: str, geometry: BaseGeometry) -> Pairs:
        """Every ring of every polygon."""
        for part in getattr(geometry, "geoms", [geometry]):
            if isinstance(part, Polygon) and not part.is_empty:
                for ring in (part.exterior, *part.interiors):
                    yield from self.ring(layer, list(ring.coords)[:-1])


def plain(words: str) -> str:
    """Words in ASCII on one line; other characters as release 12 programs spell them."""
    safe = " ".join(words.split()).replace("%%", "% %")
    return "".join(c if " " <= c <= "~" else f"\\U+{ord(c) & 0xFFFF:04X}" for c in safe)


def _head(scene: Scene, size: float) -> Pairs:
    """Header with the extents, one line type, and the layers."""
    floor = scene.shop.room.floor.points / size
    low, high = floor.min(axis=0), floor.max(axis=0)
    yield from ((0, "SECTION"), (2, "HEADER"), (9, "$ACADVER"), (1, "AC1009"))
    for name, corner in (("$EXTMIN", low), ("$EXTMAX", high)):
        yield from ((9, name), (10, f"{corner[0]:.6f}"), (20, f"{corner[1]:.6f}"), (30, "0.0"))
    yield from ((0, "ENDSEC"), (0, "SECTION"), (2, "TABLES"))
    yield from ((0, "TABLE"), (2, "LTYPE"), (70, "1"), (0, "LTYPE"), (2, "CONTINUOUS"))
    yield from ((70, "0"), (3, "Solid line"), (72, "65"), (73, "0"), (40, "0.0"), (0, "ENDTAB"))
    yield from ((0, "TABLE"), (2, "LAYER"), (70, str(len(LAYERS))))
    for layer, colour in LAYERS:
        yield from ((0, "LAYER"), (2, layer), (70, "0"), (62, str(colour)), (6, "CONTINUOUS"))
    yield from ((0, "ENDTAB"), (0, "ENDSEC"))


def _entities(judgement: Judgement, drawing: _Drawing) -> Pairs:
    scene = judgement.scene
    yield from ((0, "SECTION"), (2, "ENTITIES"))
    yield from _building(scene, drawing)
    for element in _unlike(scene.elements):
        yield from drawing.shape(_layer(scene, element), element.volume.polygon)
    for elements in scene.things.values():
        middle = elements[0].volume.polygon.representative_point()
        yield from drawing.text("NAMES", (middle.x, middle.y), elements[0].owner)
    for note in notes(judgement.findings, judgement.shop.system):
        for place in note.places:
            spot = place.representative_point()
            yield from drawing.text("FINDINGS", (spot.x, spot.y), f"{note.number}: {note.text}")
    yield from _unit(scene, drawing)
    yield 0, "ENDSEC"


def _building(scene: Scene, drawing: _Drawing) -> Pairs:
    shop = scene.shop
    for piece in building.opened_walls(shop, [door.name for door in shop.doors]):
        if piece.volume.bottom.value < 1e-6:
            yield from drawing.shape("WALLS", piece.volume.polygon)
    for door in shop.doors:
        opening = building.doorway(shop, door)
        yield from drawing.shape("DOORS", opening)
        middle = opening.representative_point()
        yield from drawing.text("NAMES", (middle.x, middle.y), door.name)


def _unlike(elements: Iterable[Element]) -> Iterator[Element]:
    """Elements without those that look alike in plan, such as one zone in several tasks."""
    seen = set()
    for element in elements:
        key = (element.owner, element.nature, element.volume.polygon.wkb)
        if key not in seen:
            seen.add(key)
            yield element


def _layer(scene: Scene, element: Element) -> str:
    if element.nature == "keep-clear":
        return "KEEP-CLEAR"
    if element.nature != "solid":
        return "ZONES"
    if element.building:
        return "DOORS" if element.name == "open leaf" else "FIXED"
    if element.name != "body":
        return "PARTS"
    return "FIXED" if scene.shop.thing(element.owner).fixed else "THINGS"


def _unit(scene: Scene, drawing: _Drawing) -> Pairs:
    """The unit in words, and a line to measure."""
    unit, size, count, words = UNIT[scene.shop.system]
    low = scene.shop.room.floor.points.min(axis=0)
    x, y = float(low[0]), float(low[1]) - scene.shop.room.wall_thickness.value - 4 * LETTER
    yield from drawing.line("UNIT", (x, y), (x + count * size, y))
    text = f"Unit: 1 = 1 {unit}. The line above is {words} = {count} {unit}."
    yield from drawing.text("UNIT", (x, y - 2 * LETTER), text)
