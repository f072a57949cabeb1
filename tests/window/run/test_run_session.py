"""The run window's state by plain events: no screen, no clock, and trials that come at once or never."""

from __future__ import annotations

from dataclasses import replace
from functools import cache
from math import hypot
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import shapely
from examples import examples
from hypothesis import HealthCheck, example, given, settings
from hypothesis import strategies as st
from plans import run as driven

from fieldsim.files import load_robot, load_run
from fieldsim.model import Act, Arc, Run, Square, StartByEye, Straight, Turn, Wait
from fieldsim.model.errors import FieldsimError
from fieldsim.sim.motion import start_pose
from fieldsim.sim.plan import overlaps, plan
from fieldsim.sim.shapes import body_corners
from fieldsim.sim.trials import paths
from fieldsim.studies.attempt import attempt
from fieldsim.window.asking import answer_rects, answers_of, known_question
from fieldsim.window.history import History
from fieldsim.window.keys import RUN_KEYS
from fieldsim.window.live import Shown
from fieldsim.window.paint.build import cloud_of
from fieldsim.window.paint.layout import layout
from fieldsim.window.paint.scene import ErrorWords
from fieldsim.window.run import looking
from fieldsim.window.run.edits import start_at_jig
from fieldsim.window.run.files import EditedRun
from fieldsim.window.run.segments import kind_word
from fieldsim.window.run.session import RunSession
from fieldsim.window.run.state import PACES, Tries
from fieldsim.window.run.view import RunView
from fieldsim.window.session import STAYS, Entry

ROOT = Path(__file__).parents[3]
SEASON = ROOT / "runs" / "bakery"
RUN = load_run(SEASON / "flour-round.yaml")
BELL = load_run(SEASON / "yard-bell.yaml")
ROBOTS = {Path(name): load_robot(SEASON / name) for name in ("box-one.yaml", "box-wide.yaml")}
ONE, WIDE = ROBOTS
BIN = (1222.0, 110.0)
"""A place in the flour bin."""
ALT, SHIFT = frozenset({"alt"}), frozenset({"shift"})


class Never:
    """Trials that never come."""

    def want(self, run: Run, ready: Any = None, *, bare: bool = False) -> int:
        return 1

    def news(self) -> Shown | None:
        return None


@cache
def tried(run: Run, trials: int) -> Shown:
    """What there is to show of a run."""
    try:
        ready = plan(run)
        done = attempt(run, trials=trials, keep=trials, threads=1)
    except FieldsimError as problem:
        return Shown(run, 1, None, None, None, None, (), 0, True, str(problem))
    assert done.first is not None
    sample = paths(done.ready, 1, done.first, list(range(min(60, trials))))
    stands = tuple(name for name, _ in overlaps(ready))
    return Shown(run, 1, done.ready, done.answer, done.first, sample, stands, trials, True)


class AtOnce:
    """Trials that are there with the next tick."""

    def __init__(self, trials: int) -> None:
        self.trials = trials
        self.wish: Run | None = None

    def want(self, run: Run, ready: Any = None, *, bare: bool = False) -> int:
        self.wish = run
        return 1

    def news(self) -> Shown | None:
        wish, self.wish = self.wish, None
        return None if wish is None else tried(wish, self.trials)


def session(run: Run = RUN, tries: Tries | None = None, **more: Any) -> RunSession:
    return RunSession(EditedRun(run, ONE), tries or Never(), robots=dict(ROBOTS), **more)


def with_trials(run: Run = RUN, trials: int = 400) -> RunSession:
    made = session(run, AtOnce(trials))
    made.tick(0.0)
    return made


def handle_at(made: RunSession, name: str) -> tuple[float, float]:
    return made.camera.pixel(*next(handle for handle in made.handles if handle.name == name).at)


def drag(made: RunSession, name: str, dx: float, dy: float, mods: frozenset[str] = frozenset(), steps: int = 4) -> None:
    """A handle is dragged by so many pixels, in many small moves as a hand does it."""
    x, y = handle_at(made, name)
    made.pressed(x, y, "left", mods)
    for k in range(1, steps + 1):
        made.moved(x + dx * k / steps, y + dy * k / steps, mods)
    made.released(x + dx, y + dy)


def row_of(made: RunSession, label: str) -> int:
    return next(n for n, line in enumerate(made.lines) if line.label == label)


def press_row(made: RunSession, label: str, part: str, mods: frozenset[str] = frozenset()) -> None:
    number = row_of(made, label)
    while not 0 <= number - made.first_row < len(made.places.rows):
        made.wheel(made.places.numbers.x + 5, made.places.numbers.y + 5, -1.0 if number > made.first_row else 1.0)
    row = made.places.rows[number - made.first_row]
    made.pressed(*getattr(row, part).centre, "left", mods)
    made.released(*getattr(row, part).centre)


def step_row(made: RunSession, label: str, way: int) -> None:
    """The next word of a choice, by its key."""
    made.row = row_of(made, label)
    made.key("page up" if way > 0 else "page down")


def click(made: RunSession, x: float, y: float) -> None:
    made.pressed(x, y)
    made.released(x, y)


def block(made: RunSession, n: int) -> tuple[float, float]:
    """The middle of a block of the strip, by its number from 0."""
    edges = made.strip.edges
    return (edges[n] + edges[n + 1]) / 2, made.places.segments.centre[1]


def type_in(made: RunSession, text: str) -> None:
    made.key("return")
    made.key("ctrl a")
    made.text(text)
    made.key("return")


def told(made: RunSession) -> str:
    """The scene's numbers, as they are read in the window."""
    numbers = RunView(made).scene().numbers
    assert numbers is not None
    return " ".join([numbers.title, numbers.note, *(f"{row.label} {row.value} {row.unit}" for row in numbers.rows)])


# --- whatever is done --------------------------------------------------------------------------------------------

PLACES = layout((1280, 800))
POINTS = [
    *(tuple(map(int, rect.centre)) for _, rect in PLACES.pressable()),
    *((int(x), int(y)) for n in range(len(RUN.segments)) for x, y in [block(session(), n)]),
    *((int(x), int(y)) for handle in session().handles for x, y in [session().camera.pixel(*handle.at)]),
]
places = st.one_of(
    st.sampled_from(POINTS),
    st.tuples(st.integers(-20, 1300), st.integers(-20, 820)),
)
mods = st.sampled_from([frozenset(), ALT, SHIFT])
events = st.one_of(
    st.tuples(st.just("pressed"), places, st.sampled_from(["left", "left", "right", "middle"]), mods),
    st.tuples(st.just("moved"), places, mods),
    st.tuples(st.just("released"), places),
    st.tuples(st.just("wheel"), places, st.sampled_from([1.0, -1.0, 2.5, 0.2]), mods),
    st.tuples(st.just("key"), st.sampled_from([key for each in RUN_KEYS for key in each.keys])),
    st.tuples(st.just("key"), st.sampled_from(["backspace", "ctrl a", "y", "n", "home", "end"])),
    st.tuples(st.just("text"), st.one_of(st.sampled_from(["2", "1e9", "62 cm", "-", "far"]), st.text(max_size=4))),
    st.tuples(st.just("resize"), st.sampled_from([(900, 600), (1280, 800), (1920, 1080), (320, 200), (1, 1)])),
    st.tuples(st.just("tick")),
)


def play(made: RunSession, done: list[tuple[Any, ...]]) -> None:
    """All events one after the other; after each of them all must be well."""
    view = RunView(made)
    now = 0.0
    for name, *rest in done:
        if name in ("pressed", "moved", "released", "wheel"):
            (x, y), *more = rest
            getattr(made, name)(float(x), float(y), *more)
        elif name == "tick":
            now += 0.3
            made.tick(now)
        else:
            getattr(made, name)(*rest)
        # A run that is made anew of its own parts has been looked at by the model once more.
        assert replace(made.run) == made.run
        assert all(replace(segment) == segment for segment in made.run.segments)
        assert not isinstance(made.place, int) or 0 <= made.place < len(made.run.segments)
        assert np.isfinite(made.pose).all()
        assert 0.0 <= made.seconds <= made.clock.seconds
        view.scene()


def undone_and_done_again(made: RunSession) -> tuple[Run, bool]:
    """The run when all is undone, and whether all done again comes to where it was."""
    last = made.history.steps[-1].state
    made.asked, made.help, made.error, made.entry = None, False, None, None
    while made.history.undo_words is not None:
        made.do("undo")
    first, clean = made.run, not made.history.dirty
    while made.history.redo_words is not None:
        made.do("redo")
    return first, clean and made.history.state == last


KINDS = [("key", "tab"), ("key", "return"), ("text", "9"), ("pressed", POINTS[0], "left", frozenset())]


@settings(max_examples=examples(60), suppress_health_check=[HealthCheck.too_slow])
@given(st.lists(events, max_size=40))
@example(KINDS)
def test_whatever_is_done_can_be_undone(done: list[tuple[Any, ...]]) -> None:
    made = session()
    play(made, done)
    assert undone_and_done_again(made) == (RUN, True)


@settings(max_examples=examples(25), suppress_health_check=[HealthCheck.too_slow])
@given(st.lists(st.one_of(events, st.tuples(st.just("tick"))), max_size=30))
def test_and_with_trials_too(done: list[tuple[Any, ...]]) -> None:
    made = session(BELL, AtOnce(40))
    play(made, done)
    assert undone_and_done_again(made) == (BELL, True)


@pytest.mark.parametrize("pressed", sorted({key for each in RUN_KEYS for key in each.keys}))
def test_every_key_does_what_the_help_says_or_says_why_not(pressed: str) -> None:
    made = with_trials(trials=40)
    made.do("next segment")

    def seen() -> tuple[object, ...]:
        return (
            made.history.at, made.place, made.row, made.seconds, made.pace, made.playing, made.entry, made.picked,
            made.camera, made.axis, made.dark, made.help, frozenset(made.wants), made.asked, made.toast,
        )  # fmt: skip

    # '-' comes once more, as the sign of a number.
    nothing_yet = {"home", "ctrl shift left", "[", "ctrl left", "f", "shift tab", "-"}
    before = seen()
    made.key(pressed)
    # Those do nothing at the begin, or are told by what was so already.
    assert seen() != before or pressed in nothing_yet


# --- the start ---------------------------------------------------------------------------------------------------


def test_the_start_is_dragged_and_snaps_into_a_jig() -> None:
    made = session()
    drag(made, "handle start", 120, -120)
    assert isinstance(made.run.start, StartByEye)
    assert made.history.undo_words == "move the start"
    x, y, heading = start_pose(replace(made.run, start="gate block"))
    px, py = made.camera.pixel(x, y)
    hx, hy = handle_at(made, "handle start")
    made.pressed(hx, hy)
    made.moved(px + 3, py - 4)
    # While it is held: the jig's corner is marked, and named.
    assert made.run.start == "gate block"
    assert made.guide_words == "in jig gate block"
    guide = RunView(made).scene().guides[0]
    assert guide.start == guide.end == (240.0, 0.0)
    assert guide.words == "in jig gate block"
    made.released(px + 3, py - 4)
    assert made.guides == ()
    assert start_pose(made.run) == (x, y, heading)
    # Each drag is one step.
    made.do("undo")
    made.do("undo")
    assert made.run == RUN


def test_with_alt_nothing_snaps() -> None:
    made = session()
    drag(made, "handle start", 4, 0, ALT)
    start = made.run.start
    assert isinstance(start, StartByEye)
    x, y, _ = start_pose(RUN)
    assert start.at == pytest.approx((x + 4 / made.camera.zoom, y), abs=0.001)
    made = session()
    drag(made, "handle start", 4, 0)
    assert made.run.start == RUN.start


def test_a_click_on_a_handle_moves_nothing() -> None:
    made = session()
    for name in ("handle start", "handle turn", "handle width"):
        x, y = handle_at(made, name)
        click(made, x, y)
    assert made.run == RUN
    assert made.history.undo_words is None


def test_the_start_is_turned_and_comes_to_whole_parts_of_a_circle() -> None:
    made = session()
    x, y, heading = start_pose(RUN)
    px, py = made.camera.pixel(x, y)
    hx, hy = handle_at(made, "handle turn")
    arm = hypot(hx - px, hy - py)
    made.pressed(hx, hy)
    # To the right of the robot, and 3 degrees off: 0 degrees is meant.
    made.moved(px + arm, py - 0.05 * arm)
    assert made.guide_words == "0 degrees"
    assert start_pose(made.run) == pytest.approx((x, y, 0.0))
    made.moved(px + arm, py - 0.05 * arm, ALT)
    assert start_pose(made.run)[2] == pytest.approx(2.86, abs=0.01)
    made.released(px + arm, py)
    assert heading == 90.0
    made.do("undo")
    assert made.run == RUN


@pytest.mark.parametrize("jig", [jig.name for jig in RUN.field.jigs])
def test_a_jig_holds_one_side_and_the_other_is_dragged(jig: str) -> None:
    there = start_at_jig(RUN, jig)
    assert isinstance(there, Run)
    made = session(there)
    x, y = handle_at(made, "handle width")
    heading = next(handle for handle in made.handles if handle.name == "handle width").heading
    across = np.array([np.cos(np.radians(heading)), -np.sin(np.radians(heading))])
    # Outwards by 20 mm, in moves of 1 mm, so that a mistake would build up.
    steps = [across * made.camera.zoom * mm for mm in range(1, 21)]
    made.pressed(x, y)
    for dx, dy in steps:
        made.moved(x + dx, y + dy)
    widths = [made.run.robot.body.width]
    for _ in range(3):
        made.moved(x + steps[-1][0], y + steps[-1][1])
        widths.append(made.run.robot.body.width)
    made.released(x + steps[-1][0], y + steps[-1][1])
    # It stays as wide while the hand rests, and the dragged side is where the hand is: the other one is held.
    assert widths == pytest.approx([160.0] * 4, abs=1.0)
    hx, hy = handle_at(made, "handle width")
    assert hypot(hx - x - steps[-1][0], hy - y - steps[-1][1]) < 1.5
    assert made.place == "body"
    assert made.history.undo_words == "the body's width"


def test_by_eye_both_sides_move() -> None:
    made = session(replace(RUN, start=StartByEye((600.0, 300.0), 90.0)))
    drag(made, "handle width", -10 * made.camera.zoom, 0, steps=10)
    assert made.run.robot.body.width == pytest.approx(160.0, abs=1.0)
    drag(made, "handle width", 500, 0)
    assert made.run.robot.body.width >= 1.0


# --- segments ----------------------------------------------------------------------------------------------------


def test_a_click_on_a_block_picks_its_segment_and_so_does_its_way() -> None:
    made = session()
    click(made, *block(made, 2))
    assert made.place == 2
    assert "straight 560 mm" in told(made)
    assert RunView(made).scene().segment == 3
    made.do("drop")
    assert made.place is None
    middle = made.way.segments[2].mean(axis=0)
    click(made, *made.camera.pixel(middle[0], middle[1]))
    assert made.place == 2
    # On nothing: nothing is picked any more.
    click(made, *made.camera.pixel(*BIN))
    assert made.place is None
    assert made.thing == "flour bin"
    assert "flour bin" in told(made)


def test_who_drags_the_start_reads_of_the_start() -> None:
    made = session()
    click(made, *made.camera.pixel(*BIN))
    drag(made, "handle start", 100, -100)
    assert made.thing is None
    assert "the start" in told(made)


@pytest.mark.parametrize(("first", "last"), [(0, 10), (10, 0), (3, 5), (9, 1), (8, 9)])
def test_a_dragged_block_follows_the_hand_and_does_not_jump(first: int, last: int) -> None:
    made = session()
    x, y = block(made, first)
    to, _ = block(made, last)
    to += 0.4 * (made.strip.edges[last + 1] - made.strip.edges[last]) * (1 if last > first else -1)
    moved = RUN.segments[first]
    seen = [first]
    made.pressed(x, y)
    for at in np.linspace(x, to, 400):
        made.moved(float(at), y)
        assert isinstance(made.place, int)
        if made.place != seen[-1]:
            seen.append(made.place)
    made.released(to, y)
    way = 1 if last > first else -1
    assert seen == list(range(first, last + way, way))
    rest = list(RUN.segments[:first] + RUN.segments[first + 1 :])
    rest.insert(last, moved)
    assert made.run.segments == tuple(rest)
    assert made.history.undo_words == "the order of segments"
    made.do("undo")
    assert made.run == RUN


def test_a_block_dragged_beside_the_strip_goes_to_the_end() -> None:
    made = session()
    x, y = block(made, 1)
    made.pressed(x, y)
    made.moved(made.strip.edges[-1] + 50, y + 80)
    assert made.place == len(RUN.segments) - 1
    made.moved(-50, y)
    assert made.place == 0


def test_segments_are_added_copied_moved_and_taken_out() -> None:
    made = session()
    count = len(RUN.segments)
    made.do("next segment")
    made.key("n")
    assert len(made.run.segments) == count + 1
    assert made.place == 1
    made.key("ctrl page up")
    assert made.place == 0
    made.key("ctrl page up")
    assert made.place == 0
    made.key("ctrl page down")
    assert made.place == 1
    made.key("ctrl page up")
    made.key("delete")
    assert made.run.segments == RUN.segments
    made.key("c")
    assert made.place == 1
    assert made.run.segments[:2] == (RUN.segments[0],) * 2
    for name in ("remove", "copy", "add"):
        click(made, *made.places.button(name).centre)
    assert len(made.run.segments) == count + 2


def test_the_last_segment_stays_and_says_why() -> None:
    made = session(driven(Straight(100.0)))
    made.do("next segment")
    made.key("delete")
    assert len(made.run.segments) == 1
    assert "at least one segment" in made.toast


@pytest.mark.parametrize("pressed", ["delete", "c", "ctrl page up", "ctrl page down"])
def test_without_a_segment_it_says_how_to_pick_one(pressed: str) -> None:
    made = session()
    made.key(pressed)
    assert "Pick a segment first" in made.toast
    assert made.run == RUN


def test_the_kind_goes_round_and_brings_the_numbers_back() -> None:
    made = session()
    click(made, *block(made, 4))
    first = made.run.segments[4]
    assert isinstance(first, Straight)
    assert first.speed == 180.0
    seen = []
    for _ in range(20):
        step_row(made, "kind", 1)
        seen.append(kind_word(made.run.segments[4]))
        if seen[-1] == "straight":
            break
    assert {"turn", "arc", "square", "act", "wait", "straight"} <= set(seen)
    assert len(seen) == len(set(seen))
    assert made.run.segments[4] == first
    step_row(made, "kind", -1)
    assert kind_word(made.run.segments[4]) == seen[-2]
    # All of it is one step.
    made.do("undo")
    assert made.run == RUN


def test_words_are_chosen() -> None:
    made = session()
    click(made, *block(made, 1))
    assert made.run.segments[1] == Turn(-89.0, about="right wheel")
    for about in (None, "left wheel", "right wheel"):
        step_row(made, "about", 1)
        turn = made.run.segments[1]
        assert isinstance(turn, Turn)
        assert turn.about == about
    made = session(BELL)
    place = next(g for g, segment in enumerate(BELL.segments) if isinstance(segment, Square))
    click(made, *block(made, place))
    seen = set()
    # What is round has no flat side: it is passed over, and nobody is stuck before it.
    for _ in range(30):
        step_row(made, "against", 1)
        segment = made.run.segments[place]
        assert isinstance(segment, Square)
        seen.add(segment.against)
    assert {"near wall", "far wall", "left wall", "right wall"} <= seen
    assert "flour bin" not in seen


# --- numbers -----------------------------------------------------------------------------------------------------


def test_a_number_is_typed_with_its_unit_and_a_wrong_one_says_why() -> None:
    made = session()
    made.key("tab")
    made.row = row_of(made, "distance")
    type_in(made, "62 cm")
    assert made.run.segments[0] == Straight(620.0)
    type_in(made, "far")
    assert made.entry is not None
    assert made.entry.wrong
    assert made.entry.text == "far"
    assert "distance must be a length" in made.toast
    row = RunView(made).scene().numbers
    assert row is not None
    assert row.rows[row_of(made, "distance")].wrong
    made.text("x")
    assert not made.entry.wrong
    made.key("escape")
    assert made.entry is None
    assert made.run.segments[0] == Straight(620.0)
    # Too much for the model is told with what is accepted.
    type_in(made, "1000000")
    assert made.entry is not None
    assert "distance" in made.toast
    assert made.run.segments[0] == Straight(620.0)


def test_a_digit_begins_to_write_where_a_number_is_picked() -> None:
    made = session()
    made.text("5")
    assert made.entry is None
    made.key("tab")
    # The first number of a segment that is picked is armed, not its kind.
    assert made.lines[made.row].label == "distance"
    made.key("up")
    assert made.lines[made.row].choice
    made.text("5")
    assert made.entry is None
    made.key("down")
    made.text("2")
    made.text("50")
    made.key("return")
    assert made.run.segments[0] == Straight(250.0)
    # Letters are keys, not numbers.
    made.text("x")
    assert made.entry is None


def test_letters_are_taken_out_and_put_in_at_the_cursor() -> None:
    made = session()
    made.key("tab")
    made.key("return")
    for pressed in ("left", "backspace", "home", "delete", "end", "backspace"):
        made.key(pressed)
    assert made.entry is not None
    assert (made.entry.text, made.entry.cursor) == ("", 0)
    made.text("3\u00b50")
    made.key("left")
    made.key("backspace")
    made.text("4")
    assert made.entry.text == "340"
    made.key("up")
    assert made.entry is None
    assert made.row == row_of(made, "kind")
    assert made.run.segments[0] == Straight(340.0)


def test_tab_goes_on_to_the_next_number() -> None:
    made = session()
    made.key("tab")
    made.row = row_of(made, "distance")
    made.key("return")
    made.key("ctrl a")
    made.text("300")
    made.key("tab")
    assert made.run.segments[0] == Straight(300.0)
    assert made.entry is not None
    assert made.entry.line == row_of(made, "distance") + 1
    made.key("shift tab")
    assert made.entry is not None
    assert made.entry.line == row_of(made, "distance")
    assert made.place == 0


@pytest.mark.parametrize("then", ["another number", "minus", "wheel", "save", "block", "quit", "handle"])
def test_what_is_typed_counts_whatever_is_pressed_next(then: str) -> None:
    made = session()
    click(made, *block(made, 0))
    press_row(made, "distance", "entry")
    made.key("ctrl a")
    made.text("300")
    # The same place once more: still being typed.
    press_row(made, "distance", "entry")
    assert made.entry is not None
    assert made.entry.text == "300"
    wanted = 300.0
    match then:
        case "another number":
            press_row(made, "speed", "entry")
            assert made.entry is not None
        case "minus":
            press_row(made, "distance", "minus")
            wanted = 290.0
        case "wheel":
            row = made.places.rows[row_of(made, "distance")]
            made.wheel(*row.entry.centre, 1.0)
            wanted = 310.0
        case "save":
            made.key("ctrl s")
            assert made.wants == {"save"}
        case "block":
            click(made, *block(made, 3))
        case "quit":
            made.key("ctrl q")
            assert made.asked == "quit"
        case "handle":
            drag(made, "handle start", 3.5, 0)
    first = made.run.segments[0]
    assert isinstance(first, Straight)
    assert first.distance == wanted


def test_a_wrong_number_is_not_saved_nor_taken_for_another_one() -> None:
    made = session()
    click(made, *block(made, 0))
    press_row(made, "speed", "entry")
    made.key("ctrl a")
    made.text("12q")
    made.key("ctrl s")
    assert made.wants == set()
    assert made.entry is not None
    assert made.entry.wrong
    # Then the start is picked: what was typed for a speed is no number of the start.
    drag(made, "handle start", 100, -100)
    assert made.entry is None
    made.key("return")
    made.key("escape")
    assert made.run.segments == RUN.segments
    # Closing is not held up by it.
    click(made, *block(made, 0))
    press_row(made, "speed", "entry")
    made.text("q")
    made.do("quit")
    assert made.asked == "quit"


def test_undo_while_typing_takes_back_what_was_typed() -> None:
    made = session()
    made.key("tab")
    made.row = row_of(made, "distance")
    type_in(made, "300")
    made.key("return")
    made.text("9")
    made.key("ctrl z")
    assert made.entry is None
    assert made.run.segments[0] == Straight(300.0)
    made.key("ctrl z")
    assert made.run == RUN


def test_the_wheel_and_the_keys_change_a_number_and_one_undo_takes_all_back() -> None:
    made = session()
    click(made, *block(made, 0))
    row = made.places.rows[row_of(made, "distance")]
    for _ in range(3):
        made.wheel(*row.entry.centre, 1.0)
    assert made.run.segments[0] == Straight(270.0)
    made.wheel(*row.entry.centre, -1.0, SHIFT)
    assert made.run.segments[0] == Straight(269.0)
    made.key("page up")
    made.key("shift page down")
    assert made.run.segments[0] == Straight(278.0)
    press_row(made, "distance", "plus", SHIFT)
    assert made.run.segments[0] == Straight(279.0)
    for _ in range(3):
        made.key("ctrl z")
    assert made.run == RUN
    assert made.toast == "Taken back: distance"


def test_the_small_parts_of_a_flat_pad_are_added_up() -> None:
    made = session()
    click(made, *block(made, 0))
    row = made.places.rows[row_of(made, "distance")]
    for n in range(10):
        made.wheel(*row.entry.centre, 0.1)
        assert made.run.segments[0] == Straight(240.0 if n < 9 else 250.0)
    robot = made.places.switch_rows[1].entry.centre
    for _ in range(9):
        made.wheel(*robot, 0.1)
    assert made.run.robot.name == "Box one"
    made.wheel(*robot, 0.2)
    assert made.run.robot.name == "Box wide"


def test_a_bound_is_told_and_kept() -> None:
    made = session()
    place = next(g for g, segment in enumerate(RUN.segments) if isinstance(segment, Wait))
    click(made, *block(made, place))
    for _ in range(4):
        press_row(made, "seconds", "minus")
    assert made.run.segments[place] == Wait(0.0)
    assert "accepted" in made.toast


def test_more_numbers_than_rows_are_scrolled_to() -> None:
    made = session()
    made.key("b")
    assert len(made.lines) > len(made.places.rows)
    for _ in range(len(made.lines) - 1):
        made.key("down")
    assert made.row == len(made.lines) - 1
    assert made.first_row == len(made.lines) - len(made.places.rows)
    made.key("down")
    assert (made.row, made.first_row) == (0, 0)
    places = made.places.numbers
    made.wheel(places.x + 5, places.y + 5, -1.0)
    assert made.first_row == 1
    made.wheel(places.x + 5, places.y + 5, 1.0)
    assert made.first_row == 0


# --- switches ----------------------------------------------------------------------------------------------------


def test_starts_robots_and_what_is_worn_go_round() -> None:
    made = session()
    for name in (*(jig.name for jig in RUN.field.jigs[1:]), None, RUN.field.jigs[0].name):
        made.key("j")
        assert made.run.start == name or (name is None and isinstance(made.run.start, StartByEye))
    made.wheel(*made.places.switch_rows[0].entry.centre, 1.0)
    assert isinstance(made.run.start, StartByEye)
    seen = []
    for _ in range(4):
        made.key("w")
        seen.append(made.run.wear)
    assert seen == [("hook",), ("scoop", "hook"), (), ("scoop",)]
    made.key("r")
    assert made.run.robot.name == "Box wide"
    assert made.history.state.robot_file == WIDE
    assert made.run.wear == ()
    assert "without scoop" in made.toast
    made.key("ctrl z")
    assert made.run.robot.name == "Box one"
    assert made.run.wear == ("scoop",)


def test_by_eye_comes_back_to_where_it_was_by_eye() -> None:
    made = session()
    drag(made, "handle start", 120, -120)
    there = made.run.start
    assert isinstance(there, StartByEye)
    made.key("j")
    assert made.run.start == "corner block"
    made.wheel(*made.places.switch_rows[0].entry.centre, 1.0)
    assert made.run.start == there


def test_another_robot_is_looked_at_without_losing_what_was_changed() -> None:
    made = session()
    drag(made, "handle width", 20, 0)
    wider = made.run.robot
    made.key("r")
    made.key("r")
    assert made.run.robot == wider
    # Its file is not among the robots any more: the others can still be driven.
    made.robots = {WIDE: ROBOTS[WIDE]}
    made.key("r")
    assert "no other robot" in made.toast
    made.robots = {WIDE: ROBOTS[WIDE], Path("third.yaml"): ROBOTS[WIDE]}
    made.key("r")
    assert made.run.robot.name == "Box wide"


# --- undo, and words ---------------------------------------------------------------------------------------------


def test_undo_and_redo_say_what_they_do() -> None:
    made = session()
    made.key("ctrl z")
    assert made.toast == "There is nothing to undo"
    made.key("ctrl y")
    assert made.toast == "There is nothing to do again"
    made.key("j")
    made.key("alt right")
    made.key("alt right")
    made.key("alt [")
    for words in ("turn the start", "move the start", "another start"):
        made.key("ctrl z")
        assert made.toast == f"Taken back: {words}"
    made.key("ctrl shift z")
    assert made.toast == "Done again: another start"


def test_the_keys_move_and_turn_the_start() -> None:
    made = session()
    x, y, heading = start_pose(RUN)
    for pressed in ("alt right", "alt shift up", "alt ]"):
        made.key(pressed)
    assert start_pose(made.run) == pytest.approx((x + 1, y + 10, heading - 0.5))
    assert made.place == "start"


def test_a_word_stays_long_enough_to_be_read_also_before_the_first_tick() -> None:
    made = session()
    made.say("short")
    # The window's clock may have run for hours by then.
    made.tick(5000.0)
    assert made.toast == "short"
    made.tick(5000.0 + STAYS - 0.1)
    assert made.toast == "short"
    made.tick(5000.0 + STAYS)
    assert made.toast == ""
    made.say("x" * 140)
    made.tick(6000.0)
    made.tick(6009.0)
    assert made.toast
    made.tick(6010.0)
    assert not made.toast


# --- time --------------------------------------------------------------------------------------------------------


def test_the_robot_drives_at_its_real_speed() -> None:
    made = session()
    made.tick(0.0)
    made.key("space")
    for n in range(1, 11):
        made.tick(n / 10)
    assert made.seconds == pytest.approx(1.0)
    for pressed, pace in (("]", 2.0), ("]", 4.0), ("]", 4.0), ("[", 2.0), ("[", 1.0), ("[", 0.5), ("[", 0.25)):
        made.key(pressed)
        assert PACES[made.pace] == pace
    made.tick(1.2)
    assert made.seconds == pytest.approx(1.05)
    made.key("space")
    made.tick(5.0)
    assert made.seconds == pytest.approx(1.05)
    # A window that was frozen for a while does not leap.
    made.key("space")
    made.tick(100.0)
    assert made.seconds < 1.2


def test_at_its_end_it_stops_and_begins_again() -> None:
    made = session()
    made.key("end")
    assert made.seconds == made.clock.seconds
    made.key("space")
    assert (made.seconds, made.playing) == (0.0, True)
    made.seconds = made.clock.seconds - 0.01
    made.tick(1.0)
    assert (made.seconds, made.playing) == (made.clock.seconds, False)
    assert made.head == len(RUN.segments)
    made.key("home")
    assert made.seconds == 0.0


def test_steps_and_segments_on_and_back_also_over_one_that_takes_no_time() -> None:
    made = session(driven(Straight(100.0), Wait(0.0), Wait(0.0), Straight(100.0)))
    made.key("right")
    made.key("right")
    made.key("left")
    assert made.seconds == pytest.approx(0.1)
    edges = sorted(set(made.clock.edges))
    for edge in edges[1:]:
        made.key("shift right")
        assert made.seconds == edge
    for edge in reversed(edges[:-1]):
        made.key("shift left")
        assert made.seconds == edge
    made.key("left")
    assert made.seconds == 0.0


def test_the_strip_is_dragged_along() -> None:
    made = session()
    y = made.places.ribbon.centre[1]
    made.key("space")
    made.pressed(made.strip.edges[3] + 1, y)
    assert made.head == pytest.approx(3.0, abs=0.1)
    assert not made.playing
    made.moved(made.strip.edges[-1] + 40, y)
    assert made.seconds == made.clock.seconds
    made.moved(-40, y)
    assert made.seconds == 0.0
    made.released(-40, y)
    made.wheel(made.places.ribbon.centre[0], y, 2.0)
    assert made.seconds == pytest.approx(0.2)
    made.key("x")
    assert made.axis == "way"
    middle = block(made, 2)[0]
    made.pressed(middle, y)
    assert made.head == pytest.approx(2.5, abs=0.01)


# --- the field ---------------------------------------------------------------------------------------------------


def test_the_field_is_moved_and_looked_at_more_closely() -> None:
    made = session()
    fitted = made.camera
    at = made.places.field.centre
    made.wheel(*at, 3.0)
    assert made.camera.zoom > fitted.zoom
    x, y = made.camera.pixel(700.0, 400.0)
    made.pressed(at[0] + 40, at[1] + 10, "right")
    made.moved(at[0] + 70, at[1] + 30)
    made.released(at[0] + 70, at[1] + 30)
    assert made.camera.pixel(700.0, 400.0) == pytest.approx((x + 30, y + 20))
    made.key("f")
    assert made.camera == fitted
    made.resize((900, 600))
    assert made.camera.view == made.places.field


# --- trials ------------------------------------------------------------------------------------------------------


def test_t_picks_trials_that_fail_one_after_the_other() -> None:
    made = with_trials()
    found = [n for n, failure in enumerate(made.failures) if failure is not None]
    assert len(found) > 20
    for n in found[:5]:
        made.key("t")
        assert made.picked is not None
        assert made.picked.number == n
        scene = RunView(made).scene()
        assert scene.picked is not None
        assert scene.picked.words.startswith(f"trial {n + 1}: ")
        assert scene.cloud is None
    made.key("shift t")
    assert made.picked is not None
    assert made.picked.number == found[4] + 1
    made.key("escape")
    assert made.picked is None
    # A change lets it go: it was a trial of another run.
    made.key("t")
    made.key("alt right")
    assert made.picked is None


@pytest.mark.parametrize("run", [RUN, BELL, load_run(SEASON / "mill-hatch.yaml")], ids=lambda run: run.name)
def test_every_mark_can_be_clicked(run: Run) -> None:
    made = with_trials(run)
    shown = made.shown
    assert shown is not None
    assert shown.first is not None
    assert shown.sample is not None
    cloud = cloud_of(shown.sample, shown.first, made.failures)
    where = {n: made.mark_at(shown.first, n, each) for n, each in enumerate(made.failures) if each is not None}
    drawn = np.array(sorted(tuple(at) for _, marks in cloud.marks for at in marks.tolist()))
    assert np.array(sorted(where.values())) == pytest.approx(drawn)
    # As near as can be, since marks lie upon each other.
    made.wheel(*made.places.field.centre, 1.0)
    for n in list(where)[::7]:
        made.camera = replace(made.camera, zoom=made.camera.limits[1], x=where[n][0], y=where[n][1])
        x, y = made.camera.pixel(*where[n])
        if made.under(x, y) != "field":
            continue
        click(made, x, y)
        assert made.picked is not None
        there = where[made.picked.number]
        assert hypot(there[0] - where[n][0], there[1] - where[n][1]) < 1e-6
        made.do("drop")


@pytest.mark.parametrize("run", [RUN, BELL, load_run(SEASON / "mill-hatch.yaml")], ids=lambda run: run.name)
def test_the_replay_of_a_trial_ends_where_it_failed(run: Run) -> None:
    made = with_trials(run)
    shown = made.shown
    assert shown is not None
    first = shown.first
    assert first is not None
    ready = first.plan
    touches = 0
    for n, failure in enumerate(made.failures):
        if failure is None or failure.why != "touches" or touches == 12:
            continue
        touches += 1
        looking.pick_trial(made, n)
        assert made.picked is not None
        made.do("end")
        x, y, heading = made.pose
        c, s = np.cos(np.radians(heading)), np.sin(np.radians(heading))
        solid = next(solid for solid in ready.solids if solid.name == failure.what)
        # The outline of the robot, put there by hand, is at the thing and not in it.
        parts = [shapely.Polygon(part.points @ np.array([[c, s], [-s, c]]) + (x, y)) for part in ready.parts]
        point = shapely.Point(*first.contact_at[n])
        assert min(part.exterior.distance(point) for part in parts) < 1e-3
        cores = [(shapely.MultiPoint(core.points).convex_hull, core.radius) for core in solid.cores]
        assert abs(min(part.distance(core) - radius for part in parts for core, radius in cores)) < 1e-3
        scene = RunView(made).scene()
        assert scene.picked is not None
        assert scene.picked.at == tuple(first.contact_at[n])
        # The way drawn ends there too.
        assert scene.picked.path[-1] == pytest.approx((x, y))
        assert scene.picked.path[0] == pytest.approx(first.poses[n, 0, :2])
    for n, failure in enumerate(made.failures):
        if failure is None:
            looking.pick_trial(made, n)
            made.do("end")
            assert made.pose == pytest.approx(tuple(first.poses[n, -1]), abs=1e-6)
            break
    assert touches or run.name == BELL.name


def test_a_missed_target_is_marked_at_the_tool_and_not_at_the_end_of_the_run() -> None:
    made = with_trials()
    n, failure = next((n, each) for n, each in enumerate(made.failures) if each is not None and each.why == "misses")
    looking.pick_trial(made, n)
    scene = RunView(made).scene()
    assert scene.picked is not None
    target = next(target for target in RUN.field.targets if target.name == failure.what)
    at = scene.picked.at
    assert at is not None
    away = hypot(at[0] - target.at[0], at[1] - target.at[1])
    assert target.within < away < 60
    assert isinstance(RUN.segments[failure.segment - 1], Act)


def test_before_there_are_trials_it_says_so() -> None:
    made = session()
    made.key("t")
    assert made.toast == "No trials yet"
    odds = RunView(made).scene().odds
    assert odds is not None
    assert odds.big == "counting"


def test_when_none_fails_it_says_so() -> None:
    made = with_trials(driven(Straight(100.0)), trials=40)
    made.key("t")
    assert made.toast == "None of the first 40 trials fails"


def test_what_is_shown_of_trials_belongs_to_the_run_or_is_not_shown() -> None:
    made = with_trials()
    view = RunView(made)
    assert view.scene().cloud is not None
    assert view.scene().pinch is not None
    made.key("alt shift right")
    scene = view.scene()
    assert scene.cloud is None
    assert scene.pinch is None
    assert scene.odds is not None
    assert scene.odds.stale
    made.tick(1.0)
    scene = view.scene()
    assert scene.cloud is not None
    assert scene.odds is not None
    assert not scene.odds.stale
    # While a hand drags, those of a moment ago stay.
    x, y = handle_at(made, "handle start")
    made.pressed(x, y)
    made.moved(x + 30, y)
    assert view.scene().cloud is not None
    made._now += 1.0
    assert view.scene().cloud is None


def test_a_run_that_cannot_be_planned_is_told_and_can_still_be_changed() -> None:
    # Without the scoop its face is gone, which a square was to push with.
    run = driven(Straight(100.0), Square("front", "near wall", 200.0), at=(500.0, 500.0), heading=-90.0)
    made = session(run, AtOnce(40))
    made.problem = "segment 2 cannot be"
    scene = RunView(made).scene()
    assert scene.odds is not None
    assert scene.odds.big == "cannot be tried"
    assert "segment 2" in scene.odds.foot
    # The strip is that of a longer run: a click on its end picks the last segment there is.
    made.history = History.begun(EditedRun(driven(Arc(30.0, 200.0)), ONE))
    click(made, *block(made, 1))
    assert made.place == 0
    assert made.lines


# --- over the window ---------------------------------------------------------------------------------------------


def test_help_lies_over_all_until_a_key_or_a_click() -> None:
    made = session()
    for pressed in ("h", "f1", "?"):
        made.key(pressed)
        rows = RunView(made).scene().help
        assert ("space", "drive, or stop") in rows
        made.text("4")
        made.wheel(*made.places.field.centre, 1.0)
        made.key("delete")
        assert not made.help
        assert made.run == RUN
    made.key("h")
    click(made, *made.places.button("undo").centre)
    assert not made.help


def test_closing_asks_when_something_is_not_saved() -> None:
    made = session()
    made.key("ctrl q")
    assert made.wants == {"quit"}
    made.wants.clear()
    made.key("j")
    made.key("ctrl q")
    assert made.asked == "quit"
    assert RunView(made).scene().error == ErrorWords(*made.over, answers_of(known_question("quit")))
    # Enter is pressed too easily, and other keys and clicks decide nothing.
    for pressed in ("return", "space", "ctrl z", "delete"):
        made.key(pressed)
        assert made.asked == "quit"
    made.pressed(*made.places.button("undo").centre)
    assert made.asked == "quit"
    assert made.history.undo_words == "another start"
    # A press on a button of the question answers it.
    stay = answer_rects(made.places.field, made.places.unit, known_question("quit").answers)[2]
    made.moved(*stay.centre)
    assert made.hover == "answer 2"
    made.pressed(*stay.centre)
    assert (made.asked, made.wants) == (None, set())
    made.key("ctrl q")
    made.key("n")
    assert (made.asked, made.wants) == (None, set())
    made.key("ctrl q")
    made.key("escape")
    assert (made.asked, made.wants) == (None, set())
    made.key("ctrl q")
    made.key("shift y")
    assert made.wants == {"quit"}


@pytest.mark.parametrize(
    ("pressed", "want"),
    [("y", "recover yes"), ("return", "recover yes"), ("n", "recover no"), ("escape", "recover later")],
)
def test_a_copy_is_taken_thrown_away_or_kept_for_the_next_time(pressed: str, want: str) -> None:
    made = session()
    made.asked = "recover"
    made.key("q")
    assert made.asked == "recover"
    made.key(pressed)
    assert (made.asked, made.wants) == (None, {want})


def test_what_was_saved_is_no_longer_asked_for() -> None:
    made = session()
    made.key("j")
    assert RunView(made).scene().changed
    made.saved()
    assert not RunView(made).scene().changed
    made.key("ctrl q")
    assert made.wants == {"quit"}
    made.key("ctrl z")
    assert made.history.dirty


def test_body_corners_are_where_the_handles_are_seen_from() -> None:
    # The width handle stands beside the body, the turn handle before it: neither lies upon the other or the start.
    made = session()
    x, y, heading = start_pose(RUN)
    c, s = np.cos(np.radians(heading)), np.sin(np.radians(heading))
    body = shapely.Polygon(body_corners(RUN.robot.body) @ np.array([[c, s], [-s, c]]) + (x, y))
    at = {handle.name: shapely.Point(handle.at) for handle in made.handles}
    assert body.contains(at["handle start"])
    assert not body.contains(at["handle width"])
    assert not body.contains(at["handle turn"])


# --- numbers that begin with a sign, a drag that is taken back ------------------------------------------------------


def on_number(made: RunSession, g: int, key: str) -> int:
    made._pick(g)
    made.row = next(n for n, line in enumerate(made.lines) if line.key.endswith(f" {key}"))
    return made.row


@pytest.mark.parametrize(("typed", "meant"), [("-45", -45.0), ("45", 45.0), ("-4.5", -4.5)])
def test_a_number_is_typed_with_its_sign_at_once(typed: str, meant: float) -> None:
    g = next(n for n, segment in enumerate(RUN.segments) if isinstance(segment, Turn))
    made = session()
    on_number(made, g, "angle")
    zoom = made.camera.zoom
    for letter in typed:
        made.key(letter)
        made.text(letter)
    made.key("return")
    segment = made.run.segments[g]
    assert isinstance(segment, Turn)
    assert segment.angle == meant
    assert made.camera.zoom == zoom


@pytest.mark.parametrize("sign", [".", ","])
def test_a_decimal_mark_begins_a_number_and_moves_no_segment(sign: str) -> None:
    made = session()
    on_number(made, 0, "distance")
    for letter in f"{sign}5":
        made.key(letter)
        made.text(letter)
    assert made.entry is not None
    assert made.entry.text == f"{sign}5"
    assert made.run == RUN
    # Where no number is picked they do nothing; segments are moved by other keys.
    other = session()
    other.key("tab")
    other.key("up")
    other.key(sign)
    other.text(sign)
    assert other.entry is None
    other.key("ctrl page down")
    assert other.run.segments == (RUN.segments[1], RUN.segments[0], *RUN.segments[2:])
    other.key("ctrl page up")
    assert other.run.segments == RUN.segments


@pytest.mark.parametrize("name", ["handle start", "handle turn", "handle width"])
def test_escape_takes_back_a_drag(name: str) -> None:
    made = session()
    made.do("pick start")
    made.do("start right")
    made.do("undo")
    before = made.history
    x, y = handle_at(made, name)
    made.pressed(x, y)
    for k in range(1, 5):
        made.moved(x - 20 * k, y - 15 * k)
    assert made.run != RUN
    made.key("escape")
    assert not made.dragging
    made.moved(x - 200, y - 100)
    made.released(x - 200, y - 100)
    assert made.history == before
    assert made.ready is not None
    assert made.ready.run == RUN
    assert made.guides == ()


def test_escape_takes_back_a_pan_and_a_scrub() -> None:
    made = session()
    camera = made.camera
    x, y = made.camera.pixel(*BIN)
    made.pressed(x, y, "right")
    made.moved(x + 50, y + 30)
    assert made.camera != camera
    made.key("escape")
    assert made.camera == camera
    made.released(x, y)
    left, top = made.places.axis.x, made.places.axis.y
    made.pressed(left + 200, top + 2)
    made.moved(left + 300, top + 2)
    assert made.seconds > 0.0
    made.key("escape")
    assert made.seconds == 0.0


def test_only_what_nudges_repeats_while_its_key_is_held() -> None:
    made = session()
    on_number(made, 0, "distance")
    held = {name: made.repeats(name) for name in ("page up", "alt left", "right", "n", "c", "delete", "tab", "ctrl z")}
    assert [name for name, repeats in held.items() if repeats] == ["page up", "alt left", "right"]
    made.do("type")
    assert made.repeats("backspace")
    assert not made.repeats("page up")
    made.key("escape")
    made.do("help")
    assert not made.repeats("page up")


@pytest.mark.parametrize("pressed", ["shift tab", "up", "tab", "return"])
def test_a_number_that_is_there_no_more_is_not_gone_on_from(pressed: str) -> None:
    """What is being typed was for a line of another card."""
    made = session()
    made.entry = Entry(5, "12", 2)
    made.key(pressed)
    assert made.entry is None
    assert made.run == RUN
