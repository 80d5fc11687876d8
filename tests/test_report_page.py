"""The report page: whole, without a request, readable on a phone, printable, accessible."""

from __future__ import annotations

import re
import shutil
import subprocess
import threading
from collections.abc import Iterator
from html.parser import HTMLParser
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from itertools import pairwise
from pathlib import Path

import pytest
from shapely import Point, box
from shapely.geometry.base import BaseGeometry

from floorplan.cli.main import main
from floorplan.drawing.inline import crop_bounds
from floorplan.drawing.notes import Note

SHOP = """\
shop: {name: "Pine & <Oak>", date: spring}
room: {size: [16', 14'], height: 9'}
doors:
  door: {wall: south, at: 2', width: 4', height: 80", leads to: outside}
equipment:
  saw: {kind: cabinet table saw, width: 60", depth: 30", height: 34", surface: 34",
        at: {x: 60", y: 60", turn: 0}}
  bench <1>:
    width: 60"
    depth: 30"
    height: 33-15/16"
    surface: 33-15/16"
    at: {x: 60", y: 92", turn: 0}
    takes the outfeed of: saw
    feet: {at: [[2", 2"], [58", 2"], [30", 28"]], shortest: 1", longest: 4",
           height without feet: 32", level with: saw, step: 1/16"}
stock:
  birch sheet: {length: 96", width: 48", thickness: 3/4"}
jobs:
  cabinet: {carry: {stock: birch sheet, from: door, to: saw, how: on edge}}
floor:
  outside: extend
  readings:
    - {at: [3', 3'], reading: 1"}
    - {at: [13', 3'], reading: 1-1/8"}
    - {at: [13', 11'], reading: 1-1/4"}
"""


@pytest.fixture(scope="module")
def page(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("report")
    path = folder / "shop.yaml"
    path.write_text(SHOP, encoding="utf-8")
    main(["report", str(path), "-o", str(folder), "--effort", "40", "--show", "2"])
    return folder / "report.html"


class Outline(HTMLParser):
    """Tags, attributes and headings of a page; unclosed or misnested tags are a fault."""

    VOID = frozenset({"meta", "br", "use"})

    def __init__(self) -> None:
        super().__init__()
        self.open: list[str] = []
        self.tags: list[tuple[str, dict[str, str | None]]] = []
        self.text = ""
        self.headed: list[str] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append((tag, dict(attrs)))
        if tag not in self.VOID:
            self.open.append(tag)

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append((tag, dict(attrs)))

    def handle_endtag(self, tag: str) -> None:
        assert self.open.pop() == tag

    def handle_data(self, data: str) -> None:
        self.text += data
        if self.open and re.fullmatch("h[1-6]", self.open[-1]):
            self.headed.append(data)


@pytest.fixture(scope="module")
def outline(page: Path) -> Outline:
    made = Outline()
    made.feed(page.read_text(encoding="utf-8"))
    assert made.open == []
    return made


def test_headings_come_in_order_and_name_every_part(outline: Outline) -> None:
    levels = [int(tag[1]) for tag, _ in outline.tags if re.fullmatch("h[1-6]", tag)]
    assert levels.count(1) == 1
    assert levels[0] == 1
    assert all(after <= before + 1 for before, after in pairwise(levels))
    for part in (
        "Findings", "Ranked layouts", "The way of sheets", "Levelling feet",
        "What to measure again", "Not checked", "Sources", "Cautions",
    ):  # fmt: skip
        assert part in outline.text
    assert "Run for this page: every check of the shop as it stands; a search of effort 40" in (
        outline.text
    )


AIR = """\
air:
  collector: {fan: {flow: [0 cfm, 400 cfm, 900 cfm], pressure: [12 in wg, 11 in wg, 5 in wg]}}
  runs:
    main: {from: saw, path: [[2', 12', 40"], [2', 12', 96"], [12', 12', 96"]], diameter: 6"}
stages:
  now: {}
  later: {when: in two years}
"""


def test_a_section_is_there_where_the_file_asks_for_it_and_only_there(
    outline: Outline, tmp_path: Path
) -> None:
    parts = ("Ducts and hoses", "Stages", "Parts")
    others = {"Cords and circuits", "The shop in its states", "The collector's shed"}
    assert not (set(parts) | others) & set(outline.headed)
    path = tmp_path / "shop.yaml"
    cart = (
        'equipment:\n  cart: {width: 20", depth: 20", height: 30", from: later, '
        "at: {x: 2', y: 9'}}\n"
    )
    path.write_text(SHOP.replace("equipment:\n", cart) + AIR, encoding="utf-8")
    main(["report", str(path), "-o", str(tmp_path)])
    made = Outline()
    made.feed((tmp_path / "report.html").read_text(encoding="utf-8"))
    assert set(parts) | {"Stage now", "Stage later"} <= set(made.headed)
    assert "galvanized duct" in made.text
    assert "Before it: new: cart." in made.text
    assert "no search; `--effort" in made.text


def test_names_of_the_file_cannot_break_out(page: Path, outline: Outline) -> None:
    assert "Pine & <Oak>" in outline.text
    assert "bench <1>" in outline.text
    assert {"oak", "script", "iframe", "img", "link"}.isdisjoint(tag for tag, _ in outline.tags)


def test_every_drawing_has_title_description_and_ids_of_its_own(outline: Outline) -> None:
    drawings = [attributes for tag, attributes in outline.tags if tag == "svg"]
    # the shop as it stands, each layout, the one way, the one thing with feet, each finding
    layouts = outline.text.count("Places in layout")
    assert layouts >= 1
    crops = sum(attributes.get("class") == "crop" for _, attributes in outline.tags)
    assert crops >= 1
    assert len(drawings) == 1 + layouts + 1 + 1 + crops
    ids = [attributes["id"] for _, attributes in outline.tags if "id" in attributes]
    assert len(ids) == len(set(ids))
    for attributes in drawings:
        assert attributes["role"] == "img"
        assert set((attributes["aria-labelledby"] or "").split()) <= set(ids)


SQUARE = box(3.0, 2.0, 3.2, 2.1)


@pytest.mark.parametrize(
    ("places", "shown"),
    [
        # 0.2 x 0.1 m with 0.6 m around is 1.4 x 1.3 m: widened to 2.6 x 1.9 m about its middle
        ((SQUARE,), (1.8, 1.1, 4.4, 3.0)),
        # two places 4 m apart: both with 0.6 m around
        ((SQUARE, box(7.0, 3.0, 7.2, 3.1)), (2.4, 1.4, 7.8, 3.7)),
        # in the corner of the plan the window slides inwards and keeps its size
        ((Point(0.0, 0.0),), (-0.2, -0.2, 2.4, 1.7)),
        ((Point(10.0, 5.0),), (7.6, 3.3, 10.2, 5.2)),
        # as large as the plan: no more than the plan
        ((box(0.0, 0.0, 10.0, 5.0),), (-0.2, -0.2, 10.2, 5.2)),
        ((), None),
    ],
)
def test_what_is_shown_of_a_finding(
    places: tuple[BaseGeometry, ...], shown: tuple[float, ...] | None
) -> None:
    note = Note(1, "required", "fails", "in the way", (), places)
    found = crop_bounds(note, (-0.2, -0.2, 10.2, 5.2))
    assert found == (None if shown is None else pytest.approx(shown))


def test_each_finding_is_drawn_with_its_number_and_what_is_there_only(tmp_path: Path) -> None:
    path = tmp_path / "shop.yaml"
    text = SHOP.replace(
        "equipment:\n",
        """equipment:
  left box: {width: 20", depth: 20", height: 30", at: {x: 4", y: 4"}}
  cart: {width: 20", depth: 20", height: 30", at: {x: 14", y: 14"}}
""",
    )
    path.write_text(text, encoding="utf-8")
    assert main(["report", str(path), "-o", str(tmp_path)]) == 1
    page = (tmp_path / "report.html").read_text(encoding="utf-8")
    assert "cleared by" not in page
    items = re.findall(r"<li><strong>.*?</li>", page, flags=re.DOTALL)
    first = next(item for item in items if "left box" in item and "cart" in item)
    assert "Cleared by: shift " in first
    ids = re.findall(r'id="finding-\d+-(label|thing)-([^"]*)"', first)
    # from the wall 102 in to the east and 75 in to the north: up to the saw, not to the bench
    labels = {name.split("-again")[0] for kind, name in ids if kind == "label"}
    assert labels == {"left-box", "cart", "saw"}
    assert len(re.findall(r'id="finding-\d+-finding-\d+"', first)) == 1


def test_nothing_points_outside_and_every_reference_is_there(page: Path, outline: Outline) -> None:
    text = page.read_text(encoding="utf-8")
    ids = {attributes.get("id") for _, attributes in outline.tags}
    for _, attributes in outline.tags:
        for name, value in attributes.items():
            if name in ("href", "src", "xlink:href", "data", "srcset"):
                assert value is not None
                assert value.startswith("#")
    used = set(re.findall(r"url\(#([^)]*)\)", text)) | set(re.findall(r'href="#([^"]*)"', text))
    assert used
    assert used <= ids
    assert not re.search(r"@import|url\((?!#)", text)
    assert "default-src 'none'" in text


def test_the_same_shop_gives_the_same_page(page: Path, tmp_path: Path) -> None:
    path = page.parent / "shop.yaml"
    main(["report", str(path), "-o", str(tmp_path), "--effort", "40", "--show", "2"])
    assert (tmp_path / "report.html").read_bytes() == page.read_bytes()


def luminance(colour: str) -> float:
    """Relative luminance of WCAG 2."""
    digits = colour[1:] if len(colour) == 7 else "".join(2 * c for c in colour[1:])
    parts = [int(digits[i : i + 2], 16) / 255 for i in (0, 2, 4)]
    linear = [p / 12.92 if p <= 0.04045 else ((p + 0.055) / 1.055) ** 2.4 for p in parts]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def test_lettering_has_the_contrast_of_wcag_2(page: Path) -> None:
    style = re.search(r"<style>(.*?)</style>", page.read_text(encoding="utf-8"), re.DOTALL)
    assert style
    colours = re.findall(r"[{; ]color: (#[0-9a-f]+)", style[1])
    assert len(colours) >= 2
    assert all(1.05 / (luminance(colour) + 0.05) >= 4.5 for colour in colours)
    lines = re.findall(r"border[a-z-]*: (?:\dpx solid )?(#[0-9a-f]+)", style[1])
    assert all(1.05 / (luminance(colour) + 0.05) >= 3.0 for colour in lines)


# --- in a browser ---------------------------------------------------------------------------------

BROWSER = shutil.which("chromium-headless-shell") or shutil.which("chromium")
in_browser = pytest.mark.skipif(BROWSER is None, reason="no Chromium is installed here")
PHONE = 360
PROBE = f"""<!DOCTYPE html><link rel="icon" href="data:,"><iframe id="f" src="/report.html"
style="width:{PHONE}px;height:640px;border:0"></iframe><p id="out"></p><script>
document.getElementById("f").onload = function () {{
  const page = this.contentDocument.scrollingElement;
  document.getElementById("out").textContent = "width " + page.scrollWidth;
}};</script>"""


@pytest.fixture
def served(page: Path) -> Iterator[tuple[str, list[str]]]:
    """A local server of the page, and the paths asked of it."""
    asked: list[str] = []

    class Handler(BaseHTTPRequestHandler):
        def do_GET(self) -> None:
            asked.append(self.path)
            pages = {"/probe": PROBE.encode(), "/report.html": page.read_bytes()}
            body = pages.get(self.path, b"")
            self.send_response(200 if body else 404)
            self.send_header("Content-Type", "text/html; charset=utf-8")
            self.end_headers()
            self.wfile.write(body)

        def log_message(self, format: str, *arguments: object) -> None:
            pass

    with ThreadingHTTPServer(("127.0.0.1", 0), Handler) as server:
        threading.Thread(target=server.serve_forever, daemon=True).start()
        yield f"http://127.0.0.1:{server.server_address[1]}", asked
        server.shutdown()


def browse(*arguments: str) -> str:
    assert BROWSER is not None
    done = subprocess.run(
        [BROWSER, "--headless", "--no-sandbox", "--disable-gpu", *arguments],
        capture_output=True, text=True, timeout=90, check=True,
    )  # fmt: skip
    return done.stdout


@in_browser
def test_on_a_phone_it_makes_one_request_and_does_not_scroll_sideways(
    served: tuple[str, list[str]],
) -> None:
    address, asked = served
    shown = browse("--window-size=800,800", "--virtual-time-budget=5000", "--dump-dom",
                   f"{address}/probe")  # fmt: skip
    width = re.search(r"width (\d+)", shown)
    assert width
    assert int(width[1]) <= PHONE
    assert asked == ["/probe", "/report.html"]


@in_browser
def test_it_prints_on_real_paper(page: Path, tmp_path: Path) -> None:
    target = tmp_path / "page.pdf"
    browse(f"--print-to-pdf={target}", "--no-pdf-header-footer", page.as_uri())
    sizes = re.findall(rb"/MediaBox\s*\[\s*0 0 ([\d.]+) ([\d.]+)", target.read_bytes())
    assert 2 <= len(sizes) <= 16
    # Letter or A4, whichever the browser prints on
    assert {(round(float(w)), round(float(h))) for w, h in sizes} <= {(612, 792), (595, 842)}
