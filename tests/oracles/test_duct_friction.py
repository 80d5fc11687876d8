"""Straight-duct friction against Colebrook's equation and published worksheets.

The table is Colebrook's equation for round duct of 0.09144 mm (galvanized, ASHRAE duct roughness
table) and 0.0015 mm (smooth plastic), computed with the independent library `fluids` 1.3.1; its
last column is the empirical formula of ACGIH, Industrial Ventilation, for galvanized duct.
"""

import fluids
import numpy as np
import pytest

from floorplan.air.empirical import EMPIRICAL_FLEXIBLE, EMPIRICAL_GALVANIZED, EMPIRICAL_SMOOTH
from floorplan.air.friction import (
    FLEXIBLE,
    GALVANIZED,
    GALVANIZED_DUCT,
    JOINTED_PVC,
    SMOOTH_PLASTIC,
    Wall,
    equivalent_length,
    flexible_hose,
    friction_factor,
    friction_factor_and_slope,
    friction_gradient,
    measured_friction_factor,
    reynolds_number,
)
from floorplan.air.properties import STANDARD_AIR, duct_area, velocity_pressure
from floorplan.air.registry import OutsideRangeError

INCH, FOOT = 0.0254, 0.3048
CFM, FPM, INCH_WATER = 4.719474e-4, 0.00508, 249.08891

# diameter in, flow cfm, f, Pa/m, in wg per 100 ft galvanized and smooth plastic, empirical
TABLE = (
    (4, 350, 0.02121, 52.052, 6.369, 5.090, 7.111),
    (4, 400, 0.02099, 67.273, 8.232, 6.476, 9.190),
    (4, 500, 0.02066, 103.483, 12.663, 9.693, 14.109),
    (4, 600, 0.02043, 147.379, 18.034, 13.487, 20.026),
    (4, 800, 0.02014, 258.206, 31.596, 22.747, 34.802),
    (4, 1000, 0.01995, 399.732, 48.914, 34.166, 53.428),
    (4, 1200, 0.01982, 571.950, 69.987, 47.679, 75.836),
    (4, 1400, 0.01973, 774.855, 94.816, 63.238, 101.972),
    (5, 350, 0.02097, 16.862, 2.063, 1.743, 2.296),
    (5, 400, 0.02068, 21.724, 2.658, 2.215, 2.967),
    (5, 500, 0.02026, 33.248, 4.068, 3.311, 4.556),
    (5, 600, 0.01996, 47.169, 5.772, 4.603, 6.466),
    (5, 800, 0.01956, 82.186, 10.057, 7.749, 11.237),
    (5, 1000, 0.01931, 126.755, 15.511, 11.621, 17.251),
    (5, 1200, 0.01913, 180.871, 22.132, 16.197, 24.487),
    (5, 1400, 0.01900, 244.528, 29.922, 21.457, 32.926),
    (6, 350, 0.02095, 6.772, 0.829, 0.727, 0.912),
    (6, 400, 0.02061, 8.702, 1.065, 0.923, 1.178),
    (6, 500, 0.02010, 13.259, 1.622, 1.379, 1.809),
    (6, 600, 0.01974, 18.745, 2.294, 1.915, 2.568),
    (6, 800, 0.01924, 32.491, 3.976, 3.219, 4.462),
    (6, 1000, 0.01892, 49.927, 6.109, 4.823, 6.850),
    (6, 1200, 0.01870, 71.046, 8.694, 6.716, 9.723),
    (6, 1400, 0.01853, 95.845, 11.728, 8.889, 13.074),
    (7, 350, 0.02107, 3.151, 0.386, 0.347, 0.418),
    (7, 400, 0.02068, 4.039, 0.494, 0.441, 0.540),
    (7, 500, 0.02009, 6.132, 0.750, 0.658, 0.828),
    (7, 600, 0.01967, 8.642, 1.057, 0.913, 1.176),
    (7, 800, 0.01908, 14.910, 1.824, 1.533, 2.043),
    (7, 1000, 0.01870, 22.832, 2.794, 2.295, 3.137),
    (7, 1200, 0.01843, 32.404, 3.965, 3.194, 4.453),
    (7, 1400, 0.01823, 43.623, 5.338, 4.225, 5.988),
    (8, 350, 0.02126, 1.631, 0.200, 0.183, 0.212),
    (8, 400, 0.02083, 2.086, 0.255, 0.232, 0.274),
    (8, 500, 0.02017, 3.157, 0.386, 0.347, 0.421),
    (8, 600, 0.01969, 4.439, 0.543, 0.481, 0.598),
    (8, 800, 0.01903, 7.626, 0.933, 0.807, 1.039),
    (8, 1000, 0.01859, 11.642, 1.425, 1.207, 1.595),
    (8, 1200, 0.01828, 16.482, 2.017, 1.679, 2.264),
    (8, 1400, 0.01805, 22.144, 2.710, 2.219, 3.044),
)
LAST_DIGIT = 0.0006
PLASTIC = Wall("smooth plastic", SMOOTH_PLASTIC.constant)


def per_100_ft(gradient: float) -> float:
    return float(gradient) * 100 * FOOT / INCH_WATER


@pytest.mark.parametrize("row", TABLE, ids=lambda row: f"{row[0]}in-{row[1]}cfm")
def test_the_table_of_colebrook(row):
    inches, cfm, factor, pascals, galvanized, plastic, _ = row
    flow, size = cfm * CFM, inches * INCH
    found = friction_factor(reynolds_number(flow, size), GALVANIZED.constant / size)
    assert float(found) == pytest.approx(factor, rel=1e-3)
    assert float(friction_gradient(flow, size)) == pytest.approx(pascals, rel=1e-3)
    steel = per_100_ft(friction_gradient(flow, size))
    assert steel == pytest.approx(galvanized, rel=1e-3, abs=LAST_DIGIT)
    smooth = per_100_ft(friction_gradient(flow, size, PLASTIC))
    assert smooth == pytest.approx(plastic, rel=1e-3, abs=LAST_DIGIT)


@pytest.mark.parametrize("row", TABLE, ids=lambda row: f"{row[0]}in-{row[1]}cfm")
def test_the_empirical_column(row):
    """ACGIH, Industrial Ventilation: Hf = 0.0307 V^0.533 / Q^0.612 per foot, as in a worksheet.

    The trade's (V/4005)^2 in wg is 0.17 % above rho V^2 / 2 in SI.
    """
    inches, cfm, *_, empirical = row
    flow, size = cfm * CFM, inches * INCH
    heads = float(EMPIRICAL_GALVANIZED.velocity_pressures(flow, size)) * 100 * FOOT
    worksheet = heads * (flow / duct_area(size) / FPM / 4005) ** 2
    assert worksheet == pytest.approx(empirical, rel=2e-4, abs=LAST_DIGIT)
    in_si = per_100_ft(EMPIRICAL_GALVANIZED.gradient(flow, size))
    assert in_si == pytest.approx(worksheet, rel=0.0018)


@pytest.mark.parametrize(
    ("formula", "a", "b", "c"),
    [
        (EMPIRICAL_GALVANIZED, 0.0307, 0.533, 0.612),  # ACGIH, public design worksheet
        (EMPIRICAL_SMOOTH, 0.0425, 0.465, 0.602),  # the same
        (EMPIRICAL_FLEXIBLE, 0.0311, 0.604, 0.639),  # ACGIH, from memory
    ],
)
def test_the_empirical_coefficients_are_the_published_ones_in_si(formula, a, b, c):
    cfm, inches = 390.0, 4.0
    fpm = cfm * CFM / duct_area(inches * INCH) / FPM
    published = a * fpm**b / cfm**c / FOOT
    assert float(formula.velocity_pressures(cfm * CFM, inches * INCH)) == pytest.approx(
        published, rel=1e-6
    )


def test_the_empirical_formula_reports_where_it_is_not_compared():
    assert EMPIRICAL_GALVANIZED.outside(400 * CFM, 4 * INCH) == ()
    [report] = EMPIRICAL_GALVANIZED.outside(400 * CFM, 8 * INCH)
    assert report.quantity == "velocity"
    assert "outside the source's range" in str(report)


def test_the_grid_agrees_with_an_independent_library():
    """`fluids` solves Colebrook by another way: 1.25 to 12 in, 20 to 2000 cfm."""
    sizes = np.array([1.25, 2, 2.5, 3, 4, 5, 6, 7, 8, 10, 12]) * INCH
    flows = np.array([20, 50, 100, 200, 400, 800, 1200, 2000]) * CFM
    for rough in (0.0, 1.5e-6, 4.572e-5, 9.144e-5, 1.524e-4, 9.144e-4):
        wall = Wall("grid", rough)
        ours = friction_gradient(flows[:, None], sizes[None, :], wall)
        for i, flow in enumerate(flows):
            for j, size in enumerate(sizes):
                velocity = flow / duct_area(size)
                re = fluids.Reynolds(
                    V=velocity, D=size, rho=STANDARD_AIR.density, mu=STANDARD_AIR.viscosity
                )
                if re < 4000:
                    continue
                factor = fluids.friction.Clamond(float(re), float(rough / size))
                theirs = factor / size * 0.5 * STANDARD_AIR.density * velocity**2
                assert ours[i, j] == pytest.approx(theirs, rel=1e-9)


def test_laminar_flow_is_hagen_poiseuille_and_the_loss_never_jumps():
    assert float(friction_factor(1000.0, 0.001)) == pytest.approx(0.064, rel=1e-12)
    re = np.linspace(100.0, 8000.0, 20_001)
    factor = friction_factor(re, 0.001)
    loss = factor * re**2
    assert np.all(np.diff(loss) > 0)
    assert np.max(np.diff(loss) / loss[1:]) < 0.02
    for at in (500.0, 3000.0, 20_000.0):
        _, slope = friction_factor_and_slope(np.array([at]), np.array([1e-3]))
        step = 1e-6
        rise = float(friction_factor(at * (1 + step), 1e-3) / friction_factor(at, 1e-3)) - 1
        assert float(slope[0]) == pytest.approx(rise / step, abs=1e-5)


@pytest.mark.parametrize(
    ("rough", "four", "six"),
    [
        (1.5e-6, 6.476, 3.219),
        (0.00015 * FOOT, 7.465, 3.642),
        (0.0003 * FOOT, 8.232, 3.976),
        (0.0005 * FOOT, 9.050, 4.334),
        (0.003 * FOOT, 14.51, 6.72),
        (0.01 * FOOT, 22.50, 10.09),
        (0.012 * FOOT, 24.30, 10.83),
    ],
)
def test_the_effect_of_roughness(rough, four, six):
    """Colebrook at 400 cfm in 4 in and 800 cfm in 6 in, computed; roughnesses from ASHRAE."""
    wall = Wall("test", rough)
    found = per_100_ft(friction_gradient(400 * CFM, 4 * INCH, wall))
    assert found == pytest.approx(four, rel=1e-3)
    found = per_100_ft(friction_gradient(800 * CFM, 6 * INCH, wall))
    assert found == pytest.approx(six, rel=1e-3)


def test_roughnesses_of_the_ashrae_table():
    """ASHRAE duct roughness table, as reproduced: 0.0003, 0.00015 and 0.003 ft."""
    assert GALVANIZED.constant == pytest.approx(0.0003 * FOOT, rel=1e-9)
    assert JOINTED_PVC.constant == pytest.approx(0.00015 * FOOT, rel=1e-9)
    assert FLEXIBLE.constant == pytest.approx(0.003 * FOOT, rel=1e-9)


def test_hose_multiplies_smooth_duct():
    """Common practice, no source: the default is three times; several manuals print 3.7."""
    flow, size = 400 * CFM, 4 * INCH
    smooth = float(friction_gradient(flow, size))
    assert float(friction_gradient(flow, size, flexible_hose())) == pytest.approx(3 * smooth)
    hose = flexible_hose(3.7)
    assert hose.hose
    five_feet = float(friction_gradient(flow, size, hose)) * 5 * FOOT
    assert five_feet / INCH_WATER == pytest.approx(1.523, abs=5e-4)
    assert five_feet / smooth == pytest.approx(18.5 * FOOT, rel=1e-9)


def test_a_duct_that_cannot_be_is_refused():
    """A circulating exercise: 7000 cfm in 5 ft duct, 2.5 in wg over 1300 ft; f would be 1.2."""
    numbers = {"length": 1300 * FOOT, "diameter": 5 * FOOT, "flow": 7000 * CFM}
    with pytest.raises(OutsideRangeError, match=r"friction factor 1\.2"):
        measured_friction_factor(pressure=2.5 * INCH_WATER, **numbers)
    found = measured_friction_factor(pressure=0.04 * INCH_WATER, **numbers)
    velocity = 7000 * CFM / duct_area(5 * FOOT)
    loss = found * 1300 / 5 * velocity_pressure(velocity)
    assert loss == pytest.approx(0.04 * INCH_WATER, rel=1e-12)
    with pytest.raises(OutsideRangeError):
        Wall("impossible", factor=1.2)


@pytest.mark.parametrize("bad", [-1.0, float("nan"), float("inf")])
def test_impossible_walls_are_refused(bad):
    with pytest.raises(ValueError):
        Wall("bad", bad)
    with pytest.raises(ValueError):
        Wall("bad", multiplier=bad)


def test_outside_colebrook_is_refused():
    with pytest.raises(OutsideRangeError):
        friction_factor(1e5, 0.06)
    with pytest.raises(OutsideRangeError):
        friction_factor(1e9, 0.001)
    with pytest.raises(OutsideRangeError):
        friction_factor(-5.0, 0.001)


def test_equivalent_lengths():
    """K D / f: 6 in, K 0.24, f 0.01924 is 6.24 ft; one such elbow in 4 in is 3.8 ft (computed)."""
    assert equivalent_length(0.24, 6 * INCH, 0.01924) / FOOT == pytest.approx(6.24, abs=0.005)
    assert equivalent_length(0.24, 4 * INCH, 0.02099) / FOOT == pytest.approx(3.8, abs=0.02)


def test_scaling_of_loss_with_size_and_flow():
    """Computed: exponent 5.13 of size at 1400 cfm, 1.911 of flow in 6 in."""
    loss = lambda cfm, inches: float(friction_gradient(cfm * CFM, inches * INCH, GALVANIZED_DUCT))  # noqa: E731
    assert np.log2(loss(1400, 4) / loss(1400, 8)) == pytest.approx(5.13, abs=0.005)
    assert np.log(loss(1200, 6) / loss(400, 6)) / np.log(3) == pytest.approx(1.911, abs=0.001)
