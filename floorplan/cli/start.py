"""`start`: a commented shop file to begin from."""

from __future__ import annotations

import argparse
from pathlib import Path

from floorplan.cli.command import OK, Command, RefusedError


def _arguments(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("file", metavar="FILE", help="the shop file to write; must not exist yet")
    parser.add_argument("--metric", action="store_true", help="millimetres instead of feet")


def _run(options: argparse.Namespace) -> int:
    from floorplan.shop.edit import write_beside_then_replace
    from floorplan.shop.starter import starter_text

    path = Path(options.file)
    name = path.stem.replace("-", " ").replace("_", " ") or "my shop"
    text = starter_text(name, metric=options.metric)
    try:
        write_beside_then_replace(path, text, only_new=True)
    except FileExistsError:
        raise RefusedError(f"{path} is there already and stays; name another file") from None
    except OSError as wrong:
        raise RefusedError(f"{path} cannot be written: {wrong.strerror}") from None
    print(f"{path} is written.  Change it to your shop, then: floorplan check {path}")
    return OK


START = Command("start", "write a commented shop file to begin from", _arguments, _run)
