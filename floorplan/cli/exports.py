"""Further files beside the drawings: DXF, CSV tables and the tape sheet."""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import TYPE_CHECKING

from floorplan.cli.command import RefusedError

if TYPE_CHECKING:
    from floorplan.checks.judge import Judgement


def export_arguments(parser: argparse.ArgumentParser) -> None:
    """What else to write."""
    add = parser.add_argument_group("further files, beside the drawings").add_argument
    add("--dxf", action="store_true", help="the plan as DXF of release 12")
    add("--csv", action="store_true", help="places, tape, findings, from-to chart, walks as CSV")
    add("--tape", action="store_true", help="a sheet to tape the layout on the floor by")


def exports(
    options: argparse.Namespace, judgement: Judgement, folder: Path, name: str
) -> tuple[Path, ...]:
    """The files that are wanted, their names beginning with `name`. Raises RefusedError.

    Tables and DXF are no figures: they are written also where nothing is drawn.
    """
    try:
        return _written(options, judgement, folder, name)
    except OSError as wrong:
        raise RefusedError(
            f"the files cannot be written: {wrong.strerror or wrong} ({wrong.filename}); "
            "name another folder with -o"
        ) from None


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
