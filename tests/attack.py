"""Long attacks on the program, each its own command: they end with a table of what was tried.

    python tests/attack.py reader --inputs 200000
    python tests/attack.py referee --shops 1000 --scenes 10000
    python tests/attack.py shops --shops 200
    python tests/attack.py mutation --module floorplan/checks/finding.py --tests tests/...

Exit status 1 when something was found. `--seed` makes a run repeatable.
"""

from __future__ import annotations

import argparse
import sys
import time
from importlib import import_module

ATTACKS = {
    "reader": "mutated shop files: each is read or refused in words, quickly",
    "referee": "random shops and sheet scenes judged twice, by brute force and by the program",
    "shops": "generated shops of 1 to 60 things through every command",
    "mutation": "small faults planted in a module: do its tests notice?",
}


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    commands = parser.add_subparsers(dest="attack", required=True)
    modules = {}
    for name, about in ATTACKS.items():
        modules[name] = import_module(f"attacks.{name}")
        part = commands.add_parser(name, help=about, description=about)
        part.add_argument("--seed", type=int, default=1)
        part.add_argument("--seconds", type=float, default=1e9, help="stop and report after that")
        modules[name].arguments(part)
    options = parser.parse_args()
    options.deadline = time.monotonic() + options.seconds
    found = modules[options.attack].run(options)
    return 1 if found else 0


if __name__ == "__main__":
    sys.exit(main())
