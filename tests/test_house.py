"""The rooms of the house: who may import whom, and where yaml, matplotlib and printing live."""

import ast
import subprocess
import sys
from pathlib import Path

import pytest

import floorplan

ROOT = Path(floorplan.__file__).parent

FLOORS = {
    "units": 0,
    "geometry": 1,
    "air": 2,
    "motion": 2,
    "rules": 2,
    "shop": 2,
    "checks": 3,
    "search": 4,
    "drawing": 5,
    "report": 6,
    "cli": 7,
    "__main__": 8,
    "__init__": 8,
}
"""Rooms by floor: a room imports from its own floor and below."""

SIDEWAYS = {("shop", "rules")}
"""Allowed between different rooms of one floor."""

ALONE = {
    "matplotlib": ("drawing",),
    "yaml": ("shop", "rules"),
    "argparse": ("cli",),
}
"""Libraries with one home."""


def imported(source: str) -> list[str]:
    """Dotted names that a module imports, wherever in it."""
    names = []
    for node in ast.walk(ast.parse(source)):
        if isinstance(node, ast.Import):
            names += [alias.name for alias in node.names]
        elif isinstance(node, ast.ImportFrom) and node.module:
            names.append(node.module)
            names += [f"{node.module}.{alias.name}" for alias in node.names]
    return names


def room_of(path: Path) -> str:
    """The room of a file: its folder, or its own name."""
    inside = path.relative_to(ROOT)
    return inside.parts[0] if len(inside.parts) > 1 else inside.stem


def wrong_imports(room: str, module: str, source: str) -> list[str]:
    """Imports that the house does not allow."""
    wrong = []
    for name in imported(source):
        parts = name.split(".")
        for library, homes in ALONE.items():
            if parts[0] == library and room not in homes:
                wrong.append(f"{module} imports {library}")
        if parts[0] != "floorplan" or len(parts) < 2 or parts[1] not in FLOORS:
            continue
        other = parts[1]
        upward = FLOORS[other] > FLOORS[room]
        across = FLOORS[other] == FLOORS[room] and other != room and (room, other) not in SIDEWAYS
        if upward or across:
            wrong.append(f"{module} imports {name}")
        if room == "checks" and other == "checks" and len(parts) > 2 and module != "judge.py":
            shared = ("finding", "obstruction", "ground", "surroundings")
            if parts[2] not in shared and parts[2] + ".py" in CHECK_FILES:
                wrong.append(f"{module} imports another check, {name}")
    return wrong


def check_files() -> set[str]:
    """Files that are one question each: those with a `CHECK` name."""
    return {p.name for p in (ROOT / "checks").glob("*.py") if "\nCHECK = " in p.read_text()}


CHECK_FILES = check_files()
MODULES = sorted(p for p in ROOT.rglob("*.py"))


@pytest.mark.parametrize("path", MODULES, ids=lambda p: str(p.relative_to(ROOT)))
def test_imports_go_down(path: Path) -> None:
    assert wrong_imports(room_of(path), path.name, path.read_text(encoding="utf-8")) == []


@pytest.mark.parametrize(
    ("room", "module", "source"),
    [
        ("geometry", "convex.py", "from floorplan.shop.model import Shop"),
        ("motion", "carry.py", "import floorplan.shop.scene"),
        ("air", "fan.py", "from floorplan.rules.book import Rule"),
        ("checks", "zones.py", "from floorplan.search.rank import rank"),
        ("checks", "zones.py", "from floorplan.checks.solids import check"),
        ("search", "rank.py", "def late():\n    import matplotlib"),
        ("drawing", "plan.py", "import yaml"),
        ("report", "text.py", "import argparse"),
    ],
)
def test_a_wrong_import_is_found(room: str, module: str, source: str) -> None:
    assert wrong_imports(room, module, source)


def test_only_the_command_line_prints() -> None:
    talkative = [
        str(path.relative_to(ROOT))
        for path in MODULES
        if room_of(path) != "cli"
        and any(
            isinstance(node, ast.Call)
            and isinstance(node.func, ast.Name)
            and node.func.id == "print"
            for node in ast.walk(ast.parse(path.read_text(encoding="utf-8")))
        )
    ]
    assert talkative == []


@pytest.mark.parametrize(
    "arguments", [["--help"], ["--version"], ["check", "no-such-file.yaml"], ["chek"]]
)
def test_quick_answers_do_without_the_heavy_libraries(arguments: list[str]) -> None:
    program = (
        "import sys\n"
        "from floorplan.cli.main import main\n"
        "try:\n"
        f"    main({arguments!r})\n"
        "except SystemExit:\n"
        "    pass\n"
        "heavy = [m for m in ('scipy', 'matplotlib') if m in sys.modules]\n"
        "print('heavy:', heavy)\n"
    )
    out = subprocess.run(
        [sys.executable, "-c", program], capture_output=True, text=True, check=True
    )
    assert "heavy: []" in out.stdout
