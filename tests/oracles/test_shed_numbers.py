"""Numbers of a collector's shed against published tables, worked examples and closed forms."""

from __future__ import annotations

from math import hypot, sqrt

import pytest
from fluids.flow_meter import flow_meter_discharge

from floorplan.air.make_up import air_changes, heat_lost, opening_area, opening_pressure
from floorplan.air.noise import (
    distance_for,
    level_at,
    level_of_power,
    level_per_metre,
    sum_of_levels,
)
from floorplan.air.properties import STANDARD_AIR
from floorplan.checks.judge import Judgement, judge
from floorplan.shop.reader import parse
from floorplan.shop.wire import WireError, gauges, longest_run, resistance, voltage_drop

FOOT = 0.3048
CFM = FOOT**3 / 60
SHOP = """\
shop: a shop
tape: 0
room: {size: [20', 16'], height: 8', wall thickness: 6 in}
site:
  lot: {corners: [[-30', -40'], [60', -40'], [60', 50'], [-30', 50']]}
  lines: {street: [0, 1], east: [1, 2], rear: [2, 3], west: [3, 0]}
  setbacks: {default: 0, measured to: wall}
  shed: {width: 6', depth: 5', height: 8', SHED}
"""


def judged(shed: str, old: str = "", new: str = "") -> Judgement:
    file = parse(
        SHOP.replace("SHED", shed).replace(old, new) if old else SHOP.replace("SHED", shed)
    )
    return judge(file.shop, file.layout)


def verdict(judgement: Judgement, rule: str, *about: str) -> str:
    rows = [f for f in judgement.findings if f.rule == rule and set(about) <= set(f.about)]
    assert len(rows) == 1, [(f.rule, f.about) for f in judgement.findings]
    return rows[0].verdict


# --- wire --------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("gauge", "make", "ohms"),
    [
        (14, "solid", 3.07), (12, "solid", 1.93), (10, "solid", 1.21), (8, "solid", 0.764),
        (14, "stranded", 3.14), (12, "stranded", 1.98), (10, "stranded", 1.24),
        (8, "stranded", 0.778), (6, "stranded", 0.491), (4, "stranded", 0.308),
    ],
)  # fmt: skip
def test_resistance_of_copper(gauge: int, make: str, ohms: float) -> None:
    """NEC Chapter 9, Table 8: uncoated copper at 75 deg C, ohm per 1000 ft."""
    assert resistance(gauge, make) * 1000 * FOOT == pytest.approx(ohms)  # type: ignore[arg-type]


def test_a_gauge_that_the_table_has_not_is_refused() -> None:
    assert 6 not in gauges("solid")
    with pytest.raises(WireError):
        resistance(6, "solid")


@pytest.mark.parametrize(
    ("gauge", "make", "feet", "amps", "volts", "lost", "percent"),
    [
        (12, "stranded", 100, 16, 120, 6.336, 5.28),
        (10, "stranded", 100, 16, 120, 3.968, 3.31),
        (12, "stranded", 50, 15, 240, 2.97, 1.24),
        (12, "solid", 80, 17, 230, 5.250, 2.28),
        (10, "solid", 80, 17, 230, 3.291, 1.43),
        (8, "stranded", 80, 17, 230, 2.116, 0.92),
        (12, "solid", 80, 15, 115, 4.63, 4.03),
    ],
)
def test_voltage_drop_by_hand(
    gauge: int, make: str, feet: float, amps: float, volts: float, lost: float, percent: float
) -> None:
    """2 L I R with R of NEC Chapter 9, Table 8, L in thousands of feet."""
    ohms = resistance(gauge, make)  # type: ignore[arg-type]
    drop = voltage_drop(length=feet * FOOT, amps=amps, ohms_per_metre=ohms)
    assert drop == pytest.approx(lost, abs=5e-3)
    assert 100 * drop / volts == pytest.approx(percent, abs=5e-3)


@pytest.mark.parametrize(
    ("gauge", "make", "amps", "volts", "feet"),
    [
        (12, "stranded", 15, 120, 60.6), (12, "stranded", 15, 240, 121.2),
        (12, "solid", 17, 230, 105.2), (10, "solid", 17, 230, 167.7),
        (8, "stranded", 17, 230, 260.8),
    ],
)  # fmt: skip
def test_longest_run_at_three_percent(
    gauge: int, make: str, amps: float, volts: float, feet: float
) -> None:
    """NEC 210.19(A), informational note: 3 % on a branch circuit; table as above."""
    ohms = resistance(gauge, make)  # type: ignore[arg-type]
    run = longest_run(share=0.03, volts=volts, amps=amps, ohms_per_metre=ohms)
    assert run / FOOT == pytest.approx(feet, abs=0.06)
    assert voltage_drop(length=run, amps=amps, ohms_per_metre=ohms) == pytest.approx(0.03 * volts)


# --- noise -------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("metres", "level"), [(2, 73.98), (5, 66.02), (10, 60.00), (20, 53.98), (100, 40.0)]
)
def test_a_level_falls_with_the_inverse_square(metres: float, level: float) -> None:
    """Closed form: 80 dB at 1 m less 20 log10 r."""
    assert level_at(80.0, known_at=1.0, distance=metres) == pytest.approx(level, abs=5e-3)


def test_levels_by_hand() -> None:
    assert level_at(85.0, known_at=3 * FOOT, distance=30 * FOOT) == pytest.approx(65.0)
    assert distance_for(80.0, known_at=1.0, limit=45.0) == pytest.approx(56.23, abs=0.01)
    assert sum_of_levels([75.0, 75.0]) == pytest.approx(78.01, abs=5e-3)
    assert sum_of_levels([70.0, 60.0]) == pytest.approx(70.41, abs=5e-3)
    assert sum_of_levels([]) == -float("inf")
    assert level_of_power(90.0, distance=10.0) == pytest.approx(62.0)
    slope = level_at(80, known_at=1, distance=9.9995) - level_at(80, known_at=1, distance=10.0005)
    assert level_per_metre(10.0) == pytest.approx(slope / 1e-3, rel=1e-6)
    with pytest.raises(ValueError, match="above 0"):
        level_at(80.0, known_at=1.0, distance=0.0)


# --- air ---------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("cfm", "areas"),
    [
        (400, (0.1724, 0.1408, 0.1091, 0.0771, 0.0488)),
        (800, (0.3449, 0.2816, 0.2181, 0.1542, 0.0975)),
        (1200, (0.5173, 0.4224, 0.3272, 0.2313, 0.1463)),
    ],
)
def test_openings_for_make_up_air(cfm: float, areas: tuple[float, ...]) -> None:
    """Orifice equation with a discharge coefficient of 0.6, air of 1.2014 kg/m3, by hand [m2]."""
    for pressure, area in zip((2.0, 3.0, 5.0, 10.0, 25.0), areas, strict=True):
        assert opening_area(cfm * CFM, pressure) == pytest.approx(area, rel=1.5e-3)


@pytest.mark.parametrize("pressure", [2.0, 5.0, 25.0])
def test_an_opening_passes_what_a_flow_meter_library_says(pressure: float) -> None:
    """The `fluids` library: a hole of that area in a wall so wide that beta is nothing."""
    area = opening_area(0.4, pressure)
    across = sqrt(4 * area / 3.141592653589793)
    mass = flow_meter_discharge(
        D=1e4, Do=across, P1=101325.0 + pressure, P2=101325.0, rho=STANDARD_AIR.density, C=0.6
    )
    assert mass / STANDARD_AIR.density == pytest.approx(0.4, rel=1e-6)
    assert opening_pressure(0.4, area) == pytest.approx(pressure)


def test_pressure_heat_and_changes_by_hand() -> None:
    """800 cfm through 0.10 m2; q = 1.08 Q dT (BTU/h, cfm, deg F); a garage of 112.1 m3."""
    assert opening_pressure(800 * CFM, 0.10) == pytest.approx(23.8, abs=0.05)
    watts = heat_lost(800 * CFM, 50 * 5 / 9)
    assert watts == pytest.approx(1.08 * 800 * 50 * 0.29307107, rel=3e-3)
    assert watts == pytest.approx(12_680, abs=10)
    assert air_changes(800 * CFM, 112.1) == pytest.approx(12.1, abs=0.05)


# --- distances and steps -----------------------------------------------------------------------


@pytest.mark.parametrize(
    ("short", "verdicts"),
    [(0.0, ("passes", "passes")), (1e-3, ("fails", "passes")), (2.0, ("fails", "fails"))],
)
def test_walls_and_openings_by_distance(short: float, verdicts: tuple[str, str]) -> None:
    """IRC Table R302.1 (2009): a wall 5 ft from the line is unrated, an opening wants 3 ft.

    The shed is attached to the east wall; its front, 6 ft wide, looks east and the lot ends beyond.
    """
    # the outer face lies at 20.5 ft, the shed reaches 5 ft further
    line = 20.5 + 5.0 + 5.0 - short - (1e-9 if short else 0.0)
    lot = f"[[-30', -40'], [{line:.9f} ft, -40'], [{line:.9f} ft, 50'], [-30', 50']]"
    made = judged(
        "at: {wall: east, along: 4'}, door: {width: 32 in}",
        "[[-30', -40'], [60', -40'], [60', 50'], [-30', 50']]", lot,
    )  # fmt: skip
    assert verdict(made, "setback-wall", "east") == verdicts[0]
    far = "passes" if 5.0 - short >= 3.0 else "fails"
    assert verdict(made, "setback-no-openings", "east") == far


def test_openings_step_at_three_feet() -> None:
    """IRC Table R302.1 (2009): no openings nearer than 3 ft, told to a hundredth of an inch."""
    for beyond, expected in ((3.0, "passes"), (3.0 - 0.01 / 12, "fails")):
        line = 20.5 + 5.0 + beyond
        lot = f"[[-30', -40'], [{line:.9f} ft, -40'], [{line:.9f} ft, 50'], [-30', 50']]"
        made = judged(
            "at: {wall: east, along: 4'}, door: {width: 32 in}",
            "[[-30', -40'], [60', -40'], [60', 50'], [-30', 50']]", lot,
        )  # fmt: skip
        assert verdict(made, "setback-no-openings") == expected


def test_permit_area_steps_at_two_hundred_square_feet() -> None:
    """IRC R105.2, item 1 (2009 to 2021): up to 200 sq ft; 199 passes and 201 does not."""
    for depth, expected in (("19' 10.8 in", "passes"), ("20'", "passes"), ("20' 1.2 in", "fails")):
        made = judged("at: {x: 25', y: 0, turn: 0}", "width: 6', depth: 5'",
                      f"width: 10', depth: {depth}")  # fmt: skip
        assert verdict(made, "shed-permit-area") == expected


def test_a_small_detached_shed_is_spared_the_fire_distances() -> None:
    """IRC R302.1, exception 3: sheds that need no permit; nothing may reach over the line."""
    made = judged("at: {x: 53', y: 0, turn: 0}")
    assert not [f for f in made.findings if f.rule == "setback-wall"]
    over = judged("eave: 13 in, at: {x: 53', y: 0, turn: 0}")
    assert verdict(over, "shed-on-lot", "east") == "fails"


def test_distance_to_a_slanted_line_by_hand() -> None:
    """A right triangle of sides 3, 4 and 5: the line falls 3 in 4, the shed's corner decides."""
    made = judged(
        "at: {x: 30', y: 2', turn: 0}", "[60', -40'], [60', 50']", "[60', -40'], [15', 20']"
    )
    row = next(f for f in made.findings if f.rule == "shed-setback" and "east" in f.about)
    # the line from (60, -40) to (15, 20): 4 x + 3 y = 120; the shed's north-east corner is (36, 7)
    assert row.measured is not None
    assert row.measured / FOOT == pytest.approx((120 - 4 * 36 - 3 * 7) / hypot(4, 3))
    assert row.verdict == "fails"
    moved = judged("at: {x: 10' 6 in, y: 17', turn: 0}", "[60', -40'], [60', 50']",
                   "[60', -40'], [15', 20']")  # fmt: skip
    assert [f for f in moved.findings if f.rule == "shed-setback" and "east" in f.about]
