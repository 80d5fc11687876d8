"""Airflow, transport velocity, hoses and the room of ducts in whole shops.

Losses are summed again with the friction factor of an independent library (fluids, Colebrook) and
the published entries: flanged pipe end Fh 0.49 (ACGIH, Industrial Ventilation, fig. 3-16), branch
entry 45 degrees 0.28 (ACGIH, from memory).  The rest is plane geometry and continuity, V = Q/A.
"""

from __future__ import annotations

from math import hypot, pi

import pytest
from fluids.friction import Colebrook

from floorplan.checks.duct_changes import improvements
from floorplan.checks.duct_system import Ducts, ducts_of, shares
from floorplan.checks.finding import Finding
from floorplan.checks.hose import opening_needed, vacuum_answer, warming
from floorplan.checks.judge import Judgement, judge
from floorplan.shop.reader import parse

CFM, INCH, WG = 0.3048**3 / 60, 0.0254, 249.08891
RHO, MU = 1.2014, 1.81e-5
FAN = (
    "{flow: [0 cfm, 400 cfm, 800 cfm, 1200 cfm], "
    "pressure: [12 in wg, 11.5 in wg, 9.5 in wg, 5 in wg]}"
)


def shop(runs: str, *, things: str = "", collector: str = "", more: str = "") -> str:
    """Two machines with ports of 5 in, tape exact; `runs` one a line."""
    return (
        "shop: air\ntape: 0\nroom: {size: [24', 20'], height: 9'}\n"
        "doors:\n  out: {wall: south, at: 2', width: 36 in, clear width: 34 in, height: 80 in, "
        "kind: opening, leads to: outside}\n"
        "equipment:\n"
        "  saw: {width: 40 in, depth: 30 in, height: 34 in, at: {x: 100 in, y: 100 in},\n"
        "    ports: {main: {at: [20 in, 0], height: 10 in, diameter: 5 in}}}\n"
        "  planer: {width: 24 in, depth: 24 in, height: 40 in, at: {x: 200 in, y: 100 in},\n"
        "    ports: {main: {at: [12 in, 0], height: 40 in, diameter: 5 in}}}\n"
        f"{things}air:\n"
        f"  collector: {{fan: {FAN}, filter: {{clean: 0.5 in wg, dirty: 1.5 in wg, "
        f"flow: 800 cfm}}{collector}}}\n"
        f"  runs:\n{runs}{more}"
    )


ALONE = (
    "    main: {from: saw, path: [[120 in, 140 in, 10 in], [120 in, 140 in, 98 in], "
    "[20 in, 140 in, 98 in], [20 in, 140 in, 40 in]], diameter: 5 in, elbows: 0.24, "
    "hose: {length: 30 in, factor: 3}, needs: 500 cfm}\n"
)
BRANCH = (
    "    branch: {from: planer, into: main, path: [[212 in, 140 in, 50 in], "
    "[212 in, 140 in, 98 in], [80 in, 140 in, 98 in]], diameter: 4 in, angle: 45, "
    "needs: 350 cfm}\n"
)


def judged(text: str) -> Judgement:
    file = parse(text)
    return judge(file.shop, file.layout)


def ducts(text: str) -> Ducts:
    found = ducts_of(judged(text).scene)
    assert found is not None
    return found


def of(judgement: Judgement, rule: str, *about: str) -> list[Finding]:
    return [f for f in judgement.findings if f.rule == rule and set(about) <= set(f.about)]


def loss(flow: float, *, size: float, length: float, factor: float = 1.0) -> float:
    """Darcy-Weisbach with the factor of the other library, galvanized steel [Pa]."""
    velocity = flow / (pi * size**2 / 4)
    f = Colebrook(RHO * velocity * size / MU, 9.144e-5 / size)
    return factor * f * length / size * RHO * velocity**2 / 2


# --- operating point -------------------------------------------------------------------------


@pytest.mark.parametrize("dirty", [False, True])
def test_the_fan_gives_what_the_run_takes(dirty: bool) -> None:
    """Up 88 in, across 100 in, down 58 in, two elbows, gate 0.2, hose 30 in, no separator."""
    [state] = ducts(shop(ALONE)).states
    point = state.dirty if dirty else state.clean
    assert point is not None
    assert point.flow is not None
    flow, size = point.flow, 5 * INCH
    head = RHO * (flow / (pi * size**2 / 4)) ** 2 / 2
    taken = (1 + 0.49 + 0.2 + 2 * 0.24) * head
    taken += loss(flow, size=size, length=(88 + 100 + 58) * INCH)
    taken += loss(flow, size=size, length=30 * INCH, factor=3)
    taken += (1.5 if dirty else 0.5) * WG * flow / (800 * CFM)
    at = flow / CFM
    a, b = ((400, 11.5), (800, 9.5)) if at < 800 else ((800, 9.5), (1200, 5.0))
    given = (a[1] + (b[1] - a[1]) * (at - a[0]) / (b[0] - a[0])) * WG
    assert taken == pytest.approx(given, rel=1e-3)
    assert point.pressure == pytest.approx(given, rel=1e-9)


def test_a_run_is_cut_where_another_enters() -> None:
    made = ducts(shop(ALONE + BRANCH))
    assert made.system is not None
    first, second = made.system.segment("main 1"), made.system.segment("main 2")
    # the branch ends 40 in along the 100 in across, after 88 in up
    assert first.length == pytest.approx((88 + 40) * INCH)
    assert second.length == pytest.approx((60 + 58) * INCH)
    entry = made.system.segment("branch").fittings[-1]
    assert (entry.kind, entry.coefficient) == ("branch entry", pytest.approx(0.28))
    # a hose without a length is as long as the layout needs, and the usual slack
    straight = hypot(140 - 124, 50 - 40) * INCH
    assert made.hoses["branch"].straight.value == pytest.approx(straight)
    assert made.system.segment("branch, hose").length == pytest.approx(1.15 * straight)


def test_each_machine_alone_then_the_combinations_listed() -> None:
    text = shop(ALONE + BRANCH, more="  open together: [[saw, planer]]\n")
    alone, other, both = ducts(text).states
    assert [s.machines for s in (alone, other, both)] == [("saw",), ("planer",), ("saw", "planer")]
    total = sum(flow for _, flow in both.clean.port_flows)
    assert both.clean.flow == pytest.approx(total, rel=1e-9)
    assert alone.clean.port_flow("branch") == 0.0
    assert both.clean.port_flow("main") < alone.clean.port_flow("main")


def test_enough_air_is_the_flow_over_what_is_needed() -> None:
    made = judged(shop(ALONE))
    [found] = of(made, "airflow-enough", "saw")
    [state] = ducts(shop(ALONE)).states
    assert (found.kind, found.unit, found.needed) == ("required", "m3/s", pytest.approx(500 * CFM))
    assert found.measured == pytest.approx(state.worst.port_flow("main"))
    assert made.measures["worst airflow"].value == pytest.approx(found.measured / (500 * CFM))
    hungry = judged(shop(ALONE.replace("500 cfm", "1000 cfm")))
    assert {f.verdict for f in of(hungry, "airflow-enough", "saw")} == {"fails"}


def test_a_wide_duct_lets_chips_settle_and_a_narrower_one_is_offered() -> None:
    wide = shop(ALONE.replace("diameter: 5 in", "diameter: 8 in"))
    made, air = judged(wide), ducts(wide)
    [found] = of(made, "branch-velocity", "main")
    [state] = air.states
    area = pi * (8 * INCH) ** 2 / 4
    assert found.verdict == "fails"
    assert found.measured == pytest.approx(state.worst.port_flow("main") / area)
    assert found.needed == pytest.approx(4000 * 0.3048 / 60)
    offered = improvements(made.shop, air, state, "main")
    assert any(i.words.startswith("lay main in 5") and i.enough for i in offered)
    # what puts all right comes before what does not, and gains fall
    ranks = [(not i.enough, bool(i.breaks)) for i in offered]
    assert ranks == sorted(ranks)


def test_the_tape_makes_a_flow_unsure_but_never_better() -> None:
    loose = shop(ALONE).replace("tape: 0", "tape: 2 in")
    [found] = of(judged(loose), "airflow-enough", "saw")
    [exact] = of(judged(shop(ALONE)), "airflow-enough", "saw")
    assert found.error > 0.0
    assert exact.error == 0.0
    assert found.measured is not None
    knife = loose.replace("500 cfm", f"{found.measured / CFM:.3f} cfm")
    assert {f.verdict for f in of(judged(knife), "airflow-enough", "saw")} == {"unsure"}


def test_a_fan_that_never_meets_the_run_is_a_finding() -> None:
    """A curve measured only from 1000 cfm on: a narrow run never lets so much through."""
    text = shop(ALONE.replace("diameter: 5 in", "diameter: 3 in")).replace(
        FAN, "{flow: [1000 cfm, 1200 cfm], pressure: [6 in wg, 5 in wg]}"
    )
    made = judged(text)
    [found] = of(made, "airflow-enough", "saw")
    assert (found.verdict, found.measured) == ("fails", None)
    assert "no operating point" in found.message
    assert made.measures["worst airflow"].value == 0.0
    air = ducts(text)
    assert shares(air, air.states[0]) == {"main": 0.0}


def test_a_machine_without_a_place_leaves_its_run_out() -> None:
    text = shop(ALONE + BRANCH).replace(", at: {x: 200 in, y: 100 in},\n    ports", ", ports")
    air = ducts(text)
    assert air.left_out == ("branch",)
    assert [s.machines for s in air.states] == [("saw",)]


def test_a_hose_reaches_as_far_as_it_is_long() -> None:
    """From the port at the saw's rear, 130 in north, to the run at 140 in: 10 in."""
    [found] = of(judged(shop(ALONE)), "hose-reach", "main")
    assert found.margin == pytest.approx(20 * INCH)
    short = ALONE.replace("length: 30 in", "length: 9 in")
    [found] = of(judged(shop(short)), "hose-reach", "main")
    assert (found.verdict, found.kind) == ("fails", "required")
    assert found.margin == pytest.approx(-1 * INCH)


# --- the room that ducts take ----------------------------------------------------------------

PANEL = (
    "fixed:\n  panel: {kind: electrical panel, width: 16 in, depth: 4 in, bottom: 30 in, "
    "height: 70 in, at: {wall: west, along: 140 in}}\n"
)


def over_panel(height: int, later: str = "no") -> Judgement:
    """A duct along the west wall, 4 in thick, its middle `height` inches up."""
    run = (
        f"    main: {{from: saw, path: [[120 in, 140 in, {height} in], [3 in, 140 in, {height} in],"
        f" [3 in, 200 in, {height} in]], diameter: 4 in, later: {later}}}\n"
    )
    return judged(PANEL + shop(run))


@pytest.mark.parametrize("later", ["yes", "no"])
def test_the_space_over_a_panel_is_its_own(later: str) -> None:
    """NEC 110.26(E): from the panel up to 6 ft over it or the ceiling, which is 108 in high."""
    found = of(over_panel(90, later), "panel-dedicated-height", "panel")
    assert [f.verdict for f in found] == ["fails"]


def test_the_working_space_before_a_panel_ends_at_78_in() -> None:
    """A duct whose underside is at 77 in is in it, one at 79 in is over it."""
    for middle, verdict in ((79, "fails"), (81, "passes")):
        kept = [f for f in of(over_panel(middle), "panel-depth", "ducts") if f.by_height]
        verdicts = {f.verdict for f in kept}
        assert (verdict in verdicts) or (verdict == "passes" and not verdicts)
    assert any(f.verdict == "fails" for f in of(over_panel(79, "yes"), "duct-clear", "panel"))
    assert not any(f.verdict == "fails" for f in of(over_panel(81, "yes"), "duct-clear", "panel"))


def test_a_duct_meets_the_tracks_of_an_overhead_door_by_height() -> None:
    door = "kind: overhead, leads to: outside}"
    for height, verdict in ((86, "fails"), (60, "passes")):
        run = (
            f"    main: {{from: saw, path: [[60 in, 50 in, {height} in], "
            f"[60 in, 20 in, {height} in]], diameter: 4 in, later: yes}}\n"
        )
        text = shop(run).replace(
            "width: 36 in, clear width: 34 in, height: 80 in", "width: 8', height: 7'"
        )
        text = text.replace("kind: opening, leads to: outside}", door)
        found = of(judged(text), "duct-clear", "out")
        assert (verdict == "fails") == any(f.verdict == "fails" for f in found), height


def test_a_duct_below_head_height_narrows_the_way_out_once_it_hangs() -> None:
    """Across the whole room at 70 in nobody gets out; at 84 in everybody does."""
    stand = "zones: {front: {side: front, depth: 24 in, purpose: stand}}, at: {x: 100 in"
    for height, passes in ((70, False), (84, True)):
        run = (
            f"    main: {{from: saw, path: [[0 in, 50 in, {height} in], "
            f"[288 in, 50 in, {height} in]], diameter: 4 in}}\n"
        )
        made = judged(shop(run).replace("at: {x: 100 in", stand, 1))
        ways = of(made, "way-out-width", "saw")
        assert ways
        assert all(f.verdict == "passes" for f in ways) == passes


# --- the vacuum ------------------------------------------------------------------------------

VACUUM = """\
shop: hose
tape: 0
room: {size: [8 m, 6 m], height: 2.7 m}
units: m
equipment:
  drill: {width: 0.5, depth: 0.5, height: 1, at: {x: 6, y: 2.75},
    ports: {main: {at: [0, 0.25], height: 0.9, diameter: 0.05}}}
  vacuum: {width: 0.5, depth: 0.5, height: 0.8, at: {x: 1, y: 2.75},
    ports: {hose: {at: [0.5, 0.25], height: 0.4, diameter: 0.05}}}
air:
  vacuum:
    thing: vacuum
    hose: {length: 5, diameter: 38 mm}
    fan: {flow: [0 cfm, 140 cfm], pressure: [75 in wg, 0 in wg]}
    filter: {clean: 4 in wg, flow: 100 cfm}
    cabinet: {opening: [150 mm, 100 mm], inside height: 1}
    separator: {loss: 0 Pa, flow: 1 cfm, height: 1.05}
    motor: 1200 W
"""


def test_the_vacuum_gives_what_its_hose_takes() -> None:
    """75 (1 - Q/140) in wg against (0.04 L/D + 3.5) heads and the filter's 4 Q/100 in wg."""
    found = vacuum_answer(judged(VACUUM).scene)
    assert found is not None
    assert found.clean.flow is not None
    flow, size = found.clean.flow, 0.038
    velocity = flow / (pi * size**2 / 4)
    assert found.clean.velocity == pytest.approx(velocity)
    taken = (0.04 * 5 / size + 3.5) * RHO * velocity**2 / 2 + 4 * WG * flow / (100 * CFM)
    assert taken == pytest.approx(75 * WG * (1 - flow / (140 * CFM)), rel=1e-6)


def test_a_hose_lies_on_the_floor_and_rises_at_both_ends() -> None:
    """4.5 m between the two ports in a straight line, 0.4 m down and 0.9 m up."""
    [found] = of(judged(VACUUM), "hose-reach", "drill")
    assert found.needed == pytest.approx(4.5 + 0.4 + 0.9, abs=1e-3)
    assert (found.verdict, found.kind) == ("fails", "advised")
    served = VACUUM.replace("motor:", "serves: [drill]\n    motor:")
    assert of(judged(served), "hose-reach", "drill")[0].kind == "required"


def test_a_hose_goes_round_what_stands_in_its_way() -> None:
    """A chest 2 m deep midway: over its corners, 1 m off the straight line; a shelf is no bar."""
    chest = "  chest: {width: 0.5, depth: 2, height: 0.5, at: {x: 3.5, y: 2}}\n"
    around = judged(VACUUM.replace("air:\n", chest + "air:\n", 1))
    [found] = of(around, "hose-reach", "drill")
    taut = 2 * hypot(2.0, 1.0) + 0.5
    assert found.needed == pytest.approx(taut + 1.3, abs=0.05)
    assert found.needed > taut + 1.3
    hung = chest.replace("height: 0.5", "bottom: 1.2, height: 1.7")
    [found] = of(judged(VACUUM.replace("air:\n", hung + "air:\n", 1)), "hose-reach", "drill")
    assert found.needed == pytest.approx(5.8, abs=1e-3)


def test_the_cabinet_of_a_vacuum() -> None:
    made = judged(VACUUM)
    # orifice, Cd 0.6: 400 cfm at 25 Pa needs 0.0488 m2
    assert opening_needed(made.scene, 400 * CFM) == pytest.approx(0.0488, abs=5e-5)
    # 1.08 Q dT in Btu/h, cfm and degrees F is the trade's form of rho cp Q dT
    power = 1.08 * 100 * 18 * 0.29307107
    assert warming(power, 100 * CFM) == pytest.approx(10.0, rel=0.01)
    [height] = of(made, "separator-fits", "vacuum")
    assert (height.verdict, height.margin) == ("fails", pytest.approx(-0.05))
    [opening] = of(made, "cabinet-opening", "vacuum")
    assert opening.measured == pytest.approx(0.015)
    assert opening.kind == "advised"


def test_without_air_nothing_is_asked() -> None:
    plain = judged(VACUUM[: VACUUM.index("air:\n")])
    assert not [f for f in plain.findings if f.check in ("airflow", "hose")]
    assert "worst airflow" not in plain.measures
