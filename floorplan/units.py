"""Text to SI and back; the one tolerance and the one comparison of the whole program."""

TOLERANCE = 1e-5
"""Lengths closer than this are equal [m]."""


def at_least(have: float, need: float, tolerance: float = TOLERANCE) -> bool:
    """Whether `have` [m] reaches `need` [m]; exactly enough is enough."""
    return have >= need - tolerance
