"""The runs of a log: found by name or file, and every name in the log held against them."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest

from fieldsim.errors import FileError
from fieldsim.files.sheets import load_log
from fieldsim.logbook import find_runs


@pytest.fixture
def season(tmp_path: Path) -> Path:
    shutil.copytree("fields", tmp_path / "fields")
    shutil.copytree("runs/bakery", tmp_path / "runs" / "bakery")
    return tmp_path / "runs" / "bakery"


def log_file(folder: Path, *rows: str) -> Path:
    path = folder / "log.csv"
    path.write_text("\n".join(["run,result,where,segment,target,miss mm", *rows, ""]), encoding="utf-8")
    return path


def test_runs_by_name_and_by_file(season: Path) -> None:
    path = log_file(season, "flour ROUND,through", "flour-round.yaml,through", "yard-bell,through")
    found = find_runs(path, load_log(path))
    assert {word: run.name for word, run in found.items()} == {
        "flour ROUND": "Flour round",
        "flour-round.yaml": "Flour round",
        "yard-bell": "Yard bell",
    }
    assert found["flour ROUND"] is found["flour-round.yaml"]


def test_everything_that_is_not_there_is_said_at_once(season: Path) -> None:
    path = log_file(
        season,
        "Flour rund,through",
        "Flour round,touched,milk churm",
        "Flour round,touched,flour lid",
        "Flour round,missed,flour lit,6,flour lit,9",
        "Flour round,stopped,,40",
    )
    with pytest.raises(FileError) as refused:
        find_runs(path, load_log(path))
    problems = refused.value.problems
    assert [problem.line for problem in problems] == [2, 3, 4, 5, 5, 6]
    assert all(problem.file == str(path) for problem in problems)
    text = str(refused.value)
    for words in ("did you mean 'Flour round'?", "did you mean 'milk churn'?", "did you mean 'flour lid'?"):
        assert words in text
    assert "no obstacle or wall of Bakery yard" in problems[2].message
    assert "'segment' is 40, but Flour round has 11 segments" in problems[5].message
    assert problems[1].source_line == "Flour round,touched,milk churm"
    assert problems[1].column == 21


def test_two_runs_of_one_name_are_told_apart_by_their_files(season: Path) -> None:
    shutil.copy(season / "flour-round.yaml", season / "second.yaml")
    path = log_file(season, "Flour round,through")
    with pytest.raises(FileError, match=r"may be any of 'flour-round.yaml', 'second.yaml'"):
        find_runs(path, load_log(path))
    path = log_file(season, "second,through")
    assert find_runs(path, load_log(path))["second"].name == "Flour round"


def test_what_is_wrong_in_a_run_is_said_too(season: Path) -> None:
    run = season / "flour-round.yaml"
    run.write_text(run.read_text(encoding="utf-8").replace("wear: [scoop]", "wear: [scop]"), encoding="utf-8")
    path = log_file(season, "Flour round,through", "Yard bel,through")
    with pytest.raises(FileError) as refused:
        find_runs(path, load_log(path))
    assert {Path(problem.file).name for problem in refused.value.problems} == {"flour-round.yaml", "log.csv"}
