"""Faults of a shop file: where they are, what is wrong and what would be right."""

from __future__ import annotations

import re
import unicodedata
from dataclasses import dataclass

_LINE_BREAK = re.compile("\r\n|[\r\n\x85\u2028\u2029]")
_WIDEST_SHOWN = 100
_MOST_SHOWN = 50


def lines_of(text: str) -> tuple[str, ...]:
    """Lines as YAML 1.1 counts them (section 5.4: CR, LF, NEL, LS and PS all break lines)."""
    return tuple(_LINE_BREAK.split(text))


@dataclass(frozen=True, slots=True)
class Fault:
    """One fault; `line` and `column` count from 1, `text` is what is wrong there."""

    line: int
    column: int
    message: str
    text: str = ""
    fix: str = ""


class ShopFileError(ValueError):
    """A shop file that cannot be used, with all faults found in it, in order of place."""

    def __init__(self, path: str, faults: tuple[Fault, ...], lines: tuple[str, ...] = ()) -> None:
        super().__init__(path, faults)
        self.path = path
        self.faults = tuple(sorted(faults, key=lambda fault: (fault.line, fault.column)))
        self.lines = lines

    def __str__(self) -> str:
        shown = [self._shown(fault) for fault in self.faults[:_MOST_SHOWN]]
        if len(self.faults) > _MOST_SHOWN:
            shown.append(f"and {len(self.faults) - _MOST_SHOWN} more faults")
        return "\n".join(shown)

    def _shown(self, fault: Fault) -> str:
        rows = [f"{self.path}:{fault.line}:{fault.column}: {fault.message}"]
        if fault.line <= len(self.lines) and self.lines[fault.line - 1].strip():
            rows += _snippet(self.lines[fault.line - 1], fault)
        if fault.fix:
            rows.append(f"  fix: {fault.fix}")
        return "\n".join(rows)


def _snippet(line: str, fault: Fault) -> tuple[str, str]:
    """Cut the line around the fault and set a caret line under it."""
    at = fault.column - 1
    first = max(0, at - _WIDEST_SHOWN // 2) if len(line) > _WIDEST_SHOWN else 0
    part = line[first : first + _WIDEST_SHOWN]
    under = "".join(_blank_as_wide_as(character) for character in line[first:at])
    marked = line[at : at + max(1, len(fault.text))] if "\n" not in fault.text else ""
    carets = "^" * max(1, sum(len(_blank_as_wide_as(c)) for c in marked))
    part = "".join(c if c.isprintable() or c == "\t" else "\ufffd" for c in part)
    return f"  {part}", f"  {under}{carets[:_WIDEST_SHOWN]}"


def _blank_as_wide_as(character: str) -> str:
    if character == "\t":
        return "\t"
    if unicodedata.combining(character):
        return ""
    return "  " if unicodedata.east_asian_width(character) in "WF" else " "


class Faults:
    """Collects the faults of one file, so that all of them are told at once."""

    def __init__(self, path: str, text: str) -> None:
        self.path = path
        self.lines = lines_of(text)
        self._found: dict[tuple[int, int, str], Fault] = {}

    def __len__(self) -> int:
        return len(self._found)

    def add(self, place: object, message: str, fix: str = "") -> None:
        """Note a fault at a node, or at anything with `line`, `column` and perhaps `shown`."""
        line, column = int(getattr(place, "line", 1)), int(getattr(place, "column", 1))
        self.add_at(line, column, message, text=str(getattr(place, "shown", "")), fix=fix)

    def add_at(
        self, line: int, column: int, message: str, *, text: str = "", fix: str = ""
    ) -> None:
        """Note a fault at a line and column, counted from 1; the same one is kept once."""
        self._found.setdefault(
            (line, column, message), Fault(line, column, message, text=text, fix=fix)
        )

    def error(self) -> ShopFileError:
        """Give the error that tells everything collected so far."""
        return ShopFileError(self.path, tuple(self._found.values()), self.lines)

    def raise_if_any(self) -> None:
        """Raise ShopFileError if anything was collected."""
        if self._found:
            raise self.error()
