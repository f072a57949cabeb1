"""Two fingers on a screen: shoved and pinched, and one finger that stays a mouse."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pygame
import pytest
from hypothesis import given
from hypothesis import strategies as st

from fieldsim.window.fingers import NEAR, Fingers
from fieldsim.window.run.app import RunDesk

ROOT = Path(__file__).parent.parent.parent
SIZE = (1000, 800)
places = st.tuples(st.floats(0.0, 1000.0), st.floats(0.0, 800.0))


@given(st.lists(st.tuples(st.integers(0, 1), places), max_size=20), places, places)
def test_many_small_moves_are_one_large_one(
    moves: list[tuple[int, tuple[float, float]]], a: tuple[float, float], b: tuple[float, float]
) -> None:
    fingers = Fingers()
    assert not fingers.down(0, a)
    assert fingers.down(1, b)
    at = [a, b]
    shoved, factor, always_far = [0.0, 0.0], 1.0, True
    for finger, to in moves:
        found = fingers.moved(finger, to)
        far_before = ((at[0][0] - at[1][0]) ** 2 + (at[0][1] - at[1][1]) ** 2) ** 0.5
        at[finger] = to
        far = ((at[0][0] - at[1][0]) ** 2 + (at[0][1] - at[1][1]) ** 2) ** 0.5
        always_far = always_far and min(far, far_before) >= NEAR
        if found is not None:
            shoved = [shoved[0] + found.by[0], shoved[1] + found.by[1]]
            factor *= found.factor
    middle = [(a[k] + b[k]) / 2 for k in (0, 1)]
    assert [middle[k] + shoved[k] for k in (0, 1)] == pytest.approx([(at[0][k] + at[1][k]) / 2 for k in (0, 1)])
    if always_far:
        first = ((a[0] - b[0]) ** 2 + (a[1] - b[1]) ** 2) ** 0.5
        last = ((at[0][0] - at[1][0]) ** 2 + (at[0][1] - at[1][1]) ** 2) ** 0.5
        assert factor * first == pytest.approx(last)


def test_one_finger_is_a_mouse_until_a_second_comes() -> None:
    fingers = Fingers()
    fingers.down(7, (10.0, 10.0))
    assert fingers.free()
    assert fingers.moved(7, (20.0, 10.0)) is None
    fingers.down(8, (200.0, 10.0))
    assert not fingers.free()
    fingers.up(7)
    assert not fingers.free()
    fingers.up(8)
    # The first finger's own release is still of the pinch; what comes after it is not.
    assert not fingers.free()
    assert fingers.free()
    assert fingers.moved(99, (0.0, 0.0)) is None


@pytest.fixture
def desk(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> Iterator[RunDesk]:
    monkeypatch.setenv("SDL_VIDEODRIVER", "dummy")
    pygame.display.init()
    pygame.display.set_mode(SIZE)
    made = RunDesk(ROOT / "runs" / "bakery" / "flour-round.yaml", SIZE, 1.0, threads=1, folder=tmp_path)
    yield made
    made.close()
    pygame.display.quit()


def finger(desk: RunDesk, kind: int, number: int, x: float, y: float) -> None:
    desk.handle(pygame.event.Event(kind, finger_id=number, touch_id=1, x=x / SIZE[0], y=y / SIZE[1], dx=0.0, dy=0.0))


def mouse(desk: RunDesk, kind: int, x: float, y: float, **more: Any) -> None:
    desk.handle(pygame.event.Event(kind, pos=(x, y), touch=True, **more))


def test_the_field_goes_with_two_fingers_and_nothing_is_dragged(desk: RunDesk) -> None:
    session = desk.session
    assert session is not None
    run, camera = session.run, session.camera
    x, y = session.camera.pixel(*session.handles[0].at)
    # The first finger comes down on the robot's start and drags it a little.
    finger(desk, pygame.FINGERDOWN, 1, x, y)
    mouse(desk, pygame.MOUSEBUTTONDOWN, x, y, button=1)
    mouse(desk, pygame.MOUSEMOTION, x + 30, y - 30, rel=(30, -30), buttons=(1, 0, 0))
    assert session.run != run
    finger(desk, pygame.FINGERDOWN, 2, x + 200, y - 100)
    assert session.run == run
    finger(desk, pygame.FINGERMOTION, 1, x - 40, y)
    mouse(desk, pygame.MOUSEMOTION, x - 40, y, rel=(0, 0), buttons=(1, 0, 0))
    finger(desk, pygame.FINGERMOTION, 2, x + 300, y - 140)
    assert session.camera.zoom > camera.zoom
    assert session.run == run
    finger(desk, pygame.FINGERUP, 2, x, y)
    finger(desk, pygame.FINGERUP, 1, x, y)
    mouse(desk, pygame.MOUSEBUTTONUP, x - 40, y, button=1)
    assert not session.dragging
    assert not session.history.dirty
    # And one finger alone picks again.
    block = (session.strip.edges[0] + session.strip.edges[1]) / 2, session.places.segments.centre[1]
    finger(desk, pygame.FINGERDOWN, 3, *block)
    mouse(desk, pygame.MOUSEBUTTONDOWN, *block, button=1)
    finger(desk, pygame.FINGERUP, 3, *block)
    mouse(desk, pygame.MOUSEBUTTONUP, *block, button=1)
    assert session.place == 0


def test_the_strip_is_pinched_too(desk: RunDesk) -> None:
    session = desk.session
    assert session is not None
    y = session.places.segments.centre[1]
    before, camera = session.strip.edges, session.camera
    finger(desk, pygame.FINGERDOWN, 1, 300, y)
    finger(desk, pygame.FINGERDOWN, 2, 500, y)
    finger(desk, pygame.FINGERMOTION, 2, 700, y)
    assert session.strip.edges[-1] - session.strip.edges[0] == pytest.approx(2 * (before[-1] - before[0]))
    assert session.camera == camera
