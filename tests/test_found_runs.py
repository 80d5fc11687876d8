"""Runs of duct that the program lays in a whole shop, judged by the checks of given runs."""

from __future__ import annotations

import json
from itertools import pairwise
from math import ceil

import numpy as np
import pytest

from floorplan.checks.duct_finding import found_plan, runs_of, wanted_ports, with_found_runs
from floorplan.checks.duct_system import ducts_of, goes_on
from floorplan.checks.judge import judge
from floorplan.cli.main import main
from floorplan.shop.faults import ShopFileError
from floorplan.shop.reader import parse

CFM, INCH, FOOT = 0.3048**3 / 60, 0.0254, 0.3048
SHOP = """\
shop: found runs
tape: 0
room:
  size: [24', 30']
  height: 9'
doors:
  out: {wall: south, at: 3', width: 36 in, clear width: 34 in, height: 80 in, swing: out,
        leads to: outside}
windows:
  high window: {wall: east, at: 10', width: 48 in, sill: 60 in, height: 40 in}
equipment:
  saw: {width: 44 in, depth: 30 in, height: 34 in, at: {x: 120 in, y: 130 in},
        ports: {main: {at: [22 in, 0], height: 8 in, diameter: 4 in}}}
  planer: {width: 24 in, depth: 24 in, height: 40 in, at: {x: 20 in, y: 250 in},
           ports: {main: {at: [12 in, 0], height: 40 in, diameter: 4 in}}}
  band saw: {width: 24 in, depth: 20 in, height: 70 in, at: {x: 200 in, y: 270 in},
             ports: {main: {at: [10 in, 0], height: 20 in, diameter: 4 in}}}
air:
  collector:
    inlet: {at: [260 in, 340 in], height: 60 in}
    fan:
      flow: [0 cfm, 400 cfm, 800 cfm, 1200 cfm, 1600 cfm]
      pressure: [13 in wg, 12.2 in wg, 9.7 in wg, 5.7 in wg, 0 in wg]
    filter: {clean: 0.4 in wg, dirty: 1.5 in wg, flow: 800 cfm}
  find:
    needs: {saw: 400 cfm, planer: 450 cfm, band saw: 350 cfm}
    sizes: [4 in, 5 in, 6 in]
"""


def found(text: str):
    file = parse(text)
    return file, judge(file.shop, file.layout)


def command(text: str, tmp_path, capsys, *more: str) -> tuple[int, dict]:
    path = tmp_path / "found.yaml"
    path.write_text(text, encoding="utf-8")
    status = main(["ducts", str(path), "--no-figures", "--json", *more])
    return status, json.loads(capsys.readouterr().out)


def test_what_is_found_passes_every_check_of_given_runs() -> None:
    _, judged = found(SHOP)
    air = [f for f in judged.findings if f.check == "airflow"]
    assert len([f for f in air if f.rule == "airflow-enough"]) == 3
    assert judged.verdict == "passes", [f.message for f in judged.failing]
    assert judged.measures["worst airflow"].value > 1.0


def test_runs_are_parallel_to_walls_and_hang_above_heads() -> None:
    _, judged = found(SHOP)
    air = judged.shop.air
    assert air is not None
    head = judged.shop.rules.value("way-out-height")
    for run in air.runs:
        for a, b in run.legs:
            steps = [abs(q.value - p.value) > 1e-6 for p, q in zip(a, b, strict=True)]
            assert sum(steps) == 1
            if not steps[2]:
                assert a[2].value - run.diameter.value / 2 >= head - 1e-6


def test_hoses_keep_their_length_and_bend() -> None:
    """A quarter turn on 1.5 diameters takes pi/2 x 1.5 diameters of hose; common practice."""
    _, judged = found(SHOP)
    ducts = ducts_of(judged.scene)
    assert ducts is not None
    for name, way in ducts.hoses.items():
        size = ducts.plan.run(name).diameter.value
        assert way.length.value <= 3 * FOOT + 1e-9
        assert way.length.value >= 3.14159 / 2 * 1.5 * size
        assert way.length.value >= way.straight.value * 1.15 - 1e-9
        assert ducts.plan.run(name).path[0][2].value <= 72 * INCH


@pytest.mark.parametrize("more", ["", "  altitude: 5000 ft\n  open together: [[saw, planer]]\n"])
def test_the_search_and_the_check_agree_on_every_flow(more: str) -> None:
    """The network of the search and that of given runs are put together apart."""
    from floorplan.air.routing import route
    from floorplan.air.sizing import flows_of
    from floorplan.checks import duct_finding

    file = parse(SHOP + more)
    shop = with_found_runs(file.shop, file.layout)
    judged = judge(file.shop, file.layout)
    made = ducts_of(judged.scene)
    assert made is not None
    assert shop.air is not None
    wanted = wanted_ports(judged.scene, file.shop.air.find)
    bare = duct_finding.scene(file.shop, file.layout)
    room = duct_finding.DuctRoom(bare, file.shop.air.find, 6 * INCH)
    demand = duct_finding._demand(bare, file.shop.air, wanted, room, file.shop.air.find.sizes)
    answer = route(demand, room.inlets(file.shop.air.collector.inlet), room.space())
    assert len(runs_of(answer, wanted, file.shop.air.find, demand)) == len(shop.air.runs)
    ours = flows_of(answer.tree, answer.sizes, demand)
    states = {frozenset(state.runs): state for state in made.states}
    assert len(ours) == len(states)
    for point in ours:
        state = states[frozenset(point.open_ports)]
        assert point.flow == pytest.approx(state.worst.flow, rel=1e-9)
        assert state.worst.floors_met or len(state.machines) > 1


def test_a_hole_in_the_wall_is_where_the_file_says() -> None:
    text = SHOP.replace(
        "inlet: {at: [260 in, 340 in], height: 60 in}",
        "inlet: {at: [200 in, 420 in], height: 60 in}",
    ).replace(
        "  find:\n", "  find:\n    crossing: {wall: north, along: 15', height: 100 in}\n"
    )  # fmt: skip
    _, judged = found(text)
    from floorplan.checks.duct_finding import holes_of

    [(wall, along, height)] = holes_of(judged.shop, judged.shop.air.runs)
    assert wall == "north wall"
    assert along == pytest.approx(15 * FOOT)
    assert height == pytest.approx(100 * INCH)


def test_a_hole_is_found_clear_of_the_window() -> None:
    text = SHOP.replace(
        "inlet: {at: [260 in, 340 in], height: 60 in}",
        "inlet: {at: [330 in, 144 in], height: 60 in}",
    ).replace("  find:\n", "  find:\n    crossing: found\n")
    _, judged = found(text)
    from floorplan.checks.duct_finding import holes_of

    [(wall, along, height)] = holes_of(judged.shop, judged.shop.air.runs)
    assert wall == "east wall"
    low, high = (n * INCH for n in (120, 168))
    assert not low - 3 * INCH < along < high + 3 * INCH or height - 3 * INCH >= 100 * INCH
    assert not [f for f in judged.failing if f.check == "airflow"]


def test_no_way_names_what_closes_it() -> None:
    """A beam under the whole width down to 80 in leaves nothing over a person's head."""
    text = SHOP.replace(
        "  height: 9'\n",
        "  height: 9'\n  partitions:\n    wall across: {from: [0, 20'], to: [24', 20'], "
        "thickness: 4 in, top: 9'}\n",
    )
    _, judged = found(text)
    [failing] = [f for f in judged.findings if f.check == "airflow" and f.verdict == "fails"]
    assert "saw" in failing.message
    assert "wall across" in failing.message
    assert judged.verdict == "fails"


def test_usual_needs_are_marked_assumed() -> None:
    """Table saw 350 cfm, planer 785 cfm: ACGIH VS-95, from memory."""
    text = SHOP.replace("saw: 400 cfm, ", "").replace(
        "  saw: {width", "  saw: {kind: cabinet table saw, width"
    )
    _, judged = found(text)
    row = next(f for f in judged.findings if f.rule == "airflow-enough" and "saw" in f.about)
    assert row.needed == pytest.approx(350 * CFM, rel=1e-6)
    assert "saw: airflow needed" in row.assumed


@pytest.mark.parametrize(
    ("old", "new", "message"),
    [
        ("    inlet: {at: [260 in, 340 in], height: 60 in}\n", "", "nobody said where to"),
        ("  find:\n", "  find:\n    machines: [jointer]\n", "there is no thing `jointer`"),
        ("    sizes: [4 in, 5 in, 6 in]", "    sizes: []", "one size of duct"),
        ("  find:\n", "  find:\n    crossing: {wall: up, along: 3', height: 90 in}\n", "no wall"),
        ("  find:\n", "  find:\n    open together: [[saw, lathe]]\n", "`lathe`"),
        ("  find:\n", "  runs: {}\n  find:\n", "either given or found"),
        (",\n        ports: {main: {at: [22 in, 0], height: 8 in, diameter: 4 in}}}\n  planer",
         "}\n  planer", ""),
    ],
)  # fmt: skip
def test_faults_of_the_file(old: str, new: str, message: str) -> None:
    text = SHOP.replace(old, new, 1)
    assert text != SHOP
    if not message:  # a machine without a port is left out unless it is named
        text = text.replace("  find:\n", "  find:\n    machines: [saw, planer]\n")
        message = "`saw` has no dust port"
    with pytest.raises(ShopFileError) as told:
        parse(text)
    assert message in str(told.value)


def test_the_command_tells_runs_and_parts(tmp_path, capsys) -> None:
    status, data = command(SHOP, tmp_path, capsys)
    assert status == 0
    assert {r["run"] for r in data["runs"]} >= {"saw", "planer", "band saw"}
    assert all(r["found"] for r in data["runs"])
    duct = [p for p in data["parts"] if p["part"] == "galvanized duct"]
    total = sum(
        sum(abs(q - p) for a, b in pairwise(r["path"]) for p, q in zip(a, b, strict=True))
        for r in data["runs"]
    )
    assert sum(p["length"] for p in duct) == pytest.approx(total, rel=1e-3)
    for part in duct:
        assert len(part["cut"]) >= ceil(sum(sum(s) for s in part["cut"]) / part["stick"] - 1e-6)
        assert all(sum(s) <= part["stick"] + 1e-3 for s in part["cut"])
    gates = sum(p["count"] for p in data["parts"] if p["part"] == "blast gate")
    assert gates == 3
    elbows = sum(p["count"] for p in data["parts"] if "elbow" in p["part"])
    assert elbows >= 3
    assert any(p["part"] == "hanger" for p in data["parts"])


def test_one_layout_is_worked_out_once() -> None:
    file = parse(SHOP)
    assert with_found_runs(file.shop, file.layout) is with_found_runs(file.shop, file.layout)


def test_given_runs_are_left_alone() -> None:
    file = parse(SHOP.split("air:")[0])
    assert with_found_runs(file.shop, file.layout) is file.shop


def test_the_straight_run_goes_on_and_the_other_enters() -> None:
    """By plane geometry: one comes from the west into a main that goes east, one from the south."""
    collector = SHOP[SHOP.index("    fan:") : SHOP.index("  find:")]
    text = SHOP.split("air:")[0] + (
        "air:\n  collector:\n" + collector + "  runs:\n"
        "    side: {from: saw, into: main, path: [[200 in, 160 in, 20 in], [200 in, 160 in, 98 in],"
        " [200 in, 200 in, 98 in]], diameter: 4 in, needs: 400 cfm}\n"
        "    ahead: {from: planer, into: main, "
        "path: [[60 in, 200 in, 60 in], [60 in, 200 in, 98 in],"
        " [200 in, 200 in, 98 in]], diameter: 4 in, needs: 400 cfm}\n"
        "    main: {path: [[200 in, 200 in, 98 in], [280 in, 200 in, 98 in]], diameter: 5 in}\n"
    )  # fmt: skip
    made = ducts_of(judge(parse(text).shop, parse(text).layout).scene)
    assert made is not None
    assert made.from_side == {"side"}
    assert [f.kind for f in made.system.segment("side").fittings][-1] == "branch entry"
    assert "branch entry" not in [f.kind for f in made.system.segment("ahead").fittings]
    runs = {r.name: r for r in made.plan.runs}
    assert goes_on(runs["main"], [runs["side"], runs["ahead"]]) is runs["ahead"]


def test_the_room_above_a_plan_that_is_found_is_empty() -> None:
    """Without a pose nothing is asked for, and nothing is said to be missing."""
    file = parse(SHOP)
    from floorplan.shop.model import Layout
    from floorplan.shop.scene import scene

    empty = scene(file.shop, Layout({}))
    assert found_plan(empty, file.shop.air).runs == ()


def test_arrange_brings_what_falls_short_nearer_to_the_collector() -> None:
    """A weak fan and a saw far from it: the search may move the saw alone, and must."""
    from floorplan.search.arrange import arrange

    text = SHOP.replace(
        "[13 in wg, 12.2 in wg, 9.7 in wg, 5.7 in wg, 0 in wg]",
        "[8 in wg, 7.4 in wg, 5.5 in wg, 2.5 in wg, 0 in wg]",
    )
    text = text.replace("at: {x: 120 in, y: 130 in}", "at: {x: 10 in, y: 5 in}")
    text = text.replace("planer: 450 cfm, band saw: 350 cfm", "planer: 330 cfm, band saw: 330 cfm")
    for name in ("planer", "band saw"):
        text = text.replace(f"  {name}: {{width", f"  {name}: {{may: stay, width")
    file, today = found(text)
    best = arrange(file.shop, file.layout, effort=150).layouts[0].judgement
    assert best.measures["worst airflow"].value >= today.measures["worst airflow"].value + 0.02
    assert today.verdict == "fails"
    assert best.verdict == "passes"


def test_the_estimate_is_near_what_is_laid_out() -> None:
    from floorplan.search.duct_wish import DuctWish

    file, judged = found(SHOP)
    wish = DuctWish.of(file.shop)
    assert wish is not None
    pose = file.layout.pose("saw")
    shares = []
    for thing, ports in wish.ports.items():
        pose = file.layout.pose(thing)
        x, y = pose.x.value, pose.y.value
        port = file.shop.thing(thing).ports[0]
        depth = file.shop.thing(thing).depth.value
        spot = [[x + port.x.value, y + depth + port.y.value, port.height.value]]
        shares.append(float(wish.estimate.shares(ports[0][0], np.array(spot))[0]))
        cost = wish.cost(file.shop.thing(thing), 0.0, np.array([[x, y], [x, y - 1.0]]))
        assert cost[1] == pytest.approx(cost[0] + 1.0)  # a metre further costs a metre of duct
    assert min(shares) == pytest.approx(judged.measures["worst airflow"].value, rel=0.1)


def test_airflow_counts_before_walking_where_runs_are_found() -> None:
    assert parse(SHOP).shop.priorities.index("airflow") == 3
    assert "airflow" not in parse(SHOP.split("air:")[0]).shop.priorities


U = """\
shop: three machines along a U
tape: 0
room: {size: [24', 24'], height: 9'}
doors:
  out: {wall: south, at: 8', width: 36 in, clear width: 34 in, height: 80 in, swing: out,
        leads to: outside}
equipment:
  one: {width: 12 in, depth: 12 in, height: 30 in, at: {x: 18 in, y: 258 in},
        ports: {main: {at: [6 in, 0], height: 20 in, diameter: 4 in}}}
  two: {width: 12 in, depth: 12 in, height: 30 in, at: {x: 258 in, y: 258 in},
        ports: {main: {at: [6 in, 0], height: 20 in, diameter: 4 in}}}
  three: {width: 12 in, depth: 12 in, height: 30 in, at: {x: 258 in, y: 108 in},
          ports: {main: {at: [6 in, 0], height: 20 in, diameter: 4 in}}}
air:
  collector:
    inlet: {at: [24 in, 24 in], height: 100 in}
    fan: {flow: [0 cfm, 400 cfm, 800 cfm, 1200 cfm, 1600 cfm],
          pressure: [13 in wg, 12.2 in wg, 9.75 in wg, 5.7 in wg, 0 in wg]}
  find: {needs: {one: 400 cfm, two: 400 cfm, three: 400 cfm}, sizes: [4 in]}
"""


def test_the_u_in_a_shop_is_split() -> None:
    """The least duct is a chain; nobody's way need be longer than so far east and so far north.

    No duct parallel to the walls is shorter than that, so each way found is a shortest one.
    """
    _, judged = found(U)
    assert judged.shop.air is not None
    runs = {run.name: run for run in judged.shop.air.runs}
    for name in ("one", "two", "three"):
        spots, at = [], runs[name]
        while True:
            here = [tuple(number.value for number in spot) for spot in at.path]
            spots += [spot for spot in here if not spots or spot != spots[-1]]
            if at.junction is None:
                break
            at = runs[at.junction.into]
            following = [tuple(number.value for number in spot) for spot in at.path]
            assert following[0] == pytest.approx(spots[-1])
        level = sum(abs(b[0] - a[0]) + abs(b[1] - a[1]) for a, b in pairwise(spots))
        direct = abs(spots[0][0] - 24 * INCH) + abs(spots[0][1] - 24 * INCH)
        assert level == pytest.approx(direct, abs=1e-6), name
    worst = judged.measures["worst airflow"].value
    assert worst > 1.2


METRIC = """\
shop: one machine
units: mm
tape: 0
room: {size: [6000, 4000], height: 2700}
doors:
  out: {wall: south, at: 500, width: 1000, clear width: 900, height: 2000, swing: out,
        leads to: outside}
equipment:
  saw: {width: 600, depth: 600, height: 850, at: {x: 300, y: 2000},
        ports: {main: {at: [300, 0], height: 300, diameter: 101.6}}}
air:
  collector:
    inlet: {at: [5900, 2000], height: 1500, faces: west}
    fan: {flow: [0 m3/h, 679.6 m3/h, 1359.2 m3/h], pressure: [3000 Pa, 2000 Pa, 1000 Pa]}
  find: {needs: {saw: 600 m3/h}, sizes: [101.6]}
"""


def test_one_machine_in_metres_against_a_sum_by_hand(tmp_path, capsys) -> None:
    """Friction by an independent library; coefficients from the published tables.

    Flanged pipe end 0.49 (ACGIH, Industrial Ventilation, 24th ed., fig. 3-16), 5-piece elbow of
    radius 1.5 diameters 0.24 (SMACNA, HVAC Systems Duct Design, table A-7); open gate 0.2 and
    hose three times as rough as duct are common practice, no source.
    """
    from fluids.friction import friction_factor

    status, data = command(METRIC, tmp_path, capsys)
    _, judged = found(METRIC)
    assert status == 0
    assert judged.shop.air is not None
    (run,) = judged.shop.air.runs
    ducts = ducts_of(judged.scene)
    assert ducts is not None
    flow, across = data["ducts"][0]["flow"], 0.1016
    speed = flow / (np.pi * across**2 / 4)
    head = 1.2014 * speed**2 / 2
    factor = friction_factor(Re=1.2014 * speed * across / 1.81e-5, eD=0.09144e-3 / across)
    points = [np.array([number.value for number in spot]) for spot in run.path]
    pipe = sum(float(np.abs(b - a).sum()) for a, b in pairwise(points))
    around = pipe + 3.0 * ducts.hoses[run.name].length.value
    lost = head * (1.49 + 0.2 + 0.24 * (len(points) - 2) + factor * around / across)
    assert 3000 - 1000 * flow * 3600 / 679.6 == pytest.approx(lost, rel=0.005)
    assert data["ducts"][0]["velocity"] == pytest.approx(speed, rel=1e-5)
