"""Pieces of the page: texts, lists and tables, all escaped."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from html import escape


def tag(name: str, text: str, kind: str = "") -> str:
    """A text within an element, escaped."""
    attribute = f' class="{kind}"' if kind else ""
    return f"<{name}{attribute}>{escape(text)}</{name}>"


def bullets(items: Iterable[str]) -> str:
    """A list."""
    return "\n".join(["<ul>", *(tag("li", item) for item in items), "</ul>"])


def table(caption: str, head: Sequence[str], rows: Iterable[Sequence[str]]) -> str:
    """A table that scrolls by itself where the page is narrow; numbers after the first column."""
    lines = ['<div class="wide" tabindex="0" role="region" aria-label="' + escape(caption) + '">']
    lines += ["<table>", tag("caption", caption), "<tr>"]
    lines += [f'<th scope="col">{escape(cell)}</th>' for cell in head]
    lines.append("</tr>")
    for first, *rest in rows:
        cells = "".join(tag("td", cell, "number") for cell in rest)
        lines.append(f'<tr><th scope="row">{escape(first)}</th>{cells}</tr>')
    return "\n".join([*lines, "</table>", "</div>"])
