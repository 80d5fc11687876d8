"""Runs of duct in a shop file: lengths read, air worked out, the strip kept free."""

from __future__ import annotations

import json
from math import pi

import pytest

from floorplan.checks.judge import judge
from floorplan.cli.main import main
from floorplan.shop.faults import ShopFileError
from floorplan.shop.reader import parse

SHOP = """\
shop: air
tape: 0
room: {size: [20', 20'], height: 9'}
doors:
  out: {wall: south, at: 3', width: 36 in, clear width: 34 in, height: 80 in, swing: out,
        leads to: outside}
equipment:
  saw: {kind: cabinet table saw, at: {x: 100 in, y: 130 in}}
  cupboard: {width: 30 in, depth: 16 in, height: 84 in, at: {x: 140 in, y: against north wall}}
air:
  collector:
    fan:
      flow: [0 cfm, 400 cfm, 800 cfm, 1200 cfm, 1600 cfm]
      pressure: [13 in wg, 12.2 in wg, 9.7 in wg, 5.7 in wg, 0 in wg]
    filter: {clean: 0.4 in wg, dirty: 1.5 in wg, flow: 800 cfm}
  runs:
    main:
      from: saw
      path: [[122 in, 170 in, 20 in], [122 in, 170 in, 98 in], [200 in, 170 in, 98 in],
             [200 in, 232 in, 98 in], [200 in, 232 in, 28 in]]
      diameter: 5 in
      hose: {factor: 3}
      needs: 500 cfm
      clear round: 1 in
      later: yes
"""
CFM = 4.719474e-4
INCH = 0.0254


def ducts(text: str, tmp_path, capsys) -> tuple[int, dict]:
    path = tmp_path / "air.yaml"
    path.write_text(text, encoding="utf-8")
    status = main(["ducts", str(path), "--no-figures", "--json"])
    return status, json.loads(capsys.readouterr().out)


def test_air_moves_at_flow_over_area(tmp_path, capsys) -> None:
    status, data = ducts(SHOP, tmp_path, capsys)
    assert status == 0
    area = pi * (5 * INCH) ** 2 / 4
    clean, dirty = data["ducts"]
    assert clean["velocity"] == pytest.approx(clean["flow"] / area, rel=1e-4)
    assert clean["needed"] == pytest.approx(500 * CFM, rel=1e-4)
    assert dirty["flow"] < clean["flow"]
    assert set(clean) >= {"machine", "gates", "flow", "pressure", "velocity", "floor"}


def test_lengths_and_elbows_are_read_from_the_path(tmp_path, capsys) -> None:
    """78 in up, 78 in across, 62 in along and 70 in down: 288 in; three square corners."""
    _, data = ducts(SHOP, tmp_path, capsys)
    text = json.dumps(data["parts"])
    lengths = [
        part["length"] for part in data["parts"] if part.get("length") and "hose" not in str(part)
    ]
    assert lengths == [pytest.approx(288 * INCH, abs=1e-6)]
    assert "elbow" in text


def strip(text: str):
    file = parse(text)
    return [f for f in judge(file.shop, file.layout).findings if f.rule == "duct-strip"]


def test_the_strip_of_a_later_run_binds_today_by_height() -> None:
    """The pipe comes down at x = 200 in; 84 in of cupboard reach into it, a 20 in box does not."""
    inside = SHOP.replace("x: 140 in, y: against", "x: 190 in, y: against")
    assert {f.verdict for f in strip(SHOP)} == {"passes"}
    assert "fails" in {f.verdict for f in strip(inside)}
    low = inside.replace("height: 84 in", "height: 20 in")
    assert {f.verdict for f in strip(low)} == {"passes"}


def test_a_fan_too_weak_is_an_answer(tmp_path, capsys) -> None:
    weak = SHOP.replace(
        "[13 in wg, 12.2 in wg, 9.7 in wg, 5.7 in wg, 0 in wg]",
        "[0.5 in wg, 0.4 in wg, 0.3 in wg, 0.2 in wg, 0 in wg]",
    )
    status, data = ducts(weak, tmp_path, capsys)
    assert status == 0  # what hangs later does not fail today, it is told
    told = {(f["rule"], f["kind"], f["verdict"]) for f in data["findings"]}
    assert ("airflow-enough", "advised", "fails") in told
    status, data = ducts(weak.replace("later: yes", "later: no"), tmp_path, capsys)
    assert status == 1
    assert data["verdict"] == "fails"
    assert all(row["flow"] is None or row["flow"] < 500 * CFM for row in data["ducts"])
    assert data["changes"]


@pytest.mark.parametrize(
    ("old", "new", "words"),
    [
        ("diameter: 5 in", "diameter: 0 in", "more than 0"),
        ("from: saw", "from: sow", "saw"),
        ("20 in], [122", "[122", ""),
        ("needs: 500 cfm", "needs: 500", "500"),
        ("[122 in, 170 in, 20 in]", "[122 in, 170 in]", ""),
    ],
)
def test_faults_of_a_run_are_told_with_their_line(old: str, new: str, words: str) -> None:
    with pytest.raises(ShopFileError) as wrong:
        parse(SHOP.replace(old, new, 1))
    assert words in str(wrong.value)
    assert all(fault.line > 1 for fault in wrong.value.faults)


def test_without_air_the_command_says_what_is_missing(tmp_path, capsys) -> None:
    path = tmp_path / "no-air.yaml"
    path.write_text(SHOP[: SHOP.index("air:\n  coll")], encoding="utf-8")
    assert main(["ducts", str(path), "--no-figures"]) == 2
    assert "air" in capsys.readouterr().err


def test_thin_air_moves_as_much_at_less_pressure(tmp_path, capsys) -> None:
    """At 2000 m and 20 C air weighs 0.7846 x 1.2041 = 0.9447 kg/m3 (1976 standard atmosphere).

    All losses and the fan's pressure fall with it, so the volume flow hardly changes.
    """
    _, low = ducts(SHOP, tmp_path, capsys)
    thin = SHOP.replace("air:\n", "air:\n  altitude: 2000 m\n  temperature: 20 C\n")
    _, high = ducts(thin, tmp_path, capsys)
    for here, there in zip(low["ducts"], high["ducts"], strict=True):
        assert there["flow"] == pytest.approx(here["flow"], rel=0.02)
        ratio = there["pressure"] / here["pressure"]
        assert ratio == pytest.approx(0.9447 / 1.2014, rel=0.03)
    _, same = ducts(SHOP.replace("air:\n", "air:\n  temperature: 68 F\n"), tmp_path, capsys)
    assert same["ducts"][0]["pressure"] == pytest.approx(low["ducts"][0]["pressure"], rel=0.01)


@pytest.mark.parametrize(
    ("line", "words"),
    [
        ("altitude: 9000 m", "no shop lies that high"),
        ("altitude: high", "`1600 m` or `5200 ft`"),
        ("temperature: 68", "`20 C` or `68 F`"),
        ("temperature: 90 C", "-40 to 60 C"),
    ],
)
def test_air_that_nobody_breathes_is_refused(line: str, words: str) -> None:
    with pytest.raises(ShopFileError) as wrong:
        parse(SHOP.replace("air:\n", f"air:\n  {line}\n"))
    assert words in str(wrong.value)
