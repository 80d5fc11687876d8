"""`python -m floorplan` is the command line."""

from floorplan.cli import run

run()
