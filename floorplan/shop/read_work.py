"""Reads places, stock, tasks and jobs."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping
from typing import TypeVar

from floorplan.geometry.affine import Affine, affine
from floorplan.shop.model import (
    BreakDown,
    Door,
    Feed,
    Job,
    Leg,
    NamedPlace,
    Stock,
    Task,
    Thing,
)
from floorplan.shop.nodes import Mapping as MappingNode
from floorplan.shop.nodes import Node, Scalar
from floorplan.shop.read_carries import read_carry
from floorplan.shop.read_lay_out import read_lay_out
from floorplan.shop.reading import Reading, nearest, require

TASK_KEYS = (
    "uses", "open", "parked", "working", "away", "present", "together with", "lasts",
    "lay out", "from", "until",
)  # fmt: skip
JOB_KEYS = ("walk", "feed", "break down", "carry", "from", "until")
FEED_KEYS = (
    "stock", "length", "width", "thickness", "through", "cut", "offset", "guide", "task",
)  # fmt: skip

_Made = TypeVar("_Made")


def read_place(reading: Reading, name: str, body: MappingNode) -> NamedPlace | None:
    """A named point."""
    body.check_keys(("x", "y", "turn"))
    x = reading.length(require(body, "x"), f"{name}: x", signed=True, contact_at_zero=True)
    y = reading.length(require(body, "y"), f"{name}: y", signed=True, contact_at_zero=True)
    turn_node = body.get("turn")
    turn = None if turn_node is None else turn_node.angle()
    return None if x is None or y is None else NamedPlace(name, x, y, body.line, turn)


def read_stock(reading: Reading, name: str, body: MappingNode) -> Stock | None:
    """One kind of material."""
    body.check_keys(("length", "width", "thickness", "density"))
    sizes = [
        reading.length(require(body, key), f"{name}: {key}", positive=True)
        for key in ("length", "width", "thickness")
    ]
    density_node = body.get("density")
    density = reading.rules.value("density-mdf") if density_node is None else density_node.density()
    if None in sizes or density is None:
        return None
    length, width, thickness = sizes
    assert length is not None
    assert width is not None
    assert thickness is not None
    if width.value > length.value:
        length, width = width, length
    return Stock(name, length, width, thickness, density, body.line)


def names_in(
    reading: Reading, node: Node | None, known: Iterable[str], what: str
) -> tuple[str, ...]:
    """Names from a list, each of which must be known; what has its own fault is left out."""
    if node is None:
        return ()
    options = list(known)
    texts = node.strings()
    out = []
    for text in texts or ():
        name = " ".join(text.split())
        if name in options:
            out.append(name)
        elif name not in reading.named:
            node.fault(f"there is no {what} `{name}`", nearest(name, options))
    return tuple(out)


def read_task(
    reading: Reading,
    name: str,
    body: MappingNode,
    things: Mapping[str, Thing],
    doors: Mapping[str, Door],
    stock: Mapping[str, Stock],
) -> tuple[Task, tuple[str, ...]] | None:
    """One task, and the things that are there only while it is done."""
    body.check_keys(TASK_KEYS)
    uses = names_in(reading, body.get("uses"), things, "thing")
    present = names_in(reading, body.get("present"), things, "thing")
    lasts_node = body.get("lasts")
    lasts = 0.0 if lasts_node is None else lasts_node.duration()
    together = body.get("together with")
    laid = body.get("lay out")
    if laid is not None and not lasts:
        laid.fault(
            "only what goes on by itself lays parts out", "say how long: `lasts: 12 h`, or leave it"
        )
    task = Task(
        name,
        uses,
        names_in(reading, body.get("open"), doors, "door"),
        names_in(reading, body.get("parked"), things, "thing"),
        names_in(reading, body.get("working"), things, "thing"),
        names_in(reading, body.get("away"), things, "thing"),
        () if together is None else (together.strings() or ()),
        lasts or 0.0,
        body.line,
        None if laid is None else read_lay_out(reading, name, laid, things, stock),
    )
    return task, present


def default_tasks(tasks: list[Task], things: Iterable[Thing]) -> list[Task]:
    """The tasks of the file, and `use THING` for each thing that none of them uses."""
    used = {name for task in tasks for name in task.uses}
    taken = {task.name for task in tasks}
    out = list(tasks)
    for thing in things:
        own = {zone.task for zone in thing.zones if zone.task is not None} - taken
        for name in sorted(own):
            out.append(Task(name, (thing.name,)))
            taken.add(name)
        plain = [zone for zone in thing.zones if zone.task is None]
        if thing.name not in used and (plain or thing.cutter is not None):
            out.append(Task(f"use {thing.name}", (thing.name,)))
    return out


class JobReader:
    """Reads jobs against what the shop has."""

    def __init__(
        self,
        reading: Reading,
        things: Mapping[str, Thing],
        stops: Iterable[str],
        stock: Mapping[str, Stock],
        tasks: Mapping[str, Task],
    ) -> None:
        self.reading = reading
        self.things = things
        self.stops = list(stops)
        self.stock = stock
        self.tasks = tasks

    def read(self, name: str, body: MappingNode) -> Job | None:
        """One job."""
        body.check_keys(JOB_KEYS)
        return Job(
            name,
            tuple(self._legs(body.get("walk"))),
            tuple(self._each(name, body.get("feed"), self._feed)),
            tuple(self._each(name, body.get("break down"), self._break_down)),
            tuple(self._each(name, body.get("carry"), lambda label, m: read_carry(self, label, m))),
            line=body.line,
        )

    def _each(
        self, name: str, node: Node | None, read: Callable[[str, MappingNode], _Made | None]
    ) -> Iterator[_Made]:
        if node is None:
            return
        items = (node,) if isinstance(node, MappingNode) else node.sequence()
        for index, item in enumerate(items or ()):
            mapping = item.mapping()
            made = None if mapping is None else read(f"{name} {index + 1}", mapping)
            if made is not None:
                yield made

    def stop(self, node: Node | None) -> str | None:
        """Name of a thing, door or place; None after a fault."""
        if node is None:
            return None
        name = node.name()
        if name is not None and name not in self.stops:
            if name in self.reading.named:
                return None
            node.fault(f"there is no thing, door or place `{name}`", nearest(name, self.stops))
            return None
        return name

    def task(self, node: Node | None) -> str | None:
        """Name of a task; None when there is none, or after a fault."""
        return next(iter(names_in(self.reading, node, self.tasks, "task")), None)

    def _legs(self, node: Node | None) -> list[Leg]:
        """A chain of stops, or legs with counts, or both in one list."""
        items = None if node is None else node.sequence()
        out: list[Leg] = []
        last: str | None = None
        for item in items or ():
            if isinstance(item, Scalar):
                stop = self.stop(item)
                if last is not None and stop is not None:
                    out.append(Leg(last, stop, 1.0))
                last = stop
                continue
            mapping = item.mapping()
            if mapping is None:
                continue
            mapping.check_keys(("from", "to", "times"))
            start, end = self.stop(require(mapping, "from")), self.stop(require(mapping, "to"))
            times_node = mapping.get("times")
            times = 1.0 if times_node is None else times_node.number(0, 10000)
            if start is not None and end is not None and times is not None:
                out.append(Leg(start, end, times))
            last = end
        return out

    def stock_of(self, mapping: MappingNode) -> Stock | None:
        """The stock that an entry names; None when it names none, or after a fault."""
        node = mapping.get("stock")
        name = None if node is None else node.name()
        if node is None or name is None:
            return None
        if name not in self.stock:
            if name in self.reading.named:
                return None
            node.fault(f"there is no stock `{name}`", nearest(name, self.stock))
            return None
        return self.stock[name]

    def _feed(self, label: str, mapping: MappingNode) -> Feed | None:
        mapping.check_keys(FEED_KEYS)
        stock = self.stock_of(mapping)
        sizes: list[Affine | None] = []
        for key in ("length", "width", "thickness"):
            if key in mapping:
                sizes.append(
                    self.reading.length(mapping.get(key), f"{label}: piece {key}", positive=True)
                )
            elif stock is not None:
                sizes.append(getattr(stock, key))
            else:
                if "stock" not in mapping:
                    mapping.fault(
                        f"the piece has no {key}", f"name its `stock:` or write `{key}: ...`"
                    )
                sizes.append(None)
        machine_node = require(mapping, "through")
        machine = None if machine_node is None else machine_node.name()
        if machine is None or None in sizes:
            return None
        assert machine_node is not None
        if machine not in self.things and machine in self.reading.named:
            return None
        if machine not in self.things or self.things[machine].cutter is None:
            able = [n for n, t in self.things.items() if t.cutter is not None]
            machine_node.fault(f"nothing can be fed through `{machine}`", nearest(machine, able))
            return None
        return self._straight(label, mapping, stock, sizes, machine)

    def _straight(
        self,
        label: str,
        mapping: MappingNode,
        stock: Stock | None,
        sizes: list[Affine | None],
        machine: str,
    ) -> Feed | None:
        length, width, thickness = sizes
        assert length is not None
        assert width is not None
        assert thickness is not None
        cut_node = mapping.get("cut")
        cut = "rip" if cut_node is None else cut_node.choice(("rip", "crosscut"))
        guide_node = mapping.get("guide")
        guide = "right" if guide_node is None else guide_node.choice(("right", "left"))
        across = width if cut == "rip" else length
        offset: Affine | None = Affine(across.value / 2)
        if "offset" in mapping:
            offset = self.reading.length(mapping.get("offset"), f"{label}: offset")
            if offset is not None and offset.value > across.value:
                node = mapping.get("offset")
                assert node is not None
                node.fault(
                    "the blade would run beside the piece", "the offset is at most its width"
                )
                return None
        task = self.task(mapping.get("task"))
        if cut is None or guide is None or offset is None:
            return None
        name = stock.name if stock is not None else "piece"
        return Feed(
            name, length, width, thickness, machine,
            cut, affine(offset.value), guide, task, mapping.line,  # type: ignore[arg-type]
        )  # fmt: skip

    def _break_down(self, _label: str, mapping: MappingNode) -> BreakDown | None:
        mapping.check_keys(("stock", "over", "task"))
        stock = self.stock_of(mapping)
        if stock is None:
            require(mapping, "stock")
            return None
        over_node = mapping.get("over")
        over = "floor" if over_node is None else over_node.name()
        if over is None:
            return None
        if over != "floor" and over not in self.things:
            if over in self.reading.named:
                return None
            assert over_node is not None
            over_node.fault(f"there is no thing `{over}`", nearest(over, [*self.things, "floor"]))
            return None
        task = self.task(mapping.get("task"))
        return BreakDown(stock.name, over, task, mapping.line)
