"""The JSON Schema of each kind of file, and that it agrees with the reader: what the reader takes, the schema takes."""

from __future__ import annotations

import copy
import json
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
import yaml
from jsonschema import Draft202012Validator
from small_files import FIELD, FIELD_FILE, LOADERS, ROBOT, ROBOT_FILE, RUN, RUN_FILE, write

from fieldsim.files import check, kind_of, schema
from fieldsim.model.errors import FileError

ROOT = Path(__file__).parents[2]
SHIPPED = sorted(p for f in ("fields", "runs/bakery", "fieldsim/starter") for p in (ROOT / f).glob("*.yaml"))
SCHEMAS = {kind: schema(kind) for kind in ("field", "robot", "run")}
VALIDATORS = {kind: Draft202012Validator(rules) for kind, rules in (*SCHEMAS.items(), ("match", schema("match")))}
PLANS = {kind: yaml.safe_load(text) for kind, text in (("field", FIELD), ("robot", ROBOT), ("run", RUN))}
FILES = {"field": FIELD_FILE, "robot": ROBOT_FILE, "run": RUN_FILE}


@pytest.mark.parametrize("kind", SCHEMAS)
def test_schemas_are_schemas(kind: str) -> None:
    Draft202012Validator.check_schema(SCHEMAS[kind])


def test_there_is_no_schema_of_another_kind() -> None:
    with pytest.raises(KeyError):
        schema("season")


@pytest.mark.parametrize("kind", SCHEMAS)
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

    keys = [(key, value) for part in objects(SCHEMAS[kind]) for key, value in part["properties"].items()]
    assert len(keys) > 10
    assert [key for key, value in keys if not {"description", "anyOf", "type"} & value.keys()] == []


def test_defaults_are_written_as_a_file_would() -> None:
    robot, run = SCHEMAS["robot"]["properties"], SCHEMAS["run"]["properties"]
    assert robot["drive"]["properties"]["motor_speed"]["default"] == 900.0
    assert robot["accuracy"]["properties"]["bias"]["properties"]["distance"]["default"] == "0 %"
    eye = next(option for option in run["start"]["oneOf"] if option["type"] == "object")
    assert eye["properties"]["spread"]["properties"]["along"]["default"] == 3.0


@pytest.mark.parametrize("path", SHIPPED, ids=lambda path: path.stem)
def test_what_is_shipped_loads_and_the_schema_takes_it(path: Path) -> None:
    assert check([path]).problems == ()
    plan = yaml.safe_load(path.read_text(encoding="utf-8"))
    assert [error.message for error in VALIDATORS[kind_of(path)].iter_errors(plan)] == []


def places(part: Any, path: tuple[Any, ...] = ()) -> Iterator[tuple[tuple[Any, ...], Any]]:
    """The way to every part of a plan, and the part, without those that are like another in the same list."""
    if isinstance(part, dict | list):
        for key, value in part.items() if isinstance(part, dict) else first_of_each(part):
            yield (*path, key), value
            yield from places(value, (*path, key))


def first_of_each(items: list[Any]) -> list[tuple[int, Any]]:
    """The first item of each type in a list, with its number; mappings with other keys are of another type."""
    kinds = [tuple(item) if isinstance(item, dict) else type(item) for item in items]
    return [(index, items[index]) for index in sorted({kinds.index(kind) for kind in kinds})]


def spoilt(whole: Any, path: tuple[Any, ...], value: Any) -> Any:
    made = copy.deepcopy(whole)
    part = made
    for step in path[:-1]:
        part = part[step]
    part[path[-1]] = value
    return made


@pytest.mark.parametrize(
    ("kind", "path", "value"),
    [
        ("field", ("size",), [1200]),
        ("field", ("size",), [1200, 50]),
        ("field", ("walls",), "some"),
        ("field", ("colour",), "red"),
        ("field", ("jigs", 0, "holds"), "left rear"),
        ("field", ("obstacles", 0, "round"), {"center": [1, 1], "radius": 2}),  # beside its box
        ("field", ("targets", 0), {"name": "t", "at": [1, 1], "within": 5, "heading": 5}),
        ("field", ("field",), ""),
        ("robot", ("body", "width"), -1),
        ("robot", ("body", "width"), "13 kg"),
        ("robot", ("accuracy", "bias", "distance"), 0.4),
        ("robot", ("accuracy", "day"), {"distance": "-1 %"}),
        ("robot", ("drive",), []),
        ("run", ("segments",), []),
        ("run", ("segments", 0), {"straight": 0}),
        ("run", ("segments", 0), {"straight": 5, "turn": 5}),
        ("run", ("segments", 0), {"square": "front"}),
        ("run", ("start",), {"heading": 90}),
    ],
)
def test_the_schema_refuses_what_is_wrong(kind: str, path: tuple[str | int, ...], value: object) -> None:
    assert VALIDATORS[kind].is_valid(PLANS[kind])
    assert not VALIDATORS[kind].is_valid(spoilt(PLANS[kind], path, value))


def around(kind: str, path: tuple[Any, ...]) -> tuple[Any, tuple[Any, ...]]:
    """A plan with little but the part a path leads to, and the path in it: shorter files are read sooner."""
    top, *below = path
    plan = {key: part for key, part in PLANS[kind].items() if key == top or key in SCHEMAS[kind]["required"]}
    if below and isinstance(plan[top], list):
        plan[top] = [plan[top][below[0]]]
        below[0] = 0
    return plan, (top, *below)


# Values for the place of a number (with a unit or without), of a text, of a list or keys: some are right there.
NUMBERS = [0, -1, 5, 1.5, 1e9, "5 cm", "5 %", "-5 %", "5 deg"]
TEXTS = ["", " ", "none", "rear left", "front", "oven", "kerb", "12"]
OTHERS = [[], [1, 2], [1, 2, 3], ["left eye", "right eye"], {}, True, None]


def values_for(part: Any, number: int, step: int) -> list[Any]:
    """Of the values that are much like a part of a plan one in ``step``, others at each place, and one that is not."""
    if isinstance(part, str) and part[0] not in "-0123456789":
        like, unlike = TEXTS, NUMBERS + OTHERS
    elif isinstance(part, str | int | float):
        like, unlike = NUMBERS, TEXTS + OTHERS
    else:
        like, unlike = OTHERS, NUMBERS + TEXTS
    return [*like[number % step :: step], unlike[number % len(unlike)]]


@pytest.mark.parametrize("step", [6, pytest.param(2, marks=pytest.mark.slow)])
@pytest.mark.parametrize("kind", SCHEMAS)
def test_reader_and_schema_agree_about_spoilt_values(kind: str, step: int, tmp_path: Path) -> None:
    write(tmp_path)
    path, load = tmp_path / "spoilt.yaml", LOADERS[FILES[kind]]
    taken = refused = 0
    for number, (place, part) in enumerate(places(PLANS[kind])):
        for value in values_for(part, number, step):
            plan = spoilt(*around(kind, place), value)
            path.write_text(json.dumps(plan))
            try:
                load(path)
            except FileError:
                refused += 1
            else:
                assert VALIDATORS[kind].is_valid(plan), f"{place} = {value!r} is read, but the schema refuses it"
                taken += 1
    assert taken > 40 / step
    assert refused > 200 / step
