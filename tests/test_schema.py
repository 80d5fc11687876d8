"""The schema for editors agrees with what the reader takes (JSON Schema, draft 7)."""

from __future__ import annotations

import json
from importlib.resources import files
from pathlib import Path
from typing import Any

import jsonschema
import pytest
import yaml

from floorplan.shop.assemble import TOP_KEYS
from floorplan.shop.faults import ShopFileError
from floorplan.shop.read_air import AIR_KEYS, RUN_KEYS
from floorplan.shop.read_carries import CARRY_KEYS
from floorplan.shop.read_doors import DOOR_KEYS, WINDOW_KEYS
from floorplan.shop.read_lay_out import LAY_OUT_KEYS
from floorplan.shop.read_power import CIRCUIT_KEYS, CORD_KEYS, OUTLET_KEYS, POWER_KEYS
from floorplan.shop.read_room import ROOM_KEYS
from floorplan.shop.read_shed import (
    BIN_KEYS,
    SHED_AT_KEYS,
    SHED_DOOR_KEYS,
    SHED_KEYS,
    SHED_POWER_KEYS,
)
from floorplan.shop.read_site import BUILDING_KEYS, LIMIT_KEYS, LOT_KEYS, SITE_KEYS, TREE_KEYS
from floorplan.shop.read_site import WINDOW_KEYS as HEARD_KEYS
from floorplan.shop.read_suction import COLLECTOR_KEYS, VACUUM_KEYS
from floorplan.shop.read_things import THING_KEYS
from floorplan.shop.read_work import FEED_KEYS, JOB_KEYS, TASK_KEYS
from floorplan.shop.reader import parse
from floorplan.shop.starter import starter_text

DEMOS = sorted((Path(__file__).parents[1] / "layouts").glob("*.yaml"))
SCHEMA: dict[str, Any] = json.loads(
    files("floorplan.shop").joinpath("schema.json").read_text(encoding="utf-8")
)
CHECKER = jsonschema.Draft7Validator(SCHEMA)
BASE = """\
shop: trial
room: {size: [24', 22'], height: 8'}
doors:
  door: {wall: north, at: 2', width: 3', height: 80", leads to: outside}
equipment:
  saw: {kind: cabinet table saw, at: {x: 8', y: 9', turn: 0}}
tasks:
  rip: {uses: [saw], open: [door]}
"""


def errors(text: str) -> list[str]:
    return [error.message for error in CHECKER.iter_errors(yaml.safe_load(text))]


def test_it_is_a_proper_schema() -> None:
    jsonschema.Draft7Validator.check_schema(SCHEMA)


@pytest.mark.parametrize("path", DEMOS, ids=lambda path: path.stem)
def test_it_accepts_every_demo_and_each_demo_names_it(path: Path) -> None:
    text = path.read_text(encoding="utf-8")
    assert errors(text) == []
    first = text.splitlines()[0]
    assert first == "# yaml-language-server: $schema=../floorplan/shop/schema.json"
    assert (path.parent / first.partition("=")[2]).resolve().is_file()


@pytest.mark.parametrize("metric", [False, True])
def test_it_accepts_the_first_shop_file(metric: bool) -> None:
    assert errors(starter_text("my shop", metric)) == []


@pytest.mark.parametrize(
    ("old", "new"),
    [
        ("shop: trial\n", ""),
        ("doors:", "dors:"),
        ("size: [24', 22']", "size: [24']"),
        ("height: 8'", "ceiling: 8'"),
        ("leads to: outside", "leads to: nowhere"),
        (', leads to: outside', ""),
        ("kind: cabinet", "sort: cabinet"),
        ("at: {x: 8', y: 9', turn: 0}", "at: {x: 8', turn: 0}"),
        ("uses: [saw]", "using: [saw]"),
        ("tasks:", "people: 3\ntasks:"),
        ("tasks:", "units: yards\ntasks:"),
        ("tasks:", "priorities: [beauty]\ntasks:"),
        ("tasks:", "air: {}\ntasks:"),
        ("tasks:", "power: {}\ntasks:"),
    ],
)  # fmt: skip
def test_schema_and_reader_refuse_the_same_mistakes(old: str, new: str) -> None:
    assert errors(BASE) == []
    parse(BASE)
    text = BASE.replace(old, new, 1)
    assert text != BASE
    assert errors(text) != []
    with pytest.raises(ShopFileError):
        parse(text)


@pytest.mark.parametrize(
    ("where", "keys"),
    [
        ((), TOP_KEYS),
        (("room",), ROOM_KEYS),
        (("doors",), DOOR_KEYS),
        (("windows",), WINDOW_KEYS),
        (("fixed",), THING_KEYS),
        (("equipment",), THING_KEYS),
        (("tasks",), TASK_KEYS),
        (("tasks", "lay out"), LAY_OUT_KEYS),
        (("jobs",), JOB_KEYS),
        (("jobs", "feed"), FEED_KEYS),
        (("jobs", "carry"), CARRY_KEYS),
        (("air",), AIR_KEYS),
        (("air", "collector"), COLLECTOR_KEYS),
        (("air", "vacuum"), VACUUM_KEYS),
        (("air", "runs"), RUN_KEYS),
        (("power",), POWER_KEYS),
        (("power", "outlets"), OUTLET_KEYS),
        (("power", "circuits"), CIRCUIT_KEYS),
        (("power", "cords"), CORD_KEYS),
        (("site",), SITE_KEYS),
        (("site", "lot"), LOT_KEYS),
        (("site", "buildings"), BUILDING_KEYS),
        (("site", "trees"), TREE_KEYS),
        (("site", "windows"), HEARD_KEYS),
        (("site", "limits"), LIMIT_KEYS),
        (("site", "shed"), SHED_KEYS),
        (("site", "shed", "door"), SHED_DOOR_KEYS),
        (("site", "shed", "bin"), BIN_KEYS),
        (("site", "shed", "power"), SHED_POWER_KEYS),
        (("site", "shed", "at"), SHED_AT_KEYS),
    ],
)
def test_it_knows_the_keys_of_the_reader(where: tuple[str, ...], keys: tuple[str, ...]) -> None:
    node = SCHEMA
    for step in where:
        node = node["properties"][step]
        node = node["anyOf"][0] if "anyOf" in node else node
        if isinstance(node.get("additionalProperties"), dict):
            node = node["additionalProperties"]
        if "$ref" in node:
            node = SCHEMA["definitions"][node["$ref"].rpartition("/")[2]]
    assert set(node["properties"]) == set(keys)


def test_every_key_is_described_in_words() -> None:
    bare: list[str] = []

    def visit(node: Any, path: str) -> None:
        if isinstance(node, list):
            for inner in node:
                visit(inner, path)
        if not isinstance(node, dict):
            return
        for name, inner in node.get("properties", {}).items():
            if not inner.get("description"):
                bare.append(f"{path}.{name}")
            visit(inner, f"{path}.{name}")
        for key in ("anyOf", "items", "additionalProperties"):
            visit(node.get(key), path)

    visit(SCHEMA, "")
    for name, node in SCHEMA["definitions"].items():
        visit(node, name)
    assert bare == []
