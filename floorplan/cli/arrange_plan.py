"""`arrange` for a shop with stages: plans over years, ranked and drawn stage by stage."""

from __future__ import annotations

import argparse
from collections.abc import Callable
from contextlib import nullcontext
from pathlib import Path
from typing import TYPE_CHECKING, TypeVar

from floorplan.cli.command import (
    INTERRUPTED,
    NO,
    OK,
    RefusedError,
    cautions_for,
    drawn,
    out_folder,
    told,
)
from floorplan.cli.exports import exports
from floorplan.cli.interrupts import one_interrupt
from floorplan.cli.progress import Told

if TYPE_CHECKING:
    from floorplan.search.arrange_stages import StagedArrangement, StagedRanked
    from floorplan.shop.reader import ShopFile

Found = TypeVar("Found")


def arrange_plan(options: argparse.Namespace, file: ShopFile, target: Path | None) -> int:
    """Search plans over all stages, write and draw what was asked for, and tell them."""
    from floorplan.search.arrange_stages import arrange_stages

    found = searched(options, file, arrange_stages)
    files: tuple[Path, ...] = ()
    if target is not None:
        files += (_write(file, found, options.rank, target),)
    folder = out_folder(options, file)
    interrupted = found.interrupted
    try:
        files += drawn(options, lambda: _sheets(found, folder))
        for layout in found.layouts:
            for made, name in zip(layout.judged.stages, _names(layout), strict=True):
                files += exports(options, made, folder, name)
    except KeyboardInterrupt:
        # the answer is there; only its drawings are not
        interrupted = True
    cautions = cautions_for(file.shop)
    best = found.layouts[0].judged if found.layouts else found.today
    from floorplan.report.stages import plans_data, plans_text, staged_envelope

    told(
        options,
        lambda: staged_envelope(
            "arrange", best, cautions, files,
            supposed=list(file.supposed), **plans_data(found),
        ),
        lambda: plans_text(found, cautions, files),
    )  # fmt: skip
    if interrupted:
        return INTERRUPTED
    return OK if found.layouts and best.verdict == "passes" else NO


def searched(options: argparse.Namespace, file: ShopFile, search: Callable[..., Found]) -> Found:
    """What a search of layouts or of plans finds, as the arguments ask; progress is told."""
    from floorplan.search.arrange import EFFORT
    from floorplan.search.workers import Workers

    progress = Told()
    pool = nullcontext() if options.workers == 1 else Workers(options.workers)
    with one_interrupt(), pool as executor:
        found = search(
            file.shop,
            file.layout,
            seed=options.seed,
            effort=options.effort or EFFORT,
            seconds=options.seconds,
            show=max(options.show, options.rank),
            executor=executor,
            on_progress=progress,
        )
    progress.done()
    return found


def _names(layout: StagedRanked) -> list[str]:
    """Names of the files of one plan, stage by stage."""
    from floorplan.checks.judge_stages import stage_name

    return [
        f"rank-{layout.rank}-{'-'.join(stage_name(made).split())}"
        for made in layout.judged.stages
    ]  # fmt: skip


def _sheets(found: StagedArrangement, folder: Path) -> tuple[Path, ...]:
    """The best plan's stages side by side, then those of the others, then a plan of each stage."""
    from floorplan.drawing.sheets import layout_sheet
    from floorplan.drawing.stages import Sheeted, stages_sheet
    from floorplan.drawing.states import states_sheet

    files: tuple[Path, ...] = ()
    for layout in found.layouts:
        first = layout.rank == 1
        why = "" if found.future is None or not first else f"{found.future.text}."
        files += stages_sheet(
            layout.judged, folder, "stages" if first else f"rank-{layout.rank}-stages",
            subject=f"Layout {layout.rank}: the stages side by side",
            why=why or f"{layout.ranked.reason}.",
        )  # fmt: skip
    for layout in found.layouts[:1]:
        before = found.today.stages[0]
        count = len(layout.judged.stages)
        for i, (made, name) in enumerate(zip(layout.judged.stages, _names(layout), strict=True)):
            shown = Sheeted(layout.ranked, made)
            files += layout_sheet(
                shown, folder, name, today=before, since="the stage before" if i else "today",
                sheet=i + 1, of=count,
            )  # fmt: skip
            files += states_sheet(made, folder, f"{name}-states")
            before = made
    return files


def _write(file: ShopFile, found: StagedArrangement, number: int, target: Path) -> Path:
    from floorplan.shop.stage_writer import with_stages

    if number > len(found.layouts):
        raise RefusedError(f"there is no rank {number}: {len(found.layouts)} layouts were found")
    layouts = [made.layout for made in found.layouts[number - 1].judged.stages]
    return written(target, lambda: with_stages(file, layouts))


def written(target: Path, text: Callable[[], str]) -> Path:
    """Write a shop file that a layout was put into. Raises RefusedError."""
    from floorplan.shop.edit import EditError, write_beside_then_replace
    from floorplan.shop.writer import LayoutError

    try:
        write_beside_then_replace(target, text())
    except (EditError, LayoutError) as wrong:
        raise RefusedError(f"the layout cannot be written into the file: {wrong}") from None
    except OSError as wrong:
        raise RefusedError(f"{target} cannot be written: {wrong.strerror}") from None
    return target
