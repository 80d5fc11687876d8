"""`feet`: how long each levelling foot is, so that a thing stands level with another."""

from __future__ import annotations

import argparse

from floorplan.cli.command import (
    NO,
    OK,
    Command,
    RefusedError,
    cautions_for,
    drawn,
    load_with,
    named_thing,
    out_folder,
    shop_arguments,
    told,
)


def _arguments(parser: argparse.ArgumentParser) -> None:
    shop_arguments(parser)
    parser.add_argument("thing", metavar="THING", help="the thing with `feet:`")


def _run(options: argparse.Namespace) -> int:
    file = load_with(options, options.thing)
    thing = named_thing(file, options.thing)
    from floorplan.checks.feet import FeetError, feet_of
    from floorplan.checks.judge import judge_scene
    from floorplan.report.data import envelope
    from floorplan.report.feet import feet_data, feet_head, feet_notes, feet_text
    from floorplan.shop.scene import scene

    made = scene(file.shop, file.layout)
    try:
        answer = feet_of(made, thing)
    except FeetError as wrong:
        raise RefusedError(str(wrong)) from None
    cautions = cautions_for(file.shop)

    def draw():  # type: ignore[no-untyped-def]
        from floorplan.drawing.feet import feet_sheet

        return feet_sheet(
            made, answer, feet_head(answer), tuple(feet_notes(answer)),
            out_folder(options, file), f"feet-{'-'.join(thing.split())}",
        )  # fmt: skip

    files = drawn(options, draw)
    told(
        options,
        lambda: {
            **envelope(
                "feet", judge_scene(made, ()), cautions, files,
                supposed=list(file.supposed), **feet_data(answer),
            ),
            "verdict": answer.verdict,
        },
        lambda: feet_text(answer, cautions, files),
    )  # fmt: skip
    return OK if answer.verdict == "passes" else NO


FEET = Command("feet", "length of each levelling foot, shims, step", _arguments, _run)
