"""`check`: does the shop work as it stands, at every stage of its plan?"""

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
    shop_arguments,
    told,
)
from floorplan.cli.exports import export_arguments, exports

if TYPE_CHECKING:
    from floorplan.checks.judge import Judgement
    from floorplan.shop.reader import ShopFile


def _arguments(parser: argparse.ArgumentParser) -> None:
    shop_arguments(parser)
    export_arguments(parser)


def _run(options: argparse.Namespace) -> int:
    file = load_plan(options)
    if file.shop.plan is not None and options.stage is None:
        return _all_stages(options, file)
    file = at_stage(file, options.stage)
    from floorplan.checks.judge import judge, laid_out
    from floorplan.checks.judge_beside import beside_lasting
    from floorplan.report.data import envelope
    from floorplan.report.laid_out import laid_data
    from floorplan.report.lasting import beside_data
    from floorplan.report.text import check_text
    from floorplan.report.trust import trust_data
    from floorplan.search.explain import least_change
    from floorplan.search.trust import trust

    judgement = judge(file.shop, file.layout)
    trusted = trust(judgement)
    remedies = {id(f): least_change(judgement, f) for f in judgement.failing}
    laid = laid_out(judgement.scene)
    beside = beside_lasting(judgement.shop, judgement.layout, judgement.scene)
    cautions = cautions_for(file.shop)
    folder = out_folder(options, file)

    def draw():  # type: ignore[no-untyped-def]
        from floorplan.drawing.sheets import check_sheet
        from floorplan.drawing.states import states_sheet

        made = check_sheet(judgement, folder, "check")
        made += states_sheet(judgement, folder, "check-states")
        return made + _laid_sheets(judgement, folder, "check")

    files = drawn(options, draw) + exports(options, judgement, folder, "check")
    told(
        options,
        lambda: envelope(
            "check", judgement, cautions, files,
            supposed=list(file.supposed), trust=trust_data(trusted),
            remedies=[
                {"message": f.message, "remedy": remedies[id(f)]} for f in judgement.failing
            ],
            **({"laid_out": laid_data(laid)} if laid else {}),
            **({"beside": beside_data(beside)} if beside else {}),
        ),
        lambda: check_text(
            judgement, cautions, files, trusted=trusted, remedies=remedies, beside=beside
        ),
    )  # fmt: skip
    return OK if judgement.verdict == "passes" else NO


def _laid_sheets(judgement: Judgement, folder: Path, name: str) -> tuple[Path, ...]:
    """A sheet for each task that lays parts out."""
    from floorplan.checks.judge import laid_out
    from floorplan.drawing.laid_out import laid_sheet
    from floorplan.report.laid_out import laid_sentences, laid_title

    made: tuple[Path, ...] = ()
    for laid in laid_out(judgement.scene):
        sentences = [f"{laid_title(judgement.shop, laid)}.", *laid_sentences(judgement.shop, laid)]
        stem = "-".join((name, "laid-out", *laid.task.name.split()))
        made += laid_sheet(judgement.scene, laid, sentences, folder, stem)
    return made


def _all_stages(options: argparse.Namespace, file: ShopFile) -> int:
    """Every stage is judged; the verdict is that of the worst."""
    from floorplan.checks.judge_stages import judge_stages, stage_name
    from floorplan.report.stages import check_stages_data, check_stages_text
    from floorplan.search.explain import least_change
    from floorplan.search.trust import trust

    judged = judge_stages(file.shop, file.layout)
    trusted = [trust(made) for made in judged.stages]
    remedies = {id(f): least_change(made, f) for made in judged.stages for f in made.failing}
    cautions = cautions_for(file.shop)
    folder = out_folder(options, file)
    names = [f"check-{'-'.join(stage_name(made).split())}" for made in judged.stages]

    def draw() -> tuple[Path, ...]:
        from floorplan.drawing.sheets import check_sheet
        from floorplan.drawing.stages import stages_sheet
        from floorplan.drawing.states import states_sheet

        made = stages_sheet(judged, folder, "check", why="As it stands now.")
        for judgement, name in zip(judged.stages, names, strict=True):
            made += check_sheet(judgement, folder, name)
            made += states_sheet(judgement, folder, f"{name}-states")
            made += _laid_sheets(judgement, folder, name)
        return made

    files = drawn(options, draw)
    for judgement, name in zip(judged.stages, names, strict=True):
        files += exports(options, judgement, folder, name)
    told(
        options,
        lambda: check_stages_data(judged, trusted, remedies, cautions, files, file.supposed),
        lambda: check_stages_text(judged, trusted, remedies, cautions, files),
    )
    return OK if judged.verdict == "passes" else NO


CHECK = Command("check", "does the shop work as it stands?", _arguments, _run)
