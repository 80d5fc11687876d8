"""Writing values back: nothing but the asked places changes, and the file is never half written."""

from __future__ import annotations

import difflib
import os
from pathlib import Path

import pytest
import yaml
from hypothesis import given, settings
from hypothesis import strategies as st

from floorplan.shop import syntax
from floorplan.shop.edit import EditError, replace_values, write_beside_then_replace
from floorplan.shop.nodes import ShopFileError

LOADERS = [yaml.SafeLoader]
if yaml.__with_libyaml__:
    LOADERS.append(yaml.CSafeLoader)

SHOP = """\
# my shop, é 木 😀
shop: "the shop"   # quoted
equipment:
  table saw:
    width: 27"   # measured

    at: {x: 1', y: "2'", turn: 0}  # today
  my saw.v2:
    notes: |
      a
      b

  bench:   # not placed yet
  rack: {}
  cart: {x: 1,  # one
         y: 2,  # two
  }
  parts:
  - x: 1
    # below
  - {a: 1}
# end
tape: 0
"""


@pytest.fixture(params=LOADERS, ids=lambda loader: loader.__name__, autouse=True)
def each_loader(request: pytest.FixtureRequest, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(syntax, "Loader", request.param)


def changed_lines(before: str, after: str) -> list[str]:
    rows = difflib.ndiff(before.splitlines(), after.splitlines())
    return [row for row in rows if row[0] in "+-"]


CHANGES = [
    (("equipment", "table saw", "width"), '31-1/4"', '    width: 31-1/4"   # measured'),
    (
        ("equipment", "table saw", "at", "x"),
        "7' 4-1/2\"",
        '    at: {x: 7\' 4-1/2", y: "2\'", turn: 0}  # today',
    ),
    (("equipment", "table saw", "at", "y"), "3'", "    at: {x: 1', y: 3', turn: 0}  # today"),
    (
        ("equipment", "table saw", "at", "z"),
        '-3"',
        '    at: {x: 1\', y: "2\'", turn: 0, z: -3"}  # today',
    ),
    (("equipment", "table saw", "height"), "34 in", "    height: 34 in"),
    (("equipment", "my saw.v2", "at", "x"), "3'", "    at: {x: 3'}"),
    (("equipment", "my saw.v2", "at"), {"x": "3'", "turn": "90"}, "    at: {x: 3', turn: 90}"),
    (("equipment", "bench", "at", "x"), "1", "  bench: {at: {x: 1}}   # not placed yet"),
    (("equipment", "rack", "at", "x"), "1, 2", "  rack: {at: {x: '1, 2'}}"),
    (("equipment", "cart", "z"), "3", "         y: 2, z: 3  # two"),
    (("equipment", "parts", 0, "y"), "it's: #1", "    y: 'it''s: #1'"),
    (("equipment", "parts", 1, "b"), "5", "  - {a: 1, b: 5}"),
    (("units",), "in", "units: in"),
    (("tape",), '1/8"', 'tape: 1/8"'),
    (("shop",), "no: quotes", "shop: 'no: quotes'   # quoted"),
    (("equipment", "new one", "at", "x"), "2'", "  new one: {at: {x: 2'}}"),
    (("a: b", "c"), "", "'a: b': {c: ''}"),
]


@pytest.mark.parametrize("newline", ["\n", "\r\n"])
@pytest.mark.parametrize("mark", ["", "\ufeff"])
@pytest.mark.parametrize(("keys", "value", "line"), CHANGES)
def test_one_change_touches_one_line(
    keys: tuple[str | int, ...], value: object, line: str, newline: str, mark: str
) -> None:
    before = mark + SHOP.replace("\n", newline)
    after = replace_values(before, {keys: value})  # type: ignore[dict-item]
    added = [row[2:] for row in changed_lines(before, after) if row[0] == "+"]
    removed = [row for row in changed_lines(before, after) if row[0] == "-"]
    assert added == [line]
    assert len(removed) <= 1
    assert after.count("\n") == after.count(newline)
    assert after.startswith(mark + "# my shop")


def test_many_changes_at_once_equal_one_after_another() -> None:
    changes = {
        keys: value for keys, value, _ in CHANGES if keys != ("equipment", "my saw.v2", "at")
    }
    step_by_step = SHOP
    for keys, value in changes.items():
        step_by_step = replace_values(step_by_step, {keys: value})  # type: ignore[dict-item]
    assert replace_values(SHOP, changes) == step_by_step  # type: ignore[arg-type]


def test_no_change_is_no_change() -> None:
    assert replace_values(SHOP, {}) == SHOP
    same = replace_values(SHOP, {("equipment", "table saw", "width"): '27"'})
    assert same == SHOP


def test_file_without_last_line_end() -> None:
    assert replace_values("a: 1", {("b",): "2"}) == "a: 1\nb: 2"
    assert replace_values("a:", {("a", "b"): "2"}) == "a: {b: 2}"
    assert replace_values("{a: 1}", {("b", "c"): "2"}) == "{a: 1, b: {c: 2}}"


def test_named_values_replace_a_whole_block() -> None:
    text = "saw:\n  at:\n    x: 1\n    y: 2\n  h: 3\n"
    assert replace_values(text, {("saw", "at"): {"x": "5"}}) == "saw:\n  at:\n    {x: 5}\n  h: 3\n"


@pytest.mark.parametrize(
    ("keys", "value"),
    [
        ((), "1"),
        (("equipment",), "1"),
        (("tape", "x"), "1"),
        (("equipment", "parts", 7, "x"), "1"),
        (("equipment", 0), "1"),
        (("tape",), "two\nlines"),
        (("tape",), "bell\x07"),
        (("new", 0), "1"),
    ],
)
def test_what_cannot_be_set_is_refused(keys: tuple[str | int, ...], value: str) -> None:
    with pytest.raises(EditError):
        replace_values(SHOP, {keys: value})


def test_a_change_that_would_reach_further_is_refused() -> None:
    # The blank lines kept by `|+` belong to the value; a new entry would take them away.
    with pytest.raises(EditError, match="alter other values"):
        replace_values("a:\n  b: |+\n    c\n\n\n", {("a", "d"): "1"})


def test_a_broken_file_is_refused() -> None:
    with pytest.raises(ShopFileError):
        replace_values("a: 1\na: 2\n", {("a",): "3"})


@settings(deadline=None)
@given(
    st.text(st.characters(blacklist_categories=("C", "Zl", "Zp", "Zs")) | st.just(" "), max_size=20)
)
def test_any_line_of_text_is_read_back(text: str) -> None:
    for keys in (("tape",), ("equipment", "table saw", "at", "x"), ("equipment", "bench", "n")):
        after = replace_values(SHOP, {keys: text})
        node = yaml.load(after, Loader=yaml.BaseLoader)
        for key in keys:
            node = node[key]
        assert node == text


# --- the file --------------------------------------------------------------------------------


def test_replaces_a_file_and_keeps_its_mode(tmp_path: Path) -> None:
    file = tmp_path / "shop.yaml"
    file.write_bytes(b"old")
    file.chmod(0o640)
    write_beside_then_replace(file, "new é\r\n")
    assert file.read_bytes() == "new é\r\n".encode()
    assert file.stat().st_mode & 0o777 == 0o640
    assert os.listdir(tmp_path) == ["shop.yaml"]


def test_writes_a_new_file_and_through_a_link(tmp_path: Path) -> None:
    file, link = tmp_path / "shop.yaml", tmp_path / "link.yaml"
    write_beside_then_replace(file, b"one")
    link.symlink_to(file)
    write_beside_then_replace(link, b"two")
    assert file.read_bytes() == b"two"
    assert link.is_symlink()


@pytest.mark.parametrize("step", ["fsync", "replace", "interrupted"])
def test_on_any_error_the_old_file_stays(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, step: str
) -> None:
    file = tmp_path / "shop.yaml"
    file.write_bytes(b"old")
    error = KeyboardInterrupt if step == "interrupted" else OSError

    def fail(*_: object) -> None:
        raise error("no room left")

    if step == "replace":
        monkeypatch.setattr(Path, "replace", fail)
    else:
        monkeypatch.setattr(os, "fsync", fail)
    with pytest.raises(error):
        write_beside_then_replace(file, b"new")
    assert file.read_bytes() == b"old"
    assert os.listdir(tmp_path) == ["shop.yaml"]
