"""Put entries of a shop file in the place of another one, which stays there as a comment."""

from __future__ import annotations

import re
from collections.abc import Mapping as Table

from floorplan.shop.edit import (
    EditError,
    Value,
    as_plain,
    last_of,
    line_break,
    line_end,
    plain_of,
    quoted_if_needed,
    read_again,
    read_nodes,
    written,
)
from floorplan.shop.nodes import Mapping, Node

WIDTH = 100
"""Characters of a line; what is longer is written one value a line."""
STEP = 2
"""Blanks by which inner values stand further in."""
_COMMA = re.compile(r"\s*,\s*")


def exchange(text: str, section: str, key: str, entries: Table[str, Value], *, why: str) -> str:
    """Write `entries` where `key` stands in a section, and keep its lines as a comment.

    `why` is the comment's first line. Entries that the section has already are replaced where they
    stand. Everything else of the file stays as it was; the result is read again and compared.
    Raises EditError, and ShopFileError when `text` is no proper shop file.
    """
    mark = "\ufeff" if text.startswith("\ufeff") else ""
    before = text.removeprefix(mark)
    top = read_nodes(before)
    body = top.get(section)
    node = body.get(key) if isinstance(body, Mapping) else None
    if not isinstance(body, Mapping) or node is None:
        raise EditError(f"there is no `{section}: {key}:`")
    expected = plain_of(top)
    assert isinstance(expected, dict)
    inside = expected[section]
    assert isinstance(inside, dict)
    known = {name: value for name, value in inside.items() if name != key}
    expected[section] = {**known, **{name: as_plain(value) for name, value in entries.items()}}
    for name in known:
        if name in entries:
            raise EditError(f"`{section}` has `{name}` already")
    after = (_in_line if body.flow else _in_block)(before, body, node, entries, why)
    return mark + read_again(after, expected)


def _in_block(text: str, body: Mapping, node: Node, entries: Table[str, Value], why: str) -> str:
    """Whole lines become a comment, and the entries follow."""
    assert node.key is not None
    start = _line_start(text, node.key.start)
    end = line_end(text, node.key.end if node.is_empty else last_of(text, node))
    if text[start : node.key.start].strip():
        raise EditError(f"`{node.path}` does not begin a line")
    newline, indent = line_break(text), body.column - 1
    margin = " " * indent
    old = [line[indent:] if line[:indent].isspace() or not line[:indent] else line.lstrip()
           for line in text[start:end].splitlines()]  # fmt: skip
    comment = [f"{margin}# {line}".rstrip() for line in (why, *old)]
    lines = [line for name, value in entries.items() for line in block_of(name, value, indent)]
    return text[:start] + newline.join((*comment, *lines)) + text[end:]


def _in_line(text: str, body: Mapping, node: Node, entries: Table[str, Value], why: str) -> str:
    """Within brackets no line can become a comment by itself: the entry gives way to the others."""
    del body, why
    assert node.key is not None
    start, end = node.key.start, node.key.end if node.is_empty else node.end
    if "#" in text[start:end]:
        raise EditError(
            f"`{node.path}` stands within brackets with a comment inside that would be lost"
        )
    if not entries:
        comma = _COMMA.match(text, end)
        end = comma.end() if comma else end
    made = ", ".join(f"{quoted_if_needed(n)}: {written(v)}" for n, v in entries.items())
    return text[:start] + made + text[end:]


def _line_start(text: str, place: int) -> int:
    return max(text.rfind("\n", 0, place), text.rfind("\r", 0, place)) + 1


def block_of(name: str, value: Value, indent: int) -> list[str]:
    """Lines of one entry: in one line where it fits, else one value a line."""
    head = f"{' ' * indent}{quoted_if_needed(name)}:"
    one = f"{head} {written(value)}"
    if isinstance(value, str) or not value or (len(one) <= WIDTH and not _is_deep(value)):
        return [one]
    inner = indent + STEP
    if isinstance(value, list):
        return [head, *(f"{' ' * inner}- {written(item)}" for item in value)]
    return [head, *(line for key, item in value.items() for line in block_of(key, item, inner))]


def _is_deep(value: Value) -> bool:
    """Whether named values stand within named values."""
    return not isinstance(value, (str, list)) and any(
        not isinstance(item, (str, list)) for item in value.values()
    )
