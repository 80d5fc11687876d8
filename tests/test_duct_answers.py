"""What `ducts` says of holes, of air that leaves, of weak collectors and of ports not known."""

from __future__ import annotations

import json
from math import sqrt
from pathlib import Path

import pytest

from floorplan.cli.main import main

INCH = 0.0254
SHOP = """\
shop: a collector behind the wall
room: {size: [20', 16'], height: 9'}
doors:
  out: {wall: west, at: 3', width: 36 in, clear width: 34 in, height: 80 in, swing: out,
        leads to: outside}
equipment:
  saw: {width: 44 in, depth: 30 in, height: 34 in, at: {x: 100 in, y: 80 in},
        ports: {main: {at: [22 in, 0], height: 8 in, diameter: 4 in}}}
air:
  collector:
    inlet: {at: [200 in, 230 in], height: 70 in}
    fan:
      flow: [0 cfm, 400 cfm, 800 cfm, 1200 cfm, 1600 cfm]
      pressure: [13 in wg, 12.2 in wg, 9.7 in wg, 5.7 in wg, 0 in wg]
  find: {sizes: [4 in, 5 in], needs: {saw: 400 cfm},
         crossing: {wall: north, along: 15', height: 100 in}}
"""


def told(text: str, tmp_path: Path, capsys: pytest.CaptureFixture[str], *more: str):  # type: ignore[no-untyped-def]
    path = tmp_path / "shop.yaml"
    path.write_text(text, encoding="utf-8")
    status = main(["ducts", str(path), "--no-figures", *more])
    got = capsys.readouterr()
    return status, got.out, got.err


def test_a_hole_is_measured_from_both_ends_and_the_floor(tmp_path, capsys) -> None:
    _, out, _ = told(SHOP, tmp_path, capsys)
    words = " ".join(out.split())
    assert "middle 15' from its west or south end, 5' from the other, 8' 4\" above" in words


def test_air_that_leaves_comes_in_again(tmp_path, capsys) -> None:
    """Q = Cd A sqrt(2 dp / rho) with Cd 0.6 at 5 Pa: Bernoulli; air of 0.075 lb/ft3."""
    _, out, _ = told(SHOP, tmp_path, capsys, "--json")
    data = json.loads(out)
    gone = data["leaving"]
    assert gone["flow"] == max(row["flow"] for row in data["ducts"])
    area = gone["flow"] / (0.6 * sqrt(2 * 5.0 / 1.2014))
    assert gone["opening"] == pytest.approx(area, rel=1e-3)
    inside = SHOP.replace("at: [200 in, 230 in]", "at: [200 in, 150 in]").replace(
        ",\n         crossing: {wall: north, along: 15', height: 100 in}", ""
    )
    _, out, _ = told(inside, tmp_path, capsys, "--json")
    assert json.loads(out)["leaving"] is None
    assert json.loads(out)["holes"] == []


def test_a_collector_too_weak_for_any_size_is_said_to_be(tmp_path, capsys) -> None:
    weak = SHOP.replace(
        "[13 in wg, 12.2 in wg, 9.7 in wg, 5.7 in wg, 0 in wg]",
        "[2 in wg, 1.6 in wg, 1 in wg, 0.4 in wg, 0 in wg]",
    )
    status, out, _ = told(weak, tmp_path, capsys)
    assert status == 1
    assert 'No choice of the sizes 4", 5" gives every machine its air' in " ".join(out.split())
    changes = [row for row in out.splitlines() if row.startswith("  lay saw in")]
    assert len(changes) == len(set(changes)) > 0
    assert "No choice of the sizes" not in told(SHOP, tmp_path, capsys)[1]


def test_a_port_without_a_height_is_the_only_fault(tmp_path, capsys) -> None:
    status, _, err = told(SHOP.replace("height: 8 in, ", ""), tmp_path, capsys)
    assert status == 2
    assert "the port `main` of `saw` needs `height:`" in err
    assert "no machine has a dust port" not in err


def test_no_port_at_all_is_told(tmp_path, capsys) -> None:
    bare = SHOP.replace(
        ",\n        ports: {main: {at: [22 in, 0], height: 8 in, diameter: 4 in}}", ""
    )
    status, _, err = told(bare, tmp_path, capsys)
    assert status == 2
    assert "no machine has a dust port" in err
    assert "to each machine" in err
    assert "to to" not in err
