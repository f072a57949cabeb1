"""The command as people meet it: its exit status, what it prints and what it leaves on the disk.

Results are shared; a process of its own is started only for what nothing else shows. The runs are the invented ones
shipped in ``runs/``.
"""

from __future__ import annotations

import csv
import json
import os
import shutil
import signal
import subprocess
import sys
from contextlib import suppress
from functools import partial
from pathlib import Path
from typing import Any
from xml.etree import ElementTree

import pytest
from commands import ROOT, fieldsim
from jsonschema.validators import validator_for

from fieldsim import load_run, simulate
from fieldsim.pages.saving import write_safely
from fieldsim.stats.intervals import half_width
from fieldsim.stats.intervals import wilson as wilson_interval

FLOUR = "runs/bakery/flour-round.yaml"
RUNS = sorted(path for path in (ROOT / "runs").rglob("*.yaml") if path.read_text(encoding="utf-8").find("\nrun:") >= 0)
ODD_NAME = '<b>&"x"'
SAVED = {"answer.json", "segments.csv", "trials.csv", "tables.xlsx", "run.svg", "run.png", "report.html"}
POSE_PARTS = 3

# design.md section 6: what scripts may rely on.
KEYS = {
    "command", "version", "run", "field", "robot", "trials", "seed", "success", "clear", "contacts", "clearance",
    "ribbon", "targets", "squares", "finish", "time",
}  # fmt: skip
LIST_KEYS = {
    "contacts": {"obstacle", "segment", "share", "low", "high"},
    "clearance": {"obstacle", "segment", "nominal", "p05", "p05_low", "p05_high", "median", "mean"},
    "ribbon": {"segment", "nominal", "p05", "median", "p95"},
    "targets": {"target", "segment", "share", "low", "high", "miss_median", "miss_p95"},
}
SHARE = {"share", "low", "high"}
BELL = "runs/bakery/yard-bell.yaml"


def answer_of(done: subprocess.CompletedProcess[str]) -> dict[str, Any]:
    assert done.returncode == 0, done.stderr
    answer = json.loads(done.stdout)
    assert isinstance(answer, dict)
    return answer


@pytest.fixture(scope="module")
def flour() -> subprocess.CompletedProcess[str]:
    return fieldsim("try", FLOUR, "--trials", "1000", "--json", "--threads", "2")


@pytest.fixture(scope="module")
def season(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """What `new` writes."""
    folder = tmp_path_factory.mktemp("new") / "season"
    done = fieldsim("new", folder)
    assert done.returncode == 0, done.stderr
    lines = done.stdout.splitlines()
    wrote = [line.removeprefix("wrote ") for line in lines if line.startswith("wrote ")]
    assert wrote == [
        str(folder / name)
        for name in ("yard.yaml", "robot.yaml", "first-run.yaml", "match.yaml", "tests.csv", "log.csv")
    ]
    # It ends with what to type next, and that works.
    assert "What to type next:" in lines
    for line in lines[lines.index("What to type next:") + 1 :]:
        words = line.split("   ")[0].split()
        assert words[0] == "fieldsim"
        assert words[1] in ("try", "watch", "check", "fit")
    return folder


@pytest.fixture(scope="module")
def broken(season: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The first run of `new` with a word spelled wrong in line 9."""
    folder = shutil.copytree(season, tmp_path_factory.mktemp("broken") / "season")
    run = folder / "first-run.yaml"
    text = run.read_text(encoding="utf-8")
    assert text.splitlines()[8].startswith("  - turn: -90")
    run.write_text(text.replace("- turn: -90", "- trun: -90"), encoding="utf-8")
    return run


@pytest.fixture(scope="module")
def odd_run(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The flour round under a name that HTML, XML and a careless page would read as a tag."""
    folder = tmp_path_factory.mktemp("odd")
    for part in ("fields", "runs"):
        shutil.copytree(ROOT / part, folder / part)
    run = folder / FLOUR
    text = run.read_text(encoding="utf-8")
    assert text.count("\nrun: Flour round\n") == 1
    run.write_text(text.replace("run: Flour round", f"run: '{ODD_NAME}'"), encoding="utf-8")
    return run


@pytest.fixture(scope="module")
def saved(odd_run: Path, tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, subprocess.CompletedProcess[str]]:
    folder = tmp_path_factory.mktemp("saved") / "deep" / "down"
    return folder, fieldsim("try", odd_run, "--trials", "300", "--seed", "3", "--save", folder)


@pytest.fixture(scope="module")
def rows(saved: tuple[Path, subprocess.CompletedProcess[str]]) -> list[dict[str, str]]:
    with (saved[0] / "trials.csv").open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def test_json_is_all_there_is_on_stdout_and_has_the_promised_keys(flour: subprocess.CompletedProcess[str]) -> None:
    answer = answer_of(flour)
    assert flour.stderr == ""
    assert answer.keys() >= KEYS
    assert (answer["command"], answer["run"], answer["trials"], answer["seed"]) == ("try", "Flour round", 1000, 1)
    for key, wanted in LIST_KEYS.items():
        assert answer[key], key
        for item in answer[key]:
            assert item.keys() >= wanted, key
    assert answer["finish"].keys() >= {"nominal", "mean", "sd", "covariance"}
    assert [len(row) for row in answer["finish"]["covariance"]] == [POSE_PARTS] * POSE_PARTS
    assert answer["time"].keys() >= {"nominal", "mean", "sd", "p95"}


def test_a_process_of_its_own_says_the_same(flour: subprocess.CompletedProcess[str]) -> None:
    words = [sys.executable, "-m", "fieldsim", "try", FLOUR, "--trials", "1000", "--json"]
    done = subprocess.run(words, cwd=ROOT, capture_output=True, check=False)
    assert (done.returncode, done.stdout, done.stderr) == (0, flour.stdout.encode(), b"")
    missing = subprocess.run([*words[:4], "nowhere.yaml"], cwd=ROOT, capture_output=True, encoding="utf-8", check=False)
    assert (missing.returncode, missing.stdout) == (2, "")
    assert missing.stderr == fieldsim("try", "nowhere.yaml").stderr == "nowhere.yaml:1:1: there is no such file\n"


def test_shares_and_lists_are_in_order(flour: subprocess.CompletedProcess[str]) -> None:
    answer = answer_of(flour)
    for share in (answer["success"], answer["clear"], *answer["contacts"], *answer["targets"]):
        assert 0 <= share["low"] <= share["share"] <= share["high"] <= 1
    assert answer["success"]["share"] <= answer["clear"]["share"]
    frequent = [contact["share"] for contact in answer["contacts"]]
    assert frequent == sorted(frequent, reverse=True)
    assert answer["clear"]["share"] + sum(frequent) == pytest.approx(1.0, abs=1e-12)
    tight = [gap["p05"] for gap in answer["clearance"]]
    assert tight == sorted(tight)
    assert all(gap["p05_low"] <= gap["p05"] <= gap["p05_high"] for gap in answer["clearance"])
    assert all(stretch["p05"] <= stretch["median"] <= stretch["p95"] for stretch in answer["ribbon"])
    assert answer["success"]["low"] == wilson_interval(round(answer["success"]["share"] * 1000), 1000).low


@pytest.mark.parametrize("run", RUNS, ids=lambda path: path.stem)
def test_shipped_runs_are_neither_hopeless_nor_sure(run: Path) -> None:
    assert 0.55 < simulate(load_run(run), 2000).share.share < 0.97


def test_there_are_runs_to_ship() -> None:
    assert {path.stem for path in RUNS} >= {"flour-round", "mill-hatch", "oven-lever", "practice-loop", "yard-bell"}


def test_same_seed_same_bytes_on_any_number_of_cores(flour: subprocess.CompletedProcess[str]) -> None:
    assert fieldsim("try", FLOUR, "--trials", "1000", "--json", "--threads", "1").stdout == flour.stdout
    other = answer_of(fieldsim("try", FLOUR, "--trials", "1000", "--json", "--threads", "3", "--seed", "2"))
    assert other["seed"] == 2
    assert other["finish"]["mean"] != answer_of(flour)["finish"]["mean"]
    assert other["finish"]["nominal"] == answer_of(flour)["finish"]["nominal"]


def test_text_says_what_the_json_says(saved: tuple[Path, subprocess.CompletedProcess[str]]) -> None:
    folder, done = saved
    assert (done.returncode, done.stderr) == (0, "")
    answer = json.loads((folder / "answer.json").read_text(encoding="utf-8"))
    got_through = round(answer["success"]["share"] * 300)
    assert f"Gets through {got_through} of 300 (" in done.stdout
    assert done.stdout.splitlines()[0] == f"{ODD_NAME}: Box one on Bakery yard, from corner block"
    assert "300 trials, seed 3" in done.stdout
    assert done.stdout.splitlines()[-1].startswith(
        "Saved answer.json, segments.csv, trials.csv, tables.xlsx, run.svg, run.png, report.html in "
    )


def test_saved_files_are_whole(
    saved: tuple[Path, subprocess.CompletedProcess[str]], rows: list[dict[str, str]]
) -> None:
    folder, _ = saved
    assert {path.name for path in folder.iterdir()} == SAVED
    answer = json.loads((folder / "answer.json").read_text(encoding="utf-8"))
    assert [int(row["trial"]) for row in rows] == list(range(1, 301))
    assert sum(int(row["success"]) for row in rows) == round(answer["success"]["share"] * 300)
    assert sum(row["contact"] == "" for row in rows) == round(answer["clear"]["share"] * 300)
    assert ElementTree.parse(folder / "run.svg").getroot().tag == "{http://www.w3.org/2000/svg}svg"
    assert (folder / "run.png").read_bytes().startswith(b"\x89PNG\r\n\x1a\n")


def test_report_stands_alone_and_escapes_names(saved: tuple[Path, subprocess.CompletedProcess[str]]) -> None:
    page = (saved[0] / "report.html").read_text(encoding="utf-8")
    assert '<h1>&lt;b&gt;&amp;"x"</h1>' in page
    assert "<b>" not in page
    assert "<svg" in page
    # Its own script, and what that plays; the names in it cannot end it.
    assert page.count("<script") == page.count("</script>") == 2
    assert 'src="http' not in page


def test_one_trial_is_the_row_of_that_number(odd_run: Path, rows: list[dict[str, str]]) -> None:
    clean = next(row for row in rows[1:] if row["success"] == "1")
    touching = next(row for row in rows if row["contact"])
    for row in (clean, touching):
        trial = answer_of(fieldsim("try", odd_run, "--seed", "3", "--trial", row["trial"], "--json"))
        assert trial["trial"] == int(row["trial"])
        assert trial["success"] == (row["success"] == "1")
        assert f"{trial['seconds']:.3f}" == row["seconds"]
        end = [f"{part:.3f}" for part in trial["legs"][-1]["pose"]]
        assert end == [row["end_x_mm"], row["end_y_mm"], row["end_heading_deg"]]
        if row["contact"]:
            name, segment, x, y = trial["contact"]
            assert [name, str(segment), f"{x:.2f}", f"{y:.2f}"] == [
                row[key] for key in ("contact", "contact_segment", "contact_x_mm", "contact_y_mm")
            ]
        else:
            assert trial["contact"] is None
            gaps = [float(value) for key, value in row.items() if key.startswith("clearance_")]
            least = min(leg["gap"] for leg in trial["legs"] if leg["gap"] is not None)
            assert least == pytest.approx(min(gaps), abs=0.001)


def test_one_trial_in_words() -> None:
    done = fieldsim("try", FLOUR, "--seed", "3", "--trial", "2")
    assert (done.returncode, done.stderr) == (0, "")
    assert done.stdout.splitlines()[0] == "Flour round: trial 2 of seed 3"
    act = next(line for line in done.stdout.splitlines() if "act: flour lid" in line)
    assert act.split("  ")[-1].startswith(("in place, ", "missed, "))
    assert all(line == line.rstrip() for line in done.stdout.splitlines())


def test_saving_again_replaces_every_file_and_leaves_nothing_behind(tmp_path: Path) -> None:
    for name in SAVED:
        (tmp_path / name).write_text("old", encoding="utf-8")
    (tmp_path / "notes.txt").write_text("mine", encoding="utf-8")
    done = fieldsim("try", "runs/bakery/practice-loop.yaml", "--trials", "200", "--json", "--save", tmp_path)
    assert {path.name for path in tmp_path.iterdir()} == SAVED | {"notes.txt"}
    assert all((tmp_path / name).read_bytes()[:4] != b"old" for name in SAVED)
    assert (tmp_path / "notes.txt").read_text(encoding="utf-8") == "mine"
    assert answer_of(done) == json.loads((tmp_path / "answer.json").read_text(encoding="utf-8"))


def test_a_file_that_cannot_be_finished_leaves_the_old_one(tmp_path: Path) -> None:
    place = tmp_path / "run.svg"
    place.write_text("old", encoding="utf-8")

    def half(path: Path) -> None:
        path.write_text("hal", encoding="utf-8")
        raise OSError("the disk is full")

    with pytest.raises(OSError, match="the disk is full"):
        write_safely(place, half)
    assert [path.name for path in tmp_path.iterdir()] == ["run.svg"]
    assert place.read_text(encoding="utf-8") == "old"


def test_a_place_that_cannot_be_saved_in_is_said(tmp_path: Path) -> None:
    (tmp_path / "taken").write_text("a file", encoding="utf-8")
    done = fieldsim("try", FLOUR, "--trials", "10", "--bare", "--save", tmp_path / "taken")
    assert done.returncode == 2
    assert f"cannot save in {tmp_path / 'taken'}" in done.stderr
    assert "Traceback" not in done.stderr


def test_bare_leaves_attachments_and_acts_out(flour: subprocess.CompletedProcess[str]) -> None:
    bare, full = answer_of(fieldsim("try", FLOUR, "--trials", "1000", "--bare", "--json")), answer_of(flour)
    assert (bare["bare"], full["bare"]) == (True, False)
    assert bare["targets"] == []
    assert len(bare["segments"]) == len(full["segments"]) - len(full["targets"])
    assert bare["success"]["share"] > full["success"]["share"]


@pytest.mark.parametrize(("need", "status", "met"), [("50%", 0, True), ("0.999", 1, False)])
def test_need_sets_the_exit_status(need: str, status: int, met: bool) -> None:
    done = fieldsim("try", FLOUR, "--trials", "300", "--need", need, "--json")
    assert (done.returncode, json.loads(done.stdout)["meets_need"]) == (status, met)


def test_half_width_is_reached_with_no_more_trials_than_it_takes() -> None:
    answer = answer_of(fieldsim("try", FLOUR, "--half-width", "1%", "--json"))
    n = answer["trials"]
    successes = round(answer["success"]["share"] * n)
    assert (answer["success"]["high"] - answer["success"]["low"]) / 2 <= 0.01
    assert half_width(wilson_interval(successes, n)) <= 0.01
    # At the share found, two thirds of the trials would not have been enough.
    assert half_width(wilson_interval(successes * 2 // 3, n * 2 // 3)) > 0.01


def test_a_broken_file_is_told_with_its_place(broken: Path) -> None:
    done = fieldsim("try", broken)
    assert (done.returncode, done.stdout) == (2, "")
    assert done.stderr.startswith(f"{broken}:9:5: ")
    assert "did you mean 'turn'?" in done.stderr
    assert "Traceback" not in done.stderr


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["--trials", "0"], "--trials"),
        (["--need", "nan"], "is not a share between 0 and 1"),
        (["--trials", "10", "--half-width", "1%"], "two ways to say how many trials"),
        (["--trial", "3", "--save", "nowhere"], "--trial shows one trial alone"),
    ],
)
def test_options_that_make_no_sense_are_refused(words: list[str], said: str) -> None:
    done = fieldsim("try", FLOUR, *words)
    assert (done.returncode, done.stdout) == (2, "")
    assert said in done.stderr
    assert not (ROOT / "nowhere").exists()


def test_check_speaks_of_good_files_and_of_bad_ones(season: Path, broken: Path) -> None:
    good = fieldsim("check", *sorted(season.iterdir()))
    assert (good.returncode, good.stderr) == (0, "")
    files = sorted(season.iterdir())
    lines = good.stdout.splitlines()
    assert [line.split(":")[0] for line in lines[: len(files)]] == [str(path) for path in files]
    # And what comes of the run when it is driven once.
    assert "first-run.yaml: driven once it touches nothing it may not; nearest is shed" in lines[len(files)]
    assert "the tool point is 5.0 mm from bell, 25 mm are allowed" in lines[len(files) + 1]
    bad = fieldsim("check", season / "yard.yaml", broken)
    assert bad.returncode == 2
    assert bad.stdout.startswith(f"{season / 'yard.yaml'}: a field")
    assert bad.stderr.startswith(f"{broken}:9:5: ")


def test_the_new_season_can_be_tried_and_is_not_written_over(season: Path) -> None:
    assert answer_of(fieldsim("try", season / "first-run.yaml", "--trials", "500", "--json"))["trials"] == 500
    before = (season / "first-run.yaml").read_bytes()
    again = fieldsim("new", season)
    assert again.returncode == 2
    assert "Traceback" not in again.stderr
    assert (season / "first-run.yaml").read_bytes() == before


def test_a_start_without_room_is_a_mistake_of_the_file(tmp_path: Path) -> None:
    """A body of 140 mm between two bars 138 mm apart: `check` names it with its place, `try` lets none through."""
    season = shutil.copytree(ROOT / "fields", tmp_path / "fields").parent
    shutil.copytree(ROOT / "runs", season / "runs")
    (season / "fields" / "slot.yaml").write_text(
        "field: Slot\nsize: [2000, 1000]\nobstacles:\n"
        "  - {name: left bar, box: {center: [500, 619], size: [600, 100]}}\n"
        "  - {name: right bar, box: {center: [500, 381], size: [600, 100]}}\n",
        encoding="utf-8",
    )
    run = season / "runs" / "bakery" / "slot-run.yaml"
    run.write_text(
        "run: Out\nfield: ../../fields/slot.yaml\nrobot: box-one.yaml\nstart: {at: [500, 500], heading: 0}\n"
        "segments:\n  - straight: 700\n",
        encoding="utf-8",
    )
    bad = fieldsim("check", run)
    assert bad.returncode == 2
    assert "slot-run.yaml:4:8: 'start' of the run would set the robot 1 mm into left bar" in bad.stderr
    assert "1 mm into right bar" in bad.stderr
    tried = answer_of(fieldsim("try", run, "--json", "--trials", "300"))
    assert tried["success"]["share"] == 0.0
    assert {each["obstacle"] for each in tried["contacts"]} <= {"left bar", "right bar"}


def test_a_square_that_cannot_be_reached_is_a_mistake_of_the_file(odd_run: Path, tmp_path: Path) -> None:
    season = shutil.copytree(odd_run.parents[2], tmp_path / "yard")
    run = season / BELL
    good = fieldsim("check", run)
    assert (good.returncode, good.stderr) == (0, "")
    text = run.read_text(encoding="utf-8")
    assert "reach: 120" in text
    run.write_text(text.replace("reach: 120", "reach: 60"), encoding="utf-8")
    bad = fieldsim("check", run)
    assert bad.returncode == 2
    line = next(n for n, words in enumerate(text.splitlines(), 1) if "reach: 120" in words)
    assert f"yard-bell.yaml:{line}:12: 'reach' of segment 3 is 60 mm, and it takes about 7" in bad.stderr
    assert "mm to get there" in bad.stderr
    away = text.replace("square: rear", "square: front")
    run.write_text(away, encoding="utf-8")
    assert "'against' of segment 3 is not in its way there" in fieldsim("check", run).stderr
    run.write_text(text.replace("reach: 120", "reach: 60"), encoding="utf-8")
    # It can be tried all the same, and says what becomes of it.
    tried = answer_of(fieldsim("try", run, "--json", "--trials", "500"))
    (square,) = tried["squares"]
    assert square["share"] < 0.05
    assert square["missed"][0]["why"] == "not reached"


def test_squares_are_in_every_form_of_the_answer(tmp_path: Path) -> None:
    answer = answer_of(fieldsim("try", BELL, "--json", "--trials", "1000"))
    (square,) = answer["squares"]
    assert square.keys() >= {"segment", "on", "missed", "before", "after"} | SHARE
    # The residual of the robot's file is the default: 0.3 degrees and 0.5 mm.
    assert square["after"]["heading"] == pytest.approx(0.3, rel=0.1)
    assert square["after"]["away"] == pytest.approx(0.5, rel=0.1)
    assert square["before"]["heading"] > 2 * square["after"]["heading"]
    text = fieldsim("try", BELL, "--details", "--trials", "50", "--save", tmp_path)
    assert "Squares and lines" in text.stdout
    assert 'id="square-3"' in (tmp_path / "run.svg").read_text(encoding="utf-8")
    with (tmp_path / "trials.csv").open(encoding="utf-8", newline="") as file:
        assert {row["lost_segment"] for row in csv.DictReader(file)} == {""}
    one = fieldsim("try", BELL, "--trial", "5").stdout
    assert "square rear on left wall" in one
    assert "caught" in one


def test_jigs_ranks_every_start(tmp_path: Path) -> None:
    words = ["jigs", FLOUR, "--trials", "500", "--json"]
    done = fieldsim(*words, "--save", tmp_path)
    answer = answer_of(done)
    assert (answer["command"], answer["keep"], answer["seed"]) == ("jigs", "targets", 1)
    assert {each["jig"] for each in answer["jigs"]} == {
        "corner block", "gate block", "dough block", "shelf block", "by eye",
    }  # fmt: skip
    for each in answer["jigs"]:
        assert each.keys() >= {"jig", "fits", "why", "success", "trials", "behind"}
        assert (each["success"] is None) == (each["why"] is not None) == (each["trials"] == 0)
    lost = [each["behind"]["share"] for each in answer["jigs"] if each["fits"]]
    assert lost == sorted(lost)
    assert lost[0] == 0
    assert {path.name for path in tmp_path.iterdir()} == {"answer.json", "jigs.svg", "jigs.png", "report.html"}
    assert json.loads((tmp_path / "answer.json").read_text(encoding="utf-8")) == answer
    assert fieldsim(*words, "--threads", "1").stdout == done.stdout
    text = fieldsim("jigs", FLOUR, "--trials", "500", "--need", "99%")
    assert text.returncode == 1
    assert "truly behind" in text.stdout
    assert "does not meet that" in text.stdout


@pytest.mark.usefixtures("small_maps")
def test_slack_says_how_far_off_the_start_may_be(tmp_path: Path) -> None:
    done = fieldsim("slack", FLOUR, "--trials", "20", "--json", "--save", tmp_path)
    answer = answer_of(done)
    assert answer["command"] == "slack"
    assert answer["slack"].keys() >= {"need", "x", "y", "heading"}
    assert answer["geometry"].keys() >= {"x", "y", "heading"}
    assert answer["map"].keys() >= {"x", "heading", "share"}
    assert [len(row) for row in answer["map"]["share"]] == [len(answer["map"]["x"])] * len(answer["map"]["heading"])
    for part in ("slack", "geometry"):
        for axis in ("x", "y", "heading"):
            low, high = answer[part][axis]
            assert low <= 0 <= high
    assert {path.name for path in tmp_path.iterdir()} == {"answer.json", "slack.svg", "slack.png", "report.html"}
    asked = fieldsim("slack", FLOUR, "--trials", "20", "--need", "99%")
    assert asked.returncode == 1
    assert "Even set as planned it gets through less often than wanted" in " ".join(asked.stdout.split())


def test_widths_finds_the_widest_base(tmp_path: Path) -> None:
    words = ["widths", "runs/bakery/mill-hatch.yaml", "--from", "170", "--to", "190", "--step", "10", "--trials", "300"]
    answer = answer_of(fieldsim(*words, "--json", "--save", tmp_path))
    assert answer.keys() >= {"vary", "values", "widest", "geometry"}
    assert (answer["command"], answer["vary"], answer["unit"]) == ("widths", "width", "mm")
    assert [each["value"] for each in answer["values"]] == [170, 176, 180, 190]
    assert answer["widest"].keys() >= {"value", "low", "high", "need", "obstacle", "segment"}
    assert answer["widest"]["low"] <= answer["widest"]["value"] <= answer["widest"]["high"]
    assert answer["widest"]["value"] < answer["geometry"]["value"]
    assert {path.name for path in tmp_path.iterdir()} == {"answer.json", "widths.svg", "widths.png", "report.html"}
    # The flour round turns about a wheel: there the track moves the path.
    pivots = ["widths", FLOUR, "--from", "130", "--to", "150", "--step", "10", "--trials", "100", "--json"]
    stays, moves = answer_of(fieldsim(*pivots)), answer_of(fieldsim(*pivots, "--track", "moves"))
    assert (stays["track_moves"], moves["track_moves"]) == (False, True)
    assert stays["values"][0] != moves["values"][0]
    assert stays["values"][1] == moves["values"][1]
    wanting = fieldsim(*words, "--need", "99%")
    assert wanting.returncode == 1
    assert "No body width that was looked at" in wanting.stdout
    for wrong in (["--vary", "wheel", "--track", "moves"], ["--from", "300", "--to", "200"]):
        refused = fieldsim("widths", FLOUR, *wrong)
        assert refused.returncode == 2
        assert "Error" in refused.stderr
        assert "Traceback" not in refused.stderr


def test_compare_tells_runs_apart_even_of_one_name(odd_run: Path, tmp_path: Path) -> None:
    answer = answer_of(fieldsim("compare", FLOUR, BELL, odd_run, "--trials", "500", "--json", "--save", tmp_path))
    assert answer.keys() >= {"runs", "differences", "trials", "seed"}
    assert [run["run"] for run in answer["runs"]] == ["Flour round", "Yard bell", ODD_NAME]
    assert [len(answer["differences"]), answer["differences"][1]["difference"]["share"]] == [3, 0]
    for pair in answer["differences"]:
        assert pair.keys() >= {"first", "second", "difference", "only_first", "only_second"}
    assert {path.name for path in tmp_path.iterdir()} == {"answer.json", "compare.svg", "compare.png", "report.html"}
    assert ODD_NAME not in (tmp_path / "report.html").read_text(encoding="utf-8")
    twice = answer_of(fieldsim("compare", FLOUR, FLOUR, "--trials", "100", "--json"))
    assert [run["run"] for run in twice["runs"]] == ["Flour round (flour-round)"] * 2
    alone = fieldsim("compare", FLOUR)
    assert alone.returncode == 2
    assert "at least two runs" in alone.stderr


def test_causes_names_sources_and_what_a_change_is_worth(tmp_path: Path) -> None:
    answer = answer_of(fieldsim("causes", FLOUR, "--trials", "300", "--json", "--save", tmp_path))
    assert answer.keys() >= {"spread", "failures", "mends"}
    assert answer["spread"][0].keys() >= {"of", "source", "segment", "first", "total"}
    assert answer["failures"][0].keys() >= {"source", "segment", "alone", "without"}
    worth = [each["worth"]["share"] for each in answer["failures"]]
    assert worth == sorted(worth, reverse=True)
    assert {path.name for path in tmp_path.iterdir()} == {"answer.json", "causes.svg", "causes.png", "report.html"}


@pytest.mark.parametrize("kind", ["field", "robot", "run", "match"])
def test_schema_is_a_schema(kind: str) -> None:
    schema = answer_of(fieldsim("schema", kind))
    validator_for(schema).check_schema(schema)
    assert kind in schema["required"]


def test_help_and_checks_of_what_is_not_driven_load_nothing_heavy() -> None:
    script = (
        "import sys\n"
        "from fieldsim.cli import program\n"
        "program.main(['try', '--help'], standalone_mode=False)\n"
        "print('help', [name for name in HEAVY if name in sys.modules], file=sys.stderr)\n"
        "program.main(['check', 'fields/bakery.yaml', 'runs/bakery/box-one.yaml'], standalone_mode=False)\n"
        "print('check', [name for name in HEAVY if name in sys.modules], file=sys.stderr)\n"
    ).replace("HEAVY", "('numpy', 'shapely', 'scipy', 'matplotlib')")
    done = subprocess.run([sys.executable, "-c", script], cwd=ROOT, capture_output=True, text=True, check=True)
    assert done.stderr.splitlines() == ["help []", "check []"]
    assert "--half-width" in done.stdout


@pytest.mark.skipif(sys.platform == "win32", reason="Windows has no signal that stands for Ctrl-C to one process")
def test_ctrl_c_gives_the_answer_so_far() -> None:
    """Minutes of work on a terminal, stopped as soon as its bar says that trials have been done."""
    import termios

    ours, theirs = os.openpty()
    termios.tcsetwinsize(theirs, (24, 80))
    process = subprocess.Popen(
        [sys.executable, "-m", "fieldsim", "try", FLOUR, "--trials", "100000000", "--threads", "1"],
        cwd=ROOT, stdout=subprocess.PIPE, stderr=theirs, encoding="utf-8",
        # Tests that are run in the background of a shell are deaf to it, and hand that on.
        preexec_fn=partial(signal.signal, signal.SIGINT, signal.SIG_DFL),
    )  # fmt: skip
    os.close(theirs)
    heard = b""
    try:
        with suppress(OSError):  # Linux: nobody has the other end any more
            while more := os.read(ours, 4096):
                heard += more
                if b"trials/s" in heard:
                    process.send_signal(signal.SIGINT)
                    break
            out, _ = process.communicate()
    finally:
        process.kill()
        process.wait()
        os.close(ours)
    assert process.returncode == 0, heard
    assert b"Traceback" not in heard
    stopped = next(line for line in out.splitlines() if line.startswith("Stopped early after "))
    done = int(stopped.split()[3])
    assert 0 < done < 100_000_000
    assert "Gets through" in out


def test_a_reader_that_leaves_early_is_no_mistake() -> None:
    process = subprocess.Popen(
        [sys.executable, "-m", "fieldsim", "schema", "run"], cwd=ROOT, stdout=subprocess.PIPE, stderr=subprocess.PIPE
    )
    assert process.stdout is not None
    assert process.stderr is not None
    process.stdout.close()
    with process.stderr:
        assert process.stderr.read() == b""
    assert process.wait() == 0
