"""A thing of the field gets another name: the runs that name it are found, asked about and changed. The field is the
invented bakery's."""

from __future__ import annotations

import shutil
import time
from collections.abc import Iterator
from pathlib import Path

import pygame
import pytest

from fieldsim.files import load_field, load_run
from fieldsim.model import Field
from fieldsim.window.dials import Refused
from fieldsim.window.field.app import FieldDesk
from fieldsim.window.field.runs import followers, renamed
from fieldsim.window.field.things import Handle, rename, things
from fieldsim.window.history import History
from fieldsim.window.paint.frame import Layers

ROOT = Path(__file__).parents[3]
SIZE = (1280, 800)


@pytest.fixture
def bakery(tmp_path: Path) -> Path:
    """A copy of the demo season; its field's file."""
    for part in ("fields", "runs"):
        shutil.copytree(ROOT / part, tmp_path / part)
    return tmp_path / "fields" / "bakery.yaml"


def thing(field: Field, kind: str, name: str) -> Handle:
    return next(handle for handle, each in things(field) if handle.kind == kind and each.name == name)


def called(history: History[Field], kind: str, old: str, new: str) -> History[Field]:
    made = rename(history.state, thing(history.state, kind, old), new)
    assert not isinstance(made, Refused)
    return history.push(made, "")


def runs(field: Path) -> list[Path]:
    return sorted((field.parent.parent / "runs" / "bakery").glob("*.yaml"))


def texts(field: Path) -> dict[str, str]:
    return {path.name: path.read_text(encoding="utf-8") for path in runs(field)}


def test_names_over_many_steps_back_and_forth(bakery: Path) -> None:
    begun = History.begun(load_field(bakery))
    one = called(begun, "target", "yard bell", "gong")
    two = called(one, "target", "gong", "big gong")
    assert renamed(two) == {("target", "yard bell"): "big gong"}
    assert renamed(two.undo()) == {("target", "yard bell"): "gong"}
    assert renamed(two.undo().undo()) == {}
    # Two names exchanged by way of a third.
    swapped = called(
        called(called(begun, "target", "lever", "x"), "target", "tub tap", "lever"), "target", "x", "tub tap"
    )
    assert renamed(swapped) == {("target", "lever"): "tub tap", ("target", "tub tap"): "lever"}
    # Saved with the new name, and undone since: it has the old one again.
    kept = History(two.steps, two.at, two.state)
    assert renamed(kept.undo().undo()) == {("target", "big gong"): "yard bell"}
    # A jig and a target of the same name are two things.
    assert renamed(called(begun, "jig", "gate block", "lever block")) == {("jig", "gate block"): "lever block"}


def test_the_runs_that_follow_are_changed_in_these_words_only(bakery: Path) -> None:
    base = load_field(bakery)
    history = called(called(History.begun(base), "target", "yard bell", "gong"), "obstacle", "mill", "old mill")
    found = followers(bakery, base, history)
    assert [path.name for path in found.texts] == ["yard-bell.yaml"]
    before = texts(bakery)["yard-bell.yaml"]
    assert next(iter(found.texts.values())) == before.replace("act: yard bell", "act: gong")
    assert found.stuck == {}
    assert "'yard bell' is 'gong' now" in found.question().lines[0]
    # A jig that three runs start from.
    started = followers(bakery, base, called(History.begun(base), "jig", "corner block", "corner piece"))
    assert {path.name for path in started.texts} == {
        name for name, text in texts(bakery).items() if "start: corner block" in text
    }
    assert len(started.texts) >= 2


def test_what_is_gone_is_said_and_other_files_do_not_matter(bakery: Path) -> None:
    base = load_field(bakery)
    fewer = History.begun(base).push(
        Field(**{**vars(base), "targets": tuple(each for each in base.targets if each.name != "yard bell")}), ""
    )
    (bakery.parent.parent / "runs" / "broken.yaml").write_text("run: [bakery segments", encoding="utf-8")
    (bakery.parent.parent / "runs" / "bytes.yaml").write_bytes(b"\xff\xfe segments bakery")
    elsewhere = bakery.parent.parent / "runs" / "bakery" / "elsewhere.yaml"
    elsewhere.write_text(
        texts(bakery)["yard-bell.yaml"].replace("../../fields/bakery.yaml", "practice.yaml"), encoding="utf-8"
    )
    found = followers(bakery, base, fewer)
    assert found.texts == {}
    assert {path.name: why for path, why in found.stuck.items()} == {"yard-bell.yaml": "it names 'yard bell'"}
    assert "Save all the same?" in found.question().lines[-1]
    assert not followers(bakery, base, History.begun(base))


# --- in the window --------------------------------------------------------------------------------------------------


@pytest.fixture
def desk(bakery: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[FieldDesk]:
    monkeypatch.setenv("SDL_VIDEODRIVER", "dummy")
    pygame.display.init()
    pygame.font.init()
    pygame.display.set_mode(SIZE)
    made = FieldDesk(bakery, SIZE, 1.0, folder=tmp_path / "kept")
    yield made
    made.close()
    pygame.quit()


def press(desk: FieldDesk, key: int, mod: int = 0) -> None:
    pygame.event.post(pygame.event.Event(pygame.KEYDOWN, key=key, unicode="", mod=mod))
    for event in pygame.event.get():
        desk.handle(event)
    desk.tick(time.perf_counter())
    surface = pygame.display.get_surface()
    assert surface is not None
    desk.draw(surface, Layers())


def renames(desk: FieldDesk, kind: str, old: str, new: str) -> None:
    session = desk.session
    assert session is not None
    made = rename(session.field, thing(session.field, kind, old), new)
    session.change(made, "another name")


def test_saving_changes_the_runs_if_that_is_wanted(desk: FieldDesk, bakery: Path) -> None:
    session = desk.session
    assert session is not None
    before = texts(bakery)
    renames(desk, "target", "yard bell", "gong")
    press(desk, pygame.K_s, pygame.KMOD_CTRL)
    assert session.asked == "runs"
    assert session.over is not None
    assert session.over[0] == "A run names what has changed here"
    # Going back saves nothing.
    press(desk, pygame.K_ESCAPE)
    assert session.asked is None
    assert session.unsaved
    assert texts(bakery) == before
    press(desk, pygame.K_s, pygame.KMOD_CTRL)
    press(desk, pygame.K_y)
    assert not session.unsaved
    after = texts(bakery)
    assert [name for name in before if before[name] != after[name]] == ["yard-bell.yaml"]
    assert load_run(bakery.parent.parent / "runs" / "bakery" / "yard-bell.yaml").field == session.field


def test_saving_can_leave_the_runs_alone(desk: FieldDesk, bakery: Path) -> None:
    session = desk.session
    assert session is not None
    before = texts(bakery)
    renames(desk, "line", "kerb", "edge of the street")
    renames(desk, "target", "yard bell", "gong")
    press(desk, pygame.K_s, pygame.KMOD_CTRL)
    press(desk, pygame.K_n)
    assert not session.unsaved
    assert texts(bakery) == before
    assert any(each.name == "gong" for each in load_field(bakery).targets)
    # A thing no run names is saved without asking.
    renames(desk, "obstacle", "milk churn", "can")
    press(desk, pygame.K_s, pygame.KMOD_CTRL)
    assert session.asked is None
    assert any(each.name == "can" for each in load_field(bakery).obstacles)
