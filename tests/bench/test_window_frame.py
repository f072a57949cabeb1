"""How long a frame of the window takes while a hand drags the start and each frame has fresh trials.

    pytest tests/bench/test_window_frame.py --benchmark-only

The flour round, 2,000 trials, 1280 x 800, painted on a surface that nobody sees. Everything is done one after the other
here; in the window the trials have a thread of their own, so that only the last two rows are in the hand's way.
"""

from __future__ import annotations

import os
from collections.abc import Callable, Iterator
from itertools import count
from pathlib import Path
from typing import Any

os.environ.setdefault("SDL_VIDEODRIVER", "dummy")

import pygame
import pytest

from fieldsim.files import load_run
from fieldsim.model import Run
from fieldsim.plan import overlaps
from fieldsim.study import attempt
from fieldsim.trials import paths
from fieldsim.window.live import DRAWN, STAGE, Shown
from fieldsim.window.paint import Layers, paint
from fieldsim.window.run_files import EditedRun
from fieldsim.window.run_session import RunSession
from fieldsim.window.run_view import RunView

SIZE = (1280, 800)
PATH = Path(__file__).parents[2] / "runs/bakery/flour-round.yaml"
_STEPS = count()


class AtOnce:
    """Trials that are there with the next tick, or none at all."""

    trials = True

    def __init__(self) -> None:
        self.wish: Run | None = None

    def want(self, run: Run, *, bare: bool = False) -> int:
        self.wish = run
        return 1

    def news(self) -> Shown | None:
        run, self.wish = self.wish, None
        if run is None or not self.trials:
            return None
        done = attempt(run, trials=STAGE, keep=STAGE)
        assert done.first is not None
        sample = paths(done.ready, 1, done.first, list(range(DRAWN)))
        stands = tuple(name for name, _ in overlaps(done.ready))
        return Shown(run, 1, done.ready, done.answer, done.first, sample, stands, STAGE, False)


class Window:
    """A hand that holds the start, and what is painted of it."""

    def __init__(self) -> None:
        self.tries = AtOnce()
        run = load_run(PATH)
        self.session = RunSession(EditedRun(run, PATH.parent / "box-one.yaml"), self.tries, SIZE)
        self.view = RunView(self.session)
        self.surface, self.layers = pygame.Surface(SIZE), Layers()
        self.session.tick(0.0)
        self.at = self.session.camera.pixel(*self.session.handles[0].at)
        self.session.pressed(*self.at)

    def move(self) -> None:
        n = next(_STEPS)
        self.session.moved(self.at[0] + 20 + n % 40, self.at[1] - 20 - n % 31, frozenset({"alt"}))
        self.session.tick(n / 60)

    def draw(self) -> None:
        paint(self.surface, self.view.scene(), self.layers)


@pytest.fixture
def window() -> Iterator[Window]:
    pygame.display.init()
    pygame.font.init()
    pygame.display.set_mode(SIZE)
    made = Window()
    made.move()
    made.draw()
    yield made
    pygame.display.quit()


def whole(window: Window) -> None:
    window.move()
    window.draw()


def hand(window: Window) -> None:
    """The drag itself: snapping, the plan, its way and its strip, but no trials."""
    window.tries.trials = False
    window.move()


FRAMES: dict[str, Callable[[Window], None]] = {
    "drag, 2,000 trials, paint": whole,
    "drag alone": hand,
    "paint the same again": Window.draw,
}


@pytest.mark.parametrize("part", FRAMES)
def test_a_dragged_frame(benchmark: Any, window: Window, part: str) -> None:
    benchmark.pedantic(FRAMES[part], args=(window,), rounds=40, warmup_rounds=3)


def test_paint_fresh_trials(benchmark: Any, window: Window) -> None:
    """Of each frame the scene and its painting, with other trials each time."""
    benchmark.pedantic(window.draw, setup=window.move, rounds=40, warmup_rounds=3)
