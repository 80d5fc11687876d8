"""Regions of places against full judgements of single places, and against each other."""

import numpy as np
import pytest
import shapely

from floorplan.checks.judge import judge
from floorplan.search.spots import spots
from floorplan.shop.model import Pose
from floorplan.shop.reader import parse

CLEAR = 2e-4
"""Nearer to an edge of a region than this [m] a place is not compared."""

HEAD = """
shop: trial
units: m
tape: {tape}
room: {{size: [{width}, {depth}], height: 2.6}}
doors:
  front: {{wall: south, at: {door}, width: 0.95, height: 2.1, kind: opening, leads to: outside}}
fixed:
  post: {{width: 0.15, depth: 0.15, height: 2.6, at: {{x: {post}, y: 1.9, turn: 0}}}}
equipment:
"""
FORMS = (
    "{{width: {w}, depth: {d}, height: 0.9, at: {{x: {x}, y: {y}, turn: {t}}}, "
    "zones: {{work: {{side: front, depth: 0.6}}}}}}",
    "{{width: {w}, depth: {d}, height: 2.0, at: {{x: {x}, y: {y}, turn: {t}}}, "
    "doors: {{leaf: {{side: front, width: 0.35, bottom: 0.2, top: 1.8, stand: none}}}}}}",
    "{{width: {w}, depth: {d}, height: 0.8, at: {{x: {x}, y: {y}, turn: {t}}}, "
    "drawers: {{low: {{side: front, at: 0.05, width: 0.3, travel: 0.4, bottom: 0.3, top: 0.5, "
    "stand: none}}}}, zones: {{work: {{side: front, depth: 0.5, from: 0.1}}}}}}",
    "{{width: {w}, depth: {d}, height: 1.0, at: {{x: {x}, y: {y}, turn: {t}}}, "
    "parts: {{wing: {{at: [-0.3, 0.1], size: [0.3, 0.2], bottom: 0.7, top: 0.9}}}}, "
    "keep clear: {{back: {{side: back, depth: 0.3, width: 1.4, slides: yes}}}}}}",
)


def trial_shop(seed, tape="0"):
    """A small shop with five things at random places, most of them apart."""
    rng = np.random.default_rng(seed)
    width, depth = np.round(rng.uniform(4.0, 5.2, 2), 2)
    text = HEAD.format(
        width=width, depth=depth, door=round(rng.uniform(0.2, 2.0), 2), tape=tape,
        post=round(rng.uniform(1.0, 3.0), 2),
    )  # fmt: skip
    names = []
    for number in range(5):
        w, d = np.round(rng.uniform(0.4, 1.1, 2), 2)
        turn = int(rng.integers(4)) * 90
        wide, deep = (w, d) if turn % 180 == 0 else (d, w)
        x, y = np.round([rng.uniform(0, width - wide), rng.uniform(0, depth - deep)], 2)
        form = FORMS[number % len(FORMS)]
        names.append(f"thing {number}")
        text += f"  {names[-1]}: " + form.format(w=w, d=d, x=x, y=y, t=turn) + "\n"
    return parse(text), names


def without(file, thing):
    """Way-out findings that pass while the thing is gone."""
    made = judge(file.shop, file.layout.without(thing))
    return {(f.about[0], f.task) for f in made.findings if f.check == "way-out" and _passes(f)}


def _passes(found):
    return found.kind == "required" and found.verdict == "passes"


def verdict_at(file, thing, x, y, turn, safe):
    """What the checks say about a thing at one place: the worst of all that depends on it."""
    made = judge(file.shop, file.layout.with_pose(thing, Pose.at(x, y, turn)))
    concerned = [
        f.verdict
        for f in made.findings
        if f.kind == "required"
        and (
            (thing in f.about and f.check != "way-out")
            or (f.check == "way-out" and (f.about[0] == thing or (f.about[0], f.task) in safe))
        )
    ]
    concerned += ["fails" for e in made.scene.of("moving") if in_its_way(made.scene, thing, e)]
    return "fails" if "fails" in concerned else "unsure" if "unsure" in concerned else "passes"


def in_its_way(scene, thing, moving):
    """Whether a thing stands in a drawer or door, even where another stops it before.

    The check of openings names only what stops one first.
    """
    return any(
        solid.nature == "solid"
        and solid.volume.in_band(moving.volume.bottom.value, moving.volume.top.value)
        and solid.volume.polygon.intersection(moving.volume.polygon).area > 1e-7
        for solid in scene.things[thing]
        if moving.owner != thing
    )


def compare(file, thing, turns, count, seed):
    """Places tried at which region and judgement disagree, and how many of each kind."""
    found = spots(file.shop, file.layout, thing, turns=turns)
    safe = without(file, thing)
    rng = np.random.default_rng(seed)
    low, high = file.shop.room.floor.points.min(axis=0), file.shop.room.floor.points.max(axis=0)
    wrong, seen = [], {"in": 0, "out": 0, "unsure": 0}
    for at in found.turns:
        edges = shapely.union_all([at.region.boundary, at.unsure.boundary])
        places = [tuple(rng.uniform(low, high)) for _ in range(count)]
        # close to the edges is where a wrong answer would show
        for share in rng.uniform(0, edges.length, count if edges.length else 0):
            lengths = np.cumsum([ring.length for ring in shapely.get_parts(edges)])
            number = int(np.searchsorted(lengths, share))
            on = shapely.get_parts(edges)[number].interpolate(lengths[number] - share)
            places.append((on.x + rng.normal(0, 0.01), on.y + rng.normal(0, 0.01)))
        for x, y in places:
            spot = shapely.Point(x, y)
            if edges.distance(spot) < CLEAR:
                continue
            inside, doubt = at.region.contains(spot), at.unsure.distance(spot) < CLEAR
            kind = "unsure" if doubt else "in" if inside else "out"
            seen[kind] += 1
            if kind == "unsure":
                continue
            verdict = verdict_at(file, thing, x, y, at.turn, safe)
            if (verdict == "passes") != (kind == "in"):
                wrong.append((at.turn, x, y, kind, verdict))
    return wrong, seen


@pytest.mark.parametrize("seed", [2, 3, *(pytest.param(n, marks=pytest.mark.slow) for n in (4, 5))])
@pytest.mark.parametrize("tape", ["0", "0.004"])
def test_regions_against_full_judgements(seed, tape):
    """Certain places pass every check, ruled out ones do not, up to the very edges."""
    file, names = trial_shop(seed, tape)
    wrong, seen = compare(file, names[seed % 5], None, 3, seed)
    assert not wrong
    assert seen["out"] > 5


@pytest.mark.parametrize("turn", [0, 90])
def test_where_two_corners_nearly_meet(turn):
    """Round the corners of a post and of a wing a place is certain just where a check passes.

    The post's place and size, and the wing's, are each off by what the tape may be: 4 mm.
    """
    file = parse(CORNERS)
    at = spots(file.shop, file.layout, "bench", turns=(turn,)).turns[0]
    seen = {"in": 0, "out": 0}
    wide, deep = (0.9, 0.5) if turn == 0 else (0.5, 0.9)
    # the bench's corner off each outer corner of the post and of the cabinet's wing
    for west, south, east, north in ((2.0, 2.0, 2.2, 2.15), (4.0, 2.4, 4.6, 3.0)):
        for sx, sy in ((1, 1), (-1, 1), (1, -1), (-1, -1)):
            for gx in np.arange(0.0005, 0.02, 0.0021):
                for gy in np.arange(0.0004, 0.02, 0.0023):
                    x = east + gx if sx > 0 else west - wide - gx
                    y = north + gy if sy > 0 else south - deep - gy
                    spot = shapely.Point(x, y)
                    if at.region.boundary.distance(spot) < CLEAR:
                        continue
                    kind = "in" if at.region.contains(spot) else "out"
                    seen[kind] += 1
                    verdict = verdict_at(file, "bench", x, y, turn, frozenset())
                    assert (verdict == "passes") == (kind == "in"), (x, y, kind, verdict)
    assert min(seen.values()) > 50


def test_turns_between_quarters():
    """With slanted outlines too."""
    file, names = trial_shop(3)
    wrong, _ = compare(file, names[3], (15, 105, 255), 5, 1)
    assert not wrong


def test_links_against_full_judgements():
    """A bench that takes the outfeed may stand where the check of the link passes, at any turn."""
    file = parse(LINKED)
    for turn in (0, 90, 180):
        wrong, _ = compare(file, "bench", (turn,), 12, turn)
        assert not wrong
    found = spots(file.shop, file.layout, "bench", turns=(0,)).turns[0]
    # gap 0 to 20 mm behind the saw, covered to 0.7 m behind the blade
    assert found.region.bounds[1] == pytest.approx(2.2, abs=1e-5)
    assert found.region.bounds[3] == pytest.approx(2.22, abs=1e-5)
    named = {name for limit in found.limits for name in limit.names}
    assert "bench takes the outfeed of saw" in named


def test_two_that_move_together():
    """Saw and bench as one thing keep their places to each other, at every turn."""
    file = parse(LINKED)
    found = spots(file.shop, file.layout, "saw", together=("bench",), turns=(0, 90))
    before = file.layout.pose("bench").y.value - file.layout.pose("saw").y.value
    for at in found.turns:
        assert at.best is not None
        placed = found.subject.placed(at.best.x, at.best.y, at.turn)
        saw, bench = placed.pose("saw"), placed.pose("bench")
        if at.turn == 0:
            assert bench.y.value - saw.y.value == pytest.approx(before)
        made = judge(file.shop, placed)
        assert all(f.verdict == "passes" for f in made.findings if f.kind == "required")


CORNERS = """
shop: corners
units: m
tape: 0.004
room: {size: [7, 6], height: 2.6}
fixed:
  post: {width: 0.2, depth: 0.15, height: 2.6, at: {x: 2.0, y: 2.0, turn: 0}}
equipment:
  bench: {width: 0.9, depth: 0.5, height: 0.9, at: {x: 0.5, y: 4.5, turn: 0}}
  cabinet: {width: 0.6, depth: 0.6, height: 0.9, at: {x: 4.0, y: 2.4, turn: 0}}
"""

LINKED = """
shop: linked
units: m
tape: 0
room: {size: [6, 6], height: 2.6}
doors:
  front: {wall: south, at: 0.2, width: 1, height: 2.1, kind: opening, leads to: outside}
stock: {panel: {length: 0.8, width: 0.4, thickness: 0.018}}
equipment:
  saw:
    width: 0.8
    depth: 0.7
    height: 0.86
    surface: 0.86
    blade: {at: [0.4, 0.35], reach: 0.1}
    at: {x: 2.5, y: 1.5, turn: 0}
  bench:
    width: 1.4
    depth: 0.7
    height: 0.855
    surface: 0.855
    takes the outfeed of: saw
    outfeed: {cover: 0.7, gap: [0, 0.02]}
    at: {x: 2.2, y: 2.21, turn: 0}
tasks: {rip: {uses: [saw]}}
jobs:
  box:
    feed:
      - {stock: panel, through: saw, cut: rip, offset: 0.2}
"""
