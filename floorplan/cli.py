"""The command line: arguments in, text or JSON out, exit code back.  Nothing else prints.

Exit status: 0 passes or an answer exists; 1 something required fails or is unsure, or there is no
answer; 2 the file or the arguments are wrong; 130 interrupted, the best so far being printed.
"""

from __future__ import annotations

import argparse
import os
import sys
import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from difflib import get_close_matches
from pathlib import Path
from typing import TYPE_CHECKING, Any, NoReturn

if TYPE_CHECKING:
    from floorplan.search.placing import Progress
    from floorplan.shop.model import Shop
    from floorplan.shop.reader import ShopFile

OK, NO, WRONG, INTERRUPTED = 0, 1, 2, 130
NOT_BUILT = ("ducts", "shed", "feet", "moves", "report")
"""Commands of the plan that do not exist yet: said as such instead of being unknown."""


class RefusedError(Exception):
    """The arguments or files are wrong; the message says what would be right."""


class Parser(argparse.ArgumentParser):
    """An argument parser that takes no abbreviations and names the nearest command."""

    def __init__(self, **options: Any) -> None:
        super().__init__(allow_abbrev=False, **options)

    def error(self, message: str) -> NoReturn:
        """One clear message, exit status 2."""
        self.exit(WRONG, f"floorplan: {message}\n  try `{self.prog} --help`\n")


@dataclass(frozen=True, slots=True)
class Command:
    """One command: what it answers, its arguments, what runs."""

    name: str
    about: str
    arguments: Callable[[argparse.ArgumentParser], None]
    run: Callable[[argparse.Namespace], int]


# --- arguments -----------------------------------------------------------------------------


def _shop_argument(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("shop", metavar="SHOP", help="the shop file, `-` for standard input")
    parser.add_argument("--json", action="store_true", help="print one JSON object, SI units")
    parser.add_argument(
        "-o", "--out", metavar="DIR", help="where drawings go (default figures/NAME-of-the-file/)"
    )
    parser.add_argument("--no-figures", action="store_true", help="compute only, draw nothing")


def _arrange_arguments(parser: argparse.ArgumentParser) -> None:
    _shop_argument(parser)
    parser.add_argument(
        "--seed", type=_whole, default=1, metavar="N", help="another seed, another search"
    )
    parser.add_argument(
        "--effort", type=_positive, default=None, metavar="N", help="work to spend, not seconds"
    )
    parser.add_argument(
        "--seconds", type=_seconds, default=None, metavar="S", help="stop after so many seconds"
    )
    parser.add_argument(
        "--show", type=_positive, default=3, metavar="N", help="how many layouts (default 3)"
    )
    parser.add_argument(
        "--write", metavar="FILE", help="write a layout as a shop file, comments kept"
    )
    parser.add_argument(
        "--rank", type=_positive, default=1, metavar="N", help="which layout to write (default 1)"
    )


def _start_arguments(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("file", metavar="FILE", help="the shop file to write; must not exist yet")
    parser.add_argument("--metric", action="store_true", help="millimetres instead of feet")


def _sources_arguments(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("--json", action="store_true", help="print one JSON object, SI units")


def _whole(text: str) -> int:
    if not text.isdigit():
        raise argparse.ArgumentTypeError(f"`{text}` is not a whole number from 0")
    return int(text)


def _positive(text: str) -> int:
    if not text.isdigit() or int(text) < 1:
        raise argparse.ArgumentTypeError(f"`{text}` is not a whole number from 1")
    return int(text)


def _seconds(text: str) -> float:
    try:
        value = float(text)
    except ValueError:
        value = -1.0
    if not 0.0 < value < 1e6:
        raise argparse.ArgumentTypeError(f"`{text}` is not a number of seconds")
    return value


# --- commands ------------------------------------------------------------------------------


def _start(options: argparse.Namespace) -> int:
    from floorplan.shop.starter import starter_text

    path = Path(options.file)
    name = path.stem.replace("-", " ").replace("_", " ") or "my shop"
    text = starter_text(name, metric=options.metric)
    try:
        with path.open("x", encoding="utf-8", newline="\n") as file:
            file.write(text)
    except FileExistsError:
        raise RefusedError(f"{path} is there already and stays; name another file") from None
    except OSError as wrong:
        raise RefusedError(f"{path} cannot be written: {wrong.strerror}") from None
    print(f"{path} is written.  Change it to your shop, then: floorplan check {path}")
    return OK


def _check(options: argparse.Namespace) -> int:
    file = _load(options.shop)
    from floorplan.checks.judge import judge
    from floorplan.report.data import dump, envelope
    from floorplan.report.text import check_text

    judgement = judge(file.shop, file.layout)
    cautions = _cautions(file.shop)
    files: tuple[Path, ...] = ()
    if not options.no_figures:
        from floorplan.drawing.sheets import check_sheet

        files = _draw(lambda: check_sheet(judgement, _out(options, file), "check"))
    if options.json:
        print(dump(envelope("check", judgement, cautions, files)))
    else:
        print(check_text(judgement, cautions, files), end="")
    return OK if judgement.verdict == "passes" else NO


def _arrange(options: argparse.Namespace) -> int:
    file = _load(options.shop)
    from floorplan.report.data import arrangement, dump, envelope
    from floorplan.report.text import arrange_text
    from floorplan.search.arrange import EFFORT, arrange

    target = _write_target(options, file)
    found = arrange(
        file.shop,
        file.layout,
        seed=options.seed,
        effort=options.effort or EFFORT,
        seconds=options.seconds,
        show=max(options.show, options.rank),
        on_progress=_Told(),
    )
    files: tuple[Path, ...] = ()
    if target is not None:
        files += (_write(file, found.layouts, options.rank, target),)
    if not options.no_figures and found.layouts:
        from floorplan.drawing.sheets import ranked_sheets

        files += _draw(lambda: ranked_sheets(found.layouts, found.today, _out(options, file)))
    cautions = _cautions(file.shop)
    best = found.layouts[0].judgement if found.layouts else found.today
    if options.json:
        data = envelope("arrange", best, cautions, files, arrange=arrangement(found))
        print(dump({**data, **data.pop("arrange")}))
    else:
        print(arrange_text(found, cautions, files), end="")
    if found.interrupted:
        return INTERRUPTED
    return OK if found.layouts and best.verdict == "passes" else NO


def _sheet(options: argparse.Namespace) -> int:
    file = _load(options.shop)
    from floorplan.report.data import dump
    from floorplan.report.sheet import (
        asks_for_sheets,
        sheet_answer,
        sheet_data,
        sheet_sheets,
        sheet_text,
    )

    if not asks_for_sheets(file.shop):
        raise RefusedError(
            "no job carries or feeds anything; add `carry: {stock: ..., from: ..., to: ...}` "
            "to a job in the shop file"
        )
    answer = sheet_answer(file.shop, file.layout)
    cautions = _cautions(file.shop)
    files: tuple[Path, ...] = ()
    if not options.no_figures:
        files = _draw(lambda: sheet_sheets(answer, _out(options, file)))
    if options.json:
        print(dump(sheet_data(answer, cautions, files)))
    else:
        print(sheet_text(answer, cautions, files), end="")
    return OK if answer.judgement.verdict == "passes" else NO


def _sources(options: argparse.Namespace) -> int:
    from floorplan.report.sources import sources_data, sources_text

    if options.json:
        from floorplan.report.data import dump

        print(dump(sources_data()))
    else:
        print(sources_text(), end="")
    return OK


COMMANDS: tuple[Command, ...] = (
    Command("start", "write a commented shop file to begin from", _start_arguments, _start),
    Command("check", "does the shop work as it stands?", _shop_argument, _check),
    Command("arrange", "search placements and draw ranked layouts", _arrange_arguments, _arrange),
    Command("sheet", "the way of sheets: in, carried, fed, supported", _shop_argument, _sheet),
    Command("sources", "every rule and constant with its source", _sources_arguments, _sources),
)


# --- shared by the commands ------------------------------------------------------------------


def _load(path: str) -> ShopFile:
    from floorplan.shop.reader import load

    return load(path)


def _out(options: argparse.Namespace, file: ShopFile) -> Path:
    if options.out:
        return Path(options.out)
    stem = "stdin" if file.path == "<stdin>" else Path(file.path).stem
    return Path("figures") / stem


def _draw(draw: Callable[[], Sequence[Path]]) -> tuple[Path, ...]:
    try:
        return tuple(draw())
    except OSError as wrong:
        raise RefusedError(
            f"the drawings cannot be written: {wrong.strerror or wrong} ({wrong.filename}); "
            "name another folder with -o, or use --no-figures"
        ) from None


def _cautions(shop: Shop) -> tuple[str, ...]:
    from floorplan.rules.cautions import cautions

    topics = ["measure"]
    if any(keep.rule.startswith("panel") for t in shop.things for keep in t.keep_clears):
        topics.append("panel")
    if any(keep.rule.startswith("appliance") for t in shop.things for keep in t.keep_clears):
        topics.append("flames")
    if shop.doors:
        topics.append("way out")
    if any(thing.cutter is not None for thing in shop.things):
        topics.extend(("saw", "dust"))
    if shop.stock:
        topics.append("sheet")
    return tuple(dict.fromkeys((*cautions(), *cautions(*topics))))


def _write_target(options: argparse.Namespace, file: ShopFile) -> Path | None:
    """Where a layout is to be written, refused before the search begins."""
    if not options.write:
        return None
    target = Path(options.write)
    same = file.path != "<stdin>" and target.exists() and target.samefile(file.path)
    if target.exists() and not same:
        raise RefusedError(f"{target} is there already and stays as it is; name another file")
    if not target.parent.is_dir():
        raise RefusedError(f"there is no folder {target.parent} to write {target.name} into")
    return target


def _write(file: ShopFile, layouts: Sequence[Any], number: int, target: Path) -> Path:
    from floorplan.shop.edit import write_beside_then_replace
    from floorplan.shop.writer import with_layout

    if number > len(layouts):
        raise RefusedError(f"there is no rank {number}: {len(layouts)} layouts were found")
    text = with_layout(file, layouts[number - 1].layout)
    try:
        write_beside_then_replace(target, text)
    except OSError as wrong:
        raise RefusedError(f"{target} cannot be written: {wrong.strerror}") from None
    return target


class _Told:
    """Progress of a search on standard error: the first layout found, then a running line."""

    def __init__(self) -> None:
        self.began = time.perf_counter()
        self.last = 0.0
        self.found = False
        self.live = sys.stderr.isatty()

    def __call__(self, what: str, progress: Progress) -> None:
        now = time.perf_counter() - self.began
        if not self.found and progress.best != float("inf"):
            self.found = True
            self._say(f"first feasible layout after {now:.1f} s")
        if self.live and now - self.last > 0.2:
            self.last = now
            share = 100.0 * progress.tried / max(progress.effort, 1)
            print(
                f"\r{what}: {share:3.0f} %, {progress.tried} placements tried, {now:.0f} s ",
                end="",
                file=sys.stderr,
                flush=True,
            )
            if progress.tried >= progress.effort:
                print(file=sys.stderr)

    def _say(self, text: str) -> None:
        print(("\r" if self.live else "") + text, file=sys.stderr, flush=True)


# --- main ------------------------------------------------------------------------------------


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
        print("floorplan: interrupted before there was anything to show", file=sys.stderr)
        return INTERRUPTED
    except BrokenPipeError:
        # whoever read the output has enough: leave without a complaint
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return OK


def _main(given: list[str]) -> int:
    names = [command.name for command in COMMANDS]
    first = next((word for word in given if not word.startswith("-")), None)
    if first is not None and first not in names:
        raise SystemExit(_unknown(first, names))
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

    try:
        status = command.run(options)
        sys.stdout.flush()
        return status
    except ShopFileError as wrong:
        print(wrong, file=sys.stderr)
    except RefusedError as wrong:
        print(f"floorplan: {wrong}", file=sys.stderr)
    return WRONG


def _unknown(word: str, names: list[str]) -> int:
    if word in NOT_BUILT:
        print(f"floorplan: `{word}` is planned but not built yet", file=sys.stderr)
        return WRONG
    near = get_close_matches(word, names, n=1)
    hint = f"did you mean `{near[0]}`?" if near else f"commands: {', '.join(names)}"
    print(f"floorplan: there is no command `{word}`; {hint}", file=sys.stderr)
    return WRONG


def run() -> NoReturn:
    """Entry point of the installed command."""
    sys.exit(main())


if __name__ == "__main__":
    run()
