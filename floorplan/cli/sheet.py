"""`sheet`: the sheet's way, in, carried, turned, fed, supported, out."""

from __future__ import annotations

import argparse

from floorplan.cli.command import (
    NO,
    OK,
    Command,
    RefusedError,
    cautions_for,
    drawn,
    load_shop,
    out_folder,
    shop_arguments,
    told,
)


def _run(options: argparse.Namespace) -> int:
    file = load_shop(options)
    from floorplan.report.sheet import (
        asks_for_sheets,
        sheet_answer,
        sheet_data,
        sheet_sheets,
        sheet_text,
    )

    if not asks_for_sheets(file.shop):
        raise RefusedError(
            "no job carries or feeds anything; add `carry: {stock: ..., from: ..., to: ...}` "
            "to a job in the shop file"
        )
    answer = sheet_answer(file.shop, file.layout)
    cautions = cautions_for(file.shop)
    files = drawn(options, lambda: sheet_sheets(answer, out_folder(options, file)))
    told(
        options,
        lambda: sheet_data(answer, cautions, files),
        lambda: sheet_text(answer, cautions, files),
    )
    return OK if answer.judgement.verdict == "passes" else NO


SHEET = Command("sheet", "the way of sheets: in, carried, fed, supported", shop_arguments, _run)
