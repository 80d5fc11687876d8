"""The examples of the package's own page run as they are written."""

from __future__ import annotations

import doctest
import re
import subprocess
import sys
from pathlib import Path

import pytest

import floorplan
from floorplan.cli.main import main

ROOT = Path(__file__).parents[1]


def test_the_examples_of_the_package_run() -> None:
    found = doctest.testmod(floorplan)
    assert found.attempted > 10
    assert found.failed == 0


def test_every_public_name_is_there_and_no_other() -> None:
    for name in floorplan.__all__:
        assert getattr(floorplan, name) is not None
    with pytest.raises(AttributeError, match="no `guess`"):
        _ = floorplan.guess


def test_the_example_of_the_readme_finds_on_two_processes_what_one_finds(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    assert main(["start", "my-shop.yaml"]) == 0
    found = re.search(
        r"<!-- python -->\n```python\n(.*?)```", (ROOT / "README.md").read_text(), re.S
    )
    assert found is not None
    text = found[1]
    said = [_printed(tmp_path, text), _printed(tmp_path, text.replace(", executor=pool", ""))]
    assert said[0] == said[1]
    assert said[0].splitlines()[0] == "today passes"
    assert said[0].splitlines()[1].startswith("1 passes ")


def _printed(folder: Path, text: str) -> str:
    (folder / "example.py").write_text(text)
    done = subprocess.run(
        [sys.executable, "example.py"],
        cwd=folder, env={"PYTHONPATH": str(ROOT), "MPLBACKEND": "Agg"},
        capture_output=True, text=True, check=True, timeout=300,
    )  # fmt: skip
    return done.stdout
