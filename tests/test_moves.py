"""The order of moves against corridors worked by hand, brute force, and fine replays.

In a corridor too narrow to pass each other, things keep their order along it, so what goes first is
forced; two that swap can do so only where the corridor has room beside it.
"""

from __future__ import annotations

import json
from itertools import permutations
from pathlib import Path
from random import Random

import numpy as np
import pytest
from shapely.geometry import Polygon, box

from floorplan.cli.main import main
from floorplan.drawing.moves import moves_pages
from floorplan.search.relocation import Relocation, RelocationError, _Question, relocate
from floorplan.shop.model import Layout, Pose
from floorplan.shop.reader import parse
from floorplan.shop.scene import scene

INCH = 0.0254
CORRIDOR = "size: [200, 30]"
ALCOVE = "corners: [[0, 0], [200, 0], [200, 30], [120, 30], [120, 60], [80, 60], [80, 30], [0, 30]]"


def shop(
    room: str, *things: tuple[str, float, float, float, float], mover: float = 0.0, tape: str = "0"
) -> str:
    """Things as (name, width, depth, x, y) [in]."""
    lines = "".join(
        f"  {name}: {{width: {w}, depth: {d}, height: 30, at: {{x: {x}, y: {y}, turn: 0}}}}\n"
        for name, w, d, x, y in things
    )
    return (
        f"shop: trial\nunits: in\ntape: {tape}\nroom: {{{room}, height: 100}}\n"
        f"equipment:\n{lines}rules: {{mover-room: {mover} in}}\n"
    )


def pair(a: float, b: float, **kind: object) -> str:
    room = str(kind.pop("room", CORRIDOR))
    return shop(room, ("a", 20, 24, a, 2), ("b", 20, 24, b, 2), **kind)  # type: ignore[arg-type]


def asked(today: str, wanted: str, **options: object) -> Relocation:
    first, second = parse(today), parse(wanted)
    return relocate(first.shop, first.layout, second.layout, **options)  # type: ignore[arg-type]


def order(found: Relocation) -> list[str]:
    return [step.thing for step in found.steps]


# --- worked by hand ------------------------------------------------------------------------


def test_what_stands_ahead_leaves_first() -> None:
    found = asked(pair(0, 40), pair(40, 100))
    assert (found.verdict, order(found)) == ("passes", ["b", "a"])
    assert found.length == pytest.approx((40 + 60) * INCH, abs=1e-6)
    back = asked(pair(40, 100), pair(0, 40))
    assert order(back) == ["a", "b"]
    assert back.length == pytest.approx(found.length, abs=1e-6)


def test_two_that_swap_in_a_corridor_are_a_ring() -> None:
    found = asked(pair(0, 100), pair(100, 0))
    assert found.verdict == "fails"
    assert found.none_without_parking
    assert set(found.ring) == {"a", "b"}
    assert {wait.thing: wait.behind for wait in found.waits} == {"a": ("b",), "b": ("a",)}


def test_an_alcove_lets_one_wait() -> None:
    today, wanted = pair(0, 150, room=ALCOVE), pair(150, 0, room=ALCOVE)
    found = asked(today, wanted)
    assert found.verdict == "passes"
    assert found.parking == "found"
    assert found.none_without_parking
    assert len(found.steps) == 3
    assert [step.parked for step in found.steps] == [True, False, False]
    assert found.steps[0].goal.y.value >= 26 * INCH  # clear of the corridor's 26 in that b takes
    none = asked(today, wanted, parking=False)
    assert none.verdict == "fails"
    assert not none.steps


def test_a_place_given_is_used() -> None:
    today, wanted = pair(0, 150, room=ALCOVE), pair(150, 0, room=ALCOVE)
    at = Pose.at(90 * INCH, 32 * INCH, 0.0)
    found = asked(today, wanted, park={"b": at})
    assert found.parking == "given"
    assert order(found) == ["b", "a", "b"]
    assert found.steps[0].goal == at


@pytest.mark.parametrize(("width", "verdict"), [(60.0, "passes"), (47.9, "fails")])
def test_two_swap_where_the_room_takes_both_side_by_side(width: float, verdict: str) -> None:
    """Two of 24 in pass each other in 48 in and not in less; one has to wait in any case."""
    room = f"size: [200, {width}]"
    found = asked(
        shop(room, ("a", 30, 24, 0, 0), ("b", 30, 24, 100, 0)),
        shop(room, ("a", 30, 24, 100, 0), ("b", 30, 24, 0, 0)),
    )
    assert found.verdict == verdict
    assert found.none_without_parking


def test_the_mover_needs_room_too() -> None:
    """Alone it leaves the dead end; with 24 in beside it at one of its sides it does as well."""
    found = asked(pair(0, 60, mover=24), pair(0, 120, mover=24))
    (step,) = found.steps
    assert [stretch.side for stretch in step.passage.stretches] in (["left"], ["right"])
    tight = asked(
        shop("size: [60, 24]", ("a", 36, 24, 0, 0), mover=25),
        shop("size: [60, 24]", ("a", 36, 24, 24, 0), mover=25),
    )
    assert tight.verdict != "passes"
    free = asked(
        shop("size: [60, 24]", ("a", 36, 24, 0, 0), mover=0),
        shop("size: [60, 24]", ("a", 36, 24, 24, 0), mover=0),
    )
    assert free.verdict == "passes"


def test_the_spare_is_that_of_the_corridor() -> None:
    """24 in thing in a 30 in corridor: 3 in on each side at most, wherever it runs."""
    found = asked(shop(CORRIDOR, ("a", 20, 24, 0, 3)), shop(CORRIDOR, ("a", 20, 24, 100, 3)))
    (step,) = found.steps
    assert step.spare.margin == pytest.approx(3 * INCH, abs=0.007)
    assert step.spare.margin <= 3 * INCH + 1e-9


def test_the_tape_makes_a_hair_too_close_to_call() -> None:
    """An eighth of play in all against sizes that may be off by an eighth each."""
    room = "size: [200, 24.125]"
    found = asked(
        shop(room, ("a", 20, 24, 0, 0.0625), tape="1/8"),
        shop(room, ("a", 20, 24, 100, 0.0625), tape="1/8"),
    )
    assert found.verdict == "unsure"
    assert order(found) == ["a"]


def test_same_layouts_move_nothing() -> None:
    found = asked(pair(0, 60), pair(0, 60))
    assert (found.verdict, found.steps) == ("passes", ())


def test_a_thing_without_a_place_is_told() -> None:
    text = pair(0, 60)
    gone = text.replace(", at: {x: 60, y: 2, turn: 0}", "")
    with pytest.raises(RelocationError, match="nowhere"):
        asked(gone, text)


# --- against brute force and fine replays --------------------------------------------------


def corridor_orders(old: list[float], new: list[float], width: float) -> set[tuple[int, ...]]:
    """All orders along a corridor in which nobody passes another, by intervals alone."""
    good = set()
    for trial in permutations(range(len(old))):
        at = list(old)
        fits = True
        for i in trial:
            low, high = min(at[i], new[i]), max(at[i], new[i]) + width
            fits &= all(at[j] + width <= low or at[j] >= high for j in range(len(at)) if j != i)
            at[i] = new[i]
        if fits:
            good.add(trial)
    return good


def test_orders_in_corridors_are_those_of_brute_force() -> None:
    random = Random(5)
    seen = set()
    for _ in range(14):
        count, width = 3, 20
        old = sorted(random.sample(range(0, 180, 22), count))
        new = random.sample(range(0, 180, 22), count)
        if any(a == b for a, b in zip(old, new, strict=True)):
            continue
        names = [f"t{i}" for i in range(count)]
        texts = [
            shop(CORRIDOR, *((n, width, 24, x, 2) for n, x in zip(names, xs, strict=True)))
            for xs in (old, new)
        ]
        found = asked(*texts, parking=False)
        good = corridor_orders([float(x) for x in old], [float(x) for x in new], width)
        seen.add(bool(good))
        assert (found.verdict == "passes") == bool(good), (old, new)
        if good:
            assert tuple(names.index(step.thing) for step in found.steps) in good
        else:
            assert found.none_without_parking
    assert seen == {True, False}


def replayed(found: Relocation) -> None:
    """Every step finely against plain polygons: nothing is hit, and it ends where it should."""
    west, south, east, north = scene(found.shop, found.today).floor.bounds
    room = scene(found.shop, found.today).floor.buffer(2e-5)
    assert room.covers(box(west, south, east, north)) or room.area < (east - west) * (north - south)
    layout = found.today
    for step in found.steps:
        others = scene(found.shop, layout.without(step.thing))
        solids = [e.volume.polygon.buffer(-2e-5) for e in others.solids()]
        for stretch in step.passage.stretches:
            for a, b in zip(stretch.path, stretch.path[1:], strict=False):
                for share in np.linspace(0, 1, 60):
                    angle = a.angle + share * (b.angle - a.angle)
                    c, s = np.cos(angle), np.sin(angle)
                    place = np.array([a.x + share * (b.x - a.x), a.y + share * (b.y - a.y)])
                    for outline in stretch.body.outlines:
                        shape = Polygon(outline @ np.array([[c, s], [-s, c]]) + place)
                        assert room.covers(shape)
                        assert not any(solid.intersects(shape) for solid in solids)
        layout = layout.with_pose(step.thing, step.goal)
        made = scene(found.shop, layout)
        end = step.passage.path[-1]
        core = made.things[step.thing][0].volume.polygon
        assert core.centroid.distance(Polygon([(end.x, end.y)] * 3).centroid) < 1e-6
    for thing in found.shop.things:
        assert layout.pose(thing.name) == found.wanted.pose(thing.name)


@pytest.mark.parametrize("mover", [0.0, 18.0])
def test_every_step_is_free_when_replayed_finely(mover: float) -> None:
    room = "size: [140, 120]"
    today = shop(
        room, ("saw", 50, 30, 10, 10), ("bench", 60, 26, 70, 90), ("rack", 16, 60, 0, 50),
        ("stand", 20, 20, 110, 10), mover=mover,
    )  # fmt: skip
    wanted = shop(
        room, ("saw", 50, 30, 80, 60), ("bench", 60, 26, 10, 0), ("rack", 16, 60, 0, 50),
        ("stand", 20, 20, 20, 95), mover=mover,
    )  # fmt: skip
    first = parse(today)
    turned = parse(wanted).layout
    saw = turned.pose("saw")
    assert saw is not None
    turned = turned.with_pose("saw", Pose(saw.x, saw.y, 90.0))
    found = relocate(first.shop, first.layout, turned)
    assert found.verdict == "passes"
    assert set(order(found)) == {"saw", "bench", "stand"}
    replayed(found)


def test_the_parked_way_is_free_when_replayed_finely() -> None:
    replayed(asked(pair(0, 150, room=ALCOVE), pair(150, 0, room=ALCOVE)))


def test_three_in_a_dead_end_turn_their_order_round_outside() -> None:
    """First in, last out: who is to stand deepest comes last, so all three go out before."""
    room = "size: [30, 130]"
    door = "doors: {door: {wall: south, at: 0, width: 30, clear width: 30, height: 80, "
    door += "kind: opening, leads to: outside}}\n"

    def row(*ys: float) -> str:
        return shop(room, *((name, 26, 24, 2, y) for name, y in zip("abc", ys, strict=True))) + door

    for wanted in (row(90, 55, 10), row(90, 50, 10)):  # where b stays it steps aside all the same
        found = asked(row(10, 50, 90), wanted)
        assert found.verdict == "passes"
        assert sum(step.parked for step in found.steps) == 3
        assert len(found.steps) == 6
        replayed_outside(found)
        assert asked(row(10, 50, 90), wanted, parking=False).verdict == "fails"


def replayed_outside(found: Relocation) -> None:
    """As `replayed`, the ground before the south door being free."""
    layout = found.today
    west, _, east, north = scene(found.shop, layout).floor.bounds
    room = box(west, -9.0, east, north).union(box(-9.0, -9.0, 9.0, -0.114)).buffer(2e-5)
    for step in found.steps:
        others = [
            e.volume.polygon.buffer(-2e-5)
            for e in scene(found.shop, layout.without(step.thing)).solids()
            if e.owner in "abc"
        ]
        for stretch in step.passage.stretches:
            for a, b in zip(stretch.path, stretch.path[1:], strict=False):
                for share in np.linspace(0, 1, 60):
                    angle = a.angle + share * (b.angle - a.angle)
                    c, s = np.cos(angle), np.sin(angle)
                    place = np.array([a.x + share * (b.x - a.x), a.y + share * (b.y - a.y)])
                    shape = Polygon(stretch.body.outline @ np.array([[c, s], [-s, c]]) + place)
                    assert room.covers(shape)
                    assert not any(solid.intersects(shape) for solid in others)
        layout = layout.with_pose(step.thing, step.goal)


def test_who_moves_a_narrow_thing_out_of_a_corner_stands_flush_with_it() -> None:
    """26 in of shoulders before the middle of a thing 18 in wide would be 4 in inside the wall."""
    corner = shop("size: [120, 100]", ("a", 18, 24, 0, 76), mover=24)
    found = asked(corner, shop("size: [120, 100]", ("a", 18, 24, 80, 40), mover=24))
    assert found.verdict == "passes"
    assert found.steps[0].passage.stretches[0].mover.along != 0
    replayed(found)


def test_a_corner_nearer_on_two_sides_than_the_tape_may_be_off_is_slid_into() -> None:
    """1/16 in from both walls with a tape of 1/8 in: the last inch is slid as drawn."""
    today = shop("size: [120, 100]", ("a", 30, 24, 20, 20), tape="1/8")
    wanted = shop("size: [120, 100]", ("a", 30, 24, 120 - 30.0625, 100 - 24.0625), tape="1/8")
    found = asked(today, wanted)
    assert found.verdict == "passes"
    replayed(found)


def test_one_budget_bounds_all_searches() -> None:
    """However the orders are looked for, no more ways are worked out than were granted."""
    spots = [(0, 0), (40, 0), (80, 0), (0, 40), (40, 40), (80, 40)]
    turned = spots[1:] + spots[:1]
    names = "abcdef"
    today, wanted = (
        shop("size: [110, 70]", *((n, 30, 30, x, y) for n, (x, y) in zip(names, at, strict=True)))
        for at in (spots, turned)
    )
    first, second = parse(today), parse(wanted)
    question = _Question(first.shop, first.layout, second.layout, tuple(names), {}, 40)
    question.answer(parking=True)
    assert question.trips.floor.carried <= 40 + 12  # the last way asked for may take several


# --- effort and the command ----------------------------------------------------------------


@pytest.fixture
def files(tmp_path: Path) -> tuple[Path, Path]:
    today, wanted = tmp_path / "today.yaml", tmp_path / "wanted.yaml"
    heavy = pair(0, 40).replace("height: 30,", "height: 30, weight: 200 kg, on wheels: yes,", 1)
    today.write_text(heavy, encoding="utf-8")
    wanted.write_text(
        pair(40, 100).replace("height: 30,", "height: 30, weight: 200 kg, on wheels: yes,", 1),
        encoding="utf-8",
    )
    return today, wanted


def test_the_command_answers_in_data(
    files: tuple[Path, Path], capsys: pytest.CaptureFixture[str]
) -> None:
    """200 kg on wheels: 4 kg on a smooth floor, 20 kg on an uneven one (HSE L23's example)."""
    assert main(["moves", *map(str, files), "--no-figures", "--json"]) == 0
    data = json.loads(capsys.readouterr().out)
    assert data["verdict"] == "passes"
    assert [(m["step"], m["thing"], m["parked"]) for m in data["moves"]] == [
        (1, "b", False),
        (2, "a", False),
    ]
    assert data["moves"][1]["effort"]["push"] == {"smooth floor": 4.0, "uneven floor": 20.0}
    assert data["moves"][0]["effort"]["words"] == "weight not known"
    assert data["moves"][0]["path"][-1][0] == pytest.approx(110 * INCH)


def test_a_ring_is_named_with_status_1(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    today, wanted = tmp_path / "today.yaml", tmp_path / "wanted.yaml"
    today.write_text(pair(0, 100), encoding="utf-8")
    wanted.write_text(pair(100, 0), encoding="utf-8")
    assert main(["moves", str(today), str(wanted), "--no-figures", "--parking", "none"]) == 1
    out = capsys.readouterr().out
    assert "Ring: a waits for b, b waits for a." in out
    assert "no order exists" in out


def test_the_strip_is_drawn(files: tuple[Path, Path], tmp_path: Path) -> None:
    assert main(["moves", *map(str, files), "-o", str(tmp_path / "out")]) == 0
    svg = (tmp_path / "out" / "moves.svg").read_text(encoding="utf-8")
    assert 'id="path: a"' in svg
    assert 'id="path: b"' in svg


def test_one_move_takes_the_largest_plan_its_sheet_has_room_for() -> None:
    """200 in of corridor and its two walls are over 10 in wide at 1:16, under 9 in at 1:24."""
    (page,) = moves_pages(asked(pair(0, 40), pair(0, 100)))
    assert any("Scale 1:24" in text.get_text() for text in page.axes.texts)


def test_a_rank_of_the_last_arrange(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    path = Path("mine.yaml")
    path.write_text(shop("size: [120, 100]", ("a", 20, 24, 0, 3)), encoding="utf-8")
    assert main(["moves", "mine.yaml", "rank", "1"]) == 2
    assert "run `floorplan arrange mine.yaml` first" in capsys.readouterr().err
    main(["arrange", "mine.yaml", "--effort", "20", "--show", "1", "--json"])
    data = json.loads(capsys.readouterr().out)
    assert "figures/mine/layouts.json" in data["files"]
    assert main(["moves", "mine.yaml", "1", "--no-figures", "--json"]) == 0
    moved = json.loads(capsys.readouterr().out)["moves"]
    pose = data["layouts"][0]["poses"]["a"]["standing"]
    if moved:
        assert moved[-1]["to"] == pose
    assert main(["moves", "mine.yaml", "rank 9"]) == 2
    assert "kept are: 1" in capsys.readouterr().err
    path.write_text(path.read_text(encoding="utf-8") + "# changed\n", encoding="utf-8")
    assert main(["moves", "mine.yaml", "1"]) == 2
    assert "as it was before" in capsys.readouterr().err


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (["--park", "a"], "THING=X,Y"),
        (["--park", "c=1 in,2 in"], "did you mean"),
        (["--park", "a=1 in,2 in", "--parking", "none"], "--parking none"),
    ],
)
def test_wrong_arguments(
    files: tuple[Path, Path],
    arguments: list[str],
    words: str,
    capsys: pytest.CaptureFixture[str],
) -> None:
    assert main(["moves", *map(str, files), *arguments]) == 2
    err = capsys.readouterr().err
    assert words in err or "there is no thing" in err


def test_another_shop_is_refused(
    files: tuple[Path, Path], capsys: pytest.CaptureFixture[str]
) -> None:
    other = files[1]
    other.write_text(other.read_text(encoding="utf-8").replace("width: 20", "width: 21", 1))
    assert main(["moves", *map(str, files)]) == 2
    assert "`a` has another size" in capsys.readouterr().err
    other.write_text(pair(0, 40).replace("  b:", "  c:"), encoding="utf-8")
    assert main(["moves", *map(str, files)]) == 2
    assert "do not have the same things: b, c" in capsys.readouterr().err


def test_layout_is_only_where_things_stand() -> None:
    found = asked(pair(0, 40), pair(40, 100))
    assert isinstance(found.steps[0].before, Layout)
    assert found.steps[1].before.pose("b") == found.wanted.pose("b")
