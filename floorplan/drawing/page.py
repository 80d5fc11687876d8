"""A real sheet of paper: axes in paper millimetres, saved to the same bytes each time."""

from __future__ import annotations

import io
from collections.abc import Sequence
from dataclasses import dataclass, field
from math import cos, radians, sin
from pathlib import Path
from typing import Any

from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.backends.backend_pdf import PdfPages
from matplotlib.figure import Figure
from matplotlib.lines import Line2D
from matplotlib.patches import PathPatch
from matplotlib.path import Path as Outline
from matplotlib.text import Text
from shapely import box as rectangle
from shapely.geometry.base import BaseGeometry
from shapely.geometry.polygon import orient

from floorplan.drawing.lettering import CAPITALS, printable, text_width
from floorplan.drawing.placing import Box
from floorplan.drawing.style import BLACK, LIGHT, POINTS, TEXT_SIZE, WHITE, drawing_defaults, font
from floorplan.shop.edit import write_beside_then_replace

FORMATS = ("svg", "pdf", "png")
PNG_DPI = 150.0
MARGIN = 10.0
"""Free edge of a sheet [mm]; ISO 5457 frame of the small sheets."""


@dataclass(frozen=True, slots=True)
class Paper:
    """A sheet size, upright."""

    name: str
    width: float
    """Short side [mm]."""
    height: float
    """Long side [mm]."""


# ASME Y14.1 and ISO 216 trimmed sizes; the architects' sizes are common practice
INCH_PAPERS = (
    Paper("Letter", 215.9, 279.4),
    Paper("11 x 17 in", 279.4, 431.8),
    Paper("17 x 22 in", 431.8, 558.8),
)
METRIC_PAPERS = (
    Paper("A4", 210.0, 297.0),
    Paper("A3", 297.0, 420.0),
    Paper("A2", 420.0, 594.0),
)
PAPERS: dict[str, Paper] = {
    "letter": INCH_PAPERS[0],
    "tabloid": INCH_PAPERS[1],
    "arch-b": Paper("12 x 18 in", 304.8, 457.2),
    "ansi-c": INCH_PAPERS[2],
    "arch-c": Paper("18 x 24 in", 457.2, 609.6),
    "ansi-d": Paper("22 x 34 in", 558.8, 863.6),
    "arch-d": Paper("24 x 36 in", 609.6, 914.4),
    "a4": METRIC_PAPERS[0],
    "a3": METRIC_PAPERS[1],
    "a2": METRIC_PAPERS[2],
    "a1": Paper("A1", 594.0, 841.0),
}
"""Papers as one asks for them, in inches and metric, each row from small to large."""


class OneLine(Text):
    """A text of one line, anchored at the left end of its baseline.

    It needs no layout when drawn, which makes sheets with much lettering twice as fast.
    """

    def draw(self, renderer: Any) -> None:
        """Set the line."""
        if not self.get_visible() or not self.get_text():
            return
        x, y = self.get_transform().transform(self.get_position())
        if renderer.flipy():
            y = renderer.get_canvas_width_height()[1] - y
        gc = renderer.new_gc()
        gc.set_foreground(self.get_color())
        renderer.open_group("text", self.get_gid())
        renderer.draw_text(
            gc, x, y, self.get_text(), self.get_fontproperties(), self.get_rotation(), ismath=False
        )
        renderer.close_group("text")
        gc.restore()
        self.stale = False


@dataclass(slots=True)
class Page:
    """One sheet to draw on; coordinates in millimetres from its lower left corner."""

    width: float
    """[mm]"""
    height: float
    """[mm]"""
    title: str = ""
    rest: tuple[Any, ...] = ()
    """Rows of text that found no room and go on on the next sheet."""
    figure: Figure = field(init=False)
    axes: Any = field(init=False)

    def __post_init__(self) -> None:
        with drawing_defaults(self.title):
            self.figure = Figure(figsize=(self.width / 25.4, self.height / 25.4))
            FigureCanvasAgg(self.figure)
            self.axes = self.figure.add_axes((0.0, 0.0, 1.0, 1.0))
            self.axes.set_xlim(0.0, self.width)
            self.axes.set_ylim(0.0, self.height)
            self.axes.axis("off")

    @property
    def box(self) -> Box:
        """The whole sheet [mm]."""
        return Box(0.0, 0.0, self.width, self.height)

    def text(
        self,
        x: float,
        y: float,
        text: str,
        *,
        size: float = TEXT_SIZE,
        bold: bool = False,
        colour: str = BLACK,
        ha: str = "left",
        middle: bool = False,
        turn: float = 0.0,
        z: float = 20.0,
        gid: str | None = None,
    ) -> Text:
        """A line of text at a point [mm] on its baseline, or in the middle of its capitals."""
        shown = printable(text)
        c, s = cos(radians(turn)), sin(radians(turn))
        back = {"left": 0.0, "center": 0.5, "right": 1.0}[ha] * text_width(shown, size, bold)
        down = CAPITALS / 2 * size / POINTS if middle else 0.0
        artist = OneLine(
            x - back * c + down * s, y - back * s - down * c, shown,
            fontproperties=font(size, bold), color=colour, rotation=turn,
            rotation_mode="anchor", ha="left", va="baseline", zorder=z, parse_math=False,
        )  # fmt: skip
        if gid:
            artist.set_gid(gid)
        self.axes.add_artist(artist)
        artist.set_clip_on(False)
        return artist

    def clear(self, at: Box, z: float = 19.0) -> None:
        """Lay white over an area, so that no line or hatch crosses the lettering to come."""
        self.area(
            rectangle(at.left, at.bottom, at.right, at.top),
            face=WHITE, edge="none", width=0.0, alpha=0.8, z=z,
        )  # fmt: skip

    def line(
        self,
        points: Sequence[tuple[float, float]],
        *,
        width: float = LIGHT,
        colour: str = BLACK,
        dashes: tuple[float, ...] = (),
        z: float = 10.0,
        gid: str | None = None,
    ) -> None:
        """A line through points [mm]; width in points, dashes in line widths."""
        x, y = zip(*points, strict=True)
        artist = Line2D(
            x, y, linewidth=width, color=colour, zorder=z,
            linestyle=(0, dashes) if dashes else "-", solid_capstyle="butt", dash_capstyle="butt",
        )  # fmt: skip
        if gid:
            artist.set_gid(gid)
        self.axes.add_line(artist)

    def area(
        self,
        shape: BaseGeometry,
        *,
        face: str = "none",
        edge: str = BLACK,
        width: float = LIGHT,
        hatch: str = "",
        alpha: float = 1.0,
        dashes: tuple[float, ...] = (),
        z: float = 2.0,
        gid: str | None = None,
    ) -> None:
        """Polygons already in paper millimetres; `alpha` thins face and hatch."""
        path = outline_of(shape)
        if path is None:
            return
        patch = PathPatch(
            path, facecolor=face, edgecolor=edge, linewidth=width, zorder=z, alpha=alpha,
            hatch=hatch or None, linestyle=(0, dashes) if dashes else "-", joinstyle="miter",
        )  # fmt: skip
        if gid:
            patch.set_gid(gid)
        self.axes.add_patch(patch)


def outline_of(shape: BaseGeometry) -> Outline | None:
    """All polygons of a geometry as one path, holes wound the other way; None when it has none."""
    points: list[tuple[float, float]] = []
    codes: list[Any] = []
    for part in getattr(shape, "geoms", [shape]):
        if part.geom_type != "Polygon" or part.is_empty:
            continue
        whole = orient(part)
        for ring in (whole.exterior, *whole.interiors):
            corners = [(float(x), float(y)) for x, y in ring.coords]
            points.extend(corners)
            codes.extend(
                [Outline.MOVETO, *[Outline.LINETO] * (len(corners) - 2), Outline.CLOSEPOLY]
            )
    return Outline(points, codes) if points else None


_METADATA: dict[str, dict[str, Any]] = {
    "svg": {"Date": None, "Creator": None},
    "pdf": {"CreationDate": None, "Creator": None, "Producer": None},
    "png": {"Software": None},
}

_OPTIONS: dict[str, dict[str, Any]] = {
    "svg": {},
    "pdf": {},
    # packs a little less and three times as fast
    "png": {"pil_kwargs": {"compress_level": 3}},
}


def save(page: Page, stem: str | Path, formats: Sequence[str] = FORMATS) -> tuple[Path, ...]:
    """Write the sheet as `stem.svg`, `.pdf`, `.png`; the same input gives the same bytes.

    The page is never trimmed: it prints at true scale.  Raises OSError, and ValueError for a
    format other than these.
    """
    written = []
    for kind in formats:
        if kind not in FORMATS:
            raise ValueError(f"drawings are written as {', '.join(FORMATS)}, not {kind}")
        path = Path(stem).with_name(f"{Path(stem).name}.{kind}")
        path.parent.mkdir(parents=True, exist_ok=True)
        write_beside_then_replace(path, rendered(page, kind))
        written.append(path)
    return tuple(written)


def bound(pages: Sequence[Page], title: str) -> bytes:
    """All sheets as one PDF, each of its own size; the same input gives the same bytes."""
    out = io.BytesIO()
    with (
        drawing_defaults(title),
        PdfPages(out, metadata={**_METADATA["pdf"], "Title": title}) as book,
    ):
        for page in pages:
            page.figure.savefig(book, format="pdf")
    return out.getvalue()


def rendered(page: Page, kind: str) -> bytes:
    """The sheet in one format as bytes."""
    out = io.BytesIO()
    metadata = dict(_METADATA[kind])
    if kind != "png":
        metadata["Title"] = page.title
    with drawing_defaults(page.title):
        page.figure.savefig(out, format=kind, metadata=metadata, dpi=PNG_DPI, **_OPTIONS[kind])
    return out.getvalue()
