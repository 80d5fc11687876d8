"""`shed`: where the collector's shed can stand, ranked, with what each place brings."""

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
    drawn,
    load_plan,
    out_folder,
    positive,
    shop_arguments,
    told,
    write_target,
)

if TYPE_CHECKING:
    from floorplan.search.shed import ShedAnswer
    from floorplan.shop.reader import ShopFile


def _arguments(parser: argparse.ArgumentParser) -> None:
    shop_arguments(parser)
    add = parser.add_argument
    add("--show", type=positive, default=5, metavar="N", help="how many places (default 5)")
    add("--write", metavar="FILE", help="write a place into the shop file, comments kept")
    add("--rank", type=positive, default=1, metavar="N", help="which one to write (default 1)")


def _run(options: argparse.Namespace) -> int:
    whole = load_plan(options)
    target = write_target(options, whole)
    from floorplan.shop.stages import stages_of

    stages = stages_of(whole.shop)
    # a shed comes last if it comes at all
    name = options.stage or (stages[-1].name if stages else None)
    file = at_stage(whole, name)
    from floorplan.checks.judge import judge_scene
    from floorplan.report.data import envelope
    from floorplan.report.shed import CAUTIONS, shed_data, shed_head, shed_text
    from floorplan.rules.cautions import cautions
    from floorplan.search.shed import ShedError, sheds

    try:
        answer = sheds(file.shop, file.layout, most=max(options.show, options.rank))
    except ShedError as wrong:
        raise RefusedError(str(wrong)) from None
    files: tuple[Path, ...] = ()
    if target is not None:
        files += (_write(whole, answer, options.rank, target),)
    texts = tuple(dict.fromkeys((*cautions_for(file.shop), *cautions(*CAUTIONS))))

    def draw():  # type: ignore[no-untyped-def]
        from floorplan.drawing.site import site_sheet

        return site_sheet(answer, shed_head(answer), out_folder(options, whole), "shed")

    files += drawn(options, draw)
    verdict = answer.sites[0].verdict if answer.sites else "fails"
    told(
        options,
        lambda: {
            **envelope(
                "shed", judge_scene(answer.scene, ()), texts, files,
                supposed=list(file.supposed), **shed_data(answer),
            ),
            "verdict": verdict,
        },
        lambda: shed_text(answer, texts, files),
    )  # fmt: skip
    return OK if verdict == "passes" else NO


def _write(file: ShopFile, answer: ShedAnswer, rank: int, target: Path) -> Path:
    from floorplan.shop.edit import EditError, replace_values, write_beside_then_replace
    from floorplan.shop.shed_body import written_place

    if rank > len(answer.sites):
        raise RefusedError(f"there is no rank {rank}: {len(answer.sites)} places were found")
    place = answer.sites[rank - 1].place
    try:
        at = written_place(answer.shop.room, place, answer.shop.system)
        text = replace_values(file.text, {("site", "shed", "at"): at})
        write_beside_then_replace(target, text)
    except EditError as wrong:
        raise RefusedError(f"the place cannot be written into the file: {wrong}") from None
    except OSError as wrong:
        raise RefusedError(f"{target} cannot be written: {wrong.strerror}") from None
    return target


SHED = Command("shed", "where the collector's shed can stand, ranked", _arguments, _run)
