"""Mutated shop files: each is read, or refused in words; no traceback, no hang, little memory.

Lines are deleted, doubled and swapped, scalars replaced by odd and huge ones, values given the
wrong type for every key of the schema, nesting driven deep. A share of what is accepted is judged.
"""

from __future__ import annotations

import argparse
import json
import re
import resource
import signal
import sys
import time
import traceback
import warnings
from collections import Counter
from collections.abc import Callable
from itertools import pairwise
from pathlib import Path
from random import Random
from types import FrameType
from typing import Any

import yaml

from attacks.table import table
from floorplan.checks.judge import judge
from floorplan.shop.faults import ShopFileError
from floorplan.shop.reader import parse

HERE = Path(__file__).resolve().parents[2]
LONGEST = 1.0
"""CPU time that one file may take to be read [s]."""
JUDGED = 20.0
"""CPU time that one accepted file may take to be judged [s]."""
MOST = 500
"""Memory that reading may take over what the program begins with [MB]."""

ODD = (
    "", " ", "~", "null", "yes", "no", "true", "0", "-0", "1", "-1", "1e999", "1e-999", "nan",
    ".nan", ".inf", "-.inf", "0x10", "0o7", "1_000", "1:30", "2026-11-25", "=", "<<", "*a", "&a b",
    "!!str x", "!x y", "[]", "{}", "[[]]", "{a: }", "? a", "- a", "| ", "> ", "'", '"', "''", '""',
    "#", "@x", "`x`", "%x", "[", "]", "{", "}", ",", ":", "a: b: c", "9" * 400, "1" + "0" * 50,
    "1/0 in", "1/3 in", "0/0", "7' 4-1/2\"", "7' 4-1/2", "-3 in", "1e6 in", "1e-9 in", "5 mm 3 in",
    "3/4", "1/4 in +- 1/8 in", "1 in +- 1e9 in", "+- 1 in", "12 in + 3 in", "depth - 2 in", "width",
    "depth - depth", "rule panel-depth", "rule nothing", "against north wall", "north of saw",
    "east of saw + 1/4 in", "north of north of saw", "in\u00e9", "\u200b", "\u202e12 in",
    "\uff11\uff12 in", "\U0001f6aa", "e\u0301 in", "5\u2032 3\u2033", "\ud7ff", "\u0660 in",
    "x" * 3000, "saw", "bench", "north", "outside", "floor", "room", "overhead", "hinged", "90",
    "45.5", "30", "360", "361", "400 cfm", "4 in wg", "1200 W", "42 lb/ft3", "8 h", "33 %",
)  # fmt: skip


class Overtime(Exception):
    """A file took longer than allowed."""


def _overtime(_signal: int, _frame: FrameType | None) -> None:
    raise Overtime


def corpus() -> list[str]:
    """The demos, the starter file and a small shop that has nearly every section."""
    from floorplan.shop.starter import starter_text

    texts = [p.read_text(encoding="utf-8") for p in sorted((HERE / "layouts").glob("*.yaml"))]
    return [*texts, starter_text("start"), starter_text("start", True), *SMALL, *SMALL, *SMALL]


SMALL = (
    """\
shop: {name: trial, date: 1 May}
tape: {plan: 1/8 in, height: 1/16 in}
room:
  size: [24', 22']
  height: 8' 6"
  posts: {post: {at: [12', 11'], size: [4", 4"]}}
  beams: {beam: {from: [0, 12'], to: [24', 12'], width: 6", bottom: 7' 8"}}
  keep clear: {hatch: {at: [1', 18'], size: [2', 2'], bottom: 0, top: 7'}}
doors:
  big door: {wall: south, at: 4', width: 16', height: 7', kind: overhead, leads to: outside}
  side door: {wall: east, at: 15', width: 36", height: 80", hand: left, leads to: outside}
fixed:
  panel: {kind: electrical panel, at: {wall: west, along: 12'}}
equipment:
  saw: {kind: cabinet table saw, at: {x: 8', y: 9', turn: 0}}
  bench:
    kind: assembly bench
    at: {x: 8', y: north of saw + 1/4 in, turn: 180}
    takes the outfeed of: saw
    outfeed: {cover: 20", gap: [0, 1"], step: [0, 1/4"]}
  shelf: {outline: [[0, 0], [36", 0], [36", 12"], [0, 12"]], height: 72", at: {x: 1', y: 1'}}
places: {stack: {x: 4', y: 4'}}
stock: {sheet: {length: 96 in, width: 48 in, thickness: 3/4 in, density: 42 lb/ft3}}
tasks: {rip: {uses: [saw], open: [big door]}}
jobs:
  cabinet:
    walk: [big door, saw, bench]
    feed: [{stock: sheet, through: saw, offset: 24 in}]
    carry: [{stock: sheet, from: big door, to: saw}]
rules: {way-out-width: 30 in}
priorities: [required rules, walking]
""",
    """\
shop: airy
units: metric
room: {walls: [{go: east, length: 5 m}, {go: north, length: 4 m}, {go: west, length: 5 m},
       {go: south, length: 4 m}], height: 2.5 m}
doors: {way: {wall: south, at: 1 m, width: 0.9 m, height: 2 m, kind: sliding, leads to: outside}}
equipment:
  planer: {kind: planer, at: {x: 2 m, y: 2 m, turn: 90}, may: move and turn, turns: [0, 90]}
  vacuum: {kind: shop vacuum, at: {x: 0.1 m, y: 3 m}}
  cupboard:
    width: 1 m
    depth: 600 mm
    height: 900 mm
    at: {wall: east, along: 2 m}
    drawers: {top: {side: front, at: 2 cm, width: 40 cm, travel: 45 cm, bottom: 70 cm, top: 85 cm}}
    doors: {leaf: {side: front, at: 50 cm, width: 45 cm, hand: right}}
    zones: {reach: {side: front, depth: 60 cm}}
    feet: {at: [[0, 0], [1 m, 0], [1 m, 0.6 m]], shortest: 2 cm, longest: 5 cm}
air:
  collector: {fan: {flow: [0 cfm, 800 cfm], pressure: [12 in wg, 2 in wg]}}
  runs:
    main: {path: [[2 m, 3 m, 2.2 m], [0.3 m, 3 m, 2.2 m]], diameter: 6 in}
    drop: {path: [[2 m, 2 m, 2 m], [2 m, 3 m, 2.2 m]], diameter: 4 in, into: main, from: planer}
floor: {readings: [{at: [0, 0], reading: 1 m}, {at: [5 m, 0], reading: 1.01 m},
        {at: [0, 4 m], reading: 1.02 m}]}
""",
)

# --- mutations -----------------------------------------------------------------------------

Mutation = Callable[[Random, str], str]


def _lines(random: Random, text: str) -> str:
    lines = text.split("\n")
    i, j = random.randrange(len(lines)), random.randrange(len(lines))
    deed = random.randrange(6)
    if deed == 0:
        del lines[i]
    elif deed == 1:
        lines.insert(j, lines[i])
    elif deed == 2:
        lines[i], lines[j] = lines[j], lines[i]
    elif deed == 3:
        lines[i] = " " * random.randrange(9) + lines[i].lstrip()
    elif deed == 4:
        lines = lines[: i + 1]
    else:
        del lines[min(i, j) : max(i, j)]
    return "\n".join(lines)


def _characters(random: Random, text: str) -> str:
    i = random.randrange(len(text) + 1)
    deed = random.randrange(4)
    if deed == 0:
        return text[:i] + text[i + random.choice((1, 1, 2, 8)) :]
    new = random.choice("[]{}:,'\"#-?|>&*!%@`\t\n 0123456789.+/abxé\u00a0\u2028\u0085\x07\ufeff")
    if deed == 1:
        return text[:i] + new + text[i + 1 :]
    if deed == 2:
        return text[:i] + new + text[i:]
    return text[:i] + new * random.choice((50, 3000)) + text[i:]


def _scalar(random: Random, text: str) -> str:
    """Another value where one stands after a colon, a bracket or a comma."""
    places = [k for k, c in enumerate(text) if c in ":[{,-"]
    i = random.choice(places) + 1
    j = i
    while j < len(text) and text[j] not in ",]}\n":
        j += 1
    return f"{text[:i]} {random.choice(ODD)}{text[j:]}"


_NUMBER = re.compile(r"\d+(\.\d+)?")
_WORDS = re.compile(r"\b(north|south|east|west|left|right|front|back|in|out|hinged|sliding)\b")


def _nudge(random: Random, text: str) -> str:
    """One number or side exchanged for another likely one: mostly still a shop."""
    found = list((_NUMBER if random.random() < 0.8 else _WORDS).finditer(text))
    if not found:
        return text
    old = random.choice(found)
    if old[0][0].isdigit():
        value = float(old[0])
        new = random.choice(
            (0, 1, 2, 45, 90, value + 1, value - 1, 2 * value, value / 2, value * 1.1, 10 * value)
        )
        written = f"{new:.6g}"
    else:
        written = random.choice(("north", "south", "east", "west", "left", "right", "front", "in"))
    return text[: old.start()] + written + text[old.end() :]


def _paths(tree: Any, at: tuple[Any, ...] = ()) -> list[tuple[Any, ...]]:
    found = [at]
    if isinstance(tree, dict):
        for key, value in tree.items():
            found += _paths(value, (*at, key))
    elif isinstance(tree, list):
        for k, value in enumerate(tree):
            found += _paths(value, (*at, k))
    return found


def _value(random: Random, depth: int = 0) -> Any:
    deed = random.randrange(10 if depth < 3 else 7)
    if deed < 5:
        return random.choice(ODD)
    if deed == 5:
        return random.choice((0, 1, -1, 1e300, -1e300, 1e-300, 10**400, True, False, None, 3.5))
    if deed == 6:
        return f"{random.uniform(-50, 500):.3f} {random.choice(('in', 'mm', 'ft', 'm', 'cm'))}"
    if deed == 7:
        return [_value(random, depth + 1) for _ in range(random.randrange(4))]
    return {str(random.choice(ODD)): _value(random, depth + 1) for _ in range(random.randrange(4))}


def _tree(random: Random, text: str) -> str:
    """The file as a tree with one value exchanged, moved or doubled, and written anew."""
    try:
        tree = yaml.load(text, Loader=yaml.BaseLoader)
    except (yaml.YAMLError, ValueError, RecursionError):
        return _scalar(random, text)
    places = [path for path in _paths(tree) if path]
    if not places:
        return text
    path, other = random.choice(places), random.choice(places)
    new = _value(random) if random.random() < 0.7 else _at(tree, other)
    holder = _at(tree, path[:-1])
    if random.random() < 0.15 and isinstance(holder, dict):
        holder[str(other[-1])] = holder.pop(path[-1])
    else:
        holder[path[-1]] = new
    try:
        return yaml.dump(tree, allow_unicode=True, sort_keys=False)
    except (ValueError, RecursionError, yaml.YAMLError):
        return text


def _at(tree: Any, path: tuple[Any, ...]) -> Any:
    for key in path:
        tree = tree[key]
    return tree


def _deep(random: Random, text: str) -> str:
    depth = random.choice((10, 100, 5000))
    opening, closing = random.choice((("[", "]"), ("{a: ", "}"), ("- ", ""), ("? ", "")))
    return text + "\nplaces: " + opening * depth + "1" + closing * depth


def schema_keys() -> list[tuple[str, ...]]:
    """Every way down the schema to a key, names of the user's standing as `own`."""
    schema = json.loads((HERE / "floorplan/shop/schema.json").read_text(encoding="utf-8"))
    found: list[tuple[str, ...]] = []

    def down(node: dict[str, Any], at: tuple[str, ...]) -> None:
        if len(at) > 6:
            return
        if "$ref" in node:
            down(schema["definitions"][node["$ref"].split("/")[-1]], at)
        for part in (*node.get("anyOf", ()), *node.get("allOf", ())):
            down(part, at)
        for key, value in node.get("properties", {}).items():
            found.append((*at, key))
            down(value, (*at, key))
        if isinstance(node.get("additionalProperties"), dict):
            down(node["additionalProperties"], (*at, "own"))
        if isinstance(node.get("items"), dict):
            down(node["items"], (*at, "[]"))

    down(schema, ())
    return found


def _keyed(keys: list[tuple[str, ...]]) -> Mutation:
    """Any value at any key of the schema, beside what the file has."""

    def mutate(random: Random, text: str) -> str:
        try:
            tree = yaml.load(text, Loader=yaml.BaseLoader)
        except (yaml.YAMLError, ValueError, RecursionError):
            return text
        if not isinstance(tree, dict):
            return text
        holder: Any = tree
        path = random.choice(keys)
        for here, after in pairwise(path):
            here = _entry(random, holder, here)
            if isinstance(holder, list):
                if not isinstance(holder[here], dict):
                    holder[here] = {}
            elif not isinstance(holder.get(here), dict | list) or random.random() < 0.02:
                holder[here] = [{}] if after == "[]" else {}
            holder = holder[here]
        holder[_entry(random, holder, path[-1])] = _value(random)
        try:
            return yaml.dump(tree, allow_unicode=True, sort_keys=False)
        except (ValueError, RecursionError, yaml.YAMLError):
            return text

    return mutate


def _entry(random: Random, holder: Any, name: str) -> Any:
    """A key of a mapping or an index of a list, there already or made."""
    if isinstance(holder, list):
        if not holder:
            holder.append({})
        return random.randrange(len(holder))
    if name in ("own", "[]"):
        return random.choice([*holder, "new"])
    return name


# --- one file ------------------------------------------------------------------------------


def outcome(text: str, judged: bool) -> str:
    """How the program takes a text: accepted, refused, judged, or what is wrong with it."""
    begin = time.process_time()
    signal.setitimer(signal.ITIMER_PROF, 3 * LONGEST)
    try:
        file = parse(text)
    except ShopFileError as wrong:
        shown = str(wrong)
        seconds = time.process_time() - begin
        if not shown.strip() or ("None" in shown and "None" not in text):
            return "FOUND refused without words"
        return "refused" if seconds < LONGEST else f"FOUND slow to refuse: {seconds:.1f} s"
    except Overtime:
        return "FOUND hang in reading"
    except Exception as wrong:
        return f"FOUND in reading: {type(wrong).__name__} at {_where(wrong)}: {str(wrong)[:80]}"
    finally:
        signal.setitimer(signal.ITIMER_PROF, 0)
    seconds = time.process_time() - begin
    if seconds > LONGEST:
        return f"FOUND slow to read: {seconds:.1f} s"
    if not judged:
        return "accepted"
    signal.setitimer(signal.ITIMER_PROF, JUDGED)
    try:
        judge(file.shop, file.layout)
    except Overtime:
        return "FOUND hang in judging"
    except Exception as wrong:
        return f"FOUND in judging: {type(wrong).__name__} at {_where(wrong)}: {str(wrong)[:80]}"
    finally:
        signal.setitimer(signal.ITIMER_PROF, 0)
    return "judged"


def _where(wrong: BaseException) -> str:
    frames = [f for f in traceback.extract_tb(wrong.__traceback__) if "/floorplan/" in f.filename]
    last = (frames or traceback.extract_tb(wrong.__traceback__))[-1]
    return f"{Path(last.filename).name}:{last.lineno} {last.name}"


EVERY = 1000
"""Files after which what was found so far is told: a long attack may be cut short."""


def arguments(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("--inputs", type=int, default=2000)
    parser.add_argument("--judge-share", type=float, default=0.1)
    parser.add_argument("--keep", type=Path, help="folder for the texts that break something")


def run(options: argparse.Namespace) -> int:
    """Try so many texts; a table of how they were taken. How many faults were found."""
    warnings.simplefilter("error")
    signal.signal(signal.SIGPROF, _overtime)
    random = Random(options.seed)
    texts = corpus()
    mutations: list[Mutation] = [_lines, _characters, _scalar, _scalar, _tree, _tree]
    keyed = _keyed(schema_keys())
    mutations += [keyed, keyed, keyed]
    counts: Counter[str] = Counter()
    began = _memory()
    for number in range(options.inputs):
        if time.monotonic() > options.deadline:
            break
        text = random.choice(texts)
        gentle = random.random() < 0.5
        for _ in range(random.choice((1, 1, 1, 2, 3))):
            change = _nudge if gentle else random.choice(mutations)
            text = change(random, text)
        if random.random() < 0.005:
            text = _deep(random, text)
        said = outcome(text, random.random() < options.judge_share)
        if said.startswith("FOUND") and not counts[said]:
            print(f"{options.seed}-{number}: {said}", file=sys.stderr, flush=True)
        if said.startswith("FOUND") and options.keep and not counts[said]:
            options.keep.mkdir(parents=True, exist_ok=True)
            path = options.keep / f"{options.seed}-{number}.yaml"
            path.write_text(text, encoding="utf-8", errors="surrogatepass")
        counts[said] += 1
        if counts.total() % EVERY == 0:
            print(f"{counts.total()} files: {dict(sorted(counts.items()))}", flush=True)
    if _memory() - began > MOST:
        counts[f"FOUND memory grew by {_memory() - began:.0f} MB"] += 1
    print(table(("how it was taken", "files"), sorted(counts.items())))
    print(f"tried {counts.total()} files; memory grew by {_memory() - began:.0f} MB at most")
    return sum(n for said, n in counts.items() if said.startswith("FOUND"))


def _memory() -> float:
    """Most memory that the process ever had [MB]."""
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
