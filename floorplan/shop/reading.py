"""What every reader of a part of the shop file shares: units, tape, measured numbers, layers."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from difflib import get_close_matches

from floorplan.geometry.affine import ZERO, Affine, Measurement, affine
from floorplan.rules.book import RuleBook
from floorplan.rules.quantity import parse_quantity
from floorplan.shop.faults import Faults
from floorplan.shop.nodes import Mapping as MappingNode
from floorplan.shop.nodes import Node, Scalar
from floorplan.units import System, UnitError, parse_measured

Corner = tuple[Affine, Affine]
SAME_CORNER = 1e-4
"""Corners nearer than this both ways are one [m]: no tape tells them apart."""
_EXPRESSION = re.compile(r"^(width|depth|height|surface|rule\s+[\w-]+)\s*(?:([+-])\s*(.+))?$")


@dataclass
class Reading:
    """The state of one reading: defaults of the file and the measured numbers met so far."""

    faults: Faults
    system: System
    default_unit: str | None
    tape_plan: float
    tape_height: float
    rules: RuleBook
    named: frozenset[str] = frozenset()
    """Every name that the file gives to something, read without fault or not."""
    walls_known: bool = True
    """False while the rest of a file is read whose room has a fault: no wall is missed then."""
    supposed: bool = False
    """Whether sizes were exchanged for a what-if."""
    measurements: dict[str, Measurement] = field(default_factory=dict)
    notes: list[str] = field(default_factory=list)

    def measured(
        self,
        name: str,
        value: float,
        *,
        error: float = 0.0,
        assumed: bool = False,
        line: int = 0,
    ) -> Affine:
        """Register a measured or assumed number and return it [m]."""
        if not assumed and error == 0.0:
            return Affine(value)
        self.measurements[name] = Measurement(name, value, error, assumed, line)
        return Affine(value, {name: 1.0})

    def length(
        self,
        node: Node | None,
        name: str,
        *,
        height: bool = False,
        signed: bool = False,
        positive: bool = False,
        least: float | None = None,
        most: float | None = None,
        assumed: bool = False,
        contact_at_zero: bool = False,
    ) -> Affine | None:
        """A length of the file as a measured number; its own error or the tape's [m]."""
        if node is None:
            return None
        found = node.length(
            self.default_unit, signed=signed, positive=positive, least=least, most=most
        )
        if found is None:
            return None
        value, own = found
        if assumed:
            return self.measured(name, float(value), assumed=True)
        if own is None and contact_at_zero and value == 0:
            return ZERO
        tape = self.tape_height if height else self.tape_plan
        error = tape if own is None else float(own)
        return self.measured(name, float(value), error=error, line=node.line)

    def point(self, node: Node | None, name: str) -> tuple[Affine, Affine] | None:
        """A point `[x, y]`; a bare 0 is the origin's and carries no error [m]."""
        pair = self.pair(node, "a point `[x, y]`")
        if pair is None:
            return None
        x = self.length(pair[0], f"{name} x", signed=True, contact_at_zero=True)
        y = self.length(pair[1], f"{name} y", signed=True, contact_at_zero=True)
        return None if x is None or y is None else (x, y)

    def ring(self, node: Node, corners: list[Corner]) -> list[Corner] | None:
        """Corners, the first not repeated at the end; that two fall together is a fault."""
        if len(corners) > 3 and _is_same(corners[0], corners[-1]):
            corners = corners[:-1]
        for i, corner in enumerate(corners):
            if _is_same(corners[i - 1], corner):
                node.fault(
                    f"corners {i or len(corners)} and {i + 1} are the same point",
                    "leave one of the two out",
                )
                return None
        return corners

    def pair(self, node: Node | None, what: str) -> tuple[Node, Node] | None:
        """A list of two values."""
        items = None if node is None else node.sequence()
        if items is None:
            return None
        if len(items) != 2:
            assert node is not None
            node.fault(f"{what} has two numbers, not {len(items)}")
            return None
        return items[0], items[1]


def _is_same(a: Corner, b: Corner) -> bool:
    return all(abs(p.value - q.value) < SAME_CORNER for p, q in zip(a, b, strict=True))


@dataclass(frozen=True, slots=True)
class Layers:
    """Named values of the file laid over those of a generic kind."""

    own: MappingNode | None
    kind: MappingNode | None

    def get(self, key: str) -> tuple[Node | None, bool]:
        """Value of a name, and whether it is the kind's and so assumed."""
        node = None if self.own is None else self.own.get(key)
        if node is not None:
            return node, False
        node = None if self.kind is None else self.kind.get(key)
        return node, node is not None

    def __contains__(self, key: str) -> bool:
        return self.get(key)[0] is not None

    def child(self, key: str) -> Layers:
        """Named values under a name, again in layers."""
        return Layers(_as_mapping(self.own, key), _as_mapping(self.kind, key))

    def names(self) -> Iterator[str]:
        """Names of both layers, the kind's first; a name set to `none` is left out."""
        seen = list(self.kind.entries) if self.kind is not None else []
        if self.own is not None:
            seen += [name for name in self.own.entries if name not in seen]
        for name in seen:
            if not self.is_none(name):
                yield name

    def is_none(self, key: str) -> bool:
        """Whether the file says `none` for a name."""
        node = None if self.own is None else self.own.get(key)
        return isinstance(node, Scalar) and node.value.strip().lower() == "none"

    def check_keys(self, known: Iterable[str]) -> None:
        """Refuse names of the file that are not known here."""
        if self.own is not None:
            self.own.check_keys(known)

    @property
    def node_or_none(self) -> Node | None:
        """The node to point at, if either layer is there."""
        return self.kind if self.own is None else self.own

    @property
    def node(self) -> Node:
        """The node to point at."""
        node = self.node_or_none
        assert node is not None
        return node


def _as_mapping(parent: MappingNode | None, key: str) -> MappingNode | None:
    node = None if parent is None else parent.get(key)
    if node is None or (isinstance(node, Scalar) and node.value.strip().lower() == "none"):
        return None
    return node.mapping()


Sizes = Mapping[str, Affine]


def size(
    reading: Reading,
    layers: Layers,
    key: str,
    name: str,
    *,
    sizes: Sizes | None = None,
    default: Affine | None = None,
    height: bool = False,
    signed: bool = False,
    positive: bool = False,
) -> Affine | None:
    """A size that may follow another: `22 in`, `depth - 2 in`, `rule drawer-stand` [m].

    Gives `default` when the name is missing, None after a fault.
    """
    node, assumed = layers.get(key)
    if node is None:
        return default
    if isinstance(node, Scalar):
        match = _EXPRESSION.match(node.value.strip())
        if match:
            return _expression(reading, node, match, name, sizes or {}, assumed)
    return reading.length(
        node, name, height=height, signed=signed, positive=positive, assumed=assumed
    )


def _expression(
    reading: Reading,
    node: Scalar,
    match: re.Match[str],
    name: str,
    sizes: Sizes,
    assumed: bool,
) -> Affine | None:
    word, sign, rest = match.groups()
    if word.startswith("rule"):
        rule_id = word.split()[1]
        if rule_id not in reading.rules:
            known = [rule.id for rule in reading.rules]
            node.fault(f"there is no rule `{rule_id}`", nearest(rule_id, known))
            return None
        base: Affine = affine(reading.rules.value(rule_id))
    elif word in sizes:
        base = sizes[word]
    else:
        node.fault(f"`{word}` is not known here", "write the length itself")
        return None
    if not rest:
        return base
    try:
        value, own = parse_measured(rest, reading.default_unit)
    except UnitError as wrong:
        node.fault(wrong.message)
        return None
    error = 0.0 if assumed else (reading.tape_plan if own is None else float(own))
    step = reading.measured(name, float(value), error=error, assumed=assumed, line=node.line)
    return base + step if sign == "+" else base - step


def require(mapping: MappingNode, key: str) -> Node | None:
    """Value of a name; a fault when it is missing, unless it was told as misspelt already."""
    if key not in mapping and any(
        fault.fix == f"did you mean `{key}`?"
        and any(
            node.key is not None and (node.key.line, node.key.column) == (fault.line, fault.column)
            for _, node in mapping.items()
        )
        for fault in mapping.faults.error().faults
    ):
        return None
    return mapping.require(key)


def quantity(node: Node | None, unit: str) -> float | None:
    """A value of the file with its unit, such as `120 sq ft` or `45 dB` [SI]."""
    text = None if node is None else node.text()
    if node is None or text is None:
        return None
    try:
        value = parse_quantity(text, unit)
    except UnitError as wrong:
        node.fault(wrong.message)
        return None
    if value <= 0:
        node.fault("must be more than 0")
        return None
    return value


def nearest(name: str, known: Iterable[str]) -> str:
    """A fix that names the nearest known name, or all when none is near."""
    options = list(known)
    near = get_close_matches(name, options, n=1, cutoff=0.6)
    if near:
        return f"did you mean `{near[0]}`?"
    return f"known here: {', '.join(options)}" if options else ""
