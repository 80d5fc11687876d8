"""Every formula, table and constant of the air physics, for the list of sources."""

from __future__ import annotations

from floorplan.air import (
    empirical,
    fan,
    fittings,
    friction,
    make_up,
    network,
    noise,
    properties,
    vacuum,
)
from floorplan.air.registry import Entry


def air_entries() -> tuple[Entry, ...]:
    """Return all entries in the order of the physics, each id once."""
    modules = (properties, friction, empirical, fittings, fan, network, vacuum, make_up, noise)
    return tuple(entry for module in modules for entry in module.ENTRIES)
