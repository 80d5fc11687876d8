"""Change values of a shop file and leave every other character as it was."""

from __future__ import annotations

import contextlib
import os
import re
from collections.abc import Mapping as Table
from pathlib import Path
from secrets import token_hex

from floorplan.shop.faults import ShopFileError
from floorplan.shop.nodes import Mapping, Node, Scalar, Sequence, compose

Keys = tuple[str | int, ...]
"""Where a value stands, from the top down; items of a list by number from 0."""

Value = str | list["Value"] | Table[str, "Value"]
"""A text as it will be read back, a list, or named values."""

Plain = str | list["Plain"] | dict[str, "Plain"]

_LINE_END = re.compile("\r\n|[\r\n]|$")
# What every YAML reader takes as plain text, also within brackets; the rest is quoted.
_SURELY_PLAIN = re.compile(r"[-+.]?\w(?:[\w '\"+./±°()-]*[\w'\"°)])?")
_COMMENTS_THEN_COMMA = re.compile(r"(?:\s|#[^\r\n]*)*,")


class EditError(ValueError):
    """A change that cannot be made without touching something else."""


def replace_values(text: str, changes: Table[Keys, Value]) -> str:
    """Set the values at the given places; comments, order, blanks and line ends stay.

    A text replaces a single value or is added where nothing stood, with the mappings that
    lead to it. Named values replace whatever stood there, written as `{x: ..., y: ...}`. The
    result is read again and must differ in these places only. Raises EditError, and
    ShopFileError when `text` is no proper shop file.
    """
    mark = "\ufeff" if text.startswith("\ufeff") else ""
    before = text.removeprefix(mark)
    after, expected = before, plain_of(read_nodes(before))
    for keys, value in changes.items():
        if not keys:
            raise EditError("a change needs a place")
        after = _changed(after, keys, value)
        expected = _with(expected, keys, value)
    return mark + read_again(after, expected)


def read_again(text: str, expected: Plain) -> str:
    """A changed text, once it reads as expected and as nothing else. Raises EditError."""
    try:
        found = plain_of(read_nodes(text))
    except ShopFileError as error:
        raise EditError(f"the changed file would not be read again:\n{error}") from error
    if found != expected:
        raise EditError("the change would alter other values of the file")
    return text


def read_nodes(text: str) -> Mapping:
    """The nodes of a whole text. Raises ShopFileError."""
    top = compose(text, "shop file")
    top.faults.raise_if_any()
    return top


def plain_of(node: Node) -> Plain:
    """What a node says, without where it stands."""
    if isinstance(node, Mapping):
        return {name: plain_of(value) for name, value in node.items()}
    if isinstance(node, Sequence):
        return [plain_of(item) for item in node.items]
    assert isinstance(node, Scalar)
    return node.value


def as_plain(value: Value) -> Plain:
    """What is read where a value was written."""
    if isinstance(value, str):
        return value
    if isinstance(value, list):
        return [as_plain(item) for item in value]
    return {name: as_plain(inner) for name, inner in value.items()}


def _with(plain: Plain, keys: Keys, value: Value) -> Plain:
    """Give a copy in which `value` stands at `keys`, independent of any text."""
    if not keys:
        return as_plain(value)
    first, rest = keys[0], keys[1:]
    if isinstance(first, int):
        assert isinstance(plain, list)
        return [*plain[:first], _with(plain[first], rest, value), *plain[first + 1 :]]
    inside = plain if isinstance(plain, dict) else {}
    return {**inside, first: _with(inside.get(first, ""), rest, value)}


# --- one change ------------------------------------------------------------------------------


def _changed(text: str, keys: Keys, value: Value) -> str:
    """Make one change in the text."""
    node: Node = read_nodes(text)
    for depth, key in enumerate(keys):
        if isinstance(key, int):
            if not isinstance(node, Sequence) or not 0 <= key < len(node.items):
                raise EditError(f"no item {key + 1} in `{node.path}`")
            node = node.items[key]
        elif isinstance(node, Mapping):
            inner = node.get(key)
            if inner is None:
                return _added(text, node, key, _nested(keys[depth + 1 :], value))
            node = inner
        elif node.is_empty:
            return _replaced(text, node, _nested(keys[depth:], value))
        else:
            raise EditError(f"`{node.path}` is {node.kind}; `{key}` cannot stand in it")
    if isinstance(value, str) and not isinstance(node, Scalar):
        raise EditError(f"`{node.path}` is {node.kind}, not a single value")
    return _replaced(text, node, value)


def _nested(keys: Keys, value: Value) -> Value:
    for key in reversed(keys):
        if isinstance(key, int):
            raise EditError(f"no list for item {key + 1}")
        value = {key: value}
    return value


def _replaced(text: str, node: Node, value: Value) -> str:
    new = written(value)
    start, end = (node.start, node.start) if node.is_empty else (node.start, last_of(text, node))
    blank = " " if node.is_empty else ""
    return text[:start] + blank + new + text[end:]


def _added(text: str, mapping: Mapping, key: str, value: Value) -> str:
    """Add an entry behind the last one of a mapping."""
    entry = f"{quoted_if_needed(key)}: {written(value)}"
    end = last_of(text, mapping)
    if not mapping.flow:
        end = line_end(text, end)
        return text[:end] + line_break(text) + " " * (mapping.column - 1) + entry + text[end:]
    if not mapping.entries:
        return text[: mapping.start + 1] + entry + text[mapping.start + 1 :]
    end = _last_child(text, mapping)
    if comma := _COMMENTS_THEN_COMMA.match(text, end):
        return text[: comma.end()] + f" {entry}" + text[comma.end() :]
    return text[:end] + f", {entry}" + text[end:]


def last_of(text: str, node: Node) -> int:
    """Find where a node ends; a parser sets the end of a block at the next token."""
    if isinstance(node, Mapping | Sequence) and not node.flow:
        return _last_child(text, node)
    if isinstance(node, Scalar) and node.quote in ("|", ">"):
        return node.start + len(text[node.start : node.end].rstrip())
    return node.end


def _last_child(text: str, node: Mapping | Sequence) -> int:
    children = node.items if isinstance(node, Sequence) else tuple(node.entries.values())
    return last_of(text, children[-1])


def line_end(text: str, start: int) -> int:
    """Where the line ends that a place is in."""
    found = _LINE_END.search(text, start)
    return found.start() if found else len(text)


def line_break(text: str) -> str:
    """How the lines of a text end."""
    found = _LINE_END.search(text)
    return (found[0] if found else "") or "\n"


def written(value: Value) -> str:
    """A value in one line."""
    if isinstance(value, str):
        return quoted_if_needed(value)
    if isinstance(value, list):
        return "[" + ", ".join(map(written, value)) + "]"
    entries = (f"{quoted_if_needed(name)}: {written(inner)}" for name, inner in value.items())
    return "{" + ", ".join(entries) + "}"


def quoted_if_needed(value: str) -> str:
    """Write a text plainly where that is safe, else in single quotes."""
    if not value.isprintable():
        raise EditError(f"{value!r} is not one line of text")
    if _SURELY_PLAIN.fullmatch(value):
        return value
    doubled = value.replace("'", "''")
    return f"'{doubled}'"


# --- the file --------------------------------------------------------------------------------


def write_beside_then_replace(
    path: str | Path, content: str | bytes, *, only_new: bool = False
) -> None:
    """Write a file in one step: it is the old one or the new one, never half of it.

    The new one is written and synchronised beside the old one, takes over its mode, and then
    its name. On any error the old one stays and nothing is left over. Text is written as UTF-8
    with its line ends as they are. Raises OSError that names the file, with `only_new` also
    where one is there.
    """
    target = Path(os.path.realpath(path))
    data = content.encode("utf-8") if isinstance(content, str) else content
    # whoever was killed while writing may have left one behind: no two have the same name
    beside = target.with_name(f".{target.name}.{token_hex(4)}.new")
    descriptor = os.open(beside, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o666)
    try:
        with open(descriptor, "wb") as file:
            file.write(data)
            file.flush()
            os.fsync(file.fileno())
        with contextlib.suppress(FileNotFoundError):
            beside.chmod(target.stat().st_mode & 0o7777)
        if only_new:
            os.link(beside, target)
            beside.unlink()
        else:
            beside.replace(target)
    except BaseException as wrong:
        beside.unlink(missing_ok=True)
        if isinstance(wrong, OSError) and wrong.filename is None:  # a full disk names none
            wrong.filename = str(target)
        raise
