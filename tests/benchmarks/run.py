"""Run one benchmark: python tests/benchmarks/run.py NAME [--json] [option=value ...]."""

import argparse
import importlib
import json
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


def main():
    """Run the named benchmark and print what it measured."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("name", choices=names())
    parser.add_argument("options", nargs="*", type=option, metavar="option=value")
    parser.add_argument("--json", action="store_true", help="print one JSON object")
    arguments = parser.parse_args()
    sys.path.insert(0, str(HERE.parent))
    result = importlib.import_module(f"benchmarks.{arguments.name}").run(**dict(arguments.options))
    print(json.dumps(result, indent=1) if arguments.json else table(result))


if __name__ == "__main__":
    main()
