"""A thing taken out of a shop file's nodes, with everything that speaks of it."""

from __future__ import annotations

import re
from collections.abc import Mapping as Table
from dataclasses import replace

from floorplan.geometry.affine import Affine
from floorplan.shop.model import Layout, Shop
from floorplan.shop.nodes import Mapping, Node, Scalar, Sequence
from floorplan.shop.read_poses import PLACE_KEYS

_WORK = (
    ("feed", ("through",), "feed"),
    ("break down", ("over",), "break-down"),
    ("carry", ("from", "to", "thing"), "carry"),
)
"""Work of a job, the keys that name things, and what one piece of it is called."""
_TASK_LISTS = ("uses", "parked", "working", "away", "present")


class Removal:
    """Takes one thing out and keeps account of what went with it."""

    def __init__(self, name: str, shop: Shop, layout: Layout) -> None:
        self.name = name
        self.shop = shop
        self.layout = layout
        self.notes = [f"`{name}` is not there"]
        self._leans = re.compile(
            rf"^(?:east|west|north|south)\s+of\s+{re.escape(name)}(?:\s*\+\s.+)?$"
        )

    def apply(self, top: Mapping) -> Mapping:
        """The nodes without the thing."""
        entries = dict(top.entries)
        for section in ("equipment", "fixed"):
            node = entries.get(section)
            if isinstance(node, Mapping):
                entries[section] = replace(
                    node,
                    entries={
                        thing: self._unlinked(thing, body)
                        for thing, body in node.items()
                        if thing != self.name
                    },
                )
        for section, change in (("jobs", self._job), ("tasks", self._task)):
            node = entries.get(section)
            if isinstance(node, Mapping):
                kept = {key: change(key, body, top) for key, body in node.items()}
                entries[section] = replace(
                    node, entries={key: body for key, body in kept.items() if body is not None}
                )
        return replace(top, entries=entries)

    def _is_it(self, node: Node | None) -> bool:
        return isinstance(node, Scalar) and " ".join(node.value.split()) == self.name

    # --- other things ----------------------------------------------------------------------

    def _unlinked(self, thing: str, node: Node) -> Node:
        if not isinstance(node, Mapping):
            return node
        entries = dict(node.entries)
        if self._is_it(node.get("takes the outfeed of")):
            entries.pop("takes the outfeed of")
            entries.pop("outfeed", None)
            self.notes.append(f"`{thing}` takes its outfeed no longer")
        if self._is_it(node.get("replaces")):
            entries.pop("replaces")
            self.notes.append(f"`{thing}` comes in nobody's place")
        for key in node.entries:
            if key.startswith("within ") and key != "within" and self._is_it(node.get(key)):
                entries.pop(key)
                self.notes.append(f"`{thing}` need not stand {key} it")
        for place, key in PLACE_KEYS.items():
            pose = entries.get(key)
            if isinstance(pose, Mapping):
                entries[key] = self._standing_alone(thing, place, pose)
        return replace(node, entries=entries)

    def _standing_alone(self, thing: str, place: str, node: Mapping) -> Mapping:
        """What leaned on the thing keeps its place, as exactly as that was known."""
        pose = self.layout.pose(thing, place)
        entries = dict(node.entries)
        for axis, number in () if pose is None else (("x", pose.x), ("y", pose.y)):
            written = entries.get(axis)
            if isinstance(written, Scalar) and self._leans.match(written.value.strip()):
                entries[axis] = replace(written, value=self._length(number), quote="")
                self.notes.append(f"`{thing}` keeps its place, though it stood by it")
        return replace(node, entries=entries)

    def _length(self, number: Affine) -> str:
        error = number.error(self.shop.measurements)
        return f"{number.value:.6f} m +- {error:.6f} m"

    # --- tasks -----------------------------------------------------------------------------

    def _task(self, task: str, node: Node, top: Mapping) -> Node | None:
        if not isinstance(node, Mapping):
            return node
        entries = dict(node.entries)
        touched = False
        for key in _TASK_LISTS:
            if key in entries:
                entries[key], gone = self._without_name(entries[key], self.name)
                touched |= gone
        if "together with" in entries:
            entries["together with"], _ = self._without_name(
                entries["together with"], f"use {self.name}"
            )
        used = entries.get("uses")
        idle = touched and isinstance(used, Sequence) and not used.items
        if idle and not _speaks_of(top, task):
            self.notes.append(f"task `{task}` has nothing left to use and is left out")
            return None
        if touched:
            self.notes.append(f"task `{task}` does without it")
        return replace(node, entries=entries)

    def _without_name(self, node: Node, name: str) -> tuple[Node, bool]:
        items = node.items if isinstance(node, Sequence) else (node,)
        kept = tuple(
            item
            for item in items
            if not (isinstance(item, Scalar) and " ".join(item.value.split()) == name)
        )
        if len(kept) == len(items):
            return node, False
        return _sequence(node, kept), True

    # --- jobs ------------------------------------------------------------------------------

    def _job(self, job: str, node: Node, _top: Mapping) -> Node:
        if not isinstance(node, Mapping):
            return node
        entries = dict(node.entries)
        walk = entries.get("walk")
        if isinstance(walk, Sequence):
            legs = list(_legs(walk))
            kept = tuple(
                leg
                for leg in legs
                if not (self._is_it(leg.get("from")) or self._is_it(leg.get("to")))
            )
            if len(kept) < len(legs):
                entries["walk"] = _sequence(walk, kept)
                self.notes.append(f"{_count(len(legs) - len(kept), 'walk')} of `{job}` left out")
        for key, named, noun in _WORK:
            work = entries.get(key)
            if work is None:
                continue
            items = work.items if isinstance(work, Sequence) else (work,)
            left = tuple(
                item
                for item in items
                if not (
                    isinstance(item, Mapping) and any(self._is_it(item.get(one)) for one in named)
                )
            )
            if len(left) < len(items):
                entries[key] = _sequence(work, left)
                self.notes.append(f"{_count(len(items) - len(left), noun)} of `{job}` left out")
        return replace(node, entries=entries)


def _count(number: int, noun: str) -> str:
    return (
        f"{number} {noun}"
        if number == 1
        else f"{number} {noun.removesuffix('y')}{'ies' if noun.endswith('y') else 's'}"
    )


def _sequence(like: Node, items: tuple[Node, ...]) -> Sequence:
    return Sequence(
        like.line, like.column, like.start, like.end, like.keys, like.faults, like.key, items, False
    )


def _legs(walk: Sequence) -> list[Mapping]:
    """A chain of stops and legs as legs only, so that one can be left out of the middle."""
    out: list[Mapping] = []
    last: Node | None = None
    for item in walk.items:
        if isinstance(item, Mapping):
            out.append(item)
            last = item.get("to")
            continue
        if last is not None:
            ends: Table[str, Node] = {"from": last, "to": item}
            out.append(
                Mapping(
                    item.line, item.column, item.start, item.end,
                    item.keys, item.faults, item.key, ends, True,
                )
            )  # fmt: skip
        last = item
    return out


def _speaks_of(node: Node, task: str, key: str = "") -> bool:
    """Whether a `task`, `only in` or `together with` names a task."""
    if isinstance(node, Mapping):
        return any(_speaks_of(value, task, name) for name, value in node.items())
    if isinstance(node, Sequence):
        return any(_speaks_of(item, task, key) for item in node.items)
    return (
        key in ("task", "only in", "together with")
        and isinstance(node, Scalar)
        and " ".join(node.value.split()) == task
    )
