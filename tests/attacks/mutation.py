"""Small faults planted in a module, one at a time: do the tests named notice?

Comparisons are flipped or moved by their boundary, plus and minus exchanged, constants changed,
`not` dropped, `and` and `or` exchanged, returns emptied. A mutant runs in a copy of the package.
"""

from __future__ import annotations

import argparse
import ast
import os
import shutil
import subprocess
import sys
import tempfile
from collections.abc import Iterator
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


def mutants(source: str) -> Iterator[tuple[int, str, str]]:
    """Line, what was done, and the text of the module with one small fault."""
    count = sum(1 for _ in ast.walk(ast.parse(source)))
    for index in range(count):
        for choice in range(3):
            tree = ast.parse(source)
            node = list(ast.walk(tree))[index]
            done = _mutated(node, choice)
            if done is None:
                break
            if done:
                yield getattr(node, "lineno", 0), done, ast.unparse(tree)


def _mutated(node: ast.AST, choice: int) -> str | None:
    """Plant a fault of one kind; what it is, None when there are no more kinds."""
    if isinstance(node, ast.Compare) and len(node.ops) == 1:
        flips = FLIPS.get(type(node.ops[0]), ())
        if choice < len(flips):
            old = type(node.ops[0]).__name__
            node.ops[0] = flips[choice]()
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


def killed(root: Path, tests: list[str]) -> bool:
    """Whether the tests fail, or do not end, on the package as it lies in `root`."""
    env = dict(os.environ, PYTHONPATH=str(root), MPLBACKEND="Agg", PYTHONDONTWRITEBYTECODE="1")
    command = [sys.executable, "-m", "pytest", "-q", "-x", "-n", "0", "-p", "no:cacheprovider"]
    try:
        done = subprocess.run(
            [*command, *tests], cwd=root, env=env, capture_output=True, timeout=240, check=False
        )
    except subprocess.TimeoutExpired:
        return True
    return done.returncode != 0


def arguments(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("--module", action="append", default=[], help="path from the root")
    parser.add_argument("--tests", action="append", default=[], help="tests of that module")
    parser.add_argument("--most", type=int, default=40, help="mutants tried of each module")


def run(options: argparse.Namespace) -> int:
    """Plant faults; a table of how many were noticed. How many survived."""
    random = Random(options.seed)
    rows, survived = [], 0
    with tempfile.TemporaryDirectory() as folder:
        root = Path(folder)
        for name in ("floorplan", "tests", "layouts"):
            shutil.copytree(HERE / name, root / name)
        shutil.copy(HERE / "pyproject.toml", root)
        if killed(root, options.tests):
            print("the tests fail before any fault is planted", file=sys.stderr)
            return 1
        for module in options.module:
            source = (HERE / module).read_text(encoding="utf-8")
            every = list(mutants(source))
            tried = random.sample(every, min(options.most, len(every)))
            left = []
            for line, done, text in tried:
                (root / module).write_text(text, encoding="utf-8")
                if not killed(root, options.tests):
                    left.append(f"{module}:{line}: {done}")
                    print(f"survives: {left[-1]}", file=sys.stderr, flush=True)
            (root / module).write_text(source, encoding="utf-8")
            rows.append((module, len(every), len(tried), len(tried) - len(left)))
            survived += len(left)
    print(table(("module", "mutants", "tried", "noticed"), rows))
    return survived
