"""The sheet's way as data, in words and drawn: carried, turned, fed, supported."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from functools import cached_property
from math import degrees
from pathlib import Path
from textwrap import fill

from floorplan.checks import carrying, feeding, links, support, tilting
from floorplan.checks.boards import LOOK, LongestBoard, longest_boards
from floorplan.checks.giving_way import Remedy, remedy
from floorplan.checks.judge import CHECKS, Judgement, judge_scene
from floorplan.checks.support import GRAVITY, Support, supports
from floorplan.checks.tilting import Tilt
from floorplan.checks.tipping import Sideways
from floorplan.checks.way_words import label, way_sentences, way_title, weight_sentences
from floorplan.checks.ways import Way, way_of
from floorplan.report.data import Data, envelope, number
from floorplan.report.text import finding_lines, headline, tail
from floorplan.report.words import WIDTH
from floorplan.shop.model import Layout, Shop
from floorplan.shop.scene import Scene, scene
from floorplan.units import format_length, format_mass

ABOUT_SHEETS = (
    carrying.CHECK, tilting.CHECK, feeding.CHECK, links.CHECK, support.CHECK,
)  # fmt: skip
"""The checks whose findings belong to the way of a sheet."""


@dataclass(frozen=True, eq=False)
class SheetAnswer:
    """Everything that was found about what is carried and fed."""

    judgement: Judgement

    @property
    def scene(self) -> Scene:
        """The layout as volumes."""
        return self.judgement.scene

    @cached_property
    def ways(self) -> tuple[tuple[Way, Remedy | None], ...]:
        """Every carry whose ends exist, and what would help where it does not pass."""
        made = self.scene
        found = [way_of(made, job, wanted) for job, wanted in made.shop.carries()]
        return tuple((way, remedy(made, way)) for way in found if way is not None)

    @cached_property
    def left_out(self) -> tuple[str, ...]:
        """Carries an end of which has no place in this layout."""
        made = self.scene
        return tuple(
            label(wanted)
            for job, wanted in made.shop.carries()
            if wanted.how != "tilted up" and way_of(made, job, wanted) is None
        )

    @cached_property
    def tilts(self) -> tuple[Tilt, ...]:
        """How every piece that a job turns upright is best turned."""
        return tuple(tilting.best_tilts(self.scene))

    @cached_property
    def fed(self) -> tuple[Support, ...]:
        """How every piece that a job feeds is carried."""
        asked = {id(feed) for _, feed in self.scene.shop.feeds()}
        return tuple(one for one in supports(self.scene) if id(one.feed) in asked)

    @cached_property
    def boards(self) -> tuple[LongestBoard, ...]:
        """The longest board of each machine."""
        return tuple(longest_boards(self.scene))


def asks_for_sheets(shop: Shop) -> bool:
    """Whether any job carries or feeds something."""
    return any(job.carries or job.feeds for job in shop.jobs)


def sheet_answer(shop: Shop, layout: Layout) -> SheetAnswer:
    """Put the checks that concern sheets to a layout."""
    checks = [row for row in CHECKS if row[0] in ABOUT_SHEETS]
    return SheetAnswer(judge_scene(scene(shop, layout), checks))


# --- data ------------------------------------------------------------------------------------


def sheet_data(answer: SheetAnswer, cautions: Iterable[str], files: Iterable[Path]) -> Data:
    """The object that `sheet` prints: blocks `sheet`, `support` and `longest boards`, SI units."""
    blocks = {
        "sheet": [_way(way, helped, answer.scene.shop) for way, helped in answer.ways],
        "support": [_support(one) for one in answer.fed],
        "longest boards": [
            {
                "machine": b.machine, "length": number(b.length), "before": b.before,
                "behind": b.behind, "through": list(b.through),
            }
            for b in answer.boards
        ],
    }  # fmt: skip
    return envelope("sheet", answer.judgement, cautions, files, **blocks)


def _way(way: Way, helped: Remedy | None, shop: Shop) -> Data:
    answer = way.answer
    pinch = answer.pinch
    return {
        "job": way.job,
        "piece": way.carry.piece,
        "how": way.carry.how,
        "from": way.carry.start,
        "to": way.carry.goal,
        "verdict": way.verdict,
        "length": number(answer.length) if answer.path else None,
        "turns": answer.turns if answer.path else None,
        "turned": number(degrees(answer.turned)) if answer.path else None,
        "margin": None if way.margin is None else number(way.margin.value),
        "error": None if way.margin is None else number(way.margin.error(shop.measurements)),
        "pinch": None if pinch is None else {
            "left": [number(v) for v in pinch.left],
            "right": [number(v) for v in pinch.right],
            "gap": number(pinch.gap),
            "between": list(way.limits),
        },
        "path": [[number(p.x), number(p.y), number(degrees(p.angle))] for p in answer.path],
        "plan": {"length": number(way.load.length.value), "width": number(way.load.width.value)},
        "heights": [number(way.load.piece.bottom.value), number(way.load.piece.top.value)],
        "doors open": list(way.around.doors),
        "poses": [way.start.words, way.goal.words],
        "blocked by": list(way.limits) if answer.blocked_at is not None else [],
        "would pass": None if helped is None else {
            "width": number(helped.width), "length": number(helped.length),
            "without": list(helped.without),
        },
    }  # fmt: skip


def _support(one: Support) -> Data:
    return {
        "job": one.job,
        "machine": one.feed.machine,
        "piece": one.feed.stock,
        "mass": number(one.mass),
        "covered": number(one.covered.value),
        "needed": number(one.needed.value),
        "needed with a hand": number(one.with_hand.value),
        "tips at": number(one.tips_at),
        "hand force": [[number(head), number(force)] for head, force in one.curve],
        "sideways": None if one.sideways is None else {
            "side": one.sideways.side,
            "head": number(one.sideways.head),
            "over": number(one.sideways.over),
            "margin": number(one.sideways.margin.value),
        },
        "stopped by": None if one.stopped_by is None else one.stopped_by.owner,
    }  # fmt: skip


# --- words -----------------------------------------------------------------------------------


def sheet_text(answer: SheetAnswer, cautions: Iterable[str], files: Iterable[Path]) -> str:
    """The answer of `sheet`."""
    made, judgement = answer.scene, answer.judgement
    lines = [fill(headline(judgement, f"The way of sheets in {made.shop.name}"), WIDTH), ""]
    for way, helped in answer.ways:
        lines.append(fill(f"{way.job}: {way_title(way)}", WIDTH, subsequent_indent="  "))
        lines.extend(_indented(way_sentences(made, way, helped)))
        lines.append("")
    for what in answer.left_out:
        lines += [f"Not answered, an end has no place in this layout: {what}", ""]
    for found in judgement.findings:
        if found.check == tilting.CHECK:
            lines += [fill(f"Tilting: {found.message}.", WIDTH, subsequent_indent="  "), ""]
    for one in answer.fed:
        lines.append(f"{one.job}: {one.feed.stock} ({one.feed.cut}) through {one.feed.machine}")
        lines.extend(_indented(support_sentences(made, one)))
        lines.append("")
    lines.append(f"Longest board of each machine where it stands: {_board_size(made)}")
    lines.extend(_indented(_board(made, board) for board in answer.boards))
    lines.append("")
    worst = [f for f in judgement.findings if f.verdict != "passes"]
    for count, found in enumerate(worst, 1):
        lines.extend(finding_lines(found, count))
    lines.append(f"{len(judgement.findings) - len(worst)} further checked facts pass.")
    lines.extend(tail(made.shop, judgement.assumed, cautions, files))
    return "\n".join(lines) + "\n"


def _indented(sentences: Iterable[str]) -> Iterator[str]:
    for sentence in sentences:
        yield fill(sentence, WIDTH, initial_indent="  ", subsequent_indent="    ")


def tilt_sentences(made: Scene, tilt: Tilt) -> Iterator[str]:
    """What stands in the way of a turn or comes nearest to it, and what the piece weighs."""
    words = tilting.message_of(made.shop, tilt)
    spare = "down" if tilt.margin.value >= 0 else "up"
    amount = format_length(abs(tilt.margin.value), made.shop.system, rounding=spare)  # type: ignore[arg-type]
    words = words.format(spare=amount)
    yield f"{words[0].upper()}{words[1:]}."
    error = tilt.margin.error(made.shop.measurements)
    if error > 0:
        off = format_length(error, made.shop.system, rounding="up")
        yield f"The tape may be off by {off} in that."
    yield "It turns about the lower corner of one end, which stays where it is."
    yield from weight_sentences(made, tilt.carry.piece, tilt.carry.mass)


def support_sentences(made: Scene, one: Support) -> Iterator[str]:
    """What carries a fed piece, where it tips, what the hand has to do, and its weight."""
    system = made.shop.system
    covered, needed, held = (
        format_length(v, system, rounding=r)  # type: ignore[arg-type]
        for v, r in (
            (one.covered.value, "down"), (one.needed.value, "up"), (one.with_hand.value, "up"),
        )
    )  # fmt: skip
    names = ", ".join(dict.fromkeys(s.owner for s in one.surfaces if s.carries()))
    most = format_mass(made.shop.rules.value("hold-down-most"), system)
    yield f"Carried by {names}, {covered} behind the blade; {needed} holds it without a hand."
    if one.tips_at is not None:
        at = format_length(one.tips_at, system)
        hand = (
            "the hand at either end would hold"
            if one.rollers
            else "the hand at its tail would press"
        )
        force = (
            "no hand at its tail holds it to the end"
            if not one.can_be_held
            else f"{hand} {format_mass(one.hold_down / GRAVITY, system)}"
        )
        yield f"It tips when its leading end is {at} behind the blade: {force}."
        yield f"With {most} of hand the surface has to reach {held} behind the blade."
    if one.sideways is not None:
        yield _over_the_side(made, one.sideways, most)
    lift = format_mass(one.lift / GRAVITY, system)
    yield f"Before the table the hand carries up to {lift} at its tail."
    stop = one.stopped_by
    if stop is not None:
        by = format_length(-stop.step.value, system, rounding="up")
        where = format_length(stop.near.value, system, rounding="down")
        yield f"{stop.owner}, {where} behind the blade, is {by} higher than the table and stops it."
    if made.shop.thing(one.feed.machine).kind in support.POWER_FED:
        yield "Rollers move the piece: one may go round and hold its leading end."
    yield from weight_sentences(made, one.feed.stock, one.mass)


def _over_the_side(made: Scene, beside: Sideways, most: str) -> str:
    """How a piece that hangs over a side of what carries it is held level."""
    system = made.shop.system
    over = format_length(beside.over, system, rounding="up")
    room = format_length(
        abs(beside.margin.value), system, rounding="down" if beside.margin.value >= 0 else "up"
    )
    held = (
        f"{most} of hand keeps it level, {room} to spare"
        if beside.margin.value >= 0
        else f"it tips to that side, {room} of surface short for {most} of hand"
    )
    return f"On the {beside.side} it hangs {over} over what carries it: {held}."


def _board_size(made: Scene) -> str:
    rules = made.shop.rules
    width, thick = (
        format_length(rules.value(name), made.shop.system)
        for name in ("board-width", "board-thickness")
    )
    return f"{width} wide, {thick} thick"


def _board(made: Scene, board: LongestBoard) -> str:
    system = made.shop.system
    long = format_length(board.length, system, rounding="down")
    text = f"{board.machine}: {'more than ' if board.length > LOOK * 0.8 else ''}{long}"
    ends = [f"{name} {side}" for side, name in (("before", board.before), ("behind", board.behind))
            if name]  # fmt: skip
    if ends:
        text += f"; {' and '.join(ends)} in the way"
    if board.through:
        text += f"; through {' and '.join(board.through)} when open"
    return text


# --- figures ---------------------------------------------------------------------------------


def sheet_sheets(answer: SheetAnswer, out_dir: str | Path) -> tuple[Path, ...]:
    """One drawing for each carry and each kind of fed piece.  Raises OSError."""
    from floorplan.drawing.carry import way_sheet
    from floorplan.drawing.support import support_sheet
    from floorplan.drawing.tilt import tilt_sheet

    made = answer.scene
    fed = list(
        {(one.feed.machine, one.feed.stock, one.feed.cut): one for one in answer.fed}.values()
    )
    count = len(answer.ways) + len(answer.tilts) + len(fed)
    files: tuple[Path, ...] = ()
    for i, (way, helped) in enumerate(answer.ways, 1):
        name = f"sheet-{i}-{_slug(way.carry.start)}-to-{_slug(way.carry.goal)}"
        files += way_sheet(made, way, helped, out_dir, name, sheet=i, of=count)
    for i, tilt in enumerate(answer.tilts, len(answer.ways) + 1):
        name = f"sheet-{i}-{_slug(tilt.carry.piece)}-turned-upright"
        sentences = tuple(tilt_sentences(made, tilt))
        files += tilt_sheet(made, tilt, sentences, out_dir, name, sheet=i, of=count)
    for i, one in enumerate(fed, count - len(fed) + 1):
        name = f"sheet-{i}-{_slug(one.feed.stock)}-through-{_slug(one.feed.machine)}"
        sentences = tuple(support_sentences(made, one))
        files += support_sheet(made, one, sentences, out_dir, name, sheet=i, of=count)
    return files


def _slug(name: str) -> str:
    """A name as part of a file's name."""
    return re.sub(r"[^a-z0-9]+", "-", name.lower()).strip("-") or "x"
