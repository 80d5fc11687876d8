"""Small faults planted in a module, one at a time: do the tests named notice?

Comparisons are flipped or moved by their boundary, plus and minus exchanged, constants changed,
`not` dropped, `and` and `or` exchanged, returns emptied. A mutant runs in a copy of the package.
"""

from __future__ import annotations

import argparse
import ast
import copy
import os
import re
import shutil
import subprocess
import sys
import tempfile
import time
from collections import Counter
from math import sqrt
from pathlib import Path
from random import Random

from attacks.table import table

HERE = Path(__file__).resolve().parents[2]
FLIPS: dict[type[ast.cmpop], tuple[type[ast.cmpop], ...]] = {
    ast.Lt: (ast.LtE, ast.GtE), ast.LtE: (ast.Lt, ast.Gt), ast.Gt: (ast.GtE, ast.LtE),
    ast.GtE: (ast.Gt, ast.Lt), ast.Eq: (ast.NotEq,), ast.NotEq: (ast.Eq,), ast.Is: (ast.IsNot,),
    ast.IsNot: (ast.Is,), ast.In: (ast.NotIn,), ast.NotIn: (ast.In,),
}  # fmt: skip
SWAPS: dict[type[ast.operator], type[ast.operator]] = {
    ast.Add: ast.Sub, ast.Sub: ast.Add, ast.Mult: ast.Div, ast.Div: ast.Mult,
}  # fmt: skip

LONGEST = 90
"""Time that one file of tests may take, and after which a mutant is taken not to end [s]."""

MOST = 8
"""Files of tests tried of one module."""


def places(source: str) -> list[tuple[int, int]]:
    """(node, kind of fault) of every fault that can be planted in a module."""
    found = []
    for index, node in enumerate(ast.walk(ast.parse(source))):
        for choice in range(3):
            done = _mutated(copy.copy(node), choice)
            if done is None:
                break
            found.append((index, choice))
    return found


def mutant(source: str, place: tuple[int, int]) -> tuple[int, str, str]:
    """Line, what was done, and the text of the module with one small fault."""
    index, choice = place
    tree = ast.parse(source)
    node = list(ast.walk(tree))[index]
    done = _mutated(node, choice)
    assert done is not None
    return getattr(node, "lineno", 0), done, ast.unparse(tree)


def _mutated(node: ast.AST, choice: int) -> str | None:
    """Plant a fault of one kind; what it is, None when there are no more kinds."""
    if isinstance(node, ast.Compare) and len(node.ops) == 1:
        flips = FLIPS.get(type(node.ops[0]), ())
        if choice < len(flips):
            old = type(node.ops[0]).__name__
            node.ops = [flips[choice]()]
            return f"{old} -> {flips[choice].__name__}"
    elif isinstance(node, ast.BinOp) and choice == 0 and type(node.op) in SWAPS:
        old = type(node.op).__name__
        node.op = SWAPS[type(node.op)]()
        return f"{old} -> {type(node.op).__name__}"
    elif isinstance(node, ast.BoolOp) and choice == 0:
        node.op = ast.Or() if isinstance(node.op, ast.And) else ast.And()
        return f"and, or -> {type(node.op).__name__}"
    elif isinstance(node, ast.UnaryOp) and choice == 0 and isinstance(node.op, ast.Not | ast.USub):
        old = type(node.op).__name__
        node.op = ast.UAdd() if isinstance(node.op, ast.USub) else ast.Not()
        if old == "Not":
            node.operand = ast.UnaryOp(ast.Not(), node.operand)
        return f"{old} dropped"
    elif isinstance(node, ast.Constant) and choice == 0:
        if isinstance(node.value, bool):
            node.value = not node.value
        elif isinstance(node.value, int | float):
            node.value = node.value + 1 if node.value in (0, 1) else node.value * 1.5
        else:
            return None
        return f"constant -> {node.value}"
    return None


def tests_of(root: Path, module: str, most: int) -> list[str]:
    """Tests that import a module, or else what imports it: named after it first, then the smallest.

    Most tests reach a check through what puts the checks together, so importers count in turn.
    """
    package = [p for p in (root / "floorplan").rglob("*.py") if p.stem != "__init__"]
    tests = list((root / "tests").rglob("test_*.py"))
    text = {p: p.read_text(encoding="utf-8") for p in [*package, *tests]}
    found: list[Path] = []
    seen, layer = set[Path](), [root / module]
    while layer and len(found) < most:
        wanted = [_import_of(p.relative_to(root)) for p in layer]
        seen.update(layer)
        new = [p for p in tests if p not in found and any(w.search(text[p]) for w in wanted)]
        found += sorted(new, key=lambda p: (p.stem != f"test_{Path(module).stem}", len(text[p])))
        layer = [p for p in package if p not in seen and any(w.search(text[p]) for w in wanted)]
    return [str(p.relative_to(root)) for p in found[:most]]


def _import_of(path: Path) -> re.Pattern[str]:
    dotted = ".".join(path.with_suffix("").parts)
    package, name = dotted.rsplit(".", 1)
    return re.compile(
        rf"^\s*(from {dotted} import|import {dotted}\b|from {package} import .*\b{name}\b)", re.M
    )


def killed(root: Path, tests: list[str], seconds: int = 240) -> bool:
    """Whether the tests fail, or do not end, on the package as it lies in `root`."""
    env = dict(os.environ, PYTHONPATH=str(root), MPLBACKEND="Agg", PYTHONDONTWRITEBYTECODE="1")
    command = [sys.executable, "-m", "pytest", "-q", "-x", "-n", "0", "-p", "no:cacheprovider"]
    try:
        done = subprocess.run(
            [*command, *tests], cwd=root, env=env, capture_output=True, timeout=seconds, check=False
        )
    except subprocess.TimeoutExpired:
        return True
    return done.returncode != 0


def wilson(noticed: int, tried: int) -> tuple[float, float]:
    """95 % interval of a share (E. B. Wilson, J. Amer. Statist. Assoc. 22, 1927)."""
    z, share = 1.96, noticed / tried
    middle = share + z * z / (2 * tried)
    half = z * sqrt(share * (1 - share) / tried + z * z / (4 * tried * tried))
    scale = 1 + z * z / tried
    return (middle - half) / scale, (middle + half) / scale


def arguments(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("--module", action="append", default=[], help="path from the root")
    parser.add_argument("--room", action="append", default=[], help="every module of a folder")
    parser.add_argument("--tests", action="append", default=[],
                        help="tests to run; else those that import the module")  # fmt: skip
    parser.add_argument("--most", type=int, default=40, help="faults planted, drawn from all")
    parser.add_argument("--log", type=Path, help="each fault and what came of it, written at once")


def run(options: argparse.Namespace) -> int:
    """Plant faults; a table of how many were noticed. How many survived."""
    modules = list(options.module)
    for room in options.room:
        modules += sorted(
            str(p.relative_to(HERE)) for p in (HERE / room).glob("*.py") if p.stem != "__init__"
        )
    every = [(m, p) for m in modules for p in places((HERE / m).read_text(encoding="utf-8"))]
    tried = Random(options.seed).sample(every, min(options.most, len(every)))
    total, noticed = Counter[str](), Counter[str]()
    sound: dict[str, bool] = {}  # tests that pass, soon enough, before any fault is planted
    with tempfile.TemporaryDirectory() as folder:
        root = Path(folder)
        for name in ("floorplan", "tests", "layouts"):
            shutil.copytree(HERE / name, root / name)
        shutil.copy(HERE / "pyproject.toml", root)
        for module, place in tried:
            if time.monotonic() > options.deadline:
                break
            tests = options.tests or tests_of(root, module, MOST)
            for test in tests:
                if test not in sound:
                    sound[test] = not killed(root, [test], LONGEST)
            what, dead = _tried(root, module, place, [t for t in tests if sound[t]])
            total[module] += 1
            noticed[module] += dead
            said = f"{'noticed' if dead else 'survives'}: {what}"
            if options.log is not None:
                with options.log.open("a", encoding="utf-8") as log:
                    log.write(said + "\n")
            if not dead:
                print(said, file=sys.stderr, flush=True)
    print(table(("module", "tried", "noticed"), [(m, total[m], noticed[m]) for m in sorted(total)]))
    if total:
        low, high = wilson(noticed.total(), total.total())
        print(f"{noticed.total()} of {total.total()} noticed; {len(every)} can be planted")
        print(f"share noticed, 95 % confidence: {low:.0%} to {high:.0%}")
    return total.total() - noticed.total()


def _tried(root: Path, module: str, place: tuple[int, int], tests: list[str]) -> tuple[str, bool]:
    """Plant one fault, run the tests a file at a time until one fails, and mend it again."""
    source = (HERE / module).read_text(encoding="utf-8")
    line, done, text = mutant(source, place)
    (root / module).write_text(text, encoding="utf-8")
    try:
        dead = any(killed(root, [test], 2 * LONGEST) for test in tests)
    finally:
        (root / module).write_text(source, encoding="utf-8")
    return f"{module}:{line}: {done}", dead
