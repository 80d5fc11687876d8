"""The command line: arguments in, text or JSON out, exit code back.  Nothing else prints.

One file a command; `main.py` holds them in one table.
"""

from floorplan.cli.main import main, run

__all__ = ["main", "run"]
