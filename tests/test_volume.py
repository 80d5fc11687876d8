"""Gaps of volumes against an independent geometry library and finite differences."""

from __future__ import annotations

from random import Random

import numpy as np
import pytest
import shapely
from shapely import affinity
from shapely.geometry import Polygon

from floorplan.geometry.affine import Affine, Measurement, Outline
from floorplan.geometry.volume import Volume, conflict, gap, height_gap, plan_gap
from floorplan.units import TOLERANCE

L_SHAPE = [(0.0, 0.0), (3.0, 0.0), (3.0, 1.0), (1.0, 1.0), (1.0, 2.5), (0.0, 2.5)]


def volume(
    points: list[tuple[float, float]],
    bottom: float = 0.0,
    top: float = 1.0,
    turn: float = 0.0,
    move: tuple[Affine, Affine] = (Affine(0.0), Affine(0.0)),
) -> Volume:
    return Volume(Outline.of(points).turned(turn).moved(*move), Affine(bottom), Affine(top))


def box(width: float, depth: float) -> list[tuple[float, float]]:
    return [(0.0, 0.0), (width, 0.0), (width, depth), (0.0, depth)]


def pairs(count: int, turns: tuple[float, ...]) -> list[tuple[Volume, Volume]]:
    random = Random(11)
    out = []
    for _ in range(count):
        shapes = [
            random.choice([L_SHAPE, box(random.uniform(0.2, 3), random.uniform(0.2, 2))])
            for _ in range(2)
        ]
        made = [
            volume(
                shape,
                turn=random.choice(turns),
                move=(
                    Affine(random.uniform(-3, 3), {f"x{i}": 1.0}),
                    Affine(random.uniform(-3, 3), {f"y{i}": 1.0}),
                ),
            )
            for i, shape in enumerate(shapes)
        ]
        out.append((made[0], made[1]))
    return out


@pytest.mark.parametrize("turns", [(0.0, 90.0, 180.0), (0.0, 17.0, 45.0, 133.0)])
def test_the_gap_of_parted_plans_is_their_distance(turns: tuple[float, ...]) -> None:
    apart = 0
    for a, b in pairs(150, turns):
        distance = a.polygon.distance(b.polygon)
        if distance > 0:
            apart += 1
            assert plan_gap(a, b).value == pytest.approx(distance, abs=1e-9)
            assert plan_gap(b, a).value == pytest.approx(distance, abs=1e-9)
    assert apart > 30


@pytest.mark.parametrize("turns", [(0.0, 90.0, 180.0), (0.0, 17.0, 45.0, 133.0)])
def test_the_depth_of_an_overlap_is_the_least_move_that_parts(turns: tuple[float, ...]) -> None:
    """No shorter move parts the two, tried all round; and one of that length does."""
    headings = np.linspace(0.0, 2 * np.pi, 721)
    deep = 0
    for a, b in pairs(150, turns):
        depth = -plan_gap(a, b).value
        if depth <= 1e-6:
            continue
        deep += 1
        assert a.polygon.intersection(b.polygon).area > 0

        def apart(
            length: float, a: Volume = a, b: Volume = b, least: float = 1e-4 * depth**2
        ) -> bool:
            moves = [(length * np.cos(h), length * np.sin(h)) for h in headings]
            return any(
                a.polygon.intersection(affinity.translate(b.polygon, *m)).area < least
                for m in moves
            )

        assert not apart(depth * 0.97)
        assert apart(depth * 1.01 + 1e-6)
    assert deep > 20


@pytest.mark.parametrize("turns", [(0.0, 90.0), (0.0, 17.0, 45.0, 133.0)])
def test_sensitivities_are_finite_differences(turns: tuple[float, ...]) -> None:
    names, step = ("x0", "y0", "x1", "y1"), 1e-6
    random = Random(5)
    for a, b in pairs(100, turns):
        before = gap(a, b)
        offsets = {name: step * random.uniform(-1, 1) for name in names}
        after = gap(a.shifted(offsets), b.shifted(offsets)).distance.value
        predicted = before.distance.shifted(offsets)
        assert after == pytest.approx(predicted, abs=1e-9)


def test_touching_is_apart_and_a_hair_more_is_not() -> None:
    a = volume(box(1, 1))
    for offset, overlaps in ((0.0, False), (0.9 * TOLERANCE, False), (2 * TOLERANCE, True)):
        other = volume(box(1, 1), move=(Affine(1.0 - offset), Affine(0.2)))
        assert conflict(a, other) is overlaps
        turned = volume(box(1, 1), turn=90.0, move=(Affine(2.0 - offset), Affine(0.2)))
        assert conflict(a, turned) is overlaps


def test_touching_slanted_edges_keep_a_direction() -> None:
    """Rounding leaves a gap of about 1e-16, whose own direction would be noise."""
    at = (Affine(0.0, {"x": 1.0}), Affine(0.0))
    a, b = volume(box(1, 1), turn=30.0), volume(box(1, 1), turn=30.0, move=at)
    step = np.array([np.cos(np.pi / 6), np.sin(np.pi / 6)])
    moved = Volume(
        Outline(b.outline.points + step, b.outline.terms),
        b.bottom, b.top,
    )  # fmt: skip
    found = plan_gap(a, moved)
    assert abs(found.value) < 1e-9
    assert found.terms["x"] == pytest.approx(np.cos(np.pi / 6))


def test_touching_but_for_rounding_keeps_its_error() -> None:
    """An L and a box that touch, but for the last digit of a float, depend on their places."""
    for hair in (0.0, 1e-14, 1e-9):
        at = (Affine(3.0 + hair, {"x": 1.0}), Affine(0.2))
        found = plan_gap(volume(L_SHAPE), volume(box(1, 0.5), move=at))
        assert abs(found.value) < 1e-8
        assert found.terms == {"x": pytest.approx(1.0)}


def test_heights_part_what_plans_do_not() -> None:
    low, high = volume(box(1, 1), 0.0, 0.9), volume(box(1, 1), 1.2, 2.0)
    assert height_gap(low, high).value == pytest.approx(0.3)
    found = gap(low, high)
    assert found.by_height
    assert found.distance.value == pytest.approx(0.3)
    assert found.place.area == pytest.approx(1.0)


def test_one_sure_way_apart_is_enough_and_a_doubtful_one_makes_unsure() -> None:
    measured = {
        "x": Measurement("x", 0.0, 0.01), "h": Measurement("h", 0.0, 0.001),
    }  # fmt: skip
    base = volume(box(1, 1), 0.0, 1.0)

    def other(x: float, bottom: float) -> Volume:
        outline = Outline.of(box(1, 1)).moved(Affine(x, {"x": 1.0}), Affine(0.0))
        return Volume(outline, Affine(bottom, {"h": 1.0}), Affine(bottom + 1.0, {"h": 1.0}))

    # 5 mm apart in plan, give or take 10; 2 mm apart in height, give or take 1: surely apart
    assert gap(base, other(1.005, 1.002)).decided(measured).by_height
    # 5 mm deep in plan, give or take 10; 3 mm deep in height, give or take 1: nobody can tell
    found = gap(base, other(0.995, 0.997))
    assert found.by_height
    assert not found.decided(measured).by_height


def test_a_box_in_the_notch_of_an_l_is_apart() -> None:
    inner = volume(box(1.0, 1.0), move=(Affine(1.5), Affine(1.25)))
    assert plan_gap(volume(L_SHAPE), inner).value == pytest.approx(0.25)
    assert Polygon(L_SHAPE).distance(shapely.box(1.5, 1.25, 2.5, 2.25)) == pytest.approx(0.25)


def off(volume: Volume, names: tuple[str, str]) -> Volume:
    """The same volume, found where it is with an error of its own each way."""
    moved = volume.outline.moved(Affine(0.0, {names[0]: 1.0}), Affine(0.0, {names[1]: 1.0}))
    return Volume(moved, volume.bottom, volume.top)


@pytest.mark.parametrize("turn", [0.0, 30.0])
def test_two_corners_are_surely_apart_if_one_direction_parts_them(turn: float) -> None:
    """Corners 3 and 4 mm apart along the sides, 5 mm along the diagonal (by hand).

    Each coordinate is off by 3.8 mm at most: along the diagonal that is 0.6 x 3.8 + 0.8 x 3.8 =
    5.32 mm, too much; but 4 mm along one side is more than 3.8 mm.
    """
    along = np.array([np.cos(np.radians(turn)), np.sin(np.radians(turn))])
    across = np.array([-along[1], along[0]])
    a = volume(box(1, 1), turn=turn)
    step = 1.003 * along + 1.004 * across
    made = volume(box(1, 1), turn=turn, move=(Affine(step[0]), Affine(step[1])))
    terms = {"u": np.tile(along, (4, 1)), "v": np.tile(across, (4, 1))}
    b = Volume(Outline(made.outline.points, terms), made.bottom, made.top)
    for error, sure in ((0.0035, True), (0.0038, True), (0.0041, False)):
        measured = {name: Measurement(name, 0.0, error) for name in ("u", "v")}
        found = gap(a, b)
        assert found.distance.value == pytest.approx(0.005)
        decided = found.decided(measured).distance
        assert (decided.value >= decided.error(measured)) is sure
        assert decided.value <= 0.005 + 1e-12


@pytest.mark.parametrize("turns", [(0.0, 90.0), (0.0, 17.0, 45.0, 133.0)])
def test_surely_apart_means_that_no_true_place_overlaps_and_only_that(
    turns: tuple[float, ...],
) -> None:
    """Against shapely: the one plan swept over all places that it may truly have."""
    error = 0.02
    measured = {name: Measurement(name, 0.0, error) for name in ("u", "v")}
    random = Random(23)
    sure = doubtful = 0
    for one, two in pairs(400, turns):
        ends = np.asarray(shapely.shortest_line(one.polygon, two.polygon).coords)
        if np.hypot(*(ends[1] - ends[0])) == 0.0:
            continue
        # so near that the error matters
        away = ends[0] - ends[1] + np.array([random.uniform(-1, 1) * error * 2 for _ in "xy"])
        near = two.outline.moved(*(Affine(float(v)) for v in away))
        b = off(Volume(near, two.bottom, two.top), ("u", "v"))
        everywhere = shapely.union_all(
            [
                shapely.MultiPoint(
                    [(x + dx, y + dy) for x, y in piece for dx in (-error, error)
                     for dy in (-error, error)]
                ).convex_hull
                for piece in b.pieces
            ]
        )  # fmt: skip
        swept = one.polygon.intersection(everywhere).area
        if one.polygon.intersection(b.polygon).area > 0.0 or 0.0 < swept < 1e-7:
            continue
        decided = gap(Volume(one.outline, one.bottom, one.top), b).decided(measured).distance
        is_sure = decided.value >= decided.error(measured) - 1e-9
        assert is_sure is (swept == 0.0)
        sure, doubtful = sure + is_sure, doubtful + (not is_sure)
    assert sure > 20
    assert doubtful > 20
