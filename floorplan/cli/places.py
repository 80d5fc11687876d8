"""`spots` and `largest`: where one thing can stand, and how big it can be."""

from __future__ import annotations

import argparse

from floorplan.cli.command import (
    NO,
    OK,
    Command,
    RefusedError,
    cautions_for,
    drawn,
    load_stages,
    named_thing,
    out_folder,
    shop_arguments,
    told,
)


def _spots_arguments(parser: argparse.ArgumentParser) -> None:
    shop_arguments(parser)
    parser.add_argument("thing", metavar="THING", help="the thing to find places for")
    parser.add_argument(
        "--together", action="append", default=[], metavar="THING", help="moves along with it"
    )
    parser.add_argument("--every-15", action="store_true", help="turns in steps of 15 degrees")


def _spots(options: argparse.Namespace) -> int:
    plan = load_stages(options, options.thing)
    file = plan[0]
    thing = named_thing(file, options.thing)
    together = tuple(named_thing(file, name) for name in options.together)
    from floorplan.checks.judge import judge
    from floorplan.report.data import envelope
    from floorplan.report.spots import spots_data, spots_text
    from floorplan.search.spots_stages import spots_at_all

    stages = [(each.shop, each.layout) for each in plan]
    found = spots_at_all(stages, thing, step15=options.every_15, together=together)
    at_best = found.at_best()
    cautions = cautions_for(file.shop)

    def draw():  # type: ignore[no-untyped-def]
        from floorplan.drawing.spots import spots_sheet

        stem = f"spots-{'-'.join(thing.split())}"
        return spots_sheet(found, out_folder(options, file), stem)

    files = drawn(options, draw)
    told(
        options,
        lambda: envelope(
            "spots",
            at_best if at_best is not None else judge(file.shop, file.layout),
            cautions,
            files,
            supposed=list(file.supposed),
            thing=thing,
            spots=spots_data(found),
            stages=[at.shop.stage.name for at in (found, *found.later) if at.shop.stage],
        ),
        lambda: spots_text(found, at_best, cautions, files),
    )
    return OK if found.best is not None else NO


SPOTS = Command(
    "spots", "everywhere a thing can stand, and the best spot", _spots_arguments, _spots
)


def _largest_arguments(parser: argparse.ArgumentParser) -> None:
    shop_arguments(parser)
    parser.add_argument("thing", metavar="THING", help="the thing that is to be large")
    parser.add_argument(
        "--anywhere", action="store_true", help="it may also stand elsewhere, at any turn it has"
    )


def _largest(options: argparse.Namespace) -> int:
    plan = load_stages(options, options.thing)
    file = plan[0]
    thing = named_thing(file, options.thing)
    if file.supposed:
        raise RefusedError("`largest` reads the thing from the file, so it supposes nothing else")
    from floorplan.checks.judge import judge
    from floorplan.report.data import envelope
    from floorplan.report.largest import edges_data, largest_data, largest_text
    from floorplan.search.largest import largest
    from floorplan.shop.whatif import WhatIfError

    try:
        found = largest(
            file.shop,
            file.layout,
            thing,
            text=file.text,
            anywhere=options.anywhere,
            later=[(each.shop, each.layout) for each in plan[1:]],
        )
    except (WhatIfError, ValueError) as wrong:
        raise RefusedError(str(wrong)) from None
    cautions = cautions_for(file.shop)

    def draw():  # type: ignore[no-untyped-def]
        from floorplan.drawing.largest import largest_sheet

        return largest_sheet(found, out_folder(options, file), f"largest-{'-'.join(thing.split())}")

    files = drawn(options, draw)
    told(
        options,
        lambda: envelope(
            "largest",
            judge(file.shop, file.layout),
            cautions,
            files,
            thing=thing,
            largest=largest_data(found),
            edges=edges_data(found),
            stages=[at.stage.name for at in (found.shop, *found.later) if at.stage],
        ),
        lambda: largest_text(found, cautions, files),
    )
    return OK if found.sizes else NO


LARGEST = Command("largest", "how big a thing can be, what stops it", _largest_arguments, _largest)
