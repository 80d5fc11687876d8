"""Plans to be set into a page of text: drawn alone, without a sheet round them."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Callable, Sequence
from html import escape

from floorplan.checks.cords import Reach
from floorplan.checks.feet import FeetAnswer
from floorplan.checks.way_words import way_title
from floorplan.checks.ways import Way
from floorplan.drawing.arrangement import BAND, RATIOS, RULER
from floorplan.drawing.canvas import Plan, drawn_bounds
from floorplan.drawing.carry import draw_way, way_bounds
from floorplan.drawing.cords import draw_cords
from floorplan.drawing.ducts import DuctSheet, air_bounds, draw_hose_ways, draw_runs
from floorplan.drawing.feet import draw_feet, feet_bounds
from floorplan.drawing.judged import Judged
from floorplan.drawing.notes import Note, notes
from floorplan.drawing.one_plan import SHOWN
from floorplan.drawing.page import Page, rendered
from floorplan.drawing.placing import Box
from floorplan.drawing.plan import EDGE, FULL, Detail, draw_plan, place_plan
from floorplan.drawing.site import draw_site, site_bounds
from floorplan.drawing.states import State, draw_rolls
from floorplan.drawing.style import drawing_defaults
from floorplan.search.shed import ShedAnswer
from floorplan.shop.scene import Scene
from floorplan.units import System

RATIO = {System.IMPERIAL: 48, System.METRIC: 50}
FEET_RATIO = 20
CROPPED = Detail(sizes=False, ruler=False, corners=False)
CROP_SIDE = 95.0
"""Longest side that the drawing of one finding should not exceed [mm]."""
NEAR = 0.6
"""Shown around the place of a finding [m]."""
LEAST = (2.6, 1.9)
"""Shown at least across and up, so that one knows where it is [m]."""
SITE_SIDE = 230.0
"""Longest side that the drawing of a site should not exceed [mm]."""
AIR = 3.0
"""Free room round the drawing [mm]."""
_ID = re.compile(r'\bid="([^"]*)"')
_REFERENCE = re.compile(r'url\(#([^)]*)\)|xlink:href="#([^"]*)"')


@drawing_defaults()
def plan_alone(judged: Judged, title: str, *, detail: Detail = FULL) -> Page:
    """A plan with the numbers of what was found, on a page that just holds it."""
    system = judged.shop.system
    ratio = RATIO[system]
    west, south, east, north = drawn_bounds(judged.scene)
    unit = 1000.0 / ratio
    left, right = (RULER if detail.ruler else 0.0) + AIR, (BAND if detail.building else 0.0) + AIR
    width, height = (east - west) * unit + left + right, (north - south) * unit + left + right
    page = Page(width, height, title)
    middle = (left + (east - west) * unit / 2, left + (north - south) * unit / 2)
    plan = place_plan(page, judged.scene, middle, ratio)
    listed = notes(judged.findings, system)
    draw_plan(plan, notes=listed, findings=judged.findings, detail=detail)
    return page


def finding_alone(judged: Judged, note: Note) -> Page | None:
    """The part of the plan in which a finding is; None where nobody can say where it is."""
    scene = judged.scene
    bounds = crop_bounds(note, drawn_bounds(scene))
    if bounds is None:
        return None
    west, south, east, north = bounds
    usual, longest = RATIO[judged.shop.system], max(east - west, north - south) * 1000.0
    ratio = next((r for r in (usual, usual * 2) if longest / r <= CROP_SIDE), usual * 4)

    def draw(plan: Plan) -> None:
        draw_plan(plan, notes=(note,), detail=CROPPED)

    title = f"Where finding {note.number} is"
    return part_alone(scene, bounds, title, draw, ratio=ratio, free=0.0)


def crop_bounds(
    note: Note, whole: tuple[float, float, float, float]
) -> tuple[float, float, float, float] | None:
    """West, south, east, north of what is shown of a finding, within the plan [m]."""
    boxes = [place.bounds for place in note.places]
    if not boxes:
        return None
    low = [min(b[i] for b in boxes) - NEAR for i in (0, 1)]
    high = [max(b[i] for b in boxes) + NEAR for i in (2, 3)]
    for i in (0, 1):
        short = max(LEAST[i] - (high[i] - low[i]), 0.0)
        low[i], high[i] = low[i] - short / 2, high[i] + short / 2
        # at the edge of the plan the window slides inwards
        slide = max(whole[i] - low[i], 0.0) or min(whole[i + 2] - high[i], 0.0)
        low[i] = max(low[i] + slide, whole[i])
        high[i] = min(high[i] + slide, whole[i + 2])
    if min(high[0] - low[0], high[1] - low[1]) <= 0.0:
        return None
    return low[0], low[1], high[0], high[1]


@drawing_defaults()
def part_alone(
    scene: Scene,
    bounds: tuple[float, float, float, float],
    title: str,
    draw: Callable[[Plan], object],
    *,
    ratio: float | None = None,
    free: float = RULER + AIR,
) -> Page:
    """Something drawn to scale on a page that just holds these bounds [m], `free` round it [mm]."""
    scale = ratio or RATIO[scene.shop.system]
    west, south, east, north = bounds
    unit = 1000.0 / scale
    page = Page((east - west) * unit + 2 * free, (north - south) * unit + 2 * free, title)
    origin = (free - west * unit, free - south * unit)
    view = Box(free, free, page.width - free, page.height - free)
    draw(Plan(page, scene, scale, origin, view.grown(EDGE if free else 0.0)))
    return page


def way_alone(scene: Scene, way: Way) -> Page:
    """A carry over the plan."""

    def draw(plan: Plan) -> None:
        draw_plan(plan, detail=SHOWN)
        draw_way(plan, way)

    return part_alone(scene, way_bounds(scene, way), way_title(way), draw)


def air_alone(scene: Scene, sheet: DuctSheet) -> Page:
    """Runs of duct and the ways of a hose over the plan."""

    def draw(plan: Plan) -> None:
        draw_plan(plan, detail=SHOWN)
        if sheet.ducts is not None:
            draw_runs(plan, sheet.ducts)
        if sheet.vacuum is not None:
            draw_hose_ways(plan, sheet.vacuum)

    title = f"Ducts and hoses of {scene.shop.name}"
    return part_alone(scene, air_bounds(scene, sheet), title, draw)


def cords_alone(scene: Scene, ways: Sequence[Reach]) -> Page:
    """Every cord over the plan."""

    def draw(plan: Plan) -> None:
        draw_plan(plan, detail=SHOWN)
        draw_cords(plan, ways)

    return part_alone(scene, drawn_bounds(scene), f"Cords of {scene.shop.name}", draw)


def state_alone(state: State, title: str) -> Page:
    """The shop in one of its states, with the rolls into it."""

    def draw(plan: Plan) -> None:
        draw_plan(plan, detail=SHOWN)
        draw_rolls(plan, state)

    return part_alone(state.scene, drawn_bounds(state.whole.scene), title, draw)


def site_alone(answer: ShedAnswer) -> Page:
    """The lot with places for the shed, as large as a sheet of paper takes it."""
    bounds = site_bounds(answer)
    west, south, east, north = bounds
    longest = max(east - west, north - south) * 1000.0
    ratios = RATIOS[answer.shop.system]
    ratio = next((r for r in ratios if longest / r <= SITE_SIDE), ratios[-1])
    title = f"Site of {answer.shop.name}"
    return part_alone(
        answer.scene, bounds, title, lambda plan: draw_site(plan, answer), ratio=ratio
    )


def feet_alone(scene: Scene, answer: FeetAnswer) -> Page:
    """The map of levelling feet."""
    title = f"Feet of {answer.thing.name}"
    bounds = feet_bounds(scene, answer)
    return part_alone(scene, bounds, title, lambda plan: draw_feet(plan, answer), ratio=FEET_RATIO)


def inline_svg(page: Page, name: str, description: str) -> str:
    """A page as an `svg` element: as wide as its place, its ids begin with `name`.

    Screen readers get the page's title and the description.
    """
    text = rendered(page, "svg").decode("utf-8")
    body = text[text.index("<svg") :]
    body = body[body.index(">") + 1 :]
    body = re.sub(r"\s*<title>.*?</title>", "", body, count=1, flags=re.DOTALL)
    body = re.sub(r"\s*<metadata>.*?</metadata>", "", body, count=1, flags=re.DOTALL)
    # the one rule that the file brings for all elements; as an attribute it keeps to the drawing
    body = re.sub(r"\s*<style.*?</style>", "", body, count=1, flags=re.DOTALL)
    seen: Counter[str] = Counter()

    def numbered(found: re.Match[str]) -> str:
        """An id of its own also for the second group that has the same name."""
        named = _named(name, found[1])
        seen[named] += 1
        return f'id="{named}"' if seen[named] == 1 else f'id="{named}-again-{seen[named]}"'

    body = _ID.sub(numbered, body)
    body = _REFERENCE.sub(lambda found: _refer(name, found), body)
    wide, high = page.width * 72 / 25.4, page.height * 72 / 25.4
    head = (
        f'<svg xmlns="http://www.w3.org/2000/svg" xmlns:xlink="http://www.w3.org/1999/xlink" '
        f'viewBox="0 0 {wide:.2f} {high:.2f}" role="img" stroke-linejoin="round" '
        f'aria-labelledby="{name}-title {name}-text">\n'
        f'<title id="{name}-title">{escape(page.title)}</title>\n'
        f'<desc id="{name}-text">{escape(description)}</desc>'
    )
    return head + body.rstrip()


def _named(name: str, old: str) -> str:
    """An id of a drawing that is one word and unlike those of other drawings."""
    return f"{name}-{re.sub(r'[^A-Za-z0-9_.-]+', '-', old)}"


def _refer(name: str, found: re.Match[str]) -> str:
    if found[1] is not None:
        return f"url(#{_named(name, found[1])})"
    return f'xlink:href="#{_named(name, found[2])}"'
