"""A robot shaped by hand: the session by plain events and by chance, its window, its file. All invented."""

from __future__ import annotations

import random
import re
import shutil
from collections.abc import Iterator
from pathlib import Path

import pygame
import pytest

from fieldsim.files import load_robot, load_run, new_season
from fieldsim.model.errors import FileError
from fieldsim.report.phrases import how_often_shortly
from fieldsim.report.words.base import amount
from fieldsim.studies.attempt import attempt
from fieldsim.studies.base import base
from fieldsim.window.keys import ROBOT_KEYS
from fieldsim.window.paint.layers import Layers
from fieldsim.window.paint.robot import paint_robot
from fieldsim.window.record import without_a_screen
from fieldsim.window.robot import app
from fieldsim.window.robot.app import RobotDesk, picture_robot, runs_of
from fieldsim.window.robot.session import MIDDLE, ROBOT_TOOLS, TOLD, RobotSession
from fieldsim.window.robot.shape import PartOf, parts_of, spots_of
from fieldsim.window.robot.view import RobotView

ROOT = Path(__file__).parents[3]
BOX = ROOT / "runs" / "bakery" / "box-one.yaml"
SIZE = (1366, 768)


@pytest.fixture
def session() -> RobotSession:
    return RobotSession(load_robot(BOX), SIZE)


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    new_season(tmp_path / "season")
    return tmp_path / "season"


@pytest.fixture
def desk(folder: Path, tmp_path: Path) -> Iterator[RobotDesk]:
    with without_a_screen():
        made = RobotDesk(folder / "robot.yaml", SIZE, 1.0, folder=tmp_path / "kept")
        yield made
        made.close()


def grip(session: RobotSession, what: str, by: tuple[float, float]) -> None:
    """Drag what is gripped by so many mm."""
    spot = next(spot for spot in session.spots if spot.what == what)
    at = session.pixel(spot.at)
    to = at[0] + by[0] * session.camera.zoom, at[1] - by[1] * session.camera.zoom
    session.moved(*at)
    session.pressed(*at)
    session.moved((at[0] + to[0]) / 2, (at[1] + to[1]) / 2)
    session.moved(*to)
    session.released(*to)


def take(session: RobotSession, kind: str) -> None:
    session.pressed(*session.places.button(f"tool {kind}").centre)
    session.released(*session.places.button(f"tool {kind}").centre)


def write(session: RobotSession, words: str) -> None:
    for letter in words:
        session.key(letter)
        session.text(letter)


def test_the_body_is_dragged_side_by_side(session: RobotSession) -> None:
    before = session.robot.body
    grip(session, "front", (12.0, 5.0))
    assert session.robot.body.length == pytest.approx(before.length + 12.0, abs=1.0)
    assert session.robot.body.axle == before.axle
    grip(session, "rear", (-7.0, 0.0))
    assert session.robot.body.axle == pytest.approx(before.axle + 7.0, abs=1.0)
    front = session.robot.body.length - session.robot.body.axle
    assert front == pytest.approx(before.length - before.axle + 12.0, abs=1.0)
    grip(session, "left", (0.0, 10.0))
    assert session.robot.body.width == pytest.approx(before.width + 20.0, abs=2.0)
    # Each drag is one step.
    for _ in range(3):
        session.key("ctrl z")
    assert session.robot.body == before


def test_the_track_is_dragged_by_its_wheels(session: RobotSession) -> None:
    take(session, "drive")
    before = session.robot.drive.track
    grip(session, "wheel right", (4.0, -6.0))
    assert session.robot.drive.track == pytest.approx(before + 12.0, abs=2.0)


@pytest.mark.parametrize("kind", ["caster", "sensor", "attachment"])
def test_parts_are_added_dragged_and_taken_away(session: RobotSession, kind: str) -> None:
    before = session.robot
    take(session, kind)
    part = session.part
    assert part.kind == kind
    assert part in parts_of(session.robot)
    spot = session.spots[0]
    grip(session, spot.what, (-9.0, 8.0))
    moved = session.spots[0].at
    assert moved == pytest.approx((spot.at[0] - 9.0, spot.at[1] + 8.0), abs=1.0)
    session.key("delete")
    assert session.robot == before
    assert session.part == PartOf("body")


def test_the_weight_is_one(session: RobotSession) -> None:
    session.key("m")
    first = session.robot.weight
    assert first is not None
    session.key("b")
    take(session, "weight")
    assert session.robot.weight == first
    session.key("delete")
    assert session.robot.weight is None


def test_the_body_cannot_be_taken_away(session: RobotSession) -> None:
    before = session.robot
    session.key("delete")
    assert session.robot == before
    assert session.toast


def test_numbers_are_typed(session: RobotSession) -> None:
    write(session, "172.5")
    session.key("return")
    assert session.robot.body.length == 172.5
    session.key("down")
    session.key("page up")
    assert session.robot.body.width == load_robot(BOX).body.width + 10.0
    write(session, "-4")
    session.key("return")
    # Refused, told, and still there to be put right.
    assert session.entry is not None
    assert session.entry.wrong
    assert session.toast


def test_what_is_told_is_what_base_says(session: RobotSession) -> None:
    grip(session, "left", (0.0, 10.0))
    numbers = {number.id: number for number in base(session.robot).numbers}
    assert dict(session.told) == {numbers[name].words: amount(numbers[name]).partition(" (")[0] for name in TOLD}
    scene = RobotView(session).scene()
    assert scene.spin == numbers["spin_radius"].value


def test_escape_takes_a_drag_back(session: RobotSession) -> None:
    before = session.robot
    at = session.pixel(session.spots[0].at)
    session.pressed(*at)
    session.moved(at[0] + 60, at[1])
    assert session.robot != before
    session.key("escape")
    assert session.robot == before
    session.moved(at[0] + 90, at[1])
    assert session.robot == before


def test_a_press_picks_what_is_there(session: RobotSession) -> None:
    caster = spots_of(session.robot, PartOf("caster", 1))[0]
    at = session.pixel(caster.at)
    session.pressed(*at)
    session.released(*at)
    assert session.part == PartOf("caster", 1)


def random_events(session: RobotSession, count: int, seed: int) -> int:
    """So many events by chance; the robot is always one that can be, and what is shown is true of it. How many robots
    that made one after the other."""
    chance = random.Random(seed)
    keys = [key for each in ROBOT_KEYS for key in each.keys] + list("0123456789.-")
    view = RobotView(session)
    now, made, last = 0.0, 0, session.robot
    for n in range(count):
        now += 0.05
        at = chance.uniform(0, session.places.size[0]), chance.uniform(0, session.places.size[1])
        if chance.random() < 0.3 and session.spots:
            at = session.pixel(chance.choice(session.spots).at)
        match chance.randrange(9):
            case 0 | 1:
                session.key(chance.choice(keys))
            case 2:
                session.text(chance.choice(("1", "25", "-", "x", ".")))
            case 3:
                session.wheel(*at, chance.choice((-1.0, 0.4, 2.0)))
            case 4:
                session.pressed(*at, chance.choice(("left", "left", "right")))
            case 5:
                session.released(*at)
            case 6:
                session.moved(*at)
            case 7:
                session.pressed(*at)
                session.moved(at[0] + chance.uniform(-40, 40), at[1] + chance.uniform(-40, 40))
                if chance.random() < 0.2:
                    session.key("escape")
                session.released(*at)
            case _:
                session.resize(chance.choice(((900, 600), SIZE, (1920, 1080))))
        session.tick(now)
        session.wants.clear()
        assert session.part in parts_of(session.robot)
        if n % 10 == 0:
            scene = view.scene()
            assert scene.run.robot is session.robot
        made, last = made + (session.robot is not last), session.robot
    return made


@pytest.mark.parametrize("seed", range(2))
def test_nothing_breaks_by_chance(session: RobotSession, seed: int) -> None:
    assert random_events(session, 300, seed) > 5


@pytest.mark.slow
def test_nothing_breaks_in_thousands(session: RobotSession) -> None:
    assert random_events(session, 15_000, 7) > 250


def test_it_is_painted_at_every_size(session: RobotSession) -> None:
    with without_a_screen():
        for size, scale in (((640, 420), 1.0), ((1280, 720), 1.0), ((3840, 2160), 2.0)):
            session.resize(size, scale)
            session.key("f")
            for part in parts_of(session.robot):
                session.pick(part)
                paint_robot(pygame.Surface(size), RobotView(session).scene(), Layers())
            for spot in session.spots:
                assert session.places.field.contains(*session.pixel(spot.at))
        names = {name for name, _ in session.places.buttons}
        assert {f"tool {name}" for name in ROBOT_TOOLS} <= names


# --- the desk ------------------------------------------------------------------------------------------------------


def test_its_runs_are_counted_with_it(desk: RobotDesk, folder: Path) -> None:
    session = desk.session
    assert session is not None
    assert [run.name for run in session.runs] == ["First run"]
    while session.shown is None or session.shown.answer is None:
        desk.tick(1.0)
    assert re.fullmatch(r"gets through \d+ (in|of) \d+", session.odds)
    # Another robot has other odds: they are counted anew.
    grip(session, "left", (0.0, 15.0))
    run = session.run
    assert run is not None
    assert run.robot == session.robot
    while session.shown is None or session.shown.run != run:
        desk.tick(2.0)


def test_it_is_saved_with_its_comments(desk: RobotDesk, folder: Path) -> None:
    session = desk.session
    assert session is not None
    grip(session, "front", (10.0, 0.0))
    session.key("c")
    session.key("ctrl s")
    desk.tick(1.0)
    assert not session.history.dirty
    said = (folder / "robot.yaml").read_text()
    assert load_robot(folder / "robot.yaml") == session.robot
    assert "Measure your own" in said
    assert "between the points where the wheels touch" in said
    assert load_run(folder / "first-run.yaml").robot == session.robot


def test_leaving_asks_and_a_crash_loses_nothing(desk: RobotDesk, tmp_path: Path, folder: Path) -> None:
    session = desk.session
    assert session is not None
    grip(session, "front", (10.0, 0.0))
    shaped = session.robot
    desk.crash_copy()
    desk.live.close(wait=2.0)
    session.key("ctrl b")
    desk.tick(1.0)
    assert session.asked == "quit"
    session.key("b")
    assert desk.running
    desk.recovery._clock = lambda: 1e9  # type: ignore[method-assign]
    desk.close()
    with without_a_screen():
        again = RobotDesk(folder / "robot.yaml", SIZE, 1.0, folder=tmp_path / "kept")
        assert again.session is not None
        assert again.session.asked == "recover"
        again.session.key("t")
        again.tick(1.0)
        assert again.session.robot == shaped
        again.close()


def test_a_file_changed_elsewhere_comes_in(desk: RobotDesk, folder: Path) -> None:
    path = folder / "robot.yaml"
    path.write_text(path.read_text().replace("width: 130", "width: 142"))
    for now in (10.0, 11.0, 12.0, 13.0):
        desk.tick(now)
    assert desk.session is not None
    assert desk.session.robot.body.width == 142.0


def test_a_robot_with_a_mistake_is_told(folder: Path, tmp_path: Path) -> None:
    (folder / "robot.yaml").write_text("robot: Broken\n")
    with without_a_screen():
        desk = RobotDesk(folder / "robot.yaml", SIZE, 1.0, folder=tmp_path / "kept")
        assert desk.session is None
        assert desk.trouble is not None
        desk.draw(pygame.Surface(SIZE), Layers())
        desk.close()
    with pytest.raises(FileError):
        picture_robot(folder / "robot.yaml", tmp_path / "out.png")


def test_a_picture_tells_the_odds_of_a_run(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    seen = []
    monkeypatch.setattr(app, "paint_robot", lambda surface, scene, layers: seen.append(scene.odds_words))
    picture_robot(ROOT / "runs" / "bakery" / "box-one.yaml", tmp_path / "out.png")
    ((run, words),) = seen
    success = attempt(load_run(ROOT / "runs" / "bakery" / "flour-round.yaml"), trials=10_000).answer.success
    assert run == "Flour round"
    assert words == f"gets through {how_often_shortly(success, 10_000)}"


def test_runs_of_a_robot(tmp_path: Path) -> None:
    shutil.copytree(ROOT / "runs", tmp_path / "runs")
    shutil.copytree(ROOT / "fields", tmp_path / "fields")
    names = {run.name for run in runs_of(tmp_path / "runs" / "bakery" / "box-one.yaml")}
    assert "Flour round" in names
    assert MIDDLE > 1000.0
