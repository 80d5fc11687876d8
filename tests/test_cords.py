"""Cords and circuits against sums worked by hand, in feet and inches of an exact shop."""

from __future__ import annotations

import pytest

from floorplan.checks.judge import Judgement
from floorplan.cli.command import cautions_for
from floorplan.report.tape import tape_text
from floorplan.shop.faults import ShopFileError
from floorplan.shop.reader import parse
from tests.shops import judged, pick, text_of

INCH = 0.0254
SAW = (
    "saw: {width: 24in, depth: 24in, height: 34in, at: {x: 96in, y: 60in}, "
    "plugs: {main: {at: [24in, 12in], height: 12in, volts: 120, amps: 12}}}"
)
FAN = (
    "fan: {width: 24in, depth: 24in, height: 34in, at: {x: 12in, y: 150in}, "
    "plugs: {main: {at: [24in, 12in], height: 12in, volts: 120, amps: 9}}}"
)
# between the plug at (120, 72) and the east wall: its corners are (144, 48) and (168, 48)
BLOCK = "block: {width: 24in, depth: 96in, height: 34in, at: {x: 144in, y: 48in}}"
TASKS = "tasks: {rip: {uses: [saw]}, blow: {uses: [fan]}}\n"


def power(
    outlets: str = "east: {wall: east, along: 72in, height: 48in, circuit: A}",
    circuits: str = "A: {amps: 20, volts: 120}",
    more: str = "",
) -> str:
    return f"power: {{outlets: {{{outlets}}}, circuits: {{{circuits}}}{more}}}\n"


def shop(*things: str, more: str, tape: str = "0") -> Judgement:
    return judged(text_of(*things, more=more, tape=tape))


def about(judgement: Judgement, rule: str) -> list[tuple[str, ...]]:
    return [f.about for f in judgement.findings if f.rule == rule]


def test_a_cord_goes_down_along_and_up() -> None:
    # 12 in down, from x = 120 in to the wall at 240 in, 48 in up: 180 in = 15 ft
    for length, verdict in (("180in", "passes"), ("179.99in", "fails")):
        found = shop(SAW, more=power(more=f", cords: {{saw: {{length: {length}}}}}"))
        reach = pick(found, "cords", "saw", "east")
        assert (reach.rule, reach.kind) in {("cord-reach", "advised"), ("outlet-volts", "advised")}
        reach = next(f for f in found.findings if f.rule == "cord-reach")
        assert reach.measured == pytest.approx(180 * INCH, abs=1e-6)
        assert reach.verdict == verdict
        assert found.measures["longest cord"].value == pytest.approx(180 * INCH, abs=1e-6)
        assert found.verdict == "passes"


def test_it_goes_round_what_stands_on_the_floor() -> None:
    # south about the block: hypot(24, 24) + 24 + hypot(72, 24) in on the floor
    around = 24 * 2**0.5 + 24 + (72**2 + 24**2) ** 0.5 + 60
    found = shop(SAW, BLOCK, more=power())
    reach = next(f for f in found.findings if f.rule == "cord-reach")
    assert reach.measured == pytest.approx(around * INCH, abs=1e-6)
    above = BLOCK.replace("height: 34in", "height: 34in, bottom: 6in")
    under = next(f for f in shop(SAW, above, more=power()).findings if f.rule == "cord-reach")
    assert under.measured == pytest.approx(180 * INCH, abs=1e-6)


def test_it_may_lie_behind_its_own_machine_against_the_wall() -> None:
    # the rear at the north wall, 192 in: plug at x = 108 in, outlet at 84 in: 24 + 12 + 48 in
    rear = SAW.replace("y: 60in", "y: 168in").replace("[24in, 12in]", "[48in, 0in]")
    rear = rear.replace("width: 24in", "width: 60in").replace("x: 96in", "x: 60in")
    outlet = power("back: {wall: north, along: 84in, height: 48in, circuit: A}")
    reach = next(f for f in shop(rear, more=outlet).findings if f.rule == "cord-reach")
    assert reach.measured == pytest.approx(84 * INCH, abs=1e-6)


def test_the_error_of_a_bent_cord_is_that_of_moved_ends_and_corners() -> None:
    """The worst case of the tape against the lengths of shops written a little differently."""
    found = shop(SAW, BLOCK, more=power(), tape="1/8in")
    reach = next(f for f in found.findings if f.rule == "cord-reach")

    def length(saw: str, block: str) -> float:
        other = next(f for f in shop(saw, block, more=power()).findings if f.rule == "cord-reach")
        assert other.measured is not None
        return other.measured

    step = 0.01
    for name, saw, block in (
        ("saw: x", SAW.replace("x: 96in", f"x: {96 + step}in"), BLOCK),
        ("saw: y", SAW.replace("y: 60in", f"y: {60 + step}in"), BLOCK),
        ("block: y", SAW, BLOCK.replace("y: 48in", f"y: {48 + step}in")),
    ):
        slope = (length(saw, block) - length(SAW, BLOCK)) / (step * INCH)
        weight = sum(w for n, w in reach.terms.items() if n.startswith(name))
        assert -weight == pytest.approx(slope, abs=2e-3), (name, dict(reach.terms))


def test_a_length_nobody_measured_is_said_to_be_assumed() -> None:
    reach = next(f for f in shop(SAW, more=power()).findings if f.rule == "cord-reach")
    assert reach.verdict == "fails"
    assert reach.needed == pytest.approx(72 * INCH)
    assert reach.assumed == ("saw: cord",)


NEAR = "near: {x: 130in, y: 72in, height: 12in, circuit: B}"
FAR = "far: {wall: east, along: 72in, height: 48in, circuit: A}"
TWO = "A: {amps: 20, volts: 120}, B: {amps: 20, volts: 240}"


def test_the_nearest_outlet_is_the_nearest_that_suits_its_volts() -> None:
    assert about(shop(SAW, more=power(f"{NEAR}, {FAR}", TWO)), "cord-reach") == [("saw", "far")]
    same = TWO.replace("240", "115")  # within a tenth of 120
    assert about(shop(SAW, more=power(f"{NEAR}, {FAR}", same)), "cord-reach") == [("saw", "near")]


def test_volts_that_do_not_match_are_told() -> None:
    chosen = power(f"{NEAR}, {FAR}", TWO, ", cords: {saw: {outlet: near, length: 10ft}}")
    volts = next(f for f in shop(SAW, more=chosen).findings if f.rule == "outlet-volts")
    assert volts.verdict == "fails"
    assert "120 V" in volts.message
    assert "240 V" in volts.message
    none = shop(SAW, more=power(NEAR, TWO))
    assert "no outlet gives the 120 V" in pick(none, "cords", "saw").message
    assert pick(none, "cords", "saw").verdict == "fails"
    assert none.verdict == "passes"


@pytest.mark.parametrize(("amps", "verdict"), [("12", "passes"), ("11.9", "fails")])
def test_one_task_on_one_circuit(amps: str, verdict: str) -> None:
    found = shop(SAW, FAN, more=TASKS + power(circuits=f"A: {{amps: {amps}, volts: 120}}"))
    load = pick(found, "cords", "saw", "A", task="rip")
    assert (load.rule, load.unit, load.measured) == ("circuit-amps", "A", pytest.approx(12.0))
    assert load.verdict == verdict
    assert ("saw", "fan", "A") not in about(found, "circuit-amps")


def test_amperes_of_tasks_that_go_on_together_are_summed() -> None:
    # 12 A + 9 A = 21 A on a breaker of 20 A
    both = TASKS.replace("uses: [fan]", "uses: [fan], together with: [rip]")
    load = pick(shop(SAW, FAN, more=both + power()), "cords", "saw", "fan", "A")
    assert load.measured == pytest.approx(21.0)
    assert load.margin == pytest.approx(-1.0)
    assert load.verdict == "fails"
    # on two circuits each carries its own
    two = power(
        "east: {wall: east, along: 72in, height: 48in, circuit: A}, "
        "west: {wall: west, along: 162in, height: 48in, circuit: B}",
        "A: {amps: 20, volts: 120}, B: {amps: 20, volts: 120}",
    ).replace("circuits:", "cords: {fan: {outlet: west}, saw: {outlet: east}}, circuits:")
    loads = [f for f in shop(SAW, FAN, more=both + two).findings if f.rule == "circuit-amps"]
    assert {f.measured for f in loads} == {12.0, 9.0}
    assert {f.verdict for f in loads} == {"passes"}


def test_what_runs_along_is_added_to_every_task() -> None:
    load = pick(
        shop(SAW, FAN, more=TASKS + power(more=", runs along: [fan]")), "cords", "A", task="rip"
    )
    assert load.measured == pytest.approx(21.0)
    assert load.verdict == "fails"


def test_three_tasks_at_once_are_one_sum() -> None:
    # 12 + 9 + 5 = 26 A, although no two of them draw more than 21 A
    lamp = FAN.replace("fan:", "lamp:").replace("x: 12in", "x: 60in").replace("amps: 9", "amps: 5")
    tasks = (
        "tasks: {rip: {uses: [saw], together with: [blow, see]}, "
        "blow: {uses: [fan], together with: [see]}, see: {uses: [lamp]}}\n"
    )
    found = shop(SAW, FAN, lamp, more=tasks + power())
    assert pick(found, "cords", "saw", "fan", "lamp").measured == pytest.approx(26.0)


def test_a_cord_before_a_doorway_is_told() -> None:
    # along the east wall 72 in up; a doorway there from 60 in to 96 in is entered for 24 in
    doors = (
        'doors: {door: {wall: east, at: 60in, width: 36in, height: 80", leads to: outside, '
        "swing: out, hand: left}}\n"
    )
    crossed = next(f for f in shop(SAW, more=doors + power()).findings if f.rule == "cord-doorway")
    assert crossed.about == ("saw", "east", "door")
    assert crossed.measured == pytest.approx(24 * INCH, abs=1e-4)
    assert "1910.305(g)(1)(iv)" in crossed.source
    aside = shop(SAW, more=doors.replace("at: 60in", "at: 73in") + power())
    assert about(aside, "cord-doorway") == []


def test_no_power_no_cords_and_the_caution_comes_with_it() -> None:
    bare = shop(SAW, more="")
    assert [f for f in bare.findings if f.check == "cords"] == []
    assert "longest cord" not in bare.measures
    assert not any("electrician to say" in text for text in cautions_for(bare.shop))
    wired = shop(SAW, more=power())
    assert any("electrician to say" in text for text in cautions_for(wired.shop))


@pytest.mark.parametrize(
    ("section", "told"),
    [
        (power(circuits="B: {amps: 20, volts: 120}"), "no circuit `A`"),
        (power().replace("wall: east, along", "wall: east, alnog"), "along"),
        (power().replace("height: 48in", "height: 10ft"), "higher than the ceiling"),
        (power().replace("wall: east, along: 72in", "x: 30ft, y: 1ft"), "not in the room"),
        (power().replace("wall: east", "wall: east, x: 1ft"), "`x` is not needed"),
        (power(more=", cords: {swa: {length: 10ft}}"), "did you mean `saw`"),
        (power(more=", cords: {saw: {outlet: eest}}"), "did you mean `east`"),
        (power(more=", runs along: [block]"), "`block` has no plug"),
        ("power: {outlets: {}}\n", "circuits"),
    ],
)
def test_mistakes_are_told(section: str, told: str) -> None:
    parse(text_of(SAW, BLOCK, more=power()))
    with pytest.raises(ShopFileError) as caught:
        parse(text_of(SAW, BLOCK, more=section))
    assert told in str(caught.value)


BESIDE = SAW.replace(", plugs:", ", within 11ft of: east, plugs:")


@pytest.mark.parametrize(("most", "verdict"), [("10ft", "passes"), ("119.99in", "fails")])
def test_a_thing_may_have_to_stand_near_an_outlet(most: str, verdict: str) -> None:
    # from the saw's east edge at x = 120 in straight to the outlet on the wall at 240 in
    found = shop(BESIDE.replace("11ft", most), more=power())
    link = next(f for f in found.findings if f.about == ("saw", "east") and f.check == "links")
    assert link.measured == pytest.approx(120 * INCH)
    assert link.verdict == verdict


def test_a_search_keeps_a_thing_near_its_outlet() -> None:
    from floorplan.search.spots import spots

    made = shop(BESIDE.replace("11ft", "2ft"), more=power())
    regions = spots(made.shop, made.layout, "saw").turns
    west = min(turn.region.bounds[0] for turn in regions if not turn.region.is_empty)
    # its east edge no farther than 2 ft from the wall at 240 in, 24 in wide
    assert west == pytest.approx((240 - 24 - 24) * INCH, abs=1e-4)


def test_an_outlet_that_is_not_there_is_a_fault() -> None:
    with pytest.raises(ShopFileError, match="no thing, place or outlet `west`"):
        parse(text_of(BESIDE.replace("of: east", "of: west"), more=power()))


def test_outlets_are_taped_with_their_height_and_circuit() -> None:
    words = tape_text(shop(SAW, more=power()))
    assert "E1. east (A, 20 A, 120 V): 0\" from east wall, 6' from south wall; 4' high" in words
