"""The rules against the numbers as their sources print them, in inches and in metres.

Sources that print both systems round one of them; the rule must round to what they print.
"""

import math
from fractions import Fraction

import pytest

from floorplan.rules.book import load_rules
from floorplan.rules.overlap import MATRIX, PUBLISHED_IN, Area, may_overlap
from floorplan.rules.tables import table

IMPERIAL, METRIC = load_rules(False), load_rules(True)
INCH = 0.0254  # [m], exact by definition (international yard and pound agreement, 1959)
FOOT = 12 * INCH
POUND = 0.45359237  # [kg], exact by the same agreement

# (rule, value in inches, metric value as the source prints it, last digit of that, source)
PRINTED_TWICE = [
    ("way-out-width", 28, 0.711, 0.001, "29 CFR 1910.36(g)(2): 28 in (71.1 cm)"),
    ("way-out-height", 80, 2.0, 0.1, "29 CFR 1910.36(g)(1): 6 ft 8 in (2.0 m)"),
    ("way-out-ceiling", 90, 2.3, 0.1, "29 CFR 1910.36(g)(1): 7 ft 6 in (2.3 m)"),
    ("way-out-good-width", 36, 0.914, 0.001, "NKBA guideline 7: 36 in (914 mm)"),
    ("exit-door-width", 32, 0.813, 0.001, "IBC 1010.1.1: 32 in (813 mm)"),
    ("panel-depth", 36, 0.914, 0.001, "NEC Table 110.26(A)(1): 3 ft (914 mm)"),
    ("panel-width", 30, 0.762, 0.001, "NEC 110.26(A)(2): 30 in (762 mm)"),
    ("panel-height", 78, 1.981, 0.001, "NEC 110.26(A)(3): 6.5 ft (1981 mm)"),
    ("appliance-depth", 30, 0.762, 0.001, "IRC M1305.1: 30 in (762 mm)"),
    ("appliance-width", 30, 0.762, 0.001, "IRC M1305.1: 30 in (762 mm)"),
    ("garage-ignition-height", 18, 0.457, 0.001, "IRC M1307.3: 18 in (457 mm)"),
    ("stair-width", 36, 0.914, 0.001, "IRC R311.7.1: 36 in (914 mm)"),
    ("stair-headroom", 80, 2.032, 0.001, "IRC R311.7.2: 6 ft 8 in (2032 mm)"),
    ("stair-landing-depth", 30, 0.76, 0.01, "29 CFR 1910.25(b): 30 in (76 cm)"),
    ("bench-aisle", 42, 1.067, 0.001, "NKBA guideline 6: 42 in (1067 mm)"),
    ("bench-aisle-two-people", 48, 1.219, 0.001, "NKBA guideline 6: 48 in (1219 mm)"),
    ("walkway", 36, 0.914, 0.001, "NKBA guideline 7: 36 in (914 mm)"),
    ("extinguisher-travel", 900, 22.9, 0.1, "29 CFR 1910.157(d): 75 ft (22.9 m)"),
    ("extinguisher-travel-liquids", 600, 15.2, 0.1, "29 CFR 1910.157(d): 50 ft (15.2 m)"),
    ("setback-wall", 60, 1.524, 0.001, "IRC Table R302.1: 5 ft (1524 mm)"),
    ("setback-no-openings", 36, 0.914, 0.001, "IRC Table R302.1: 3 ft (914 mm)"),
]


@pytest.mark.parametrize(
    ("rule_id", "inches", "metres", "digit", "source"), PRINTED_TWICE, ids=lambda v: str(v)[:30]
)
def test_inches_and_the_printed_metres(
    rule_id: str, inches: float, metres: float, digit: float, source: str
) -> None:
    value = IMPERIAL.value(rule_id)
    assert value == pytest.approx(inches * INCH, rel=1e-12), source
    assert abs(value - metres) <= digit / 2 + 1e-9, source


# (rule, its value in a shop file in inches, source), no metric value printed beside it
IN_INCHES = [
    ("exit-door-height", 78, "IRC R311.2"),
    ("door-landing", 36, "IRC R311.3"),
    ("panel-dedicated-height", 72, "NEC 110.26(E)"),
    ("storage-below-ceiling", 24, "IFC 315.3.1 (2018)"),
    ("setback-openings-free", 60, "IRC Table R302.1 (2009)"),
    ("setback-eaves", 24, "IRC Table R302.1 (2009)"),
]


@pytest.mark.parametrize(("rule_id", "inches", "source"), IN_INCHES)
def test_inches(rule_id: str, inches: float, source: str) -> None:
    for book in (IMPERIAL, METRIC):
        assert book.value(rule_id) == pytest.approx(inches * INCH, rel=1e-12), source


# (rule, SI value, the same in inches worked out by hand to a tenth, source)
IN_METRES = [
    ("take-off-table", 1.200, 47.2, "HSE, Circular saw bench (rip saw): 1200 mm"),
    ("work-area-least-side", 1.00, 39.4, "ASR A1.2, 5.1: 1.00 m"),
    ("work-area-beside", 1.20, 47.2, "ASR A1.2, 5.1.4: 1.20 m"),
    ("machine-spacing", 0.600, 23.6, "Quebec S-2.1, r. 13, s. 16(3): 600 mm"),
    ("head-room", 2.0, 78.7, "Quebec S-2.1, r. 13, s. 15: 2 m"),
    ("benches-back-to-back", 1.50, 59.1, "RISU-NRW III-5.2: 1.50 m"),
    ("benches-behind", 0.85, 33.5, "RISU-NRW III-5.2: 0.85 m"),
    ("aisle-to-place", 0.60, 23.6, "ASR A1.8, Table 2: 0.60 m"),
    ("service-aisle", 0.50, 19.7, "ASR A1.8, Table 2: 0.50 m"),
    ("hand-loading-aisle", 0.75, 29.5, "ASR A1.8, Table 2: 0.75 m"),
    ("window-way-out-width", 0.9, 35.4, "RISU-NRW III-5.2: 0.9 x 1.2 m"),
    ("window-way-out-height", 1.2, 47.2, "RISU-NRW III-5.2: 0.9 x 1.2 m"),
    ("reach-across", 0.674, 26.5, "ANSUR II: thumb-tip reach, women P5"),
    ("body-width", 0.667, 26.3, "ANSUR II: forearm-to-forearm breadth, men P95"),
    ("body-depth", 0.300, 11.8, "ANSUR II: waist depth, men P95"),
]


@pytest.mark.parametrize(("rule_id", "metres", "inches", "source"), IN_METRES)
def test_metres_and_the_printed_inches(
    rule_id: str, metres: float, inches: float, source: str
) -> None:
    for book in (IMPERIAL, METRIC):
        assert book.value(rule_id) == pytest.approx(metres, rel=1e-12), source
    assert IMPERIAL.value(rule_id) / INCH == pytest.approx(inches, abs=0.05 + 1e-9), source


def test_metric_file_takes_the_routes_of_a_metric_standard() -> None:
    """ASR A1.8 (March 2022), Table 2, up to five persons: route 0.90 m, doors in it 0.80 m."""
    assert METRIC.value("way-out-width") == pytest.approx(0.90)
    assert METRIC.value("exit-door-width") == pytest.approx(0.80)
    assert METRIC["way-out-width"].edition == METRIC["exit-door-width"].edition == "March 2022"
    assert METRIC["way-out-width"].source.startswith("ASR A1.8")
    assert "0.875 m" in METRIC["way-out-width"].note  # the rule of transition, 4.2(3)


def test_areas() -> None:
    """IRC R105.2 item 1: 200 ft2 (18.58 m2); ASR A1.2 5.1: 1.50 m2; RISU-NRW: 10 and 5 m2."""
    assert IMPERIAL.value("shed-permit-area") == pytest.approx(18.58, abs=0.005)
    assert IMPERIAL.value("work-area") == pytest.approx(1.50)
    # RISU-NRW III-5.2 gives 30 to 35 m2 for a saw and four further machines
    room = IMPERIAL.value("saw-floor-area") + 4 * IMPERIAL.value("machine-floor-area")
    assert room == pytest.approx(30)
    # NFPA 664, 1.1.2: 5000 ft2 and 1500 cfm (2549 m3/h)
    assert IMPERIAL.value("dust-standard-floor") == pytest.approx(5000 * FOOT**2)
    assert IMPERIAL.value("dust-standard-airflow") * 3600 == pytest.approx(2549, abs=0.5)


def test_panel_box() -> None:
    """NEC 110.26(A): 30 in wide and 36 in deep are 7.5 square feet of floor."""
    floor = IMPERIAL.value("panel-width") * IMPERIAL.value("panel-depth")
    assert floor / FOOT**2 == pytest.approx(7.5)
    assert IMPERIAL.value("panel-door-opening") == 90  # IRC E3405.2


def test_exit_width_clears_nearly_every_body() -> None:
    """29 CFR 1910.36(g)(2) against ANSUR II, men, 99th percentile forearm breadth of 700 mm."""
    assert IMPERIAL.value("way-out-width") - 0.700 == pytest.approx(0.011, abs=0.0005)


def test_carrying_a_panel_just_fits_the_lane() -> None:
    """667 mm (ANSUR II), a 19 mm panel, 100 mm of sway a side (common practice): 886 mm."""
    need = IMPERIAL.value("body-width") + 0.019 + 2 * 0.100
    assert need == pytest.approx(0.886)
    assert need < METRIC.value("carry-lane") < IMPERIAL.value("carry-lane")


def test_elbow_height_lies_between_the_medians() -> None:
    """ANSUR II, acromial height less upper arm: medians 1022 mm (women) and 1104 mm (men)."""
    assert IMPERIAL.value("elbow-height") == pytest.approx((1.022 + 1.104) / 2)


def test_bench_heights_below_a_given_elbow() -> None:
    """Ergonomics textbook figures: elbow at 1104 mm, heavy work 854-1004, light 1004-1054 mm."""
    tops = {
        name: 1.104 - IMPERIAL.value(f"bench-{name}")
        for name in ("heavy-work-most", "heavy-work-least", "light-work-most", "light-work-least")
    }
    assert list(tops.values()) == pytest.approx([0.854, 1.004, 1.004, 1.054])


def test_drawers_facing_a_bench_leave_room_in_the_aisle() -> None:
    """NKBA guideline 6 (42 in) less a drawer open 22 in (from memory) leaves 20 in to stand."""
    left = IMPERIAL.value("bench-aisle") - 22 * INCH
    assert left == pytest.approx(20 * INCH)
    assert left > IMPERIAL.value("drawer-stand")


def test_overhead_door_reaches_back() -> None:
    """Fitting convention (common practice): a 7 ft door's tracks take 102 in (2591 mm)."""
    reach = 7 * FOOT + IMPERIAL.value("overhead-track-extra")
    assert reach == pytest.approx(102 * INCH)
    assert reach == pytest.approx(2.591, abs=0.0005)
    assert IMPERIAL.value("overhead-headroom") == pytest.approx(12 * INCH)
    assert IMPERIAL.value("overhead-side-room") == pytest.approx(3.75 * INCH)


# --- electricity, noise --------------------------------------------------------------------


def voltage_drop(gauge: int, *, feet: float, amperes: float) -> float:
    """Volts lost on a single-phase run, out and back."""
    wire = table("wire-resistance")
    ohm_per_metre = dict(zip(wire["gauge"], wire["resistance"], strict=True))[gauge]
    return 2 * feet * FOOT * ohm_per_metre * amperes


@pytest.mark.parametrize(
    ("gauge", "feet", "amperes", "volts", "lost", "percent"),
    [
        (12, 100, 16, 120, 6.336, 5.28),
        (10, 100, 16, 120, 3.968, 3.31),
        (12, 50, 15, 240, 2.97, 1.24),
    ],
)
def test_voltage_drop(
    gauge: int, feet: float, amperes: float, volts: float, lost: float, percent: float
) -> None:
    """NEC Chapter 9 Table 8, stranded copper; drop = 2 L R I."""
    drop = voltage_drop(gauge, feet=feet, amperes=amperes)
    assert drop == pytest.approx(lost, abs=5e-4)
    assert 100 * drop / volts == pytest.approx(percent, abs=5e-3)


def test_longest_run_at_three_percent() -> None:
    """NEC 210.19(A) informational note: 15 A on 12 AWG goes 60.6 ft at 120 V, twice at 240 V."""
    per_foot = voltage_drop(12, feet=1, amperes=15)
    share = IMPERIAL.value("voltage-drop-branch")
    assert share * 120 / per_foot == pytest.approx(60.6, abs=0.05)
    assert share * 240 / per_foot == pytest.approx(121.2, abs=0.05)
    assert IMPERIAL.value("voltage-drop-total") == pytest.approx(0.05)


def test_noise_hours_follow_the_exchange_rate() -> None:
    """29 CFR 1910.95 Table G-16 is T = 8 / 2^((L - 90)/5) hours, some rows rounded."""
    hours = table("noise-hours")
    for level, seconds in zip(hours["level"], hours["time"], strict=True):
        assert seconds / 3600 == pytest.approx(8 / 2 ** ((level - 90) / 5), rel=0.015)
    assert hours["level"][0] == IMPERIAL.value("noise-full-day")
    assert hours["time"][0] == 8 * 3600


def test_mixed_noise_dose() -> None:
    """29 CFR 1910.95: two hours at 95 dB and one at 100 dB are exactly a full dose."""
    hours = table("noise-hours")
    allowed = dict(zip(hours["level"], hours["time"], strict=True))
    assert 2 * 3600 / allowed[95] + 1 * 3600 / allowed[100] == pytest.approx(1.0)
    assert IMPERIAL.value("noise-watch") == 85  # 29 CFR 1910.95(c)


# --- weights, lifting, pushing -------------------------------------------------------------


def test_sheet_weights() -> None:
    """A 3/4 in sheet of 4 x 8 ft is exactly 2 ft3; trade table and 18 mm sheets by density."""
    assert Fraction(3, 4) / 12 * 4 * 8 == 2
    # 700 to 745 kg/m3 typical, 0.75 of water = 47 lb/ft3 (wood data pages)
    assert IMPERIAL.value("density-mdf") * FOOT**3 / POUND == pytest.approx(47, abs=0.5)
    sheet = 0.018 * 2.440 * 1.220
    assert IMPERIAL.value("density-mdf") * sheet == pytest.approx(40.2, abs=0.05)
    assert IMPERIAL.value("density-hardwood-plywood") * sheet == pytest.approx(36.4, abs=0.05)


def test_softwood_plywood_density_is_the_mean_of_the_trade_table() -> None:
    sheets = table("softwood-sheet-weights")
    densities = [
        weight / (4 * 8 * FOOT**2 * thickness)
        for thickness, weight in zip(sheets["thickness"], sheets["weight"], strict=True)
    ]
    mean = math.fsum(densities) / len(densities)
    assert IMPERIAL.value("density-softwood-plywood") == pytest.approx(mean, rel=0.002)
    assert METRIC.value("density-softwood-plywood") == pytest.approx(mean, rel=0.002)
    # 3 lb/ft2 for each inch, the trade's rule of thumb, is 13.5 % heavier than the 23/32 sheet
    assert 36 * POUND / FOOT**3 / densities[-1] == pytest.approx(1.135, abs=0.001)


def test_lifting_figures() -> None:
    """NIOSH 94-110: 51 lb (23 kg). HSE lifting filter: teams of two and three."""
    assert IMPERIAL.value("lift-load-constant") == pytest.approx(51 * POUND)
    assert METRIC.value("lift-load-constant") == 23
    assert IMPERIAL.value("lift-load-constant") == pytest.approx(23, rel=0.01)
    two, three = IMPERIAL.value("lift-two-share"), IMPERIAL.value("lift-three-share")
    men, women = IMPERIAL.value("lift-men"), IMPERIAL.value("lift-women")
    assert 2 * men * two == pytest.approx(33, abs=0.5)
    assert 3 * men * three == pytest.approx(37.5)
    assert 2 * women * two == pytest.approx(21, abs=0.5)
    assert 3 * women * three == pytest.approx(24)


def test_pushing_figures() -> None:
    """HSE L23: start 20/15 kg, keep 10/7 kg; 200 kg on wheels takes 4 kg, 20 kg if uneven."""
    figures = [
        IMPERIAL.value(f"push-{what}-{who}")
        for what in ("start", "keep")
        for who in ("men", "women")
    ]
    assert figures == pytest.approx([20, 15, 10, 7])
    assert 200 * IMPERIAL.value("push-share-level") == pytest.approx(4)
    assert 200 * IMPERIAL.value("push-share-uneven") == pytest.approx(20)
    assert IMPERIAL.value("push-distance") == pytest.approx(20)


def test_openings_near_the_lot_line() -> None:
    """IRC Table R302.1 (2009): none under 3 ft, 25 % of the wall to 5 ft, free from there."""
    near, far = IMPERIAL.value("setback-no-openings"), IMPERIAL.value("setback-openings-free")
    assert near < far
    assert IMPERIAL.value("setback-openings-share") == pytest.approx(0.25)


# --- overlap -------------------------------------------------------------------------------

# ASR A1.2, 5.1.5, cell by cell: a standing place (movement area) and what it meets
PUBLISHED_CELLS = [
    (Area.STANDING_PLACE, True, True),  # only *other* people's movement areas are barred
    (Area.STANDING_PLACE, False, False),
    (Area.WALKWAY, True, False),
    (Area.WALKWAY, False, False),
    (Area.SOLID, True, False),
    (Area.SOLID, False, False),
    (Area.USE_ZONE, True, True),  # drawers and doors that the same person uses
    (Area.USE_ZONE, False, False),
    (Area.SAFETY_DISTANCE, True, False),
    (Area.SAFETY_DISTANCE, False, False),
    (Area.MOBILE_TOOL, True, True),  # own mobile tools
    (Area.MOBILE_TOOL, False, False),
]


@pytest.mark.parametrize(("other", "same_person", "may"), PUBLISHED_CELLS)
def test_published_cell(other: Area, same_person: bool, may: bool) -> None:
    assert may_overlap(Area.STANDING_PLACE, other, same_person) is may
    assert may_overlap(other, Area.STANDING_PLACE, same_person) is may


def test_only_the_published_cells_are_marked_so() -> None:
    assert PUBLISHED_IN == "ASR A1.2, 5.1.5"
    marked = {pair for pair, cell in MATRIX.items() if cell.published}
    assert marked == {(Area.STANDING_PLACE, other) for other in Area}
    assert len(PUBLISHED_CELLS) == 2 * len(marked)
