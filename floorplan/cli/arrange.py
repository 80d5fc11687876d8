"""`arrange`: the main job, ranked layouts drawn to scale."""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import TYPE_CHECKING

from floorplan.cli.arrange_plan import arrange_plan, searched, written
from floorplan.cli.command import (
    INTERRUPTED,
    NO,
    OK,
    Command,
    RefusedError,
    at_stage,
    cautions_for,
    drawn,
    load_plan,
    out_folder,
    positive,
    seconds,
    shop_arguments,
    told,
    whole,
    write_target,
)
from floorplan.cli.exports import export_arguments, exports

if TYPE_CHECKING:
    from collections.abc import Sequence

    from floorplan.checks.judge import Judgement
    from floorplan.drawing.column import Row
    from floorplan.search.rank import Ranked
    from floorplan.shop.reader import ShopFile


def _arguments(parser: argparse.ArgumentParser) -> None:
    shop_arguments(parser)
    add = parser.add_argument
    add("--seed", type=whole, default=1, metavar="N", help="another seed, another search")
    add("--effort", type=positive, metavar="N", help="work to spend, not seconds")
    add("--seconds", type=seconds, metavar="S", help="stop after so many seconds")
    add("--workers", type=positive, default=1, metavar="N", help="processes; same answer")
    add("--show", type=positive, default=3, metavar="N", help="how many layouts (default 3)")
    add("--write", metavar="FILE", help="write a layout as a shop file, comments kept")
    add(
        "--rank",
        type=positive,
        default=1,
        metavar="N",
        help="which one to write or print (default 1)",
    )
    export_arguments(parser)


def _run(options: argparse.Namespace) -> int:
    file = load_plan(options)
    target = write_target(options, file)
    if file.shop.plan is not None:
        if options.stage is None:
            return arrange_plan(options, file, target)
        if target is not None:
            raise RefusedError("--write goes with all stages at once; leave --stage out")
    file = at_stage(file, options.stage)
    from floorplan.report.data import arrangement, envelope
    from floorplan.report.text import arrange_text
    from floorplan.search.arrange import arrange

    found = searched(options, file, arrange)
    files: tuple[Path, ...] = ()
    if target is not None:
        files += (_write(file, found.layouts, options.rank, target),)

    folder = out_folder(options, file)

    def draw():  # type: ignore[no-untyped-def]
        from floorplan.drawing.sheets import ranked_sheets
        from floorplan.drawing.states import ranked_states
        from floorplan.report.kept import keep_layouts

        kept = keep_layouts(file, found.layouts, folder)
        sheets = ranked_sheets(found.layouts, found.today, folder)
        return (*sheets, *ranked_states(found.layouts, folder), kept)

    interrupted = found.interrupted
    if found.layouts:
        try:
            files += drawn(options, draw)
            for layout in found.layouts:
                files += _exports(options, file, layout, found.today, folder)
        except KeyboardInterrupt:
            # the answer is there; only its drawings are not
            interrupted = True
    cautions = cautions_for(file.shop)
    best = found.layouts[0].judgement if found.layouts else found.today
    told(
        options,
        lambda: envelope(
            "arrange", best, cautions, files,
            supposed=list(file.supposed), **arrangement(found),
        ),
        lambda: arrange_text(found, cautions, files),
    )  # fmt: skip
    if interrupted:
        return INTERRUPTED
    return OK if found.layouts and best.verdict == "passes" else NO


def _exports(
    options: argparse.Namespace,
    file: ShopFile,
    layout: Ranked,
    today: Judgement,
    folder: Path,
) -> tuple[Path, ...]:
    """Further files of one layout."""
    lead: tuple[Row, ...] = ()
    if options.print and layout.rank == options.rank:
        from floorplan.drawing.sheets import heading_rows, move_rows
        from floorplan.report.order import known_order, order_rows

        order = known_order(file, layout.layout, folder)
        command = f"floorplan moves {Path(file.path).name} rank {layout.rank}"
        lead = (
            *heading_rows(layout),
            *move_rows(today, layout.judgement),
            *order_rows(order, command),
        )
    return exports(
        options, layout.judgement, folder, f"rank-{layout.rank}", f"Layout {layout.rank}", lead,
        printed=layout.rank == options.rank,
    )  # fmt: skip


def _write(file: ShopFile, layouts: Sequence[Ranked], number: int, target: Path) -> Path:
    from floorplan.shop.writer import with_layout

    if number > len(layouts):
        raise RefusedError(f"there is no rank {number}: {len(layouts)} layouts were found")
    return written(target, lambda: with_layout(file, layouts[number - 1].layout))


ARRANGE = Command("arrange", "search placements and draw ranked layouts", _arguments, _run)
