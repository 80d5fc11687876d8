"""The text beside a plan, as rows that flow into its columns."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from functools import partial

from shapely import box
from shapely.geometry import Polygon

from floorplan.checks.finding import Finding, measure_text
from floorplan.drawing.arrangement import COLUMN
from floorplan.drawing.column import Cell, Row, heading, paragraph, table
from floorplan.drawing.judged import Judged
from floorplan.drawing.lettering import line_height
from floorplan.drawing.marks import RADIUS, draw_marker
from floorplan.drawing.notes import Note
from floorplan.drawing.outlets import outlet_sign
from floorplan.drawing.page import Page
from floorplan.drawing.placing import Box
from floorplan.drawing.style import (
    ALERT,
    BLACK,
    FINE,
    FURNITURE_FACE,
    HEAVY,
    MACHINE_FACE,
    MEDIUM,
    SMALL_SIZE,
    TEXT_SIZE,
    TITLE_SIZE,
    ZoneStyle,
    tint,
)
from floorplan.drawing.tape import tape_table, usual_walls
from floorplan.rules.cautions import cautions
from floorplan.shop.scene import Scene
from floorplan.units import System


def assumed_names(findings: Sequence[Finding]) -> tuple[str, ...]:
    """Assumed sizes on which required findings depend."""
    return tuple(sorted({n for f in findings if f.kind == "required" for n in f.assumed}))


def verdict_words(judged: Judged) -> str:
    """`Passes on 3 assumed sizes`, `Fails: 2 required checks`, ... ."""
    required = [f for f in judged.findings if f.kind == "required"]
    if judged.verdict == "passes":
        count = len(assumed_names(judged.findings))
        sizes = "size" if count == 1 else "sizes"
        return f"Passes on {count} assumed {sizes}" if count else "Passes"
    count = sum(f.verdict == judged.verdict for f in required)
    checks = "check" if count == 1 else "checks"
    if judged.verdict == "fails":
        return f"Fails {count} required {checks}"
    return f"Too close to call: {count} required {checks}"


def verdict_rows(judged: Judged) -> tuple[Row, ...]:
    """The verdict, large."""
    colour = ALERT if judged.verdict == "fails" else BLACK
    words = verdict_words(judged)
    return (Row((Cell(words, bold=True, colour=colour),), TITLE_SIZE),)


def note_rows(
    listed: Sequence[Note], all_notes: Sequence[Note], *, width: float = COLUMN
) -> tuple[Row, ...]:
    """Numbered notes under their headings; how many more there are."""
    rows: list[Row] = []
    last, free = "", 0.5
    for note in listed:
        if note.heading != last:
            rows.append(heading(note.heading))
            last, free = note.heading, 0.9

        def sign(page: Page, x: float, y: float, note: Note = note) -> None:
            draw_marker(page, x + RADIUS, y, note, gid=f"listed {note.number}")

        text = note.text
        if len(note.tasks) == 1 and note.tasks[0] not in text:
            text += f" ({note.tasks[0]})"
        elif len(note.tasks) > 1:
            text += f" ({len(note.tasks)} tasks)"
        indent = 2 * RADIUS + 1.2
        lines = paragraph(text, width, indent=indent, sign=sign, before=free)
        # the circle is higher than one line of text
        free = 0.5 if len(lines) > 1 else 2 * RADIUS - line_height(TEXT_SIZE) + 0.4
        rows.extend(lines)
    if len(listed) < len(all_notes):
        more = len(all_notes) - len(listed)
        rows.extend(paragraph(f"and {more} more, listed in the text output", COLUMN, before=0.8))
    if not all_notes:
        rows.extend(paragraph("Every check passes, required and advised.", COLUMN, before=0.8))
    return tuple(rows)


def tape_rows(scene: Scene) -> tuple[Row, ...]:
    """How to tape every thing on the floor."""
    rows = tape_table(scene)
    if not rows:
        return ()
    usual = usual_walls(rows)
    texts = [("thing", f"from {usual[0]}", f"from {usual[1]}", "turn")]
    for row in rows:
        name = row.thing if row.place == "standing" else f"{row.thing}, {row.place}"
        texts.append((name, *row.words(scene.shop.system, usual)))
    head = heading("To tape on the floor, to the marked corner")
    if scene.shop.system is System.METRIC:
        texts = [(a, b.replace(" mm", ""), c.replace(" mm", ""), d) for a, b, c, d in texts]
    return (head, *table(texts, (26.0, 23.5, 24.0, 8.5)))


def measure_rows(judged: Judged) -> tuple[Row, ...]:
    """Every measure with its value."""
    if not judged.measures:
        return ()
    rows = [heading("Measures")]
    for name, measure in judged.measures.items():
        value = measure_text(measure, judged.shop.system)
        rows.append(Row((Cell(name), Cell(value, COLUMN, right=True))))
    return tuple(rows)


def absent_rows(scene: Scene) -> tuple[Row, ...]:
    """Things that have no place yet."""
    if not scene.absent:
        return ()
    return (
        heading("Not placed, left out of every check"),
        *paragraph(", ".join(scene.absent), COLUMN),
    )


def assumed_rows(judged: Judged, most: int = 12) -> tuple[Row, ...]:
    """Sizes that nobody measured."""
    names = assumed_names(judged.findings)
    if not names:
        return ()
    listed = "; ".join(names[:most])
    if len(names) > most:
        listed += f"; and {len(names) - most} more in the text output"
    head = f"Assumed, never measured: {len(names)}"
    return (heading(head), *paragraph(listed, COLUMN, size=SMALL_SIZE))


def topics(scene: Scene) -> tuple[str, ...]:
    """Topics of cautions that concern what stands in this room."""
    found = ["measure"]
    if any(e.rule.startswith("panel") for e in scene.of("keep-clear")):
        found.append("panel")
    if scene.shop.doors:
        found.append("way out")
    if any(thing.cutter is not None for thing in scene.shop.things):
        found.append("saw")
    if scene.shop.power is not None:
        found.append("cords")
    return tuple(found)


def caution_texts(scene: Scene) -> tuple[str, ...]:
    """The caution that always stands, then those on these topics."""
    return cautions(*topics(scene))


SWATCH = (6.0, 2.1)
"""Sample of a fill in the legend [mm]."""
Sample = Callable[[Page, Box], None]


def legend_rows(used: Sequence[ZoneStyle], *, outlets: bool = False) -> tuple[Row, ...]:
    """What fills, letters and lines mean, two to a row."""
    styles = {s.letter: s for s in used}.values()
    entries: list[tuple[Sample, str]] = [
        *((partial(_zone_sample, style=s), f"{s.letter}  {s.meaning}") for s in styles),
        (partial(_face_sample, face=MACHINE_FACE), "machine"),
        (partial(_face_sample, face=FURNITURE_FACE), "bench, rack, storage"),
        (_dashed_sample, "overhead, or at times"),
        (_corner_sample, "corner to tape to"),
        *(((_outlet_sample, "outlet, with its circuit"),) if outlets else ()),
    ]
    rows = [heading("Legend")]
    half = COLUMN / 2
    for pair in (entries[i : i + 2] for i in range(0, len(entries), 2)):
        cells = [Cell(text, i * half + SWATCH[0] + 1.5) for i, (_, text) in enumerate(pair)]
        samples = tuple(sample for sample, _ in pair)
        rows.append(
            Row(tuple(cells), SMALL_SIZE, before=0.25, sign=partial(_samples, samples=samples))
        )
    return tuple(rows)


def _samples(page: Page, x: float, y: float, samples: Sequence[Sample]) -> None:
    for i, sample in enumerate(samples):
        sample(page, Box.about(x + i * COLUMN / 2 + SWATCH[0] / 2, y, *SWATCH))


def _rectangle(at: Box) -> Polygon:
    return box(at.left, at.bottom, at.right, at.top)


def _zone_sample(page: Page, at: Box, style: ZoneStyle) -> None:
    page.area(
        _rectangle(at), face=tint(style.colour, 0.14), edge=tint(style.colour, 0.7), width=FINE,
        hatch=style.hatch * 2, z=15.0,
    )  # fmt: skip


def _outlet_sample(page: Page, at: Box) -> None:
    outlet_sign(page, *at.centre)


def _face_sample(page: Page, at: Box, face: str) -> None:
    page.area(_rectangle(at), face=face, width=MEDIUM, z=15.0)


def _dashed_sample(page: Page, at: Box) -> None:
    page.area(_rectangle(at), width=MEDIUM, dashes=(6.0, 3.0), z=15.0)


def _corner_sample(page: Page, at: Box) -> None:
    x, y = at.left + 1.5, at.bottom + 0.2
    page.line([(x + 2.0, y), (x, y), (x, y + 2.0)], width=HEAVY * 1.4, z=15.0)
