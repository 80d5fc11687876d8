"""Reads `stages:` and what says `from:`, `until:` or `replaces:`; the other readers never see it.

The words are taken out of the nodes first, and looked at together once the shop is read.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace

from floorplan.shop.air import Run
from floorplan.shop.model import Layout, Pose, Room, Thing
from floorplan.shop.nodes import Mapping as MappingNode
from floorplan.shop.nodes import Node
from floorplan.shop.plan import Key, Plan, Sort, Span, Stage
from floorplan.shop.read_poses import PLACE_KEYS, PoseReader
from floorplan.shop.reading import Reading, nearest
from floorplan.shop.stages import stands_in_for

SPAN_KEYS = ("from", "until")
THING_STAGE_KEYS = ("from", "until", "replaces", "stages")
RUN_STAGE_KEYS = ("from stage", "until")
"""A run's `from:` is the machine at which it begins."""
STAGE_KEYS = ("when",)
SECTIONS: tuple[tuple[str, Sort], ...] = (
    ("fixed", "thing"), ("equipment", "thing"), ("tasks", "task"), ("jobs", "job"),
    ("doors", "door"), ("windows", "window"),
)  # fmt: skip


@dataclass(frozen=True, slots=True, eq=False)
class Marks:
    """What one entry says about stages."""

    body: MappingNode
    """The entry without it."""
    words: Mapping[str, Node]


@dataclass(frozen=True, slots=True, eq=False)
class Staging:
    """Everything a file says about stages, not yet looked at together."""

    stages: tuple[Stage, ...] = ()
    marks: Mapping[Key, Marks] = field(default_factory=dict)

    def number(self, node: Node | None) -> int | None:
        """The number of the stage that a value names; None when there is none, or after a fault."""
        name = None if node is None else node.name()
        if node is None or name is None:
            return None
        names = [stage.name for stage in self.stages]
        if name not in names:
            node.fault(f"there is no stage `{name}`", nearest(name, names))
            return None
        return names.index(name)


def take_stages(top: MappingNode) -> tuple[MappingNode, Staging]:
    """The nodes of a file without what they say about stages, and that."""
    marks: dict[Key, Marks] = {}
    entries: dict[str, Node | None] = dict(top.entries)
    for section, sort in SECTIONS:
        keys = THING_STAGE_KEYS if sort == "thing" else SPAN_KEYS
        entries[section] = _taken_from_all(top.get(section), sort, keys, marks)
    room, air = top.get("room"), top.get("air")
    if isinstance(room, MappingNode):
        kept = _taken_from_all(room.get("keep clear"), "keep-clear", SPAN_KEYS, marks)
        entries["room"] = _with(room, "keep clear", kept)
    if isinstance(air, MappingNode):
        air = _with(air, "runs", _taken_from_all(air.get("runs"), "run", RUN_STAGE_KEYS, marks))
        for sort in ("collector", "vacuum"):
            air = _with(air, sort, _taken(air.get(sort), (sort, sort), SPAN_KEYS, marks))
        entries["air"] = air
    plain = {key: node for key, node in entries.items() if node is not None}
    stages = _stages(top.get("stages"))
    if "stages" not in top:
        for mark in marks.values():
            for word, node in mark.words.items():
                node.faults.add(
                    node.key or node, f"`{word}` speaks of a stage, but the file has none",
                    "add `stages: {now: {}, later: {}}` to the file, or take this out",
                )  # fmt: skip
    return replace(top, entries=plain), Staging(stages, marks)


def _with(parent: MappingNode, key: str, node: Node | None) -> MappingNode:
    return parent if node is None else replace(parent, entries={**parent.entries, key: node})


def _taken_from_all(
    node: Node | None, sort: Sort, keys: tuple[str, ...], marks: dict[Key, Marks]
) -> Node | None:
    if not isinstance(node, MappingNode):
        return node
    entries: dict[str, Node] = {}
    for name, body in node.items():
        taken = _taken(body, (sort, name), keys, marks)
        assert taken is not None
        entries[name] = taken
    return replace(node, entries=entries)


def _taken(
    node: Node | None, key: Key, words: tuple[str, ...], marks: dict[Key, Marks]
) -> Node | None:
    if not isinstance(node, MappingNode):
        return node
    found = {word: value for word in words if (value := node.get(word)) is not None}
    if not found:
        return node
    rest = {name: value for name, value in node.items() if name not in found}
    body = replace(node, entries=rest)
    marks[key] = Marks(body, found)
    return body


def _stages(node: Node | None) -> tuple[Stage, ...]:
    table = None if node is None else node.mapping()
    if node is None or table is None:
        return ()
    if not table.entries:
        node.fault("no stage is named", "write `stages: {now: {}, later: {}}`, in order of time")
    out: list[Stage] = []
    for name, entry in table.items():
        place = entry.key or entry
        alike = next((s.name for s in out if s.name.casefold() == name.casefold()), None)
        if alike is not None:
            entry.faults.add(
                place, f"the stages `{alike}` and `{name}` have the same name",
                "give one of the two another name",
            )  # fmt: skip
        body = None if entry.is_empty else entry.mapping()
        when = None
        if body is not None:
            body.check_keys(STAGE_KEYS)
            when_node = body.get("when")
            when = None if when_node is None else when_node.name()
        out.append(Stage(name, when or "", place.line))
    return tuple(out)


# --- the plan ------------------------------------------------------------------------------


def read_plan(
    staging: Staging,
    room: Room,
    things: Mapping[str, Thing],
    layout: Layout,
    runs: tuple[Run, ...],
) -> tuple[Plan | None, Layout]:
    """When everything is there, and the layout with what comes in the place of another.

    None where the file has a single stage: then everything that is there is there throughout.
    Poses of later stages are read by `stage_poses`.
    """
    if not staging.stages:
        return None, layout
    spans = {key: _span(staging, key, mark) for key, mark in staging.marks.items()}
    last = len(staging.stages) - 1
    for run in runs:
        if run.later and last > 0:
            spans["run", run.name] = _later(staging, run, spans.get(("run", run.name)), last)
    replaces = _replaces(staging, things, spans, last)
    if last == 0:
        return None, layout
    plan = Plan(staging.stages, spans, replaces)
    for new in sorted(replaces, key=lambda name: plan.span("thing", name).first):
        old = replaces[new]
        pose = layout.pose(old)
        if layout.pose(new) is None and pose is not None and new in things and old in things:
            layout = layout.with_pose(new, stands_in_for(room, things[old], pose, things[new]))
    ordered = {
        (name, place): layout.poses[name, place]
        for name in things
        for place in PLACE_KEYS
        if (name, place) in layout.poses
    }
    layout = Layout(ordered)
    fixed = {
        name: pose
        for name, thing in things.items()
        if thing.fixed
        and plan.span("thing", name).first > 0
        and (pose := layout.pose(name)) is not None
    }
    return replace(plan, fixed=fixed), layout


def _span(staging: Staging, key: Key, mark: Marks) -> Span:
    last = len(staging.stages) - 1
    word = "from stage" if key[0] == "run" else "from"
    start = staging.number(mark.words.get(word))
    end_node = mark.words.get("until")
    end = staging.number(end_node)
    if start is not None and end is not None and end < start:
        assert end_node is not None
        end_node.fault(
            f"`{key[1]}` is there until `{staging.stages[end].name}`, which is before "
            f"`{staging.stages[start].name}` from which it is there",
            "are the two swapped? `until` names the last stage in which it is there",
        )
        end = None
    return Span(start or 0, last if end is None else end)


def _later(staging: Staging, run: Run, span: Span | None, last: int) -> Span:
    """`later: yes` means: not in the first stage."""
    if span is None:
        return Span(1, last)
    mark = staging.marks["run", run.name]
    node = mark.words.get("from stage")
    if span.first == 0 and node is not None:
        node.fault(
            f"`{run.name}` says `later: yes` but is there from the first stage",
            "take one of the two out",
        )
    return Span(max(span.first, 1), max(span.last, 1))


def _replaces(
    staging: Staging, things: Mapping[str, Thing], spans: dict[Key, Span], last: int
) -> dict[str, str]:
    """Who comes in whose place; the forerunner is there until the stage before."""
    found: dict[str, str] = {}
    for (sort, name), mark in staging.marks.items():
        node = mark.words.get("replaces")
        old = None if node is None else node.name()
        if sort != "thing" or node is None or old is None:
            continue
        first = spans["thing", name].first
        before = spans.get(("thing", old), Span(0, last))
        taken = next((n for n, o in found.items() if o == old), None)
        if old not in things:
            if ("thing", old) not in staging.marks:
                others = [n for n in things if n != name]
                node.fault(f"there is no thing `{old}` to replace", nearest(old, others))
        elif old == name:
            node.fault(f"`{name}` cannot replace itself", "name the thing that it comes for")
        elif taken is not None:
            node.fault(
                f"`{old}` is replaced by `{taken}` already",
                f"`{name}` may replace `{taken}` in its turn",
            )
        elif first == 0:
            node.faults.add(
                node.key or node, f"`{name}` replaces `{old}`: from which stage on?",
                f"add `from: {staging.stages[-1].name}` to it",
            )  # fmt: skip
        elif before.first >= first:
            node.fault(
                f"`{old}` is not there before `{name}` comes to replace it",
                f"let `{name}` come after stage `{staging.stages[before.first].name}`",
            )
        else:
            _until_before(staging, name, old, first, spans, last)
            found[name] = old
    return found


def _until_before(
    staging: Staging, name: str, old: str, first: int, spans: dict[Key, Span], last: int
) -> None:
    mark = staging.marks.get(("thing", old))
    node = None if mark is None else mark.words.get("until")
    before = spans.get(("thing", old), Span(0, last))
    if node is not None and before.last != first - 1:
        node.fault(
            f"`{name}` replaces `{old}` from `{staging.stages[first].name}` on, so `{old}` is "
            f"there until `{staging.stages[first - 1].name}`",
            "take this out, or let both agree",
        )
    spans["thing", old] = Span(before.first, first - 1)


# --- poses of later stages -----------------------------------------------------------------


def stage_poses(
    staging: Staging,
    plan: Plan | None,
    reading: Reading,
    room: Room,
    things: Mapping[str, Thing],
    layout: Layout,
) -> dict[tuple[int, str, str], Pose]:
    """Where the file has things stand from a later stage on: `stages: {later: {at: ...}}`."""
    by_stage: dict[int, dict[str, MappingNode]] = {}
    for (sort, name), mark in staging.marks.items():
        node = mark.words.get("stages")
        table = None if node is None or sort != "thing" or name not in things else node.mapping()
        for word, entry in () if table is None else table.items():
            number = _stage_of_pose(staging, plan, name, word, entry)
            body = entry.mapping()
            if number is not None and body is not None:
                body.check_keys(tuple(PLACE_KEYS.values()))
                by_stage.setdefault(number, {})[name] = body
    if plan is None:
        return {}
    out: dict[tuple[int, str, str], Pose] = {}
    poses = dict(layout.poses)
    for number in sorted(by_stage):
        here = by_stage[number]
        reader = PoseReader(reading, room, dict(things), here, when=plan.stages[number].name)
        reader.poses = poses
        reader.done = set(things) - set(here)
        for name, body in here.items():
            reader.read(name)
            for place, key in PLACE_KEYS.items():
                if key in body and (name, place) in reader.poses:
                    out[number, name, place] = reader.poses[name, place]
    return out


def _stage_of_pose(
    staging: Staging, plan: Plan | None, thing: str, word: str, entry: Node
) -> int | None:
    names = [stage.name for stage in staging.stages]
    place = entry.key or entry
    if word not in names:
        entry.faults.add(place, f"there is no stage `{word}`", nearest(word, names))
        return None
    number = names.index(word)
    span = Span(0, 0) if plan is None else plan.span("thing", thing)
    if number == span.first:
        entry.faults.add(
            place, f"`{word}` is the first stage of `{thing}`",
            "its first place is the one after `at:`",
        )  # fmt: skip
        return None
    if plan is not None and number not in span:
        entry.faults.add(
            place, f"`{thing}` is not there in stage `{word}`", f"it is there: {plan.names(span)}"
        )
        return None
    return number
