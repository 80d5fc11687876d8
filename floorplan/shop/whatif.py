"""What if the file said something else: rules, sizes, kinds and missing things, only supposed.

The text is never touched.  Its nodes are read, some of them are exchanged, and the shop is put
together from what results, so a supposed shop is judged exactly as a written one.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from difflib import get_close_matches

from floorplan.rules.book import RuleError, load_rules
from floorplan.shop.assemble import UNITS, assemble
from floorplan.shop.catalogue import kinds
from floorplan.shop.faults import ShopFileError
from floorplan.shop.model import Layout, Shop
from floorplan.shop.naming import compose_shop
from floorplan.shop.nodes import Mapping, Node, Scalar
from floorplan.shop.removal import Removal
from floorplan.units import System, UnitError, parse_measured

KEPT_BY_KIND = frozenset(
    {
        "about", "at", "parked", "working", "may", "turns", "within", "along", "keep gap",
        "takes the outfeed of", "outfeed", "only in", "note", "from", "until", "replaces", "stages",
    }
)  # fmt: skip
"""What a thing keeps when it is replaced by another kind: place, links and freedom."""
_TIMES = re.compile(r"\s*[x×]\s*")
_UNIT = re.compile(r"[^\d\s./+-][^\d]*$")


class WhatIfError(ValueError):
    """A supposition that cannot be made, in one sentence."""


@dataclass(frozen=True, slots=True)
class WhatIf:
    """Suppositions, as they were written."""

    rules: tuple[tuple[str, str], ...] = ()
    """(rule, value)"""
    without: tuple[str, ...] = ()
    """Things that are gone."""
    sizes: tuple[tuple[str, tuple[str, ...]], ...] = ()
    """(thing, (width, depth) or (width, depth, height))"""
    kinds: tuple[tuple[str, str], ...] = ()
    """(thing, kind)"""

    @classmethod
    def from_texts(
        cls,
        *,
        set: Sequence[str] = (),
        without: Sequence[str] = (),
        size: Sequence[str] = (),
        replace: Sequence[str] = (),
    ) -> WhatIf:
        """Suppositions from `rule=value`, `thing`, `thing=60x30 in` and `thing=kind`.

        Raises:
            WhatIfError: when one of them is not written so.

        """
        return cls(
            tuple(_halves(text, "rule=value", "way-out-width=24 in") for text in set),
            tuple(_one_line(name) for name in without),
            tuple(_size(text) for text in size),
            tuple(_halves(text, "thing=kind", "saw=portable table saw") for text in replace),
        )

    def __bool__(self) -> bool:
        return bool(self.rules or self.without or self.sizes or self.kinds)


def _one_line(text: str) -> str:
    return " ".join(text.split())


def _halves(text: str, form: str, example: str) -> tuple[str, str]:
    name, sign, value = (part.strip() for part in text.partition("="))
    if not sign or not name or not value:
        raise WhatIfError(f"`{text}` is not `{form}`; write for example `{example}`")
    return _one_line(name), _one_line(value)


def _size(text: str) -> tuple[str, tuple[str, ...]]:
    """`bench=60x30 in`: the unit of the last length holds for bare ones before it."""
    name, value = _halves(text, "thing=WIDTH x DEPTH", "bench=60x30 in")
    lengths = _TIMES.split(value)
    if len(lengths) not in (2, 3) or not all(lengths):
        raise WhatIfError(
            f"`{value}` is no size of {name}; write WIDTH x DEPTH or WIDTH x DEPTH x HEIGHT"
        )
    unit = _UNIT.search(lengths[-1])
    if unit is not None:
        lengths = [
            length if _UNIT.search(length) else f"{length} {unit.group().strip()}"
            for length in lengths
        ]
    return name, tuple(lengths)


def suppose(text: str | bytes, path: str, changes: WhatIf) -> tuple[Shop, Layout, tuple[str, ...]]:
    """The shop and its layout with the suppositions made, and what was supposed, in words.

    Raises:
        ShopFileError: when the file itself is faulty.
        WhatIfError: when a supposition cannot be made, or makes the file impossible.

    """
    shop, layout = assemble(compose_shop(text, path), path)
    top = compose_shop(text, path)
    notes: list[str] = []
    for i, name in enumerate(changes.without):
        _known(top, name, "--without", changes.without[:i])
        removal = Removal(name, shop, layout)
        top = removal.apply(top)
        notes += removal.notes
    for name, kind in changes.kinds:
        top = _replaced(top, name, kind, changes.without, notes)
    for name, lengths in changes.sizes:
        top = _sized(top, name, lengths, changes.without, notes)
    for rule, value in changes.rules:
        top = _ruled(top, shop, rule, value, notes)
    try:
        supposed, placed = assemble(top, path, supposed=bool(changes.sizes))
    except ShopFileError as wrong:
        first = wrong.faults[0]
        fix = f"; {first.fix}" if first.fix else ""
        raise WhatIfError(
            f"{'; '.join(notes)}: then the file no longer holds together: {first.message}{fix}"
        ) from None
    for name, _ in changes.sizes:
        notes += beyond(supposed, name)
    told = tuple(f"supposed: {note}" for note in notes)
    return replace(supposed, notes=(*told, *supposed.notes)), placed, tuple(notes)


# --- names ---------------------------------------------------------------------------------


def _section(top: Mapping, name: str) -> str | None:
    for section in ("equipment", "fixed"):
        node = top.get(section)
        if isinstance(node, Mapping) and name in node:
            return section
    return None


def _known(top: Mapping, name: str, option: str, gone: tuple[str, ...]) -> tuple[str, Mapping]:
    """Section and body of a thing."""
    section = _section(top, name)
    if section is None:
        if name in gone:
            raise WhatIfError(f"{option}: `{name}` is taken out already")
        names = [
            thing
            for part in ("equipment", "fixed")
            if isinstance(node := top.get(part), Mapping)
            for thing in node.entries
        ]
        raise WhatIfError(f"{option}: there is no thing `{name}`; {_near(name, names)}")
    body = _mapping(top.get(section)).get(name)
    return section, _mapping(body)


def _mapping(node: Node | None) -> Mapping:
    assert isinstance(node, Mapping)
    return node


def _near(name: str, known: Iterable[str]) -> str:
    options = list(known)
    near = get_close_matches(name, options, n=1, cutoff=0.6)
    return f"did you mean `{near[0]}`?" if near else f"there are: {', '.join(options)}"


# --- exchanging nodes ----------------------------------------------------------------------


def _written(value: str, like: Node, *, line: int | None = None) -> Scalar:
    """A text as if it stood where another value stands."""
    return Scalar(
        like.line if line is None else line, like.column, like.start, like.end,
        like.keys, like.faults, like.key, value, "", False,
    )  # fmt: skip


def _with_thing(top: Mapping, section: str, name: str, body: Mapping) -> Mapping:
    things = _mapping(top.get(section))
    changed = replace(things, entries={**things.entries, name: body})
    return replace(top, entries={**top.entries, section: changed})


def _replaced(
    top: Mapping, name: str, kind: str, gone: tuple[str, ...], notes: list[str]
) -> Mapping:
    section, body = _known(top, name, "--replace", gone)
    word = kind if kind in kinds() else kind.lower()
    if word not in kinds():
        raise WhatIfError(f"--replace: there is no kind `{kind}`; {_near(kind, kinds())}")
    kept = {
        key: node
        for key, node in body.entries.items()
        if key in KEPT_BY_KIND or key.startswith("within ")
    }
    notes.append(f"`{name}` is a {word} of the usual size")
    entries = {"kind": _written(word, body), **kept}
    return _with_thing(top, section, name, replace(body, entries=entries))


def _sized(
    top: Mapping, name: str, lengths: tuple[str, ...], gone: tuple[str, ...], notes: list[str]
) -> Mapping:
    section, body = _known(top, name, "--size", gone)
    if "outline" in body:
        raise WhatIfError(f"--size: `{name}` has an outline of its own, not a width and a depth")
    unit = _file_unit(top)
    for length in lengths:
        try:
            parse_measured(length, unit)
        except UnitError as wrong:
            raise WhatIfError(f"--size {name}: `{length}`: {wrong}") from None
    entries = dict(body.entries)
    for key, length in zip(("width", "depth", "height"), lengths, strict=False):
        entries[key] = _written(length, body.entries.get(key, body))
    words = " x ".join(lengths)
    if len(lengths) == 3 and _surface_is_top(body):
        entries["surface"] = _written("height", body)
        words += ", its surface at that height"
    notes.append(f"`{name}` measures {words}")
    return _with_thing(top, section, name, replace(body, entries=entries))


def _file_unit(top: Mapping) -> str | None:
    node = top.get("units")
    choice = None if node is None else node.choice(UNITS)
    system: tuple[System, str | None] = UNITS[choice or "feet and inches"]
    return system[1]


def _surface_is_top(body: Mapping) -> bool:
    """Whether the work lies on the very top of the thing, as written or by its kind."""
    kind_node = body.get("kind")
    kind = kinds().get(kind_node.value) if isinstance(kind_node, Scalar) else None

    def text(key: str) -> str | None:
        node = body.get(key) or (None if kind is None else kind.get(key))
        return node.value.strip() if isinstance(node, Scalar) else None

    surface = text("surface")
    return surface is not None and (surface == "height" or surface == text("height"))


def _ruled(top: Mapping, shop: Shop, rule: str, value: str, notes: list[str]) -> Mapping:
    book = load_rules(shop.rules.metric)
    word = value.lower()
    try:
        if word in ("off", "no", "false"):
            book.with_override(rule, off=True)
        elif word in ("required", "advised"):
            book.with_override(rule, kind=word)
        else:
            book.with_override(rule, value=value, default_unit=_file_unit(top))
    except RuleError as wrong:
        raise WhatIfError(f"--set: {wrong}") from None
    notes.append(f"rule {rule} is {'switched off' if word in ('off', 'no', 'false') else value}")
    node = top.get("rules")
    old = node if isinstance(node, Mapping) else replace(top, entries={}, line=0, key=None)
    rules = replace(old, entries={**old.entries, rule: _written(value, old, line=0)})
    return replace(top, entries={**top.entries, "rules": rules})


def beyond(shop: Shop, name: str) -> list[str]:
    """Drawers that the body is not wide enough for, in words."""
    thing = shop.thing(name)
    low, high = thing.body.points.min(axis=0), thing.body.points.max(axis=0)
    out = []
    for opening in thing.openings:
        axis = 0 if opening.side in ("front", "back") else 1
        span = opening.sweep.points[:, axis]
        if opening.kind != "door" and (span.min() < low[axis] or span.max() > high[axis]):
            out.append(f"{opening.kind} `{opening.name}` of `{name}` is wider than its side now")
    return out
