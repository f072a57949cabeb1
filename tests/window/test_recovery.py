"""Recovery copies: whole or not there, offered when their window is gone, and never anyone else's."""

from __future__ import annotations

import json
import os
import subprocess
import sys
import time
from collections.abc import Callable
from pathlib import Path

import pytest
from examples import examples
from hypothesis import given, settings
from hypothesis import strategies as st

from fieldsim.window import recovery
from fieldsim.window.recovery import DAYS, EVERY, Offer, Recovery, state_folder


class Clock:
    """Seconds that go on only when told to."""

    def __init__(self) -> None:
        self.now = 0.0

    def __call__(self) -> float:
        return self.now


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    return tmp_path / "state" / "recovery"


@pytest.fixture
def run(tmp_path: Path) -> Path:
    path = tmp_path / "run.yaml"
    path.write_text("start: corner\n")
    return path


def crashed(folder: Path, path: Path, *texts: str, now: Callable[[], float] = time.time) -> None:
    """A window that kept copies and is no more. (Closing lets go of the lock, as the system does after a crash.)"""
    window = Recovery(folder, every=0.0, now=now)
    for text in texts:
        assert window.keep(path, text)
    window.close()


def offered(folder: Path, path: Path) -> Offer:
    found = Recovery(folder).offer(path)
    assert found is not None
    return found


def copies(folder: Path) -> list[Path]:
    return sorted(folder.glob("*.json"))


# --- keeping -------------------------------------------------------------------------------------------------------


def test_at_most_one_copy_a_second(folder: Path, run: Path) -> None:
    clock = Clock()
    window = Recovery(folder, clock=clock)
    assert window.keep(run, "one")
    clock.now = 0.99 * EVERY
    assert not window.keep(run, lambda: pytest.fail("it is not due"))
    # What is due at once is written, and the second begins anew.
    assert window.keep(run, "two", at_once=True)
    clock.now = 1.5 * EVERY
    assert not window.keep(run, "three")
    clock.now = 2.0 * EVERY
    assert window.keep(run, "four")
    assert [json.loads(place.read_text())["text"] for place in copies(folder)] == ["four"]
    window.close()


def test_the_same_text_is_not_written_again(folder: Path, run: Path) -> None:
    window = Recovery(folder, every=0.0)
    assert window.keep(run, "one")
    (place,) = copies(folder)
    before = place.stat().st_ino, place.stat().st_mtime_ns
    assert window.keep(run, lambda: "one")
    assert (place.stat().st_ino, place.stat().st_mtime_ns) == before
    # But if someone took it away, it is.
    place.unlink()
    assert window.keep(run, "one")
    assert copies(folder) == [place]
    window.close()


def test_a_folder_that_cannot_be_written_to(tmp_path: Path, run: Path) -> None:
    """A file stands where the folder should be; once it is gone, copies are kept."""
    folder = tmp_path / "state"
    folder.write_text("")
    window = Recovery(folder, every=0.0)
    assert not window.keep(run, "one")
    assert str(folder) in str(window.problem)
    assert window.offer(run) is None
    window.drop(run)
    folder.unlink()
    assert window.keep(run, "one")
    assert window.problem is None
    window.close()


def test_a_disk_that_fills_up_leaves_the_copy_before(folder: Path, run: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    window = Recovery(folder, every=0.0)
    assert window.keep(run, "one")

    def full(*_: object) -> None:
        raise OSError(28, "No space left on device")

    with monkeypatch.context() as patch:
        patch.setattr(recovery.os, "replace", full)
        assert not window.keep(run, "two")
    assert "No space left" in str(window.problem)
    # Nothing half is left, and the copy before is whole.
    assert [path.suffix for path in sorted(folder.iterdir())] == [".json", ".lock"]
    window.close()
    assert offered(folder, run).text == "one"


@pytest.mark.skipif(sys.platform == "win32", reason="rights of files are others there")
def test_copies_are_for_this_user_alone(folder: Path, run: Path) -> None:
    crashed(folder, run, "one")
    assert copies(folder)[0].stat().st_mode & 0o077 == 0


# --- offering ------------------------------------------------------------------------------------------------------


def test_a_copy_is_offered_after_a_crash_and_dropped_after_saving(folder: Path, run: Path) -> None:
    crashed(folder, run, "one", "two")
    window = Recovery(folder)
    found = window.offer(run)
    assert found is not None
    assert (found.path, found.text, found.file_changed, found.moved_from) == (run, "two", False, None)
    assert abs(found.saved_at - time.time()) < 60
    # Not taken and not refused: it is still there for the next window.
    assert offered(folder, run) == found
    assert window.keep(run, found.text)
    run.write_text(found.text)
    window.drop(run)
    assert copies(folder) == []
    assert Recovery(folder).offer(run) is None
    window.close()


def test_a_real_crash(folder: Path, run: Path) -> None:
    """A process that is ended in the middle of its work: its lock is let go of by the system, and by nothing else."""
    program = (
        "import sys; from pathlib import Path; from fieldsim.window.recovery import Recovery\n"
        f"window = Recovery(Path({str(folder)!r}))\n"
        f"print(window.keep(Path({str(run)!r}), 'start: mine'), flush=True)\n"
        "sys.stdin.read()\n"
    )
    with subprocess.Popen(
        [sys.executable, "-c", program], stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True
    ) as process:
        assert process.stdout is not None
        assert process.stdout.readline() == "True\n"
        # It lives: what it has is its own.
        other = Recovery(folder)
        assert other.offer(run) is None
        other.drop(run)
        assert len(copies(folder)) == 1
        process.kill()
        process.wait(30)
    assert offered(folder, run).text == "start: mine"


def test_two_windows_on_one_file(folder: Path, run: Path) -> None:
    """Also in one process. Each has its own copy; when one ends, the other's stays its own."""
    first, second = Recovery(folder, every=0.0), Recovery(folder, every=0.0)
    assert first.keep(run, "first")
    assert second.keep(run, "second")
    assert len(copies(folder)) == 2
    assert first.offer(run) is None
    second.drop(run)
    (place,) = copies(folder)
    assert json.loads(place.read_text())["text"] == "first"
    assert second.keep(run, "second again")
    first.close()
    found = second.offer(run)
    assert found is not None
    assert found.text == "first"
    second.close()


def test_of_two_that_crashed_the_newer_is_offered_then_the_older(folder: Path, run: Path) -> None:
    crashed(folder, run, "newer", now=lambda: 2e9)
    crashed(folder, run, "older", now=lambda: 2e9 - 5)
    window = Recovery(folder, now=lambda: 2e9)
    assert [window.offer(run), window.offer(run)] == [offered(folder, run)] * 2
    found = window.offer(run)
    assert found is not None
    assert found.text == "newer"
    window.drop(run)
    found = window.offer(run)
    assert found is not None
    assert found.text == "older"


@pytest.mark.parametrize("same", ["start: corner\n", "start: corner\r\n", "\ufeffstart: corner\n"])
def test_a_copy_that_says_what_the_file_says_is_not_offered(folder: Path, run: Path, same: str) -> None:
    crashed(folder, run, "other", "start: corner\n")
    run.write_bytes(same.encode())
    assert Recovery(folder).offer(run) is None


def test_what_the_clocks_say_does_not_count_if_the_file_is_as_it_was(folder: Path, run: Path) -> None:
    """A server's clock may be hours ahead of this machine's."""
    crashed(folder, run, "mine")
    ahead = time.time() + 7200
    os.utime(run, (ahead, ahead))
    assert not offered(folder, run).file_changed


def test_a_file_that_was_changed_since(folder: Path, run: Path) -> None:
    crashed(folder, run, "mine")
    run.write_text("theirs")
    # Before the copy was made: the copy is newer, and the user is told.
    os.utime(run, (1e9, 1e9))
    assert offered(folder, run).file_changed
    # After it: the file is newer.
    ahead = time.time() + 60
    os.utime(run, (ahead, ahead))
    assert Recovery(folder).offer(run) is None


def test_a_file_that_was_deleted_or_never_saved(folder: Path, run: Path, tmp_path: Path) -> None:
    crashed(folder, run, "mine")
    run.unlink()
    assert offered(folder, run).text == "mine"
    new = tmp_path / "new.yaml"
    crashed(folder, new, "new")
    found = offered(folder, new)
    assert (found.text, found.file_changed) == ("new", False)


def test_a_file_that_was_moved(folder: Path, run: Path, tmp_path: Path) -> None:
    crashed(folder, run, "mine")
    moved = tmp_path / "season" / "renamed.yaml"
    moved.parent.mkdir()
    # A copy of the file is another file, as long as the old one is there.
    moved.write_text(run.read_text())
    assert Recovery(folder).offer(moved) is None
    run.unlink()
    found = offered(folder, moved)
    assert (found.text, found.moved_from) == ("mine", run.resolve())
    moved.write_text("something else")
    assert Recovery(folder).offer(moved) is None


def test_the_same_file_by_another_name(
    folder: Path, run: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    crashed(folder, run, "mine")
    monkeypatch.chdir(tmp_path)
    assert offered(folder, Path("run.yaml")).text == "mine"
    assert offered(folder, tmp_path / "state" / ".." / "run.yaml").text == "mine"
    link = tmp_path / "link.yaml"
    try:
        link.symlink_to(run)
    except OSError:
        pytest.skip("no links here")
    assert offered(folder, link).text == "mine"


# --- what is foreign, and what is old ------------------------------------------------------------------------------

WRONG: list[bytes] = [
    b"",
    b"{",
    b"\xff\xfe\x00",
    b"[" * 100_000,
    b"null",
    b"[]",
    b'{"what": "something else"}',
]
FIELDS: list[tuple[str, object]] = [
    ("owner", 3), ("owner", "../../etc"), ("owner", None), ("path", None), ("path", "a\0b"), ("base", 3),
    ("when", "now"), ("when", float("nan")), ("when", -1), ("when", 10**400), ("text", None), ("text", ["a"]),
]  # fmt: skip


@pytest.mark.parametrize("content", WRONG, ids=range(len(WRONG)))
def test_anything_else_in_the_folder_is_left_alone(folder: Path, run: Path, content: bytes) -> None:
    crashed(folder, run, "mine")
    foreign = [folder / "0.json", folder / "notes.txt", folder / "x.lock", folder / "film.part"]
    for place in foreign:
        place.write_bytes(content)
        os.utime(place, (1e9, 1e9))
    (folder / "folder.json").mkdir()
    assert offered(folder, run).text == "mine"
    assert all(place.read_bytes() == content for place in foreign)


@pytest.mark.parametrize(("field", "value"), FIELDS)
def test_a_copy_with_something_wrong_is_none(folder: Path, run: Path, field: str, value: object) -> None:
    crashed(folder, run, "mine")
    (place,) = copies(folder)
    good = json.loads(place.read_text())
    place.write_text(json.dumps({**good, field: value}))
    assert Recovery(folder).offer(run) is None
    assert place.exists()


def test_a_copy_cut_anywhere_never_crashes(folder: Path, run: Path) -> None:
    crashed(folder, run, "mine: é\n")
    (place,) = copies(folder)
    whole = place.read_bytes()
    for size in range(len(whole)):
        place.write_bytes(whole[:size])
        assert Recovery(folder).offer(run) is None


def test_a_file_that_is_no_text(folder: Path, run: Path) -> None:
    crashed(folder, run, "mine")
    run.write_bytes(b"\xff\xfe\x00\x80")
    os.utime(run, (1e9, 1e9))
    assert offered(folder, run).text == "mine"


def test_old_copies_and_what_is_left_over_go(folder: Path, run: Path) -> None:
    crashed(folder, run, "old")
    left = [folder / "0123456789abcdef.lock", folder / ".0123456789abcdef-0-x.part"]
    for place in left:
        place.touch()
    # They may be just being made.
    assert offered(folder, run).text == "old"
    assert all(place.exists() for place in left)
    later = Recovery(folder, now=lambda: time.time() + (DAYS + 1) * 86_400)
    assert later.offer(run) is None
    assert list(folder.iterdir()) == []


def test_no_copies_no_folder(folder: Path, run: Path) -> None:
    with Recovery(folder) as window:
        assert window.offer(run) is None
        window.drop(run)
    assert not folder.exists()


@settings(max_examples=examples(60))
@given(text=st.text(st.characters(), max_size=80))
def test_any_text_comes_back(tmp_path_factory: pytest.TempPathFactory, text: str) -> None:
    """Signs of all the world, line ends, lone halves of pairs."""
    base = tmp_path_factory.mktemp("any")
    crashed(base / "state", base / "run.yaml", text)
    assert offered(base / "state", base / "run.yaml").text == text


def test_state_folder(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    monkeypatch.setattr(sys, "platform", "linux")
    monkeypatch.setenv("HOME", str(tmp_path))
    monkeypatch.setenv("XDG_STATE_HOME", str(tmp_path / "told"))
    assert state_folder() == tmp_path / "told" / "fieldsim" / "recovery"
    # The specification: relative ones are to be ignored.
    monkeypatch.setenv("XDG_STATE_HOME", "told")
    assert state_folder() == tmp_path / ".local" / "state" / "fieldsim" / "recovery"
    monkeypatch.delenv("XDG_STATE_HOME")
    assert state_folder() == tmp_path / ".local" / "state" / "fieldsim" / "recovery"
    monkeypatch.setattr(sys, "platform", "darwin")
    assert state_folder() == tmp_path / "Library" / "Application Support" / "fieldsim" / "recovery"
    monkeypatch.setattr(sys, "platform", "win32")
    monkeypatch.setenv("LOCALAPPDATA", str(tmp_path / "local"))
    assert state_folder() == tmp_path / "local" / "fieldsim" / "recovery"
