"""Weights of sheets against geometry, a trade weight table, and published lifting figures."""

from __future__ import annotations

import pytest

from floorplan.rules.book import load_rules
from floorplan.shop.reader import parse

POUND = 0.45359237


def mass(sizes: str, density: str) -> float:
    """Mass of a sheet as the shop file gives it [kg]."""
    room = "shop: s\nroom: {size: [24 ft, 22 ft], height: 8 ft}\n"
    text = f"{room}stock:\n  sheet: {{{sizes}, density: {density}}}\n"
    return parse(text).shop.stock[0].mass


def test_three_quarters_of_four_by_eight_are_two_cubic_feet() -> None:
    # 32 sq ft by 1/16 ft: the weight in pounds is twice the density in pounds a cubic foot
    assert mass("length: 96 in, width: 48 in, thickness: 3/4 in", "48 lb/ft3") / POUND == (
        pytest.approx(96.0, rel=1e-9)
    )


@pytest.mark.parametrize(
    ("length", "width", "density", "expected"),
    [
        (2440, 1220, 750, 40.2),
        (2440, 1220, 680, 36.4),
        (2440, 1220, 500, 26.8),
        (3050, 1525, 750, 62.8),
        (3050, 1525, 680, 56.9),
        (3050, 1525, 500, 41.9),
        (1524, 1524, 750, 31.4),
        (1524, 1524, 680, 28.4),
        (1524, 1524, 500, 20.9),
    ],
)
def test_sheets_of_18_mm_by_density_times_volume(
    length: int, width: int, density: int, expected: float
) -> None:
    # worked out by hand as density x length x width x 0.018, to a tenth of a kilogram
    sizes = f"length: {length} mm, width: {width} mm, thickness: 18 mm"
    assert mass(sizes, f"{density} kg/m3") == pytest.approx(expected, abs=0.05)


@pytest.mark.parametrize(
    ("thickness", "pounds"),
    [("1/4", 22.0), ("11/32", 28.5), ("15/32", 40.6), ("19/32", 48.0), ("23/32", 60.8)],
)
def test_softwood_sheets_weigh_what_the_trade_table_says(thickness: str, pounds: float) -> None:
    # trade weight table of 4 x 8 ft softwood plywood, as reproduced; its densities differ by the
    # thickness, so one mean density comes within 8 %
    density = load_rules(metric=False).value("density-softwood-plywood")
    found = mass(f"length: 8 ft, width: 4 ft, thickness: {thickness} in", f"{density} kg/m3")
    assert found / POUND == pytest.approx(pounds, rel=0.08)


def test_two_people_lift_two_thirds_of_their_sum() -> None:
    # HSE lifting risk filter (INDG143, L23): 25 kg and 16 kg; two men 33 kg, two women 21 kg
    rules = load_rules(metric=True)
    share = rules.value("lift-two-share")
    assert 2 * rules.value("lift-men") * share == pytest.approx(33.0, abs=0.5)
    assert 2 * rules.value("lift-women") * share == pytest.approx(21.0, abs=0.5)
