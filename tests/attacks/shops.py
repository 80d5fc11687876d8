"""Strange shops through every command, in words and as JSON: what is said must hang together.

A finding's verdict follows from its margin and error, the exit status from the verdict; words and
JSON agree; every number is finite; what `spots`, `fix` and `arrange` offer is judged again.
"""

from __future__ import annotations

import argparse
import io
import json
import sys
import tempfile
import time
from collections import Counter
from collections.abc import Iterator
from contextlib import redirect_stderr, redirect_stdout
from pathlib import Path
from random import Random
from typing import Any

from attacks.strange import StrangeShop
from attacks.table import table
from floorplan.checks.judge import judge
from floorplan.cli.main import main
from floorplan.shop.reader import load

TOLERANCE = 1e-5
KEYS = {"version", "command", "shop", "verdict", "findings", "measures", "cautions", "files"}
BLOCKS = {
    "check": (), "arrange": ("layouts", "today", "seed", "tried"), "spots": ("spots",),
    "largest": ("largest",), "fix": ("fix",), "sheet": ("sheet",), "ducts": ("ducts",),
    "feet": ("feet",), "report": (), "compare": (),
}  # fmt: skip


def said(*arguments: str) -> tuple[int, str, str]:
    """Exit status, output and errors of one command."""
    out, err = io.StringIO(), io.StringIO()
    with redirect_stdout(out), redirect_stderr(err):
        try:
            status = main(arguments)
        except SystemExit as left:
            status = int(left.code or 0)
    return status, out.getvalue(), err.getvalue()


def commands(file: str, thing: str | None, folder: str, draw: bool) -> Iterator[tuple[str, ...]]:
    """Every command on one file; `draw` makes figures too."""
    paper = ("-o", folder) if draw else ("--no-figures",)
    yield ("check", file, *paper)
    yield ("sheet", file, *paper)
    yield ("ducts", file, *paper)
    if thing is not None:
        yield ("spots", file, thing, *paper)
        yield ("largest", file, thing, *paper)
        yield ("feet", file, thing, *paper)
    yield ("fix", file, *paper)
    yield ("arrange", file, "--effort", "40", "--seconds", "6", *paper)
    if draw:
        yield ("report", file, *paper)
    yield ("compare", file, file, *paper)


def faults(arguments: tuple[str, ...]) -> Iterator[str]:
    """What does not hang together in the answer of one command."""
    status, out, err = said(*arguments, "--json")
    if "fault of the program" in err or "Traceback" in err:
        yield f"crash: {err.strip().splitlines()[0][:160]}"
        return
    if status == 2:
        if out.strip() or not err.strip():
            yield "refused, yet something on stdout or nothing on stderr"
        return
    if status not in (0, 1):
        yield f"status {status}"
        return
    try:
        data = json.loads(out, parse_constant=lambda text: (_ for _ in ()).throw(ValueError(text)))
    except ValueError as wrong:
        yield f"no JSON: {wrong}"
        return
    yield from _envelope(arguments[0], status, data)
    plain, words, _ = said(*arguments)
    if plain != status and arguments[0] != "arrange":
        yield f"status {status} with --json, {plain} without"
    for odd in (" nan", " inf", "None", '-0"', "{have}", "{need}", "{spare}", "e-0", "Affine("):
        if odd in words:
            yield f"`{odd.strip()}` in the words"


def _envelope(command: str, status: int, data: dict[str, Any]) -> Iterator[str]:
    missing = (KEYS | set(BLOCKS[command])) - set(data)
    if missing:
        yield f"no {sorted(missing)} in the JSON"
        return
    if command == "check" and (status == 0) is not (data["verdict"] == "passes"):
        yield f"status {status}, verdict {data['verdict']}"
    for name in data["files"]:
        if not Path(name).is_file():
            yield f"no file {name}"
    required = [f["verdict"] for f in data["findings"] if f["kind"] == "required"]
    worst = "fails" if "fails" in required else "unsure" if "unsure" in required else "passes"
    if command == "check" and worst != data["verdict"]:
        yield f"verdict {data['verdict']}, worst required finding {worst}"
    for f in data["findings"]:
        yield from _finding(f)


def _finding(f: dict[str, Any]) -> Iterator[str]:
    margin, error = f["margin"], f["error"]
    slack = TOLERANCE + 2e-6
    if margin is not None and f["unit"] == "m":
        if f["verdict"] == "passes" and margin < error - slack:
            yield f"passes with margin {margin}, error {error}: {f['message']}"
        if f["verdict"] == "fails" and margin > -error + slack:
            yield f"fails with margin {margin}, error {error}: {f['message']}"
    if None not in (margin, f["measured"], f["needed"]):
        off = abs(abs(f["measured"] - f["needed"]) - abs(margin))
        if off > 1e-5:
            yield f"measured, needed and margin disagree: {f['message']}"
    if not f["message"] or not f["about"]:
        yield f"a finding without words or names: {f['rule']}"
    if f["where"] is not None and not {"type"} <= set(f["where"]):
        yield f"no place: {f['message']}"


# --- what is offered is judged again -------------------------------------------------------


def offers(path: Path, thing: str | None, random: Random) -> Iterator[str]:
    """Places said to be certain pass; places outside of all that was said do not."""
    from shapely.geometry import Point

    from floorplan.search.spots import spots

    if thing is None:
        return
    file = load(path)
    found = spots(file.shop, file.layout, thing)
    west, south, east, north = judge(file.shop, file.layout).scene.floor.bounds
    for turn in found.turns:
        sure, doubtful = turn.region, turn.unsure
        tried: list[tuple[float, float]] = []
        for part in sure.geoms:
            inside = part.representative_point()
            tried += [(inside.x, inside.y), *random.sample(list(part.exterior.coords), 1)]
        tried += [(random.uniform(west, east), random.uniform(south, north)) for _ in range(4)]
        for x, y in tried[:10]:
            layout = found.subject.placed(x, y, turn.turn)
            bad = [
                f
                for f in judge(file.shop, layout).findings
                if f.kind == "required" and f.verdict != "passes" and _mine(f, thing)
            ]
            at = f"{thing} at {x:.6f}, {y:.6f}, turn {turn.turn:g}"
            where = Point(x, y)
            for f in bad:
                # a way out that is lost without the thing does not count against its places
                lost = f.check == "way-out" and f.about[0] in found.lost
                if sure.distance(where) <= 1e-9 and f.verdict == "fails" and not lost:
                    yield f"spots: certain, yet fails: {at}: {f.message}"
            near = min((s.distance(where) for s in (sure, doubtful, *turn.segments, *turn.points)
                        if not s.is_empty), default=9.0)  # fmt: skip
            if near > 1e-3 and not bad:
                yield f"spots: said to fail by {near:.4f} m, yet nothing fails: {at}"


def _mine(finding: Any, thing: str) -> bool:
    """Whether the place of this thing may answer for a finding."""
    if finding.check == "way-out":
        return True
    return finding.check not in ("carrying", "support", "airflow") and thing in finding.about


# --- running -------------------------------------------------------------------------------


def arguments(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("--shops", type=int, default=20)
    parser.add_argument("--most-things", type=int, default=60)
    parser.add_argument("--draw-share", type=float, default=0.1)
    parser.add_argument("--keep", type=Path, help="folder for the shops that break something")
    parser.add_argument("--files", type=Path, nargs="*", help="these files instead")


def texts(options: argparse.Namespace, random: Random) -> Iterator[str]:
    if options.files:
        yield from (p.read_text(encoding="utf-8") for p in options.files)
        return
    for _ in range(options.shops):
        most = random.choice((1, 3, 8, 20, options.most_things))
        yield StrangeShop(random, random.randint(1, most)).text()


def run(options: argparse.Namespace) -> int:
    """Every command on every shop; a table of faults. How many were found."""
    random = Random(options.seed)
    tried: Counter[str] = Counter()
    found: Counter[str] = Counter()
    refused = 0
    with tempfile.TemporaryDirectory() as folder:
        for number, text in enumerate(texts(options, random)):
            if time.monotonic() > options.deadline:
                break
            path = Path(folder) / "shop.yaml"
            path.write_text(text, encoding="utf-8")
            told = list(_one(path, folder, random, random.random() < options.draw_share, tried))
            refused += told == ["refused"]
            for fault in told if told != ["refused"] else ():
                print(f"shop {options.seed}-{number}: {fault}", file=sys.stderr, flush=True)
                found[fault.split(":")[0]] += 1
                if options.keep:
                    options.keep.mkdir(parents=True, exist_ok=True)
                    (options.keep / f"{options.seed}-{number}.yaml").write_text(text, "utf-8")
    print(table(("command", "runs"), sorted(tried.items())))
    print(f"{refused} shops refused by the reader")
    print(table(("found", "times"), found.most_common()) if found else "nothing found")
    return sum(found.values())


def _one(path: Path, folder: str, random: Random, draw: bool, tried: Counter[str]) -> Iterator[str]:
    status, _, err = said("check", str(path), "--no-figures", "--json")
    if status == 2:
        yield f"crash: {err[:160]}" if "fault of the program" in err else "refused"
        return
    file = load(path)
    things = [t.name for t in file.shop.things if not t.fixed]
    thing = random.choice(things) if things else None
    for command in commands(str(path), thing, folder, draw):
        begin = time.process_time()
        yield from (f"{command[0]}: {fault}" for fault in faults(command))
        tried[command[0]] += 1
        seconds = time.process_time() - begin
        if seconds > 60:
            yield f"{command[0]}: slow: {seconds:.0f} s"
    try:
        yield from offers(path, thing, random)
    except Exception as wrong:
        yield f"offers: {type(wrong).__name__}: {wrong}"
    tried["judged again"] += 1
