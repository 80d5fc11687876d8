"""`report`: one page with everything, to read or print."""

from __future__ import annotations

import argparse

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
    whole,
)
from floorplan.cli.progress import Told


def _arguments(parser: argparse.ArgumentParser) -> None:
    shop_arguments(parser)
    add = parser.add_argument
    add("--effort", type=positive, metavar="N", help="also search layouts, with so much work")
    add("--seed", type=whole, default=1, metavar="N", help="another seed, another search")
    add("--show", type=positive, default=3, metavar="N", help="how many layouts (default 3)")


def _run(options: argparse.Namespace) -> int:
    plan = load_plan(options)
    file = at_stage(plan, options.stage)
    from floorplan.checks.judge import judge
    from floorplan.checks.judge_stages import judge_stages
    from floorplan.report.data import arrangement, envelope
    from floorplan.report.page import Report, write_report
    from floorplan.report.text import check_text
    from floorplan.search.arrange import arrange
    from floorplan.search.explain import least_change
    from floorplan.search.trust import trust

    judgement = judge(file.shop, file.layout)
    trusted = trust(judgement)
    remedies = {id(f): least_change(judgement, f) for f in judgement.failing}
    found = None
    if options.effort:
        progress = Told()
        found = arrange(
            file.shop, file.layout, seed=options.seed, effort=options.effort,
            show=options.show, on_progress=progress,
        )  # fmt: skip
        progress.done()
    cautions = cautions_for(file.shop)
    staged = None if plan.shop.plan is None else judge_stages(plan.shop, plan.layout)
    report = Report(judgement, trusted, found, cautions, staged, remedies, _ran(options))
    files = drawn(options, lambda: write_report(report, out_folder(options, file)))
    told(
        options,
        lambda: envelope(
            "report", judgement, cautions, files, supposed=list(file.supposed),
            **({} if found is None else arrangement(found)),
        ),
        lambda: check_text(judgement, cautions, files, trusted=trusted, remedies=remedies),
    )  # fmt: skip
    return OK if judgement.verdict == "passes" else NO


def _ran(options: argparse.Namespace) -> tuple[str, ...]:
    """What the page rests on."""
    checks = "every check of the shop as it stands"
    if options.effort is None:
        return checks, "no search; `--effort 1000` also ranks layouts"
    return checks, f"a search of effort {options.effort}, seed {options.seed}"


REPORT = Command("report", "one page with everything, to read or print", _arguments, _run)
