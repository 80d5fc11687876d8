"""Laws that any dust-collection system keeps, tried on random trees; and refusals."""

import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from floorplan.air.fan import FanCurve
from floorplan.air.fittings import branch_entry, elbow
from floorplan.air.friction import GALVANIZED_DUCT, PVC_PIPE, flexible_hose
from floorplan.air.hydraulics import equations, falling_curve
from floorplan.air.improve import (
    BiggerFan,
    OtherBranchAngle,
    OtherSize,
    ShorterHose,
    default_changes,
    rank_changes,
)
from floorplan.air.losses import Gate, Hood, RatedLoss
from floorplan.air.network import Collector, NetworkError, Port, Segment, System
from floorplan.air.newton import solve_equations
from floorplan.air.operating import Meeting, all_gate_states, gate_states, operating_point
from floorplan.air.properties import STANDARD_AIR, Air

SIZES = (0.1016, 0.127, 0.1524, 0.1778, 0.2032)
LAWS = settings(max_examples=80, deadline=None)
BALANCE = 1e-9

lengths = st.floats(0.0, 12.0)
sizes = st.sampled_from(SIZES)
walls = st.sampled_from((GALVANIZED_DUCT, PVC_PIPE, flexible_hose(), flexible_hose(1.5)))
bends = st.integers(0, 3).map(lambda n: (elbow(),) * n)


@st.composite
def fans(draw):
    """A falling table of 2 to 6 points that is drawn on beyond its ends."""
    count = draw(st.integers(2, 6))
    steps = draw(st.lists(st.floats(0.03, 0.2), min_size=count, max_size=count))
    drops = draw(st.lists(st.floats(20.0, 900.0), min_size=count, max_size=count))
    flows = np.cumsum(steps) - steps[0]
    pressures = sum(drops) - np.cumsum(drops) + drops[0]
    return FanCurve("random", tuple(flows), tuple(pressures), beyond="linear")


@st.composite
def systems(draw):
    """A tree of up to three mains and six branches, gates tight or leaking."""
    mains = draw(st.integers(1, 3))
    segments = [
        Segment(
            f"main {i}",
            draw(lengths),
            draw(sizes),
            f"main {draw(st.integers(0, i - 1))}" if i else None,
            fittings=draw(bends),
        )
        for i in range(mains)
    ]
    entered = {s.into for s in segments}
    ends = [s.name for s in segments if s.name not in entered]
    more = draw(st.lists(st.integers(0, mains - 1), min_size=1, max_size=6 - len(ends)))
    for j, into in enumerate(ends + [f"main {i}" for i in more]):
        leak = draw(st.sampled_from((0.0, 1e-5, 2e-4)))
        hood = Hood("hood", draw(st.floats(0.25, 2.0)))
        segments.append(
            Segment(
                f"branch {j}",
                draw(lengths),
                draw(sizes),
                into,
                draw(walls),
                (*draw(bends), branch_entry(30)),
                port=Port(f"port {j}", hood, gate=Gate(0.2, leak)),
            )
        )
    losses = (RatedLoss("cyclone", draw(st.floats(0.0, 700.0)), 0.378),)
    cloth = RatedLoss("filter", draw(st.floats(0.0, 500.0)), 0.378, "linear")
    worn = replace(cloth, pressure=2 * cloth.pressure + 1)
    return System(tuple(segments), Collector(draw(fans()), cloth, worn, losses))


@st.composite
def systems_with_gates(draw):
    """A system and the ports that are open, one at least."""
    system = draw(systems())
    names = [port.name for port in system.ports]
    opened = draw(st.sets(st.sampled_from(names), min_size=1))
    return system, sorted(opened)


@LAWS
@given(systems_with_gates())
def test_junctions_conserve_and_pressures_agree(case):
    system, opened = case
    point = operating_point(system, opened)
    assert point.meets
    by_name = {s.name: s for s in point.segments}
    scale = system.collector.fan.pressures[0]
    for segment in system.segments:
        feeders = [by_name[s.name] for s in system.segments if s.into == segment.name]
        here = by_name[segment.name]
        if feeders:
            inflow = math.fsum(f.flow for f in feeders)
            assert here.flow == pytest.approx(inflow, rel=1e-9)
        head = _head(here)
        for feeder in feeders:
            pays = max(0.0, head - _head(feeder)) if feeder.floor is not None else 0.0
            if feeder.flow > 0:
                gap = feeder.static_end - pays - here.static_start
                assert abs(gap) <= BALANCE * scale
    collector = sum(
        loss.pressure * (point.flow / loss.flow) ** (2 if loss.law == "quadratic" else 1)
        for loss in system.collector.all_losses(dirty=False)
    )
    assert point.pressure - collector == pytest.approx(point.duct_suction, abs=BALANCE * scale)
    assert point.pressure == pytest.approx(
        system.collector.fan.pressure(point.flow), abs=BALANCE * scale
    )


def _head(state) -> float:
    return 0.5 * STANDARD_AIR.density * state.velocity**2


@LAWS
@given(systems_with_gates(), st.floats(0.01, 30.0), st.data())
def test_more_length_never_adds_flow(case, extra, data):
    """Not at the branch it is added to, not in total; and it never takes from the others."""
    system, opened = case
    port = data.draw(st.sampled_from(opened))
    segment = data.draw(st.sampled_from(system.path(port)))
    longer = system.with_segments([replace(segment, length=segment.length + extra)])
    before, after = operating_point(system, opened), operating_point(longer, opened)
    slack = BALANCE * before.flow
    assert after.flow <= before.flow + slack
    if segment.port is not None:
        assert after.port_flow(port) <= before.port_flow(port) + slack
        for other in opened:
            if other != port:
                assert after.port_flow(other) >= before.port_flow(other) - slack
    else:
        assert _flow(after, segment.name) <= _flow(before, segment.name) + slack


def _flow(point, name: str) -> float:
    return next(s.flow for s in point.segments if s.name == name)


@LAWS
@given(systems_with_gates(), st.floats(1.0, 1.5), st.floats(1.0, 1.3))
def test_a_larger_fan_never_moves_less(case, speed, size):
    system, opened = case
    before = operating_point(system, opened)
    after = operating_point(BiggerFan(speed, size).apply(system), opened)
    for port in opened:
        assert after.port_flow(port) >= before.port_flow(port) * (1 - BALANCE)


@LAWS
@given(systems_with_gates())
def test_a_dirty_filter_moves_less(case):
    system, opened = case
    clean = operating_point(system, opened)
    dirty = operating_point(system, opened, dirty=True)
    assert dirty.flow < clean.flow
    for port in opened:
        assert dirty.port_flow(port) <= clean.port_flow(port) * (1 + BALANCE)


@LAWS
@given(systems_with_gates(), st.floats(0.6, 1.3))
def test_density_scales_pressures_and_leaves_the_flow(case, ratio):
    """With viscosity in step, so that Reynolds' number stays."""
    system, opened = case
    air = Air(ratio * STANDARD_AIR.density, ratio * STANDARD_AIR.viscosity)
    here, there = operating_point(system, opened), operating_point(replace(system, air=air), opened)
    assert there.flow == pytest.approx(here.flow, rel=1e-8)
    assert there.duct_suction == pytest.approx(ratio * here.duct_suction, rel=1e-7)


@LAWS
@given(systems_with_gates(), st.randoms(use_true_random=False))
def test_the_order_of_segments_does_not_matter(case, random):
    system, opened = case
    shuffled = list(system.segments)
    random.shuffle(shuffled)
    other = replace(system, segments=tuple(shuffled))
    here, there = operating_point(system, opened), operating_point(other, opened)
    for port in opened:
        assert there.port_flow(port) == pytest.approx(here.port_flow(port), rel=1e-8)


@LAWS
@given(systems_with_gates(), st.floats(0.1, 0.9), st.data())
def test_a_cut_duct_is_the_same_duct(case, share, data):
    system, opened = case
    segment = data.draw(st.sampled_from(system.segments))
    upper = replace(segment, length=share * segment.length, into="lower", fittings=())
    lower = replace(segment, name="lower", length=(1 - share) * segment.length, port=None)
    rest = [s for s in system.segments if s is not segment]
    cut = replace(system, segments=(*rest, upper, lower))
    here, there = operating_point(system, opened), operating_point(cut, opened)
    assert there.flow == pytest.approx(here.flow, rel=1e-8)


@settings(max_examples=25, deadline=None)
@given(systems())
def test_all_gate_states_settle_and_agree_with_single_ones(system):
    states = all_gate_states(system)
    assert len(states) == 2 ** len(system.ports)
    assert Meeting.UNSOLVED not in states.meetings
    for i in (0, len(states) // 2, len(states) - 1):
        names = [p.name for p, is_open in zip(system.ports, states.open[i], strict=True) if is_open]
        alone, batch = operating_point(system, names), states.point(i)
        assert alone.meeting is batch.meeting
        if alone.meets:
            assert batch.flow == pytest.approx(alone.flow, rel=1e-8)


def test_the_slopes_of_the_losses_are_their_derivatives():
    system = _shop()
    written = equations(system, np.array([[True, False]]), dirty=True)
    flow = np.array([[0.15], [0.02], [0.17]])
    _, slope = written.losses(flow)
    step = 1e-7
    rise = written.losses(flow + step)[0] - written.losses(flow - step)[0]
    assert slope == pytest.approx(rise / (2 * step), rel=1e-5)
    solution = solve_equations(written, falling_curve(system.collector.fan, system.air))
    assert solution.settled.all()


# --- what to change ----------------------------------------------------------------------------


def _shop(fan: FanCurve | None = None) -> System:
    bend = elbow()
    curve = fan or FanCurve("fan", (0.0, 0.15, 0.3, 0.42), (2366.0, 2070.0, 1180.0, 0.0))
    segments = (
        Segment(
            "saw hose",
            2.0,
            0.1016,
            "main",
            flexible_hose(),
            (bend, branch_entry(60)),
            port=Port("saw", Hood("cabinet", 1.0), gate=Gate(0.2, 1e-5)),
        ),
        Segment(
            "planer",
            4.0,
            0.127,
            "main",
            fittings=(branch_entry(30),),
            port=Port("planer", Hood("hood", 0.5), gate=Gate(0.2, 1e-5)),
        ),
        Segment("main", 6.0, 0.127, fittings=(bend, bend)),
    )
    cloth = RatedLoss("filter", 250.0, 0.378, "linear")
    return System(segments, Collector(curve, cloth, replace(cloth, pressure=500.0)))


def test_changes_are_ranked_by_what_they_gain_when_solved():
    system = _shop()
    before = operating_point(system, ["saw"])
    gains = rank_changes(system, "saw")
    assert {type(g.change) for g in gains} == {
        ShorterHose,
        OtherSize,
        OtherBranchAngle,
        BiggerFan,
    }
    for gain in gains:
        after = operating_point(gain.change.apply(system), ["saw"])
        assert gain.port_gain == pytest.approx(after.port_flow("saw") - before.port_flow("saw"))
        assert gain.total_gain == pytest.approx(after.flow - before.flow)
        assert str(gain.change)
    keeping = [g.port_gain for g in gains if not g.breaks_floor]
    breaking = [g.port_gain for g in gains if g.breaks_floor]
    assert keeping == sorted(keeping, reverse=True)
    assert [g.port_gain for g in gains] == keeping + sorted(breaking, reverse=True)


def test_a_fatter_duct_that_lets_dust_settle_comes_last():
    """Flow rises with each larger size, even where dust settles: the floor outranks the gain."""
    strong = _shop(FanCurve("strong", (0.0, 0.4, 0.8), (4000.0, 3000.0, 0.0)))
    candidates = [OtherSize(("main",), 0.2032), ShorterHose("saw hose", 1.0)]
    hose, main = rank_changes(strong, "saw", candidates=candidates)
    assert isinstance(hose.change, ShorterHose)
    assert main.breaks_floor == ("main",)
    assert main.port_gain > 0


def test_hose_of_the_open_port_counts_and_others_do_not():
    changes = default_changes(_shop(), "planer")
    assert not any(isinstance(change, ShorterHose) for change in changes)
    [gain] = rank_changes(_shop(), "planer", candidates=[ShorterHose("saw hose", 0.5)])
    assert abs(gain.port_gain) < 1e-6


def test_changes_that_cannot_be_made_are_refused():
    with pytest.raises(NetworkError, match="not longer"):
        ShorterHose("saw hose", 3.0).apply(_shop())
    with pytest.raises(NetworkError, match="no branch entry"):
        OtherBranchAngle("main", 30.0).apply(_shop())
    with pytest.raises(NetworkError, match="no segment"):
        OtherSize(("attic",), 0.1).apply(_shop())
    with pytest.raises(NetworkError, match="shut"):
        rank_changes(_shop(), "saw", open_ports=["planer"])
    weak = FanCurve("short table", (0.0, 0.01), (2000.0, 1900.0))
    with pytest.raises(NetworkError, match="no operating point"):
        rank_changes(_shop(weak), "saw")


# --- refusals ----------------------------------------------------------------------------------

PORT = Port("p", Hood("h", 0.5))


@pytest.mark.parametrize(
    ("segments", "message"),
    [
        ((), "must end at the collector"),
        ((Segment("a", 1, 0.1, port=PORT), Segment("b", 1, 0.1, port=PORT)), "ports are named"),
        ((Segment("a", 1, 0.1, port=PORT), Segment("a", 1, 0.1)), "segments are named"),
        ((Segment("a", 1, 0.1),), "neither a port nor a branch"),
        ((Segment("a", 1, 0.1, "x", port=PORT), Segment("b", 1, 0.1)), "which is not there"),
        (
            (Segment("a", 1, 0.1, port=PORT), Segment("b", 1, 0.1, "a", port=Port("q", PORT.hood))),
            "has a port but others run into it",
        ),
        (
            (
                Segment("a", 1, 0.1, "b"),
                Segment("b", 1, 0.1, "a"),
                Segment("c", 1, 0.1, port=PORT),
            ),
            "in a circle",
        ),
    ],
)
def test_systems_that_are_no_tree_are_refused(segments, message):
    with pytest.raises(NetworkError, match=message):
        System(segments, Collector(FanCurve("f", (0.0, 1.0), (100.0, 0.0))))


@pytest.mark.parametrize(
    "wrong",
    [
        {"length": -1.0},
        {"length": math.nan},
        {"diameter": 0.0},
        {"diameter": math.inf},
        {"diameter": 1e-4},
        {"floor": -1.0},
    ],
)
def test_segments_that_cannot_be_are_refused(wrong):
    with pytest.raises(NetworkError):
        Segment(**{"name": "a", "length": 1.0, "diameter": 0.1, **wrong})


def test_a_port_without_a_gate_is_always_open():
    system = System(
        (Segment("a", 1.0, 0.1, port=PORT),),
        Collector(FanCurve("f", (0.0, 1.0), (1000.0, 0.0))),
    )
    assert operating_point(system, []).open_ports == ("p",)
    assert len(all_gate_states(system)) == 1
    assert gate_states(system, [[False]]).point(0).flow == operating_point(system, ["p"]).flow
