"""How far a verdict can be trusted: in what share of the possible true shops does it pass?

Each reading is off by something within its error, uniformly and independently of the others.
Margins move with the readings to first order as their sensitivities say; the possible shops
nearest to the limit, where that could mislead, are judged exactly.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import sqrt

import numpy as np
from numpy.typing import NDArray

from floorplan.checks.finding import Finding
from floorplan.checks.judge import CHECKS, Judgement
from floorplan.search.possible import possible
from floorplan.shop.model import Layout, Shop
from floorplan.shop.scene import Scene, scene
from floorplan.units import TOLERANCE

Array = NDArray[np.float64]

DRAWS = 2000
BATCH = 12
"""Possible shops judged exactly at a time, from the limit outwards."""
WIDE_BATCH = 4
"""The same where a check looks at the whole floor, which takes longer."""
MOST_BATCHES = 8
Z95 = 1.959963984540054
"""Two-sided 95 % point of the normal distribution."""
WIDE = frozenset({"way-out", "walking", "rolling", "keep-clears", "break-down"})
"""Checks whose answer depends on more things than the ones they name."""


@dataclass(frozen=True, slots=True)
class Deciding:
    """One measured number on which the verdict hangs."""

    measurement: str
    line: int
    error: float
    """What it may be off [m]."""
    weight: float
    """Its part of all doubt, 0 to 1."""


@dataclass(frozen=True, slots=True)
class Trust:
    """How far a verdict can be trusted."""

    share: float
    """Share of the possible true shops in which every required rule is kept."""
    error: float
    """Half of the 95 % interval of that share; 0 where nothing had to be sampled."""
    deciding: tuple[Deciding, ...]
    """Measured numbers behind what is too close to call, the most deciding first."""
    method: str
    """How the share was found, in words."""
    draws: int
    exact: int
    """How many of the possible shops were judged exactly."""
    assumed: tuple[str, ...]
    """Sizes nobody measured, taken for right."""


def trust(judgement: Judgement, *, seed: int = 1, draws: int = DRAWS) -> Trust:
    """Share of the possible true shops in which the layout still passes, and what decides it."""
    required = [f for f in judgement.findings if f.kind == "required"]
    open_ones = [f for f in required if f.verdict == "unsure" and f.margin is not None]
    names = sorted({name for f in open_ones for name in f.terms if _error(judgement, name) > 0})
    noise = np.random.default_rng(seed)
    errors = np.array([_error(judgement, name) for name in names])
    offsets = noise.uniform(-1.0, 1.0, (draws, len(names))) * errors
    margins = _first_order(open_ones, names, offsets)
    deciding = _deciding(judgement, open_ones, names, margins)
    if any(f.verdict == "fails" for f in required):
        return Trust(
            0.0, 0.0, deciding, "a required rule fails by more than the tape may be off",
            0, 0, judgement.assumed,
        )  # fmt: skip
    if any(f.verdict == "unsure" and (f.margin is None or not f.certified) for f in required):
        return Trust(
            0.0, 0.0, deciding, "a required rule could not be proved at the numbers as read",
            0, 0, judgement.assumed,
        )  # fmt: skip
    if not open_ones:
        return Trust(
            1.0, 0.0, (), "every required rule is kept whatever the tape was off",
            0, 0, judgement.assumed,
        )  # fmt: skip
    least = margins.min(axis=1)
    passing = least >= -TOLERANCE
    exact, otherwise = _settle(judgement, open_ones, names, offsets, least, passing)
    share = float(passing.mean())
    method = (
        f"{draws} possible shops drawn, {exact} of them nearest to the limit judged exactly, "
        f"{otherwise} of these otherwise than first order said"
    )
    return Trust(
        share, _half_interval(share, draws), deciding, method, draws, exact, judgement.assumed
    )


def _error(judgement: Judgement, name: str) -> float:
    found = judgement.shop.measurements.get(name)
    return 0.0 if found is None else found.error


def _first_order(findings: Sequence[Finding], names: Sequence[str], offsets: Array) -> Array:
    """(draws, findings) margins if the readings are off by `offsets`."""
    slope = np.array([[f.terms.get(name, 0.0) for f in findings] for name in names])
    base = np.array([f.margin or 0.0 for f in findings])
    margins: Array = base + offsets @ slope.reshape(len(names), len(findings))
    return margins


def _half_interval(share: float, draws: int) -> float:
    """Half of Wilson's 95 % interval of a share (E. B. Wilson, JASA 22, 1927)."""
    z = Z95
    return z / (1 + z * z / draws) * sqrt(share * (1 - share) / draws + z * z / (4 * draws * draws))


def _deciding(
    judgement: Judgement, findings: Sequence[Finding], names: Sequence[str], margins: Array
) -> tuple[Deciding, ...]:
    """Each reading's part of the variance of the open margins, by how open each of them is."""
    weights = np.zeros(len(names))
    for k, found in enumerate(findings):
        failing = float((margins[:, k] < -TOLERANCE).mean())
        parts = np.array([(found.terms.get(n, 0.0) * _error(judgement, n)) ** 2 for n in names])
        # an outcome that is certain in all draws still counts a little: it was too close to call
        doubt = max(failing * (1.0 - failing), 1.0 / (4.0 * len(margins)))
        if parts.sum() > 0:
            weights += doubt * parts / parts.sum()
    if weights.sum() <= 0:
        return ()
    weights /= weights.sum()
    rows = [
        Deciding(name, judgement.shop.measurements[name].line, _error(judgement, name), float(w))
        for name, w in zip(names, weights, strict=True)
        if w > 0
    ]
    return tuple(sorted(rows, key=lambda row: (-round(row.weight, 6), row.line, row.measurement)))


def _settle(
    judgement: Judgement,
    findings: Sequence[Finding],
    names: Sequence[str],
    offsets: Array,
    least: Array,
    passing: NDArray[np.bool_],
) -> tuple[int, int]:
    """Judge exactly from the limit outwards until a whole batch is as first order said.

    Changes `passing`; gives how many were judged and how many of them turned out otherwise.
    """
    batch = WIDE_BATCH if any(f.check == "way-out" for f in findings) else BATCH
    order = np.argsort(np.abs(least), kind="stable")[: batch * MOST_BATCHES]
    judged = otherwise = 0
    for start in range(0, len(order), batch):
        wrong = 0
        for draw in order[start : start + batch]:
            off = dict(zip(names, offsets[draw].tolist(), strict=True))
            truth = _keeps(judgement, findings, off)
            wrong += truth != bool(passing[draw])
            passing[draw] = truth
            judged += 1
        otherwise += wrong
        if not wrong:
            break
    return judged, otherwise


def _keeps(judgement: Judgement, findings: Sequence[Finding], offsets: dict[str, float]) -> bool:
    """Whether the required rules in question are kept in one possible shop, exactly."""
    shop, layout = possible(judgement.shop, judgement.layout, offsets)
    asked = {f.check for f in findings}
    near = {name for f in findings for name in f.about if shop.has(name)}
    made: dict[bool, Scene] = {}
    for name, check in CHECKS:
        if name not in asked:
            continue
        wide = name in WIDE
        if wide not in made:
            made[wide] = _scene(shop, layout, None if wide else near)
        for found in check(made[wide]).findings:
            rule = shop.rules[found.rule]
            softened = rule.off or (rule.overridden and rule.kind == "advised")
            if found.kind == "required" and not softened and found.verdict != "passes":
                return False
    return True


def _scene(shop: Shop, layout: Layout, only: set[str] | None) -> Scene:
    """A scene of all things or of some; the others have no pose in it."""
    if only is None:
        return scene(shop, layout)
    few = Layout({key: pose for key, pose in layout.poses.items() if key[0] in only})
    return scene(shop, few, only=only)
