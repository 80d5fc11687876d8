"""The command `shed`: ranked places, one answer where there is none, the drawn site."""

from __future__ import annotations

import json
from pathlib import Path
from random import Random

import pytest
from shapely.geometry import Point, Polygon
from test_shed import SHOP

from floorplan.checks.finding import overall
from floorplan.checks.shed import legality, standing_shed
from floorplan.cli.main import main
from floorplan.search.shed import sheds
from floorplan.search.shed_ground import grounds
from floorplan.shop.reader import parse

EXACT = SHOP.replace("shop: back yard", "shop: back yard\ntape: 0").replace(", error: 2 in", "")


@pytest.fixture
def shop_file(tmp_path: Path) -> Path:
    path = tmp_path / "yard.yaml"
    path.write_text(SHOP)
    return path


def run(capsys: pytest.CaptureFixture[str], *arguments: str | Path) -> tuple[int, str, str]:
    status = main([str(a) for a in arguments])
    told = capsys.readouterr()
    return status, told.out, told.err


def test_every_place_of_the_legal_ground_passes_and_what_is_off_it_fails() -> None:
    """Against the checks, which know nothing of the regions: 300 places drawn at random."""
    shop = parse(EXACT).shop
    dice, tried = Random(5), {True: 0, False: 0}
    square = [g for g in grounds(shop, reserve=False) if g.wall is None and g.turn % 90 == 0]
    assert square
    while sum(tried.values()) < 300:
        ground = dice.choice(square)
        x, y = dice.uniform(-6.0, 11.0), dice.uniform(-8.0, 11.0)
        edge = ground.places.boundary.distance(Point(x, y))
        if edge < 0.01:
            continue
        inside = bool(ground.places.contains(Point(x, y)))
        standing = standing_shed(shop, ground.place(x, y))
        assert standing is not None
        legal = overall(tuple(legality(standing))) == "passes"
        if inside:
            assert legal, (ground.turn, x, y)
        tried[inside] += 1
    assert min(tried.values()) > 20


def test_places_are_told_best_first_with_every_distance(
    capsys: pytest.CaptureFixture[str], shop_file: Path
) -> None:
    status, out, _ = run(capsys, "shed", shop_file, "--json", "--no-figures")
    data = json.loads(out)
    assert status == 0
    assert data["command"] == "shed"
    assert data["verdict"] == "passes"
    assert [row["rank"] for row in data["shed"]] == list(range(1, len(data["shed"]) + 1))
    for row in data["shed"]:
        assert {"x", "y", "turn"} <= set(row)
        assert len(row["distances"]) == 4
        for line in row["distances"]:
            assert line["distance"] >= line["needed"] + line["error"] - 1e-5
    assert data["today"]["wall"] == "north wall"


@pytest.mark.slow
def test_where_it_fits_nowhere_it_says_what_would_let_it(
    capsys: pytest.CaptureFixture[str], shop_file: Path
) -> None:
    """Setbacks of 28 ft on all sides leave nothing of a lot 60 ft wide."""
    text = SHOP.replace("default: 5', street: 20'", "default: 28', street: 28'")
    shop_file.write_text(text)
    status, out, _ = run(capsys, "shed", shop_file, "--no-figures")
    assert status == 1
    assert "fits nowhere" in out
    assert "without any one of these" in out
    answer = sheds(parse(text).shop, parse(text).layout)
    assert answer.sites == ()


def test_a_place_is_written_back_and_found_there_again(
    capsys: pytest.CaptureFixture[str], shop_file: Path, tmp_path: Path
) -> None:
    target = tmp_path / "chosen.yaml"
    _, out, _ = run(capsys, "shed", shop_file, "--json", "--no-figures", "--write", target)
    best = json.loads(out)["shed"][0]
    again = parse(target.read_text()).shop
    assert again.site is not None
    assert again.site.shed is not None
    place = again.site.shed.place
    assert place is not None
    assert place.x.value == pytest.approx(best["x"], abs=1e-5)
    assert place.y.value == pytest.approx(best["y"], abs=1e-5)
    assert place.wall == best["wall"]


def test_a_file_without_a_site_is_refused(
    capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    path = tmp_path / "plain.yaml"
    path.write_text("shop: plain\nroom: {size: [10', 10'], height: 8'}\n")
    status, _, err = run(capsys, "shed", path)
    assert status == 2
    assert "`site:`" in err


def test_the_site_is_drawn_with_its_lines_named(
    capsys: pytest.CaptureFixture[str], shop_file: Path, tmp_path: Path
) -> None:
    run(capsys, "shed", shop_file, "-o", tmp_path / "out")
    svg = (tmp_path / "out" / "shed.svg").read_text()
    for name in ("lot", "setback: street", "building: house", "tree: oak", "place 1", "duct"):
        assert f'id="{name}"' in svg, name
    assert (tmp_path / "out" / "shed.pdf").stat().st_size > 1000


def test_the_drawn_lot_is_the_lot() -> None:
    shop = parse(SHOP).shop
    assert shop.site is not None
    land = Polygon(shop.site.lot.points)
    # trapezium 60 and 54 ft wide measured west to east, by the shoelace formula
    corners = [(-20, -30), (40, -30), (34, 40), (-20, 30)]
    twice = sum(
        a[0] * b[1] - b[0] * a[1] for a, b in zip(corners, corners[1:] + corners[:1], strict=True)
    )
    assert land.area == pytest.approx(twice / 2 * 0.3048**2)
