"""`compare`: shops or layouts side by side, what each wins and loses."""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import TYPE_CHECKING

from floorplan.cli.command import (
    NO,
    OK,
    Command,
    RefusedError,
    at_stage,
    cautions_for,
    output_arguments,
    stage_argument,
    told,
)

if TYPE_CHECKING:
    from floorplan.shop.reader import ShopFile


def _arguments(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("shops", metavar="SHOP", nargs="+", help="two or more shop files")
    output_arguments(parser)
    stage_argument(parser)


def _run(options: argparse.Namespace) -> int:
    if len(options.shops) < 2:
        raise RefusedError("`compare` needs two shop files or more")
    from floorplan.shop.reader import load

    files = [_at(load(path), options.stage) for path in options.shops]
    from floorplan.checks.judge import judge
    from floorplan.report.compare import compare_data, compare_text
    from floorplan.report.data import envelope
    from floorplan.search.compare import compare

    names = _names([file.path for file in files])
    judged = [judge(file.shop, file.layout) for file in files]
    found = compare(list(zip(names, judged, strict=True)))
    cautions = cautions_for(files[0].shop)
    told(
        options,
        lambda: envelope("compare", judged[0], cautions, (), compare=compare_data(found)),
        lambda: compare_text(found, cautions, ()),
    )
    return OK if all(j.verdict == "passes" for j in judged) else NO


def _at(file: ShopFile, stage: str | None) -> ShopFile:
    """The file at the stage asked for; a file without a plan is the same at every stage."""
    return file if file.shop.plan is None else at_stage(file, stage)


def _names(paths: list[str]) -> list[str]:
    """Short names of files that differ from each other."""
    stems = [Path(path).stem for path in paths]
    if len(set(stems)) == len(stems):
        return stems
    return [f"{path} ({i})" if paths.count(path) > 1 else path for i, path in enumerate(paths, 1)]


COMPARE = Command("compare", "what each of several shops wins and loses", _arguments, _run)
