"""Sound of a small source outdoors: levels by distance, and sums of levels.

Free field over open ground: no echo, no screen, no wind, no absorption by air, which over a lot's
few tens of metres takes off less than the rounding.
"""

from __future__ import annotations

from collections.abc import Iterable
from math import inf, log, log10

from floorplan.air.registry import Entry, Range

DISTANCE = Entry(
    "noise.distance",
    "Free field: the level falls by 20 log10 of the ratio of distances",
    "dB",
    "inverse square law of a point source",
    "computed",
    ranges=(Range("distance", 1.0, 200.0, "m"),),
)
SUM = Entry(
    "noise.sum",
    "Levels of sources that have nothing to do with each other add by their energies",
    "dB",
    "definition of the level; energies add",
    "computed",
)
HEMISPHERE = Entry(
    "noise.hemisphere",
    "Sound power level less 20 log10 r less 8 dB, over hard ground",
    "dB",
    "inverse square law over a half space: 10 log10(2 pi r^2)",
    "computed",
)
ENTRIES = (DISTANCE, SUM, HEMISPHERE)


def level_at(level: float, *, known_at: float, distance: float) -> float:
    """Sound level [dB] at `distance` [m] from a source of `level` [dB] at `known_at` [m].

    Raises ValueError where a distance is not above 0. Source: noise.distance.
    """
    if not (known_at > 0.0 and distance > 0.0):
        raise ValueError("sound levels hold at a distance above 0")
    return level - 20.0 * log10(distance / known_at)


def level_per_metre(distance: float) -> float:
    """How much the level falls with each further metre [dB/m] at `distance` [m]."""
    return 20.0 / (log(10.0) * distance)


def level_of_power(power_level: float, *, distance: float) -> float:
    """Sound level [dB] at `distance` [m] over hard ground from a sound power level [dB].

    Source: noise.hemisphere.
    """
    return power_level - 20.0 * log10(distance) - 8.0


def sum_of_levels(levels: Iterable[float]) -> float:
    """Level of several sources together [dB]; minus infinity of none. Source: noise.sum."""
    total = sum(10.0 ** (level / 10.0) for level in levels)
    return 10.0 * log10(total) if total > 0.0 else -inf


def distance_for(level: float, *, known_at: float, limit: float) -> float:
    """Distance [m] at which a source of `level` [dB] at `known_at` [m] has fallen to `limit`."""
    return float(known_at * 10.0 ** ((level - limit) / 20.0))
