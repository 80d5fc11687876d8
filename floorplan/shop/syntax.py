"""YAML text to parser events, within limits, its errors reworded for people with a tape."""

from __future__ import annotations

import codecs
import re
from collections.abc import Iterator
from dataclasses import dataclass

import yaml

from floorplan.shop.faults import Faults, ShopFileError

LARGEST_FILE = 1_000_000  # [bytes]
DEEPEST_NESTING = 20
MOST_NODES = 50_000

Loader: type[yaml.SafeLoader] | type[yaml.CSafeLoader] = getattr(
    yaml, "CSafeLoader", yaml.SafeLoader
)

_BYTE_ORDER_MARKS = (
    (codecs.BOM_UTF8, "utf-8"),
    (codecs.BOM_UTF16_LE, "utf-16-le"),
    (codecs.BOM_UTF16_BE, "utf-16-be"),
)
# What YAML 1.1 does not allow in a stream (section 5.1, printable characters).
_UNPRINTABLE = re.compile("[^\t\n\r\x20-\x7e\x85\xa0-\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]")
_AFTER_QUOTES = re.compile(
    r"""(?:^|[:,\[{-])\s*(?P<quoted>"(?:[^"\\]|\\.)*"|'(?:[^']|'')*')(?!\s*(?:$|[,\]}:]|\s\#))""",
    re.VERBOSE,
)
_NO_QUOTES = "write lengths without quotes, as in `width: 7' 4-1/2\"`"
_TAB = "use blanks to indent, two for each level"

# (what the parser says, where to point, our message, our fix), the first that matches is used.
_REWORDED = (
    (r"unexpected end of stream", "context", "the quote that opens here is not closed", _NO_QUOTES),
    (r"unknown escape", "context", "a `\\` in double quotes means something else", _NO_QUOTES),
    (r"tab character", "problem", "a tab indents this line", _TAB),
    (
        r"mapping values are not allowed",
        "problem",
        "a second `:` in one line, or a line indented too far",
        "put what follows on a line of its own, indented by two blanks",
    ),
    (
        r"sequence entries are not allowed",
        "problem",
        "a list cannot begin behind the name",
        "put each `- ` on a line of its own, or write the list as `[a, b]`",
    ),
    (
        r"could not find expected ':'",
        "context",
        "a name without `:`",
        "write `name: value`, or indent the line if it belongs to the one above",
    ),
    (
        r"expected ',' or",
        "context",
        "the bracket that opens here is not closed, or a comma is missing after an entry",
        "write `[a, b]` or `{x: 1, y: 2}`",
    ),
    (
        r"exceeded maximum nesting",
        "problem",
        f"nested more than {DEEPEST_NESTING} deep",
        "a shop file needs only a few levels",
    ),
    (
        r"cannot start any token|alphabetic or numeric|node content|chomping|comment or line break",
        "context",
        "a value cannot begin with this character",
        "leave the character out, or put the whole text in single quotes",
    ),
    (
        r"<block (mapping|sequence) start>|did not find expected|expected <block end>",
        "problem",
        "this does not fit what stands above it",
        "indent it exactly as far as its neighbours, and look for a stray bracket or quote",
    ),
    (
        r"mapping keys are not allowed",
        "problem",
        "a value cannot begin with this character",
        "leave the character out, or put the whole text in single quotes",
    ),
    (r"incompatible", "problem", "directives (`%`) have no use in a shop file", "leave it out"),
    (r"tag handle", "problem", "tags (`!`) have no use in a shop file", "leave the tag out"),
)


@dataclass(frozen=True, slots=True)
class Place:
    """Where something stands, from 1, and what a message marks there."""

    line: int
    column: int
    shown: str = ""


def place_of(event: yaml.Event) -> Place:
    """Tell where an event begins."""
    assert event.start_mark is not None
    return Place(event.start_mark.line + 1, event.start_mark.column + 1)


def decode(data: bytes, path: str) -> tuple[str, str]:
    """Text of a shop file, a byte-order mark kept, and the name of its encoding.

    UTF-8, and UTF-16 with a byte-order mark, are read; anything else raises ShopFileError.
    """
    encoding = next((name for mark, name in _BYTE_ORDER_MARKS if data.startswith(mark)), "utf-8")
    try:
        return data.decode(encoding), encoding
    except UnicodeDecodeError as wrong:
        before = data[: wrong.start].decode(encoding, "replace")
        faults = Faults(path, before)
        faults.add_at(
            len(faults.lines),
            len(faults.lines[-1]) + 1,
            "the file is not UTF-8 text",
            fix="save it as plain text with the encoding UTF-8",
        )
        raise faults.error() from None


def events(text: str, faults: Faults) -> Iterator[yaml.Event]:
    """Parser events of one document without byte-order mark, checked against the limits.

    What makes further reading pointless (syntax, size, depth) raises ShopFileError.
    """
    _check_characters(text, faults)
    depth = nodes = documents = 0
    try:
        for event in yaml.parse(text, Loader=Loader):
            place = place_of(event)
            if isinstance(event, yaml.DocumentStartEvent):
                documents += 1
                if documents > 1:
                    raise _refusal(
                        faults, place, "a second document begins here", "keep one shop a file"
                    )
            depth += isinstance(event, yaml.CollectionStartEvent)
            depth -= isinstance(event, yaml.CollectionEndEvent)
            nodes += isinstance(event, yaml.NodeEvent)
            if depth > DEEPEST_NESTING:
                raise _refusal(
                    faults,
                    place,
                    f"nested more than {DEEPEST_NESTING} deep",
                    "a shop file needs only a few levels",
                )
            if nodes > MOST_NODES:
                raise _refusal(faults, place, f"more than {MOST_NODES} entries", "split the shop")
            yield event
    except yaml.MarkedYAMLError as error:
        raise _reworded(error, faults) from None


def _refusal(faults: Faults, place: Place, message: str, fix: str) -> ShopFileError:
    faults.add(place, message, fix)
    return faults.error()


def _check_characters(text: str, faults: Faults) -> None:
    if len(text) > LARGEST_FILE or len(text.encode("utf-8", "replace")) > LARGEST_FILE:
        raise _refusal(
            faults, Place(1, 1), f"the file is larger than {LARGEST_FILE:,} bytes", "split it"
        )
    if found := _UNPRINTABLE.search(text):
        before = text[: found.start()]
        line = len(Faults("", before).lines)
        column = len(Faults("", before).lines[-1]) + 1
        raise _refusal(
            faults,
            Place(line, column, found[0]),
            f"the character U+{ord(found[0]):04X} cannot stand in a shop file",
            "delete it, or save the file as UTF-8",
        )


def _reworded(error: yaml.MarkedYAMLError, faults: Faults) -> ShopFileError:
    """Our fault for a parser error; the loaders differ only in rare cases of tags and tabs."""
    problem = str(error.problem or error.context or "")
    last_line = error.problem_mark.line if error.problem_mark else 0
    place, message, fix = _as_known(error, problem)
    line = faults.lines[min(place.line, len(faults.lines)) - 1]
    if line[place.column - 1 : place.column] == "\t":
        return _refusal(faults, place, "a tab stands here", "use blanks instead")
    written = max((n for n, row in enumerate(faults.lines, 1) if row.strip()), default=1)
    end = Place(written, len(faults.lines[written - 1].rstrip()) + 1)
    if (place.line, place.column) >= (end.line, end.column):
        place, message, fix = end, "the file ends too early", "close the bracket or quote"
    line = faults.lines[min(place.line, len(faults.lines)) - 1]
    if "\t" in line[: len(line) - len(line.lstrip())]:
        place, message, fix = (
            Place(place.line, line.index("\t") + 1),
            "a tab indents this line",
            _TAB,
        )
    elif re.search(r"end of stream|<scalar>|did not find expected|expected ','|':'", problem):
        for number, earlier in enumerate(faults.lines[: last_line + 1], 1):
            if found := _AFTER_QUOTES.search(earlier):
                place = Place(number, found.start("quoted") + 1, found["quoted"])
                message, fix = "text goes on after the closing quote", _NO_QUOTES
                break
    return _refusal(faults, place, message, fix)


def _as_known(error: yaml.MarkedYAMLError, problem: str) -> tuple[Place, str, str]:
    where, message, fix = next(
        (row[1:] for row in _REWORDED if re.search(row[0], problem)),
        ("problem", f"this is not YAML: {problem}", ""),
    )
    mark = (where == "context" and error.context_mark) or error.problem_mark
    place = Place(mark.line + 1, mark.column + 1) if mark else Place(1, 1)
    return place, message, fix
