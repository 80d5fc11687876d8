"""The examples of the package's own page run as they are written."""

from __future__ import annotations

import doctest

import pytest

import floorplan


def test_the_examples_of_the_package_run() -> None:
    found = doctest.testmod(floorplan)
    assert found.attempted > 10
    assert found.failed == 0


def test_every_public_name_is_there_and_no_other() -> None:
    for name in floorplan.__all__:
        assert getattr(floorplan, name) is not None
    with pytest.raises(AttributeError, match="no `guess`"):
        _ = floorplan.guess
