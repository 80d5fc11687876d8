"""One plain table at the end of each attack."""

from __future__ import annotations

from collections.abc import Iterable, Sequence


def table(head: Sequence[str], rows: Iterable[Sequence[object]]) -> str:
    """Columns as wide as their widest cell."""
    cells = [[str(c) for c in row] for row in (head, *rows)]
    widths = [max(len(row[i]) for row in cells) for i in range(len(head))]
    lines = ["  ".join(c.ljust(w) for c, w in zip(row, widths, strict=True)) for row in cells]
    return "\n".join([lines[0], "  ".join("-" * w for w in widths), *lines[1:]])
