"""Arguments of a printed set: which paper, which scale."""

from __future__ import annotations

import argparse
import re
from fractions import Fraction
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from floorplan.drawing.arrangement import Printing
    from floorplan.units import System

PAPERS = (
    "letter", "tabloid", "arch-b", "ansi-c", "arch-c", "ansi-d", "arch-d",
    "a4", "a3", "a2", "a1",
)  # fmt: skip
"""As the drawings know them; named here so that help does not wait for them."""
FIT = 0
"""The largest of the usual scales at which a plan fits on the paper."""
_TO_A_FOOT = re.compile(r"(\d+(?:/\d+)?)\s*(?:in|\")?")
_RATIO = re.compile(r"1\s*:\s*(\d+)")


def printing_arguments(parser: argparse.ArgumentParser) -> None:
    """What goes with `--print`."""
    add = parser.add_argument_group("all sheets as one PDF, to scale").add_argument
    add("--print", action="store_true", help="plan, tape, ways, air, feet and notes as one PDF")
    add("--paper", type=paper_name, metavar="NAME", help=f"{', '.join(PAPERS)}")
    add(
        "--scale", type=scale_ratio, metavar="SCALE",
        help="`1/4` (inch to a foot), `1:50` or `fit`; a plan too large for the paper at a scale "
        "asked for is cut into sheets that overlap",
    )  # fmt: skip


def paper_name(text: str) -> str:
    """One of the papers."""
    name = text.strip().lower()
    if name not in PAPERS:
        raise argparse.ArgumentTypeError(f"`{text}` is no paper known; one of {', '.join(PAPERS)}")
    return name


def scale_ratio(text: str) -> int:
    """`1/4` is 48, `1:50` is 50, `fit` is 0."""
    given = text.strip().lower()
    if given == "fit":
        return FIT
    ratio = Fraction(0)
    if found := _RATIO.fullmatch(given):
        ratio = Fraction(int(found[1]))
    elif (found := _TO_A_FOOT.fullmatch(given)) and not re.search(r"/0+$", found[1]):
        inches = Fraction(found[1])
        ratio = 12 / inches if inches else Fraction(0)
    if not 5 <= ratio <= 1000 or ratio.denominator != 1:
        raise argparse.ArgumentTypeError(
            f"`{text}` is no scale; write `1/4` for 1/4 in = 1 ft, `1:50`, or `fit`"
        )
    return int(ratio)


def printing_for(options: argparse.Namespace, system: System) -> Printing:
    """What was asked for, else 1/4 in = 1 ft on Letter or 1:50 on A4, coarser where need be."""
    from floorplan.drawing.arrangement import RATIOS, Printing
    from floorplan.drawing.page import PAPERS as SHEETS
    from floorplan.units import System

    metric = system is System.METRIC
    paper = SHEETS[options.paper or ("a4" if metric else "letter")]
    if options.scale is None:
        return Printing(paper, 50 if metric else 48)
    if options.scale == FIT:
        return Printing(paper, RATIOS[system][0])
    return Printing(paper, options.scale, exact=True)
