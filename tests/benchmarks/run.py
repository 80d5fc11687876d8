"""Run one benchmark, or all of them with small budgets.

python tests/benchmarks/run.py NAME [--json] [option=value ...]
python tests/benchmarks/run.py all [--json | --markdown]
"""

import argparse
import importlib
import json
import os
import platform
import statistics
import sys
from pathlib import Path

HERE = Path(__file__).resolve().parent


def names():
    """Return the benchmarks there are: the modules beside this one that have a `run`."""
    return sorted(p.stem for p in HERE.glob("*.py") if "\ndef run(" in p.read_text())


def option(text):
    """Read option=value; a value is JSON if it can be, else text."""
    key, _, value = text.partition("=")
    try:
        return key, json.loads(value)
    except json.JSONDecodeError:
        return key, value


def table(result):
    """Return the rows as text, one line each, that is a Markdown table too."""
    lines = [
        result["name"],
        "",
        f"| {'case':36s} | {'method':34s} | seeds | seconds | {'median':>8s} | "
        f"{'lowest':>8s} | {'highest':>8s} |",
        f"|{'-' * 38}|{'-' * 36}|------:|--------:|---------:|---------:|---------:|",
    ]
    for row in result["rows"]:
        known = [value for value in row["values"] if value is not None]
        lowest = min(known, default=None)
        highest = max(known, default=None) if len(known) == len(row["values"]) else None
        numbers = [
            f"{'none' if value is None else format(value, '.6g'):>8s}"
            for value in (row["median"], lowest, highest)
        ]
        lines.append(
            f"| {row['case']:36s} | {row['method']:34s} | {len(row['seeds']):5d} | "
            f"{row['seconds']:7.4g} | {' | '.join(numbers)} |"
        )
    return "\n".join(lines)


def row(case, method, seeds, seconds, values):
    """Return one row; a value that was not reached is None and counts as the worst."""
    known = [float("inf") if value is None else value for value in values]
    median = statistics.median(known) if known else None
    return {
        "case": case,
        "method": method,
        "seeds": list(seeds),
        "seconds": seconds,
        "values": values,
        "median": None if median == float("inf") else median,
    }


def machine():
    """Return what the seconds depend on besides: cores, load of the last minute, versions."""
    load = round(os.getloadavg()[0], 1) if hasattr(os, "getloadavg") else None
    return {"cores": os.cpu_count(), "load": load, "python": platform.python_version()}


def one(name, options):
    """Run one benchmark."""
    return importlib.import_module(f"benchmarks.{name}").run(**options)


def every():
    """Run all benchmarks one after the other with the budget each names, as one table."""
    rows, left_out = [], []
    for name in names():
        print(f"{name} ...", file=sys.stderr, flush=True)
        try:
            module = importlib.import_module(f"benchmarks.{name}")
            found = module.run(**module.SMALL)["rows"]
        except ImportError as missing:
            left_out.append({"name": name, "why": str(missing)})
            continue
        rows += [{**each, "case": f"{name}: {each['case']}"} for each in found]
    about = {"machine": machine(), "left_out": left_out}
    return {"name": "all benchmarks, small budgets", "rows": rows, **about}


def markdown(result):
    """Return the table, or the short one of a benchmark that has one, under a heading.

    The machine and what was left out stand below.
    """
    heading, _, rest = table(result).partition("\n")
    rest = f"\n{result['short']}" if "short" in result else rest
    about = ", ".join(f"{key} {value}" for key, value in machine().items())
    skipped = [f"Left out: {each['name']}, {each['why']}." for each in result.get("left_out", ())]
    return "\n\n".join([f"## {heading}{chr(10)}{rest}", f"Machine: {about}.", *skipped])


def main():
    """Run the named benchmark and print what it measured."""
    parser = argparse.ArgumentParser(description=__doc__.partition("\n")[0])
    parser.add_argument("name", choices=[*names(), "all"])
    parser.add_argument("options", nargs="*", type=option, metavar="option=value")
    printed = parser.add_mutually_exclusive_group()
    printed.add_argument("--json", action="store_true", help="print one JSON object")
    printed.add_argument("--markdown", action="store_true", help="print a heading and the machine")
    arguments = parser.parse_args()
    if arguments.name == "all" and arguments.options:
        parser.error("all takes no options: each benchmark names its own small budget")
    sys.path.insert(0, str(HERE.parent))
    options = dict(arguments.options)
    result = every() if arguments.name == "all" else one(arguments.name, options)
    if arguments.json:
        print(json.dumps(result, indent=1))
    else:
        print(markdown(result) if arguments.markdown else table(result))


if __name__ == "__main__":
    main()
