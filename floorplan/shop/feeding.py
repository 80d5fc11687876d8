"""The room a piece takes while it is fed straight through a machine, as zones of the machine.

Before the cutter: the piece at table height and, behind its tail, the person who pushes.  After
the cutter: the piece and the push-through.  All three lengths are rules that can be overridden.
"""

from __future__ import annotations

from collections.abc import Iterator

from floorplan.geometry.affine import ZERO, Affine, Outline, affine
from floorplan.shop.model import Cutter, Feed, Shop, Thing, Zone


def feeds_of(shop: Shop, thing: Thing) -> tuple[tuple[str, Feed], ...]:
    """(name, feed) of a machine: those the jobs ask for, else what the kind usually takes."""
    asked = tuple((job, feed) for job, feed in shop.feeds() if feed.machine == thing.name)
    if asked or thing.cutter is None:
        return asked
    return tuple(
        (
            "usual piece",
            Feed(
                stock="usual piece",
                length=usual.length,
                width=usual.width,
                thickness=usual.thickness,
                machine=thing.name,
                cut="rip" if usual.cut == "rip" else "crosscut",
                offset=usual.width / 2,
                guide="right",
                line=thing.line,
            ),
        )
        for usual in thing.usual_feeds
    )


def along_and_across(feed: Feed) -> tuple[Affine, Affine]:
    """Size of the piece along the feed and across it [m]."""
    return (feed.length, feed.width) if feed.cut == "rip" else (feed.width, feed.length)


def feed_box(cutter: Cutter, start: Affine, end: Affine, left: Affine, right: Affine) -> Outline:
    """Local box from `start` to `end` along the feed, `left` to `right` of the blade [m].

    Distances along the feed count from the middle of the blade, positive after the cut; left
    and right are seen by a person who looks along the feed.
    """
    if cutter.feed == "away":
        return Outline.box(
            left=cutter.x + left,
            right=cutter.x + right,
            south=cutter.y + start,
            north=cutter.y + end,
        )
    if cutter.feed == "left":
        return Outline.box(
            left=cutter.x - end,
            right=cutter.x - start,
            south=cutter.y + left,
            north=cutter.y + right,
        )
    return Outline.box(
        left=cutter.x + start,
        right=cutter.x + end,
        south=cutter.y - right,
        north=cutter.y - left,
    )


def lane(feed: Feed) -> tuple[Affine, Affine]:
    """Left and right edge of the piece, from the blade, seen along the feed [m]."""
    _, across = along_and_across(feed)
    if feed.guide == "right":
        return feed.offset - across, feed.offset
    return -feed.offset, across - feed.offset


def pusher(cutter: Cutter, left: Affine, right: Affine, person: Affine) -> tuple[Affine, Affine]:
    """Left and right limit of the person behind the tail, from the blade along the feed [m].

    Behind the middle of the piece; where work runs along a fence from side to side, on the
    operator's side of it, because nobody stands behind the fence.
    """
    if cutter.feed == "away" or (right - left).value >= person.value:
        middle = (left + right) / 2
        return middle - person / 2, middle + person / 2
    if cutter.feed == "left":
        return right - person, right
    return left, left + person


def feed_zones(shop: Shop, thing: Thing) -> Iterator[Zone]:
    """Infeed, push and outfeed zones of every piece a machine takes."""
    cutter = thing.cutter
    if cutter is None:
        return
    rules = shop.rules
    stand = affine(rules.value("feed-standing-room"))
    push = affine(rules.value("feed-push-through"))
    beside = affine(rules.value("feed-beside-clear"))
    person = affine(rules.value("standing-width"))
    tall = affine(rules.value("person-height"))
    for index, (_, feed) in enumerate(feeds_of(shop, thing)):
        left, right = lane(feed)
        along, _ = along_and_across(feed)
        tail = -(cutter.front + along)
        head = cutter.back + along + push
        top = cutter.table + feed.thickness
        name = (
            f"{feed.stock} ({feed.cut})" if index == 0 else f"{feed.stock} ({feed.cut}) {index + 1}"
        )
        before = feed_box(cutter, tail, -cutter.front, left - beside, right + beside)
        pushing = feed_box(cutter, tail - stand, tail, *pusher(cutter, left, right, person))
        after = feed_box(cutter, cutter.back, head, left - beside, right + beside)
        for purpose, what, outline, bottom, high in (
            ("infeed", "before the cutter", before, cutter.table, top),
            ("push", "pushing room", pushing, ZERO, tall),
            ("outfeed", "behind the cutter", after, cutter.table, top),
        ):
            yield Zone(f"{name} {what}", purpose, outline, bottom, high, feed.task, line=feed.line)
