"""The text of a rule's value to a number in SI units, lengths and masses by way of `units`."""

import re
from collections.abc import Callable, Mapping

from floorplan.units import (
    UnitError,
    parse_angle,
    parse_density,
    parse_duration,
    parse_length,
    parse_mass,
    parse_number,
    parse_pressure,
    parse_speed,
)

_SQUARE_OF = {"sq ft": "ft", "ft2": "ft", "sq in": "in", "in2": "in", "sq m": "m", "m2": "m"}
_FOOT = float(parse_length("1 ft"))


def _scaled(sizes: Mapping[str, float], likes: str) -> Callable[[str], float]:
    """Make a reader of numbers in one of the units of `sizes`, each with its size in SI."""

    def read(text: str) -> float:
        number, _, unit = text.strip().partition(" ")
        if unit.strip() not in sizes:
            raise UnitError(f"`{text.strip()}` is not written like {likes}")
        return parse_number(number) * sizes[unit.strip()]

    return read


def _share(text: str) -> float:
    """Read a percentage or a fraction; a bare number might be either, so it is refused."""
    percent = re.fullmatch(r"\s*([0-9.]+)\s*%\s*", text)
    if percent:
        return parse_number(percent[1]) / 100
    if "/" in text:
        return parse_number(text)
    raise UnitError(f"`{text.strip()}` is not a share; write it like `25 %` or `1/4`")


_READERS: dict[str, Callable[[str], float]] = {
    "m2": _scaled(
        {unit: float(parse_length(f"1 {side}")) ** 2 for unit, side in _SQUARE_OF.items()},
        "`200 sq ft` or `1.5 m2`",
    ),
    "deg": parse_angle,
    "share": _share,
    "count": parse_number,
    "kg": parse_mass,
    "kg/m3": parse_density,
    "s": parse_duration,
    "dB": _scaled({"dB": 1.0, "dBA": 1.0}, "`85 dB`"),
    "m3/s": _scaled({"cfm": _FOOT**3 / 60, "m3/h": 1 / 3600, "m3/s": 1.0}, "`1500 cfm`"),
    "m/s": parse_speed,
    "Pa": parse_pressure,
    "K": _scaled({"F": 5 / 9, "C": 1.0, "K": 1.0}, "`50 F` or `25 K`, a difference"),
    "ohm/m": _scaled({"ohm/1000 ft": 1 / (1000 * _FOOT), "ohm/m": 1.0}, "`2 ohm/1000 ft`"),
}
"""For each unit but the metre, what reads it."""

UNITS = ("m", *_READERS)
"""Every unit that a rule or a table column can have."""


def parse_quantity(text: str, unit: str, default: str | None = None) -> float:
    """Value of the text in SI; a share as a number from 0 to 1, an angle in degrees.

    Args:
        text: as a person writes it: `28 in`, `200 sq ft`, `3 %`, `23 kg`.
        unit: what it has to be, one of `UNITS`.
        default: unit of a bare number where a length is wanted; None refuses bare numbers.

    Raises:
        UnitError: the text is no such quantity.

    """
    if unit == "m":
        return float(parse_length(text, default))
    return _READERS[unit](text)
