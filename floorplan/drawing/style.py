"""One drawing language for every sheet: colours, line widths, hatches, letters and lettering.

Colours are the colour-blind-safe set of eight of "Color Universal Design" (M. Okabe and K. Ito,
2002, revised 2008, jfly.uni-koeln.de/color).  Nothing is told by colour alone: zones carry a
letter and a hatch, findings a number.  Line widths are steps of the ISO 128 row.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path

import matplotlib
from matplotlib.font_manager import FontProperties

BLACK = "#000000"
ORANGE = "#E69F00"
SKY = "#56B4E9"
GREEN = "#009E73"
YELLOW = "#F0E442"
BLUE = "#0072B2"
VERMILLION = "#D55E00"
PURPLE = "#CC79A7"
WHITE = "#FFFFFF"
ALERT = VERMILLION
"""Whatever fails; used for nothing else."""

POINTS = 72.0 / 25.4
"""Points in a millimetre."""


def pt(millimetres: float) -> float:
    """Width of a line [mm] in points."""
    return millimetres * POINTS


HEAVY = pt(0.5)
MEDIUM = pt(0.35)
LIGHT = pt(0.25)
THIN = pt(0.18)
FINE = pt(0.13)

TITLE_SIZE = 11.0
HEAD_SIZE = 8.0
NAME_SIZE = 7.0
TEXT_SIZE = 6.5
SMALL_SIZE = 6.0
"""Smallest lettering on any sheet [pt]."""


def tint(colour: str, share: float) -> str:
    """`colour` thinned with white; 1 is the colour itself."""
    parts = (int(colour[i : i + 2], 16) for i in (1, 3, 5))
    return "#" + "".join(f"{round(255 - (255 - part) * share):02X}" for part in parts)


WALL_FACE = tint(BLACK, 0.62)
MACHINE_FACE = tint(SKY, 0.34)
FURNITURE_FACE = tint(ORANGE, 0.24)
FIXED_FACE = tint(BLACK, 0.22)


@dataclass(frozen=True, slots=True)
class ZoneStyle:
    """How a use zone or keep-clear is drawn."""

    letter: str
    meaning: str
    colour: str
    hatch: str


ZONES: dict[str, ZoneStyle] = {
    "stand": ZoneStyle("S", "standing place", GREEN, "/"),
    "infeed": ZoneStyle("I", "infeed, at table height", BLUE, "-"),
    "outfeed": ZoneStyle("O", "outfeed, at table height", BLUE, "|"),
    "push": ZoneStyle("U", "pushing room", SKY, "/"),
    "drawer": ZoneStyle("D", "drawer or door, open", PURPLE, "\\"),
    "door": ZoneStyle("D", "drawer or door, open", PURPLE, "\\"),
    "pull-out": ZoneStyle("P", "pull-out", ORANGE, "\\\\"),
    "service": ZoneStyle("V", "service side", BLACK, "."),
    "clamp": ZoneStyle("C", "clamping room", PURPLE, "-"),
    "reach": ZoneStyle("R", "within reach", SKY, "."),
}
KEEP_CLEAR = ZoneStyle("K", "keep clear at all times", BLACK, "xx")
OTHER_ZONE = ZoneStyle("Z", "room for a task", GREEN, ".")
FED = frozenset({"infeed", "push", "outfeed"})


def zone_style(purpose: str) -> ZoneStyle:
    """Style of a purpose; an unknown one gets the common style."""
    return ZONES.get(purpose, OTHER_ZONE)


_FONTS = Path(matplotlib.get_data_path()) / "fonts" / "ttf"
_FILES = {False: "DejaVuSans.ttf", True: "DejaVuSans-Bold.ttf"}


@lru_cache(maxsize=64)
def font(size: float, bold: bool = False) -> FontProperties:
    """The bundled face at a size [pt]; by file, so that no installed font takes over."""
    return FontProperties(fname=str(_FONTS / _FILES[bold]), size=size)


HINTING = "no_hinting"
"""Widths of lettering grow evenly with the resolution."""


@contextmanager
def drawing_defaults(salt: str = "") -> Iterator[None]:
    """Settings under which drawings are made and saved, whatever the user's own settings are.

    `salt` keeps the ids of two drawings apart when both are set into one page.
    """
    with matplotlib.rc_context():
        matplotlib.rcdefaults()
        matplotlib.rcParams.update(
            {
                "svg.hashsalt": f"floorplan {salt}",
                "svg.fonttype": "path",
                "pdf.fonttype": 3,  # the other kind subsets the whole face, which takes a second
                "hatch.linewidth": FINE,
                "path.simplify": False,
                "text.hinting": HINTING,
                "text.usetex": False,
            }
        )
        yield
