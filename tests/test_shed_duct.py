"""Runs found to the places of a shed: the same as those found to a shed that stands there."""

from __future__ import annotations

import json
from itertools import pairwise
from pathlib import Path

import pytest

from floorplan.checks.duct_system import ducts_of, shares
from floorplan.checks.judge import judge
from floorplan.cli.main import main
from floorplan.search.shed import ShedAnswer, sheds
from floorplan.shop.faults import ShopFileError
from floorplan.shop.reader import parse
from floorplan.shop.shed_inlet import UNDER_ROOF

FOOT, INCH = 0.3048, 0.0254
SHOP = """\
shop: yard with runs to be found
tape: 0
room: {size: [16', 12'], height: 8', wall thickness: 5 in}
doors:
  door: {wall: south, at: 1', width: 36 in, clear width: 34 in, height: 80 in, swing: out,
         leads to: outside}
equipment:
  saw: {width: 30 in, depth: 27 in, height: 34 in, at: {x: 80 in, y: 70 in},
        ports: {main: {at: [15 in, 0], height: 12 in, diameter: 4 in}}}
air:
  collector:
    inlet: {height: 50 in}
    fan:
      flow: [0 cfm, 400 cfm, 800 cfm, 1200 cfm, 1600 cfm]
      pressure: [13 in wg, 12.2 in wg, 9.7 in wg, 5.7 in wg, 0 in wg]
  find: {needs: {saw: 400 cfm}, sizes: [5 in], crossing: found}
site:
  lot: {corners: [[-12', -30'], [30', -30'], [30', 24'], [-12', 24']]}
  setbacks: {default: 3', measured to: eave}
  shed:
    width: 5'
    depth: 4'
    height: 7' 6 in
    walls: [north]
    attached: yes
    door: {side: front, width: 30 in}
"""


def answered(*changes: str, most: int = 1) -> ShedAnswer:
    text = SHOP
    for old, new in zip(changes[::2], changes[1::2], strict=True):
        assert old in text, old
        text = text.replace(old, new, 1)
    file = parse(text)
    return sheds(file.shop, file.layout, most=most)


def test_a_place_written_into_the_file_has_the_runs_that_were_told(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """The command's answer against the checks of a file whose shed stands there."""
    source, target = tmp_path / "yard.yaml", tmp_path / "chosen.yaml"
    source.write_text(SHOP)
    assert main(["shed", str(source), "--json", "--no-figures", "--write", str(target)]) == 0
    best = json.loads(capsys.readouterr().out)["shed"][0]
    file = parse(target.read_text())
    judged = judge(file.shop, file.layout)
    ducts = ducts_of(judged.scene)
    assert ducts is not None
    assert judged.shop.air is not None
    (run,) = judged.shop.air.runs
    told = best["run"]["runs"][0]["path"]
    for spot, row in zip(run.path, told, strict=True):
        assert [v.value for v in spot] == pytest.approx(row, abs=1e-3)
    (state,) = ducts.states
    assert shares(ducts, state)[run.name] == pytest.approx(best["airflow"]["share"], rel=1e-3)
    # so far east, so far north and so far up: no duct along walls and ceiling is shorter
    first, last = told[0], told[-1]
    hole = best["run"]["crossing"]["height"]
    least = sum(abs(b - a) for a, b in zip(first[:2], last[:2], strict=True))
    least += abs(hole - first[2]) + abs(hole - last[2])
    assert best["run"]["length"] >= least - 1e-3
    assert best["run"]["length"] == pytest.approx(
        sum(abs(q - p) for a, b in pairwise(told) for p, q in zip(a, b, strict=True)), abs=2e-3
    )


def test_the_duct_comes_in_below_the_roof_and_into_the_middle() -> None:
    (best,) = answered("height: 7' 6 in", "height: 8'").sites
    assert best.way is not None
    assert best.way.laid is not None
    assert best.way.wall == "north wall"
    roof = 8 * FOOT
    assert best.way.height + 2.5 * INCH <= roof - UNDER_ROOF + 1e-9
    middle = best.standing.body.walls.points.mean(axis=0)
    assert best.way.points[-1] == pytest.approx((*middle, 50 * INCH))
    # attached to the north wall, whose outer face is 12 ft and 5 in north of the origin
    assert middle[1] == pytest.approx(12 * FOOT + 5 * INCH + 2 * FOOT)


def test_places_are_ranked_by_the_runs_that_were_found() -> None:
    """With much more duct to the far end of the wall, nearer places come first."""
    answer = answered(most=3)
    best = answer.sites[0].way
    assert best is not None
    # straight north from the port's line: the middle of the shed and the hole lie on it
    assert [spot[0] for spot in best.points] == pytest.approx([best.points[0][0]] * 6)
    flows = [site.air.flow for site in answer.sites if site.air is not None]
    assert len(flows) == len(answer.sites) >= 2
    steps = [site.way.length for site in answer.sites if site.way is not None]
    assert flows[0] >= max(flows) * 0.98
    assert steps[0] <= min(steps) * 1.03 or flows[0] > max(flows[1:]) * 1.01


def test_a_hole_in_a_wall_without_the_shed_behind_it_leads_nowhere() -> None:
    answer = answered("crossing: found", "crossing: {wall: south, along: 8', height: 84 in}")
    (best,) = answer.sites
    assert best.way is None
    assert "no wall with the collector behind it" in best.no_way


def test_a_building_between_wall_and_shed_closes_the_way() -> None:
    """A wall of 2 ft right behind the shop, from end to end: whatever goes out meets it."""
    answer = answered(
        "attached: yes", "attached: no",
        "  setbacks: {default", "  buildings: {wall: {at: [-10', 13'], size: [38', 2']}}\n"
        "  setbacks: {room: 3', default",
    )  # fmt: skip
    assert answer.sites
    assert all(site.way is None for site in answer.sites)


def test_into_a_low_shed_duct_comes_down_before_the_wall_as_far_as_two_elbows_take() -> None:
    """Duct of 5 in hangs above 80 in; elbows on 1.5 diameters take 7-1/2 in each of the drop."""
    (best,) = answered("height: 7' 6 in", "height: 7'").sites
    assert best.way is not None
    assert best.way.height == pytest.approx((80 + 2.5 - 15) * INCH)
    steps = [abs(b[2] - a[2]) for a, b in pairwise(best.way.points[:-1])]
    assert min(step for step in steps if step > 1e-6) >= 15 * INCH - 1e-6


def test_without_a_place_for_the_shed_the_runs_wait_and_that_is_said() -> None:
    file = parse(SHOP)
    judged = judge(file.shop, file.layout)
    told = [f.message for f in judged.failing if f.check == "airflow"]
    assert len(told) == 1
    assert "has no place yet" in told[0]


def test_without_a_shed_the_inlet_needs_its_point() -> None:
    with pytest.raises(ShopFileError, match="at"):
        parse(SHOP.split("site:")[0])
