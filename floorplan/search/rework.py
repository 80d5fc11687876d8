"""Changes that leave everything where it stands: feet, the sheet, and where it is cut."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace

from floorplan.checks.feet import FeetError, feet_of, levels_of, surface_of
from floorplan.checks.finding import Finding, verdict_of
from floorplan.geometry.affine import Affine
from floorplan.geometry.volume import height_gap
from floorplan.search.change import FEET, STEP, Draft, Step, length_text, outward
from floorplan.shop.feeding import along_and_across
from floorplan.shop.model import BreakDown, Feed, Job, Part, Shop, Thing
from floorplan.shop.scene import Element, Scene, may_not_overlap
from floorplan.units import TOLERANCE

# --- feet ----------------------------------------------------------------------------------


WITHOUT_FEET = ("car", "shop vacuum")


def feet(
    draft: Draft,
    name: str,
    scene: Scene,
    failing: Sequence[Finding],
    whole: Scene | None = None,
) -> Iterator[Step]:
    """Raise or lower a thing within what its feet give without shims, least first.

    `whole` is the scene with everything, where `scene` holds only some things: heights may count
    from the floor under another one.
    """
    thing = draft.shop.thing(name)
    if thing.fixed or thing.kind in WITHOUT_FEET:
        return
    amounts = {outward(h, draft.shop.system) for h in _heights(draft.shop, thing, scene, failing)}
    for amount in sorted(amounts, key=lambda h: (abs(h), h)):
        set_to = _setting(whole or scene, thing, amount)
        if set_to is None or amount == 0.0:
            continue
        changed = raised(thing, amount)
        if not _is_upright(draft.shop, changed):
            continue
        how = "raise" if amount > 0 else "lower"
        yield Step(
            "feet",
            name,
            amount,
            "m",
            f"{how} {name} by {length_text(draft.shop, amount)}{set_to}",
            replace(draft, shop=draft.shop.with_thing(changed)),
            abs(amount),
        )


def _setting(scene: Scene, thing: Thing, by: float) -> str | None:
    """How its feet are set to raise a thing, None where they do not certainly reach that [m].

    Where a thing's feet were never measured, or nobody surveyed the floor, nothing is said of
    single feet.
    """
    if thing.feet is None:
        return None if abs(by) > FEET + TOLERANCE else ""
    surface = surface_of(thing)
    level = (thing.height if surface is None else surface) + by
    levels = levels_of(scene, thing.name)
    if levels is None:
        return None
    for spare in (level - levels[0], levels[1] - level):
        if verdict_of(spare.value, spare.error(scene.shop.measurements)) != "passes":
            return None
    try:
        found = feet_of(scene, thing.name, level=level)
    except FeetError:
        return ""
    lengths = ", ".join(f"{f.number} to {length_text(scene.shop, f.length)}" for f in found.feet)
    return f" on its feet: {lengths}"


def _heights(shop: Shop, thing: Thing, scene: Scene, failing: Sequence[Finding]) -> Iterator[float]:
    """Changes of height that part the thing from what it is in, or mend its step [m]."""
    errors = shop.measurements
    own = scene.things.get(thing.name, ())
    for mine in own:
        for other in scene.elements:
            if other.owner == thing.name or not _in_plan(mine, other):
                continue
            found = height_gap(mine.volume, other.volume)
            if found.value >= found.error(errors) - TOLERANCE:
                continue
            under = other.volume.bottom - mine.volume.top
            over = mine.volume.bottom - other.volume.top
            yield -(under.error(errors) - under.value)
            yield over.error(errors) - over.value
    for found_ in failing:
        if found_.rule not in ("outfeed-step-least", "outfeed-step-most"):
            continue
        if found_.margin is None or thing.name not in found_.about:
            continue
        short = found_.error - found_.margin
        lower = (found_.about[0] == thing.name) == (found_.rule == "outfeed-step-least")
        yield -short if lower else short


def _in_plan(mine: Element, other: Element) -> bool:
    if not may_not_overlap(mine, other):
        return False
    a, b = mine.volume.bounds, other.volume.bounds
    if a[0] > b[2] + STEP_APART or b[0] > a[2] + STEP_APART:
        return False
    if a[1] > b[3] + STEP_APART or b[1] > a[3] + STEP_APART:
        return False
    return bool(mine.volume.polygon.distance(other.volume.polygon) < STEP_APART)


STEP_APART = 0.0254
"""Plans this near may conflict once the tape is allowed for [m]."""


def raised(thing: Thing, by: float) -> Thing:
    """A thing on longer or shorter feet: what stands on the floor still does [m]."""

    def up(height: Affine) -> Affine:
        return height + by if height.value > TOLERANCE else height

    def part(old: Part) -> Part:
        return replace(old, bottom=up(old.bottom), top=old.top + by)

    cutter = thing.cutter
    return replace(
        thing,
        bottom=up(thing.bottom),
        height=thing.height + by,
        surface=None if thing.surface is None else thing.surface + by,
        parts=tuple(part(p) for p in thing.parts),
        openings=tuple(replace(o, bottom=up(o.bottom), top=o.top + by) for o in thing.openings),
        ports=tuple(replace(p, height=p.height + by) for p in thing.ports),
        plugs=tuple(replace(p, height=p.height + by) for p in thing.plugs),
        cutter=None if cutter is None else replace(cutter, table=cutter.table + by),
    )


def _is_upright(shop: Shop, thing: Thing) -> bool:
    """Whether every part is certainly higher than its bottom: a mat cannot be let down."""
    ends = [(thing.bottom, thing.height)]
    ends += [(p.bottom, p.top) for p in thing.parts]
    ends += [(o.bottom, o.top) for o in thing.openings]
    return all(
        (top - bottom).value > (top - bottom).error(shop.measurements) + TOLERANCE
        for bottom, top in ends
    )


# --- the sheet -----------------------------------------------------------------------------


def sheet(draft: Draft, name: str) -> Iterator[Step]:
    """Guide a piece on its other edge, or cut it across instead of along."""
    thing = draft.shop.thing(name)
    if "saw" not in thing.kind and thing.kind != "own":
        return  # a planer or router table does not care how a piece is guided
    for job, feed in _asked(draft.shop, name):
        for turned, words in _ways(feed):
            yield Step(
                "sheet",
                name,
                None,
                "",
                f"{words} at {name} (job `{job.name}`)",
                replace(draft, shop=_with_feed(draft.shop, job, feed, turned)),
                0.0,
            )


def _asked(shop: Shop, machine: str) -> list[tuple[Job, Feed]]:
    return [(job, feed) for job in shop.jobs for feed in job.feeds if feed.machine == machine]


SHEET = 0.6
"""Narrower pieces are boards [m]: nobody cuts them across instead of along."""


def _ways(feed: Feed) -> Iterator[tuple[Feed, str]]:
    other = "left" if feed.guide == "right" else "right"
    flipped = replace(feed, guide=other)  # type: ignore[arg-type]
    verb = "rip" if feed.cut == "rip" else "crosscut"
    _, across = along_and_across(feed)
    if abs(2 * feed.offset.value - across.value) > TOLERANCE:
        yield flipped, f"{verb} the {feed.stock} with its guided edge on the {other} of the blade"
    if min(feed.length.value, feed.width.value) < SHEET:
        return
    cut = "crosscut" if feed.cut == "rip" else "rip"
    turned = replace(feed, cut=cut)  # type: ignore[arg-type]
    _, across = along_and_across(turned)
    if feed.offset.value > across.value + TOLERANCE:
        return
    words = (
        f"{cut} the {feed.stock} instead of {'ripping' if cut == 'crosscut' else 'crosscutting'} it"
    )
    yield turned, words
    yield (
        replace(turned, guide=other),  # type: ignore[arg-type]
        f"{words}, its guided edge on the {other} of the blade",
    )


def _with_feed(shop: Shop, job: Job, old: Feed, new: Feed | None) -> Shop:
    feeds = tuple(f for feed in job.feeds if (f := new if feed is old else feed) is not None)
    return _with_job(shop, job, replace(job, feeds=feeds))


def _with_job(shop: Shop, old: Job, new: Job) -> Shop:
    return replace(shop, jobs=tuple(new if job is old else job for job in shop.jobs))


# --- cut flat instead ----------------------------------------------------------------------


def _benches(draft: Draft, feed: Feed) -> list[str]:
    """Tables that carry at least half of a piece both ways, no machines."""
    half = sorted((feed.length.value / 2, feed.width.value / 2))
    return [
        thing.name
        for thing in draft.shop.things
        if thing.surface is not None
        and not (thing.cutter or thing.ports or thing.fixed)
        and draft.layout.pose(thing.name) is not None
        and all(
            have >= need - TOLERANCE
            for have, need in zip(sorted((thing.width.value, thing.depth.value)), half, strict=True)
        )
    ]


def cut_flat(draft: Draft, name: str) -> Iterator[Step]:
    """Break a sheet down over a bench or on the floor instead of feeding it whole."""
    shop = draft.shop
    stock = {item.name for item in shop.stock}
    for job, feed in _asked(shop, name):
        if feed.stock not in stock:
            continue
        for over in (*_benches(draft, feed), "floor"):
            where = "on the floor" if over == "floor" else f"over {over}"
            flat = BreakDown(feed.stock, over, None, feed.line)
            made = _with_feed(shop, job, feed, None)
            now = next(j for j in made.jobs if j.name == job.name)
            made = _with_job(made, now, replace(now, break_downs=(*now.break_downs, flat)))
            if not _asked(made, name):
                # with no piece asked for the machine would be held against its usual one
                made = made.with_thing(replace(made.thing(name), usual_feeds=()))
            yield Step(
                "cut flat",
                name,
                None,
                "",
                f"cut the {feed.stock} up flat {where} instead of at {name} (job `{job.name}`)",
                Draft(made, draft.layout),
                0.0 if over != "floor" else STEP[shop.system],
            )
