"""Copper wire by gauge, and the voltage lost on a run of it."""

from __future__ import annotations

from typing import Literal

from floorplan.rules.tables import table

Make = Literal["solid", "stranded"]
_TABLES = {"stranded": "wire-resistance", "solid": "wire-resistance-solid"}


class WireError(ValueError):
    """A wire that the table does not have."""


def gauges(make: Make) -> tuple[int, ...]:
    """Gauges that the table has for a make, the thinnest first [AWG]."""
    return tuple(int(gauge) for gauge in table(_TABLES[make])["gauge"])


def resistance(gauge: int, make: Make) -> float:
    """Resistance of uncoated copper at 75 deg C [ohm/m]. Raises WireError.

    Source: NEC Chapter 9, Table 8.
    """
    rows = table(_TABLES[make])
    for known, ohms in zip(rows["gauge"], rows["resistance"], strict=True):
        if int(known) == gauge:
            return ohms
    raise WireError(f"no {gauge} AWG {make} wire in the table")


def voltage_drop(*, length: float, amps: float, ohms_per_metre: float) -> float:
    """Voltage lost on a single-phase run [V]: out and back, 2 L I R.

    `length` one way [m], `amps` [A], `ohms_per_metre` [ohm/m]; resistance alone, which for copper
    as thin as this is nearly all of the impedance.
    """
    return 2.0 * length * amps * ohms_per_metre


def longest_run(*, share: float, volts: float, amps: float, ohms_per_metre: float) -> float:
    """Longest one-way run that loses no more than a share [1] of the voltage [m]."""
    return share * volts / (2.0 * amps * ohms_per_metre)
