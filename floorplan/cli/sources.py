"""`sources`: every rule and constant with its source."""

from __future__ import annotations

import argparse

from floorplan.cli.command import OK, Command, told


def _arguments(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("--json", action="store_true", help="print one JSON object, SI units")


def _run(options: argparse.Namespace) -> int:
    from floorplan.report.sources import sources_data, sources_text

    told(options, sources_data, sources_text)
    return OK


SOURCES = Command("sources", "every rule and constant with its source", _arguments, _run)
