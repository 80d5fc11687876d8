"""Progress of a search on standard error."""

from __future__ import annotations

import sys
import time
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from floorplan.search.placing import Progress


class Told:
    """Tells progress; the running line only on a terminal."""

    def __init__(self) -> None:
        self.began = time.perf_counter()
        self.last = 0.0
        self.found = False
        self.live = sys.stderr.isatty()

    def __call__(self, what: str, progress: Progress) -> None:
        """Take notice of where a search stands."""
        now = time.perf_counter() - self.began
        if not self.found and progress.best != float("inf"):
            self.found = True
            start = "\r" if self.live else ""
            print(
                f"{start}first layout without overlaps after {now:.1f} s",
                file=sys.stderr,
                flush=True,
            )
        if self.live and now - self.last > 0.2:
            self.last = now
            share = 100.0 * progress.tried / max(progress.effort, 1)
            print(
                f"\r{what}: {share:3.0f} %, {progress.tried} placements tried, {now:.0f} s ",
                end="",
                file=sys.stderr,
                flush=True,
            )

    def done(self) -> None:
        """End the running line."""
        if self.live and self.last:
            print(file=sys.stderr)
