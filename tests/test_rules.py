"""The book of rules: every rule whole and sourced, overrides honest, nothing unread cited."""

import re
import subprocess
import sys
from collections.abc import Callable
from dataclasses import FrozenInstanceError, replace
from pathlib import Path

import pytest

from floorplan.rules.book import (
    UNSOURCED,
    Rule,
    RuleBook,
    RuleError,
    citation,
    cite,
    load_rules,
)
from floorplan.rules.cautions import caution_topics, cautions
from floorplan.rules.data import read_rows
from floorplan.rules.overlap import MATRIX, Area, may_overlap
from floorplan.rules.quantity import UNITS, parse_quantity
from floorplan.rules.sources import SourceRow, all_sources
from floorplan.rules.tables import all_tables, table
from floorplan.units import UnitError

IMPERIAL, METRIC = load_rules(False), load_rules(True)
RULES = [*IMPERIAL, *METRIC]
MARKS = {"published", "reproduction", "computed", "from memory", "common practice"}


# --- the data ------------------------------------------------------------------------------


def test_rows_hold_known_keys_only() -> None:
    known = {"id", "value", "unit", "kind", "about", "source", "mark", "edition", "note", "metric"}
    known.add("checked")
    for row in read_rows("rules.yaml"):
        assert set(row) <= known, row["id"]
        assert set(row) >= {"id", "value", "kind", "about", "mark"}, row["id"]
        if isinstance(row.get("metric"), dict):
            assert set(row["metric"]) <= {"value", "source", "mark", "edition", "note"}, row["id"]


def test_ids_are_short_words_with_hyphens_and_never_twice() -> None:
    ids = [row["id"] for row in read_rows("rules.yaml")]
    assert len(set(ids)) == len(ids)
    assert all(part.isalpha() and part.islower() for name in ids for part in name.split("-"))
    assert [rule.id for rule in METRIC] == ids


@pytest.mark.parametrize("rule", RULES, ids=lambda rule: rule.id)
def test_rule_is_whole(rule: Rule) -> None:
    assert rule.kind in {"required", "advised", "constant"}
    assert rule.mark in MARKS
    assert rule.unit in UNITS
    assert rule.about.endswith(".")
    assert rule.about[0].isupper()
    assert bool(rule.source) == (rule.mark not in UNSOURCED)
    assert all(isinstance(text, str) for text in (rule.text, rule.edition, rule.note))
    assert not rule.overridden
    assert not rule.off
    assert citation(rule)


RANGES = {
    "m": (0, 25),
    "m2": (0.1, 500),
    "deg": (1, 180),
    "share": (0.001, 1),
    "count": (1, 10),
    "kg": (1, 60),
    "kg/m3": (300, 1000),
    "dB": (3, 140),
    "m3/s": (0.1, 2),
    "m/s": (7.5, 25),
    "Pa": (1, 100),
    "K": (5, 60),
}
ZEROES = {
    "feed-beside-clear", "outfeed-step-least", "carry-way", "roll-way", "carry-head",
    "feed-support", "feed-support-side",
    "solids-apart", "inside-room", "keep-clear-free", "door-swing", "overhead-leaf", "zone-free",
    "feed-clear", "outfeed-cover", "within-reach", "duct-clear", "duct-strip", "hose-reach",
    "separator-fits", "shed-on-lot", "shed-setback", "shed-separation", "shed-tree", "shed-area",
    "shed-height", "shed-bin-room", "shed-noise", "make-up-air", "make-up-flames",
    "cord-reach", "turned-on-top", "clamp-room",
}  # fmt: skip
"""Gaps where touching is allowed, what may be nothing, and limits that a shop file states."""


@pytest.mark.parametrize("rule", RULES, ids=lambda rule: rule.id)
def test_value_is_of_the_size_of_a_shop(rule: Rule) -> None:
    low, high = RANGES[rule.unit]
    assert low <= rule.value <= high or rule.id in ZEROES
    assert (rule.value == 0) == (rule.id in ZEROES)


def test_metric_value_is_near_the_one_in_inches() -> None:
    """A metric file may ask for another standard's number, not for another kind of number."""
    for inch, metric in zip(IMPERIAL, METRIC, strict=True):
        assert inch.unit == metric.unit
        # Another country's way out is wider, and nobody reads a tape to 1.5875 mm.
        apart = 0.27 if inch.id in {"way-out-width", "tape-height"} else 0.08
        assert metric.value == pytest.approx(inch.value, rel=apart), inch.id


def test_least_is_below_most() -> None:
    for book in (IMPERIAL, METRIC):
        for rule in book:
            if rule.id.endswith("-least"):
                assert rule.value < book.value(rule.id.removesuffix("least") + "most")


NEEDED = """
way-out-width way-out-height way-out-good-width exit-door-width panel-depth panel-width
panel-height panel-dedicated-height appliance-depth appliance-width stair-width stair-headroom
stair-landing-depth door-landing garage-ignition-height take-off-table work-area
work-area-least-side bench-aisle walkway machine-spacing benches-back-to-back benches-behind
feed-standing-room feed-push-through feed-beside-clear kickback-width outfeed-step-least
outfeed-step-most outfeed-gap-most drawer-stand break-down-room person-height standing-depth
standing-width reach-across elbow-height bench-light-work-least bench-light-work-most
bench-heavy-work-least bench-heavy-work-most drawer-open-share storage-below-ceiling
extinguisher-travel lift-load-constant lift-men lift-women push-start-men push-keep-women
density-mdf density-softwood-plywood overhead-track-extra overhead-headroom overhead-side-room
door-clear-less head-room shed-permit-area setback-wall setback-no-openings
setback-openings-free voltage-drop-branch noise-watch rank-step-walking rank-step-floor
rank-step-margin rank-step-moved layouts-differ layouts-differ-turned tape-plan tape-height
"""


@pytest.mark.parametrize("rule_id", NEEDED.split())
def test_ids_that_other_rooms_ask_for_exist(rule_id: str) -> None:
    assert rule_id in IMPERIAL
    assert rule_id in METRIC


# --- citing --------------------------------------------------------------------------------


def uncited_slips(cite_rule: Callable[[Rule], str], rules: list[Rule]) -> list[str]:
    """Ids of rules without a source that was read, yet printed as if they had one."""
    honest = {
        "from memory": "from memory, not verified",
        "common practice": "common practice, no source",
    }
    return [r.id for r in rules if r.mark in honest and cite_rule(r) != honest[r.mark]]


REMEMBERED = replace(
    IMPERIAL["way-out-width"], id="remembered", source="Some Code 7.3.4.1", mark="from memory"
)


def test_value_from_memory_is_never_printed_as_a_citation() -> None:
    assert {"from memory", "common practice"} <= {rule.mark for rule in RULES}
    assert uncited_slips(citation, [*RULES, REMEMBERED]) == []


def test_the_check_on_citations_can_fail() -> None:
    assert uncited_slips(lambda rule: rule.source, [REMEMBERED]) == ["remembered"]
    as_published = replace(REMEMBERED, mark="published")
    assert uncited_slips(lambda _: citation(as_published), [REMEMBERED]) == ["remembered"]


def test_citation_tells_how_the_source_was_read() -> None:
    assert citation(IMPERIAL["machine-spacing"]) == "Quebec S-2.1, r. 13, section 16(3)"
    assert citation(IMPERIAL["way-out-width"]).endswith("1910.36(g)(2), read in a reproduction")
    assert citation(IMPERIAL["reach-across"]).startswith("computed from ANSUR II")
    assert "(2009)" in citation(IMPERIAL["setback-wall"])


def test_published_value_without_source_cannot_be_cited() -> None:
    with pytest.raises(RuleError, match="needs a source"):
        cite(mark="published", source="")


# --- overriding ----------------------------------------------------------------------------


def test_users_value_loses_the_published_source() -> None:
    book = IMPERIAL.with_override("way-out-width", value="24 in", line=7)
    rule = book["way-out-width"]
    assert rule.value == pytest.approx(0.6096)
    assert rule.source == ""
    assert citation(rule) == "set in the shop file, line 7 (default 28 in)"
    assert book.changed == (rule,)
    assert IMPERIAL.changed == ()
    assert IMPERIAL["way-out-width"].source


def test_users_value_equal_to_the_default_keeps_the_source() -> None:
    rule = IMPERIAL.with_override("way-out-width", value="711.2 mm")["way-out-width"]
    assert not rule.overridden
    assert rule.source == IMPERIAL["way-out-width"].source


def test_second_override_wins_and_still_names_the_default() -> None:
    book = IMPERIAL.with_override("walkway", value="24 in").with_override("walkway", value="30 in")
    assert book["walkway"].default == "36 in"
    assert book.with_override("walkway", value="36 in") == IMPERIAL


def test_kind_and_off() -> None:
    book = METRIC.with_override("walkway", kind="required").with_override("drawer-stand", off=True)
    assert book["walkway"].kind == "required"
    assert book["walkway"].source == METRIC["walkway"].source
    assert book["drawer-stand"].off
    assert [rule.id for rule in book.changed] == ["walkway", "drawer-stand"]
    assert len(book) == len(METRIC)


def test_bare_length_takes_the_files_unit() -> None:
    book = METRIC.with_override("walkway", value="800", default_unit="mm")
    assert book.value("walkway") == pytest.approx(0.8)
    with pytest.raises(RuleError, match="walkway"):
        METRIC.with_override("walkway", value="800")


@pytest.mark.parametrize(
    ("rule_id", "change", "complaint"),
    [
        ("way-out-with", {"value": "24 in"}, "did you mean `way-out-width`"),
        ("zzzz", {"off": True}, "there is no rule `zzzz`$"),
        ("walkway", {"value": "3 %"}, "walkway"),
        ("walkway", {"value": "-3 in"}, "walkway"),
        ("shed-permit-area", {"value": "2 m"}, "sq ft"),
        ("drawer-open-share", {"value": "150 %"}, "cannot be 150 %"),
        ("drawer-open-share", {"value": "0.8"}, "25 %"),
        ("walkway", {"kind": "wanted"}, "neither required nor advised"),
        ("tape-plan", {"off": True}, "only its value"),
        ("tape-plan", {"kind": "advised"}, "only its value"),
    ],
)
def test_refused_overrides(rule_id: str, change: dict[str, object], complaint: str) -> None:
    with pytest.raises(RuleError, match=complaint):
        IMPERIAL.with_override(rule_id, **change)  # type: ignore[arg-type]


def test_book_does_not_change() -> None:
    with pytest.raises(FrozenInstanceError):
        IMPERIAL.metric = True  # type: ignore[misc]
    assert load_rules(False) is IMPERIAL
    assert RuleBook(IMPERIAL.rules, False) == IMPERIAL


# --- quantities ----------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("text", "unit", "value"),
    [
        ("28 in", "m", 0.7112),
        ("200 sq ft", "m2", 18.580608),  # 200 x 0.3048^2
        ("1.5 m2", "m2", 1.5),
        ("144 sq in", "m2", 0.09290304),
        ("25 %", "share", 0.25),
        ("2/3", "share", 2 / 3),
        ("51 lb", "kg", 23.13321087),  # 51 x 0.45359237
        ("90 dBA", "dB", 90),
        ("1.5 h", "s", 5400),
        ("3600 m3/h", "m3/s", 1),
        ("1.98 ohm/1000 ft", "ohm/m", 1.98 / 304.8),
        ("90 deg", "deg", 90),
    ],
)
def test_quantity(text: str, unit: str, value: float) -> None:
    assert parse_quantity(text, unit) == pytest.approx(value, rel=1e-12)


@pytest.mark.parametrize(
    ("text", "unit"),
    [("1 m", "m2"), ("m2", "m2"), ("", "m2"), ("x %", "share"), ("1/0", "share"), ("9 kg", "dB")],
)
def test_wrong_quantity_is_refused(text: str, unit: str) -> None:
    with pytest.raises(UnitError):
        parse_quantity(text, unit)


# --- tables, cautions, overlap, sources -----------------------------------------------------


def test_tables_are_sourced_and_even() -> None:
    for each in all_tables():
        assert each.source
        assert each.mark in MARKS - set(UNSOURCED)
        assert len({len(column.values) for column in each.columns}) == 1
        assert all(column.unit in UNITS for column in each.columns)
    with pytest.raises(RuleError, match="noise-hours"):
        table("noise-hour")
    with pytest.raises(RuleError, match="level"):
        table("noise-hours")["levels"]


def test_caution_that_always_stands_comes_first_and_alone() -> None:
    (always,) = cautions()
    assert "not an approval" in always
    assert "decide" in always
    everything = cautions(*caution_topics())
    assert everything[0] == always
    assert len(set(everything)) == len(everything) == len(read_rows("cautions.yaml"))
    assert cautions("saw", "panel") == cautions("panel", "saw", "panel")
    assert len(cautions("panel")) == 3


def test_cautions_on_every_danger_of_the_trade() -> None:
    wanted = {"panel", "saw", "sheet", "dust", "cords", "flames", "shed", "noise", "way out"}
    assert wanted <= set(caution_topics())
    with pytest.raises(RuleError, match="did you mean `panel`"):
        cautions("panels")


def test_overlap_does_not_depend_on_order() -> None:
    for first in Area:
        for second in Area:
            for same in (True, False):
                assert may_overlap(first, second, same) == may_overlap(second, first, same)


def test_second_person_never_makes_an_overlap_possible() -> None:
    assert len(MATRIX) == 21
    assert all(cell.same_person or not cell.two_people for cell in MATRIX.values())


def test_sources_list_everything_once() -> None:
    extra = SourceRow("air-density", "1.2 kg/m3", "kg/m3", "constant", "Air.", "", "from memory")
    rows = all_sources([extra])
    ids = [row.id for row in rows]
    assert len(set(ids)) == len(ids)
    assert {rule.id for rule in IMPERIAL} | {each.id for each in all_tables()} <= set(ids)
    assert rows[-1].ground == "from memory, not verified"
    assert all(row.value and row.about and row.ground for row in rows)
    assert sum("metric file" in name for name in ids) == sum(
        inch != metric for inch, metric in zip(IMPERIAL, METRIC, strict=True)
    )


def test_rules_need_no_heavy_library() -> None:
    script = (
        "import sys; import floorplan.rules.sources as s; s.all_sources();"
        "print(sorted({'numpy', 'scipy', 'shapely', 'matplotlib'} & set(sys.modules)))"
    )
    done = subprocess.run(
        [sys.executable, "-c", script], capture_output=True, text=True, check=True
    )
    assert done.stdout.strip() == "[]"


# --- what is checked -----------------------------------------------------------------------


def _texts() -> str:
    """All code and the catalogue, which names the rules it takes sizes from."""
    import floorplan

    root = Path(floorplan.__file__).parent
    files = [*root.rglob("*.py"), root / "shop" / "catalogue.yaml"]
    return "\n".join(path.read_text(encoding="utf-8") for path in files)


def test_every_rule_is_used_or_says_that_nothing_is_checked_by_it() -> None:
    text = _texts()
    for rule in IMPERIAL:
        named = re.search(rf"(?<![\w-]){re.escape(rule.id)}(?![\w-])", text) is not None
        assert named == rule.checked, rule.id


def test_a_yardstick_that_nothing_checks_cannot_be_changed() -> None:
    with pytest.raises(RuleError, match="nothing is checked by it"):
        IMPERIAL.with_override("garage-ignition-height", value="20 in")
