"""`check`: does the shop work as it stands?"""

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
    shop_arguments,
    told,
)
from floorplan.cli.exports import export_arguments, exports


def _arguments(parser: argparse.ArgumentParser) -> None:
    shop_arguments(parser)
    export_arguments(parser)


def _run(options: argparse.Namespace) -> int:
    file = load_shop(options)
    from floorplan.checks.judge import judge
    from floorplan.report.data import envelope
    from floorplan.report.text import check_text
    from floorplan.report.trust import trust_data
    from floorplan.search.explain import least_change
    from floorplan.search.trust import trust

    judgement = judge(file.shop, file.layout)
    trusted = trust(judgement)
    remedies = {id(f): least_change(judgement, f) for f in judgement.failing}
    cautions = cautions_for(file.shop)
    folder = out_folder(options, file)

    def draw():  # type: ignore[no-untyped-def]
        from floorplan.drawing.sheets import check_sheet

        return check_sheet(judgement, folder, "check")

    files = drawn(options, draw) + exports(options, judgement, folder, "check")
    told(
        options,
        lambda: envelope(
            "check", judgement, cautions, files,
            supposed=list(file.supposed), trust=trust_data(trusted),
            remedies=[
                {"message": f.message, "remedy": remedies[id(f)]} for f in judgement.failing
            ],
        ),
        lambda: check_text(
            judgement, cautions, files, trusted=trusted, remedies=remedies
        ),
    )  # fmt: skip
    return OK if judgement.verdict == "passes" else NO


CHECK = Command("check", "does the shop work as it stands?", _arguments, _run)
