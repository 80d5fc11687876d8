"""Operating points against closed forms, fan laws and a system worked out part by part.

The fans and the reference system are invented; its operating points were computed apart from this
project. Losses in it: flanged pipe end 0.49 (ACGIH, Industrial Ventilation, 24th ed., fig. 3-16),
elbows 0.24 (SMACNA, HVAC Systems Duct Design, 4th ed., table A-7, 5-piece, r/d 1.5), branch entry
0.18 (ACGIH, from memory), hose 3.7 times galvanized duct (printed in several manuals), gate,
cyclone and filter common practice.
"""

import math

import numpy as np
import pytest

from floorplan.air.fan import FanCurve, air_power, power_ratio
from floorplan.air.fittings import branch_entry, elbow
from floorplan.air.friction import flexible_hose
from floorplan.air.losses import Gate, Hood, RatedLoss
from floorplan.air.network import Collector, NetworkError, Port, Segment, System
from floorplan.air.operating import Meeting, all_gate_states, gate_states, operating_point
from floorplan.air.properties import STANDARD_DENSITY, Air, duct_area
from floorplan.air.registry import OutsideRangeError
from floorplan.air.vacuum import Vacuum, at_hose_end, longest_hose

INCH, FOOT = 0.0254, 0.3048
CFM, FPM, INCH_WATER, WATT_PER_HP = 4.719474e-4, 0.00508, 249.08891, 745.69987


def parabola(shut_off: float, free_flow: float) -> FanCurve:
    """P = shut_off (1 - (Q / free_flow)^2) in in wg and cfm, as a fine table."""
    flows = np.linspace(0.0, free_flow, 801)
    pressures = shut_off * (1 - (flows / free_flow) ** 2)
    return FanCurve("invented", tuple(flows * CFM), tuple(pressures * INCH_WATER))


FANS = {"B": parabola(9.5, 900), "C": parabola(13, 1600)}
CYCLONE = RatedLoss("cyclone", 2.0 * INCH_WATER, 800 * CFM)
FILTER = RatedLoss("filter", 1.0 * INCH_WATER, 800 * CFM, "linear")


def reference_system(fan: FanCurve, branch: float, trunk: float) -> System:
    bend = elbow(radius_ratio=1.5, make="5-piece")
    port = Port("machine", Hood("flanged pipe end", 0.49), gate=Gate(0.20))
    branch, trunk = branch * INCH, trunk * INCH
    return System(
        (
            Segment("hose", 5 * FOOT, branch, "branch", flexible_hose(3.7), port=port),
            Segment(
                "branch",
                10 * FOOT,
                branch,
                "trunk",
                fittings=(bend, bend, branch_entry(30)),
                riser=True,
            ),
            Segment("trunk", 25 * FOOT, trunk, fittings=(bend, bend)),
        ),
        Collector(fan, FILTER, losses=(CYCLONE,)),
    )


@pytest.mark.parametrize(
    ("fan", "branch", "trunk", "cfm", "pressure", "branch_fpm", "trunk_fpm", "floors"),
    [
        ("B", 4, 4, 371.0, 7.886, 4251, 4251, True),
        ("B", 4, 5, 406.4, 7.563, 4656, 2980, False),
        ("B", 4, 6, 419.1, 7.440, 4803, 2135, False),
        ("B", 5, 5, 517.9, 6.354, 3798, 3798, False),
        ("B", 5, 6, 544.9, 6.018, 3996, 2775, False),
        ("B", 6, 6, 618.4, 5.015, 3149, 3149, False),
        ("C", 4, 4, 460.5, 11.923, 5277, 5277, True),
        ("C", 4, 5, 510.2, 11.678, 5846, 3742, True),
        ("C", 4, 6, 528.5, 11.582, 6056, 2692, False),
        ("C", 5, 5, 681.3, 10.643, 4996, 4996, True),
        ("C", 5, 6, 726.4, 10.320, 5327, 3700, True),
        ("C", 6, 6, 861.2, 9.234, 4386, 4386, True),
    ],
)
def test_twelve_operating_points(fan, branch, trunk, cfm, pressure, branch_fpm, trunk_fpm, floors):
    point = operating_point(reference_system(FANS[fan], branch, trunk), ["machine"])
    assert point.meeting is Meeting.MEETS
    assert point.flow / CFM == pytest.approx(cfm, abs=0.051)
    assert point.pressure / INCH_WATER == pytest.approx(pressure, abs=5.1e-4)
    hose, _, main = point.segments
    assert hose.velocity / FPM == pytest.approx(branch_fpm, abs=0.51)
    assert main.velocity / FPM == pytest.approx(trunk_fpm, abs=0.51)
    assert point.floors_met is floors


def test_the_reference_system_part_by_part():
    """In wg at 400 cfm: hood 1.948, hose 1.523, pipe 0.823 ... cyclone 0.5, filter 0.5."""
    flow = 400 * CFM
    fan = FanCurve("flat at 400", (0.0, flow, 2 * flow), (7000.0, 6.809 * INCH_WATER, 0.0))
    point = operating_point(reference_system(fan, 4, 6), ["machine"])
    assert point.flow == pytest.approx(flow, rel=2e-4)
    hose, branch, trunk = point.segments
    per_square = (flow / point.flow) ** 2 / INCH_WATER
    assert hose.loss * per_square == pytest.approx(1.948 + 1.523 + 0.262, abs=2e-3)
    assert branch.loss * per_square == pytest.approx(0.823 + 0.628 + 0.235, abs=2e-3)
    assert trunk.loss * per_square == pytest.approx(0.266 + 0.124, abs=2e-3)
    assert (point.pressure - point.duct_suction) * per_square == pytest.approx(1.0, abs=2e-3)
    assert hose.static_start == 0.0
    assert hose.static_end == pytest.approx(branch.static_start, rel=1e-12)
    assert trunk.static_end == pytest.approx(-point.duct_suction, rel=1e-12)


# --- closed forms ------------------------------------------------------------------------------


def pure_branch(name: str, resistance: float) -> Segment:
    """A branch that loses `resistance` Q^2 (in wg, cfm) and nothing else."""
    size = 4 * INCH
    head = 0.5 * STANDARD_DENSITY.constant / duct_area(size) ** 2
    heads = resistance * INCH_WATER / CFM**2 / head
    return Segment(
        name, 0.0, size, "common", port=Port(f"port {name}", Hood("k", heads - 1), gate=Gate(0.0))
    )


def pure_system(fan: FanCurve, *branches: float, common: float = 0.0) -> System:
    losses = (RatedLoss("common", common * 100**2 * INCH_WATER, 100 * CFM),)
    segments = [pure_branch(str(i), k) for i, k in enumerate(branches)]
    wide = Segment("common", 0.0, 40 * INCH)  # wide, so that no stream is sped up in it
    return System((*segments, wide), Collector(fan, losses=losses))


@pytest.mark.parametrize(
    ("k", "fan", "cfm", "pressure"),
    [
        (1e-5, "B", 661.22, 4.372),
        (2e-5, "B", 547.19, 5.988),
        (4e-5, "B", 428.55, 7.346),
        (1e-5, "C", 928.53, 8.622),
        (2e-5, "C", 719.99, 10.368),
        (4e-5, "C", 537.02, 11.536),
    ],
)
def test_one_resistance_is_the_closed_form(k, fan, cfm, pressure):
    """Q = sqrt(P0 / (k + P0/Qm^2)) for P = P0 (1 - (Q/Qm)^2)."""
    shut_off, free = {"B": (9.5, 900), "C": (13, 1600)}[fan]
    closed = math.sqrt(shut_off / (k + shut_off / free**2))
    point = operating_point(pure_system(FANS[fan], k), ["port 0"])
    assert point.flow / CFM == pytest.approx(closed, rel=1e-5)
    assert point.flow / CFM == pytest.approx(cfm, abs=0.006)
    assert point.pressure / INCH_WATER == pytest.approx(pressure, abs=6e-4)


def test_two_branches_in_parallel():
    """k = (2e-5^-1/2 + 4e-5^-1/2)^-2 = 6.86292e-6; flows 418.74 + 296.10 cfm at 3.5069 in wg."""
    point = operating_point(pure_system(FANS["B"], 2e-5, 4e-5), ["port 0", "port 1"])
    assert point.flow / CFM == pytest.approx(714.84, abs=0.006)
    assert point.port_flow("port 0") / CFM == pytest.approx(418.74, abs=0.006)
    assert point.port_flow("port 1") / CFM == pytest.approx(296.10, abs=0.006)
    assert point.pressure / INCH_WATER == pytest.approx(3.5069, abs=6e-5)
    assert point.pressure / INCH_WATER == pytest.approx(6.86292e-6 * 714.84**2, rel=1e-4)


@pytest.mark.parametrize(
    ("opened", "cfm", "fpm"), [(1, 485.8, 5567), (2, 360.0, 4125), (3, 272.0, 3117)]
)
def test_equal_gates_share_equally(opened, cfm, fpm):
    """n equal branches of k and a common c: Q = sqrt(P0 / (k/n^2 + c + P0/Qm^2)) / n each."""
    system = pure_system(FANS["C"], 4e-5, 4e-5, 4e-5, common=1e-5)
    names = [f"port {i}" for i in range(opened)]
    point = operating_point(system, names)
    closed = math.sqrt(13 / (4e-5 / opened**2 + 1e-5 + 13 / 1600**2)) / opened
    for name in names:
        assert point.port_flow(name) / CFM == pytest.approx(closed, rel=1e-5)
        assert point.port_flow(name) / CFM == pytest.approx(cfm, abs=0.051)
    assert point.segments[0].velocity / FPM == pytest.approx(fpm, abs=0.6)


def test_equal_streams_are_sped_up_into_a_narrow_main():
    """Two streams of V into one duct of their size: the main pays 4 VP - VP (Bernoulli)."""
    size, fan = 4 * INCH, FanCurve("steady", (0.0, 1.0), (2000.0, 1000.0))
    ports = [Port(n, Hood("plain", 0.93), gate=Gate()) for n in ("a", "b")]
    system = System(
        (
            Segment("a", 0.0, size, "main", port=ports[0]),
            Segment("b", 0.0, size, "main", port=ports[1]),
            Segment("main", 0.0, size),
        ),
        Collector(fan),
    )
    point = operating_point(system, ["a", "b"])
    branch = point.segments[0]
    head = 0.5 * 1.2014 * branch.velocity**2
    assert -branch.static_end == pytest.approx((1.93 + 0.2) * head, rel=1e-9)
    assert -point.segments[2].static_start == pytest.approx((1.93 + 0.2 + 3.0) * head, rel=1e-9)


def test_a_shut_gate_leaks_as_an_orifice():
    """Q = Cd A sqrt(2 dp / rho) under the suction of the junction, less the little of its hood."""
    leak = 1e-4
    port = lambda name, area: Port(name, Hood("plain", 0.93), gate=Gate(0.2, area))  # noqa: E731
    segments = (
        Segment("a", 3.0, 4 * INCH, "main", port=port("a", 0.0)),
        Segment("b", 0.0, 4 * INCH, "main", port=port("b", leak)),
        Segment("main", 5.0, 4 * INCH),
    )
    point = operating_point(System(segments, Collector(FANS["B"])), ["a"])
    suction = -point.segments[2].static_start
    orifice = 0.6 * leak * math.sqrt(2 * suction / 1.2014)
    assert point.port_flow("b") == pytest.approx(orifice, rel=1e-3)
    assert point.segments[1].floor is None
    tight = operating_point(System(segments, Collector(FANS["B"])), ["a", "b"])
    assert tight.flow > point.flow


def test_adverse_inputs_are_answers_or_refusals():
    system = reference_system(FANS["B"], 4, 4)
    shut = operating_point(system, [])
    assert shut.meeting is Meeting.SHUT
    assert not shut.meets
    assert shut.flow is None
    with pytest.raises(NetworkError, match="no flow at machine"):
        shut.port_flow("machine")
    with pytest.raises(NetworkError, match="no port saw"):
        operating_point(system, ["saw"])
    with pytest.raises(NetworkError, match="dirty filter"):
        operating_point(system, ["machine"], dirty=True)
    with pytest.raises(NetworkError):
        gate_states(system, [[True, True]])


@pytest.mark.parametrize(
    ("flows", "pressures", "beyond", "meeting"),
    [
        ((0.01, 0.1), (2500.0, 1500.0), "refuse", Meeting.TOO_FREE),
        ((0.01, 0.1), (2500.0, 1500.0), "linear", Meeting.EXTRAPOLATED),
        ((0.6, 0.9), (2500.0, 0.0), "refuse", Meeting.TOO_TIGHT),
        ((0.0, 0.3, 0.9), (1500.0, 2500.0, 0.0), "refuse", Meeting.UNSTEADY),
        ((0.0, 0.05, 0.9), (1500.0, 2500.0, 0.0), "refuse", Meeting.MEETS),
    ],
)
def test_a_curve_that_does_not_meet_the_run_says_so(flows, pressures, beyond, meeting):
    fan = FanCurve("short table", flows, pressures, beyond=beyond)
    point = operating_point(reference_system(fan, 4, 4), ["machine"])
    assert point.meeting is meeting
    assert (point.flow is None) == (not point.meets)


def test_out_of_range_uses_are_reported():
    system = reference_system(FANS["C"], 4, 4)
    [hose, *rest] = system.segments
    stiff = System(
        (Segment(**{**_fields(hose), "wall": flexible_hose(6.0)}), *rest), system.collector
    )
    [report] = operating_point(stiff, ["machine"]).out_of_range
    assert report.entry == "friction.hose-multiplier"
    assert report.value == 6.0
    assert operating_point(system, ["machine"]).out_of_range == ()


def _fields(segment: Segment) -> dict[str, object]:
    return {name: getattr(segment, name) for name in Segment.__slots__}


# --- fan laws, air, vacuum ---------------------------------------------------------------------


def test_fan_laws():
    """800 cfm, 10 in wg, 1 hp at 3000 rpm are 880, 12.1 and 1.331 at 3300 (fan laws)."""
    fan = FanCurve("fan", (800 * CFM, 900 * CFM), (10 * INCH_WATER, 0.0))
    faster = fan.scaled(speed=3300 / 3000)
    assert faster.flows[0] / CFM == pytest.approx(880, rel=1e-12)
    assert faster.pressures[0] / INCH_WATER == pytest.approx(12.1, rel=1e-12)
    assert power_ratio(speed=1.1) == pytest.approx(1.331, rel=1e-12)
    larger = fan.scaled(size=2.0)
    assert larger.flows[0] / fan.flows[0] == pytest.approx(8)
    assert larger.pressures[0] / fan.pressures[0] == pytest.approx(4)


def test_air_power():
    """Q P / 6356 hp with cfm and in wg, 0.2 % off in SI; peaks 0.518 and 1.260 hp, computed."""
    assert air_power(6356 * CFM, INCH_WATER) / WATT_PER_HP == pytest.approx(1.0, rel=2.5e-3)
    for fan, peak in (("B", 0.518), ("C", 1.260)):
        curve = FANS[fan]
        powers = [air_power(q, p) for q, p in zip(curve.flows, curve.pressures, strict=True)]
        assert max(powers) / WATT_PER_HP == pytest.approx(peak, rel=2.5e-3)


def test_fan_tables_are_read_between_their_points_only():
    fan = FanCurve("fan", (0.1, 0.3), (2000.0, 1000.0))
    assert fan.pressure(0.2) == pytest.approx(1500.0)
    for outside in (0.05, 0.35):
        with pytest.raises(OutsideRangeError):
            fan.pressure(outside)
    drawn_on = FanCurve("fan", fan.flows, fan.pressures, beyond="linear")
    assert drawn_on.pressure(0.4) == pytest.approx(500.0)


@pytest.mark.parametrize(
    ("flows", "pressures"),
    [
        ((0.1,), (100.0,)),
        ((0.2, 0.1), (100.0, 50.0)),
        ((0.0, 0.1), (100.0, 200.0)),
        ((0.0, 0.1, 0.2, 0.3), (500.0, 100.0, 200.0, 0.0)),
        ((0.0, 0.1), (100.0, math.nan)),
        ((0.0, 0.1), (100.0, 100.0)),
        ((-0.1, 0.1), (100.0, 50.0)),
    ],
)
def test_impossible_fan_curves_are_refused(flows, pressures):
    with pytest.raises(ValueError):
        FanCurve("bad", flows, pressures)


def test_thin_air_moves_the_same_volume():
    """Density multiplies losses and fan pressure alike (fan-law pages), but for Reynolds' part."""
    system = reference_system(FANS["C"], 5, 5)
    thin = System(system.segments, system.collector, Air(0.8 * 1.2014, 0.8 * 1.81e-5))
    here, there = (operating_point(s, ["machine"]) for s in (system, thin))
    assert there.flow == pytest.approx(here.flow, rel=1e-9)
    assert there.pressure == pytest.approx(0.8 * here.pressure, rel=1e-9)


VACUUM = FanCurve("invented vacuum", (0.0, 140 * CFM), (75 * INCH_WATER, 0.0))
BAG = RatedLoss("filter", 4 * INCH_WATER, 100 * CFM, "linear")
CHIPS = RatedLoss("separator", 6 * INCH_WATER, 80 * CFM)


@pytest.mark.parametrize(
    ("k", "cfm", "pressure"), [(0.002, 101.52, 20.61), (0.01, 63.86, 40.79), (0.03, 41.86, 52.57)]
)
def test_a_vacuum_against_one_resistance(k, cfm, pressure):
    """k Q^2 = 75 (1 - Q/140), a quadratic equation."""
    point = operating_point(pure_system(VACUUM, k), ["port 0"])
    assert point.flow / CFM == pytest.approx(cfm, abs=0.006)
    assert point.pressure / INCH_WATER == pytest.approx(pressure, abs=0.006)
    closed = (-75 / 140 + math.sqrt((75 / 140) ** 2 + 4 * k * 75)) / (2 * k)
    assert point.flow / CFM == pytest.approx(closed, rel=1e-9)


@pytest.mark.parametrize(
    ("millimetres", "separator", "ends", "reach"),
    [
        (38, False, ((94.2, 39.2), (84.7, 35.2), (71.1, 29.6), (61.9, 25.8)), 43),
        (38, True, ((87.1, 36.2), (79.6, 33.1), (68.2, 28.4), (60.1, 25.0)), 41),
        (50, True, ((101.0, 24.3), (97.5, 23.4), (90.8, 21.8), (84.7, 20.4)), 22),
        (63.5, False, ((123.5, 18.4), (121.2, 18.1), (116.3, 17.3), (111.6, 16.6)), None),
        (63.5, True, ((106.7, 15.9), (105.3, 15.7), (102.4, 15.3), (99.4, 14.8)), None),
    ],
)
def test_vacuum_at_the_end_of_its_hose(millimetres, separator, ends, reach):
    """Computed apart from this project: f 0.04, entry and tool 3.5 VP; 2, 5, 12 and 20 m."""
    vacuum = Vacuum(VACUUM, BAG, (CHIPS,) if separator else ())
    for length, (cfm, speed) in zip((2, 5, 12, 20), ends, strict=True):
        end = at_hose_end(vacuum, length=length, diameter=millimetres / 1000)
        assert end.flow / CFM == pytest.approx(cfm, abs=0.06)
        assert end.velocity == pytest.approx(speed, abs=0.06)
    longest = longest_hose(vacuum, velocity=20.0, diameter=millimetres / 1000)
    if reach is None:
        assert longest is None
    else:
        assert longest == pytest.approx(reach, abs=0.6)


def test_all_gate_states_are_those_of_one_by_one():
    system = pure_system(FANS["C"], 2e-5, 3e-5, 4e-5, common=1e-5)
    states = all_gate_states(system)
    assert len(states) == 8
    for i, opened in enumerate(states.open):
        names = [p.name for p, is_open in zip(system.ports, opened, strict=True) if is_open]
        alone = operating_point(system, names)
        assert states.point(i).open_ports == alone.open_ports
        assert states.meetings[i] is alone.meeting
        if alone.meets:
            assert states.flow[i, -1] == pytest.approx(alone.flow, rel=1e-12)
