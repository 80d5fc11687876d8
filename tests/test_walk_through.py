"""README's way from the plan to the floor: each command as written, with what it printed."""

from __future__ import annotations

import os
import re
import shlex
import shutil
import subprocess
import sys
from dataclasses import dataclass
from pathlib import Path

import pytest

from floorplan.checks.feet import feet_of
from floorplan.shop.reader import load
from floorplan.shop.scene import scene

ROOT = Path(__file__).parents[1]
SECTION = "## From the plan to the floor\n"
INCH = 0.0254


@dataclass(frozen=True)
class Shown:
    """One command of the section."""

    command: str
    status: int
    lines: tuple[str, ...]
    """What it printed; `...` where lines are left out."""


def section() -> str:
    text = (ROOT / "README.md").read_text(encoding="utf-8")
    return text[text.index(SECTION) :].split("\n## ")[0]


def shown() -> list[Shown]:
    found = []
    for block in re.findall(r"```\n\$ (.*?)```", section(), flags=re.DOTALL):
        command, *lines = block.splitlines()
        command, _, status = command.partition("  # exit status ")
        found.append(Shown(command, int(status or 0), tuple(lines)))
    return found


def missing(quoted: tuple[str, ...], printed: list[str]) -> str | None:
    """The first quoted line that does not come where it should; None when all do.

    Lines follow each other without a gap, but for `...`.
    """
    at, loose = 0, False
    for line in quoted:
        if line.strip() == "...":
            loose = True
            continue
        rest = printed[at:] if loose else printed[at : at + 1]
        if line.rstrip() not in [text.rstrip() for text in rest]:
            return line
        at += [text.rstrip() for text in rest].index(line.rstrip()) + 1
        loose = False
    return None if loose or at == len(printed) else f"(nothing), but then came: {printed[at]}"


def test_a_line_that_was_not_printed_is_noticed() -> None:
    printed = ["one", "two", "three", ""]
    assert missing(("one", "...", "three", ""), printed) is None
    assert missing(("one", "three", "..."), printed) == "three"
    assert missing(("two", "..."), printed) == "two"
    assert missing(("one", "...", "four", "..."), printed) == "four"
    assert missing(("one",), printed) == "(nothing), but then came: two"


def test_the_section_goes_the_whole_way() -> None:
    words = [shlex.split(one.command)[1] for one in shown()]
    assert words == ["check", "arrange", "moves", "feet", "report"]


@pytest.mark.slow
def test_every_command_prints_what_is_quoted(tmp_path: Path) -> None:
    shutil.copytree(ROOT / "layouts", tmp_path / "layouts")
    program = Path(sys.executable).parent / "floorplan"
    paths = os.pathsep.join(filter(None, (str(ROOT), os.environ.get("PYTHONPATH"))))
    for one in shown():
        first, *arguments = shlex.split(one.command)
        assert first == "floorplan"
        done = subprocess.run(
            [program, *arguments],
            cwd=tmp_path, capture_output=True, text=True, timeout=900, check=False,
            env={**os.environ, "PYTHONPATH": paths, "MPLBACKEND": "Agg"},
        )  # fmt: skip
        assert done.returncode == one.status, one.command + done.stderr
        assert missing(one.lines, done.stdout.splitlines()) is None, one.command
    assert (tmp_path / "figures" / "basement-moved" / "report.html").is_file()


def test_a_foot_of_the_demo_by_hand() -> None:
    """Today's cutting table: every reading under it lies in one plane, so plain proportion does.

    Foot 4 stands 3 in from the west and 47 in from the north edge of a table whose north edge is
    at 130 in: at (123, 83) in, where the rod shows 49-1/4 + 3/8 x 123/160 - 5/8 x 83/152 in.
    """
    file = load(ROOT / "layouts" / "l-shaped-basement.yaml")
    found = feet_of(scene(file.shop, file.layout), "cutting table")
    below = 49.25 + 0.375 * 123 / 160 - 0.625 * 83 / 152
    foot = found.feet[3]
    assert (foot.x.value, foot.y.value) == pytest.approx((123 * INCH, 83 * INCH))
    assert found.datum.value - foot.floor.value == pytest.approx(below * INCH)
    needed = 34.5 - 32.75 - (found.datum.value / INCH - below)
    assert foot.needed.value == pytest.approx(needed * INCH)
