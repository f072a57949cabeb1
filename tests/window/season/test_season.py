"""The window of a season by plain events, and what it does on the disk. All invented."""

from __future__ import annotations

import random
import shutil
from pathlib import Path
from typing import Any

import pygame
import pytest

from fieldsim.files import load_robot, load_run, new_season
from fieldsim.model import StartByEye, Wait
from fieldsim.model.errors import SaveError
from fieldsim.window.asking import answer_rects, answers_of
from fieldsim.window.keys import SEASON_KEYS
from fieldsim.window.loop import Opening
from fieldsim.window.paint.frame import Layers
from fieldsim.window.paint.season import paint_season
from fieldsim.window.record import without_a_screen
from fieldsim.window.season import files as disk
from fieldsim.window.season.app import SeasonDesk, picture_season
from fieldsim.window.season.counting import Counts, learn_now
from fieldsim.window.season.session import SeasonSession
from fieldsim.window.season.view import SeasonView

SIZE = (1366, 768)


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    new_season(tmp_path / "season")
    return tmp_path / "season"


@pytest.fixture
def session(folder: Path) -> SeasonSession:
    made = SeasonSession(disk.look(folder), SIZE)
    made.learn(learn_now(made.season.items, trials=50))
    return made


@pytest.fixture
def desk(folder: Path, tmp_path: Path) -> Any:
    with without_a_screen():
        made = SeasonDesk(folder, SIZE, 1.0, memory=tmp_path / "memory")
        yield made
        made.close()


def tile(session: SeasonSession, name: str) -> tuple[float, float]:
    """The middle of the tile of a file, or of something new."""
    key = next((f"item {n}" for n, item in enumerate(session.season.items) if item.name == name), name)
    return next(t.rect.centre for s in session.sections for t in s.tiles if t.key == key)


def press(session: SeasonSession, at: tuple[float, float]) -> None:
    session.moved(*at)
    session.pressed(*at)
    session.released(*at)


def action(session: SeasonSession, name: str) -> tuple[float, float]:
    return session.places.actions[session.actions.index(name)].centre


def write(session: SeasonSession, words: str) -> None:
    for letter in words:
        session.key(letter)
        session.text(letter)


# --- the folder ----------------------------------------------------------------------------------------------------


def test_a_season_is_what_lies_in_its_folder(folder: Path) -> None:
    (folder / "other.yaml").write_text("shopping: [milk]\n")
    (folder / "numbers.csv").write_text("a,b\n1,2\n")
    (folder / "trash").mkdir()
    shutil.copy(folder / "yard.yaml", folder / "trash" / "old.yaml")
    found = disk.look(folder)
    assert [(item.kind, item.path.name) for item in found.items] == [
        ("run", "first-run.yaml"), ("field", "yard.yaml"), ("robot", "robot.yaml"), ("match", "match.yaml"),
        ("tests", "tests.csv"),
        ("log", "log.csv"),
    ]  # fmt: skip
    assert [item.name for item in found.items[:3]] == ["First run", "Small yard", "First robot"]


def test_what_its_runs_name_elsewhere_belongs_to_it(folder: Path) -> None:
    inside = folder / "runs"
    inside.mkdir()
    shutil.move(folder / "first-run.yaml", inside / "first-run.yaml")
    text = (
        (inside / "first-run.yaml")
        .read_text()
        .replace("yard.yaml", "../yard.yaml")
        .replace("robot.yaml", "../robot.yaml")
    )
    (inside / "first-run.yaml").write_text(text)
    assert {item.kind for item in disk.look(inside).items} == {"run", "field", "robot"}


def test_a_folder_that_is_not_there_is_an_empty_season(tmp_path: Path) -> None:
    assert disk.look(tmp_path / "nowhere").items == ()


@pytest.mark.parametrize(
    ("name", "kind"),
    [("our-field.yaml", "field"), ("new_run.yaml", "run"), ("Robot 2.yml", "robot"), ("robots/box.yaml", "robot"),
     ("brunch.yaml", ""), ("flour-ruond.yaml", ""), ("run.txt", "")],
)  # fmt: skip
def test_a_missing_file_becomes_what_its_name_says(name: str, kind: str) -> None:
    assert disk.meant_by_name(Path(name)) == kind


def test_a_name_has_one_file(folder: Path) -> None:
    assert disk.free_name(folder, "Round trip, 2nd!").name == "round-trip-2nd.yaml"
    assert disk.free_name(folder, "First run").name == "first-run-2.yaml"
    assert disk.free_name(folder, "...").name == "new.yaml"
    assert disk.free_name(folder, "Türme").name == "türme.yaml"


def test_names_are_the_models(folder: Path) -> None:
    item = disk.look(folder).of("run")[0]
    with pytest.raises(SaveError):
        disk.rename(item, "  ")
    disk.rename(item, "Way: home # 1")
    assert load_run(item.path).name == "Way: home # 1"
    assert "between shed and barrel" in item.path.read_text()


def test_a_copy_is_another_run_with_its_comments(folder: Path) -> None:
    season = disk.look(folder)
    made = disk.duplicate(season.of("run")[0], [item.name for item in season.items])
    assert made.name == "first-run-2.yaml"
    assert load_run(made).name == "First run 2"
    assert load_run(made).segments == load_run(folder / "first-run.yaml").segments
    assert "between shed and barrel" in made.read_text()
    tests = disk.duplicate(season.of("tests")[0], [])
    assert tests.read_bytes() == (folder / "tests.csv").read_bytes()


def test_what_is_put_away_comes_back_and_replaces_nothing(folder: Path) -> None:
    season = disk.look(folder)
    item = season.of("run")[0]
    said = item.path.read_bytes()
    first = disk.put_away(season, item)
    item.path.write_bytes(b"run: other\n")
    second = disk.put_away(season, item)
    assert first != second
    disk.put_back(item.path, first)
    assert item.path.read_bytes() == said
    with pytest.raises(SaveError):
        disk.put_back(item.path, second)
    assert item.path.read_bytes() == said


def test_seasons_are_remembered(folder: Path, tmp_path: Path) -> None:
    memory = tmp_path / "memory"
    other = tmp_path / "other"
    other.mkdir()
    for each in (folder, other, folder):
        disk.remember_season(each, memory)
    assert disk.recent_seasons(memory) == (folder, other)
    other.rmdir()
    assert disk.recent_seasons(memory) == (folder,)
    (memory / "seasons.json").write_text("{nonsense")
    assert disk.recent_seasons(memory) == ()


def test_the_thread_says_what_all_at_once_says(folder: Path) -> None:
    season = disk.look(folder)
    now = learn_now(season.items, trials=250)
    counts = Counts(trials=250)
    counts.want(season.items)
    found: dict[Path, Any] = {}
    while counts.busy or len(found) < len(season.items):
        found.update(counts.news())
    found.update(counts.news())
    counts.close()
    run = season.of("run")[0].path
    assert found[run].answer.success == now[run].answer.success
    assert {path: known.value for path, known in found.items()} == {path: known.value for path, known in now.items()}


# --- the session ---------------------------------------------------------------------------------------------------


def test_a_press_picks_and_two_open(session: SeasonSession) -> None:
    at = tile(session, "First run")
    session.tick(10.0)
    press(session, at)
    assert session.item is not None
    assert session.item.name == "First run"
    session.tick(10.2)
    press(session, at)
    assert [order.what for order in session.orders] == ["open"]
    # Later it is two presses.
    session.orders.clear()
    session.tick(12.0)
    press(session, at)
    assert session.orders == []
    press(session, action(session, "open"))
    assert [order.what for order in session.orders] == ["open"]


def test_keys_go_about_the_shelf(session: SeasonSession) -> None:
    seen = []
    session.key("home")
    for _ in range(20):
        seen.append(session.chosen)
        session.key("right")
    keys = [tile.key for section in session.sections for tile in section.tiles]
    assert list(dict.fromkeys(seen)) == keys
    session.key("home")
    session.key("down")
    assert session.chosen == "item 1"
    session.key("up")
    assert session.chosen == "item 0"
    # What is begun by a press is begun by enter only, or it would be in the way.
    session.key("right")
    assert (session.chosen, session.form) == ("new run", None)


def test_a_run_is_begun_by_its_form(session: SeasonSession) -> None:
    session.key("n")
    # The letter that opened the form is no letter of the name.
    session.text("n")
    assert session.form is not None
    assert session.start_shown == "corner block"
    assert session.entry is not None
    assert session.entry.text == "New run"
    write(session, "Home")
    plus = session.places.rows[2][3]
    press(session, plus.centre)
    assert session.start_shown is None
    press(session, plus.centre)
    assert session.start_shown == "corner block"
    session.key("return")
    order = session.orders[0]
    assert (order.what, order.name) == ("begin run", "Home")
    assert order.form is not None
    assert order.form.field is not None
    assert order.form.field.name == "yard.yaml"
    session.key("escape")
    assert (session.form, session.entry) == (None, None)


def test_letters_of_a_name_do_nothing_else(session: SeasonSession) -> None:
    press(session, tile(session, "First run"))
    session.key("m")
    session.text("m")
    write(session, "pcdnh")
    session.key("delete")
    session.key("left")
    session.key("backspace")
    assert session.entry is not None
    assert session.entry.text == "pcdh"
    assert session.form is not None
    assert not session.help
    assert not session.orders
    assert session.asked is None


def test_putting_away_is_asked_with_buttons(session: SeasonSession) -> None:
    press(session, tile(session, "Small yard"))
    session.key("delete")
    assert session.asked == "delete"
    assert session.over is not None
    assert any("First run" in line for line in session.over[1])
    rects = answer_rects(session.places.field, session.places.unit, answers_of(session.asking))
    press(session, rects[1].centre)
    assert (session.asked, session.orders) == (None, [])
    session.key("delete")
    press(session, rects[0].centre)
    assert [order.what for order in session.orders] == ["delete"]


def test_a_missing_file_is_asked_about(session: SeasonSession, folder: Path) -> None:
    session.ask_for(folder / "tower.yaml", "")
    assert session.asked == "missing"
    session.key("r")
    assert session.form is not None
    assert (session.form.what, session.form.file) == ("run", folder / "tower.yaml")
    assert session.entry is not None
    assert session.entry.text == "Tower"
    session.ask_for(folder / "tower-robot.yaml", "robot")
    assert session.form.what == "robot"


def test_everything_is_seen_at_every_size(session: SeasonSession) -> None:
    with without_a_screen():
        for size, scale in (((640, 420), 1.0), ((1280, 720), 1.0), (SIZE, 1.0), ((3840, 2160), 2.0)):
            session.resize(size, scale)
            for chosen in (None, *(tile.key for section in session.sections for tile in section.tiles)):
                session.pick(chosen)
                paint_season(pygame.Surface(size), SeasonView(session).scene(), Layers())
                parts = [session.places.field, session.places.card, session.places.seasons]
                assert not any(a.overlaps(b) for a in parts for b in parts if a is not b)
            for _ in range(40):
                session.key("page down")
            last = session.sections[-1].tiles[-1].rect
            assert last.bottom <= session.places.field.bottom + 1 or session.scrolled == 0.0


def random_events(session: SeasonSession, count: int, seed: int) -> set[str]:
    """So many events by chance; whatever is done, what is shown is true of the session. What was asked of the disk and
    of the window on the way."""
    chance = random.Random(seed)
    keys = [key for each in SEASON_KEYS for key in each.keys] + list("abcyn")
    view = SeasonView(session)
    now, asked = 0.0, set[str]()
    for _ in range(count):
        now += chance.choice((0.01, 0.3, 3.0))
        at = chance.uniform(0, session.places.size[0]), chance.uniform(0, session.places.size[1])
        match chance.randrange(7):
            case 0:
                session.key(chance.choice(keys))
            case 1:
                session.text(chance.choice(("a", "7", "ü", " ", "nn", "\n")))
            case 2:
                session.wheel(*at, chance.choice((-2.0, -0.3, 1.0)))
            case 3:
                session.resize(chance.choice(((900, 600), SIZE, (1920, 1080))))
            case 4:
                session.moved(*at)
            case _:
                press(session, at)
        session.tick(now)
        asked |= {order.what for order in session.orders} | session.wants
        session.orders.clear()
        session.wants.clear()
        scene = view.scene()
        assert (session.form is None) == (scene.form == ())
        assert 0.0 <= session.scrolled <= max(0.0, session.high)
        assert session.entry is None or session.form is not None
    return asked


@pytest.mark.parametrize("seed", range(2))
def test_nothing_breaks_by_chance(session: SeasonSession, seed: int) -> None:
    assert len(random_events(session, 400, seed)) > 3


# --- the desk ------------------------------------------------------------------------------------------------------


def post(desk: SeasonDesk, key: int, letters: str = "", mod: int = 0) -> None:
    desk.handle(pygame.event.Event(pygame.KEYDOWN, key=key, mod=mod, unicode=letters))
    if letters:
        desk.handle(pygame.event.Event(pygame.TEXTINPUT, text=letters))


def test_a_run_from_nothing_is_written_and_opened(desk: SeasonDesk, folder: Path) -> None:
    post(desk, pygame.K_n, "n")
    for letter in "Bell":
        post(desk, ord(letter.lower()), letter)
    post(desk, pygame.K_RETURN)
    assert desk.opens == Opening("run", folder / "bell.yaml", "new")
    run = load_run(folder / "bell.yaml")
    assert (run.name, run.start, run.segments) == ("Bell", "corner block", (Wait(0.0),))
    desk.opens = None
    desk.resumed()
    assert desk.session.item is not None
    assert desk.session.item.name == "Bell"


def test_a_run_by_eye_a_robot_and_a_field(desk: SeasonDesk, folder: Path) -> None:
    session = desk.session
    desk.counts.want(session.season.items)
    session.learn(learn_now(session.season.items, trials=1))
    session.do("new run")
    press(session, session.places.rows[2][3].centre)
    post(desk, pygame.K_RETURN)
    assert isinstance(load_run(folder / "new-run.yaml").start, StartByEye)
    session.do("new robot")
    write(session, "Crate")
    post(desk, pygame.K_RETURN)
    assert load_robot(folder / "crate.yaml").name == "Crate"
    assert desk.opens == Opening("robot", folder / "crate.yaml")
    session.do("new field")
    post(desk, pygame.K_RETURN)
    assert desk.opens == Opening("field", folder / "new-field.yaml")


def test_a_new_season_is_what_the_command_writes(desk: SeasonDesk, folder: Path) -> None:
    desk.session.do("new season")
    write(desk.session, "autumn")
    post(desk, pygame.K_RETURN)
    assert desk.path == folder.parent / "autumn"
    assert sorted(each.name for each in desk.path.iterdir()) == sorted(each.name for each in folder.iterdir())
    # The season before can be gone back to.
    assert desk.session.recent == (folder,)
    press(desk.session, desk.session.places.season_rows[1].centre)
    desk.tick(1.0)
    assert desk.path == folder
    # A second one of that name replaces nothing, and says so.
    desk.session.do("new season")
    write(desk.session, "autumn")
    post(desk, pygame.K_RETURN)
    assert desk.session.error is not None
    assert desk.path == folder


def test_put_away_and_back_by_keys(desk: SeasonDesk, folder: Path) -> None:
    press(desk.session, tile(desk.session, "First run"))
    post(desk, pygame.K_DELETE)
    post(desk, pygame.K_p, "p")
    assert not (folder / "first-run.yaml").exists()
    assert (folder / "trash" / "first-run.yaml").exists()
    assert desk.session.season.of("run") == ()
    post(desk, pygame.K_z, mod=pygame.KMOD_CTRL)
    assert (folder / "first-run.yaml").exists()
    assert desk.session.item is not None


def test_files_made_elsewhere_come_in(desk: SeasonDesk, folder: Path) -> None:
    shutil.copy(folder / "robot.yaml", folder / "third.yaml")
    desk.tick(100.0)
    desk.tick(103.0)
    assert len(desk.session.season.of("robot")) == 2


def test_a_folder_that_takes_nothing_is_told(desk: SeasonDesk, monkeypatch: pytest.MonkeyPatch) -> None:
    def full(*_: object) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr("fieldsim.files.fresh.write_new", full)
    desk.session.do("new run")
    post(desk, pygame.K_RETURN)
    assert desk.session.error is not None
    assert any("No space left" in line for line in desk.session.error[1])
    assert desk.opens is None


def test_a_picture_of_a_season(folder: Path, tmp_path: Path) -> None:
    (folder / "first-run.yaml").write_text("run: First run\nfield: yard.yaml\nrobot: robot.yaml\n")
    out = picture_season(folder, tmp_path / "season.png", size=(900, 600))
    assert out.stat().st_size > 5_000


@pytest.mark.slow
def test_nothing_breaks_in_thousands(session: SeasonSession) -> None:
    assert len(random_events(session, 25_000, 7)) > 6
