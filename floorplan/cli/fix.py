"""`fix`: the smallest change that makes a failing shop pass."""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import TYPE_CHECKING

from floorplan.cli.command import (
    NO,
    OK,
    Command,
    at_stage,
    cautions_for,
    drawn,
    load_plan,
    out_folder,
    positive,
    shop_arguments,
    told,
)

if TYPE_CHECKING:
    from floorplan.shop.reader import ShopFile


def _arguments(parser: argparse.ArgumentParser) -> None:
    shop_arguments(parser)
    parser.add_argument(
        "--show", type=positive, default=5, metavar="N", help="how many changes (default 5)"
    )


def _run(options: argparse.Namespace) -> int:
    file = load_plan(options)
    if file.shop.plan is not None and options.stage is None:
        return _all_stages(options, file)
    file = at_stage(file, options.stage)
    from floorplan.report.data import envelope
    from floorplan.report.fix import fix_data, fix_text
    from floorplan.search.fix import fix

    found = fix(file, most=options.show)
    cautions = cautions_for(file.shop)

    def draw():  # type: ignore[no-untyped-def]
        from floorplan.drawing.sheets import check_sheet

        best = found.changes[0].verified if found.changes else found.today
        return check_sheet(best, out_folder(options, file), "fix")

    files = drawn(options, draw)
    told(
        options,
        lambda: envelope(
            "fix", found.today, cautions, files, supposed=list(file.supposed), **fix_data(found)
        ),
        lambda: fix_text(found, cautions, files),
    )
    works = found.today.verdict == "passes" or bool(found.changes)
    return OK if works else NO


def _all_stages(options: argparse.Namespace, file: ShopFile) -> int:
    """A change has to hold at every stage."""
    from floorplan.report.fix import staged_fix_data, staged_fix_text
    from floorplan.report.stages import staged_envelope
    from floorplan.search.fix_stages import fix_at_all

    found = fix_at_all(file, most=options.show)
    cautions = cautions_for(file.shop)

    def draw() -> tuple[Path, ...]:
        from floorplan.drawing.stages import stages_sheet

        best, why = found.today, "As it stands now."
        if found.changes:
            best, why = found.changes[0].verified, f"After this: {found.changes[0].text}."
        return stages_sheet(best, out_folder(options, file), "fix", why=why)

    files = drawn(options, draw)
    told(
        options,
        lambda: staged_envelope(
            "fix", found.today, cautions, files,
            supposed=list(file.supposed), **staged_fix_data(found),
        ),
        lambda: staged_fix_text(found, cautions, files),
    )  # fmt: skip
    works = found.today.verdict == "passes" or bool(found.changes)
    return OK if works else NO


FIX = Command("fix", "the smallest change that makes it pass", _arguments, _run)
