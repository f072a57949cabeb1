"""The window of a match: the session by hand and by random events, its scenes, pictures and films. All invented."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pygame
import pytest
from commands import fieldsim
from examples import examples
from hypothesis import given, settings
from hypothesis import strategies as st
from PIL import Image

from fieldsim.files import load_match, load_match_and_files
from fieldsim.match.play import play
from fieldsim.model.errors import FileError, SaveError
from fieldsim.sim.motion import start_pose
from fieldsim.window.keys import MATCH_KEYS, help_rows
from fieldsim.window.match.app import MatchDesk, film_match, picture_match
from fieldsim.window.match.session import MatchSession, Played
from fieldsim.window.match.view import OFF, MatchView
from fieldsim.window.record import without_a_screen

ROOT = Path(__file__).parents[3]
BAKERY = ROOT / "runs" / "bakery" / "match.yaml"


@pytest.fixture(scope="module")
def played() -> Played:
    return Played.of(load_match(BAKERY), matches=400)


@pytest.fixture
def session(played: Played) -> MatchSession:
    return MatchSession(played)


def find(session: MatchSession, what: str) -> int:
    """The first match in which that is going on at some time."""
    for _ in range(len(session.played.bank)):
        if any(each.what == what for each in session.story.stretches):
            return session.number
        session.do("next match")
    raise AssertionError(what)


def test_it_shows_what_the_match_comes_to(session: MatchSession) -> None:
    bank = session.played.bank
    for which, (_, order) in enumerate(session.played.orders):
        assert session.which == which
        scores = play(bank, order).score
        assert session.played.means[which].mean == pytest.approx(scores.mean())
        for m in range(5):
            assert session.number == m
            session.do("end")
            assert session.points == pytest.approx(scores[m])
            assert session.scores == () or session.scores[-1][1] == pytest.approx(scores[m])
            session.do("next match")
        for _ in range(5):
            session.do("last match")
        session.do("order")


def test_the_robot_is_where_it_is(session: MatchSession) -> None:
    first = session.match.runs[0].run
    assert session.stretch.what == "drive"
    # Put down by hand: give or take some mm.
    assert session.pose[:2] == pytest.approx(start_pose(first)[:2], abs=15.0)
    tried = session.tried
    session.do("stretch forth")
    # The next stretch has begun: the robot stands at the start of the run that comes.
    assert session.stretch.what in ("change", "fetch")
    find(session, "change")
    change = next(each for each in session.story.stretches if each.what == "change")
    session.seconds = (change.begin + change.end) / 2
    assert session.pose == session.tried.way.start
    assert tried.head_at(0.0) == 0.0
    assert tried.head_at(tried.seconds) == pytest.approx(tried.until)
    assert tried.head_at(99.0) == pytest.approx(tried.until)


def test_a_robot_that_is_fetched_stands_where_it_stopped(session: MatchSession) -> None:
    find(session, "fetch")
    fetch = next(each for each in session.story.stretches if each.what == "fetch")
    session.seconds = fetch.begin + 1e-6
    assert session.head == session.tried.until
    scene = MatchView(session).scene()
    assert scene.picked is not None
    # A robot may have got through and stand out there all the same.
    assert (":" in scene.picked.words) == (not session.tried.trials.success[0])


def test_the_strip_is_the_matchs_time(session: MatchSession) -> None:
    edges = session._edges
    assert edges[0] == 0.0
    assert edges[-1] == session.limit
    assert len(session.strip.words) == len(edges) - 1 == len(session.strip.edges) - 1
    for n, time in enumerate(edges):
        session.seconds = time
        assert session.strip_head == pytest.approx(n)
        assert session.strip.head_at(session.strip.x_of(n)) == pytest.approx(n)
    segments = session.places.segments
    middle = (session.strip.edges[1] + session.strip.edges[2]) / 2
    session.pressed(middle, segments.centre[1])
    assert session.seconds == pytest.approx((edges[1] + edges[2]) / 2)
    session.moved(segments.right + 500, segments.centre[1])
    session.released(segments.right + 500, segments.centre[1])
    assert session.seconds == session.limit


def test_time_goes_on_while_it_plays(session: MatchSession) -> None:
    session.tick(100.0)
    session.key("space")
    session.tick(100.1)
    assert session.seconds == pytest.approx(0.1)
    session.key("]")
    session.tick(100.2)
    assert session.seconds == pytest.approx(0.3)
    for n in range(2000):
        session.tick(100.2 + 0.2 * n)
    assert (session.seconds, session.playing) == (session.limit, False)
    session.key("space")
    assert (session.seconds, session.playing) == (0.0, True)


def test_where_the_written_order_is_the_best(played: Played) -> None:
    session = MatchSession(replace(played, orders=played.orders[:1], means=played.means[:1]))
    session.do("order")
    assert session.which == 0
    assert "is the best" in session.toast
    assert not MatchView(session).scene().switches[0].on


def test_every_key_does_something_and_is_in_the_help(session: MatchSession) -> None:
    assert len(help_rows(MATCH_KEYS)) >= 12
    for each in MATCH_KEYS:
        for name in each.keys:
            session.help = False
            session.wants.clear()
            session.seconds = 20.0
            session.do("nearer")
            before = MatchView(session).scene()
            session.key(name)
            after = MatchView(session).scene()
            seen = [
                (s.dark, s.head, s.pose, s.camera, s.playing, s.pace, s.switches, s.help, s.toast)
                for s in (before, after)
            ]
            assert seen[0] != seen[1] or session.wants, name
    session.help = True
    session.key("space")
    assert not session.help
    assert {name.split(" ")[1] for name, _ in session.places.pressable() if name.startswith("button")} >= OFF


EVENTS = st.lists(
    st.one_of(
        st.tuples(st.just("key"), st.sampled_from([name for key in MATCH_KEYS for name in key.keys if name != "f11"])),
        st.tuples(st.just("press"), st.floats(0, 1280), st.floats(0, 800)),
        st.tuples(st.just("move"), st.floats(-50, 1330), st.floats(-50, 850)),
        st.tuples(st.just("release"), st.floats(0, 1280), st.floats(0, 800)),
        st.tuples(st.just("wheel"), st.floats(0, 1280), st.floats(0, 800), st.floats(-3, 3)),
        st.tuples(st.just("tick"), st.floats(0, 5)),
        st.tuples(st.just("size"), st.integers(300, 2000), st.integers(200, 1300)),
    ),
    max_size=25,
)


@settings(max_examples=examples(60))
@given(EVENTS)
def test_whatever_happens_there_is_a_picture(played: Played, events: list[tuple[object, ...]]) -> None:
    session, now = MatchSession(played), 0.0
    view = MatchView(session)
    for name, *rest in events:
        a: list[float] = [each for each in rest if isinstance(each, int | float)]
        match name:
            case "key":
                session.key(str(rest[0]))
            case "press":
                session.pressed(*a)
            case "move":
                session.moved(*a)
            case "release":
                session.released(*a)
            case "wheel":
                session.wheel(*a)
            case "tick":
                now += a[0]
                session.tick(now)
            case "size":
                session.resize((int(a[0]), int(a[1])))
        scene = view.scene()
        assert 0 <= session.seconds <= session.limit
        assert scene.pose is not None
        assert np.isfinite(scene.pose).all()
        assert 0 <= scene.head <= len(scene.strip.words)
        assert not session.unsaved


# --- the real thing -------------------------------------------------------------------------------------------------


def test_pictures_differ_with_time_and_look(tmp_path: Path) -> None:
    first = picture_match(BAKERY, tmp_path / "a.png", at=0.0, size=(640, 420))
    later = picture_match(BAKERY, tmp_path / "b.png", at=12.0, size=(640, 420))
    dark = picture_match(BAKERY, tmp_path / "c.png", size=(640, 420), dark=True)
    images = [np.asarray(Image.open(path).convert("RGB")).astype(int) for path in (first, later, dark)]
    assert all(image.shape == (420, 640, 3) for image in images)
    assert (images[0] != images[1]).any()
    assert images[2].mean() < images[0].mean() - 40
    with pytest.raises(SaveError, match="must end in"):
        picture_match(BAKERY, tmp_path / "a.txt")


def own_season(folder: Path) -> Path:
    """The match of a copy of the bakery's season that a test may write into."""
    season = folder / "runs" / "bakery"
    season.mkdir(parents=True)
    for path in (ROOT / "runs" / "bakery").glob("*.yaml"):
        (season / path.name).write_bytes(path.read_bytes())
    (folder / "fields").mkdir()
    for path in (ROOT / "fields").glob("*.yaml"):
        (folder / "fields" / path.name).write_bytes(path.read_bytes())
    return season / "match.yaml"


def test_a_film_plays_the_whole_match(tmp_path: Path) -> None:
    told: list[tuple[int, int]] = []
    # A short match, as each picture of a film takes its time.
    match = own_season(tmp_path)
    match.write_text(match.read_text(encoding="utf-8").replace("limit: 75", "limit: 25"), encoding="utf-8")
    out = film_match(match, tmp_path / "match.webp", size=(320, 220), watch=lambda n, of: told.append((n, of)))
    with Image.open(out) as film:
        count = film.n_frames  # type: ignore[attr-defined]
        seconds = 0.0
        for n in range(count):
            film.seek(n)
            film.load()
            seconds += film.info["duration"] / 1000
    # Frames that are alike may have been put together; the time is the match's, and a little for the last one.
    assert seconds == pytest.approx(25.0 + 2.0, abs=0.5)
    assert told[-1][0] == told[-1][1] >= count


def test_the_desk_plays_and_recovers_from_a_mistake(tmp_path: Path) -> None:
    match = own_season(tmp_path)
    assert {path.name for path in load_match_and_files(match)[1]} == {
        "match.yaml", "flour-round.yaml", "oven-lever.yaml", "yard-bell.yaml", "bakery.yaml", "box-one.yaml",
    }  # fmt: skip
    good = match.read_text(encoding="utf-8")
    match.write_text(good.replace("limit: 75", "limit: soon"), encoding="utf-8")
    with pytest.raises(FileError):
        load_match(match)
    with without_a_screen():
        desk = MatchDesk(match, (900, 640), 1.0)
        assert desk.scene() is None
        assert desk.trouble is not None
        assert any("limit" in line for line in desk.trouble[1])
        match.write_text(good, encoding="utf-8")
        for n in range(200):
            desk.tick(n * 1.0)
            if desk.session is not None:
                break
        assert desk.session is not None
        assert desk.trouble is None
        desk.handle(pygame.event.Event(pygame.KEYDOWN, key=pygame.K_SPACE, mod=0, unicode=" "))
        desk.tick(1000.0)
        desk.tick(1000.2)
        assert desk.busy
        assert desk.session.seconds > 0
        desk.handle(pygame.event.Event(pygame.VIDEORESIZE, w=1100, h=700, size=(1100, 700)))
        assert desk.scene().layout.size == (1100, 700)
        desk.handle(pygame.event.Event(pygame.QUIT))
        assert not desk.running


def test_the_command(tmp_path: Path) -> None:
    done = fieldsim("watch", BAKERY, "--picture", tmp_path / "m.png", "--at", "30s")
    assert done.returncode == 0, done.stderr
    assert (tmp_path / "m.png").stat().st_size > 5000


# --- the order by hand ---------------------------------------------------------------------------------------------


def block_of(session: MatchSession, run: int) -> tuple[float, float]:
    """The middle of the block of a run's first drive."""
    n = next(n for n, each in enumerate(session.story.stretches) if each.what == "drive" and each.run == run)
    rect = session.places.segments
    return (session.strip.edges[n] + session.strip.edges[n + 1]) / 2, rect.y + rect.h / 2


def drag(session: MatchSession, start: tuple[float, float], end: tuple[float, float]) -> None:
    session.moved(*start)
    session.pressed(*start)
    session.moved((start[0] + end[0]) / 2, end[1])
    session.moved(*end)
    session.released(*end)


def test_a_run_is_dragged_to_another_place_and_its_worth_is_told(session: MatchSession) -> None:
    order = session.order
    first, last = order[0], order[-1]
    start, end = block_of(session, first), block_of(session, last)
    drag(session, start, (end[0] + 3.0, end[1]))
    moved = (*order[1:], first)
    assert session.order == moved
    which = session.which
    score = play(session.played.bank, moved).score
    assert session.played.means[which].mean == pytest.approx(score.mean())
    low, high = session.played.spreads[which]
    assert (low, high) == pytest.approx(np.quantile(score, (0.05, 0.95), method="inverted_cdf"))
    assert "against before" in session.toast
    # Back again it is the order as written, and not one more.
    count = len(session.played.orders)
    drag(session, block_of(session, first), (block_of(session, moved[0])[0] - 3.0, end[1]))
    assert session.order == order
    assert len(session.played.orders) == count


def test_a_click_on_a_block_goes_there_and_moves_nothing(session: MatchSession) -> None:
    order = session.order
    at = block_of(session, order[1])
    session.moved(*at)
    session.pressed(*at)
    session.released(*at)
    assert session.order == order
    assert session.stretch.run == order[1]
    assert session.stretch.what == "drive"


def test_keys_move_a_run_leave_it_out_and_put_it_in(session: MatchSession) -> None:
    order = session.order
    session.do("begin")
    session.key(",")
    assert "first already" in session.toast
    session.key(".")
    assert session.order == (order[1], order[0], *order[2:])
    session.key("delete")
    assert order[1] not in session.order
    session.key("n")
    assert session.order == (order[0], *order[2:], order[1])
    session.key("n")
    assert "Every run" in session.toast
    while len(session.order) > 1:
        session.key("delete")
    session.key("delete")
    assert "has to stay" in session.toast
    # One order by hand at most is kept beside those that were there.
    assert sum(name == "order by hand" for name, _ in session.played.orders) == 1
