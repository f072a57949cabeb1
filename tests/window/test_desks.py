"""Desks laid over each other in one window: opened, gone back from, closed with nothing lost. All invented."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pygame
import pytest

from fieldsim.files import load_field, load_run, new_season
from fieldsim.window.doors import doors
from fieldsim.window.field.app import FieldDesk
from fieldsim.window.loop import Desk, Opening, run_desks
from fieldsim.window.paint.writer import Writer
from fieldsim.window.record import without_a_screen
from fieldsim.window.robot.app import RobotDesk
from fieldsim.window.run.app import RunDesk
from fieldsim.window.season.app import SeasonDesk
from fieldsim.window.studies.app import StudiesDesk

SIZE = (1280, 800)


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setenv("XDG_STATE_HOME", str(tmp_path / "state"))
    monkeypatch.setenv("HOME", str(tmp_path))
    new_season(tmp_path / "season")
    return tmp_path / "season"


class Hands:
    """Does one thing after the other: each is done in a frame of the desk that is seen then, whose type it is."""

    def __init__(self, *steps: tuple[type[Desk], Any]) -> None:
        self.steps = list(steps)
        self.seen: list[str] = []

    def watched(self, desk: Desk) -> Desk:
        tick = desk.tick

        def once(now: float) -> None:
            tick(now)
            if not self.steps or not desk.running or desk.opens is not None:
                return
            kind, step = self.steps[0]
            assert isinstance(desk, kind), (type(desk), kind)
            self.steps.pop(0)
            self.seen.append(type(desk).__name__)
            step(desk)

        desk.tick = once  # type: ignore[method-assign]
        return desk


@pytest.fixture
def screen() -> Iterator[None]:
    with without_a_screen():
        pygame.display.set_mode(SIZE)
        yield


def drive(hands: Hands, first: Opening) -> None:
    plain = doors()

    def made(opening: Opening, size: tuple[int, int], scale: float) -> Desk:
        return hands.watched(plain(opening, size, scale))

    run_desks(made(first, SIZE, 1.0), made)
    assert hands.steps == []


def act(name: str) -> Any:
    return lambda desk: desk.session.do(name)


def keys(*pressed: str) -> Any:
    def step(desk: Desk) -> None:
        for key in pressed:
            desk.session.key(key)
            if len(key) == 1:
                desk.session.text(key)

    return step


def pick(name: str) -> Any:
    def step(desk: Any) -> None:
        number = next(n for n, item in enumerate(desk.session.season.items) if item.name == name)
        desk.session.pick(f"item {number}")
        desk.session.do("open")

    return step


def test_from_the_season_into_each_window_and_back(folder: Path, screen: None) -> None:
    hands = Hands(
        (SeasonDesk, pick("First run")),
        (RunDesk, act("studies")),
        (StudiesDesk, keys("escape")),
        (RunDesk, act("season")),
        (SeasonDesk, pick("First robot")),
        (RobotDesk, act("season")),
        (SeasonDesk, pick("Small yard")),
        (FieldDesk, act("season")),
        (SeasonDesk, act("quit")),
    )
    drive(hands, Opening("season", folder))
    assert len(hands.seen) == 9


def test_a_run_opened_by_name_goes_to_its_season(folder: Path, screen: None) -> None:
    drive(
        Hands((RunDesk, act("season")), (SeasonDesk, act("quit"))),
        Opening("run", folder / "first-run.yaml"),
    )


def test_closing_over_something_unsaved_asks_there(folder: Path, screen: None) -> None:
    before = load_run(folder / "first-run.yaml")
    drive(
        Hands(
            (RunDesk, keys("n")),
            (RunDesk, act("studies")),
            # Without saving first: the study asks the file.
            (RunDesk, keys("w")),
            (StudiesDesk, act("quit")),
            (RunDesk, lambda desk: None if desk.session.asked == "quit" else pytest.fail("nothing was asked")),
            (RunDesk, keys("s")),
        ),
        Opening("run", folder / "first-run.yaml"),
    )
    assert len(load_run(folder / "first-run.yaml").segments) == len(before.segments) + 1


def test_a_run_is_planned_on_the_field_that_is_drawn(folder: Path, screen: None) -> None:
    drive(
        Hands(
            (FieldDesk, act("plan")),
            (SeasonDesk, keys("return")),
            (RunDesk, lambda desk: None if desk.session.leading is not None else pytest.fail("clicks do not lead")),
            (RunDesk, act("quit")),
        ),
        Opening("field", folder / "yard.yaml"),
    )
    assert load_run(folder / "new-run.yaml").field == load_field(folder / "yard.yaml")


# --- two windows on one file, and a folder that takes nothing ------------------------------------------------------


def test_a_second_window_asks_before_it_saves(folder: Path, screen: None, tmp_path: Path) -> None:
    desk = RunDesk(folder / "first-run.yaml", SIZE, 1.0, folder=tmp_path / "kept")
    try:
        assert desk.session is not None
        desk.session.key("n")
        text = (folder / "first-run.yaml").read_text().replace("wait: 0.5", "wait: 0.7")
        (folder / "first-run.yaml").write_text(text)
        desk.session.do("save")
        desk._serve_all()
        assert desk.session.asked == "stale"
        assert (folder / "first-run.yaml").read_text() == text
        desk.session.key("b")
        assert (folder / "first-run.yaml").read_text() == text
        desk.session.do("save")
        desk._serve_all()
        desk.session.key("s")
        desk._serve_all()
        said = (folder / "first-run.yaml").read_text()
        # Both changed the segments: those of here stay, and the others are in the copy.
        assert "wait: 0.5" in said
        assert (folder / "first-run.yaml.bak").read_text() == text
        assert load_run(folder / "first-run.yaml").segments == desk.session.run.segments
    finally:
        desk.close()


def test_a_field_saved_twice_keeps_both(folder: Path, screen: None, tmp_path: Path) -> None:
    desk = FieldDesk(folder / "yard.yaml", SIZE, 1.0, folder=tmp_path / "kept")
    try:
        assert desk.session is not None
        desk.session.do("draw box")
        desk.session.do("type")
        path = folder / "yard.yaml"
        path.write_text(path.read_text().replace("radius: 45", "radius: 47"))
        desk.session.do("save")
        desk._serve_all()
        assert desk.session.asked == "stale"
        desk.session.key("s")
        desk._serve_all()
        field = load_field(path)
        assert "radius: 47" in path.read_text()
        assert len(field.obstacles) == 3
    finally:
        desk.close()


def test_a_folder_that_takes_nothing_offers_another_one(
    folder: Path, screen: None, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    from fieldsim.model.errors import SaveError

    desk = RunDesk(folder / "first-run.yaml", SIZE, 1.0, folder=tmp_path / "kept")
    try:
        session = desk.session
        assert session is not None
        assert desk.files is not None

        def full(*_: object) -> None:
            raise SaveError("read-only")

        monkeypatch.setattr(desk.files, "save", full)
        session.key("n")
        session.do("save")
        desk._serve_all()
        assert session.asked == "unwritten"
        session.key("s")
        desk._serve_all()
        assert session.naming is not None
        for letter in str(tmp_path / "elsewhere" / "mine"):
            session.key(letter)
            session.text(letter)
        session.key("return")
        desk._serve_all()
        assert desk.path == tmp_path / "elsewhere" / "mine.yaml"
        assert load_run(desk.path).name == "mine"
    finally:
        desk.close()


def test_letters_of_other_scripts_come_from_the_system(screen: None, monkeypatch: pytest.MonkeyPatch) -> None:
    writer = Writer()
    assert writer.font_of("Größe", 13.0) is writer.font(13.0)
    missing = "\u4e2d"
    assert not writer._has(writer.font(13.0), missing)
    # Where the system has none the box stays; where it has one, that is taken. Ours stands in for it here.
    monkeypatch.setattr("fieldsim.window.paint.writer._others", lambda: ())
    assert writer.font_of(missing, 13.0) is writer.font(13.0)

    # A font of its own that has it: the same letters stand in for it here.
    monkeypatch.setattr("fieldsim.window.paint.writer._others", lambda: (str(writer.files[1]),))
    monkeypatch.setattr(writer, "_has", lambda font, text: font is not writer.font(13.0))
    other = writer.font_of(missing, 13.0)
    assert other is writer.others[13, str(writer.files[1])]
    assert writer.width(missing, 13.0) == other.size(missing)[0]
