"""Better numbers in the window: changes that a study found are shown one by one, taken, and undone. All invented."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import Any

import pygame
import pytest

from fieldsim.catalog.study import Outcome, Study
from fieldsim.files import load_run
from fieldsim.model import Run, Square, Straight
from fieldsim.planning.draft import Edit, applied
from fieldsim.report.statement import Statement
from fieldsim.window.menu import menu_rects
from fieldsim.window.offers import Offers
from fieldsim.window.paint.frame import Layers, paint
from fieldsim.window.record import without_a_screen
from fieldsim.window.run import leading
from fieldsim.window.run.app import RunDesk
from fieldsim.window.run.files import EditedRun
from fieldsim.window.run.session import RunSession
from fieldsim.window.run.view import RunView
from fieldsim.window.studies import work
from fieldsim.window.studies.app import StudiesDesk
from fieldsim.window.studies.session import StudiesSession
from fieldsim.window.studies.work import asked_of_a_run

BAKERY = Path(__file__).parents[3] / "runs" / "bakery"
FLOUR = load_run(BAKERY / "flour-round.yaml")
SIZE = (1366, 768)
CHANGES = (
    (("before segment 3: square", "alone 933 in 1000"),
     (Edit(2, "put in", put=(Square("rear", "left wall", 185.0),)), Edit(2, "distance", 560.0, 684.0))),
    (("segment 1: straight: 236", "alone 773 in 1000"), (Edit(0, "distance", 240.0, 236.0),)),
)  # fmt: skip


class Still:
    """Nobody counts trials."""

    def want(self, run: Run, ready: Any = None, *, bare: bool = False) -> int:
        return 0

    def news(self) -> None:
        return None


@pytest.fixture
def session() -> RunSession:
    return RunSession(EditedRun(FLOUR, BAKERY / "box-one.yaml"), Still(), SIZE)


def test_changes_are_shown_as_ghosts_and_taken_one_by_one(session: RunSession) -> None:
    leading.offer(session, Offers(FLOUR, CHANGES))
    scene = RunView(session).scene()
    assert scene.menu is not None
    assert [row[0] for row in scene.menu.rows] == [words for (words, _), _ in CHANGES]
    assert scene.menu.rows[0][1] == "alone 933 in 1000"
    # The ghost is the whole run as it would be: with the square it comes to the wall.
    assert scene.picked is not None
    assert scene.picked.path[:, 0].min() < 100.0
    session.key("down")
    session.key("return")
    assert session.run.segments[0] == Straight(236.0)
    assert session.leading is not None
    assert [wish.words for wish in session.leading.wishes] == [CHANGES[0][0][0]]
    session.key("1")
    assert session.run == applied(FLOUR, [edit for _, edits in CHANGES for edit in edits]).run
    assert session.leading is None
    assert "All of them are taken" in session.toast
    session.key("ctrl z")
    session.key("ctrl z")
    assert session.run == FLOUR


def test_a_press_takes_one_and_escape_none(session: RunSession) -> None:
    leading.offer(session, Offers(FLOUR, CHANGES))
    assert session.leading is not None
    assert session.leading.menu is not None
    _, rows = menu_rects(session.places.field, session.places.unit, session.leading.menu.at, 2)
    session.moved(*rows[1].centre)
    session.pressed(*rows[1].centre)
    session.released(*rows[1].centre)
    assert session.run.segments[0] == Straight(236.0)
    session.key("escape")
    assert session.leading is None
    assert session.run.segments[0] == Straight(236.0)
    with without_a_screen():
        leading.offer(session, Offers(FLOUR, CHANGES, ()))
        paint(pygame.Surface(SIZE), RunView(session).scene(), Layers())


def test_what_was_undone_is_offered_again_and_another_run_is_told(session: RunSession) -> None:
    offers = Offers(FLOUR, CHANGES).take(1)
    # Undone meanwhile: both are left.
    leading.offer(session, offers)
    assert session.leading is not None
    assert len(session.leading.wishes) == 2
    session.leading = None
    session.change(replace(FLOUR, segments=FLOUR.segments[:4]), "cut short")
    leading.offer(session, offers)
    assert session.leading is None
    assert "fit it no longer" in session.toast


def test_from_the_study_to_the_run(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The study's answer has a button that hands its changes to the run below."""

    def ask(found: Any, given: Any, watch: Any) -> Outcome:
        told = Statement("n", "t", (), "It is better so.", (), (), ())
        return Outcome(None, lambda: "", lambda folder, again: [], statement=lambda: told, changes=CHANGES)

    study = Study("tune", "", asked_of_a_run()[0].arguments, (), (), lambda given: given, ask, (), "")
    monkeypatch.setattr(work, "STUDIES", (study,))
    with without_a_screen():
        below = RunDesk(BAKERY / "flour-round.yaml", SIZE, 1.0, folder=tmp_path)
        desk = StudiesDesk(BAKERY / "flour-round.yaml", SIZE, 1.0)
        monkeypatch.setattr(desk, "session", StudiesSession("x", (study,), SIZE))
        try:
            desk.session.do("ask")
            while desk.session.answer is None or not desk.session.answer.over:
                desk.tick(1.0)
            assert desk.session.answer.changes == CHANGES
            assert "see" in desk.session.actions
            desk.session.key("t")
            desk.tick(2.0)
            assert not desk.running
            assert desk.left == "season"
            below.brought(desk.brings)
            assert below.session is not None
            assert below.session.leading is not None
            assert len(below.session.leading.wishes) == 2
        finally:
            desk.close()
            below.close()
