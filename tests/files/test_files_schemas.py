"""JSON Schema, the starter season, units in texts, and changes made in Python."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
import yaml
from jsonschema import Draft202012Validator

from fieldsim.errors import SaveError
from fieldsim.files import check, kind_of, load_run, new_season, schema
from fieldsim.files.starter import FILES
from fieldsim.model import replace
from fieldsim.units import ANGLE, LENGTH, MASS, NUMBER, PERCENT, SPEED, TIME, Unit, UnitError, read_quantity

ROOT = Path(__file__).parents[2]
SHIPPED = sorted(p for f in ("fields", "runs/bakery", "fieldsim/starter") for p in (ROOT / f).glob("*.yaml"))


def plan(path: Path) -> Any:
    return yaml.safe_load(path.read_text(encoding="utf-8"))


@pytest.mark.parametrize("path", SHIPPED, ids=lambda path: path.stem)
def test_the_schema_accepts_what_is_shipped(path: Path) -> None:
    rules = schema(kind_of(path))
    Draft202012Validator.check_schema(rules)
    assert [error.message for error in Draft202012Validator(rules).iter_errors(plan(path))] == []


@pytest.mark.parametrize(
    ("file", "path", "value"),
    [
        ("yard.yaml", ["size"], [1200]),
        ("yard.yaml", ["size"], [1200, 50]),
        ("yard.yaml", ["walls"], "some"),
        ("yard.yaml", ["colour"], "red"),
        ("yard.yaml", ["jigs", 0, "holds"], "left rear"),
        ("yard.yaml", ["obstacles", 0, "round"], {"center": [1, 1], "radius": 2}),
        ("yard.yaml", ["field"], ""),
        ("robot.yaml", ["body", "width"], -1),
        ("robot.yaml", ["body", "width"], "13 kg"),
        ("robot.yaml", ["accuracy", "bias", "distance"], 0.4),
        ("robot.yaml", ["drive"], []),
        ("first-run.yaml", ["segments"], []),
        ("first-run.yaml", ["segments", 0], {"straight": 0}),
        ("first-run.yaml", ["segments", 0], {"straight": 5, "turn": 5}),
        ("first-run.yaml", ["segments", 0], {"square": "front"}),
        ("first-run.yaml", ["start"], {"heading": 90}),
    ],
)
def test_the_schema_rejects_what_is_wrong(file: str, path: list[str | int], value: object) -> None:
    whole = plan(ROOT / "fieldsim/starter" / file)
    inner = whole
    for step in path[:-1]:
        inner = inner[step]
    inner[path[-1]] = value
    assert not Draft202012Validator(schema(kind_of(ROOT / "fieldsim/starter" / file))).is_valid(whole)


def test_a_new_season_loads(tmp_path: Path) -> None:
    made = new_season(tmp_path / "deep" / "season")
    assert [path.name for path in made] == list(FILES)
    assert check(made).problems == ()


@pytest.mark.parametrize("name", FILES)
def test_a_new_season_never_replaces_a_file(tmp_path: Path, name: str) -> None:
    (tmp_path / name).write_text("mine", encoding="utf-8")
    with pytest.raises(SaveError, match="is there already; nothing was written"):
        new_season(tmp_path)
    assert [path.name for path in tmp_path.iterdir()] == [name]
    assert (tmp_path / name).read_text(encoding="utf-8") == "mine"


def test_a_dangling_link_leaves_nothing_half_written(tmp_path: Path) -> None:
    (tmp_path / FILES[-1]).symlink_to(tmp_path / "nowhere")
    with pytest.raises(SaveError):
        new_season(tmp_path)
    assert [path.name for path in tmp_path.iterdir()] == [FILES[-1]]


def test_a_season_cannot_be_written_below_a_file(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("", encoding="utf-8")
    with pytest.raises(SaveError):
        new_season(tmp_path / "file" / "season")


@pytest.mark.parametrize(
    ("text", "unit", "value"),
    [
        # An inch is 25.4 mm exactly (international yard and pound agreement, 1959; from memory).
        ("16.5 in", LENGTH, 419.1),
        ("42cm", LENGTH, 420.0),
        ("1.2 m", LENGTH, 1200.0),
        (" -.5 mm ", LENGTH, -0.5),
        ("90°", ANGLE, 90.0),
        ("25 cm/s", SPEED, 250.0),
        ("250 ms", TIME, 0.25),
        ("900 g", MASS, 0.9),
        ("0.4 %", PERCENT, 0.004),
    ],
)
def test_units_are_read_exactly(text: str, unit: Unit, value: float) -> None:
    assert read_quantity(text, unit) == value


@pytest.mark.parametrize(
    ("text", "unit", "hint"),
    [
        ("1,5 m", LENGTH, "write 1.5 m, with a point"),
        ("5 MM", LENGTH, "write 5 mm"),
        ("5 kg", LENGTH, "accepted units: mm, cm, m, in"),
        ("5", LENGTH, "write 5 without quotes"),
        ("0.4", PERCENT, "write 0.4 %"),
        ("5 mm", NUMBER, "write the number alone: 5"),
        ("", LENGTH, ""),
        ("1e3 mm", LENGTH, ""),
        ("٣ mm", LENGTH, ""),
        ("9" * 5000 + " mm", LENGTH, ""),
    ],
)
def test_what_is_no_quantity(text: str, unit: Unit, hint: str) -> None:
    with pytest.raises(UnitError) as caught:
        read_quantity(text, unit)
    assert hint in caught.value.hint


def test_values_are_checked_when_changed_in_python() -> None:
    run = load_run(ROOT / "runs/bakery/mill-hatch.yaml")
    wider = replace(run, robot=replace(run.robot, body=replace(run.robot.body, width=150)))
    assert wider.robot.body.width == 150.0
    assert run.robot.body.width != 150.0
    with pytest.raises(ValueError, match=r"^'width' of the body is -1 mm; accepted: more than 0 mm, up to 2000 mm$"):
        replace(run.robot.body, width=-1)
    with pytest.raises(ValueError, match="must be a length, found the text 'wide'"):
        replace(run.robot.body, width="wide")  # type: ignore[arg-type]
    with pytest.raises(ValueError, match="did you mean 'dough block'"):
        replace(run, start="dough blok")
