"""Live trials: what is shown last is what `attempt` says, wishes replace each other, and nothing stays behind."""

from __future__ import annotations

import subprocess
import sys
import threading
import time
from collections.abc import Iterator
from dataclasses import replace
from functools import partial
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

import fieldsim.sim.plan
import fieldsim.studies.unknown
from fieldsim.files import load_run
from fieldsim.model import Between, Run, StartByEye, TurnBetween
from fieldsim.sim.draws import BLOCK
from fieldsim.sim.motion import start_pose
from fieldsim.sim.trials import paths
from fieldsim.studies.attempt import Trying, attempt
from fieldsim.window import live as module
from fieldsim.window.live import COARSE, STAGE, Live, Shown

RUNS = Path(__file__).parents[2] / "runs/bakery"
FLOUR = load_run(RUNS / "flour-round.yaml")
HATCH = load_run(RUNS / "mill-hatch.yaml")
LONG = 600.0
"""Seconds after which a test gives up on a machine that is busy; what is waited for comes in a moment elsewhere."""


def moved(by: float, run: Run = FLOUR) -> Run:
    """As if the start were dragged."""
    x, y, heading = start_pose(run)
    return replace(run, start=StartByEye((x + by, y + by / 3), heading))


def every(live: Live, until: int, full: bool = True) -> list[Shown]:
    """All news until the last of a wish (or its first)."""
    found: list[Shown] = []
    end = time.monotonic() + LONG
    while time.monotonic() < end:
        news = live.news()
        if news is not None:
            found.append(news)
            if news.number == until and (news.full or not full):
                return found
        time.sleep(0.001)
    raise AssertionError(f"no last answer to wish {until}, but {[(n.number, n.n) for n in found]}")


def works(live: Live) -> bool:
    return any(thread is live._thread for thread in threading.enumerate())


@pytest.fixture(scope="module", autouse=True)
def ready() -> None:
    """Compiled before anyone counts seconds."""
    module.get_ready()


@pytest.fixture
def live() -> Iterator[Live]:
    with Live(full=3000, keep=1000) as made:
        yield made
    assert not works(made)


# --- the same answer -----------------------------------------------------------------------------------------------


@pytest.mark.parametrize("threads", [1, None])
@pytest.mark.parametrize("full", [1, COARSE, 1999, 3500])
def test_the_last_answer_is_that_of_attempt(threads: int | None, full: int) -> None:
    with Live(threads, seed=5, full=full) as live:
        last = every(live, live.want(FLOUR))[-1]
    assert last.answer == attempt(FLOUR, trials=full, seed=5).answer
    assert (last.n, last.full, last.problem, last.run) == (full, True, None, FLOUR)


def test_every_answer_on_the_way_is_that_of_attempt(monkeypatch: pytest.MonkeyPatch) -> None:
    # Told after each block, and the coarse one first.
    monkeypatch.setattr(module, "BETWEEN", 0.0)
    monkeypatch.setattr(module, "BUDGET", 0.0)
    with Live(full=5000) as live:
        shown = every(live, live.want(moved(3.0)))
    sizes = [news.n for news in shown]
    # News that nobody fetched in time are replaced, so some may be missing; but none goes back.
    assert sizes == sorted(set(sizes))
    assert set(sizes) <= {COARSE, STAGE, 3000, 4000, 5000}
    for news in shown:
        assert news.answer == attempt(moved(3.0), trials=news.n).answer
        assert news.full == (news.n == 5000)


def test_a_fast_machine_needs_no_coarse_answer(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(module, "BUDGET", LONG)
    with Live(full=STAGE) as live:
        # At first nothing is known of the machine.
        every(live, live.want(FLOUR))
        assert [news.n for news in every(live, live.want(moved(1.0)))] == [STAGE]


def test_first_trials_and_paths_are_those_of_attempt(live: Live) -> None:
    last = every(live, live.want(FLOUR))[-1]
    tried = attempt(FLOUR, trials=3000, keep=1000)
    assert last.first is not None
    assert last.sample is not None
    assert tried.first is not None
    assert len(last.first) == 1000
    assert (last.first.poses == tried.first.poses).all()
    sample = paths(tried.ready, 1, tried.first, list(range(60)))
    assert (last.sample.trials == sample.trials).all()
    assert (last.sample.contacts == sample.contacts).all()
    assert last.sample.contact_obstacle == sample.contact_obstacle


def test_nothing_kept_shows_no_paths() -> None:
    with Live(full=100, keep=0) as live:
        last = every(live, live.want(FLOUR))[-1]
    assert last.answer is not None
    assert (last.first, last.sample) == (None, None)


def test_bare(live: Live) -> None:
    assert HATCH.wear
    last = every(live, live.want(HATCH, bare=True))[-1]
    assert last.answer == attempt(HATCH, trials=3000, without_attachments=True).answer
    assert last.run is HATCH


def test_what_the_tests_of_the_robot_leave_unknown_comes_last(monkeypatch: pytest.MonkeyPatch) -> None:
    """It takes seconds, so all trials are shown before it; a newer wish breaks it off."""
    # Fewer robots than usual, or it would take this test seconds too.
    monkeypatch.setattr(fieldsim.studies.unknown, "unknown", partial(fieldsim.studies.unknown.unknown, count=8))
    known = replace(FLOUR.robot.accuracy, between=Between(tests=12, turn=TurnBetween(stop=(0.2, 1.0), slip=(0.1, 1.2))))
    run = replace(FLOUR, robot=replace(FLOUR.robot, accuracy=known))
    for full in (STAGE, 3000):
        with Live(full=full) as live:
            shown = every(live, live.want(run))
        assert shown[-1].answer == attempt(run, trials=full).answer
        assert shown[-1].answer is not None
        assert shown[-1].answer.unknown is not None
        assert [news.full for news in shown] == [False] * (len(shown) - 1) + [True]
        assert all(news.answer is not None and news.answer.unknown is None for news in shown[:-1])

    monkeypatch.setattr(
        fieldsim.studies.unknown, "unknown", partial(fieldsim.studies.unknown.unknown.func, count=2**13)
    )  # type: ignore[attr-defined]
    with Live(full=STAGE) as live:
        number = live.want(run)
        while every(live, number, full=False)[-1].n < STAGE:
            pass
        time.sleep(4 * module.REST)
        assert live.busy
        last = every(live, live.want(FLOUR))[-1]
    assert last.answer == attempt(FLOUR, trials=STAGE).answer


def test_a_start_where_nothing_can_be_set(live: Live) -> None:
    obstacle = FLOUR.field.obstacles[0]
    centre = obstacle.shape.center  # type: ignore[union-attr]
    inside = replace(FLOUR, start=StartByEye(centre, 0.0))
    last = every(live, live.want(inside))[-1]
    assert obstacle.name in last.stands_in
    assert every(live, live.want(FLOUR))[-1].stands_in == ()


# --- wishes --------------------------------------------------------------------------------------------------------


@settings(max_examples=5, deadline=None)
@given(st.lists(st.floats(0.0, 0.03), min_size=1, max_size=12))
def test_wishes_replace_each_other(pauses: list[float]) -> None:
    """However the hand moves: news go forwards, each is of the run wished for, and the last wish is served in full."""
    with Live(full=2500) as live:
        runs: dict[int, Run] = {}
        shown: list[Shown] = []
        for by, pause in enumerate(pauses):
            run = moved(float(by))
            runs[live.want(run)] = run
            time.sleep(pause)
            news = live.news()
            shown += [] if news is None else [news]
        shown += [] if shown and shown[-1].number == len(pauses) and shown[-1].full else every(live, len(pauses))
    order = [(news.number, news.n) for news in shown]
    assert order == sorted(set(order))
    assert all(news.run is runs[news.number] for news in shown)
    assert shown[-1].answer == attempt(runs[len(pauses)], trials=2500).answer


def test_a_hand_that_never_rests_sees_answers(live: Live) -> None:
    every(live, live.want(FLOUR))
    seen = set()
    end = time.monotonic() + LONG
    wishes = 0
    while len(seen) < 3:
        assert time.monotonic() < end, f"answers to {seen} of {wishes} wishes"
        wishes = live.want(moved(wishes % 100 / 10))
        time.sleep(0.004)
        news = live.news()
        if news is not None:
            seen.add(news.number)


def test_an_older_wish_is_dropped_between_blocks(monkeypatch: pytest.MonkeyPatch) -> None:
    """Else ten thousand blocks would have to be waited for."""
    monkeypatch.setattr(module, "REST", 0.0)
    most = {"Flour round": 0, "Mill hatch": 0}
    upto = Trying.upto

    def counted(self: Trying, trials: int) -> Iterator[int]:
        for done in upto(self, trials):
            most[self.ready.run.name] = max(most[self.ready.run.name], done)
            yield done

    monkeypatch.setattr(Trying, "upto", counted)
    with Live(full=10_000 * BLOCK) as live:
        number = live.want(FLOUR)
        while every(live, number, full=False)[-1].n < STAGE:
            pass
        every(live, live.want(HATCH), full=False)
        assert STAGE <= most["Flour round"] < 10_000 * BLOCK


def test_wishing_does_not_wait_for_trials(live: Live, monkeypatch: pytest.MonkeyPatch) -> None:
    """A wish and its news come back while the trials of an older one do not."""
    driving, go_on = threading.Event(), threading.Event()
    upto = Trying.upto

    def held(self: Trying, trials: int) -> Iterator[int]:
        driving.set()
        assert go_on.wait(LONG)
        yield from upto(self, trials)

    monkeypatch.setattr(Trying, "upto", held)
    live.want(FLOUR)
    assert driving.wait(LONG)
    wishes: list[int] = []

    def hand() -> None:
        for by in range(50):
            wishes.append(live.want(moved(by / 10)))
            live.news()

    thread = threading.Thread(target=hand)
    thread.start()
    thread.join(LONG)
    assert (thread.is_alive(), len(wishes)) == (False, 50)
    go_on.set()
    assert every(live, wishes[-1])[-1].full


def test_busy_and_state(live: Live) -> None:
    end = time.monotonic() + LONG
    while live.state == "getting ready" and time.monotonic() < end:
        time.sleep(0.001)
    assert (live.state, live.busy, live.news()) == ("resting", False, None)
    number = live.want(FLOUR)
    assert live.busy
    every(live, number)
    while live.busy and time.monotonic() < end:
        time.sleep(0.001)
    assert (live.state, live.busy, live.news()) == ("resting", False, None)
    assert live.close()
    assert (live.state, live.busy) == ("closed", False)
    with pytest.raises(RuntimeError, match="closed"):
        live.want(FLOUR)


# --- what goes wrong -----------------------------------------------------------------------------------------------


def test_a_run_that_cannot_be_and_then_one_that_can(live: Live) -> None:
    """A square on a wall with a face that cannot meet it is refused by the plan; its words are shown."""
    bell = load_run(RUNS / "yard-bell.yaml")
    body = replace(bell.robot.body, height=(0.0, 100.0))
    low = replace(
        bell,
        field=replace(bell.field, walls=(1500.0, 2000.0)),
        robot=replace(bell.robot, body=body, attachments=()),
        wear=(),
    )
    with pytest.raises(ValueError, match="its 'against'") as refused:
        fieldsim.sim.plan.plan(low)
    (last,) = every(live, live.want(low))
    assert last.problem == str(refused.value)
    assert (last.plan, last.answer, last.first, last.sample, last.n, last.cause) == (None, None, None, None, 0, None)
    good = every(live, live.want(bell))[-1]
    assert good.problem is None
    assert good.answer == attempt(bell, trials=3000).answer


def test_a_mistake_of_the_program_does_not_end_the_thread(live: Live, monkeypatch: pytest.MonkeyPatch) -> None:
    wrong = KeyError("ribbon")

    def broken(self: Trying, trials: int) -> Iterator[int]:
        raise wrong
        yield trials

    with monkeypatch.context() as patch:
        patch.setattr(Trying, "upto", broken)
        (last,) = every(live, live.want(FLOUR))
    assert last.cause is wrong
    assert "KeyError('ribbon')" in str(last.problem)
    assert every(live, live.want(FLOUR))[-1].problem is None


@pytest.mark.parametrize("wait", [0.0, 0.005, 0.03, 0.2])
def test_close_while_busy_leaves_no_thread(wait: float) -> None:
    before = set(threading.enumerate())
    live = Live(full=1_000_000)
    live.want(FLOUR)
    time.sleep(wait)
    assert live.close(LONG)
    assert live.close()
    assert set(threading.enumerate()) <= before
    assert live.news() is None


@pytest.mark.parametrize(("full", "seed"), [(0, 1), (10, -1), (10, 2**64)])
def test_numbers_that_cannot_be(full: int, seed: int) -> None:
    before = threading.active_count()
    with pytest.raises(ValueError, match="must be"):
        Live(seed=seed, full=full)
    assert threading.active_count() == before


def test_getting_ready_loads_all_that_a_wish_needs() -> None:
    """A fresh process: nothing of the kernel before, no module of it or of the studies after. And the process ends
    although the thread was not closed."""
    program = f"""
import sys
from fieldsim.files import load_run
from fieldsim.window.live import Live, get_ready
def loaded():
    rooms = ("fieldsim.sim", "fieldsim.studies", "numpy", "shapely", "scipy")
    return {{name for name in sys.modules if name.startswith(rooms)}}
before = "fieldsim.sim.kernel.library" in sys.modules
get_ready()
first = loaded()
live = Live(full=10)
live.want(load_run({str(RUNS / "flour-round.yaml")!r}))
while live.busy: pass
assert live.news().full
live.want(load_run({str(RUNS / "yard-bell.yaml")!r}))
while live.busy: pass
assert live.news().full
print(before, "fieldsim.sim.kernel.library" in first, sorted(loaded() - first))
"""
    done = subprocess.run([sys.executable, "-c", program], capture_output=True, text=True)
    assert (done.stdout.strip(), done.stderr) == ("False True []", "")
