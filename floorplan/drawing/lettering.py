"""Lettering: how large a text is on paper, how it wraps, and which characters can be drawn."""

from __future__ import annotations

from functools import cache, lru_cache

import matplotlib
from matplotlib.backends.backend_agg import RendererAgg
from matplotlib.font_manager import get_font

from floorplan.drawing.style import HINTING, POINTS, font

LINE = 1.25
"""Height of a line of text over its size [-]."""
CAPITALS = 0.73
"""Height of capitals over the size, of the bundled face [-]."""
_DPI = 576.0  # fine enough that hinting to whole pixels does not matter


@cache
def _renderer() -> RendererAgg:
    return RendererAgg(16, 16, _DPI)  # type: ignore[no-untyped-call]


@lru_cache(maxsize=4096)
def printable(text: str) -> str:
    """The text with every character the face lacks replaced, so that nothing vanishes silently."""
    face = get_font(str(font(10.0).get_file()))
    return "".join(
        c if face.get_char_index(ord(c)) else ("\ufffd" if c.isprintable() else " ") for c in text
    )


def text_width(text: str, size: float, bold: bool = False) -> float:
    """Width of one line of text [mm] at a size [pt]."""
    if not text:
        return 0.0
    return _width_at_ten(printable(text), bold) * size / 10.0


@lru_cache(maxsize=16384)
def _width_at_ten(text: str, bold: bool) -> float:
    # the same whoever asks first: a whole change of settings would take longer than measuring
    before = matplotlib.rcParams["text.hinting"]
    matplotlib.rcParams["text.hinting"] = HINTING
    try:
        width, _, _ = _renderer().get_text_width_height_descent(  # type: ignore[no-untyped-call]
            text, font(10.0, bold), ismath=False
        )
    finally:
        matplotlib.rcParams["text.hinting"] = before
    return float(width) * 25.4 / _DPI


def line_height(size: float) -> float:
    """Height of a line [mm] at a size [pt]."""
    return size * LINE / POINTS


def wrapped(text: str, width: float, size: float, bold: bool = False) -> tuple[str, ...]:
    """The text in lines no wider than `width` [mm]; words longer than that are broken."""
    lines: list[str] = []
    current = ""
    for word in text.split():
        trial = f"{current} {word}" if current else word
        if text_width(trial, size, bold) <= width:
            current = trial
            continue
        if current:
            lines.append(current)
        while text_width(word, size, bold) > width and len(word) > 1:
            head = _longest_start(word, width, size, bold)
            lines.append(head)
            word = word[len(head) :]
        current = word
    return (*lines, current) if current or not lines else tuple(lines)


def shortened(text: str, width: float, size: float, bold: bool = False) -> str:
    """The text, cut with an ellipsis when it is wider than `width` [mm]."""
    if text_width(text, size, bold) <= width:
        return text
    room = width - text_width("…", size, bold)
    return _longest_start(text, room, size, bold).rstrip() + "…"


def _longest_start(text: str, width: float, size: float, bold: bool) -> str:
    low, high = 1, len(text)
    while low < high:
        middle = (low + high + 1) // 2
        if text_width(text[:middle], size, bold) <= width:
            low = middle
        else:
            high = middle - 1
    return text[:low]
