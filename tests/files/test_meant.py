"""What was meant by a file's name or a key that is none, and what is kept out of a mistake's words."""

from __future__ import annotations

from pathlib import Path

import pytest
from catalogs import OTHERS

from fieldsim.files import check, load_match, load_run
from fieldsim.files.meant import called, looks_like_ours
from fieldsim.language import choose
from fieldsim.model import Field, Robot
from fieldsim.model.errors import FileError, Problem
from fieldsim.model.segments import KINDS

FIELD = "field: Harbour\nsize: [2000, 1000]\n"
ROBOT = "robot: Box\nbody: {length: 160, width: 140, axle: 50}\ndrive: {track: 120, wheel: 60}\n"
RUN = (
    "run: Quay\nfield: ../fields/sea.yaml\nrobot: box.yaml\nstart: {at: [500, 500], heading: 0}\n"
    "segments:\n  - straight: 100\n"
)


@pytest.fixture
def season(tmp_path: Path) -> Path:
    (tmp_path / "fields").mkdir()
    (tmp_path / "runs").mkdir()
    (tmp_path / "fields/sea.yaml").write_text(FIELD)
    (tmp_path / "runs/box.yaml").write_text(ROBOT)
    (tmp_path / "runs/quay.yaml").write_text(RUN)
    return tmp_path


def problems(path: Path) -> tuple[Problem, ...]:
    with pytest.raises(FileError) as refused:
        load_run(path)
    return refused.value.problems


@pytest.mark.parametrize(
    "text",
    [
        "secret:x:0:0\n",
        "password: hunter\n",
        "- secret\n",
        "key = secret\n",
        "[section]\nkey: secret: more\n",
        "secret",
    ],
)
def test_what_stands_in_a_strange_file_is_not_said(season: Path, text: str) -> None:
    (season / "other.txt").write_text(text)
    path = season / "runs/quay.yaml"
    path.write_text(RUN.replace("../fields/sea.yaml", "../other.txt"))
    (found,) = problems(path)
    assert found.file.endswith("other.txt")
    assert found.message == "this is neither a field, a robot, a run nor a match"
    said = str(found)
    assert not any(word in said for word in ("secret", "hunter", "section", "password", " | "))


@pytest.mark.parametrize("text", ["feild: Harbour\n", "size: [2000, 1000]\nobstacles: []\n", "field: [1\nsize: 2\n"])
def test_a_line_of_a_file_that_looks_like_ours_is_shown(season: Path, text: str) -> None:
    (season / "fields/sea.yaml").write_text(text)
    assert looks_like_ours(season / "fields/sea.yaml")
    assert any(found.source_line for found in problems(season / "runs/quay.yaml"))


def test_the_name_of_a_field_or_robot_leads_to_its_file(season: Path) -> None:
    path = season / "runs/quay.yaml"
    path.write_text(RUN.replace("../fields/sea.yaml", "harbour").replace("box.yaml", "Box"))
    field, robot = problems(path)
    assert field.hint == "did you mean '../fields/sea.yaml'?"
    assert robot.hint == "did you mean 'box.yaml'?"
    # Two of that name: nobody can say which.
    (season / "fields/bay.yaml").write_text(FIELD)
    assert called(Field, "Harbour", path.parent) is None
    assert called(Robot, "Harbour", path.parent) is None
    assert called(Field, "Box", path.parent) is None


@pytest.mark.parametrize(
    ("line", "meant"),
    [
        ("forward: 300", "straight: 300"),
        ("Forwards: +300", "straight: 300"),
        ("backward: 20.5", "straight: -20.5"),
        ("back: -20", "straight: 20"),
        ("left: 45", "turn: 45"),
        ("turn_right: 45", "turn: -45"),
        ("right: a bit", "turn: -90"),
        ("pause: 3", "wait: 3"),
    ],
)
def test_another_word_for_a_segment_is_written_as_ours(season: Path, line: str, meant: str) -> None:
    path = season / "runs/quay.yaml"
    path.write_text(RUN.replace("straight: 100", line))
    (found,) = problems(path)
    words = ", ".join(kind.key for kind in KINDS)
    assert found.hint == f"write {meant}\na segment begins with one of: {words}"
    # And that is a segment.
    path.write_text(RUN.replace("straight: 100", meant))
    assert len(load_run(path).segments) == 1


@pytest.mark.parametrize("language", OTHERS)
def test_another_language_says_it_too(season: Path, language: str) -> None:
    path = season / "runs/quay.yaml"
    path.write_text(RUN.replace("straight: 100", "forward: 300").replace("../fields/sea.yaml", "Harbour"))
    choose(language)
    try:
        field, segment = problems(path)
    finally:
        choose("en")
    assert "../fields/sea.yaml" in field.hint
    assert "straight: 300" in segment.hint
    assert not field.hint.startswith("did you mean")
    assert not segment.hint.startswith("write")


def test_one_mistake_is_said_once_however_its_file_is_named(season: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    (season / "fields/sea.yaml").write_text("field: Harbour\nsize: [2000, wide]\n")
    monkeypatch.chdir(season)
    absolute = season / "runs/quay.yaml"
    assert len(check(["runs/quay.yaml", absolute, "fields/sea.yaml", "runs/../fields/sea.yaml"]).problems) == 1
    Path("runs/day.yaml").write_text(f"match: Day\nruns:\n  - run: quay.yaml\n  - run: {absolute}\n")
    with pytest.raises(FileError) as refused:
        load_match("runs/day.yaml")
    assert len([each for each in refused.value.problems if "sea.yaml" in each.file]) == 1
