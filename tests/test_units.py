"""Lengths and other quantities: what is read, what is refused, what is printed.

The inch is 25.4 mm and the pound 0.45359237 kg by definition (international yard and pound
agreement, 1959; NIST Special Publication 811, appendix B).
"""

from __future__ import annotations

import math
import subprocess
import sys
from collections.abc import Callable
from fractions import Fraction

import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from floorplan.units import (
    TOLERANCE,
    System,
    UnitError,
    at_least,
    format_angle,
    format_area,
    format_exact,
    format_flow,
    format_length,
    format_mass,
    format_pressure,
    format_speed,
    have_and_need,
    parse_angle,
    parse_density,
    parse_duration,
    parse_flow,
    parse_length,
    parse_mass,
    parse_measured,
    parse_number,
    parse_power,
    parse_pressure,
    parse_speed,
)

INCH = Fraction(254, 10_000)
SYSTEMS = st.sampled_from(System)
SIXTY_FOURTHS = st.integers(0, 64 * 12 * 100)
METRES = st.floats(-300, 300, allow_nan=False)


def inches(text: str) -> Fraction:
    return parse_length(text) / INCH


# --- reading lengths -------------------------------------------------------------------------

GOOD_INCHES = [
    ("7' 4-1/2\"", "88.5"),
    ("7'4-1/2\"", "88.5"),
    ("7' 4 1/2\"", "88.5"),
    ("7'-4\"", "88"),
    ("7'-4 1/2\"", "88.5"),
    ("34 1/4 in", "34.25"),
    ('34-1/4"', "34.25"),
    ("4 ft 6 in", "54"),
    ("4ft6in", "54"),
    ("4 feet 6 inches", "54"),
    ("1 foot 1 inch", "13"),
    ("6 ft. 4 in.", "76"),
    ("4 FT 6 In", "54"),
    ('1/2"', "1/2"),
    ("3/4 in", "3/4"),
    ("3 / 4 in", "3/4"),
    ("5/4 in", "5/4"),
    ("5'", "60"),
    ("1/2'", "6"),
    ('90.5"', "90.5"),
    ('.5"', "1/2"),
    ("7’ 4″", "88"),
    ("7′ 4½″", "88.5"),
    ("7’ 4”", "88"),
    ("6' 4''", "76"),
    ("6'4''", "76"),
    ('34½"', "34.5"),
    ('34 ½"', "34.5"),
    ('34-½"', "34.5"),
    ("7' 4⅜\"", "88.375"),
    ("⅔ in", "2/3"),
    ("⅝ in", "5/8"),
    ("1⁄2 in", "1/2"),
    ("34–1/4 in", "34.25"),
    ("  3 in  ", "3"),
    ("3\u00a0in", "3"),
    ("0", "0"),
    ("0 mm", "0"),
    ("2440 mm", "2440/25.4"),
    ("2440mm", "2440/25.4"),
    ("1.2 m", "1200/25.4"),
    ("1 m 20 cm", "1200/25.4"),
    ("1 m 20 cm 5 mm", "1205/25.4"),
    ("2 m 300 mm", "2300/25.4"),
    ("3 millimeters", "3/25.4"),
    ("2 metres", "2000/25.4"),
    ("000012 in", "12"),
]


@pytest.mark.parametrize(("text", "expected"), GOOD_INCHES)
def test_reads_exactly(text: str, expected: str) -> None:
    top, _, bottom = expected.partition("/")
    assert inches(text) == Fraction(top) / Fraction(bottom or 1)


BAD = [
    # text, position of the fault, what the message must name
    ("34", 0, "no unit"),
    ("34", 0, "units:"),
    ("34", 0, "34 in"),
    (" 34 1/2", 1, "no unit"),
    ("3' 14\"", 3, "`4' 2\"`"),
    ("3' 12\"", 3, "`4'`"),
    ("1 m 100 cm", 4, "`2000 mm`"),
    ("6'4", 2, "`6' 4\"`"),
    ("1 m 20", 4, "`1200 mm`"),
    ("12:30", 2, "colon"),
    ("1,200 mm", 1, "comma"),
    ("1,5 m", 1, "decimal point"),
    ("1e3 mm", 1, "power of ten"),
    ("1_000 mm", 1, "underscore"),
    ("0x1F", 1, "`x`"),
    ("6'4'", 2, "feet twice"),
    ('3\' 4" 5"', 6, "inches twice"),
    ("4\" 3'", 3, "feet after inches"),
    ("3' 20 mm", 3, "one system"),
    ('20 mm 3"', 6, "one system"),
    ("6.5' 3\"", 0, "last number"),
    ("1/2' 3\"", 0, "last number"),
    ("1 m 120 cm", 4, "`2200 mm`"),
    ('1/0"', 2, "0 below"),
    ('3 1/0"', 4, "0 below"),
    ("3 5/4 in", 2, "`4 1/4`"),
    ("3 4/4 in", 2, "`4`"),
    ("-3 in", 0, "sign"),
    ("+3 in", 0, "sign"),
    ("−3 in", 0, "sign"),
    ("nan", 0, "real number"),
    ("inf in", 0, "real number"),
    (".inf", 1, "real number"),
    ("", 0, "missing"),
    ("   ", 0, "missing"),
    ("3 in x", 5, "`x`"),
    ("3 in 4", 5, "no unit"),
    ("3 in, 4 in", 4, "number is needed"),
    ("3 inc", 2, "`inch`"),
    ("3 millimetrs", 2, "`millimetres`"),
    ("3 yd", 2, "known: ft, in"),
    ("3³ in", 1, "`³`"),
    ("2000 m", 0, "1000 m"),
    ("3' -4\"", 2, "`-`"),
    ("10' - 4\"", 3, "`-`"),
    ('34 - 1/4"', 2, "34-1/4"),
    ('34 -1/4"', 2, "34-1/4"),
    ('7-4"', 1, "needs a unit"),
    ("34-", 2, "needs a unit"),
    ("5 5 in", 2, "needs a unit"),
    ("1.2.3 m", 3, "needs a unit"),
    ('90."', 2, "needs a unit"),
    ("1/2 3/4 in", 4, "needs a unit"),
    ("'", 0, "number is needed"),
    ('"7\' 4"', 0, "number is needed"),
    ("6'''", 3, "number is needed"),
    ("yes", 0, "number is needed"),
    ("٣ in", 0, "number is needed"),
    ("9" * 5000, 0, "too long"),
]


@pytest.mark.parametrize(("text", "position", "part"), BAD)
def test_refuses_with_place_and_reason(text: str, position: int, part: str) -> None:
    with pytest.raises(UnitError) as refused:
        parse_length(text)
    assert part in refused.value.message
    assert refused.value.position == position
    assert str(refused.value) == refused.value.message


@pytest.mark.parametrize(
    ("unit", "metres"),
    [
        ("ft", 12 * INCH),
        ("in", INCH),
        ("mm", Fraction(1, 1000)),
        ("cm", Fraction(1, 100)),
        ("m", 1),
    ],
)
def test_bare_number_takes_the_unit_of_the_file(unit: str, metres: Fraction) -> None:
    assert parse_length("34 1/4", unit) == Fraction(137, 4) * metres
    assert parse_length("3 in", unit) == 3 * INCH
    with pytest.raises(UnitError, match="last number has no unit"):
        parse_length("6'4", unit)


def test_signed_lengths() -> None:
    assert parse_length("-3' 4\"", signed=True) == -40 * INCH
    assert parse_length("−3 in", signed=True) == -3 * INCH
    assert parse_length("+ 3 in", signed=True) == 3 * INCH
    for text in ("-", "--3 in", "3 in -"):
        with pytest.raises(UnitError):
            parse_length(text, signed=True)


@settings(deadline=None)
@given(st.text(max_size=30) | st.text("0123456789 '\"-/.,inftcm½", max_size=14))
@example("½½")
@example("3 in½")
@example("1//2 in")
def test_any_text_is_read_or_refused_in_place(text: str) -> None:
    try:
        value = parse_length(text, "in", signed=True)
    except UnitError as refused:
        is_sound = 0 <= refused.position <= len(text) and bool(refused.message)
    else:
        is_sound = abs(value) <= 1000
    assert is_sound


@pytest.mark.parametrize("mark", ["+-", "±", "+/-", " +- ", "+−"])
def test_own_measuring_error(mark: str) -> None:
    assert parse_measured(f'7\' 4"{mark}1/16"') == (88 * INCH, INCH / 16)


def test_measuring_error_special_cases() -> None:
    assert parse_measured("7' 4\"") == (88 * INCH, None)
    assert parse_measured("7' 4\" +- 0") == (88 * INCH, 0)
    assert parse_measured("-3 in +- 2 mm", signed=True) == (-3 * INCH, Fraction(2, 1000))
    assert parse_measured("34 +- 1/8", "in") == (34 * INCH, INCH / 8)
    assert parse_measured("0 +- 1/8", "in") == (0, INCH / 8)
    # A bare error behind a length with a unit could be meant in either unit.
    with pytest.raises(UnitError, match="no unit") as refused:
        parse_measured("7' 4\" +- 1/16", "ft")
    assert refused.value.position == 9
    with pytest.raises(UnitError, match="sign"):
        parse_measured('34" +- -1/16"')
    with pytest.raises(UnitError, match="missing"):
        parse_measured('34" +-')


# --- other quantities ------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("text", "degrees"),
    [("90", 90), ("90 deg", 90), ("90°", 90), ("-45", -45), ("22.5 degrees", 22.5), ("-360", -360)],
)
def test_angles(text: str, degrees: float) -> None:
    assert parse_angle(text) == degrees


@pytest.mark.parametrize("text", ["361", "-360.5", "90 rad", "", "nan", "4 in", "-"])
def test_refused_angles(text: str) -> None:
    with pytest.raises(UnitError):
        parse_angle(text)


def test_numbers() -> None:
    assert parse_number("12") == 12
    assert parse_number("-1.5") == -1.5
    assert parse_number("012") == 12
    assert parse_number("3/4") == 0.75
    for text in ("1e3", "1_000", "0x1F", "3 in", "nan", ".inf", "12:30", "", "yes", "1,5"):
        with pytest.raises(UnitError):
            parse_number(text)


def test_masses_and_densities() -> None:
    # NIST SP 811 appendix B.8: 1 lb = 4.535 924 E-01 kg, 1 lb/ft3 = 1.601 846 E+01 kg/m3.
    assert parse_mass("1 lb") == pytest.approx(0.4535924, rel=1e-6)
    assert parse_mass("120 lbs") == pytest.approx(120 * 0.45359237, rel=1e-12)
    assert parse_mass("55 kg") == 55
    for text in ("1 lb/ft3", "1 lb/ft^3", "1 lb/ft³", "1 lb/cu ft", "1 lb/cu. ft."):
        assert parse_density(text) == pytest.approx(16.01846, rel=1e-6)
    assert parse_density("640 kg/m3") == parse_density("640 kg/m³") == 640
    for text in ("5", "5 in", "-5 kg", "5 kg 3 lb"):
        with pytest.raises(UnitError):
            parse_mass(text)
    for text in ("0", "0 kg/m3", "-5 kg/m3"):
        with pytest.raises(UnitError):
            parse_density(text)


def test_durations() -> None:
    assert parse_duration("90 min") == parse_duration("1 h 30 min") == 5400
    assert parse_duration("2 days") == 2 * 24 * 3600
    assert parse_duration("1.5 hours") == 5400
    with pytest.raises(UnitError, match=r"`2\.5 h` would be right"):
        parse_duration("1 h 90 min")
    with pytest.raises(UnitError, match="write `5 days` or `5 h`"):
        parse_duration("5")


# NIST SP 811, appendix B.8, factors to seven digits.
@pytest.mark.parametrize(
    ("parse", "text", "value"),
    [
        (parse_flow, "1 cfm", 4.719474e-4),
        (parse_flow, "1 ft3/min", 4.719474e-4),
        (parse_flow, "1 m3/h", 1 / 3600),
        (parse_flow, "0.25 m³/s", 0.25),
        (parse_flow, "120 l/s", 0.12),
        (parse_flow, "120 L/s", 0.12),
        (parse_pressure, "1 in wg", 249.0889),
        (parse_pressure, "1 in. w.g.", 249.0889),
        (parse_pressure, '10" wg', 2490.889),
        (parse_pressure, "1 in wc", 249.0889),
        (parse_pressure, "2.5 kPa", 2500.0),
        (parse_pressure, "750 Pa", 750.0),
        (parse_speed, "1 fpm", 5.08e-3),
        (parse_speed, "1 ft/min", 5.08e-3),
        (parse_speed, "20 m/s", 20.0),
        (parse_power, "1 hp", 745.6999),
        (parse_power, "1.2 kW", 1200.0),
    ],
)
def test_air_is_read(parse: Callable[[str], float], text: str, value: float) -> None:
    assert parse(text) == pytest.approx(value, rel=3e-7)


@pytest.mark.parametrize(
    ("parse", "text"),
    [
        (parse_flow, "400"),
        (parse_flow, "400 in"),
        (parse_flow, "-3 cfm"),
        (parse_pressure, "4 in"),
        (parse_pressure, "1 in wg 3 Pa"),
        (parse_speed, "20 m"),
        (parse_power, "10"),
        (parse_length, "3 in wg"),
    ],
)
def test_what_is_no_such_quantity_of_air_is_refused(
    parse: Callable[[str], float], text: str
) -> None:
    with pytest.raises(UnitError):
        parse(text)


def test_air_is_written() -> None:
    imperial, metric = System.IMPERIAL, System.METRIC
    assert format_flow(350 * 4.719474e-4, imperial) == "350 cfm"
    assert format_flow(0.1, metric) == "360 m3/h"
    assert format_pressure(3.382 * 249.08891, imperial) == "3.38 in wg"
    assert format_pressure(842.4, metric) == "842 Pa"
    assert format_speed(20.32, imperial) == format_speed(20.32, imperial, rounding="down")
    assert format_speed(20.32, imperial, rounding="up") == "4000 fpm"
    assert format_speed(19.98, metric, rounding="down") == "19.9 m/s"
    assert format_flow(349.2 * 4.719474e-4, imperial, rounding="up") == "350 cfm"


# --- exactly enough --------------------------------------------------------------------------


@settings(deadline=None)
@given(SIXTY_FOURTHS, st.integers(1, 64 * 200))
def test_exactly_enough_passes_and_a_64th_less_fails(place: int, gap: int) -> None:
    near, far = float(place * INCH / 64), float((place + gap) * INCH / 64)
    need = float(gap * INCH / 64)
    assert at_least(far - near, need)
    assert not at_least(far - near - float(INCH) / 64, need)


@settings(deadline=None)
@given(st.integers(0, 30_000), st.integers(1, 10_000))
def test_exactly_enough_passes_and_a_tenth_of_a_millimetre_less_fails(place: int, gap: int) -> None:
    assert at_least((place + gap) / 1000 - place / 1000, gap / 1000)
    assert not at_least((place + gap - 0.1) / 1000 - place / 1000, gap / 1000)


# --- writing ---------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("length", "imperial", "metric"),
    [
        (88.5, "7' 4-1/2\"", "2248 mm"),
        (34.25, '34-1/4"', "870 mm"),
        (35.99, "3'", "914 mm"),
        (36, "3'", "914 mm"),
        (36.5, "3' 1/2\"", "927 mm"),
        (0.5, '1/2"', "13 mm"),
        (0, '0"', "0 mm"),
        (-40, "-3' 4\"", "-1016 mm"),
        (-0.25, '-1/4"', "-6 mm"),
        (1 / 32, '1/16"', "1 mm"),  # half up
        (3 / 32, '1/8"', "2 mm"),
    ],
)
def test_prints_as_a_tape_reads(length: float, imperial: str, metric: str) -> None:
    metres = length * 0.0254
    assert format_length(metres, System.IMPERIAL) == imperial
    assert format_length(metres, System.METRIC) == metric


def test_rounding_directions() -> None:
    assert format_length(35.99 * 0.0254, System.IMPERIAL, rounding="down") == '35-15/16"'
    assert format_length(35.95 * 0.0254, System.IMPERIAL, rounding="up") == "3'"
    assert format_length(0.9144, System.IMPERIAL, rounding="down") == "3'"
    assert format_length(0.9144, System.METRIC, rounding="down") == "914 mm"
    assert format_length(0.9144, System.METRIC, rounding="up") == "915 mm"
    assert format_length(0.9144, System.METRIC, denominator=32) == "914.4 mm"
    # A hair short of a printable value, by less than the tolerance, is that value.
    assert format_length(0.9144 - 0.9e-5, System.IMPERIAL, rounding="down") == "3'"
    assert format_length(0.9144 - 1.1e-5, System.IMPERIAL, rounding="down") == '35-15/16"'
    with pytest.raises(ValueError, match="cannot write"):
        format_length(math.inf, System.METRIC)


@settings(deadline=None)
@given(METRES, SYSTEMS, st.sampled_from([8, 16, 32, 64]))
def test_down_never_prints_more_and_up_never_less(
    metres: float, system: System, denominator: int
) -> None:
    def printed(rounding: str) -> float:
        text = format_length(metres, system, rounding=rounding, denominator=denominator)  # type: ignore[arg-type]
        return float(parse_length(text, signed=True))

    step = 0.0254 / denominator if system is System.IMPERIAL else 0.001
    assert metres - step <= printed("down") <= metres + TOLERANCE
    assert metres - TOLERANCE <= printed("up") <= metres + step
    assert abs(printed("nearest") - metres) <= step / 2 + 1e-8


@settings(deadline=None)
@given(st.integers(-50_000, 50_000))
def test_tape_readings_are_read_back_exactly(count: int) -> None:
    for steps in (16, 64):
        text = format_length(count * INCH / steps, System.IMPERIAL, denominator=steps)
        assert parse_length(text, signed=True) == count * INCH / steps
    assert parse_length(format_exact(count * INCH / 16, System.IMPERIAL), signed=True) == (
        count * INCH / 16
    )
    millimetres = Fraction(count, 1000)
    assert parse_length(format_exact(millimetres, System.METRIC), signed=True) == millimetres


@settings(deadline=None)
@given(METRES, SYSTEMS)
@example(0.9144 - 4e-7, System.IMPERIAL)
@example(1e-8, System.IMPERIAL)
def test_exact_text_is_read_back(metres: float, system: System) -> None:
    text = format_exact(metres, system)
    assert abs(float(parse_length(text, signed=True)) - metres) <= 1e-6


def test_exact_text_is_short_where_it_can_be() -> None:
    assert format_exact(88.5 * 0.0254, System.IMPERIAL) == "7' 4-1/2\""
    assert format_exact(88.501 * 0.0254, System.IMPERIAL) == "7' 4.501\""
    assert format_exact(2.44, System.METRIC) == "2440 mm"
    assert format_exact(-0.01234, System.METRIC) == "-12.34 mm"


@settings(deadline=None)
@given(METRES, st.floats(-0.01, 0.01) | METRES, SYSTEMS)
@example(0.9144 - 8e-6, 16e-6, System.IMPERIAL)
@example(36.02 * 0.0254, -0.01 * 0.0254, System.IMPERIAL)
@example(36.03 * 0.0254, 0.0, System.IMPERIAL)
def test_have_and_need_are_printed_in_their_true_order(
    have: float, more: float, system: System
) -> None:
    need = have + more
    shown_have, shown_need = (
        parse_length(text, signed=True) for text in have_and_need(have, need, system)
    )
    if need - have > 1.001 * TOLERANCE:
        assert shown_have < shown_need
    elif have - need > 1.001 * TOLERANCE:
        assert shown_have >= shown_need
    elif abs(have - need) < 0.999 * TOLERANCE:
        assert shown_have == shown_need
    assert shown_have <= max(have, need) + TOLERANCE
    assert shown_need >= min(have, need) - TOLERANCE


def test_have_and_need_examples() -> None:
    assert have_and_need(35.5 * 0.0254, 0.9144, System.IMPERIAL) == ('35-1/2"', "3'")
    assert have_and_need(0.8999, 0.9, System.METRIC) == ("899 mm", "900 mm")
    assert have_and_need(36.001 * 0.0254, 0.9144, System.IMPERIAL) == ("3'", "3'")
    just_less, just_more = 0.9 - 8e-6, 0.9 + 8e-6
    assert have_and_need(just_less, just_more, System.METRIC) == ("899.99 mm", "900.01 mm")


def test_other_texts() -> None:
    # NIST SP 811 appendix B.8: 1 ft2 = 9.290 304 E-02 m2.
    assert format_area(0.09290304 * 12.34, System.IMPERIAL) == "12.3 sq ft"
    assert format_area(0.09290304 * 528, System.IMPERIAL) == "528 sq ft"
    assert format_area(49.0, System.METRIC) == "49.00 m2"
    assert format_mass(54.4310844, System.IMPERIAL) == "120 lb"
    assert format_mass(54.4310844, System.METRIC) == "54 kg"
    assert format_mass(2.25, System.METRIC) in ("2.2 kg", "2.3 kg")
    assert [format_angle(a) for a in (90.0, 22.5, -0.01, -45, -0.5)] == [
        "90°",
        "22.5°",
        "0°",
        "-45°",
        "-0.5°",
    ]


def test_import_brings_no_heavy_library() -> None:
    code = (
        "import sys, floorplan.units, floorplan.shop.nodes, floorplan.shop.edit;"
        "print({'numpy', 'scipy', 'shapely', 'matplotlib'} & set(sys.modules))"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "set()"
