"""Runs proposed in the window: where from and where to is clicked, ways are looked for in the background, one is taken
over as a file. Field and robots are invented."""

from __future__ import annotations

import random
import time
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path
from typing import Any

import pygame
import pytest

from fieldsim.files import load_field, load_robot, load_run, new_season
from fieldsim.model import Box, Field, Obstacle, StartArea
from fieldsim.planning.legs import Task
from fieldsim.planning.route import route, starts_in
from fieldsim.report.words.route import headline
from fieldsim.studies.attempt import attempt
from fieldsim.window.doors import doors
from fieldsim.window.field.app import FieldDesk
from fieldsim.window.keys import PROPOSAL_KEYS
from fieldsim.window.loop import Opening
from fieldsim.window.paint.layers import Layers
from fieldsim.window.paint.proposals import paint_proposals
from fieldsim.window.proposals.app import ProposalsDesk, season_of
from fieldsim.window.proposals.session import ROWS, TIMES, ProposalsSession
from fieldsim.window.proposals.view import ProposalsView
from fieldsim.window.proposals.work import Found, Wish, errand, proposed
from fieldsim.window.record import without_a_screen
from fieldsim.window.season import files as disk
from fieldsim.window.season.app import SeasonDesk

SIZE = (1366, 768)
ROOT = Path(__file__).parents[3]
PRACTICE, ROBOT = ROOT / "fields" / "practice.yaml", ROOT / "runs" / "bakery" / "box-one.yaml"


def session_of(field: Field | None = None) -> ProposalsSession:
    return ProposalsSession(field or load_field(PRACTICE), [(ROBOT, load_robot(ROBOT))], SIZE)


def press(session: ProposalsSession, at: tuple[float, float]) -> None:
    session.moved(*at)
    session.pressed(*at)
    session.released(*at)


def press_target(session: ProposalsSession, name: str) -> None:
    target = next(each for each in session.field.targets if each.name == name)
    press(session, session.camera.pixel(*target.at))


def nothing(done: int, wanted: int) -> None:
    """Nobody watches."""


@pytest.fixture(scope="module", autouse=True)
def little() -> Iterator[None]:
    """A small roadmap, few labels and trials to choose with: the same code, in little time."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr("fieldsim.planning.ways.PLACES", 60)
        patch.setattr("fieldsim.planning.search.BEAM", 400)
        for name, value in (("FEW", 60), ("MANY", 100), ("TRIED", 6), ("BETTERED", 2), ("STEPS", (40.0,))):
            patch.setattr(f"fieldsim.planning.polish.{name}", value)
        yield


@pytest.fixture(scope="module")
def found() -> Found:
    """The way to the practice board's bell."""
    wish = Wish(load_field(PRACTICE), load_robot(ROBOT), start="home corner", targets=("bell",))
    return proposed(wish, nothing, trials=500)


def test_it_proposes_what_the_command_proposes(found: Found) -> None:
    wish = found.wish
    starts = starts_in(wish.field, wish.robot, wish.start)
    routed = route(Task(wish.field, wish.robot, (), starts, ("bell",), None), trials=500)
    assert found.over
    assert found.headline == headline(routed.answer)
    assert [each.run for each in found.proposals] == [each.ready.run for each in routed.tried]
    for each, answer in zip(found.proposals, routed.answer.proposals, strict=True):
        assert each.share == (answer.success.share, answer.success.low, answer.success.high)
        assert each.words.startswith(answer.words)
        assert each.cloud is not None
        assert len(each.cloud.paths) == 60


def test_a_way_that_cannot_be_is_told_as_the_command_tells_it() -> None:
    field = load_field(PRACTICE)
    bell = next(each for each in field.targets if each.name == "bell")
    x, y = bell.at
    wall = Obstacle("fence", Box((x, y), (60.0, 60.0)))
    closed = replace(field, obstacles=(*(o for o in field.obstacles if o.name != "bell stand"), wall))
    made = proposed(Wish(closed, load_robot(ROBOT), start="home corner", targets=("bell",)), nothing, trials=200)
    assert made.over
    assert not made.proposals
    assert made.headline or made.wrong
    session = session_of(closed)
    session.wish = made.wish
    session.found = Found(made.wish)
    session.learn([(made.wish, made)])
    scene = ProposalsView(session).scene()
    assert scene.headline == made.headline
    assert scene.take is None


def test_a_start_where_the_robot_does_not_fit_is_told() -> None:
    field = replace(load_field(PRACTICE), jigs=(), start_areas=(StartArea("shed", Box((300.0, 300.0), (40.0, 40.0))),))
    made = proposed(Wish(field, load_robot(ROBOT), start="shed", targets=("bell",)), nothing)
    assert "does not fit" in made.wrong[0]


def test_targets_are_clicked_in_their_order_and_jig_and_end_too() -> None:
    session = session_of()
    assert session.wish is not None
    press_target(session, "bell")
    press_target(session, "crate lid")
    assert session.wish.targets == ("bell", "crate lid")
    assert [mark.words for mark in ProposalsView(session).scene().targets] == ["1", "2"]
    press_target(session, "bell")
    assert session.wish.targets == ("crate lid",)
    corner = session.camera.pixel(*session.field.jigs[0].corner)
    press(session, corner)
    assert session.wish.start is None
    press(session, corner)
    assert session.wish.start == "home corner"
    press(session, session.camera.pixel(340.0, 90.0))
    assert session.wish.finish == "practice start"
    press(session, session.camera.pixel(340.0, 90.0))
    assert session.wish.finish is None


def test_every_row_goes_through_all_its_choices_and_back() -> None:
    session = session_of()
    for row in ROWS:
        options = session.options(row)
        place = next(each for each in session.places.rows if each.name == row)
        before = session.wish
        seen = set()
        for _ in options:
            press(session, place.plus.centre)
            seen.add(session.told(row))
        assert len(seen) == len(options), row
        assert session.wish == before
        press(session, place.plus.centre)
        press(session, place.minus.centre)
        assert session.wish == before
    assert session.options("within") == TIMES
    # And by keys: the row first, then the choice.
    session = session_of()
    while list(ROWS)[session.row_at] != "wear":
        session.key("tab")
    session.key("right")
    assert session.wish is not None
    assert session.wish.wear == (session.wish.robot.attachments[0].name,)
    session.wheel(*next(each for each in session.places.rows if each.name == "wear").entry.centre, 1.0)
    assert session.wish.wear == ()


def test_it_is_asked_once_broken_off_and_news_of_another_wish_is_not_heard(found: Found) -> None:
    session = session_of()
    session.key("return")
    assert session.orders == []
    press_target(session, "bell")
    session.key("return")
    (what, wish), = session.orders  # fmt: skip
    assert what == "ask"
    assert session.searching
    session.learn([(wish, Found(wish, 40, 100))])
    assert ProposalsView(session).scene().going == pytest.approx(0.4)
    # Something else is wanted: the search is broken off, and what it still says is for nobody.
    press_target(session, "crate lid")
    assert session.orders[-1] == ("cancel", None)
    session.learn([(wish, replace(found, wish=wish))])
    assert session.found is None
    session.key("return")
    session.key("escape")
    assert session.orders[-1] == ("cancel", None)
    assert not session.searching
    assert session.wants == set()
    session.key("escape")
    assert session.wants == {"season"}


def test_ways_are_picked_and_taken_over(found: Found) -> None:
    session = session_of()
    session.key("t")
    assert session.orders == []
    session.wish = found.wish
    session.found = Found(found.wish)
    two = replace(found, proposals=(found.proposals[0], replace(found.proposals[0])))
    session.learn([(found.wish, two)])
    press(session, session.places.tiles[1].centre)
    assert session.proposal is two.proposals[1]
    session.key("down")
    assert session.proposal is two.proposals[0]
    press(session, session.places.take.centre)
    assert session.orders == [("take", two.proposals[0])]


def settled(desk: Any) -> None:
    while desk.session.searching:
        time.sleep(0.005)
        desk.tick(1.0)


def test_from_the_season_to_a_run_that_is_driven(tmp_path: Path) -> None:
    """The season's field, a click on a target, a way, and its file, which `try` finds to be as good as was told."""
    folder = tmp_path / "season"
    new_season(folder)
    with without_a_screen():
        season = SeasonDesk(folder, SIZE, 1.0, memory=tmp_path)
        make = doors()
        try:
            field = next(item for item in season.session.season.items if item.kind == "field")
            number = season.session.season.items.index(field)
            season.session.pick(f"item {number}")
            season.session.key("w")
            season.tick(0.0)
            assert season.opens == Opening("proposals", field.path, folder)
            desk = ProposalsDesk(field.path, SIZE, 1.0, season=folder, trials=400)
            assert type(make(season.opens, SIZE, 1.0)) is ProposalsDesk
            try:
                desk.tick(0.0)
                press_target(desk.session, desk.session.field.targets[0].name)
                press(desk.session, desk.session.places.ask.centre)
                desk.tick(0.1)
                settled(desk)
                assert desk.session.proposal is not None, desk.session.found
                told = desk.session.proposal
                desk.session.key("t")
                desk.tick(0.2)
                assert desk.opens is not None
                assert desk.opens.kind == "run"
                run = load_run(desk.opens.path)
                assert run.segments == told.run.segments
                assert attempt(run, trials=400).answer.success.share == told.share[0]
                # Once more: another file, another name.
                first, desk.opens = desk.opens.path, None
                desk.session.key("t")
                desk.tick(0.3)
                assert desk.opens is not None
                assert desk.opens.path != first
                assert load_run(desk.opens.path).name == f"{run.name} (2)"
                desk.draw(pygame.Surface(SIZE), Layers())
            finally:
                desk.close()
        finally:
            season.close()


def test_a_place_that_cannot_be_written_to_is_told(
    tmp_path: Path, found: Found, monkeypatch: pytest.MonkeyPatch
) -> None:
    def refused(*_: object) -> Path:
        raise disk.SaveError("the disk is full")

    monkeypatch.setattr(disk, "take_over", refused)
    with without_a_screen():
        desk = ProposalsDesk(PRACTICE, SIZE, 1.0)
        try:
            robot = next(robot for _, robot in desk.session.robots if robot == found.wish.robot)
            run = replace(found.proposals[0].run, robot=robot)
            desk.session.orders.append(("take", replace(found.proposals[0], run=run)))
            desk.tick(0.0)
            assert desk.session.over is not None
            assert "the disk is full" in " ".join(desk.session.over[1])
            assert desk.opens is None
        finally:
            desk.close()


def test_the_field_window_leads_there(tmp_path: Path) -> None:
    file = tmp_path / "yard.yaml"
    file.write_bytes(PRACTICE.read_bytes())
    with without_a_screen():
        desk = FieldDesk(file, SIZE, 1.0, folder=tmp_path / "kept")
        try:
            assert desk.session is not None
            desk.session.key("ctrl w")
            desk.tick(0.0)
            assert desk.opens == Opening("proposals", file)
        finally:
            desk.close()


def test_a_season_without_a_robot_says_so(tmp_path: Path) -> None:
    lone = tmp_path / "a" / "fields" / "lone.yaml"
    lone.parent.mkdir(parents=True)
    lone.write_bytes(PRACTICE.read_bytes())
    session = ProposalsSession(load_field(lone), [], SIZE)
    scene = ProposalsView(session).scene()
    assert "no robot" in scene.headline
    session.key("return")
    assert session.orders == []
    with without_a_screen():
        paint_proposals(pygame.Surface(SIZE), scene, Layers())
    # Robots are looked for beside the field and around its folder.
    assert season_of(lone).of("robot") == ()
    (tmp_path / "a" / "box.yaml").write_bytes(ROBOT.read_bytes())
    assert [item.path.name for item in season_of(lone).of("robot")] == ["box.yaml"]


def test_a_field_that_cannot_be_read_is_shown_as_that(tmp_path: Path) -> None:
    file = tmp_path / "bad.yaml"
    file.write_text("field: bad\nsize: none\n")
    with without_a_screen():
        desk = ProposalsDesk(file, SIZE, 1.0)
        try:
            assert desk.trouble is not None
            desk.tick(0.0)
            desk.draw(pygame.Surface(SIZE), Layers())
        finally:
            desk.close()


def test_it_is_painted_at_every_size_in_every_state(found: Found) -> None:
    session = session_of()
    layers = Layers()
    with without_a_screen():
        for size, scale in (((640, 420), 1.0), ((1280, 720), 1.0), ((3840, 2160), 2.0)):
            session.resize(size, scale)
            places = session.places
            for rect in (places.ask, places.told, places.take, *places.tiles, *(row.entry for row in places.rows)):
                assert rect.inside(places.card), (size, rect)
            # What is pressed does not lie over one another.
            pressed = [places.ask, places.take, *places.tiles, *(row.entry for row in places.rows)]
            assert not any(a.overlaps(b) for n, a in enumerate(pressed) for b in pressed[:n])
            for state in (None, Found(found.wish), Found(found.wish, 3, 10), found,
                          Found(found.wish, over=True, wrong=("a mistake",))):  # fmt: skip
                session.wish, session.found = found.wish, state
                session.dark = not session.dark
                paint_proposals(pygame.Surface(size), ProposalsView(session).scene(), layers)


def test_the_thread_is_broken_off_by_the_next_wish() -> None:
    begun: list[Wish] = []
    work = errand(trials=100)
    field, robot = load_field(PRACTICE), load_robot(ROBOT)
    first, second = (Wish(field, robot, start="home corner", targets=(name,)) for name in ("crate lid", "bell"))
    try:
        work.ask(first)
        while not begun:
            begun += [wish for wish, _ in work.news()]
        work.ask(second)
        last: dict[int, Found] = {}
        while not any(made.over for made in last.values()):
            time.sleep(0.005)
            last |= {id(wish): made for wish, made in work.news()}
        assert last[id(second)].over
        assert not last.get(id(first), Found(first)).over
    finally:
        assert work.close()


def hands(count: int, seed: int, found: Found) -> None:
    """Events by chance; what is shown is held against the session after each."""
    dice = random.Random(seed)
    session = session_of()
    view, layers = ProposalsView(session), Layers()
    surface = pygame.Surface(SIZE)
    keys = [key for each in PROPOSAL_KEYS for key in each.keys]
    for step in range(count):
        x, y = dice.uniform(0, SIZE[0]), dice.uniform(0, SIZE[1])
        match dice.randrange(6):
            case 0:
                session.key(dice.choice(keys))
            case 1:
                session.moved(x, y)
            case 2:
                press(session, (x, y))
            case 3:
                session.wheel(x, y, dice.choice((-1.0, 0.3, 1.0)))
            case 4 if session.found is not None:
                made = dice.choice((Found(session.found.wish, 1, 2), replace(found, wish=session.found.wish)))
                session.learn([(session.found.wish, made)])
            case _:
                session.tick(step / 10)
        if dice.random() < 0.02:
            session.resize(dice.choice(((640, 420), SIZE)), 1.0)
        for what, value in session.orders:
            assert what in ("ask", "cancel", "take")
            assert what != "ask" or value.enough
        session.orders.clear()
        scene = view.scene()
        assert scene.driven == (session.proposal is not None)
        assert (scene.take is not None) == (session.proposal is not None)
        assert (scene.going is not None) == session.searching
        if dice.random() < 0.01:
            paint_proposals(surface, scene, layers)


def test_random_hands_leave_it_in_order(found: Found) -> None:
    with without_a_screen():
        hands(400, 1, found)


@pytest.mark.slow
def test_many_random_hands_leave_it_in_order(found: Found) -> None:
    with without_a_screen():
        hands(20_000, 2, found)
