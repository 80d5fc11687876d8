"""Reads what a job carries: a sheet, a piece or a thing, from where to where, and how."""

from __future__ import annotations

from typing import TYPE_CHECKING

from floorplan.geometry.affine import Affine
from floorplan.shop.model import Carry
from floorplan.shop.nodes import Mapping as MappingNode
from floorplan.shop.reading import nearest, require

if TYPE_CHECKING:
    from floorplan.shop.read_work import JobReader

MODES = ("on edge", "on edge with carrier", "flat", "on cart", "by two", "on end", "tilted up")
"""Ways of carrying; `tilted up` turns the piece from its edge onto its end where it is."""
CARRY_KEYS = (
    "stock", "piece", "thing", "from", "to", "how", "height", "task", "turn at goal", "on top",
)  # fmt: skip
PIECE_KEYS = ("name", "length", "width", "thickness", "weight")
_Load = tuple[str, tuple[Affine, Affine, Affine], float | None, str | None]


def read_carry(jobs: JobReader, label: str, body: MappingNode) -> Carry | None:
    """One carry of a job; None after a fault."""
    body.check_keys(CARRY_KEYS)
    load = _load(jobs, label, body)
    how_node = body.get("how")
    how = "on edge" if how_node is None else how_node.choice(MODES)
    start = jobs.stop(require(body, "from"))
    in_place = how == "tilted up" and "to" not in body
    goal = start if in_place else jobs.stop(require(body, "to"))
    height_node, turn_node = body.get("height"), body.get("turn at goal")
    on_top = _on_top(jobs, body, how, start)
    height = jobs.reading.length(height_node, f"{label}: carried at", height=True)
    turn = None if turn_node is None else turn_node.angle()
    task = jobs.task(body.get("task"))
    if start is not None and start == goal and how != "tilted up":
        body.fault(f"it is carried from `{start}` to `{goal}`, which is nowhere", "name two places")
        return None
    if load is None or how is None or start is None or goal is None:
        return None
    name, (length, width, thickness), mass, thing = load
    low = height if on_top is None else on_top
    return Carry(
        name, length, width, thickness, mass, start, goal, how, low, turn, thing, task,
        body.line, on_top is not None,
    )  # fmt: skip


def _on_top(
    jobs: JobReader, body: MappingNode, how: str | None, start: str | None
) -> Affine | None:
    """Height of the top it is turned upright on; None when it is not, or after a fault."""
    node = body.get("on top")
    if node is None or not node.yes_no():
        return None
    if how != "tilted up":
        node.fault("only what is turned upright is turned on top", "add `how: tilted up`")
        return None
    thing = jobs.things.get(start or "")
    if thing is None:
        if start is not None:
            node.fault(f"`{start}` has no top to turn it on", "name a bench or table as `from`")
        return None
    height = body.get("height")
    if height is not None:
        height.fault("`on top` says how high it lies", "leave out `height`")
        return None
    return thing.height if thing.surface is None else thing.surface


def _load(jobs: JobReader, label: str, body: MappingNode) -> _Load | None:
    """What is carried: name, its box, its mass [kg] and the thing it is, if it is one."""
    named = [key for key in ("stock", "piece", "thing") if key in body]
    if len(named) != 1:
        body.fault(
            "what is carried?" if not named else f"`{named[0]}` and `{named[1]}` are both carried",
            "name one of `stock:`, `piece: {length, width, thickness}` or `thing:`",
        )
        return None
    if named[0] == "stock":
        stock = jobs.stock_of(body)
        if stock is None:
            return None
        return stock.name, (stock.length, stock.width, stock.thickness), stock.mass, None
    if named[0] == "piece":
        return _piece(jobs, label, body)
    return _thing(jobs, body)


def _piece(jobs: JobReader, label: str, body: MappingNode) -> _Load | None:
    node = body.get("piece")
    mapping = None if node is None else node.mapping()
    if mapping is None:
        return None
    mapping.check_keys(PIECE_KEYS)
    length, width, thickness = (
        jobs.reading.length(require(mapping, key), f"{label}: piece {key}", positive=True)
        for key in ("length", "width", "thickness")
    )
    name_node, weight_node = mapping.get("name"), mapping.get("weight")
    name = None if name_node is None else name_node.name()
    mass = None if weight_node is None else weight_node.mass()
    if length is None or width is None or thickness is None:
        return None
    sides = sorted((length, width, thickness), key=lambda side: -side.value)
    return name or "piece", (sides[0], sides[1], sides[2]), mass, None


def _thing(jobs: JobReader, body: MappingNode) -> _Load | None:
    node = body.get("thing")
    name = None if node is None else node.name()
    if node is None or name is None:
        return None
    thing = jobs.things.get(name)
    if thing is None:
        if name not in jobs.reading.named:
            node.fault(f"there is no thing `{name}`", nearest(name, jobs.things))
        return None
    if thing.fixed:
        node.fault(f"`{name}` is fixed and cannot be carried", "move it to `equipment:`")
        return None
    sides = sorted((thing.width, thing.depth), key=lambda side: -side.value)
    return name, (sides[0], sides[1], thing.height - thing.bottom), thing.mass, name
