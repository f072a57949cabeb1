"""Tables for other programs, and the schema of the answers: held against every command's real answer.

The runs are the bakery's; the arc and its numbers by hand are invented.
"""

from __future__ import annotations

import copy
import csv
import io
import json
from collections.abc import Iterator
from dataclasses import replace
from itertools import pairwise
from math import pi
from pathlib import Path
from typing import Any

import openpyxl
import pytest
from commands import fieldsim
from jsonschema import Draft202012Validator
from plans import robot
from plans import run as driven_along
from season import ANSWERS, BAKERY, daily

from fieldsim import load_run, simulate
from fieldsim.calibration import further
from fieldsim.catalog import ANSWERS as TYPES
from fieldsim.catalog import schema_of_answers
from fieldsim.model import Accuracy, Arc, Run, SquareNoise, Straight, Turn, Wait
from fieldsim.pages import tables
from fieldsim.pages.tables import SEGMENT_COLUMNS, Cell, Column, DataTable, as_csv
from fieldsim.pages.workbook import workbook
from fieldsim.sim.motion import wrapped
from fieldsim.sim.plan import plan
from fieldsim.sim.trials import planned_poses


def command(*words: object, code: int = 0) -> str:
    done = fieldsim(*words, at=BAKERY)
    assert done.returncode == code, done.stderr
    return done.stdout


def segments_table(*of: Any) -> str:
    return as_csv(tables.segments_table(*of))


def trials_table(*of: Any) -> str:
    return as_csv(tables.trials_table(*of))


def rows(text: str) -> list[dict[str, str]]:
    return list(csv.DictReader(io.StringIO(text)))


# --- segments.csv ---------------------------------------------------------------------------------------------------


def test_a_row_by_hand() -> None:
    # Track 112, wheel 62, gear 0.5: 90 degrees to the left along a radius of 300 mm drive the middle 150 pi, the left
    # wheel (300 - 56) pi / 2 and the right one (300 + 56) pi / 2; a wheel turns once in 62 pi.
    run = driven_along(Straight(310 * pi / 5), Arc(90, 300), Turn(-90), Wait(2.5))
    box = robot()
    drive = replace(box.drive, track=112.0, wheel=62.0, gear=0.5, speed=200.0, turn_speed=90.0)
    run = replace(run, robot=replace(box, drive=drive))
    table = rows(segments_table(plan(run)))
    assert tuple(table[0]) == SEGMENT_COLUMNS
    straight, arc, turn, wait = table
    assert (straight["kind"], float(straight["left_wheel_deg"])) == ("straight", pytest.approx(360.0, abs=1e-3))
    assert float(straight["left_motor_deg"]) == pytest.approx(720.0, abs=1e-3)
    assert float(arc["left_wheel_deg"]) == pytest.approx(360 * 122 / 62, abs=1e-3)
    assert float(arc["right_wheel_deg"]) == pytest.approx(360 * 178 / 62, abs=1e-3)
    # The faster motor, at 200 mm/s of the middle: 200 (1 + 56/300) mm/s of its wheel.
    assert float(arc["motor_speed_deg_s"]) == pytest.approx(200 * (1 + 56 / 300) * 360 / (62 * pi) / 0.5, abs=1e-2)
    assert float(turn["left_wheel_deg"]) == pytest.approx(90 * 112 / 62, abs=1e-3)
    assert float(turn["right_wheel_deg"]) == pytest.approx(-90 * 112 / 62, abs=1e-3)
    assert (wait["left_wheel_deg"], wait["speed_mm_s"], float(wait["seconds"])) == ("", "", 2.5)
    assert float(wait["clock_s"]) == pytest.approx(sum(float(each["seconds"]) for each in table), abs=2e-3)
    for before, after in pairwise(table):
        assert [before[f"end_{k}"] for k in ("x_mm", "y_mm", "heading_deg")] == [
            after[f"start_{k}"] for k in ("x_mm", "y_mm", "heading_deg")
        ]


PERFECT = Accuracy(square=SquareNoise(0.0, 0.0), edge=0.0)


@pytest.mark.parametrize("name", ["flour-round", "yard-bell", "oven-lever", "mill-hatch"])
def test_planned_poses_are_those_of_a_perfect_robot(name: str) -> None:
    run: Run = load_run(BAKERY / f"{name}.yaml")
    jigs = tuple(replace(jig, spread=type(jig.spread)(0.0, 0.0, 0.0)) for jig in run.field.jigs)
    run = replace(run, field=replace(run.field, jigs=jigs), robot=replace(run.robot, accuracy=PERFECT))
    poses = planned_poses(plan(run))
    driven = simulate(run, 1, threads=1).poses[0]
    assert driven[:, :2] == pytest.approx(poses[:, :2], abs=1e-6)
    apart = [wrapped(heading) for heading in driven[:, 2] - poses[:, 2]]
    assert apart == pytest.approx([0.0] * len(poses), abs=1e-6)
    assert all(-180 < heading <= 180 for heading in poses[:, 2])


def test_saved_and_by_the_card_it_is_the_same(tmp_path: Path) -> None:
    command("try", "flour-round.yaml", "--trials", 20, "--save", tmp_path)
    command("card", "flour-round.yaml", "--trials", 20, "--save", tmp_path / "card.csv")
    saved = (tmp_path / "segments.csv").read_bytes()
    assert saved == (tmp_path / "card.csv").read_bytes()
    assert len(rows(saved.decode())) == 11
    for words in (
        ("card", "match.yaml"),
        ("card", "flour-round.yaml", "--tests"),
        ("card", "flour-round.yaml", "--json"),
    ):
        command(*words, "--save", tmp_path / "x.csv", code=2)
    assert not (tmp_path / "x.csv").exists()


# --- the workbook ---------------------------------------------------------------------------------------------------


def opened(data: bytes) -> Any:
    return openpyxl.load_workbook(io.BytesIO(data))


def test_a_workbook_has_the_numbers_of_the_tables() -> None:
    run = load_run(BAKERY / "yard-bell.yaml")
    given = [tables.segments_table(plan(run)), tables.trials_table(simulate(run, 30, threads=1))]
    book = opened(workbook(given, "made up"))
    about, *sheets = book.worksheets
    assert about["A1"].value == "made up"
    # Every column is explained, with its name in the CSV.
    explained = [row[4].value for row in about.iter_rows(min_row=4)]
    assert explained == [column.name for table in given for column in table.columns]
    assert all(row[3].value for row in about.iter_rows(min_row=4))
    for sheet, table in zip(sheets, given, strict=True):
        assert sheet.freeze_panes == "B3"
        assert [cell.value or "" for cell in sheet[2]] == [column.unit for column in table.columns]
        assert sheet.max_row == len(table.rows) + 2
        for cells, row in zip(sheet.iter_rows(min_row=3), table.rows, strict=True):
            for cell, value, column in zip(cells, row, table.columns, strict=True):
                if isinstance(value, float):
                    assert cell.data_type == "n"
                    assert cell.value == pytest.approx(value, abs=0.51 * 10.0**-column.decimals)
                else:
                    assert cell.value == value


def test_a_workbook_takes_any_name_for_a_text() -> None:
    names: tuple[Cell, ...] = ("=1+1", "https://example.org", "12", "-3", "\tx", "ü\x07漢", "a" * 40_000, "<&>", "")
    table = DataTable("t", "T", (Column("name", "Name", "", "What it is called."),), tuple((name,) for name in names))
    sheet = opened(workbook([table], "about")).worksheets[1]
    found = [row[0] for row in sheet.iter_rows(min_row=3)]
    assert [cell.data_type for cell in found[:5]] == ["s"] * 5
    assert [cell.value for cell in found[:4]] == list(names[:4])
    assert found[6].value == "a" * 32_767


def test_a_long_table_says_what_is_left_out() -> None:
    long = DataTable("t", "T", (Column("n", "N", "", "A number."),), tuple((n,) for n in range(2500)))
    about, sheet = opened(workbook([long], "about")).worksheets
    assert about["A2"].value == "T: the first 2000; all of them are in t.csv."
    assert (sheet.max_row, sheet.auto_filter.ref) == (2002, "A2:A2002")


def test_saved_beside_the_tables(tmp_path: Path) -> None:
    command("card", "flour-round.yaml", "--save", tmp_path / "card.xlsx")
    sheets = opened((tmp_path / "card.xlsx").read_bytes()).sheetnames
    assert sheets == ["What is what", "Segments"]
    command("card", "match.yaml", "--save", tmp_path / "x.xlsx", code=2)


# --- the schema of answers ------------------------------------------------------------------------------------------


def test_the_schema_is_a_schema() -> None:
    for name in (None, *TYPES):
        Draft202012Validator.check_schema(schema_of_answers(name))
    assert json.loads(command("schema", "answer")) == schema_of_answers()
    with pytest.raises(KeyError):
        schema_of_answers("watch")
    assert {str(words[0]) for words in ANSWERS.values()} == set(TYPES)


def places(answer: Any, path: tuple[Any, ...] = ()) -> Iterator[tuple[Any, ...]]:
    """Every place in an answer, but one of each list."""
    yield path
    if isinstance(answer, dict):
        for key, value in answer.items():
            yield from places(value, (*path, key))
    elif isinstance(answer, list) and answer:
        yield from places(answer[0], (*path, 0))


def short(answer: Any) -> Any:
    """The answer with long lists cut, which keeps to the same schema and is checked sooner."""
    if isinstance(answer, dict):
        return {key: short(value) for key, value in answer.items()}
    return [short(each) for each in answer[:4]] if isinstance(answer, list) else answer


def at(answer: Any, path: tuple[Any, ...]) -> Any:
    for key in path:
        answer = answer[key]
    return answer


@pytest.mark.parametrize("name", daily(ANSWERS))
def test_every_answer_keeps_to_the_schema(name: str, monkeypatch: pytest.MonkeyPatch) -> None:
    # Fewer robots than usual: the answer's form is the same.
    monkeypatch.setattr(further, "ROBOTS", 4)
    monkeypatch.setattr(further, "ALL_ROBOTS", 8)
    words = ANSWERS[name]
    answer = json.loads(command(*words, "--json"))
    own, whole = Draft202012Validator(schema_of_answers(str(words[0]))), Draft202012Validator(schema_of_answers())
    for validator in (own, whole):
        assert [
            f"{'/'.join(map(str, e.absolute_path))}: {e.message[:300]}" for e in validator.iter_errors(answer)
        ] == []
    answer = short(answer)
    assert own.is_valid(answer)
    # Of a command with several answers, the one this is.
    (form,) = (each for each in own.schema.get("oneOf", [own.schema]) if own.evolve(schema=each).is_valid(answer))
    parts = {key: own.evolve(schema=schema) for key, schema in form["properties"].items()}

    def refused(spoilt: Any, key: object) -> bool:
        """Whatever lies deeper is held against the schema of its part alone, which is a hundred times as quick."""
        return not (own.is_valid(spoilt) if key is None else parts[str(key)].is_valid(spoilt[key]))

    # Spoilt anywhere, it is refused: a key too many, one too few, or a value of another kind.
    for path in list(places(answer)):
        if path[:1] in (("accuracy",), ("perhaps",), ("drops",)):
            continue
        found = at(answer, path)
        top = path[0] if path else None
        # Of what is spoilt only that part is a copy.
        spoilt: Any

        def copied(top: object = top) -> Any:
            return copy.deepcopy(answer) if top is None else {**answer, top: copy.deepcopy(answer[top])}

        if isinstance(found, dict):
            spoilt = copied()
            at(spoilt, path)["one too many"] = 1
            assert refused(spoilt, top), path
        # Of a map's axes only two are there.
        if path and isinstance(path[-1], str) and top not in ("map", "maps"):
            spoilt = copied()
            del at(spoilt, path[:-1])[path[-1]]
            assert refused(spoilt, top if len(path) > 1 else None), path
        if path and isinstance(found, int | float | str):
            spoilt = copied()
            at(spoilt, path[:-1])[path[-1]] = {"a": "thing"}
            assert refused(spoilt, top), path


# --- trials.csv -----------------------------------------------------------------------------------------------------


def test_a_row_says_what_its_trial_came_to() -> None:
    trials = simulate(load_run(BAKERY / "flour-round.yaml"), trials=600, seed=1)
    table = rows(trials_table(trials))
    misses = [name for name in table[0] if name.startswith("miss_")]
    touched = [row for row in table if row["contact"]]
    # Some touch something before their last act: without them the test would say nothing.
    assert touched
    assert any(row[misses[-1]] == "" for row in touched)
    for n, row in enumerate(table):
        assert [row[name] != "" for name in misses] == trials.reached[n].tolist()
        if trials.plan.run.finish is None:
            assert row["home"] == ""
        else:
            assert row["home"] == str(int(trials.ended[n] and trials.home[n]))
        assert -180 < float(row["end_heading_deg"]) <= 180


def test_home_where_a_run_asks_for_it() -> None:
    """A run driven into its finish is home, without a finish the cell is empty, and a turn beyond half a circle is
    shown as every heading is."""
    run = driven_along(Turn(181.0), Wait(0.0001))
    (row,) = rows(trials_table(simulate(replace(run, robot=replace(run.robot, accuracy=PERFECT)), trials=1, seed=1)))
    start = rows(segments_table(plan(run)))[0]["start_heading_deg"]
    assert row["home"] == ""
    assert float(row["end_heading_deg"]) == pytest.approx(wrapped(float(start) + 181.0), abs=1e-3)
    assert not any(cell.strip("-0.") == "" and cell.startswith("-") for cell in row.values())


@pytest.mark.parametrize(("value", "told"), [(-0.0004, "0.000"), (-0.0, "0.000"), (-0.0006, "-0.001"), (2.5, "2.500")])
def test_no_minus_before_a_nought(value: float, told: str) -> None:
    assert tables.number(value) == told
