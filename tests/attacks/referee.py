"""Random shops and sheet scenes judged twice: by the program and by brute force.

Nothing said to pass that the second judge finds failing, nothing said to fail that it finds
passing by more than its own raster.
"""

from __future__ import annotations

import argparse
import sys
import time
from collections import Counter
from collections.abc import Callable, Iterable, Iterator
from dataclasses import replace
from functools import partial
from itertools import takewhile
from math import pi
from pathlib import Path
from random import Random

from referee import Referee
from shapely.geometry import Polygon, box
from shops import Plan, judged, random_plan

from attacks import carried, scenes
from attacks.table import table
from floorplan.checks.judge import Judgement
from floorplan.checks.ways import way_of
from floorplan.motion.carry import Body, CarrySpace, Pose, carry
from floorplan.search.arrange import arrange
from floorplan.shop.reader import parse
from floorplan.shop.scene import scene as scene_of
from floorplan.units import TOLERANCE

SLACK = 1e-4
"""Areas smaller than this length squared are no overlap [m]."""
FOUND_TO = 0.0254 / 16
"""The program finds the room to spare of a sheet to this step [m]."""


Note = Callable[[str, str, Iterator[str]], None]


# --- shops ---------------------------------------------------------------------------------


def contradictions(text: str, judgement: Judgement | None = None) -> Iterator[str]:
    """Where the two judges of a random shop disagree about solids, places and the way out."""
    judgement, referee = judgement or judged(text), Referee(text)
    wrong = {
        (f.check, frozenset(f.about)) for f in judgement.failing if f.check in ("solids", "zones")
    }
    names = list(referee.bodies)
    for i, a in enumerate(names):
        for b in names[i + 1 :]:
            overlaps = referee.overlap(a, b) > SLACK**2
            if (("solids", frozenset((a, b))) in wrong) is not overlaps:
                yield f"solids {a} and {b}: overlap {overlaps}"
        if _walled(wrong, "solids", a) is not (referee.outside(a) > SLACK**2):
            yield f"{a} and the walls: outside {referee.outside(a)} m2"
    for place in referee.places:
        for other in names:
            if other != place:
                takes = referee.in_place(place, other) > SLACK**2
                # the pair is told once for both places
                back = other in referee.places and referee.in_place(other, place) > SLACK**2
                if (("zones", frozenset((place, other))) in wrong) is not (takes or back):
                    yield f"place of {place} and {other}: taken {takes or back}"
        if _walled(wrong, "zones", place) is not (referee.place_outside(place) > SLACK**2):
            yield f"place of {place} and the walls"
    yield from _ways_out(judgement, referee)


def _walled(wrong: set[tuple[str, frozenset[str]]], check: str, thing: str) -> bool:
    return any(
        c == check and thing in names and any(n.endswith("wall") for n in names)
        for c, names in wrong
    )


def _ways_out(judgement: Judgement, referee: Referee) -> Iterator[str]:
    """As wide as said but for the raster, and no wider."""
    fuzz = 3 * referee.raster
    told = [f for f in judgement.findings if f.check == "way-out"]
    if {f.about[0] for f in told} != set(referee.places):
        yield f"ways out told for {sorted({f.about[0] for f in told})}"
    for f in told:
        assert f.measured is not None
        if f.measured > 2 * fuzz and not referee.gets_out(f.about[0], f.measured - fuzz):
            yield f"wider said than it is: {f.message}"
        if f.certified and referee.gets_out(f.about[0], f.measured + fuzz):
            yield f"narrower said than it is: {f.message}"


def ranked_plans(plan: Plan, seed: int) -> Iterator[tuple[Plan, str]]:
    """What a short search offers, each as a plan with its verdict."""
    file = parse(plan.text())
    found = arrange(file.shop, file.layout, seed=seed, effort=60)
    for layout in found.layouts:
        boxes = []
        for b in plan.boxes:
            pose = layout.judgement.layout.pose(b.name)
            assert pose is not None
            place = {"x": 1000 * pose.x.value, "y": 1000 * pose.y.value}
            boxes.append(replace(b, quarters=round(pose.turn / 90) % 4, **place))
        yield replace(plan, boxes=tuple(boxes)), layout.judgement.verdict


# --- sheets --------------------------------------------------------------------------------


def scene_faults(scene: scenes.SheetScene, counts: Counter[str]) -> Iterator[str]:
    """Where brute force disagrees about one sheet."""
    space = CarrySpace(box(0, 0, scene.width, scene.depth), [Polygon(q) for q in scene.obstacles])
    body = Body.rectangle(scene.long, scene.wide)
    found = carry(space, body, start=Pose(*scene.start), goal=Pose(*scene.goal))
    counts[f"said {found.verdict}"] += 1
    grown = scenes.growth(scene)
    surely = scenes.linked(scene, grown, over_corners=False)
    counts["by brute force surely passes"] += surely
    if surely and found.verdict == "fails":
        yield "said to fail, passes by brute force"
    if surely and found.margin is not None and found.margin < 2 * grown - FOUND_TO - 1e-4:
        yield f"room to spare said {found.margin:.4f} m, at least {2 * grown:.4f} m is there"
    if found.verdict == "passes":
        path = [(p.x, p.y, p.angle) for p in found.path]
        at = scenes.touches(scene, path, TOLERANCE)
        if at is not None:
            yield f"the way said to be clear touches at {at}"
        # nothing is left of a narrow sheet, and nothing can be said
        shrunk = scenes.shrinkage(scene)
        thick = scene.wide / 2 > shrunk
        counts["wide enough for brute force to refuse"] += thick
        if thick and not scenes.linked(scene, -shrunk, over_corners=True):
            yield "said to pass, has no way by brute force"
    if found.verdict == "fails" and (found.margin or 0.0) > TOLERANCE:
        yield f"fails with {found.margin} m to spare"


# --- whole files with one carried piece ----------------------------------------------------


def carried_faults(shop: carried.Shop, counts: Counter[str]) -> Iterator[str]:
    """Where brute force disagrees about what a whole file carries."""
    file = parse(carried.text_of(shop))
    (job,) = file.shop.jobs
    way = way_of(scene_of(file.shop, file.layout), job.name, job.carries[0])
    assert way is not None
    verdict, world = way.verdict, carried.World(shop)
    counts[f"{shop.how}: said {verdict}"] += 1
    sides = (1.0, -1.0) if shop.how == "on edge with carrier" else (1.0,)
    goals = [(*shop.goal[:2], shop.goal[2] + turn) for turn in (0.0, pi)]
    # a way within the room may leave the door shut, so that no leaf hangs there
    states = [shop] if shop.start[1] < 0 else [shop, replace(shop, shut=True)]
    lattices = [carried.Lattice(s, carried.parts(s, side)) for s in states for side in sides]
    if verdict == "fails":
        surely = any(m.links(shop.start, goals, surely=True) for m in lattices)
        counts["refused, and surely passes by brute force"] += surely
        if surely:
            yield "said to fail, passes by brute force"
    if verdict == "passes":
        if not any(m.links(shop.start, goals, surely=False) for m in lattices):
            yield "said to pass, has no way by brute force"
        path = [world.back(1000 * p.x, 1000 * p.y, p.angle) for p in way.answer.path]
        state = replace(shop, shut=not way.around.doors)
        tries = [
            carried.touches(state, carried.parts(state, side), path, 1000 * TOLERANCE + 1e-6)
            for side in sides
        ]
        if all(at is not None for at in tries):
            yield f"the way said to be clear touches at {tries[0]}"


# --- running -------------------------------------------------------------------------------


def arguments(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("--shops", type=int, default=20)
    parser.add_argument("--carried", type=int, default=20, help="files with one carried piece")
    parser.add_argument(
        "--log", type=Path, help="scenes and carried pieces already in this file are not redone"
    )
    parser.add_argument("--scenes", type=int, default=50)
    parser.add_argument("--arranged", type=int, default=2, help="shops put through `arrange`")


def _done(log: Path | None) -> set[str]:
    """Names of the scenes in a log."""
    if log is None or not log.exists():
        return set()
    return {line.partition(":")[0] for line in log.read_text().splitlines()}


def _logged(
    names: Iterable[str], judge: Callable[[str, Counter[str]], Iterator[str] | None],
    log: Path | None, counts: Counter[str], note: Callable[[str, Iterator[str]], None],
) -> None:  # fmt: skip
    """Judge what is not in the log yet, and write down what came of it."""
    done = _done(log)
    for name in names:
        if name in done:
            continue
        before = Counter(counts)
        found = judge(name, counts)
        faults = ["left out"] if found is None else list(found)
        if found is not None:
            note(name, iter(faults))
        if log is not None:
            with log.open("a") as file:
                file.write(f"{name}: {'; '.join([*sorted(counts - before), *faults])}\n")


def _sheet_scene(name: str, counts: Counter[str]) -> Iterator[str] | None:
    scene = scenes.random_scene(Random(name))
    return None if scene is None else scene_faults(scene, counts)


def _carried_piece(name: str, counts: Counter[str]) -> Iterator[str] | None:
    shop = carried.random_shop(Random(name))
    return None if shop is None else carried_faults(shop, counts)


def _arranged(seed: int, note: Note) -> None:
    """Judge again what a short search offers."""
    for rank, (laid, verdict) in enumerate(ranked_plans(random_plan(Random(seed), things=4), seed)):
        text = laid.text()
        made = judged(text)
        faults = list(contradictions(text, made))
        if made.verdict != verdict:
            faults.append(f"{verdict} said, {made.verdict} read again")
        note("arranged layouts", f"{seed} rank {rank + 1}", iter(faults))


def run(options: argparse.Namespace) -> int:
    """Judge everything twice; a table of tried and contradicted. How many contradictions."""
    tried: Counter[str] = Counter()
    wrong: Counter[str] = Counter()
    counts: Counter[str] = Counter()

    def note(what: str, name: str, faults: Iterator[str]) -> None:
        tried[what] += 1
        for fault in faults:
            wrong[what] += 1
            print(f"{what} {name}: {fault}", file=sys.stderr, flush=True)

    def late(share: float) -> bool:
        return time.monotonic() > options.deadline - (1 - share) * options.seconds

    for k in range(options.shops):
        if late(0.4):
            break
        seed = 1000 * options.seed + k
        note("shops", str(seed), contradictions(random_plan(Random(seed), things=6).text()))
    for k in range(options.arranged):
        if late(0.7):
            break
        _arranged(1000 * options.seed + k, note)
    for what, judge, count, share in (
        ("carried pieces", _carried_piece, options.carried, 0.85),
        ("sheet scenes", _sheet_scene, options.scenes, 1.0),
    ):
        letter = "c" if judge is _carried_piece else ""
        names = takewhile(
            lambda _, share=share: not late(share),
            (f"{letter}{options.seed}-{number}" for number in range(count)),
        )
        _logged(names, judge, options.log, counts, partial(note, what))
    rows = [(what, n, wrong[what]) for what, n in tried.items()]
    print(table(("judged twice", "tried", "contradictions"), rows))
    print(table(("sheet scenes", "number"), sorted(counts.items())))
    return sum(wrong.values())
