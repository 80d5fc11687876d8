"""`fix`: the smallest change that makes a failing shop pass."""

from __future__ import annotations

import argparse

from floorplan.cli.command import (
    NO,
    OK,
    Command,
    cautions_for,
    drawn,
    load_shop,
    out_folder,
    positive,
    shop_arguments,
    told,
)


def _arguments(parser: argparse.ArgumentParser) -> None:
    shop_arguments(parser)
    parser.add_argument(
        "--show", type=positive, default=5, metavar="N", help="how many changes (default 5)"
    )


def _run(options: argparse.Namespace) -> int:
    file = load_shop(options)
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


FIX = Command("fix", "the smallest change that makes it pass", _arguments, _run)
