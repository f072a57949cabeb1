"""The window without a screen: one picture of it, or a film of the run, for reports and tests."""

from __future__ import annotations

import os
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from math import ceil
from pathlib import Path
from typing import Any, Protocol

import pygame
from PIL import Image

from fieldsim.language import tr
from fieldsim.model.errors import PlanError, SaveError, shown
from fieldsim.pages.saving import write_safely
from fieldsim.window.live import Live
from fieldsim.window.paint.frame import Layers, paint
from fieldsim.window.paint.scene import Scene
from fieldsim.window.run.files import RunFiles
from fieldsim.window.run.session import RunSession
from fieldsim.window.run.view import RunView
from fieldsim.window.screen import load_mat

__all__ = [
    "FILM",
    "PICTURE",
    "Watch",
    "film",
    "film_of",
    "form_of",
    "picture",
    "picture_of",
    "put",
    "still",
    "without_a_screen",
]

PICTURE = (1280, 800)
FILM = (960, 600)
# Frames a second of a film, and how long its last one stays, seconds.
RATE, LAST = 12.5, 2.0
# A longer run has fewer frames a second: all of them are held in memory until they are written, some 2 MB each.
MOST_FRAMES = 500
Watch = Callable[[int, int], None]
STILLS, FILMS = ("png", "jpg", "jpeg", "webp"), ("gif", "webp")


@contextmanager
def without_a_screen() -> Iterator[None]:
    """pygame on a driver that draws nowhere."""
    before = {name: os.environ.get(name) for name in ("SDL_VIDEODRIVER", "SDL_AUDIODRIVER")}
    os.environ.update(SDL_VIDEODRIVER="dummy", SDL_AUDIODRIVER="dummy")
    try:
        pygame.display.init()
        pygame.font.init()
        pygame.display.set_mode((64, 64))
        yield
    finally:
        pygame.quit()
        for name, value in before.items():
            if value is None:
                os.environ.pop(name, None)
            else:
                os.environ[name] = value


@contextmanager
def _session(
    path: Path, size: tuple[int, int], scale: float, seed: int, threads: int | None, dark: bool, trials: int
) -> Iterator[tuple[RunSession, RunView]]:
    """A session with all its trials counted."""
    files = RunFiles.read(path)
    with without_a_screen(), Live(threads=threads, seed=seed, full=trials) as live:
        session = RunSession(files.begun, live, size, scale, files.robots)
        if session.problem is not None:
            raise PlanError([session.problem])
        session.dark = dark
        mat, words = load_mat(files.run.field, files.field_file.parent)
        if words:
            raise SaveError(words)
        view = RunView(session, mat)
        while session.shown is None or not session.shown.full:
            session.tick(0.0)
            time.sleep(0.005)
        if session.shown.problem is not None:
            raise PlanError([session.shown.problem])
        yield session, view


class Driven(Protocol):
    """A session with a time that can be set."""

    seconds: float


class Viewed(Protocol):
    def scene(self) -> Scene: ...


def _image(view: Viewed, layers: Layers, surface: pygame.Surface) -> Image.Image:
    paint(surface, view.scene(), layers)
    return Image.frombytes("RGB", surface.get_size(), pygame.image.tobytes(surface, "RGB"))


def picture(
    path: Path,
    out: Path,
    *,
    at: float | None = None,
    size: tuple[int, int] = PICTURE,
    scale: float = 1.0,
    dark: bool = False,
    seed: int = 1,
    threads: int | None = None,
    trials: int = 10_000,
) -> Path:
    """The window with the run at ``at`` seconds (None: at its start) as a picture; PNG, or by the file's ending.

    Raises FileError, PlanError, SaveError.
    """
    # Before anything is counted.
    form_of(out, STILLS)
    with _session(path, size, scale, seed, threads, dark, trials) as (session, view):
        return picture_of(session, view, min(max(at or 0.0, 0.0), session.clock.seconds), out, size)


def still(out: Path, size: tuple[int, int], draw: Callable[[pygame.Surface], None]) -> Path:
    """What ``draw`` puts on a surface of that size, as a picture by the file's ending. Raises SaveError."""
    form = form_of(out, STILLS)
    surface = pygame.Surface(size)
    draw(surface)
    image = Image.frombytes("RGB", size, pygame.image.tobytes(surface, "RGB"))
    put(out, lambda beside: image.save(beside, format=form))
    return out


def picture_of(session: Driven, view: Viewed, seconds: float, out: Path, size: tuple[int, int]) -> Path:
    """A window at a time as a picture. Raises SaveError."""
    session.seconds = seconds
    return still(out, size, lambda surface: paint(surface, view.scene(), Layers()))


def film(
    path: Path,
    out: Path,
    *,
    size: tuple[int, int] = FILM,
    scale: float = 1.0,
    dark: bool = False,
    seed: int = 1,
    threads: int | None = None,
    trials: int = 10_000,
    watch: Watch = lambda done, wanted: None,
) -> Path:
    """The run driving at its real speed in the window, as an animated GIF or WebP. Raises FileError, PlanError,
    SaveError."""
    form_of(out, FILMS)
    with _session(path, size, scale, seed, threads, dark, trials) as (session, view):
        return film_of(session, view, session.clock.seconds, out, size, watch)


def film_of(
    session: Driven, view: Viewed, seconds: float, out: Path, size: tuple[int, int], watch: Watch
) -> Path:  # fmt: skip
    """A window over so many seconds as a film. Raises SaveError."""
    form = form_of(out, FILMS)
    layers, surface = Layers(), pygame.Surface(size)
    # Films count in hundredths of a second.
    step = max(1 / RATE, ceil(100 * seconds / MOST_FRAMES) / 100)
    count = max(2, round(seconds / step) + 1)
    frames = []
    palette: Image.Image | None = None
    for n in range(count):
        session.seconds = seconds if n == count - 1 else min(n * step, seconds)
        frame = _image(view, layers, surface)
        if form == "gif":
            # One palette for all of them, so that nothing flickers.
            palette = palette or frame.quantize(256)
            frame = frame.quantize(palette=palette, dither=Image.Dither.NONE)
        frames.append(frame)
        watch(n + 1, count)
    times = [round(1000 * step)] * (count - 1) + [round(1000 * LAST)]
    more: dict[str, Any] = {"optimize": False} if form == "gif" else {"quality": 80, "method": 2}

    def save(beside: Path) -> None:
        frames[0].save(beside, format=form, save_all=True, append_images=frames[1:], duration=times, loop=0, **more)

    put(out, save)
    return out


def form_of(out: Path, known: tuple[str, ...]) -> str:
    form = out.suffix.lower().removeprefix(".")
    if form not in known:
        endings = tr(" or ").join(f".{word}" for word in known)
        raise SaveError(tr("{file} must end in {endings}", file=shown(out.name), endings=endings))
    return "jpeg" if form == "jpg" else form


def put(out: Path, save: Callable[[Path], Any]) -> None:
    try:
        write_safely(out, save)
    except OSError as problem:
        raise SaveError(
            tr("cannot write {file}: {reason}", file=shown(str(out), 400), reason=problem.strerror or str(problem))
        ) from None
