"""The layout that moves the fewest things, told as changes: where no change of one or two does.

Its places are the best that a search finds, not the nearest: how many things are moved counts, not
how far.
"""

from __future__ import annotations

from math import hypot

import numpy as np

from floorplan.checks.judge import Judgement
from floorplan.search.change import Change, Draft, Step
from floorplan.search.fewest import FewestMoves
from floorplan.search.screening import in_full, required
from floorplan.search.setting import movable_names, movable_spots
from floorplan.search.shift import set_text, shift_words, turn_text
from floorplan.shop.model import Layout, Pose
from floorplan.units import TOLERANCE

SEED = 1
MOST_TRIED = 6000
"""Items put back at most; what was found by then counts."""


def few_moves(start: Draft, today: Judgement) -> tuple[tuple[Change, ...], bool]:
    """The change found, verified by every check, and whether the search went to its end.

    No change where no layout was found.
    """
    shop, layout = start.shop, start.layout
    names, spots = movable_names(shop, layout), movable_spots(shop, layout)
    if not names:
        return (), True
    search = FewestMoves(shop, layout, names, spots, SEED)
    found = search.found(
        today, lambda at: required(shop, at), lambda: search.tried > MOST_TRIED,
        lambda at: required(shop, at, briefly=True),
    )  # fmt: skip
    made = None if found is None else in_full(found)
    to_its_end = search.tried <= MOST_TRIED
    if made is None or made.verdict != "passes":
        return (), to_its_end
    steps: list[Step] = []
    draft = start
    for (name, place), pose in made.layout.poses.items():
        old = layout.pose(name, place)
        if old is None or _moved(old, pose):
            poses = {**draft.layout.poses, (name, place): pose}
            draft = Draft(shop, Layout(poses))
            steps.append(moved_step(draft, name, place, old, pose))
    steps.sort(key=lambda step: step.order)
    return (Change(tuple(steps), made),) if steps else (), to_its_end


def _moved(old: Pose, new: Pose) -> bool:
    far = hypot(new.x.value - old.x.value, new.y.value - old.y.value)
    return far > TOLERANCE or old.turn % 360.0 != new.turn % 360.0


def moved_step(draft: Draft, name: str, place: str, old: Pose | None, new: Pose) -> Step:
    """One move, in the words in which the other changes are told."""
    shop = draft.shop
    what = name if place == "standing" else f"the {place} place of {name}"
    at = np.array([new.x.value, new.y.value])
    if old is None:
        return Step("shift", name, None, "", set_text(shop, what, new), draft, 0.0)
    by = (new.turn - old.turn + 180.0) % 360.0 - 180.0
    body = shop.thing(name).body
    middles = [np.ptp(body.turned(pose.turn).points, axis=0) / 2 for pose in (old, new)]
    dx, dy = at + middles[1] - np.array([old.x.value, old.y.value]) - middles[0]
    far = float(hypot(dx, dy))
    if abs(by) < 1e-9:
        text = f"shift {what} {shift_words(shop, dx, dy)}"
        return Step("shift", name, far, "m", text, draft, far)
    text = turn_text(what, by)
    if far > TOLERANCE:
        text += f" and set its middle {shift_words(shop, dx, dy)}"
    return Step("turn", name, abs(by), "deg", text, draft, far)
