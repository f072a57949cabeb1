"""The starter season, which `fieldsim new` writes, and that it never takes the place of anything."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from fieldsim.files import check, load_field, load_robot, load_run, new_season
from fieldsim.files.sheets import load_sheet
from fieldsim.files.starter import FILES
from fieldsim.logbook.runs import read_log
from fieldsim.model.errors import SaveError


def test_a_new_season_loads(tmp_path: Path) -> None:
    folder = tmp_path / "deep" / "season"
    made = new_season(folder)
    assert [path.name for path in made] == list(FILES)
    assert sorted(made) == sorted(folder.iterdir())
    assert check(made).problems == ()
    run = load_run(folder / "first-run.yaml")
    assert len(run.segments) == 6
    assert run.field == load_field(folder / "yard.yaml")
    assert run.robot == load_robot(folder / "robot.yaml")


def test_the_examples_name_what_the_season_has(tmp_path: Path) -> None:
    """With the # in front of each example deleted, as the blank files say, every name is one of the season's."""
    new_season(tmp_path)
    for name in ("tests.csv", "log.csv"):
        text = (tmp_path / name).read_text(encoding="utf-8")
        (tmp_path / name).write_text(re.sub("^#(?=[0-9])", "", text, flags=re.MULTILINE), encoding="utf-8")
    sheet, (log, runs) = load_sheet(tmp_path / "tests.csv"), read_log(tmp_path / "log.csv")
    run = load_run(tmp_path / "first-run.yaml")
    assert {test.jig for test in sheet.placings} <= {jig.name for jig in run.field.jigs}
    assert {test.came_off for test in sheet.drops} <= {each.name for each in run.robot.attachments}
    for tests in (sheet.straights, sheet.turns, sheet.square_paths):
        assert {test.heading_from for test in tests} == {run.robot.drive.heading_from}
    # Raises FileError for a run, an obstacle, a target or a segment that is not there.
    assert set(runs.values()) == {run}
    assert len(log.entries) == 4


def test_an_empty_folder_is_filled(tmp_path: Path) -> None:
    assert sorted(new_season(tmp_path)) == sorted(tmp_path.iterdir())


@pytest.mark.parametrize("name", FILES)
def test_a_new_season_never_takes_the_place_of_a_file(tmp_path: Path, name: str) -> None:
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


@pytest.mark.parametrize("below", ["", "season"])
def test_a_season_cannot_be_written_where_a_file_is(tmp_path: Path, below: str) -> None:
    (tmp_path / "file").write_text("mine", encoding="utf-8")
    with pytest.raises(SaveError):
        new_season(tmp_path / "file" / below)
    assert (tmp_path / "file").read_text(encoding="utf-8") == "mine"
