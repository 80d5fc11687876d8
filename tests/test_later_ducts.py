"""Runs of duct that are found at a later stage keep their room free before."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest
from shapely.geometry import Polygon

from floorplan.checks.duct_later import stage_with_strips, with_later_strips
from floorplan.checks.judge import judge
from floorplan.checks.judge_stages import judge_stages, layouts_of, shops_of
from floorplan.cli.main import main
from floorplan.shop.reader import parse

INCH = 0.0254
# The collector's inlet is straight over the middle of the saw's port in plan: one drop, one way.
SHOP = """\
shop: a collector comes
tape: 0
room: {size: [20', 20'], height: 9'}
stages: {now: {}, collector: {}}
doors:
  out: {wall: west, at: 3', width: 36 in, clear width: 34 in, height: 80 in, swing: out,
        leads to: outside}
equipment:
  saw: {width: 44 in, depth: 30 in, height: 34 in, may: stay, at: {x: 100 in, y: 80 in},
        ports: {main: {at: [22 in, 0], height: 8 in, diameter: 4 in}}}
  rack: {width: 30 in, depth: 20 in, height: 80 in, until: now, at: {x: 30 in, y: 200 in}}
air:
  collector:
    from: collector
    inlet: {at: [200 in, 220 in], height: 70 in}
    fan:
      flow: [0 cfm, 400 cfm, 800 cfm, 1200 cfm, 1600 cfm]
      pressure: [13 in wg, 12.2 in wg, 9.7 in wg, 5.7 in wg, 0 in wg]
  find: {sizes: [5 in], needs: {saw: 400 cfm}}
"""


def strips(shop) -> list[Polygon]:
    return [Polygon(k.outline.points) for k in shop.keep_clears if k.rule == "duct-strip"]


def test_the_first_stage_keeps_the_strip_of_the_run_that_is_found_later() -> None:
    """A strip is as wide as the duct and covers its whole path: plane geometry."""
    file = parse(SHOP)
    judged = judge_stages(file.shop, file.layout)
    now, later = judged.stages
    assert judged.verdict == "passes", [f.message for f in (*now.failing, *later.failing)]
    [run] = later.shop.air.runs
    found = strips(now.shop)
    assert len(found) == len(run.path) - 1
    for (a, b), strip in zip(run.legs, found, strict=True):
        middle = [(a[i].value + b[i].value) / 2 for i in (0, 1)]
        assert np.allclose(strip.centroid.coords[0], middle, atol=1e-6)
        low = strip.bounds[2] - strip.bounds[0], strip.bounds[3] - strip.bounds[1]
        assert min(low) == pytest.approx(5 * INCH, rel=0.02)
    assert strips(later.shop) == []
    assert now.shop.air is None


def test_what_stands_at_an_earlier_stage_is_gone_round() -> None:
    """A rack that leaves before the collector comes, put where the drop would else come down."""
    file = parse(SHOP)
    [run] = judge_stages(file.shop, file.layout).stages[1].shop.air.runs
    x, y = (number.value / INCH for number in run.path[0][:2])
    text = SHOP.replace("at: {x: 30 in, y: 200 in}", f"at: {{x: {x - 15:.3f} in, y: {y:.3f} in}}")
    moved = parse(text)
    judged = judge_stages(moved.shop, moved.layout)
    assert not [f for j in judged.stages for f in j.failing if f.rule == "duct-strip"]
    [other] = judged.stages[1].shop.air.runs
    assert [n.value for n in other.path[0]] != pytest.approx([n.value for n in run.path[0]])


def test_no_way_round_is_told() -> None:
    """Stock that fills the whole floor round the saw up to the ceiling until the collector comes.

    The run of the later stage stays as it is; the first stage fails against its strip.
    """
    text = SHOP.replace(
        "width: 30 in, depth: 20 in, height: 80 in, until: now, at: {x: 30 in, y: 200 in}",
        "width: 120 in, depth: 100 in, height: 106 in, until: now, at: {x: 115 in, y: 111 in}",
    ).replace("inlet: {at: [200 in, 220 in]", "inlet: {at: [200 in, 160 in]")
    file = parse(text)
    now, later = judge_stages(file.shop, file.layout).stages
    assert later.shop.air.runs
    assert not later.shop.air.no_way
    assert [f for f in now.failing if f.rule == "duct-strip" and "rack" in f.about]


def test_a_strip_that_cannot_be_kept_is_told_out_loud(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """No run can be found through a wall up to the ceiling; the first stage says what it lacks."""
    text = SHOP.replace(
        "height: 9'}",
        "height: 9', partitions: {across: {from: [0, 12'], to: [20', 12'], thickness: 4 in, "
        "top: 9'}}}",
    )
    path = tmp_path / "shop.yaml"
    path.write_text(text, encoding="utf-8")
    main(["check", str(path), "--stage", "now", "--no-figures"])
    told = " ".join(capsys.readouterr().out.split())
    assert "no room is kept free for the ducts of stage collector" in told
    assert "across" in told


def test_one_stage_alone_keeps_it_too(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    file = parse(SHOP)
    shop = stage_with_strips(file.shop, file.layout, 0)
    assert len(strips(shop)) == len(strips(judge_stages(file.shop, file.layout).stages[0].shop))
    [run] = judge_stages(file.shop, file.layout).stages[1].shop.air.runs
    x, y = (number.value / INCH for number in run.path[-1][:2])
    box = f"  box: {{width: 12 in, depth: 12 in, height: 90 in, until: now, at: {{x: {x:.3f} in, "
    text = SHOP.replace("air:\n", f"{box}y: {y:.3f} in}}}}\nair:\n")
    path = tmp_path / "shop.yaml"
    path.write_text(text, encoding="utf-8")
    status = main(["check", str(path), "--stage", "now", "--no-figures", "--json"])
    rows = json.loads(capsys.readouterr().out)["findings"]
    assert status == 1
    assert [r for r in rows if r["rule"] == "duct-strip" and r["verdict"] == "fails"]


def test_the_same_layouts_are_worked_out_once() -> None:
    file = parse(SHOP)
    shops, layouts = shops_of(file.shop), layouts_of(file.shop, file.layout)
    assert with_later_strips(shops, layouts) is with_later_strips(shops, layouts)
    given = parse(SHOP.partition("  find:")[0] + "  runs: {a: {from: saw, from stage: collector, "
                  "diameter: 4 in, path: [[10', 10', 1'], [10', 10', 8']]}}\n")  # fmt: skip
    shops = shops_of(given.shop)
    assert with_later_strips(shops, layouts_of(given.shop, given.layout)) == shops


def test_the_plan_that_is_arranged_keeps_it() -> None:
    """The rack may stand anywhere but in the strip, and the best plan passes with it."""
    from floorplan.search.arrange_stages import arrange_stages

    file = parse(SHOP)
    found = arrange_stages(file.shop, file.layout, effort=60, show=1)
    [best] = found.layouts[:1]
    now, later = best.judged.stages
    assert best.judged.verdict == "passes"
    assert len(strips(now.shop)) == len(later.shop.air.runs[0].path) - 1
    assert judge(now.shop, now.layout).verdict == "passes"
