"""Text to SI and back; the one tolerance and the one comparison of the whole program.

The only module that knows feet and inches. Texts are parsed to exact fractions: the inch is
25.4 mm and the pound 0.45359237 kg by definition (international yard and pound agreement, 1959).
"""

from __future__ import annotations

import math
import re
from collections.abc import Mapping
from dataclasses import dataclass
from difflib import get_close_matches
from enum import Enum
from fractions import Fraction
from itertools import pairwise
from typing import Literal

TOLERANCE = 1e-5
"""Lengths closer than this are equal [m]."""

Rounding = Literal["nearest", "down", "up"]


def at_least(have: float, need: float, tolerance: float = TOLERANCE) -> bool:
    """Whether `have` [m] reaches `need` [m]; exactly enough is enough."""
    return have >= need - tolerance


class UnitError(ValueError):
    """A text that is not the quantity it should be.

    `message` says what is wrong and what would be right; `position` is the 0-based character.
    """

    def __init__(self, message: str, position: int = 0) -> None:
        super().__init__(message)
        self.message = message
        self.position = position


class System(Enum):
    """The units in which a reader wants to see sizes."""

    IMPERIAL = "imperial"
    METRIC = "metric"


# --- units and their spellings ---------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class _Unit:
    short: str
    plural: str
    family: str
    size: Fraction  # in SI


_INCH = _Unit("in", "inches", "feet and inches", Fraction(254, 10_000))
_FOOT = _Unit("ft", "feet", "feet and inches", 12 * _INCH.size)
_MILLIMETRE = _Unit("mm", "millimetres", "metric", Fraction(1, 1000))
_CENTIMETRE = _Unit("cm", "centimetres", "metric", Fraction(1, 100))
_METRE = _Unit("m", "metres", "metric", Fraction(1))
_POUND = Fraction(45_359_237, 100_000_000)


def _spellings(*rows: tuple[_Unit, str]) -> dict[str, _Unit]:
    return {word: unit for unit, words in rows for word in words.split(",")}


_LENGTHS = _spellings(
    (_FOOT, "ft,',foot,feet"),
    (_INCH, "in,\",'',inch,inches"),
    (_MILLIMETRE, "mm,millimetre,millimetres,millimeter,millimeters"),
    (_CENTIMETRE, "cm,centimetre,centimetres,centimeter,centimeters"),
    (_METRE, "m,metre,metres,meter,meters"),
)
_ANGLES = _spellings((_Unit("deg", "degrees", "degrees", Fraction(1)), "deg,°,degree,degrees"))
_MASSES = _spellings(
    (_Unit("kg", "kilograms", "metric", Fraction(1)), "kg,kilogram,kilograms"),
    (_Unit("lb", "pounds", "pounds", _POUND), "lb,lbs,pound,pounds"),
)
_DENSITIES = _spellings(
    (_Unit("kg/m3", "kg/m3", "metric", Fraction(1)), "kg/m3"),
    (_Unit("lb/ft3", "lb/ft3", "pounds", _POUND / _FOOT.size**3), "lb/ft3,lbs/ft3,lb/cuft"),
)
_FLOWS = _spellings(
    (_Unit("cfm", "ft3/min", "feet and inches", _FOOT.size**3 / 60), "cfm,ft3/min,cuft/min"),
    (_Unit("m3/h", "m3/h", "metric", Fraction(1, 3600)), "m3/h,m3/hr"),
    (_Unit("m3/s", "m3/s", "metric", Fraction(1)), "m3/s"),
    (_Unit("l/s", "l/s", "metric", Fraction(1, 1000)), "l/s"),
)
# the inch of water at 4 degrees C, 249.08891 Pa
_INCH_WATER = _Unit("in wg", "inches of water", "feet and inches", Fraction(24_908_891, 100_000))
_PRESSURES = _spellings(
    (_INCH_WATER, 'inwg,inwc,"wg,"wc'),
    (_Unit("Pa", "pascals", "metric", Fraction(1)), "pa,pascal,pascals"),
    (_Unit("kPa", "kilopascals", "metric", Fraction(1000)), "kpa"),
)
_SPEEDS = _spellings(
    (_Unit("fpm", "ft/min", "feet and inches", _FOOT.size / 60), "fpm,ft/min"),
    (_Unit("m/s", "m/s", "metric", Fraction(1)), "m/s"),
)
_POWERS = _spellings(
    (_Unit("W", "watts", "metric", Fraction(1)), "w,watt,watts"),
    (_Unit("kW", "kilowatts", "metric", Fraction(1000)), "kw"),
    (_Unit("hp", "horsepower", "feet and inches", Fraction(74_569_987, 100_000)), "hp"),
)
_DURATIONS = _spellings(
    (_Unit("days", "days", "time", Fraction(86_400)), "days,day,d"),
    (_Unit("h", "hours", "time", Fraction(3600)), "h,hour,hours,hr,hrs"),
    (_Unit("min", "minutes", "time", Fraction(60)), "min,minute,minutes,mins"),
    (_Unit("s", "seconds", "time", Fraction(1)), "s,sec,second,seconds"),
)

# --- reading ---------------------------------------------------------------------------------

_ONE_CHARACTER_FRACTIONS = (
    "½1/2 ⅓1/3 ⅔2/3 ¼1/4 ¾3/4 ⅕1/5 ⅖2/5 ⅗3/5 ⅘4/5 ⅙1/6 ⅚5/6 ⅐1/7 ⅛1/8 ⅜3/8 ⅝5/8 ⅞7/8"
)
_VULGAR = {row[0]: Fraction(row[1:]) for row in _ONE_CHARACTER_FRACTIONS.split()}
# One character for one, so that positions in the plain text are positions in the typed one.
_PLAIN = str.maketrans("′’‘´″”“„−‐‑–⁄\u00a0\u2009\u202f", "''''\"\"\"\"----/   ")

_NUMBER = re.compile(
    rf"""(?P<whole>[0-9]+)(?:-|\s+)(?P<top>[0-9]+)\s*/\s*(?P<bottom>[0-9]+)
    |(?P<whole_vulgar>[0-9]+)?(?(whole_vulgar)(?:-|\s*))(?P<vulgar>[{"".join(_VULGAR)}])
    |(?P<top_alone>[0-9]+)\s*/\s*(?P<bottom_alone>[0-9]+)
    |(?P<decimal>[0-9]+\.[0-9]+|\.[0-9]+|[0-9]+)""",
    re.VERBOSE,
)
_UNIT = re.compile(
    r"(?:in\.?|\")\s*w\.?[gc]\.?"  # of water
    r"|''|[\"'°]"
    r"|[^\W\d_]+(?:\^?[23³](?=/[^\W\d_]))?(?:/(?:cu\.?\s*)?[^\W\d_]+(?:\^?[23])?)?\.?",
    re.IGNORECASE,
)
_JOINT = re.compile(r"-(?=[^\s-])|\s*")  # between terms, as in 7'-4" or 7' 4"
_PLUS_MINUS = re.compile(r"\+\s*/?\s*-|±")
_MISTAKES = (
    (re.compile(r"(?<=[0-9]):(?=[0-9])"), "a colon has no meaning here"),
    (re.compile(r"(?<=[0-9]),(?=[0-9]{3}(?![0-9]))"), "leave out the comma between thousands"),
    (re.compile(r"(?<=[0-9]),(?=[0-9])"), "write a decimal point instead of the comma"),
    (re.compile(r"(?<=[0-9])[eE](?=[+-]?[0-9])"), "write the number out, without a power of ten"),
    (re.compile(r"(?<=[0-9])_(?=[0-9])"), "leave out the underscore"),
    (re.compile(r"\b(?:nan|inf|infinity)\b", re.IGNORECASE), "a real number is needed here"),
    (re.compile(r"(?<=[0-9])(?:\s+-\s*|-\s+)(?=[0-9]+\s*/)"), "join them: `34-1/4` or `34 1/4`"),
    (re.compile(r"(?<=[\"'A-Za-z])(?:\s+-\s*|-\s+)(?=[0-9])"), "leave out the `-` or its blanks"),
)
_LONGEST_TEXT = 200
_LARGEST_LENGTH = 1000  # [m]


@dataclass(frozen=True, slots=True)
class _Term:
    number: Fraction
    is_whole: bool
    unit: _Unit | None
    start: int

    @property
    def size(self) -> Fraction:
        return self.number * self.unit.size if self.unit else self.number


def _names(units: Mapping[str, _Unit]) -> tuple[str, ...]:
    return tuple(dict.fromkeys(unit.short for unit in units.values()))


def _skip_blanks(text: str, start: int) -> int:
    return len(text) - len(text[start:].lstrip())


def _number_at(text: str, start: int) -> tuple[Fraction, bool, int]:
    """Read the number that begins at `start`, whether it is a whole one, and where it ends."""
    found = _NUMBER.match(text, start)
    if found is None:
        raise UnitError(f"a number is needed here, not `{text[start : start + 12]}`", start)
    if found["decimal"]:
        return Fraction(found["decimal"]), found["decimal"].isdigit(), found.end()
    whole = int(found["whole"] or found["whole_vulgar"] or 0)
    if found["vulgar"]:
        return whole + _VULGAR[found["vulgar"]], False, found.end()
    key = "" if found["whole"] else "_alone"
    top, bottom = int(found["top" + key]), int(found["bottom" + key])
    if bottom == 0:
        raise UnitError("a fraction cannot have 0 below the line", found.start("bottom" + key))
    if found["whole"] and top >= bottom:
        carry, rest = divmod(top, bottom)
        right = f"{whole + carry}" + (f" {rest}/{bottom}" if rest else "")
        raise UnitError(
            f"{top}/{bottom} after a whole number is one or more; `{right}` would be right",
            found.start("top"),
        )
    return whole + Fraction(top, bottom), False, found.end()


def _unit_at(text: str, start: int, units: Mapping[str, _Unit]) -> tuple[_Unit | None, int]:
    """Read the unit that begins at `start` (or after blanks), and where it ends."""
    found = _UNIT.match(text, _skip_blanks(text, start))
    if found is None:
        return None, start
    word = re.sub(r"[\s.^]+", "", found[0].lower()).replace("³", "3")
    unit = units.get(word)
    if unit is None:
        near = get_close_matches(word, units, n=1, cutoff=0.5)
        names = ", ".join(_names(units)) or "none, only a plain number"
        hint = f"did you mean `{near[0]}`?" if near else f"known: {names}"
        raise UnitError(f"`{found[0]}` is not a unit here; {hint}", found.start())
    return unit, found.end()


def _sign_at(text: str, start: int, signed: bool) -> tuple[int, int]:
    if text[start : start + 1] not in ("+", "-"):
        return 1, start
    if not signed:
        raise UnitError(f"no sign is wanted here; leave out the `{text[start]}`", start)
    return (-1 if text[start] == "-" else 1), _skip_blanks(text, start + 1)


def _terms(
    typed: str, units: Mapping[str, _Unit], what: str, signed: bool
) -> tuple[int, list[_Term]]:
    """Sign and terms of a text such as `7' 4-1/2"`."""
    text = typed.translate(_PLAIN).rstrip()
    if not text.strip():
        raise UnitError(f"{what} is missing")
    if len(text) > _LONGEST_TEXT:
        raise UnitError(f"too long for {what}")
    for pattern, advice in _MISTAKES:
        if mistake := pattern.search(text):
            raise UnitError(f"`{text.strip()}` is not {what}: {advice}", mistake.start())
    sign, at = _sign_at(text, _skip_blanks(text, 0), signed)
    terms: list[_Term] = []
    while at < len(text):
        number, is_whole, end = _number_at(text, at)
        unit, end = _unit_at(text, end, units)
        terms.append(_Term(number, is_whole, unit, at))
        joint = _JOINT.match(text, end)
        at = joint.end() if joint else end
        if unit is None and at < len(text):
            shown, rest = text[terms[-1].start : end], text[end : end + 12].strip()
            raise UnitError(f"`{shown}` needs a unit, not `{rest}`", _skip_blanks(text, end))
    if not terms:
        raise UnitError("a number is needed after the sign", len(text))
    return sign, terms


def _sum(terms: list[_Term]) -> Fraction:
    """Add up terms whose units fall strictly and are of one family [SI]."""
    total = sum((term.size for term in terms), Fraction(0))
    for large, small in pairwise(terms):
        assert large.unit is not None
        if small.unit is None:
            smaller = {"ft": _INCH, "m": _CENTIMETRE, "cm": _MILLIMETRE}.get(large.unit.short)
            guess = large.size + small.number * smaller.size if smaller else None
            right = f"; {_would_be_right(guess, large.unit)}" if guess else ""
            raise UnitError(f"the last number has no unit{right}", small.start)
        if small.unit.family != large.unit.family:
            raise UnitError(
                f"{large.unit.plural} and {small.unit.plural} in one size; use one system",
                small.start,
            )
        if small.unit.size >= large.unit.size:
            again = " twice" if small.unit == large.unit else f" after {large.unit.plural}"
            raise UnitError(
                f"{small.unit.plural}{again}; units fall from term to term, "
                "as in `6' 4\"` or `1 m 20 cm`",
                small.start,
            )
        if not large.is_whole:
            raise UnitError("only the last number can have a fraction", large.start)
        if small.size >= large.unit.size:
            raise UnitError(
                f"{small.unit.plural} after {large.unit.plural} must be less than "
                f"{large.unit.size / small.unit.size}; {_would_be_right(total, large.unit)}",
                small.start,
            )
    return total


def _would_be_right(size: Fraction, unit: _Unit) -> str:
    if unit.family == "time":
        return f"`{float(size / unit.size):g} {unit.short}` would be right"
    system = System.METRIC if unit.family == "metric" else System.IMPERIAL
    return f"`{format_exact(size, system)}` would be right"


def _length(text: str, default: str | None, signed: bool) -> tuple[Fraction, bool]:
    """Read a length [m] and tell whether its unit is the default one."""
    sign, terms = _terms(text, _LENGTHS, "a length", signed)
    bare = len(terms) == 1 and terms[0].unit is None
    if bare and terms[0].number != 0:
        if default is None:
            shown = text.strip()
            raise UnitError(
                f"`{shown}` has no unit; write `{shown} in` or `{shown} mm`, "
                "or set `units: in` or `units: mm` at the top of the file",
                terms[0].start,
            )
        value = terms[0].number * _LENGTHS[default].size
    else:
        value = _sum(terms)
    if value > _LARGEST_LENGTH:
        raise UnitError(f"`{text.strip()}` is more than {_LARGEST_LENGTH} m; is the unit right?")
    return sign * value, bare


def parse_length(text: str, default: str | None = None, *, signed: bool = False) -> Fraction:
    """Exact length [m] of a text such as `7' 4-1/2"`, `34 1/4 in` or `2440 mm`.

    `default` is the unit of a bare number (`ft`, `in`, `mm`, `cm`, `m`); with None only 0 may
    stand without a unit. Raises UnitError.
    """
    return _length(text, default, signed)[0]


def parse_measured(
    text: str, default: str | None = None, *, signed: bool = False
) -> tuple[Fraction, Fraction | None]:
    """Length and its own measuring error [m], as in `7' 4" +- 1/16"`; None when not stated."""
    parts = _PLUS_MINUS.search(text.translate(_PLAIN))
    if parts is None:
        return parse_length(text, default, signed=signed), None
    value, used_default = _length(text[: parts.start()], default, signed)
    try:
        # A bare error after a unit would be read in another unit than the one before it.
        error = _length(text[parts.end() :], default if used_default else None, False)[0]
    except UnitError as wrong:
        raise UnitError(f"measuring error: {wrong.message}", parts.end() + wrong.position) from None
    return value, error


def _quantity(
    text: str, units: Mapping[str, _Unit], what: str, *, bare: bool = False, signed: bool = False
) -> float:
    sign, terms = _terms(text, units, what, signed)
    if len(terms) == 1 and terms[0].unit is None and terms[0].number != 0 and not bare:
        names = " or ".join(f"`{text.strip()} {short}`" for short in _names(units))
        raise UnitError(f"`{text.strip()}` has no unit; write {names}", terms[0].start)
    return float(sign * _sum(terms))


def parse_angle(text: str) -> float:
    """Angle [degrees], -360 to 360; a bare number is degrees. Raises UnitError."""
    angle = _quantity(text, _ANGLES, "an angle", bare=True, signed=True)
    if abs(angle) > 360:
        raise UnitError(f"`{text.strip()}` is not between -360 and 360 degrees")
    return angle


def parse_number(text: str) -> float:
    """Plain number: whole, decimal or a fraction. Raises UnitError."""
    return _quantity(text, {}, "a number", bare=True, signed=True)


def parse_mass(text: str) -> float:
    """Mass [kg] of a text in kg or lb. Raises UnitError."""
    return _quantity(text, _MASSES, "a weight")


def parse_density(text: str) -> float:
    """Density [kg/m3] of a text in kg/m3 or lb/ft3, more than nothing. Raises UnitError."""
    density = _quantity(text, _DENSITIES, "a density")
    if density <= 0.0:
        raise UnitError("a density is more than 0; `700 kg/m3` or `44 lb/ft3` would be right")
    return density


def parse_duration(text: str) -> float:
    """Time [s] of a text in days, h, min or s, as in `1 h 30 min`. Raises UnitError."""
    return _quantity(text, _DURATIONS, "a time")


def parse_flow(text: str) -> float:
    """Flow of air [m3/s] of a text in cfm, m3/h, m3/s or l/s. Raises UnitError."""
    return _quantity(text, _FLOWS, "a flow of air")


def parse_pressure(text: str) -> float:
    """Pressure [Pa] of a text in in wg, Pa or kPa. Raises UnitError."""
    return _quantity(text, _PRESSURES, "a pressure")


def parse_speed(text: str) -> float:
    """Velocity of air [m/s] of a text in fpm or m/s. Raises UnitError."""
    return _quantity(text, _SPEEDS, "a velocity")


def parse_power(text: str) -> float:
    """Power [W] of a text in W, kW or hp. Raises UnitError."""
    return _quantity(text, _POWERS, "a power")


_ALTITUDE = re.compile(r"([-+]?\d+(?:\.\d+)?)\s*(m|metres|meters|ft|feet|')")


def parse_altitude(text: str) -> float:
    """Height above the sea [m], longer than any length in a shop. Raises UnitError."""
    found = _ALTITUDE.fullmatch(text.strip())
    if found is None:
        raise UnitError(f"`{text.strip()}` is not an altitude; write it as `1600 m` or `5200 ft`")
    return float(found[1]) * (1.0 if found[2].startswith("m") else float(_FOOT.size))


_TEMPERATURE = re.compile(r"([-+]?\d+(?:\.\d+)?)\s*(?:°|deg(?:rees)?)?\s*([CFcf])")


def parse_temperature(text: str) -> float:
    """Temperature [degrees C] of a text in C or F, as in `68 F`. Raises UnitError."""
    found = _TEMPERATURE.fullmatch(text.strip())
    if found is None:
        raise UnitError(f"`{text.strip()}` is not a temperature; write it as `20 C` or `68 F`")
    value = float(found[1])
    return value if found[2] in "Cc" else (value - 32.0) / 1.8


# --- writing ---------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class _Scale:
    """Steps in which lengths are printed: so many to the inch or millimetre."""

    unit: _Unit
    steps: int
    as_fraction: bool = False

    def nearest(self, metres: Fraction) -> int:
        """Nearest step, half up; a hair of float noise below the half counts as the half."""
        return math.floor(self._count(metres) + Fraction(1, 2) + Fraction(1, 1_000_000))

    def rounded(self, metres: Fraction, rounding: Rounding) -> int:
        nearest = self.nearest(metres)
        off = metres - nearest * self.unit.size / self.steps
        if rounding == "nearest" or abs(off) <= TOLERANCE:
            return nearest
        return math.floor(self._count(metres)) if rounding == "down" else self._ceiling(metres)

    def text(self, count: int) -> str:
        sign, count = ("-" if count < 0 else ""), abs(count)
        if self.unit is _MILLIMETRE:
            return f"{sign}{self._digits(count)} mm"
        feet, rest = divmod(count, 12 * self.steps) if count >= 36 * self.steps else (0, count)
        inches = f'{self._digits(rest)}"' if rest or not feet else ""
        return sign + " ".join(filter(None, (f"{feet}'" if feet else "", inches)))

    def _count(self, metres: Fraction) -> Fraction:
        return metres * self.steps / self.unit.size

    def _ceiling(self, metres: Fraction) -> int:
        return math.ceil(self._count(metres))

    def _digits(self, count: int) -> str:
        whole, rest = divmod(count, self.steps)
        if not rest:
            return str(whole)
        if self.as_fraction:
            part = Fraction(rest, self.steps)
            return f"{whole}-{part}" if whole else str(part)
        places = len(str(self.steps)) - 1
        return f"{whole}.{rest:0{places}d}".rstrip("0")


_FINER_AND_FINER = {
    System.IMPERIAL: (
        *(_Scale(_INCH, steps, as_fraction=True) for steps in (16, 32, 64)),
        *(_Scale(_INCH, steps) for steps in (1000, 10_000)),
    ),
    System.METRIC: tuple(_Scale(_MILLIMETRE, steps) for steps in (1, 10, 100)),
}


def _exact(metres: float | Fraction) -> Fraction:
    if not math.isfinite(metres):
        raise ValueError(f"cannot write {metres} as a length")
    return Fraction(metres)


def format_length(
    metres: float | Fraction,
    system: System,
    *,
    rounding: Rounding = "nearest",
    denominator: int = 16,
) -> str:
    """Length [m] as a tape reads it: `7' 4-1/2"`, below 3 ft `34-1/4"`, or `2440 mm`.

    Imperial steps are 1/`denominator` inch; metric ones 1 mm, beyond 16 a tenth of one.
    `down` never prints more than the true value and `up` never less, except that a value
    within the tolerance of a printable one counts as that one.
    """
    if system is System.IMPERIAL:
        scale = _Scale(_INCH, denominator, as_fraction=True)
    else:
        scale = _Scale(_MILLIMETRE, 1 if denominator <= 16 else 10)
    return scale.text(scale.rounded(_exact(metres), rounding))


def have_and_need(
    have: float | Fraction, need: float | Fraction, system: System
) -> tuple[str, str]:
    """Both lengths [m] as text, what is there rounded down and what is needed up.

    Printed finer until the texts stand in the same order as the lengths, so that a shortage
    shows and an adequate size never reads as too small.
    """
    have, need = _exact(have), _exact(need)
    if abs(have - need) <= TOLERANCE:
        have = need
    order = (have > need) - (have < need)
    for scale in _FINER_AND_FINER[system]:
        shown = scale.rounded(have, "down"), scale.rounded(need, "up")
        printed_order = (shown[0] > shown[1]) - (shown[0] < shown[1])
        if printed_order == order or (order > 0 and printed_order == 0):
            break
    return scale.text(shown[0]), scale.text(shown[1])


def format_exact(metres: float | Fraction, system: System) -> str:
    """Length [m] as text that `parse_length` reads back to within 0.2 micrometres."""
    length = _exact(metres)
    if system is System.METRIC:
        scale = _Scale(_MILLIMETRE, 10_000)
        return scale.text(scale.nearest(length))
    sixteenths = _FINER_AND_FINER[system][0]
    count = sixteenths.nearest(length)
    if abs(length - count * _INCH.size / 16) <= Fraction(1, 10**7):
        return sixteenths.text(count)
    scale = _Scale(_INCH, 100_000)
    return scale.text(scale.nearest(length))


def format_area(square_metres: float, system: System) -> str:
    """Area [m2] in square feet or square metres."""
    if system is System.IMPERIAL:
        area = square_metres / float(_FOOT.size) ** 2
        return f"{area:.0f} sq ft" if abs(area) >= 100 else f"{area:.1f} sq ft"
    return f"{square_metres:.2f} m2"


def format_mass(kilograms: float, system: System) -> str:
    """Mass [kg] in pounds or kilograms."""
    mass, unit = (
        (kilograms / float(_POUND), "lb") if system is System.IMPERIAL else (kilograms, "kg")
    )
    return f"{mass:.0f} {unit}" if abs(mass) >= 10 else f"{mass:.1f} {unit}"


def format_flow(flow: float, system: System, *, rounding: Rounding = "nearest") -> str:
    """Flow of air [m3/s] in cfm or m3/h."""
    return _in_unit(flow, "cfm" if system is System.IMPERIAL else "m3/h", _FLOWS, 0, rounding)


def format_pressure(pressure: float, system: System, *, rounding: Rounding = "nearest") -> str:
    """Pressure [Pa] in hundredths of an inch of water, or in Pa."""
    if system is System.IMPERIAL:
        return _in_unit(pressure, "in wg", {"in wg": _INCH_WATER}, 2, rounding)
    return _in_unit(pressure, "Pa", {"Pa": _PRESSURES["pa"]}, 0, rounding)


def format_speed(speed: float, system: System, *, rounding: Rounding = "nearest") -> str:
    """Velocity of air [m/s] in ft/min, or in m/s to a tenth."""
    if system is System.IMPERIAL:
        return _in_unit(speed, "fpm", _SPEEDS, 0, rounding)
    return _in_unit(speed, "m/s", _SPEEDS, 1, rounding)


def _in_unit(
    value: float, name: str, units: Mapping[str, _Unit], places: int, rounding: Rounding
) -> str:
    """A value [SI] in one unit with so many decimals; float noise rounds neither up nor down."""
    number = value / float(units[name].size) * 10**places
    near = round(number)
    if rounding != "nearest" and abs(number - near) > 1e-6 * max(abs(number), 1.0):
        near = math.floor(number) if rounding == "down" else math.ceil(number)
    return f"{near / 10**places:.{places}f} {name}"


def format_angle(degrees: float) -> str:
    """Angle [degrees] to a tenth."""
    return f"{degrees:.1f}".removesuffix(".0").replace("-0", "0", degrees > -0.05) + "°"
