"""The studies in the window: asked in the background through the catalog's records, shown, broken off. All invented."""

from __future__ import annotations

import random
import time
from pathlib import Path
from typing import Any

import pygame
import pytest

from fieldsim.catalog import STUDIES
from fieldsim.catalog.study import Outcome, Study
from fieldsim.files import new_season
from fieldsim.report.origin import Origin
from fieldsim.report.statement import Statement
from fieldsim.window.keys import STUDIES_KEYS
from fieldsim.window.paint.layers import Layers
from fieldsim.window.paint.studies import paint_studies
from fieldsim.window.record import without_a_screen
from fieldsim.window.studies import work
from fieldsim.window.studies.app import StudiesDesk
from fieldsim.window.studies.session import StudiesSession
from fieldsim.window.studies.work import CARD, Answered, Asking, answered, asked_of_a_run

SIZE = (1366, 768)


@pytest.fixture
def run(tmp_path: Path) -> Path:
    new_season(tmp_path / "season")
    return tmp_path / "season" / "first-run.yaml"


def press(session: StudiesSession, at: tuple[float, float]) -> None:
    session.moved(*at)
    session.pressed(*at)
    session.released(*at)


def test_every_study_of_one_run_is_in_the_list() -> None:
    names = {study.name for study in asked_of_a_run()}
    assert names >= {"try", "jigs", "slack", "widths", "causes"}
    assert not names & {"compare", "base", "match", "fit", "log"}
    assert names <= {study.name for study in STUDIES}


def test_what_is_shown_is_what_the_command_says(run: Path, tmp_path: Path) -> None:
    steps: list[tuple[int, int]] = []
    made = answered("jigs", run, tmp_path, lambda done, wanted: steps.append((done, wanted)))
    study = next(each for each in STUDIES if each.name == "jigs")
    given: dict[str, Any] = {option.name: option.default for option in study.options}
    given |= {"run_file": run, "folder": None, "every_trial": False}
    text = study.ask(study.read(given), given, lambda done, wanted: None).text(100, False)
    assert made.over
    assert made.headline
    assert " ".join(made.headline.split()) in " ".join(text.split())
    for line in made.advice:
        assert " ".join(line.split()) in " ".join(text.split())
    assert made.picture is not None
    assert made.picture.stat().st_size > 5_000
    assert made.report is not None
    assert "<html" in made.report.read_text(encoding="utf-8")
    assert steps


def test_the_card_is_a_page_to_print(run: Path, tmp_path: Path) -> None:
    made = answered(CARD, run, tmp_path, lambda done, wanted: None)
    assert made.report is not None
    assert made.report.read_bytes().startswith(b"%PDF")


def test_a_run_with_a_mistake_is_told(run: Path, tmp_path: Path) -> None:
    run.write_text("run: broken\n")
    made = answered("jigs", run, tmp_path, lambda done, wanted: None)
    assert made.wrong
    assert made.over


def slow_study(seen: list[str]) -> Study:
    """One that counts until it is broken off."""

    def ask(found: Any, given: Any, watch: Any) -> Outcome:
        seen.append("begun")
        for n in range(100_000):
            watch(n, 100_000)
            time.sleep(0.001)
        raise AssertionError("nobody broke it off")

    return Study("slow", "It takes long.", asked_of_a_run()[0].arguments, (), (), lambda given: None, ask, (), "")


def test_asking_is_broken_off(run: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    seen: list[str] = []
    monkeypatch.setattr(work, "STUDIES", (slow_study(seen),))
    asking = Asking(run)
    try:
        asking.ask("slow")
        while not asking.news():
            time.sleep(0.001)
        asking.cancel()
        while asking.busy:
            time.sleep(0.001)
        assert seen == ["begun"]
        # It can be asked again.
        asking.ask("slow")
        while len(seen) < 2:
            time.sleep(0.001)
    finally:
        folder = asking.folder
        assert asking.close()
    assert not folder.exists()


def test_a_mistake_of_ours_is_shown_and_not_the_end(run: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def broken(*_: object) -> Answered:
        raise ZeroDivisionError("invented")

    monkeypatch.setattr(work, "answered", broken)
    asking = Asking(run)
    try:
        asking.ask("jigs")
        found: dict[str, Answered] = {}
        while not found:
            found = asking.news()
        assert "ZeroDivisionError" in found["jigs"].wrong[1]
    finally:
        asking.close()


def test_the_list_goes_by_hand_and_by_keys() -> None:
    session = StudiesSession("Invented", asked_of_a_run(), SIZE)
    press(session, session.places.rows[1].centre)
    assert session.orders == [("ask", session.names[1])]
    assert session.actions == ("cancel",)
    # Pressed again it is not asked twice.
    press(session, session.places.rows[1].centre)
    assert len(session.orders) == 1
    session.learn({session.name: Answered(session.name, 300, 1000)})
    assert session.scene().rows[1][3] == pytest.approx(0.3)
    # Another one breaks off the one before.
    session.key("down")
    session.key("return")
    assert session.orders[-1] == ("ask", session.names[2])
    assert session.names[1] not in session.answers
    press(session, session.places.actions[0].centre)
    assert session.orders[-1] == ("cancel", session.names[2])
    assert session.answer is None
    session.key("escape")
    assert session.wants == {"season"}


def test_it_is_painted_at_every_size(tmp_path: Path) -> None:
    session = StudiesSession("Invented", asked_of_a_run(), SIZE)
    long = "The run gets through more often from the corner block than from anywhere else, and it is not luck. " * 3
    with without_a_screen():
        picture = tmp_path / "picture.png"
        pygame.image.save(pygame.Surface((700, 300)), str(picture))
        states = (
            None, Answered(session.name, 1, 3), Answered(session.name, over=True, wrong=("a mistake",)),
            Answered(session.name, over=True, headline=long, further=(long,), advice=(long, long), picture=picture,
                     report=picture),
            Answered(session.name, over=True, headline="short", picture=tmp_path / "gone.png"),
        )  # fmt: skip
        for size, scale in (((640, 420), 1.0), ((1280, 720), 1.0), ((3840, 2160), 2.0)):
            session.resize(size, scale)
            for state in states:
                session.answers = {} if state is None else {session.name: state}
                paint_studies(pygame.Surface(size), session.scene(), Layers())
            assert all(row.inside(session.places.list) for row in session.places.rows)
        for key in STUDIES_KEYS:
            session.key(key.keys[0])


def test_the_desk_asks_and_opens(run: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    opened: list[str] = []

    def ask(found: Any, given: Any, watch: Any) -> Outcome:
        def save(folder: Path, origin: Origin) -> list[Path]:
            (folder / "report.html").write_text(origin.command)
            return [folder / "report.html"]

        told = Statement("n", "t", (), "It is so.", ("Further.",), (), ("Do that.",))
        return Outcome(None, lambda width, colour: "", save, statement=lambda: told)

    study = Study("jigs", "", asked_of_a_run()[0].arguments, (), (), lambda given: given, ask, (), "")
    monkeypatch.setattr(work, "STUDIES", (study,))
    with without_a_screen():
        desk = StudiesDesk(run, SIZE, 1.0, show=lambda uri: opened.append(uri) or True)
        monkeypatch.setattr(desk, "session", StudiesSession("x", (study,), SIZE))
        try:
            press(desk.session, desk.session.places.rows[0].centre)
            while desk.session.answer is None or not desk.session.answer.over:
                desk.tick(1.0)
            assert desk.session.answer.headline == "It is so."
            assert desk.session.answer.advice == ("Do that.",)
            press(desk.session, desk.session.places.actions[0].centre)
            desk.tick(2.0)
            assert opened[0].endswith("report.html")
        finally:
            desk.close()


def random_events(session: StudiesSession, count: int, seed: int) -> set[str]:
    """So many events by chance; one study at most is being asked. What was ordered on the way."""
    chance = random.Random(seed)
    keys = [key for each in STUDIES_KEYS for key in each.keys] + list("xyz")
    ordered = set[str]()
    for _ in range(count):
        at = chance.uniform(0, session.places.size[0]), chance.uniform(0, session.places.size[1])
        match chance.randrange(6):
            case 0 | 1:
                session.key(chance.choice(keys))
            case 2:
                session.resize(chance.choice(((640, 420), SIZE, (1920, 1080))))
            case 3:
                session.wheel(*at, chance.choice((-1.0, 0.4, 2.0)))
            case 4:
                name = chance.choice(session.names)
                if name in session.answers:
                    session.learn({name: Answered(name, over=True, headline="x", report=Path("x"))})
            case _:
                press(session, at)
        ordered |= {what for what, _ in session.orders}
        session.orders.clear()
        session.wants.clear()
        scene = session.scene()
        assert sum(going is not None for _, _, _, going in scene.rows) <= 1
        assert len(scene.actions) in (1, 2)
    return ordered


@pytest.mark.parametrize("seed", range(2))
def test_nothing_breaks_by_chance(seed: int) -> None:
    assert {"ask", "cancel"} <= random_events(StudiesSession("Invented", asked_of_a_run(), SIZE), 900, seed)


@pytest.mark.slow
def test_nothing_breaks_in_thousands() -> None:
    ordered = random_events(StudiesSession("Invented", asked_of_a_run(), SIZE), 10_000, 7)
    assert ordered == {"ask", "cancel", "open"}
