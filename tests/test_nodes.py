"""Reading a shop file as nodes: places, faults, limits, and the traps of YAML 1.1."""

from __future__ import annotations

import codecs
from fractions import Fraction

import pytest
import yaml
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from floorplan.shop import syntax
from floorplan.shop.nodes import Faults, Mapping, Node, Scalar, ShopFileError, compose

INCH = Fraction(254, 10_000)
LOADERS = [yaml.SafeLoader]
if yaml.__with_libyaml__:
    LOADERS.append(yaml.CSafeLoader)


@pytest.fixture(params=LOADERS, ids=lambda loader: loader.__name__, autouse=True)
def each_loader(request: pytest.FixtureRequest, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(syntax, "Loader", request.param)


def faults_of(text: str | bytes) -> list[tuple[int, int, str, str]]:
    with pytest.raises(ShopFileError) as found:
        compose(text, "shop.yaml").faults.raise_if_any()
    return [(f.line, f.column, f.message, f.fix) for f in found.value.faults]


def value(text: str) -> Node:
    node = compose(f"value: {text}", "shop.yaml").get("value")
    assert node is not None
    return node


def told(node: Node) -> tuple[int, int, str]:
    (fault,) = node.faults.error().faults
    return fault.line, fault.column, fault.message


# --- places ----------------------------------------------------------------------------------

SHOP = """\
# a shop
shop: my shop
equipment:
  table saw: {width: 27", at: {x: 7' 4-1/2", y: 3'}}
  bench.v2:
    drawers:
    - width: 20"
    - {width: 24"}
"""


def leaves(node: Node) -> list[Scalar]:
    if isinstance(node, Mapping):
        return [leaf for _, inner in node.items() for leaf in leaves(inner)]
    if isinstance(node, Scalar):
        return [node]
    return [leaf for item in node.sequence() or () for leaf in leaves(item)]


@pytest.mark.parametrize("newline", ["\n", "\r\n", "\r"])
@pytest.mark.parametrize("accents", ["", "é", "木工", "😀"])
def test_every_leaf_knows_its_place(newline: str, accents: str) -> None:
    text = SHOP.replace("my shop", f"my {accents} shop").replace("\n", newline)
    top = compose(text, "shop.yaml")
    lines = text.split(newline)
    found = leaves(top)
    assert [leaf.path for leaf in found] == [
        "shop",
        "equipment.table saw.width",
        "equipment.table saw.at.x",
        "equipment.table saw.at.y",
        "equipment.bench.v2.drawers#1.width",
        "equipment.bench.v2.drawers#2.width",
    ]
    assert found[4].keys == ("equipment", "bench.v2", "drawers", 0, "width")
    for leaf in found:
        assert text[leaf.start : leaf.end] == leaf.value
        assert lines[leaf.line - 1][leaf.column - 1 :].startswith(leaf.value)


@pytest.mark.parametrize(
    "data",
    [
        SHOP.encode(),
        codecs.BOM_UTF8 + SHOP.encode(),
        codecs.BOM_UTF16_LE + SHOP.encode("utf-16-le"),
        codecs.BOM_UTF16_BE + SHOP.encode("utf-16-be"),
    ],
    ids=["plain", "mark", "little", "big"],
)
def test_encodings_read_alike(data: bytes) -> None:
    plain = leaves(compose(SHOP, "shop.yaml"))
    assert [(n.line, n.column, n.start, n.value) for n in leaves(compose(data, "shop.yaml"))] == [
        (n.line, n.column, n.start, n.value) for n in plain
    ]


def test_not_utf8_is_told_in_place() -> None:
    ((line, column, message, fix),) = faults_of(b"shop: a\nname: caf" + b"\xe9\n")
    assert (line, column) == (2, 10)
    assert "UTF-8" in message
    assert "UTF-8" in fix


# --- faults of the syntax --------------------------------------------------------------------

BROKEN = [
    # text, line, column, part of the message, part of the fix
    ("a:\n\tx: 1\n", 2, 1, "tab", "blanks"),
    ("a: 1\n\tb: 2\n", 2, 1, "tab", "blanks"),
    ("a: @b\n", 1, 4, "cannot begin", "single quotes"),
    ("a: `b`\n", 1, 4, "cannot begin", "single quotes"),
    ("a: *\n", 1, 4, "cannot begin", "single quotes"),
    ("a: b: c\n", 1, 5, "second `:`", "line of its own"),
    ('x: "7\' 4-1/2""\ny: 3\n', 1, 4, "after the closing quote", "without quotes"),
    ('x: "7\' 4-1/2""\ny: 3\nz: "3""\n', 1, 4, "after the closing quote", "without quotes"),
    ("x: '4'-1\"'\ny: 3\n", 1, 4, "after the closing quote", "without quotes"),
    ('at: {x: "3\' 4"", y: 2}\nb: 2\n', 1, 9, "after the closing quote", "without quotes"),
    ('a: "abc\nb: 2\n', 1, 4, "not closed", "without quotes"),
    ('a: "x\\q"\n', 1, 4, "double quotes", "without quotes"),
    ("a: [1, 2\nb: 3\n", 1, 4, "bracket", "`[a, b]`"),
    ("a: {x: 1\nb: 3\n", 1, 4, "bracket", "`[a, b]`"),
    ("a: [1, @\t]\n", 1, 8, "cannot begin", "single quotes"),
    ("a: {\n", 1, 5, "ends too early", "bracket"),
    ("a: [1,\n\n", 1, 7, "ends too early", "bracket"),
    ("a: ? b\n", 1, 4, "cannot begin", "single quotes"),
    ("a: {x: 1}}\n", 1, 10, "does not fit", "stray bracket"),
    ("a: 1\nbcd\ne: 2\n", 2, 1, "without `:`", "name: value"),
    ("a:\n    b: 1\n  c: 2\n", 3, 3, "does not fit", "indent"),
    ("a: - b\n", 1, 4, "list cannot begin", "line of its own"),
    ("%YAML 3.0\n---\na: 1\n", 1, 1, "directives", "leave it out"),
    ("a: 1\n---\nb: 2\n", 2, 1, "second document", "one shop a file"),
    ("a: \x07b\n", 1, 4, "U+0007", "delete"),
    ("a: b\nc: \x00\n", 2, 4, "U+0000", "delete"),
    ("a: \ud800\n", 1, 4, "U+D800", "delete"),
    ("", 1, 1, "empty", "floorplan start shop.yaml"),
    ("# only\n\n# comments\n", 1, 1, "empty", "floorplan start shop.yaml"),
    ("- a\n- b\n", 1, 1, "named values", "shop:"),
    ("abc\n", 1, 1, "named values", "shop:"),
    ("? [a]\n: b\n", 1, 3, "name of one line", ""),
    ("{{b: 1}: 2}\n", 1, 2, "name of one line", ""),
]


@pytest.mark.parametrize(("text", "line", "column", "message", "fix"), BROKEN)
def test_broken_files_are_told_in_place(
    text: str, line: int, column: int, message: str, fix: str
) -> None:
    found = faults_of(text)
    assert len(found) == 1
    assert message in found[0][2]
    assert fix in found[0][3]
    assert found[0][:2] == (line, column)


@pytest.mark.parametrize("opening", ["[", "{a: ", "- ", "? "])
def test_deep_nesting_is_refused(opening: str) -> None:
    ((line, _, message, _),) = faults_of(opening * 5000)
    assert line == 1
    assert "nested more than 20 deep" in message
    assert "nested more than 20 deep" in faults_of("a: " + "[" * 20 + "]" * 20)[0][2]
    assert compose("a: " + "[" * 19 + "]" * 19, "shop.yaml").get("a") is not None


def test_size_and_count_are_limited() -> None:
    assert "larger" in faults_of("a: " + "x" * 1_000_000)[0][2]
    assert "larger" in faults_of("a: " + "é" * 500_000)[0][2]
    assert "larger" in faults_of("# " + "x" * 1_000_000)[0][2]
    assert "50000 entries" in faults_of("a: [" + "1," * 50_000 + "]")[0][2]


@settings(deadline=None)
@given(st.text("ab:-[]{}'\"#&*!|>%@`,? \n\t\r", max_size=40) | st.text(max_size=40))
def test_any_text_is_read_or_refused(text: str) -> None:
    try:
        compose(text, "shop.yaml").faults.raise_if_any()
    except ShopFileError as error:
        lines = len(text.splitlines()) + 1
        is_told = bool(str(error)) and all(1 <= f.line <= lines for f in error.faults)
    else:
        is_told = True
    assert is_told


@given(st.text("ab:-[]{}'\"#&*!|>,? \n", max_size=20))
@settings(deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
def test_both_loaders_read_alike_what_both_read(text: str) -> None:
    trees = []
    for loader in LOADERS:
        with pytest.MonkeyPatch.context() as patch:
            patch.setattr(syntax, "Loader", loader)
            try:
                top = compose(text, "shop.yaml")
                top.faults.raise_if_any()
            except ShopFileError:
                continue
        trees.append([(leaf.keys, leaf.value, leaf.start) for leaf in leaves(top)])
    assert trees[:1] == trees[1:] or len(trees) < 2


def test_both_loaders_build_the_same_tree(monkeypatch: pytest.MonkeyPatch) -> None:
    text = SHOP + "x:\ny: |\n  a\n\nz: 'it''s'\nw: >-\n  b\n  c\n"
    trees = []
    for loader in LOADERS:
        monkeypatch.setattr(syntax, "Loader", loader)
        found = leaves(compose(text, "shop.yaml"))
        trees.append([(n.keys, n.value, n.quote, n.line, n.column, n.start) for n in found])
    assert trees[0] == trees[-1]


# --- what YAML has and a shop file has not ---------------------------------------------------


def test_duplicate_names_tell_the_first_line() -> None:
    found = faults_of("a: 1\nb: {c: 1, c: 2}\na: 3\n")
    assert [row[:2] for row in found] == [(2, 11), (3, 1)]
    assert "first in line 2" in found[0][2]
    assert "first in line 1" in found[1][2]


def test_anchors_aliases_merge_keys_and_tags_are_all_told() -> None:
    text = "a: &x 1\nb: *x\nc: {<<: *x}\nd: !!str e\nf: ! g\n"
    found = faults_of(text)
    assert [(line, column) for line, column, *_ in found] == [
        (1, 4),
        (2, 4),
        (3, 5),
        (3, 9),
        (4, 4),
        (5, 4),
    ]
    words = ("anchors", "aliases", "merge keys", "aliases", "tags", "tags")
    assert all(word in row[2] for word, row in zip(words, found, strict=True))


def test_a_node_that_contains_itself_is_refused() -> None:
    assert len(faults_of("a: &x [*x]\n")) == 2


def test_an_alias_is_told_once() -> None:
    top = compose("a: &x 1\nb: *x\n", "shop.yaml")
    inner = top.get("b")
    assert inner is not None
    assert inner.length() is None
    assert inner.mapping() is None
    assert len(top.faults) == 2


# --- typed readers ---------------------------------------------------------------------------


@pytest.mark.parametrize(
    "raw", ["12:30", "010", "0x1F", "1_000", "yes", "null", "~", "2024-01-01", "1e3"]
)
def test_scalars_stay_text(raw: str) -> None:
    assert value(raw).text() == raw
    assert value(raw).name() == raw
    node = value(raw)
    assert node.length() is None
    line, column, _ = told(node)
    assert (line, column >= 8) == (1, True)


def test_keys_stay_text() -> None:
    top = compose("no: 1\n12: 2\n12:30: 3\nmy saw: 4\n'x y': 5\n~: 6\n", "shop.yaml")
    assert [key for key, _ in top.items()] == ["no", "12", "12:30", "my saw", "x y", "~"]
    assert top.get("no") is not None
    assert top.get("False") is None


def test_lengths_need_no_quotes() -> None:
    assert value("7' 4-1/2\"").length() == (Fraction(177, 2) * INCH, None)
    assert value('7\' 4" +- 1/16"').length() == (88 * INCH, INCH / 16)
    assert value("34").length("in") == (34 * INCH, None)
    assert value("-3 in").length(signed=True) == (-3 * INCH, None)
    top = compose('a: [4\', 3"]\nb: {w: 4\' 6", d: 24"}\n', "shop.yaml")
    assert [leaf.length() for leaf in leaves(top)] == [
        (48 * INCH, None),
        (36 * INCH / 12, None),
        (54 * INCH, None),
        (24 * INCH, None),
    ]


def test_a_wrong_length_is_told_at_the_character() -> None:
    for text, column in [("6'4", 10), ('"3 inc"', 11), ("'3 inc'", 11), ("12:30", 10)]:
        node = value(text)
        assert node.length() is None
        assert told(node)[:2] == (1, column)


def test_limits_of_lengths() -> None:
    assert value('36"').length(least=0.9144, most=0.9144) is not None
    assert value("0").length() == (0, None)
    for text, limits in [('35.99"', {"least": 0.9144}), ("3' 1/64\"", {"most": 0.9144})]:
        node = value(text)
        assert node.length(**limits) is None
        assert "3' (914.4 mm)" in told(node)[2]
    node = value("0 in")
    assert node.length(positive=True) is None
    assert "more than 0" in told(node)[2]


def test_numbers_and_the_like() -> None:
    assert value("012").integer() == 12
    assert value("2.5").number() == 2.5
    assert value("45°").angle() == 45
    assert value("100 lb").mass() == pytest.approx(45.359237)
    assert value("40 lb/ft3").density() == pytest.approx(640.7385, rel=1e-6)
    assert value("2 h").duration() == 7200
    assert value("No").yes_no() is False
    assert value("true").yes_no() is True


@pytest.mark.parametrize(
    ("text", "reader", "part"),
    [
        (".nan", "number", "real number"),
        (".inf", "length", "real number"),
        ("-.inf", "number", "real number"),
        ("nan", "mass", "real number"),
        ("1.5", "integer", "not a whole number"),
        ("1_000", "integer", "not a whole number"),
        ("9" * 5000, "integer", "not a whole number"),
        ("maybe", "yes_no", "neither"),
        ("400", "angle", "360"),
        ("[a]", "text", "a list"),
        ("{a: 1}", "length", "named values"),
        ("a", "sequence", "a single value"),
        ("a", "mapping", "a single value"),
        ("[a]", "mapping", "a list"),
        ("", "length", "nothing stands after `value:`"),
        ("", "mapping", "nothing stands after `value:`"),
        ("'  '", "text", "not blanks"),
        ("[a, ]", "number", "a list"),
        ("|\n  a\n  b\n", "name", "in one line"),
        ("x" * 81, "name", "80 characters"),
    ],
)
def test_wrong_values_are_told_once_and_never_raise(text: str, reader: str, part: str) -> None:
    node = value(text)
    assert getattr(node, reader)() is None
    assert part in told(node)[2]


def test_two_lines_make_no_name() -> None:
    assert value("a\n  b").name() == "a b"  # YAML folds the line break of a plain text
    assert value("  my   saw ").name() == "my saw"


def test_choices() -> None:
    options = ("north west", "south-west")
    assert value("north west").choice(options) == "north west"
    assert value("South_West").choice(options) == "south-west"
    node = value("sout-west")
    assert node.choice(options) is None
    (fault,) = node.faults.error().faults
    assert fault.fix == "did you mean `south-west`?"


def test_limits_of_numbers() -> None:
    assert value("3").integer(1, 3) == 3
    for text in ("0", "4"):
        node = value(text)
        assert node.integer(1, 3) is None
        assert "at " in told(node)[2]


def test_strings() -> None:
    assert value("a").strings() == ("a",)
    assert value("[a, 'b c', no]").strings() == ("a", "b c", "no")
    node = value("[a, [b]]")
    assert node.strings() is None
    assert told(node)[:2] == (1, 12)
    empty = compose("value:\n- a\n-\n", "shop.yaml").get("value")
    assert empty is not None
    assert empty.strings() is None
    assert told(empty)[:1] == (3,)


def test_unknown_keys_name_the_nearest() -> None:
    top = compose("hieght: 1\nclear width: 2\ndoor: 3\nzzz: 4\nrobots: 5\nwidth: 6\n", "shop.yaml")
    top.check_keys(["height", "clear_width", "doors", "width"], {"robots": "not checked yet"})
    found = top.faults.error().faults
    assert [(f.line, f.column) for f in found] == [(1, 1), (2, 1), (3, 1), (4, 1), (5, 1)]
    assert [f.fix for f in found[:3]] == [
        "did you mean `height`?",
        "did you mean `clear_width`?",
        "did you mean `doors`?",
    ]
    assert found[3].fix == "known here: height, clear_width, doors, width"
    assert found[4].message == "not checked yet"


def test_missing_keys_are_told_at_their_owner() -> None:
    top = compose("a: 1\nsaw:\n  x: 1\n", "shop.yaml")
    saw = top.get("saw")
    assert saw is not None
    mapping = saw.mapping()
    assert mapping is not None
    assert mapping.require("x") is not None
    assert mapping.require("width") is None
    assert top.require("room") is None
    assert [(f.line, f.column) for f in top.faults.error().faults] == [(1, 1), (2, 1)]


# --- how faults are shown --------------------------------------------------------------------


def test_all_faults_are_shown_in_order_with_source_and_caret() -> None:
    top = compose("shop: é木 x\nroom: {width: 6'4, depth: 1e3 mm}\n", "shop.yaml")
    for leaf in reversed(leaves(top)[1:]):
        assert leaf.length() is None
    top.check_keys(["room"])
    assert str(top.faults.error()) == (
        "shop.yaml:1:1: `shop` is not known here\n"
        "  shop: é木 x\n"
        "  ^^^^\n"
        "  fix: known here: room\n"
        "shop.yaml:2:17: the last number has no unit; `6' 4\"` would be right\n"
        "  room: {width: 6'4, depth: 1e3 mm}\n"
        "                  ^\n"
        "shop.yaml:2:28: `1e3 mm` is not a length: write the number out, without a power of ten\n"
        "  room: {width: 6'4, depth: 1e3 mm}\n"
        "                             ^^^^^"
    )


def test_carets_stand_under_wide_and_tabbed_text() -> None:
    faults = Faults("shop.yaml", "木\tx: y\n" + "z" * 300)
    faults.add_at(1, 3, "here", text="x")
    faults.add_at(2, 200, "there", text="z")
    shown = str(faults.error()).split("\n")
    assert shown[1:3] == ["  木\tx: y", "    \t^"]
    assert len(shown[4]) == 102
    assert shown[5] == " " * 52 + "^"


def test_the_same_fault_is_kept_once_and_many_are_cut() -> None:
    faults = Faults("shop.yaml", "a")
    for number in range(120):
        faults.add_at(number // 2 + 1, 1, "again")
    assert len(faults) == 60
    assert str(faults.error()).endswith("and 10 more faults")
