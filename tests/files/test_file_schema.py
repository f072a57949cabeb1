"""The JSON Schema and the reader agree: what the reader takes, the schema takes."""

from __future__ import annotations

import copy
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import jsonschema
import pytest
import yaml

from fieldsim.errors import FileError
from fieldsim.files import load_field, load_robot, load_run, schema

HERE = Path(__file__).parents[2]
LOADERS = {"field": load_field, "robot": load_robot, "run": load_run}
FILES = [
    *((path, "field") for path in sorted((HERE / "fields").glob("*.yaml"))),
    *((path, "robot") for path in sorted((HERE / "runs" / "bakery").glob("box-*.yaml"))),
    *((path, "run") for path in sorted((HERE / "runs" / "bakery").glob("*.yaml")) if not path.name.startswith("box-")),
]
VALIDATORS = {kind: jsonschema.Draft202012Validator(schema(kind)) for kind in LOADERS}

# Values that are wrong in most places, and right in some.
ODD = [
    0,
    -1,
    5,
    "5 cm",
    "5 %",
    "-5 %",
    "5 deg",
    "",
    " ",
    "none",
    "rear left",
    [],
    [1, 2],
    [1, 2, 3],
    {},
    True,
    None,
    1e9,
]


@pytest.mark.parametrize("kind", LOADERS)
def test_schemas_are_schemas(kind: str) -> None:
    jsonschema.Draft202012Validator.check_schema(schema(kind))


@pytest.mark.parametrize("kind", LOADERS)
def test_every_key_is_described(kind: str) -> None:
    def objects(part: Any) -> Iterator[Any]:
        if isinstance(part, dict):
            if part.get("type") == "object":
                yield part
            for value in part.values():
                yield from objects(value)
        elif isinstance(part, list):
            for value in part:
                yield from objects(value)

    keys = [(key, value) for part in objects(schema(kind)) for key, value in part["properties"].items()]
    assert len(keys) > 10
    assert [key for key, value in keys if not {"description", "anyOf", "type"} & value.keys()] == []


def test_defaults_are_written_as_a_file_would() -> None:
    robot = schema("robot")["properties"]
    assert robot["drive"]["properties"]["motor_speed"]["default"] == 900.0
    assert robot["accuracy"]["properties"]["bias"]["properties"]["distance"]["default"] == "0 %"
    eye = next(option for option in schema("run")["properties"]["start"]["oneOf"] if option["type"] == "object")
    assert eye["properties"]["spread"]["properties"]["along"]["default"] == 3.0


@pytest.mark.parametrize(("path", "kind"), FILES, ids=lambda value: getattr(value, "name", value))
def test_the_demo_files_satisfy_their_schema(path: Path, kind: str) -> None:
    assert list(VALIDATORS[kind].iter_errors(yaml.safe_load(path.read_text()))) == []


def places(part: Any, path: tuple[Any, ...] = ()) -> Iterator[tuple[Any, ...]]:
    if isinstance(part, dict | list):
        for key, value in part.items() if isinstance(part, dict) else enumerate(part):
            yield (*path, key)
            yield from places(value, (*path, key))


def spoilt(whole: Any, path: tuple[Any, ...], value: Any) -> Any:
    made = copy.deepcopy(whole)
    part = made
    for step in path[:-1]:
        part = part[step]
    part[path[-1]] = value
    return made


SMALL = {
    "field": {
        "field": "Yard", "size": [1000, 800], "walls": {"height": 75},
        "obstacles": [{"name": "mill", "round": {"center": [300, 300], "radius": 5}, "height": [2, 9]}],
        "jigs": [{"name": "j", "corner": [9, 9], "heading": 90, "holds": "rear left", "spread": {"along": 1}}],
        "targets": [{"name": "t", "at": [5, 5], "within": 5, "heading": 5, "heading_within": 5, "points": 5}],
    },
    "robot": {
        "robot": "Box", "body": {"length": 170, "width": 140, "axle": 60, "height": [8, 90]},
        "drive": {"track": 112, "wheel": 62, "heading_from": "wheels"},
        "accuracy": {"bias": {"distance": "0.4 %", "veer": 0.2}, "day": {"turn": "1 %"}, "sample": "10 ms"},
        "attachments": [
            {"name": "hook", "outline": [[0, 0], [9, 0], [0, 9]], "height": [1, 9], "tool": [3, 3]},
        ],
        "weight": {"mass": 1, "at": [1, 2, 3]}, "casters": [{"at": [5, 5]}],
    },
    "run": {
        "run": "R", "field": "yard.yaml", "robot": "box.yaml", "wear": ["hook"],
        "start": {"at": [200, 200], "heading": 0, "spread": {"along": 1}},
        "segments": [
            {"straight": 5, "speed": 90, "may_touch": ["mill"]}, {"turn": 5, "about": "left wheel"},
            {"arc": 5, "radius": 50}, {"act": "t", "takes": 1}, {"wait": 1},
        ],
    },
}  # fmt: skip


@pytest.mark.parametrize("kind", LOADERS)
def test_reader_and_schema_agree_about_spoilt_values(kind: str, tmp_path: Path) -> None:
    for name, other in (("yard", "field"), ("box", "robot")):
        (tmp_path / f"{name}.yaml").write_text(yaml.safe_dump(SMALL[other]))
    path = tmp_path / "spoilt.yaml"
    path.write_text(yaml.safe_dump(SMALL[kind]))
    LOADERS[kind](path)
    taken = refused = 0
    for number, place in enumerate(places(SMALL[kind])):
        for value in ODD[number % 3 :: 3]:
            content = spoilt(SMALL[kind], place, value)
            path.write_text(yaml.safe_dump(content))
            try:
                LOADERS[kind](path)
            except FileError:
                if not VALIDATORS[kind].is_valid(content):
                    refused += 1
            else:
                assert VALIDATORS[kind].is_valid(content), f"{place} = {value!r} is read, but the schema refuses it"
                taken += 1
    assert taken > 10
    assert refused > 100
