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
from fieldsim.sim.plan import Plan, overlaps, plan
from fieldsim.sim.trials import paths
from fieldsim.studies.attempt import Trying
from fieldsim.window.live import DRAWN, STAGE, Shown
from fieldsim.window.paint.frame import Layers, paint
from fieldsim.window.run.files import EditedRun
from fieldsim.window.run.session import RunSession
from fieldsim.window.run.view import RunView

SIZE = (1280, 800)
PATH = Path(__file__).parents[2] / "runs/bakery/flour-round.yaml"
_STEPS = count()


class AtOnce:
    """Trials that are there with the next tick, or none at all."""

    trials = True

    def __init__(self) -> None:
        self.wish: Plan | None = None

    def want(self, run: Run, ready: Plan | None = None, *, bare: bool = False) -> int:
        self.wish = plan(run) if ready is None else ready
        return 1

    def news(self) -> Shown | None:
        """As ``Live`` does it, on all cores."""
        ready, self.wish = self.wish, None
        if ready is None or not self.trials:
            return None
        trying = Trying(ready, keep=STAGE)
        for _ in trying.upto(STAGE):
            pass
        done = trying.tried(asked=STAGE)
        assert done.first is not None
        sample = paths(ready, 1, done.first, list(range(DRAWN)))
        stands = tuple(name for name, _ in overlaps(ready))
        return Shown(ready.run, 1, ready, done.answer, done.first, sample, stands, STAGE, False)


class Window:
    """A hand that holds the start, its heading or the body's side, and what is painted of it."""

    def __init__(self, handle: int = 0, pixels: float = 1.0) -> None:
        self.tries, self.pixels = AtOnce(), pixels
        run = load_run(PATH)
        self.session = RunSession(EditedRun(run, PATH.parent / "box-one.yaml"), self.tries, SIZE)
        self.view = RunView(self.session)
        self.surface, self.layers = pygame.Surface(SIZE), Layers()
        self.session.tick(0.0)
        self.at = self.session.camera.pixel(*self.session.handles[handle].at)
        self.session.pressed(*self.at)

    def move(self) -> None:
        n = next(_STEPS)
        x, y = self.pixels * (20 + n % 40), self.pixels * (20 + n % 31)
        self.session.moved(self.at[0] + x, self.at[1] - y, frozenset({"alt"}))
        self.session.tick(n / 60)

    def draw(self) -> None:
        paint(self.surface, self.view.scene(), self.layers)


# Which handle, and how far it goes. Both of the others bring the robot into the corner that it starts in: it touches in
# nearly every trial, and the kernel takes up to twice as long to find when each contact ends.
HANDLES = {"start": (0, 1.0), "heading, into the corner": (1, 0.2), "body width, into the corner": (2, 1.0)}


@pytest.fixture
def window(request: pytest.FixtureRequest) -> Iterator[Window]:
    pygame.display.init()
    pygame.font.init()
    pygame.display.set_mode(SIZE)
    made = Window(*HANDLES[getattr(request, "param", "start")])
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


@pytest.mark.parametrize("window", HANDLES, indirect=True)
@pytest.mark.parametrize("part", FRAMES)
def test_a_dragged_frame(benchmark: Any, window: Window, part: str) -> None:
    benchmark.pedantic(FRAMES[part], args=(window,), rounds=40, warmup_rounds=3)


def test_paint_fresh_trials(benchmark: Any, window: Window) -> None:
    """Of each frame the scene and its painting, with other trials each time."""
    benchmark.pedantic(window.draw, setup=window.move, rounds=40, warmup_rounds=3)
