"""The table of commands, and what happens around each of them."""

from __future__ import annotations

import argparse
import os
import sys
from collections.abc import Sequence
from difflib import get_close_matches
from typing import Any, NoReturn

from floorplan.cli.arrange import ARRANGE
from floorplan.cli.check import CHECK
from floorplan.cli.command import INTERRUPTED, OK, WRONG, Command, RefusedError
from floorplan.cli.compare import COMPARE
from floorplan.cli.ducts import DUCTS
from floorplan.cli.feet import FEET
from floorplan.cli.fix import FIX
from floorplan.cli.interrupts import NOTHING, came, loaded
from floorplan.cli.moves import MOVES
from floorplan.cli.places import LARGEST, SPOTS
from floorplan.cli.report import REPORT
from floorplan.cli.shed import SHED
from floorplan.cli.sheet import SHEET
from floorplan.cli.sources import SOURCES
from floorplan.cli.start import START

COMMANDS: tuple[Command, ...] = (
    START,
    CHECK,
    ARRANGE,
    SPOTS,
    LARGEST,
    FIX,
    SHEET,
    DUCTS,
    SHED,
    FEET,
    MOVES,
    COMPARE,
    REPORT,
    SOURCES,
)


class Parser(argparse.ArgumentParser):
    """An argument parser that takes no abbreviations and says one clear thing."""

    def __init__(self, **options: Any) -> None:
        super().__init__(allow_abbrev=False, **options)

    def error(self, message: str) -> NoReturn:
        """One clear message, exit status 2."""
        self.exit(WRONG, f"floorplan: {message}\n  try `{self.prog} --help`\n")


def parser() -> Parser:
    """The parser of all commands."""
    top = Parser(
        prog="floorplan",
        description="Decides what stands where in a small woodworking shop, and proves it.",
    )
    top.add_argument("--version", action="store_true", help="print the version")
    commands = top.add_subparsers(dest="command", metavar="COMMAND", parser_class=Parser)
    for command in COMMANDS:
        part = commands.add_parser(command.name, help=command.about, description=command.about)
        command.arguments(part)
    return top


def main(arguments: Sequence[str] | None = None) -> int:
    """Run one command and return its exit status."""
    given = list(sys.argv[1:] if arguments is None else arguments)
    try:
        return _main(given)
    except KeyboardInterrupt:
        print(NOTHING, file=sys.stderr)
        return INTERRUPTED
    except BrokenPipeError:
        # whoever read the output has enough: leave without a complaint
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return OK


def _main(given: list[str]) -> int:
    names = [command.name for command in COMMANDS]
    if given and not given[0].startswith("-") and given[0] not in names:
        print(f"floorplan: {_unknown(given[0], names)}", file=sys.stderr)
        return WRONG
    options = parser().parse_args(given)
    if options.version:
        from importlib.metadata import version

        print(f"floorplan {version('shop-floorplan')}")
        return OK
    if options.command is None:
        parser().print_help()
        return OK
    command = next(c for c in COMMANDS if c.name == options.command)
    from floorplan.shop.faults import ShopFileError

    if command not in (START, SOURCES):
        import shapely  # noqa: F401  (and numpy: what loads longest loads before there is work)
    loaded()
    try:
        status = command.run(options)
        sys.stdout.flush()
        return status
    except ShopFileError as wrong:
        print(wrong, file=sys.stderr)
    except RefusedError as wrong:
        print(f"floorplan: {wrong}", file=sys.stderr)
    except BrokenPipeError:
        raise
    except Exception as wrong:
        if came():  # what was computed with it meanwhile made another error of it
            raise KeyboardInterrupt from wrong
        if os.environ.get("FLOORPLAN_TRACE"):
            raise
        print(
            f"floorplan: this is a fault of the program, not of your file: "
            f"{type(wrong).__name__}: {wrong}\n  set FLOORPLAN_TRACE=1 to see where",
            file=sys.stderr,
        )
    return WRONG


def _unknown(word: str, names: list[str]) -> str:
    near = get_close_matches(word, names, n=1)
    hint = f"did you mean `{near[0]}`?" if near else f"commands: {', '.join(names)}"
    return f"there is no command `{word}`; {hint}"


def run() -> NoReturn:
    """Entry point of the installed command."""
    sys.exit(main())
