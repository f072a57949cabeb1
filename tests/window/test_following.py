"""Files that others change: each change is told once, when it stands still; with every way an editor may write."""

from __future__ import annotations

import os
from pathlib import Path

import pytest
from examples import examples
from hypothesis import given, settings
from hypothesis import strategies as st

from fieldsim.window import following
from fieldsim.window.following import COARSE, EVERY, GONE, Follower

OLD = 1_700_000_000


class Table:
    """A file, a follower, and a clock that goes on by one look at a time."""

    def __init__(self, folder: Path, text: str | None = "start: corner\n") -> None:
        self.path = folder / "run.yaml"
        if text is not None:
            self.path.write_text(text)
        self.follower = Follower([self.path])
        self.now = 100.0

    def look(self, times: int = 1) -> list[Path]:
        found: list[Path] = []
        for _ in range(times):
            found += self.follower.changed(self.now)
            self.now += EVERY
        return found


@pytest.fixture
def table(tmp_path: Path) -> Table:
    made = Table(tmp_path)
    assert made.look(20) == []
    return made


def test_a_change_is_told_once_and_a_look_later(table: Table) -> None:
    table.path.write_text("start: other\n")
    assert table.look() == []
    assert table.look() == [table.path]
    assert table.look(30) == []


def test_a_change_before_the_first_look_is_told(tmp_path: Path) -> None:
    table = Table(tmp_path)
    table.path.write_text("start: other\n")
    assert table.look(4) == [table.path]


def test_between_looks_nothing_is_read(table: Table, monkeypatch: pytest.MonkeyPatch) -> None:
    table.look()

    def never(path: Path) -> None:
        raise AssertionError(path)

    with monkeypatch.context() as patch:
        patch.setattr(following, "_mark", never)
        for n in range(9):
            assert table.follower.changed(table.now - EVERY + n * EVERY / 10) == ()
    # And at a look a file that stands still is not read.
    monkeypatch.setattr(following, "_said", never)
    assert table.look(5) == []


def test_saving_the_same_again_tells_nothing(table: Table) -> None:
    table.path.write_text(table.path.read_text())
    assert table.look(10) == []


def test_back_to_what_it_was_tells_nothing(table: Table) -> None:
    before = table.path.read_text()
    table.path.write_text("start: other\n")
    table.look()
    table.path.write_text(before)
    assert table.look(10) == []


def test_an_editor_that_puts_a_new_file_in_its_place(table: Table) -> None:
    beside = table.path.with_suffix(".new")
    # Of the same size and time, so that only its number in the file system is another.
    beside.write_text("start: cornet\n")
    old = table.path.stat()
    os.utime(beside, ns=(old.st_atime_ns, old.st_mtime_ns))
    beside.replace(table.path)
    assert table.path.stat().st_mtime_ns == old.st_mtime_ns
    assert table.look(3) == [table.path]


def test_away_for_a_moment(table: Table) -> None:
    """Some editors move the old file away first; it is back before anyone need know."""
    table.path.rename(table.path.with_suffix(".bak"))
    assert table.look(2) == []
    table.path.write_text("start: other\n")
    assert table.look(3) == [table.path]


def test_away_and_back_the_same(table: Table) -> None:
    text = table.path.read_text()
    table.path.unlink()
    assert table.look(2) == []
    table.path.write_text(text)
    assert table.look(10) == []


@pytest.mark.parametrize("how", ["deleted", "emptied", "a folder"])
def test_away_for_good_is_told_once_and_so_is_coming_back(table: Table, how: str) -> None:
    table.path.unlink()
    if how == "emptied":
        table.path.touch()
    elif how == "a folder":
        table.path.mkdir()
    looks = 0
    while not table.look():
        looks += 1
        assert looks < 20
    assert looks * EVERY >= GONE
    assert table.look(20) == []
    if how == "a folder":
        table.path.rmdir()
    table.path.write_text("start: other\n")
    assert table.look(3) == [table.path]


def test_a_file_that_is_not_there_yet(tmp_path: Path) -> None:
    table = Table(tmp_path, None)
    assert table.look(10) == []
    table.path.write_text("start: corner\n")
    assert table.look(3) == [table.path]


def test_half_written(table: Table) -> None:
    """Told only when it has stood still: as long as there is more at each look, it waits."""
    with table.path.open("w") as file:
        for n in range(8):
            file.write(f"line: {n}\n")
            file.flush()
            assert table.look() == []
    assert table.look() == [table.path]
    assert table.look(10) == []


def test_written_to_while_it_is_read(table: Table, monkeypatch: pytest.MonkeyPatch) -> None:
    read = following._said

    def slow(path: Path) -> bytes:
        said = read(path)
        if path.stat().st_size < 60:
            with path.open("a") as file:
                file.write("more: 1\n")
        return said

    table.path.write_text("start: other\n")
    monkeypatch.setattr(following, "_said", slow)
    while table.path.stat().st_size < 60:
        assert table.look() == []
    assert table.look(3) == [table.path]


def test_two_changes_within_one_time_of_a_coarse_drive(table: Table) -> None:
    """A memory stick gives the same time to both, and they are of the same size."""
    table.path.write_text("start: one\n")
    os.utime(table.path, (OLD, OLD))
    assert table.look(3) == [table.path]
    with table.path.open("r+") as file:
        file.write("start: two\n")
    os.utime(table.path, (OLD, OLD))
    assert 4 * EVERY < COARSE
    assert table.look(3) == [table.path]


def test_a_file_another_program_lets_go_of(table: Table, monkeypatch: pytest.MonkeyPatch) -> None:
    """It could not be read for so long that it was told to be away; then it can be again, and nothing else changed."""
    read = following._said
    with monkeypatch.context() as patch:
        patch.setattr(following, "_said", lambda path: following.AWAY)
        table.path.write_text("start: other\n")
        assert table.look(20) == [table.path]
    assert read(table.path) != following.AWAY
    assert table.look(3) == [table.path]


def test_what_the_window_saves_itself_is_not_told(table: Table) -> None:
    table.path.write_text("start: mine\n")
    table.follower.saved(table.path)
    table.follower.saved(table.path.with_name("other.yaml"))
    assert table.look(10) == []
    table.path.write_text("start: theirs\n")
    assert table.look(3) == [table.path]


def test_following_others(table: Table, tmp_path: Path) -> None:
    """A run that names another robot: what is followed on keeps what is known, and a waiting change is not lost."""
    robot = tmp_path / "robot.yaml"
    robot.write_text("name: one\n")
    table.path.write_text("start: other\n")
    table.look()
    table.follower.follow([robot, table.path, robot])
    assert table.follower.paths == (robot, table.path)
    assert table.look() == [table.path]
    table.follower.follow([robot])
    table.path.write_text("start: third\n")
    robot.write_text("name: two\n")
    assert table.look(5) == [robot]


def test_names_that_cannot_be(tmp_path: Path) -> None:
    follower = Follower([Path("a\0b"), tmp_path / ("x" * 5000), tmp_path])
    for n in range(10):
        assert follower.changed(float(n)) == ()


@settings(max_examples=examples(40))
@given(st.lists(st.sampled_from(["look", "a", "b", "delete", "empty", "replace", "touch"]), max_size=25))
def test_whatever_happens_the_last_state_is_told(tmp_path_factory: pytest.TempPathFactory, steps: list[str]) -> None:
    """After anything, what was told last is what the file says; and the same is never told twice in a row."""
    table = Table(tmp_path_factory.mktemp("any"), "a")

    def says() -> str:
        return table.path.read_text() if table.path.exists() else ""

    known = "a"

    def look(times: int) -> None:
        nonlocal known
        for _ in range(times):
            if table.look():
                assert says() != known
                known = says()

    for step in steps:
        match step:
            case "look":
                look(1)
            case "delete":
                table.path.unlink(missing_ok=True)
            case "empty":
                table.path.write_text("")
            case "replace":
                table.path.with_suffix(".new").write_text("c")
                table.path.with_suffix(".new").replace(table.path)
            case "touch":
                table.path.touch()
            case text:
                table.path.write_text(text)
    look(12)
    assert known == says()
