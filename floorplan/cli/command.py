"""What every command shares: its shape, its usual arguments, loading, drawing, cautions.

Exit status: 0 passes or an answer exists; 1 something required fails or is unsure, or there is no
answer; 2 the file or the arguments are wrong; 130 interrupted, the best so far being printed.
"""

from __future__ import annotations

import argparse
import sys
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from difflib import get_close_matches
from pathlib import Path
from typing import TYPE_CHECKING, Any

from floorplan.cli.interrupts import INTERRUPTED as INTERRUPTED

if TYPE_CHECKING:
    from floorplan.shop.model import Shop
    from floorplan.shop.reader import ShopFile

OK, NO, WRONG = 0, 1, 2


class RefusedError(Exception):
    """The arguments or files are wrong; the message says what would be right."""


@dataclass(frozen=True, slots=True)
class Command:
    """One command: what it answers, its arguments, what runs."""

    name: str
    about: str
    arguments: Callable[[argparse.ArgumentParser], None]
    run: Callable[[argparse.Namespace], int]


# --- arguments -----------------------------------------------------------------------------


def shop_arguments(parser: argparse.ArgumentParser) -> None:
    """The shop file, how to answer, and what to suppose."""
    parser.add_argument("shop", metavar="SHOP", help="the shop file, `-` for standard input")
    output_arguments(parser)
    stage_argument(parser)
    supposed = parser.add_argument_group("what if, without touching the file")
    supposed.add_argument(
        "--set", action="append", default=[], metavar="RULE=VALUE", help="another value of a rule"
    )
    supposed.add_argument(
        "--without", action="append", default=[], metavar="THING", help="the shop without a thing"
    )
    supposed.add_argument(
        "--size",
        action="append",
        default=[],
        metavar="THING=SIZE",
        help="a thing of another size, as in `bench=60x30 in`",
    )
    supposed.add_argument(
        "--replace",
        action="append",
        default=[],
        metavar="THING=KIND",
        help="another kind in its place",
    )


def stage_argument(parser: argparse.ArgumentParser) -> None:
    """Which stage of a plan is meant."""
    parser.add_argument(
        "--stage", metavar="NAME", help="one stage of the plan (default: the first, or all)"
    )


def output_arguments(parser: argparse.ArgumentParser) -> None:
    """JSON or words, and where drawings go."""
    parser.add_argument("--json", action="store_true", help="print one JSON object, SI units")
    parser.add_argument(
        "-o", "--out", metavar="DIR", help="where drawings go (default figures/NAME-of-the-file/)"
    )
    parser.add_argument("--no-figures", action="store_true", help="compute only, draw nothing")


def whole(text: str) -> int:
    """A whole number from 0."""
    if not (text.isascii() and text.isdigit()):
        raise argparse.ArgumentTypeError(f"`{text}` is not a whole number from 0")
    return int(text)


def positive(text: str) -> int:
    """A whole number from 1."""
    if not (text.isascii() and text.isdigit()) or int(text) < 1:
        raise argparse.ArgumentTypeError(f"`{text}` is not a whole number from 1")
    return int(text)


def seconds(text: str) -> float:
    """A time [s]."""
    try:
        value = float(text)
    except ValueError:
        value = -1.0
    if not 0.0 < value < 1e6:
        raise argparse.ArgumentTypeError(f"`{text}` is not a number of seconds")
    return value


# --- running -------------------------------------------------------------------------------


def load_shop(options: argparse.Namespace) -> ShopFile:
    """The shop file at one stage, with what the arguments suppose; the first stage of a plan.

    Raises ShopFileError, RefusedError.
    """
    return at_stage(load_plan(options), options.stage)


def at_stage(file: ShopFile, name: str | None) -> ShopFile:
    """A file at a stage of its plan, by default the first. Raises RefusedError."""
    from floorplan.shop.stages import stages_of

    names = [stage.name for stage in stages_of(file.shop)]
    if name is None:
        return _at(file, 0)
    folded = " ".join(name.split())
    if not names:
        raise RefusedError(f"{file.path} has no two stages of which `{folded}` could be one")
    if folded not in names:
        near = get_close_matches(folded, names, n=1)
        hint = f"did you mean `{near[0]}`?" if near else f"stages: {', '.join(names)}"
        raise RefusedError(f"there is no stage `{folded}` in {file.path}; {hint}")
    return _at(file, names.index(folded))


def _at(file: ShopFile, stage: int) -> ShopFile:
    """A file at a stage, what is found at later ones kept free."""
    made = file.at(stage)
    if file.shop.plan is None or file.shop.air is None or file.shop.air.find is None:
        return made
    from floorplan.checks.duct_later import stage_with_strips

    return replace(made, shop=stage_with_strips(file.shop, file.layout, stage))


def load_with(options: argparse.Namespace, thing: str) -> ShopFile:
    """The shop file at the stage asked for, else at the first in which a thing is there.

    Raises ShopFileError, RefusedError.
    """
    plan = load_plan(options)
    folded = " ".join(thing.split())
    if options.stage is not None or plan.shop.plan is None or not plan.shop.has(folded):
        return at_stage(plan, options.stage)
    return _at(plan, plan.shop.plan.span("thing", folded).first)


def load_stages(options: argparse.Namespace, thing: str) -> list[ShopFile]:
    """The shop file at the stage asked for, else at each at which a thing is there.

    Raises ShopFileError, RefusedError.
    """
    plan = load_plan(options)
    folded = " ".join(thing.split())
    if options.stage is not None or plan.shop.plan is None or not plan.shop.has(folded):
        return [at_stage(plan, options.stage)]
    span = plan.shop.plan.span("thing", folded)
    return [_at(plan, number) for number in range(span.first, span.last + 1)]


def load_plan(options: argparse.Namespace) -> ShopFile:
    """The shop file with all its stages, and with what the arguments suppose.

    Raises ShopFileError, RefusedError.
    """
    from floorplan.shop.reader import load
    from floorplan.shop.whatif import WhatIf, WhatIfError

    try:
        changes = WhatIf.from_texts(
            set=options.set, without=options.without, size=options.size, replace=options.replace
        )
        return load(options.shop, changes if changes else None)
    except WhatIfError as wrong:
        raise RefusedError(str(wrong)) from None


def write_target(options: argparse.Namespace, file: ShopFile) -> Path | None:
    """Where `--write` is to write, refused before any work begins. Raises RefusedError."""
    if not options.write:
        return None
    if file.supposed:
        raise RefusedError("--write goes with the file as it is, not with what is supposed")
    target = Path(options.write)
    same = file.path != "<stdin>" and target.exists() and target.samefile(file.path)
    if target.exists() and not same:
        raise RefusedError(f"{target} is there already and stays as it is; name another file")
    if not target.parent.is_dir():
        raise RefusedError(f"there is no folder {target.parent} to write {target.name} into")
    return target


def named_thing(file: ShopFile, name: str) -> str:
    """A thing of the shop. Raises RefusedError that names the nearest."""
    folded = " ".join(name.split())
    if file.shop.has(folded):
        return folded
    names = [thing.name for thing in file.shop.things]
    stage = file.shop.stage
    where = file.path if stage is None else f"stage {stage.name} of {file.path}"
    near = get_close_matches(folded, names, n=1)
    hint = f"did you mean `{near[0]}`?" if near else f"things: {', '.join(names)}"
    raise RefusedError(f"there is no thing `{folded}` in {where}; {hint}")


def out_folder(options: argparse.Namespace, file: ShopFile) -> Path:
    """Where drawings go."""
    if options.out:
        return Path(options.out)
    stem = "stdin" if file.path == "<stdin>" else Path(file.path).stem
    return Path("figures") / stem


def drawn(options: argparse.Namespace, draw: Callable[[], Sequence[Path]]) -> tuple[Path, ...]:
    """The files a drawing made, none when none are wanted. Raises RefusedError."""
    if options.no_figures:
        return ()
    try:
        return tuple(draw())
    except ValueError as wrong:
        # the answer stands without its drawing: a building too large for every sheet, say
        print(f"floorplan: not drawn: {wrong}", file=sys.stderr)
        return ()
    except OSError as wrong:
        raise RefusedError(
            f"the drawings cannot be written: {wrong.strerror or wrong} ({wrong.filename}); "
            "name another folder with -o, or use --no-figures"
        ) from None


def told(
    options: argparse.Namespace, data: Callable[[], dict[str, Any]], text: Callable[[], str]
) -> None:
    """Print the answer as one JSON object or in words."""
    if options.json:
        from floorplan.report.data import dump

        print(dump(data()))
    else:
        print(text(), end="")


def cautions_for(shop: Shop, *more: str) -> tuple[str, ...]:
    """The cautions that concern what stands in this shop, and those on further topics."""
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
    if shop.power is not None:
        topics.append("cords")
    return tuple(dict.fromkeys((*cautions(), *cautions(*topics, *more))))
