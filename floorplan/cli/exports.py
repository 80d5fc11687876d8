"""Further files beside the drawings: DXF, CSV tables, the tape sheet, and a set to print."""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import TYPE_CHECKING

from floorplan.cli.command import RefusedError, cautions_for
from floorplan.cli.printing import printing_arguments, printing_for

if TYPE_CHECKING:
    from collections.abc import Sequence

    from floorplan.checks.judge import Judgement
    from floorplan.drawing.column import Row


def export_arguments(parser: argparse.ArgumentParser) -> None:
    """What else to write."""
    add = parser.add_argument_group("further files, beside the drawings").add_argument
    add("--dxf", action="store_true", help="the plan as DXF of release 12")
    add("--csv", action="store_true", help="places, tape, findings, from-to chart, walks as CSV")
    add("--tape", action="store_true", help="a sheet to tape the layout on the floor by")
    printing_arguments(parser)


def exports(
    options: argparse.Namespace,
    judgement: Judgement,
    folder: Path,
    name: str,
    subject: str = "The shop as it stands",
    lead: Sequence[Row] = (),
    *,
    printed: bool = True,
) -> tuple[Path, ...]:
    """The files that are wanted, their names beginning with `name`. Raises RefusedError.

    Tables and DXF are no figures: they are written also where nothing is drawn.  `subject` and
    `lead` are the title of a printed set and what it tells first; `printed` is whether this one
    is printed at all.
    """
    try:
        files = _written(options, judgement, folder, name)
        if options.print and printed and not options.no_figures:
            files += _printed(options, judgement, folder, name, subject, lead)
        return files
    except OSError as wrong:
        raise RefusedError(
            f"the files cannot be written: {wrong.strerror or wrong} ({wrong.filename}); "
            "name another folder with -o"
        ) from None


def _printed(
    options: argparse.Namespace,
    judgement: Judgement,
    folder: Path,
    name: str,
    subject: str,
    lead: Sequence[Row],
) -> tuple[Path, ...]:
    from floorplan.report.print_set import PrintSet, write_print_set

    shop = judgement.shop
    if shop.stage is not None:
        subject = f"{subject}, stage {shop.stage.name}"
    made = PrintSet(
        judgement, subject, printing_for(options, shop.system), cautions_for(shop), tuple(lead)
    )
    try:
        return write_print_set(made, folder, f"{name}-print")
    except ValueError as wrong:
        raise RefusedError(f"not printed: {wrong}; name a larger --paper") from None


def _written(
    options: argparse.Namespace, judgement: Judgement, folder: Path, name: str
) -> tuple[Path, ...]:
    files: tuple[Path, ...] = ()
    if options.tape:
        from floorplan.drawing.tape_sheet import tape_sheet
        from floorplan.report.tape import write_tape

        files += write_tape(judgement, folder, f"{name}-tape")
        if not options.no_figures:
            files += tape_sheet(judgement.scene, folder, f"{name}-tape")
    if options.dxf:
        from floorplan.report.dxf import write_dxf

        files += write_dxf(judgement, folder, name)
    if options.csv:
        from floorplan.report.csv import write_csv

        files += write_csv(judgement, folder, name)
    return files
