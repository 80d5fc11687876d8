"""The site in a shop file: what is read, what is refused, what a shed's distances depend on."""

from __future__ import annotations

from dataclasses import replace
from math import radians
from random import Random

import numpy as np
import pytest
from shapely.geometry import Point, Polygon
from shifting import shifted

from floorplan.checks.finding import Finding
from floorplan.checks.judge import Judgement, judge
from floorplan.checks.lot import distance_to, reaches
from floorplan.checks.shed import legality, standing_shed, usability
from floorplan.search.shed_ground import free_ground
from floorplan.shop.faults import ShopFileError
from floorplan.shop.reader import ShopFile, parse
from floorplan.shop.shed_body import placed

FOOT = 0.3048
SHOP = """\
shop: back yard
room: {size: [16', 12'], height: 8', wall thickness: 4 1/2 in}
doors:
  door: {wall: south, at: 2', width: 3', height: 80 in, leads to: outside}
windows:
  window: {wall: east, at: 3', width: 4', sill: 40 in, height: 3'}
fixed:
  panel: {kind: electrical panel, at: {wall: west, along: 4'}}
site:
  lot: {corners: [[-20', -30'], [40', -30'], [34', 40'], [-20', 30']], error: 2 in}
  lines: {street: [0, 1], neighbour east: [1, 2], rear: [3, 2]}
  buildings: {house: {at: [-18', -20'], size: [10', 30'], height: 22'}}
  trees: {oak: {at: [20', 24'], keep: 6'}}
  windows: {neighbour window: {at: [45', 5'], height: 5'}}
  house door: {at: [-8', -5']}
  setbacks: {default: 5', street: 20', house: 4', measured to: eave}
  limits: {area: 120 sq ft, height: 10', noise at lot line: 60 dB, noise at windows: 50 dB}
  shed:
    width: 6'
    depth: 5'
    height: 8'
    eave: 6 in
    door: {side: front, width: 32 in, room: 36 in}
    bin: {width: 24 in, depth: 24 in, pull: 3'}
    noise: 80 dB at 1 m
    power: {from: panel, amps: 17, volts: 230, wire: 10 AWG solid}
    at: {wall: north, along: 4'}
"""


def read(*changes: str) -> ShopFile:
    """The shop with old and new texts exchanged in turn."""
    text = SHOP
    for old, new in zip(changes[::2], changes[1::2], strict=True):
        assert old in text, old
        text = text.replace(old, new, 1)
    return parse(text)


def judged(*changes: str) -> Judgement:
    file = read(*changes)
    return judge(file.shop, file.layout)


def shed_findings(made: Judgement) -> list[Finding]:
    return [f for f in made.findings if f.check == "shed"]


def one(made: Judgement, rule: str, *about: str) -> Finding:
    found = [f for f in shed_findings(made) if f.rule == rule and set(about) <= set(f.about)]
    assert len(found) == 1, [(f.rule, f.about) for f in shed_findings(made)]
    return found[0]


# --- reading -----------------------------------------------------------------------------------


def test_what_is_read() -> None:
    site = read().shop.site
    assert site is not None
    assert [line.name for line in site.lines] == [
        "street",
        "neighbour east",
        "rear",
        "lot line 3-0",
    ]
    setbacks = [line.setback for line in site.lines]
    assert setbacks == pytest.approx([20 * FOOT, 5 * FOOT, 5 * FOOT, 5 * FOOT])
    assert [b.separation for b in site.buildings] == pytest.approx([4 * FOOT])
    shed = site.shed
    assert shed is not None
    assert shed.place is not None
    assert (shed.place.turn, shed.place.wall, shed.place.side) == (180.0, "north wall", "back")
    body = placed(shed, shed.place)
    # in contact with the outer face, 4 ft from the west end: 12 ft of room and the wall
    assert Polygon(body.walls.points).bounds == pytest.approx(
        [4 * FOOT, 12.375 * FOOT, 10 * FOOT, 17.375 * FOOT]
    )
    assert Polygon(body.eaves.points).bounds == pytest.approx(
        [3.5 * FOOT, 12.375 * FOOT, 10.5 * FOOT, 17.875 * FOOT]
    )
    assert body.door is not None
    assert Polygon(body.door.points).bounds == pytest.approx(
        [(7 - 4 / 3) * FOOT, 17.375 * FOOT, (7 + 4 / 3) * FOOT, 20.375 * FOOT]
    )


def test_a_lot_walked_round_the_other_way_is_the_same() -> None:
    there = read("[[-20', -30'], [40', -30'], [34', 40'], [-20', 30']]",
                 "[[-20', -30'], [-20', 30'], [34', 40'], [40', -30']]",
                 "{street: [0, 1], neighbour east: [1, 2], rear: [3, 2]}",
                 "{street: [0, 3], neighbour east: [3, 2], rear: [1, 2]}")  # fmt: skip
    here = read()

    def distances(file: ShopFile) -> dict[str, float]:
        made = judge(file.shop, file.layout)
        return {
            f.about[1]: f.margin or 0.0 for f in shed_findings(made) if f.rule == "shed-setback"
        }

    first, second = distances(here), distances(there)
    assert first.pop("lot line 3-0") == pytest.approx(second.pop("lot line 0-1"))
    assert first == pytest.approx(second)


@pytest.mark.parametrize("turn", [0.0, 12.0, -33.0, 90.0, 217.5])
def test_a_lot_in_coordinates_of_its_own_is_the_same_lot(turn: float) -> None:
    """The room lies turned on the lot: corners are turned by hand with a rotation matrix."""
    c, s = np.cos(radians(turn)), np.sin(radians(turn))
    matrix, at = np.array([[c, -s], [s, c]]), np.array([70.0, 55.0])
    corners = np.array([[-20, -30], [40, -30], [34, 40], [-20, 30]])
    lot = corners @ matrix.T + at

    def written(points: np.ndarray) -> str:
        return "[" + ", ".join(f"[{x:.9f} ft, {y:.9f} ft]" for x, y in points) + "]"

    def point(x: float, y: float) -> str:
        px, py = matrix @ np.array([x, y]) + at
        return f"[{px:.9f} ft, {py:.9f} ft]"

    house = np.array([[-18, -20], [-8, -20], [-8, 10], [-18, 10]]) @ matrix.T + at
    other = judged(
        "  lot: {corners: [[-20', -30'], [40', -30'], [34', 40'], [-20', 30']]",
        f"  room at: {written(at[None])[1:-1]}\n  room turn: {turn:g}\n"
        f"  lot: {{corners: {written(lot)}",
        "at: [-18', -20'], size: [10', 30']", f"corners: {written(house)}",
        "at: [20', 24']", f"at: {point(20, 24)}",
        "at: [45', 5']", f"at: {point(45, 5)}",
        "at: [-8', -5']", f"at: {point(-8, -5)}",
    )  # fmt: skip
    mine = judged()
    rows = {(f.rule, f.about): f.margin for f in shed_findings(mine)}
    assert {(f.rule, f.about): f.margin for f in shed_findings(other)} == pytest.approx(
        rows, abs=1e-6
    )
    assert {f.verdict for f in shed_findings(other)} == {f.verdict for f in shed_findings(mine)}


@pytest.mark.parametrize(
    ("old", "new", "told"),
    [
        ("lines: {street: [0, 1]", "lines: {street: [0, 2]", "are not neighbours"),
        ("lines: {street: [0, 1]", "lines: {street: [0, 7]", "too large"),
        ("street: 20'", "strete: 20'", "did you mean `street`"),
        ("measured to: eave", "measured to: roof", "is not one of"),
        ("area: 120 sq ft", "area: 120", "is not written like"),
        ("noise: 80 dB at 1 m", "noise: 80 dB", "write `80 dB at 1 m`"),
        ("wire: 10 AWG solid", "wire: 6 AWG solid", "has no 6 AWG solid"),
        ("wire: 10 AWG solid", "wire: thick", "is not a wire"),
        ("from: panel", "from: pannel", "did you mean `panel`"),
        ("along: 4'}\n", "along: 4', side: front}\n", "would be at the wall"),
        ("{wall: north, along: 4'}", "{wall: north, along: 4', x: 3'}", "does not go with"),
        ("door: {side: front, width: 32 in, room: 36 in}", "door: {width: 7'}", "does not fit"),
        ("trees: {oak", "trees: {panel", "is the name of something"),
        ("lot: {corners: [[-20', -30'],", "lot: {corners: [[120', -30'],", "crosses or touches"),
        ("    eave: 6 in\n", "    eaves: 6 in\n", "did you mean `eave`"),
        ("room: {size: [16', 12']", "room: {size: [16', 12'], origin: north-east", ""),
        ("  house door: {at: [-8', -5']}", "  room turn: 12", "needs `room at: [x, y]`"),
        ("[[-20', -30'], [40', -30'], [34', 40'], [-20', 30']]",
         "[[120', -30'], [140', -30'], [134', 40'], [120', 30']]", "does not lie on the lot"),
    ],
)  # fmt: skip
def test_mistakes_are_told_with_what_would_be_right(old: str, new: str, told: str) -> None:
    if not told:
        read(old, new)
        return
    with pytest.raises(ShopFileError) as wrong:
        read(old, new)
    assert told in str(wrong.value)
    assert len(wrong.value.faults) == 1, str(wrong.value)


# --- judging -----------------------------------------------------------------------------------


def test_nothing_is_said_of_a_shed_that_stands_nowhere() -> None:
    assert shed_findings(judged("    at: {wall: north, along: 4'}\n", "")) == []


def test_without_setbacks_legality_is_not_checked_and_that_is_said() -> None:
    line = "  setbacks: {default: 5', street: 20', house: 4', measured to: eave}\n"
    made = judged(line, "")
    row = next(f for f in shed_findings(made) if f.message.startswith("NOT CHECKED"))
    assert (row.kind, row.verdict, row.certified) == ("required", "unsure", False)
    assert {"street", "neighbour east", "rear", "lot line 3-0"} <= set(row.about)
    assert made.verdict != "passes"
    some = judged(line, "  setbacks: {street: 20', measured to: eave}\n")
    row = next(f for f in shed_findings(some) if f.message.startswith("NOT CHECKED"))
    assert "street" not in row.about


def test_the_eave_counts_only_where_the_rules_say_so() -> None:
    eave = one(judged(), "shed-setback", "rear").margin
    wall = one(judged("measured to: eave", "measured to: wall"), "shed-setback", "rear").margin
    assert eave is not None
    assert wall is not None
    # the rear line rises 10 ft in 54; half a foot of eave to the north and to the west
    north, west = 54 / (54**2 + 10**2) ** 0.5, 10 / (54**2 + 10**2) ** 0.5
    assert wall - eave == pytest.approx(0.5 * FOOT * (north - west), abs=1e-9) or (
        wall - eave == pytest.approx(0.5 * FOOT * (north + west), abs=1e-9)
    )


def test_the_error_of_a_corner_counts_by_its_share_of_the_line() -> None:
    found = one(judged(), "shed-setback", "rear")
    corners = {n: w for n, w in found.terms.items() if n.startswith("lot corner")}
    assert {n.split()[2] for n in corners} == {"2", "3"}
    by_corner = {c: np.hypot(*[w for n, w in corners.items() if n.split()[2] == c]) for c in "23"}
    assert sum(by_corner.values()) == pytest.approx(1.0)


def test_a_setback_passes_at_its_very_distance_and_fails_a_hair_nearer() -> None:
    changes = ("shop: back yard", "shop: back yard\ntape: 0", ", error: 2 in", ", error: 0")
    at = "{wall: north, along: 4'}"
    for x, expected in (("-14' 6 in", "passes"), ("-14' 6-1/1000 in", "fails")):
        made = judged(*changes, at, f"{{x: {x}, y: 20', turn: 0}}")
        # the west line is x = -20 ft: 5 ft and the eave's half
        assert one(made, "shed-setback", "lot line 3-0").verdict == expected


def test_margins_follow_every_measurement_as_their_terms_say() -> None:
    """All measured numbers are moved a little at once, at random, and the shop is judged again."""
    for change in ("{wall: north, along: 4'}", "{x: 21', y: 3', turn: 0}",
                   "{x: 22', y: -3', turn: 33}", "{x: 30', y: 12', turn: 355.1}"):  # fmt: skip
        file = read("at: {wall: north, along: 4'}", f"at: {change}", "  lot: {corners",
                    "  room at: [1', 2']\n  room turn: 3 +- 0.5\n  lot: {corners")  # fmt: skip
        before = {(f.rule, f.about): f for f in shed_findings(judge(file.shop, file.layout))}
        for seed in (1, 2):
            random = Random(seed)
            offsets = {name: random.uniform(-5e-6, 5e-6) for name in file.shop.measurements}
            moved = judge(shifted(file.shop, offsets), shifted(file.layout, offsets))
            after = {(f.rule, f.about): f for f in shed_findings(moved)}
            # of two that are as near, the other one may be told now
            assert len(set(after) ^ set(before)) <= 4
            for key, old in before.items():
                if old.margin is None or key not in after:
                    continue
                predicted = sum(w * offsets[name] for name, w in old.terms.items())
                change_ = (after[key].margin or 0.0) - old.margin
                assert change_ == pytest.approx(predicted, abs=5e-8), (change, key)


# --- corners of the lot ------------------------------------------------------------------------


def test_a_line_goes_on_beyond_an_outward_corner_as_far_as_its_setback_reaches() -> None:
    """Corner of 120 degrees: the setback drawn parallel meets the next line d / tan(60) further."""
    file = read("[[-20', -30'], [40', -30'], [34', 40'], [-20', 30']]",
                "[[-20', -30'], [40', -30'], [60', 4.641016'], [-20', 30']]")  # fmt: skip
    assert file.shop.site is not None
    street = reaches(file.shop.site)[0]
    assert street.after == pytest.approx(20 * FOOT / np.tan(np.radians(60)), rel=1e-6)
    assert street.before == pytest.approx(0.0)


def test_beside_an_inward_corner_the_distance_is_round() -> None:
    file = read("[[-20', -30'], [40', -30'], [34', 40'], [-20', 30']]",
                "[[-20', -30'], [40', -30'], [40', 20'], [25', 20'], [25', 40'], [-20', 40']]",
                "rear: [3, 2]", "nook: [3, 2], side: [3, 4]")  # fmt: skip
    site = file.shop.site
    assert site is not None
    assert site.shed is not None
    assert site.shed.place is not None
    # the inward corner is (25, 20); a shed to the south-west of it, its corner 3 and 4 ft away
    body = placed(site.shed, site.shed.place).walls
    low = body.points.max(axis=0)
    here = body.moved(22 * FOOT - low[0], 16 * FOOT - low[1])
    for reach in reaches(site):
        if reach.line.name in ("nook", "side"):
            assert distance_to(here, reach).distance.value == pytest.approx(5 * FOOT)


def test_noise_counts_from_the_nearest_wall_and_a_wall_behind_adds() -> None:
    made = judged()
    level = made.measures["noise at neighbour window"].value
    away = np.hypot(45 - 10, 12.375 - 5) * FOOT
    assert level == pytest.approx(80 - 20 * np.log10(away) + 3.0, abs=1e-6)
    alone = judged("{wall: north, along: 4'}", "{x: 4', y: 14', turn: 180}")
    away = np.hypot(45 - 10, 14 - 5) * FOOT
    assert alone.measures["noise at neighbour window"].value == pytest.approx(
        80 - 20 * np.log10(away), abs=1e-6
    )


def test_a_shed_in_front_of_door_and_window_is_told() -> None:
    made = judged("{wall: north, along: 4'}", "{wall: east, along: 2'}")
    row = one(made, "shed-off-windows", "window")
    assert (row.kind, row.verdict) == ("advised", "fails")
    assert one(judged("{wall: north, along: 4'}", "{wall: south, along: 3'}"),
               "shed-off-doors", "door").verdict == "fails"  # fmt: skip


def test_flames_in_the_shop_are_told_aloud() -> None:
    fan = """\
equipment:
  saw: {kind: cabinet table saw, at: {x: 6', y: 5'}}
air:
  collector:
    fan: {flow: [0 cfm, 400 cfm, 800 cfm, 1200 cfm, 1600 cfm],
          pressure: [13 in wg, 12.2 in wg, 9.7 in wg, 5.7 in wg, 0 in wg]}
  runs:
    main: {from: saw, path: [[7', 8', 1'], [7', 8', 7'], [7', 12', 7']], diameter: 6 in}
site:
"""
    heater = "fixed:\n  heater: {kind: water heater, at: {x: 12', y: 9'}}\n"
    made = judged("fixed:\n", heater, "site:\n", fan)
    row = one(made, "make-up-flames", "heater")
    assert row.kind == "advised"
    assert row.message.startswith("DANGER")
    calm = judged("fixed:\n", heater, "site:\n", fan, "    eave:", "    return air: yes\n    eave:")
    assert not [f for f in calm.findings if f.rule == "make-up-flames"]
    named = judged("fixed:\n", heater.replace("heater:", "electric heater:", 1), "site:\n", fan)
    assert not [f for f in named.findings if f.rule == "make-up-flames"]


def test_a_site_is_part_of_the_shop_and_nothing_else_changes() -> None:
    file = read()
    bare = replace(file.shop, site=None)
    mine = [f for f in judge(file.shop, file.layout).findings if f.check != "shed"]
    assert [f.message for f in mine] == [f.message for f in judge(bare, file.layout).findings]


def test_a_shed_within_the_shop_or_off_the_lot_does_not_pass() -> None:
    inside = judged("{wall: north, along: 4'}", "{x: 5', y: 2', turn: 0}")
    assert one(inside, "shed-separation", "the room").verdict == "fails"
    # beyond the lot's sharp east corner, on the outer side of no line's own stretch
    off = judged("[[-20', -30'], [40', -30'], [34', 40'], [-20', 30']]",
                 "[[-20', -30'], [40', -30'], [60', 4'], [-20', 30']]",
                 "{wall: north, along: 4'}", "{x: 65', y: 4', turn: 0}")  # fmt: skip
    rows = [f for f in shed_findings(off) if f.rule == "shed-on-lot"]
    assert any(f.verdict == "fails" for f in rows)
    # its eave begins 4 ft 6 in east of the corner, at the corner's height
    assert min(f.margin or 0.0 for f in rows) == pytest.approx(-4.5 * FOOT)


LOTS = (
    "[[-20', -30'], [40', -30'], [34', 40'], [-20', 30']]",
    "[[-25', -30'], [40', -30'], [40', 20'], [25', 20'], [25', 40'], [-25', 40']]",
    "[[-25', -35'], [50', -35'], [50', 45'], [40', 45'], [38', 14'], [24', 16'], [25', 44'], "
    "[-25', 40']]",
)


@pytest.mark.parametrize("lot", LOTS, ids=["slanted", "notched", "forked"])
@pytest.mark.parametrize("measured_to", ["wall", "eave"])
def test_the_legal_ground_is_what_the_checks_pass(lot: str, measured_to: str) -> None:
    """Two ways to one answer: sums of outlines, and distances of the placed shed."""
    shop = read("shop: back yard", "shop: back yard\ntape: 0", ", error: 2 in", "",
                LOTS[0], lot, "street: 20'", "street: 12'", ", rear: [3, 2]", "",
                "measured to: eave", f"measured to: {measured_to}").shop  # fmt: skip
    dice, tried = Random(3), {True: 0, False: 0}
    assert shop.site is not None
    low, high = shop.site.lot.points.min(axis=0), shop.site.lot.points.max(axis=0)
    for turn in (0.0, 90.0, 33.0):
        ground = free_ground(shop, turn, reserve=False)
        edge = ground.places.boundary
        for count in range(40):
            x, y = dice.uniform(low[0], high[0]), dice.uniform(low[1], high[1])
            if count % 2:
                near, angle = edge.interpolate(dice.random(), normalized=True), dice.uniform(0, 6.3)
                x, y = near.x + 0.02 * np.cos(angle), near.y + 0.02 * np.sin(angle)
            if edge.distance(Point(x, y)) < 1e-3:
                continue
            standing = standing_shed(shop, ground.place(x, y))
            assert standing is not None
            rows = (*legality(standing), *usability(standing))
            passes = all(f.verdict == "passes" for f in rows if f.kind == "required")
            assert passes == ground.places.contains(Point(x, y)), (turn, x, y)
            tried[passes] += 1
    assert min(tried.values()) > 15
