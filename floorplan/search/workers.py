"""Processes that search at the same time, and how they are told to stop."""

from __future__ import annotations

import multiprocessing
import signal
from concurrent.futures import ProcessPoolExecutor
from multiprocessing.synchronize import Event

from floorplan.search import moves


class Workers(ProcessPoolExecutor):
    """A pool of processes whose searches end with the best so far when it is told to halt."""

    def __init__(self, count: int) -> None:
        # a fresh interpreter inherits no locks of threads that only the parent has
        context = multiprocessing.get_context("spawn")
        self._event = context.Event()
        super().__init__(count, context, initializer=_begin, initargs=(self._event,))

    def halt(self) -> None:
        """Let every search come to its end."""
        self._event.set()


def _begin(event: Event) -> None:
    """Ctrl-C reaches all processes of a terminal: the parent decides what becomes of it."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    moves.halted = event.is_set
