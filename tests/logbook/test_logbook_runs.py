"""The runs of a log: found by name or file, and every name in the log held against them."""

from __future__ import annotations

import shutil
from datetime import date
from pathlib import Path

import pytest

from fieldsim.logbook.runs import read_log
from fieldsim.model.errors import FileError


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
    found = read_log(path, TODAY)[1]
    assert {word: run.name for word, run in found.items()} == {
        "flour ROUND": "Flour round",
        "flour-round.yaml": "Flour round",
        "yard-bell": "Yard bell",
    }
    assert found["flour ROUND"] is found["flour-round.yaml"]


def test_names_in_capitals_are_the_fields_own(season: Path) -> None:
    path = log_file(season, "Flour round,touched,MILK Churn", "Flour round,missed,Flour Lid,6,FLOUR LID,60")
    log, _ = read_log(path, TODAY)
    assert [(entry.where, entry.target) for entry in log.entries] == [("milk churn", None), ("flour lid", "flour lid")]


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
        read_log(path, TODAY)[1]
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
        read_log(path, TODAY)[1]
    # One question, however many rows ask it.
    path = log_file(season, *["Flour round,through"] * 10, "flour round,through")
    with pytest.raises(FileError) as asked:
        read_log(path, TODAY)
    assert [problem.line for problem in asked.value.problems] == [2, 12]
    path = log_file(season, "second,through")
    assert read_log(path, TODAY)[1]["second"].name == "Flour round"


def test_what_is_wrong_in_a_run_is_said_too(season: Path) -> None:
    run = season / "flour-round.yaml"
    run.write_text(run.read_text(encoding="utf-8").replace("wear: [scoop]", "wear: [scop]"), encoding="utf-8")
    path = log_file(season, "Flour round,through", "Yard bel,through")
    with pytest.raises(FileError) as refused:
        read_log(path, TODAY)[1]
    assert {Path(problem.file).name for problem in refused.value.problems} == {"flour-round.yaml", "log.csv"}


# --- everything in one round -----------------------------------------------------------------------------------------

HEADER = "date,run,result,where,segment,target,miss mm,seconds s"
TODAY = date(2026, 11, 26)
# What the flour lid allows, in fields/bakery.yaml.
WITHIN = 26.0


def refused(folder: Path, *rows: str) -> list[tuple[int, int, str, str]]:
    """Line, column, message and hint of all that is wrong with a log of these rows; none if it is read."""
    path = folder / "log.csv"
    path.write_text("\n".join([HEADER, *rows, ""]), encoding="utf-8")
    try:
        log, runs = read_log(path, TODAY)
    except FileError as wrong:
        return [(each.line, each.column, each.message, each.hint) for each in wrong.problems]
    assert len(log.entries) == len(rows)
    assert runs
    return []


def test_a_good_log_is_read_with_its_runs(season: Path) -> None:
    rows = (
        "2026-11-20,Flour round,through,,,flour lid,13,15.4",
        "2026-11-27,flour-round.yaml,missed,flour lid,6,,,",
        "2000-01-01,Flour round,touched,milk churn,11,,,",
        ",Flour round,missed,flour lid,6,flour lid,31,",
        ",Yard bell,stopped,left wall,3,,,",
        ",Yard bell,missed,left wall,3,,,",
        # A tape is read in whole millimetres.
        f",Flour round,through,,,flour lid,{WITHIN + 0.5:g},",
    )
    assert refused(season, *rows) == []


def test_shape_names_and_contradictions_in_one_round(season: Path) -> None:
    rows = (
        "2026-11-20,Flour round,through,,,flour lid,lots,",
        "2026-11-20,Flour rund,through,,,,,",
        "2026-11-20,Flour round,touched,,,,,",
        "2026-11-20,Flour round,touched,milk churm,,,,",
        "2026-11-20,Flour round,missed,flour lid,40,,,",
        "2026-11-20,Flour round,through,,,flour lid,90,",
    )
    found = refused(season, *rows)
    assert [line for line, *_ in found] == [2, 3, 4, 5, 6, 7]
    for (_, _, message, hint), words in zip(
        found,
        (
            "'miss mm' must be",
            "there is no run 'Flour rund' beside the log",
            "'where' is empty",
            "names 'milk churm'",
            "'segment' is 40, but Flour round has 11 segments",
            "'result' is through, but 'miss mm' is 90",
        ),
        strict=True,
    ):
        assert words in message
        assert hint
    assert found[4][1] == 1 + rows[4].index("40")
    assert found[5][1] == 1 + rows[5].index("90")


def test_the_cell_is_underlined_and_not_the_same_digits_elsewhere(season: Path) -> None:
    ((_, column, _, _),) = refused(season, "2026-11-20,Flour round,stopped,,20,,,")
    assert column == 1 + len("2026-11-20,Flour round,stopped,,")


def test_a_hit_is_no_miss_and_a_miss_no_hit(season: Path) -> None:
    for row, words, hint in (
        (f",Flour round,through,,,flour lid,{WITHIN + 1:g},", "that is a miss", "write missed"),
        (",Flour round,missed,flour lid,,flour lid,9,", "'result' is missed, but 'miss mm' is 9", "write through"),
        (",Flour round,missed,flour lid,,,9,", "'result' is missed, but 'miss mm' is 9", "write through"),
        (",Flour round,missed,,,flour lid,9,", "that is a hit", "under 'where'"),
    ):
        ((line, column, message, told),) = refused(season, row)
        assert (line, column) == (2, row.rindex(",", 0, -1) + 2)
        assert words in message
        assert f"flour lid allows {WITHIN:g} mm" in message
        assert hint in told
    # It may have missed something else.
    assert refused(season, ",Flour round,missed,left start,,flour lid,9,") == []
    assert refused(season, ",Flour round,touched,milk churn,,flour lid,60,") == []


def test_a_target_may_be_missed_by_its_heading(season: Path) -> None:
    field = season.parent.parent / "fields" / "bakery.yaml"
    text = field.read_text(encoding="utf-8")
    old = "  - name: flour lid\n"
    assert text.count(old) == 1
    field.write_text(text.replace(old, f"{old}    heading: 90\n    heading_within: 5\n"), encoding="utf-8")
    assert refused(season, ",Flour round,missed,flour lid,,,9,") == []


def test_a_segment_that_is_not_that_act(season: Path) -> None:
    for row, words, hint in (
        (",Flour round,missed,flour lid,5,,,", "'where' is flour lid, but 'segment' is 5, which is a", "is segment 6"),
        (",Flour round,missed,,5,flour lid,60,", "'target' is flour lid, but 'segment' is 5", "is segment 6"),
        (",Yard bell,missed,yard bell,3,,,", "but 'segment' is 3, which is a square", "is segment 5"),
        (",Yard bell,missed,left wall,5,,,", "but 'segment' is 5, the act at yard bell", "left wall is segment 3"),
    ):
        ((line, _, message, told),) = refused(season, row)
        assert line == 2
        assert words in message
        assert hint in told
    # Where it touched or stopped says nothing of where a miss was measured.
    assert refused(season, ",Flour round,touched,flour bin,9,flour lid,12,") == []


def test_days_that_cannot_be(season: Path) -> None:
    for day, words, asked in (
        ("2026-11-28", "but today is 2026-11-26 by this computer's clock", "is it the right year"),
        ("1999-12-31", "accepted: the years 2000 to 2099", ""),
    ):
        ((line, column, message, hint),) = refused(season, f"{day},Flour round,through,,,,,")
        assert (line, column) == (2, 1)
        assert words in message
        assert day in message
        assert asked in hint


def test_cells_are_found_whatever_separates_them(season: Path) -> None:
    path = season / "log.csv"
    path.write_bytes('run;result;segment;note\r\n"Flour round";through;77;"77; naïve"\r\n'.encode("cp1252"))
    with pytest.raises(FileError) as wrong:
        read_log(path, TODAY)
    (problem,) = wrong.value.problems
    assert (problem.line, problem.column, problem.span) == (2, 23, 2)
    assert problem.source_line.startswith('"Flour round";through;77')


def test_a_file_that_is_not_there(tmp_path: Path) -> None:
    with pytest.raises(FileError, match="no such file"):
        read_log(tmp_path / "log.csv", TODAY)
