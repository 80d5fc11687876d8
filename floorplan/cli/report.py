"""`report`: one page with everything, to read or print."""

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
    whole,
)
from floorplan.cli.progress import Told

if TYPE_CHECKING:
    from floorplan.report.page_layouts import Layouts
    from floorplan.search.arrange import Arrangement
    from floorplan.search.rank import Ranked
    from floorplan.search.shed import ShedAnswer
    from floorplan.shop.reader import ShopFile

SHEDS = 3
"""Places for a shed that are told."""
SHED_TOPICS = ("shed", "noise", "dust", "ducts", "flames", "cords")


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
    from floorplan.search.explain import least_change
    from floorplan.search.trust import trust

    judgement = judge(file.shop, file.layout)
    trusted = trust(judgement)
    remedies = {id(f): least_change(judgement, f) for f in judgement.failing}
    found = _searched(options, file) if options.effort else None
    layouts = _kept(options, file) if found is None else _found(options, file, found)
    answer = _shed(plan)
    cautions = cautions_for(file.shop, *(() if answer is None else SHED_TOPICS))
    staged = None if plan.shop.plan is None else judge_stages(plan.shop, plan.layout)
    report = Report(
        judgement, trusted, layouts, answer, cautions, staged, remedies, _ran(options, layouts)
    )
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


def _searched(options: argparse.Namespace, file: ShopFile) -> Arrangement:
    from floorplan.search.arrange import arrange

    progress = Told()
    found = arrange(
        file.shop, file.layout, seed=options.seed, effort=options.effort, show=options.show,
        on_progress=progress,
    )  # fmt: skip
    progress.done()
    return found


def _found(options: argparse.Namespace, file: ShopFile, found: Arrangement) -> Layouts:
    """What a search for this page gave."""
    remarks = []
    if found.note:
        remarks.append(found.note[0].upper() + found.note[1:] + ".")
    if found.clash:
        met = f"These cannot all be met, as far as was found: {'; '.join(found.clash)}."
        remarks.append(met)
    if not found.layouts:
        remarks.append("No layout was found.")
    return _with_order(options, file, found.layouts, tuple(remarks))


def _kept(options: argparse.Namespace, file: ShopFile) -> Layouts:
    """What the last search kept beside this page, if it was for the shop as it is now."""
    from floorplan.report.kept import KeptError, kept_ranked
    from floorplan.report.page_layouts import Layouts

    try:
        ranked = kept_ranked(file, out_folder(options, file), options.show)
    except KeptError:
        stage = "" if file.shop.stage is None else f' --stage "{file.shop.stage.name}"'
        command = f"floorplan arrange {Path(file.path).name}{stage}"
        return Layouts(
            remarks=(f"None is kept for the shop as it is now: `{command}` finds some, and this "
                     "page tells them from then on.",),
        )  # fmt: skip
    remark = "Found by the last search of this shop, and judged again for this page."
    return _with_order(options, file, ranked, (remark,))


def _with_order(
    options: argparse.Namespace,
    file: ShopFile,
    ranked: tuple[Ranked, ...],
    remarks: tuple[str, ...],
) -> Layouts:
    from floorplan.report.order import known_order
    from floorplan.report.page_layouts import Layouts

    if not ranked:
        return Layouts(ranked, remarks)
    order = known_order(file, ranked[0].layout, out_folder(options, file))
    how = f"floorplan moves {Path(file.path).name} rank {ranked[0].rank}"
    return Layouts(ranked, remarks, order, how)


def _shed(plan: ShopFile) -> ShedAnswer | None:
    """Places for the shed at the last stage; None where the file asks for none."""
    from floorplan.search.shed import sheds
    from floorplan.shop.stages import stages_of

    file = plan.at(max(len(stages_of(plan.shop)) - 1, 0))
    if file.shop.site is None or file.shop.site.shed is None:
        return None
    return sheds(file.shop, file.layout, most=SHEDS)


def _ran(options: argparse.Namespace, layouts: Layouts) -> tuple[str, ...]:
    """What the page rests on."""
    checks = "every check of the shop as it stands"
    if options.effort is not None:
        return checks, f"a search of effort {options.effort}, seed {options.seed}"
    if layouts.ranked:
        return checks, "every check of the layouts that the last search kept"
    return checks, "no search; `--effort 1000` also ranks layouts"


REPORT = Command("report", "one page with everything, to read or print", _arguments, _run)
