"""`fit` and `log` from the command line: what they print and leave in the files, and `try` afterwards."""

from __future__ import annotations

import json
import shutil
from pathlib import Path
from typing import Any, Literal

import pytest

from fieldsim import cli
from fieldsim.calibration.believed import believed
from fieldsim.calibration.estimate import Estimate
from fieldsim.calibration.fit import fit
from fieldsim.calibration.observed import BIASES, DAILY, slopes
from fieldsim.calibration.square_path import Contradiction
from fieldsim.files import load_field, load_robot, load_run
from fieldsim.files.sheets import load_sheet
from fieldsim.model import MEASURABLE, Straight, Turn, replace, value_of
from fieldsim.model.measured import PlacingTest, Sheet, SquarePathTest, StraightTest, Test, TurnTest
from fieldsim.report.words.fit import fit_text
from fieldsim.report.words.fit.file_values import file_values
from fieldsim.report.words.fit.numbers import estimate_row
from fieldsim.report.words.fit.sheets import _TELLS, contradiction_words, doubts

ROOT = Path(__file__).parents[2]


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


def few(season: Path, *kinds: str) -> Path:
    """The season's sheet with its tests of these kinds alone: fewer numbers are fitted in a part of the time."""
    lines = (season / "tests.csv").read_text("utf-8").splitlines(keepends=True)
    kept = [line for line in lines if line.startswith(("#", "date")) or line.split(",")[1] in kinds]
    assert len(kept) < len(lines)
    (season / "few.csv").write_text("".join(kept), "utf-8")
    return season / "few.csv"


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
    # The demo's own sheet has no slip.
    assert "Look at this first" not in printed
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
    assert fieldsim("try", season / "flour-round.yaml", "--json", "--trials", "300") == 0
    unknown = said(capsys)["unknown"]
    assert unknown["tests"] == answer.driven == 36
    assert 0 <= unknown["low"] < unknown["mean"] < unknown["high"] <= 1
    assert fieldsim("try", season / "flour-round.yaml", "--trials", "300") == 0
    assert "With 36 tests the robot may be better or worse than written" in capsys.readouterr().out


def test_what_a_person_wrote_is_kept_however_often_numbers_are_written(season: Path) -> None:
    robot_file = season / "box-one.yaml"
    mine = robot_file.read_bytes()
    sheet = few(season, "straight")
    assert fieldsim("fit", sheet, robot_file, "--write") == 0
    once = robot_file.read_bytes()
    assert once != mine
    assert fieldsim("fit", sheet, robot_file, "--write") == 0
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


def test_a_jig_whose_name_differs_by_case_is_the_fields(season: Path, capsys: pytest.CaptureFixture[str]) -> None:
    field_file = season.parent.parent / "fields" / "bakery.yaml"
    sheet_file = few(season, "straight", "placing")
    sheet_file.write_text(sheet_file.read_text("utf-8").replace("corner block", "CORNER BLOCK"), "utf-8")
    assert fieldsim("fit", sheet_file, season / "box-one.yaml", "--field", field_file) == 0
    printed = capsys.readouterr()
    assert "has no jig" not in printed.err
    assert "Read as names of jigs: 'CORNER BLOCK', 'gate block'." in printed.out
    jig = next(jig for jig in load_field(field_file).jigs if jig.name == "corner block")
    assert (jig.spread.along, jig.spread.across) == (0.14, 0.5)


def test_a_plan_for_another_robots_run_is_refused(season: Path, capsys: pytest.CaptureFixture[str]) -> None:
    code = fieldsim("fit", season / "tests.csv", season / "box-one.yaml", "--plan", season / "mill-hatch.yaml")
    assert code == 2
    assert "is driven by 'Box wide'" in capsys.readouterr().err


def test_nothing_measured_writes_nothing(season: Path, capsys: pytest.CaptureFixture[str]) -> None:
    robot_file = season / "box-one.yaml"
    before = robot_file.read_bytes()
    (season / "empty.csv").write_text("date,test,commanded mm,travel mm\n", encoding="utf-8")
    assert fieldsim("fit", season / "empty.csv", robot_file, "--write") == 0
    assert "Nothing written into" in capsys.readouterr().err
    assert robot_file.read_bytes() == before
    assert not (season / "box-one.yaml.bak").exists()


def test_a_log_as_json(season: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert fieldsim("log", season / "log.csv", "--json", "--trials", "1000") == 0
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
    # How it was read where it leaves something open.
    sheet_file = season / "other.csv"
    sheet_file.write_text("test,along mm,across mm,jig\nplacing,0.5,1,gate block\n", "utf-8")
    assert fieldsim("check", sheet_file) == 0
    out = capsys.readouterr().out
    assert "read as names of jigs: 'gate block'" in out
    assert "taken as read to 0.5 mm" in out


def test_tests_and_robot_the_other_way_round(season: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert fieldsim("fit", season / "box-one.yaml", season / "tests.csv") == 2
    err = capsys.readouterr().err
    assert f"the tests come first, then the robot: fieldsim fit {season / 'tests.csv'} {season / 'box-one.yaml'}" in err


def test_a_missing_sheet_is_not_guessed_from_afar(season: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert fieldsim("fit", season / "robots.csv", season / "box-one.yaml") == 2
    err = capsys.readouterr().err
    assert "there is no such file" in err
    assert "did you mean" not in err


# --- what to look at first -----------------------------------------------------------------------------------------

STRAIGHTS = tuple(
    StraightTest(line=n, commanded=float(way), travel=way + off)
    for n, (way, off) in enumerate([(300, 1.0), (300, 2.0), (1000, 3.0), (1000, 5.0), (1000, 4.0)], start=2)
)
TURNS = tuple(TurnTest(line=n, commanded=90.0, angle_read=a) for n, a in enumerate([91.0, 92.0, 90.5, 91.0], start=7))
BOX = load_robot(ROOT / "runs" / "bakery" / "box-one.yaml")


def by_gyro(*tests: StraightTest | TurnTest) -> tuple[StraightTest | TurnTest, ...]:
    return tuple(replace(test, heading_from="gyro") for test in tests)


@pytest.mark.parametrize("by", ["wheels", "gyro"])
def test_which_numbers_a_test_tells_is_as_the_kernel_has_it(by: Any) -> None:
    """Whatever a straight, one there and back, and a turn change by in the kernel, and nothing else."""
    _, bias, parts = slopes(BOX, (Straight(800.0), Turn(90.0), Straight(500.0), Straight(-200.0), Turn(-30.0)), by)
    # A turn on the spot makes the axle wander by a twentieth of a mm for a veer of 1 degree per metre: that is no test.
    told = {f"bias.{name}" for name, slope in zip(BIASES, bias.T, strict=True) if abs(slope).max() > 0.5}
    told |= {f"day.{name}" for name in DAILY if f"bias.{name}" in told}
    told |= {name for name, slope in parts.items() if abs(slope).max() > 1e-9}
    assert set(_TELLS[by]) == told


def test_tests_driven_otherwise_than_the_robot_are_said() -> None:
    mixed = Sheet((*STRAIGHTS, *TURNS[:2], *by_gyro(*TURNS[2:])))
    answer = fit(BOX, mixed)
    which, where = doubts(answer, mixed, "wheels", ())
    assert which == (
        "the robot's file says heading_from: wheels; 7 of the 9 driven tests were driven by the wheels and 2 by gyro "
        "(lines 9 and 10)"
    )
    shared, wheels, gyro, *_ = where.split("; ")
    assert "'turn: stop' come from both kinds mixed" in shared
    assert "'turn: slip'" in wheels
    assert wheels.endswith("from those by the wheels alone")
    assert gyro.startswith("'gyro: drift'")
    assert "from those by gyro alone" in gyro
    text = fit_text(answer, "Box", "tests.csv", look=(which, where))
    assert "Look at this first\n  1. The robot's file says heading_from: wheels" in text
    # The same sheet of a robot that steers by gyro, and one in which all are.
    which, _ = doubts(answer, mixed, "gyro", ())
    assert (
        "2 of the 9 driven tests were driven by gyro and 7 by the wheels (lines 2, 3, 4, 5, 6, 7 and 1 more)" in which
    )
    alike = Sheet((*by_gyro(*STRAIGHTS), *by_gyro(*TURNS)))
    assert doubts(fit(BOX, alike), alike, "gyro", ()) == ()
    (all_of_them,) = doubts(fit(BOX, alike), alike, "wheels", ())
    assert "but all 9 driven tests were driven by gyro" in all_of_them


def test_contradictions_in_words() -> None:
    words = contradiction_words(Contradiction((4, 9), ("sign of y",), 8))
    assert words.startswith("lines 4 and 9: the square paths contradict the others of the sheet; with the sign of ret")
    words = contradiction_words(Contradiction((4,), ("both signs", "x and y swapped"), 8))
    assert "line 4: the square path contradicts" in words
    assert "with both signs changed or with x and y swapped it would agree" in words
    assert "all 4 square paths (lines 2, 3, 4 and 5)" in contradiction_words(
        Contradiction((2, 3, 4, 5), ("sign of y",), 4)
    )


def test_left_and_right_mixed_up_is_said_by_line(season: Path, capsys: pytest.CaptureFixture[str]) -> None:
    rows = [("cw", 31, 28), ("cw", 27, 30), ("cw", 29, -33), ("ccw", 11, -12), ("ccw", 9, -13), ("ccw", 14, -11)]
    text = "test,side mm,direction,return x mm,return y mm\n"
    text += "".join(f"square path,600,{way},{x},{y}\n" for way, x, y in rows)
    (season / "paths.csv").write_text(text, "utf-8")
    assert fieldsim("fit", season / "paths.csv", season / "box-one.yaml") == 0
    assert "1. Line 4: the square path contradicts" in capsys.readouterr().out
    assert fieldsim("fit", season / "paths.csv", season / "box-one.yaml", "--json", "--write") == 0
    printed = capsys.readouterr()
    (doubt,) = json.loads(printed.out)["doubts"]
    assert "with the sign of return y changed" in doubt
    assert "See 'Look at this first'" in printed.err
    assert fieldsim("check", season / "paths.csv") == 0
    assert "line 4: the square path contradicts" in capsys.readouterr().out


# --- words -----------------------------------------------------------------------------------------------------------


def test_ends_are_printed_as_they_are_written(season: Path) -> None:
    answer = fit(BOX, load_sheet(season / "tests.csv"))
    between = file_values(answer, BOX.accuracy)["accuracy", "between"]
    for each in answer.estimates:
        group, key = each.name.split(".")
        low, high = (float(str(end).removesuffix(" %")) for end in between[group][key])
        assert estimate_row(each, "")[2] == f"{low:.2f} to {high:.2f}"
        assert low <= each.low * (100 if "%" in str(between[group][key][0]) else 1) + 1e-9


def test_an_open_end_is_said_as_such() -> None:
    inf = float("inf")
    assert estimate_row(Estimate("turn.slip", 0.5, 0.0, inf, 3), "")[2] == "0.00 or more, not known how much more"
    assert estimate_row(Estimate("bias.turn", 0.5, -inf, inf, 1), "")[2:] == ("not known how much", "1 test")


def test_tests_are_counted_in_the_same_words() -> None:
    placing = PlacingTest(line=20, along=0.0, across=1.0, jig="gate block")
    cases: tuple[tuple[tuple[Test, ...], str], ...] = (
        (STRAIGHTS, "5 tests\n"),
        ((*STRAIGHTS, placing), "6 tests, 5 of them driven\n"),
        ((placing,), "1 test, none of them driven\n"),
    )
    for tests, words in cases:
        assert f"\n{words}" in fit_text(fit(BOX, Sheet(tests)), "Box", "tests.csv")


def test_numbers_that_cannot_be_told_apart_are_one_item() -> None:
    answer = fit(BOX, Sheet((*STRAIGHTS[:2], *TURNS)))
    pairs = [words for words in answer.unknown if " cannot be told apart by these tests: " in words]
    assert len(pairs) > 1
    text = fit_text(answer, "Box", "tests.csv", 10_000)
    (item,) = [line for line in text.splitlines() if "cannot be told apart" in line]
    assert all(words.partition(" cannot")[0] in item for words in pairs)
    assert all(words.partition("tests: ")[2] in item for words in pairs)


def test_what_per_root_metre_means_is_said_where_it_stands() -> None:
    assert "Per root metre" in fit_text(fit(BOX, Sheet(STRAIGHTS)), "Box", "tests.csv")
    assert "Per root" not in fit_text(fit(BOX, Sheet(())), "Box", "tests.csv")


def test_the_worse_way_round_is_named() -> None:
    rows: list[tuple[Literal["cw", "ccw"], float, float]]
    rows = [("cw", 30.0, 28.0), ("cw", 29.0, 33.0), ("ccw", 11.0, -12.0), ("ccw", 9.0, -13.0)]
    tests = tuple(
        SquarePathTest(line=n, side=600.0, direction=way, return_x=x, return_y=y)
        for n, (way, x, y) in enumerate(rows, start=2)
    )
    text = fit_text(fit(BOX, Sheet(tests)), "Box", "tests.csv", 10_000)
    # By hand: the mean cw is (29.5, 30.5), 42.4 mm away; its standard error is below 2 mm.
    assert "Driven cw, the worse way round, the middle of where it ends is 42.4 mm from where it began" in text
    assert "began: that is more than chance." in text
