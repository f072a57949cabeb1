"""`fit` and `log` from the command line: what they print and leave in the files, and `try` afterwards."""

from __future__ import annotations

import json
import shutil
from pathlib import Path
from typing import Any

import pytest

from fieldsim import cli
from fieldsim.files import load_field, load_robot, load_run
from fieldsim.files.sheets import load_sheet
from fieldsim.fit import believed, fit
from fieldsim.model import MEASURABLE, value_of

ROOT = Path(__file__).parent.parent


def fieldsim(*words: str | Path) -> int:
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr("sys.argv", ["fieldsim", *map(str, words)])
        with pytest.raises(SystemExit) as end:
            cli.main()
    code = end.value.code
    return code if isinstance(code, int) else 0


@pytest.fixture
def season(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A copy of the demo season; its runs, robots, tests and log."""
    for part in ("fields", "runs"):
        shutil.copytree(ROOT / part, tmp_path / part)
    monkeypatch.chdir(tmp_path)
    return tmp_path / "runs" / "bakery"


def said(capsys: pytest.CaptureFixture[str]) -> Any:
    return json.loads(capsys.readouterr().out)


def test_what_is_written_comes_back_and_try_counts_it(season: Path, capsys: pytest.CaptureFixture[str]) -> None:
    robot_file, sheet_file = season / "box-one.yaml", season / "tests.csv"
    before = robot_file.read_text(encoding="utf-8")
    answer = fit(load_robot(robot_file), load_sheet(sheet_file))
    assert fieldsim("fit", sheet_file, robot_file, "--write") == 0
    printed = capsys.readouterr().out
    assert "bias: turn" in printed
    assert "box-one.yaml.bak" in printed
    assert (season / "box-one.yaml.bak").read_text(encoding="utf-8") == before
    after = robot_file.read_text(encoding="utf-8")
    comments = [line.partition("#")[2] for line in before.splitlines() if "#" in line]
    assert [comment for comment in comments if comment not in after] == []
    # Two decimals of each number's unit, ends rounded outwards.
    read, meant = load_robot(robot_file).accuracy, believed(load_robot(season / "box-one.yaml.bak").accuracy, answer)
    assert read.between is not None
    assert meant.between is not None
    for name in MEASURABLE:
        step = 1e-4 if name.endswith(("distance", "turn")) and name.startswith(("bias", "day")) else 1e-2
        assert value_of(read, name) == pytest.approx(value_of(meant, name), abs=step / 2 + 1e-12)
        ends, true = read.between.ends(name), meant.between.ends(name)
        assert (ends is None) == (true is None)
        if ends is not None and true is not None:
            assert true[0] - step <= ends[0] <= true[0] + 1e-12
            assert true[1] - 1e-12 <= ends[1] <= true[1] + step
    assert fieldsim("try", season / "flour-round.yaml", "--json", "--trials", "2000") == 0
    unknown = said(capsys)["unknown"]
    assert unknown["tests"] == answer.driven == 36
    assert 0 <= unknown["low"] < unknown["mean"] < unknown["high"] <= 1
    assert fieldsim("try", season / "flour-round.yaml", "--trials", "2000") == 0
    assert "With 36 tests the robot may be better or worse than written" in capsys.readouterr().out


def test_what_a_person_wrote_is_kept_however_often_numbers_are_written(season: Path) -> None:
    robot_file = season / "box-one.yaml"
    mine = robot_file.read_bytes()
    assert fieldsim("fit", season / "tests.csv", robot_file, "--write") == 0
    once = robot_file.read_bytes()
    assert fieldsim("fit", season / "tests.csv", robot_file, "--write") == 0
    assert (season / "box-one.yaml.bak").read_bytes() == mine
    assert (season / "box-one.yaml.bak2").read_bytes() == once


def test_placings_go_into_the_field(season: Path, capsys: pytest.CaptureFixture[str]) -> None:
    field_file = season.parent.parent / "fields" / "bakery.yaml"
    before = load_field(field_file)
    assert fieldsim("fit", season / "tests.csv", season / "box-one.yaml", "--field", field_file) == 0
    out = capsys.readouterr().out
    after = load_field(field_file)
    answer = fit(load_robot(season / "box-one.yaml"), load_sheet(season / "tests.csv"))
    for placed in answer.placed:
        jig = next(jig for jig in after.jigs if jig.name == placed.jig)
        old = next(jig for jig in before.jigs if jig.name == placed.jig)
        for each in placed.spread:
            assert getattr(jig.spread, each.name) == pytest.approx(each.value, abs=0.005)
        # No heading was measured.
        assert jig.spread.heading == old.spread.heading
    assert "bakery.yaml.bak" in out


def test_a_jig_that_the_field_does_not_have_is_said(season: Path, capsys: pytest.CaptureFixture[str]) -> None:
    other = season.parent.parent / "fields" / "practice.yaml"
    text = other.read_bytes()
    assert fieldsim("fit", season / "tests.csv", season / "box-one.yaml", "--field", other) == 0
    err = capsys.readouterr().err
    assert "has no jig 'corner block'" in err
    assert other.read_bytes() == text


def test_a_plan_for_another_robots_run_is_refused(season: Path, capsys: pytest.CaptureFixture[str]) -> None:
    code = fieldsim("fit", season / "tests.csv", season / "box-one.yaml", "--plan", season / "mill-hatch.yaml")
    assert code == 2
    assert "is driven by 'Box wide'" in capsys.readouterr().err


def test_nothing_measured_writes_nothing(season: Path, capsys: pytest.CaptureFixture[str]) -> None:
    robot_file = season / "box-one.yaml"
    before = robot_file.read_bytes()
    (season / "empty.csv").write_text("date,test,commanded mm,travel mm\n", encoding="utf-8")
    assert fieldsim("fit", season / "empty.csv", robot_file, "--write") == 0
    assert "Nothing to write" in capsys.readouterr().err
    assert robot_file.read_bytes() == before
    assert not (season / "box-one.yaml.bak").exists()


def test_a_log_as_json(season: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert fieldsim("log", season / "log.csv", "--json", "--trials", "2000") == 0
    answer = said(capsys)
    assert answer["command"] == "log"
    assert {run["run"] for run in answer["runs"]} == {"Flour round", "Mill hatch"}


def test_a_log_of_a_run_that_is_not_there_says_the_line(season: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (season / "log.csv").write_text("run,result\nflour-round.yaml,through\nflower-round.yaml,through\n", "utf-8")
    assert fieldsim("log", season / "log.csv") == 2
    err = capsys.readouterr().err
    assert "log.csv:3:1" in err
    assert "flour-round" in err


def test_check_reads_tables_too(season: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert fieldsim("check", season / "tests.csv", season / "log.csv", season / "flour-round.yaml") == 0
    assert "a test sheet, 51 tests" in (out := capsys.readouterr().out)
    assert "a log, 32 runs" in out
    (season / "tests.csv").write_text("test,commanded mm,travel mm\nstraight,300,30 cm\nstraigt,300,301\n", "utf-8")
    assert fieldsim("check", season / "tests.csv") == 2
    assert "tests.csv:3:1" in capsys.readouterr().err
    assert load_run(season / "flour-round.yaml").name == "Flour round"
