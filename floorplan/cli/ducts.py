"""`ducts`: runs, sizes, losses, operating points, parts list, the strip to keep free."""

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
    drawn,
    load_plan,
    out_folder,
    shop_arguments,
    told,
    write_target,
)

if TYPE_CHECKING:
    from floorplan.report.ducts import DuctsAnswer
    from floorplan.shop.reader import ShopFile


def _arguments(parser: argparse.ArgumentParser) -> None:
    shop_arguments(parser)
    parser.add_argument(
        "--write", metavar="FILE", help="write runs that were found into a shop file, comments kept"
    )


def _run(options: argparse.Namespace) -> int:
    plan = load_plan(options)
    target = write_target(options, plan)
    file = at_stage(plan, options.stage or (_last_found(plan) if target else None))
    from floorplan.report.ducts import (
        air_cautions,
        asks_for_air,
        ducts_answer,
        ducts_data,
        ducts_sheets,
        ducts_text,
    )

    if not asks_for_air(file.shop):
        if asks_for_air(plan.shop):
            stage = file.shop.stage
            raise RefusedError(
                f"at stage {'' if stage is None else stage.name} there is neither a duct nor a "
                "vacuum nor a collector; name a later one with --stage"
            )
        raise RefusedError(
            "the shop file says nothing about air; add `air:` with `runs:` and a `collector:`, "
            "or with a `vacuum:`"
        )
    answer = ducts_answer(file.shop, file.layout)
    files: tuple[Path, ...] = ()
    if target is not None:
        files += (_write(plan, file, answer, target),)
    cautions = air_cautions(answer)
    files += drawn(options, lambda: ducts_sheets(answer, out_folder(options, file)))
    told(
        options,
        lambda: ducts_data(answer, cautions, files) | {"supposed": list(file.supposed)},
        lambda: ducts_text(answer, cautions, files),
    )
    return OK if answer.judgement.verdict == "passes" else NO


def _last_found(plan: ShopFile) -> str | None:
    """The last stage at which there is a collector to find runs to: then most machines are."""
    air, stages = plan.shop.air, plan.shop.plan
    if stages is None or air is None or air.find is None:
        return None
    return stages.stages[stages.span("collector", "collector").last].name


def _write(plan: ShopFile, file: ShopFile, answer: DuctsAnswer, target: Path) -> Path:
    """The file with the runs that were found; to a sixteenth where that is as good."""
    from floorplan.report.ducts import ducts_answer
    from floorplan.shop.edit import EditError, write_beside_then_replace
    from floorplan.shop.reader import parse
    from floorplan.shop.run_writer import RunsError, with_runs

    air = answer.scene.shop.air
    if air is None or air.find is None:
        raise RefusedError("--write goes with runs that are found: `air: find:`")
    if not air.runs:
        why = "; ".join(air.no_way) or "no machine with a port has its place"
        raise RefusedError(f"no runs were found, so none are written: {why}")
    try:
        text = with_runs(plan, air.runs, rounded=True)
        again = parse(text, plan.path).as_of(file.shop.stage)
        if ducts_answer(again.shop, again.layout).unmet - answer.unmet:
            text = with_runs(plan, air.runs, rounded=False)
        write_beside_then_replace(target, text)
    except (EditError, RunsError) as wrong:
        raise RefusedError(f"the runs cannot be written into the file: {wrong}") from None
    except OSError as wrong:
        raise RefusedError(f"{target} cannot be written: {wrong.strerror}") from None
    return target


DUCTS = Command("ducts", "runs, flow, losses, parts, and the strip to keep free", _arguments, _run)
