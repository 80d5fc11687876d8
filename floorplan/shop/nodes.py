"""A shop file as typed nodes that know line and column and collect every fault.

Scalars are read as the text that was typed, by the kind the reader asks for: `12:30`, `010`,
`no` or `1_000` never turn into something else on the way.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Iterator
from collections.abc import Mapping as Table
from dataclasses import dataclass, field
from difflib import get_close_matches
from fractions import Fraction
from typing import TypeVar

import yaml

from floorplan.shop.faults import Fault, Faults, ShopFileError
from floorplan.shop.syntax import decode, events, place_of
from floorplan.units import (
    TOLERANCE,
    System,
    UnitError,
    format_exact,
    parse_altitude,
    parse_angle,
    parse_density,
    parse_duration,
    parse_flow,
    parse_mass,
    parse_measured,
    parse_number,
    parse_power,
    parse_pressure,
    parse_speed,
    parse_temperature,
)

__all__ = ["Fault", "Faults", "Mapping", "Node", "Scalar", "Sequence", "ShopFileError", "compose"]

_Value = TypeVar("_Value")
_LONGEST_NAME = 80

NAMED = "named values"
"""What a mapping is called in messages; the one such word that is a plural."""


@dataclass(frozen=True, slots=True, eq=False)
class Node:
    """A value of the file: where it stands, under which keys, and who collects its faults.

    `line` and `column` count from 1; `start` and `end` are character offsets in the text
    without byte-order mark; `keys` leads from the top to here, list items by number from 0.
    The readers never raise: they note a fault and return None.
    """

    line: int
    column: int
    start: int
    end: int
    keys: tuple[str | int, ...]
    faults: Faults = field(repr=False)
    key: Scalar | None = field(repr=False)

    kind = "a value"

    @property
    def path(self) -> str:
        """Dotted keys such as `equipment.saw.at.x`; list items count from 1, as in `walls#2`."""
        steps = (f"#{key + 1}" if isinstance(key, int) else f".{key}" for key in self.keys)
        return "".join(steps).removeprefix(".")

    @property
    def shown(self) -> str:
        """What a message marks in the source."""
        return ""

    @property
    def is_empty(self) -> bool:
        """Whether nothing stands after the key."""
        return False

    @property
    def is_refused(self) -> bool:
        """Whether a fault is noted for this value already, such as an alias."""
        return False

    def fault(self, message: str, fix: str = "") -> None:
        """Note a fault of this value."""
        self.faults.add(self, message, fix)

    def text(self) -> str | None:
        """Text of one or more lines, not empty."""
        return self._scalar("a text")

    def name(self) -> str | None:
        """Read a name: one line of text, blanks within it made single."""
        text = self._scalar("a name")
        if text is None:
            return None
        name = " ".join(text.split())
        if "\n" in text or len(name) > _LONGEST_NAME or not name.isprintable():
            self.fault(f"a name has 1 to {_LONGEST_NAME} characters in one line")
            return None
        return name

    def choice(self, options: Iterable[str]) -> str | None:
        """One of the options, whatever its capitals, hyphens and underscores."""
        known = tuple(options)
        text = self._scalar(_listed(known))
        if text is None:
            return None
        for option in known:
            if text == option or _loosely(text) == _loosely(option):
                return option
        self.fault(f"`{text}` is not one of {_listed(known)}", _nearest(text, known))
        return None

    def yes_no(self) -> bool | None:
        """Read `yes` or `no` (or `true` or `false`)."""
        text = self._scalar("`yes` or `no`")
        answer = {"yes": True, "true": True, "no": False, "false": False}.get((text or "").lower())
        if text is not None and answer is None:
            self.fault(f"`{text}` is neither `yes` nor `no`")
        return answer

    def integer(self, least: int | None = None, most: int | None = None) -> int | None:
        """Read a whole number within limits."""
        text = self._scalar("a whole number")
        if text is None:
            return None
        if not re.fullmatch(r"[+-]?[0-9]{1,9}", text):
            self.fault(f"`{text}` is not a whole number")
            return None
        return self._within(int(text), least, most, str)

    def number(self, least: float | None = None, most: float | None = None) -> float | None:
        """Read a plain number within limits."""
        value = self._parsed("a number", parse_number)
        return None if value is None else self._within(value, least, most, "{:g}".format)

    def length(
        self,
        default: str | None = None,
        *,
        signed: bool = False,
        least: float | None = None,
        most: float | None = None,
        positive: bool = False,
    ) -> tuple[Fraction, Fraction | None] | None:
        """Exact length and its own measuring error, None when not stated [m].

        `default` is the unit of a bare number; `least` and `most` are in metres and reached
        within the tolerance.
        """
        found = self._parsed("a length", lambda text: parse_measured(text, default, signed=signed))
        if found is None:
            return None
        if positive and found[0] <= 0:
            self.fault("must be more than 0")
            return None

        def written(metres: float | Fraction) -> str:
            inches, millimetres = (format_exact(metres, system) for system in System)
            return f"{inches} ({millimetres})"

        inside = self._within(found[0], least, most, written, TOLERANCE)
        return None if inside is None else found

    def angle(self) -> float | None:
        """Read an angle [degrees]."""
        return self._parsed("an angle", parse_angle)

    def mass(self) -> float | None:
        """Read a mass [kg]."""
        return self._parsed("a weight", parse_mass)

    def density(self) -> float | None:
        """Read a density [kg/m3]."""
        return self._parsed("a density", parse_density)

    def duration(self) -> float | None:
        """Read a time [s]."""
        return self._parsed("a time", parse_duration)

    def flow_of_air(self) -> float | None:
        """Read a flow of air [m3/s]."""
        return self._parsed("a flow of air", parse_flow)

    def pressure(self) -> float | None:
        """Read a pressure [Pa]."""
        return self._parsed("a pressure", parse_pressure)

    def speed(self) -> float | None:
        """Read a velocity of air [m/s]."""
        return self._parsed("a velocity", parse_speed)

    def altitude(self) -> float | None:
        """Read a height above the sea [m]."""
        return self._parsed("an altitude", parse_altitude)

    def temperature(self) -> float | None:
        """Read a temperature [degrees C]."""
        return self._parsed("a temperature", parse_temperature)

    def power(self) -> float | None:
        """Read a power [W]."""
        return self._parsed("a power", parse_power)

    def sequence(self) -> tuple[Node, ...] | None:
        """Items of a list."""
        self._wrong_kind("a list", "write `[a, b]`, or one item a line after `- `")
        return None

    def mapping(self) -> Mapping | None:
        """Read named values."""
        self._wrong_kind(NAMED, "write `name: value`, one a line and indented")
        return None

    def strings(self) -> tuple[str, ...] | None:
        """Texts of a list; a single text counts as a list of one."""
        text = self._scalar("a text or a list of texts")
        return None if text is None else (text,)

    def _scalar(self, wanted: str) -> str | None:
        """Give the typed text of a scalar; any other node is a fault."""
        self._wrong_kind(wanted)
        return None

    def _wrong_kind(self, wanted: str, fix: str = "") -> None:
        if self.is_refused:
            return
        needed = f"{wanted} {'are' if wanted == NAMED else 'is'}"
        if self.is_empty and self.keys and isinstance(self.keys[-1], int):
            self.fault(f"an entry of the list is empty; {needed} needed", fix)
        elif self.is_empty and self.key is not None:
            self.faults.add(
                self.key, f"nothing stands after `{self.key.value}:`", fix or f"write {wanted}"
            )
        else:
            self.fault(f"{needed} needed here, not {self.kind}", fix)

    def _parsed(self, what: str, parse: Callable[[str], _Value]) -> _Value | None:
        text = self._scalar(what)
        if text is None:
            return None
        try:
            return parse(text)
        except UnitError as wrong:
            self._fault_within(wrong)
            return None

    def _fault_within(self, wrong: UnitError) -> None:
        self.fault(wrong.message)

    def _within(
        self,
        value: _Value,
        least: float | None,
        most: float | None,
        written: Callable[[_Value | float], str],
        slack: float = 0.0,
    ) -> _Value | None:
        if least is not None and value < least - slack:  # type: ignore[operator]
            self.fault(f"{written(value)} is too small; at least {written(least)}")
            return None
        if most is not None and value > most + slack:  # type: ignore[operator]
            self.fault(f"{written(value)} is too large; at most {written(most)}")
            return None
        return value


@dataclass(frozen=True, slots=True, eq=False)
class Scalar(Node):
    """A single text as it was typed; `quote` is its quote character or block sign, or empty."""

    value: str
    quote: str
    refused: bool

    kind = "a single value"

    @property
    def shown(self) -> str:
        """The text, with its quotes."""
        return self.value if not self.quote else f"{self.quote}{self.value}{self.quote}"

    @property
    def is_empty(self) -> bool:
        """Whether nothing stands after the key."""
        return not self.value and not self.quote

    @property
    def is_refused(self) -> bool:
        """Whether a fault is noted for this value already, such as an alias."""
        return self.refused

    def _scalar(self, wanted: str) -> str | None:
        text = self.value.strip()
        if text and not self.refused:
            return text
        if self.is_empty or self.refused:
            self._wrong_kind(wanted)
        else:
            self.fault(f"{wanted} is needed here, not blanks")
        return None

    def _fault_within(self, wrong: UnitError) -> None:
        """Point at the very character, where text and source run alike."""
        opening = len(self.quote)
        if self.end - self.start != len(self.value) + 2 * opening:
            self.fault(wrong.message)
            return
        blanks = len(self.value) - len(self.value.lstrip())
        offset = opening + blanks + wrong.position
        self.faults.add_at(
            self.line,
            self.column + offset,
            wrong.message,
            text=self.value[blanks + wrong.position :],
        )


@dataclass(frozen=True, slots=True, eq=False)
class Sequence(Node):
    """A list of values."""

    items: tuple[Node, ...]
    flow: bool

    kind = "a list"

    def sequence(self) -> tuple[Node, ...]:
        """Items of the list."""
        return self.items

    def strings(self) -> tuple[str, ...] | None:
        """Texts of the list; None when one of them is no text."""
        texts = [item.text() for item in self.items]
        return None if None in texts else tuple(text for text in texts if text is not None)


@dataclass(frozen=True, slots=True, eq=False)
class Mapping(Node):
    """Named values in the order of the file; the names are compared as they were typed."""

    entries: Table[str, Node]
    flow: bool

    kind = "named values"

    def mapping(self) -> Mapping:
        """Give the mapping itself."""
        return self

    def __len__(self) -> int:
        return len(self.entries)

    def __contains__(self, key: str) -> bool:
        return key in self.entries

    def items(self) -> Iterator[tuple[str, Node]]:
        """Give names and values in the order of the file."""
        return iter(self.entries.items())

    def get(self, key: str) -> Node | None:
        """Value of a name, None when the name is not there."""
        return self.entries.get(key)

    def require(self, key: str) -> Node | None:
        """Value of a name; that it is missing is a fault."""
        node = self.entries.get(key)
        if node is None:
            owner = f"`{self.key.value}`" if self.key else "the file"
            self.faults.add(self.key or self, f"{owner} needs `{key}:`", f"add a line `{key}: ...`")
        return node

    def check_keys(self, known: Iterable[str], refused: Table[str, str] | None = None) -> None:
        """Note a fault for each name that is not known; `refused` says why some are not."""
        names = tuple(known)
        for name, node in self.entries.items():
            if refused and name in refused:
                self.faults.add(node.key, refused[name])
            elif name not in names:
                fix = _nearest(name, names) or f"known here: {', '.join(names)}"
                self.faults.add(node.key, f"`{name}` is not known here", fix)


def _loosely(name: str) -> str:
    """Fold a name so that capitals, `_`, `-`, blanks and a plural s make no difference."""
    return re.sub(r"[_\-\s]+", " ", name.strip().lower()).removesuffix("s")


def _nearest(name: str, known: tuple[str, ...]) -> str:
    folded = {_loosely(option): option for option in known}
    near = get_close_matches(_loosely(name), folded, n=1, cutoff=0.6)
    return f"did you mean `{folded[near[0]]}`?" if near else ""


def _listed(options: tuple[str, ...]) -> str:
    return ", ".join(f"`{option}`" for option in options)


# --- building the tree -----------------------------------------------------------------------


@dataclass(slots=True)
class _Open:
    """A list or mapping whose end is not reached yet."""

    event: yaml.CollectionStartEvent
    keys: tuple[str | int, ...]
    key: Scalar | None  # its own
    items: list[Node] = field(default_factory=list)
    entries: dict[str, Node] = field(default_factory=dict)
    name: Scalar | None = None  # of the entry whose value comes next

    @property
    def is_mapping(self) -> bool:
        return isinstance(self.event, yaml.MappingStartEvent)


class _Builder:
    """Turns parser events into nodes without recursion."""

    def __init__(self, faults: Faults) -> None:
        self.faults = faults
        self.open: list[_Open] = []
        self.top: Node | None = None

    def take(self, event: yaml.Event) -> None:
        if isinstance(event, yaml.NodeEvent):
            self._refuse_reuse(event)
        if isinstance(event, yaml.CollectionStartEvent):
            keys, key = self._place()
            self.open.append(_Open(event, keys, key))
        elif isinstance(event, yaml.CollectionEndEvent):
            self._close(event)
        elif isinstance(event, yaml.ScalarEvent):
            keys, key = self._place()
            quote = event.style or ""
            self._add(
                Scalar(*_span(event, event), keys, self.faults, key, event.value, quote, False)
            )
        elif isinstance(event, yaml.AliasEvent):
            keys, key = self._place()
            self._add(Scalar(*_span(event, event), keys, self.faults, key, "", "", True))

    def _refuse_reuse(self, event: yaml.NodeEvent) -> None:
        for found, what in (
            (isinstance(event, yaml.AliasEvent), "aliases (`*`)"),
            (event.anchor and not isinstance(event, yaml.AliasEvent), "anchors (`&`)"),
            (getattr(event, "tag", None), "tags (`!`)"),
        ):
            if found:
                self.faults.add(
                    place_of(event), f"{what} have no use in a shop file", "write the value out"
                )

    def _place(self) -> tuple[tuple[str | int, ...], Scalar | None]:
        """Give the keys and the key node of the node that comes next."""
        if not self.open:
            return (), None
        parent = self.open[-1]
        if not parent.is_mapping:
            return (*parent.keys, len(parent.items)), parent.key
        if parent.name is None:
            return parent.keys, None
        return (*parent.keys, parent.name.value), parent.name

    def _add(self, node: Node) -> None:
        if not self.open:
            self.top = node
            return
        parent = self.open[-1]
        if not parent.is_mapping:
            parent.items.append(node)
        elif parent.name is None:
            parent.name = self._as_name(node)
        else:
            name, parent.name = parent.name, None
            if not name.refused and self._is_first(parent, name):
                parent.entries[name.value] = node

    def _as_name(self, node: Node) -> Scalar:
        if isinstance(node, Scalar) and node.value.strip() and "\n" not in node.value:
            if node.value != "<<" or node.quote:
                return node
            node.fault("merge keys (`<<`) have no use in a shop file", "write the values out")
        elif not node.is_refused:
            node.fault("a name of one line must stand before the `:`")
        return Scalar(
            node.line,
            node.column,
            node.start,
            node.end,
            node.keys,
            self.faults,
            None,
            "?",
            "",
            True,
        )

    def _is_first(self, parent: _Open, name: Scalar) -> bool:
        earlier = parent.entries.get(name.value)
        if earlier is None or earlier.key is None:
            return True
        self.faults.add(
            name,
            f"`{name.value}` stands here a second time, first in line {earlier.key.line}",
            "keep one of the two",
        )
        return False

    def _close(self, event: yaml.CollectionEndEvent) -> None:
        done = self.open.pop()
        span, flow = _span(done.event, event), bool(done.event.flow_style)
        if done.is_mapping:
            self._add(Mapping(*span, done.keys, self.faults, done.key, done.entries, flow))
        else:
            self._add(Sequence(*span, done.keys, self.faults, done.key, tuple(done.items), flow))


def _span(first: yaml.Event, last: yaml.Event) -> tuple[int, int, int, int]:
    start, end = first.start_mark, last.end_mark
    assert start is not None
    assert end is not None
    return start.line + 1, start.column + 1, start.index, end.index


def compose(text_or_bytes: str | bytes, path: str) -> Mapping:
    """Top mapping of a shop file; its `faults` hold what was found so far.

    Bytes may be UTF-8 or, with a byte-order mark, UTF-16. Duplicate names, anchors, aliases,
    tags and merge keys are noted in `.faults`, to be told together with the faults of the
    typed readers by `.faults.raise_if_any()`. Broken syntax, an empty file, a top level that
    is not a mapping, and more than the limits of size, depth and count raise ShopFileError.
    """
    if isinstance(text_or_bytes, bytes):
        text_or_bytes = decode(text_or_bytes, path)[0]
    text = text_or_bytes.removeprefix("\ufeff")
    faults = Faults(path, text)
    builder = _Builder(faults)
    for event in events(text, faults):
        builder.take(event)
    top = builder.top
    if isinstance(top, Mapping):
        return top
    if top is None or top.is_empty:
        faults.add_at(
            1, 1, "the file is empty", fix=f"try `floorplan start {path}` for a beginning"
        )
    else:
        top.fault(
            "the file must begin with named values", "write `shop: a name` on a line of its own"
        )
    raise faults.error()
