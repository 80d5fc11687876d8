"""What Ctrl-C means: while the program loads, during a search, and when it comes twice."""

from __future__ import annotations

import os
import signal
import time
from collections.abc import Iterator
from contextlib import contextmanager
from types import FrameType

INTERRUPTED = 130
NOTHING = "floorplan: interrupted before there was anything to show"
ECHO = 0.5
"""Interrupts that follow each other faster than this are one: shells may send it twice [s]."""

_came = False
"""Whether an interrupt was raised."""


def leave(_number: int, _frame: FrameType | None) -> None:
    """End at once: nothing is begun that could be lost.

    Compiled modules turn a KeyboardInterrupt that comes while they load into an error of their own
    and print its traceback, so none is raised then.
    """
    os.write(2, f"{NOTHING}\n".encode())
    os._exit(INTERRUPTED)


def raised(_number: int, _frame: FrameType | None) -> None:
    """Raise KeyboardInterrupt, and remember that one came."""
    global _came
    _came = True
    raise KeyboardInterrupt


def came() -> bool:
    """Whether an interrupt was raised, whatever has become of the exception since."""
    return _came


def loading() -> None:
    """From here on Ctrl-C leaves at once, unless the caller has a way of its own."""
    if signal.getsignal(signal.SIGINT) is signal.default_int_handler:
        signal.signal(signal.SIGINT, leave)


def loaded() -> None:
    """From here on Ctrl-C is raised, so that what was begun can be put right."""
    if signal.getsignal(signal.SIGINT) is leave:
        signal.signal(signal.SIGINT, raised)


@contextmanager
def one_interrupt() -> Iterator[None]:
    """Take Ctrl-C once where it comes twice at the same moment; a later one counts again."""
    before = signal.getsignal(signal.SIGINT)
    if before not in (raised, signal.default_int_handler):
        yield
        return
    last = float("-inf")

    def taken(number: int, frame: FrameType | None) -> None:
        nonlocal last
        now = time.monotonic()
        if now - last > ECHO:
            last = now
            raised(number, frame)

    signal.signal(signal.SIGINT, taken)
    try:
        yield
    finally:
        signal.signal(signal.SIGINT, before)
