"""`ducts`: runs, sizes, losses, operating points, parts list, the strip to keep free."""

from __future__ import annotations

import argparse

from floorplan.cli.command import (
    NO,
    OK,
    Command,
    RefusedError,
    drawn,
    load_shop,
    out_folder,
    shop_arguments,
    told,
)


def _run(options: argparse.Namespace) -> int:
    file = load_shop(options)
    from floorplan.report.ducts import (
        air_cautions,
        asks_for_air,
        ducts_answer,
        ducts_data,
        ducts_sheets,
        ducts_text,
    )

    if not asks_for_air(file.shop):
        raise RefusedError(
            "the shop file says nothing about air; add `air:` with `runs:` and a `collector:`, "
            "or with a `vacuum:`"
        )
    answer = ducts_answer(file.shop, file.layout)
    cautions = air_cautions(answer)
    files = drawn(options, lambda: ducts_sheets(answer, out_folder(options, file)))
    told(
        options,
        lambda: ducts_data(answer, cautions, files) | {"supposed": list(file.supposed)},
        lambda: ducts_text(answer, cautions, files),
    )
    return OK if answer.judgement.verdict == "passes" else NO


DUCTS = Command(
    "ducts", "runs, flow, losses, parts, and the strip to keep free", shop_arguments, _run
)
