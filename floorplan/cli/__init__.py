"""The command line: arguments in, text or JSON out, exit code back.  Nothing else prints.

One file a command; `main.py` holds them in one table.
"""

from floorplan.cli.interrupts import loading


def run() -> None:
    """Entry point of the installed command.

    The rest is imported under the eyes of `interrupts`: Ctrl-C is not met by a traceback.
    """
    loading()
    from floorplan.cli.main import run as begin

    begin()


__all__ = ["run"]
