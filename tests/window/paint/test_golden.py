"""Two pictures of the window against those that were looked at and found good.

    python tests/window/paint/test_golden.py

makes them anew in ``tests/window/golden``; look at them before they are kept.

**Tolerance.** Letters come from the same file everywhere (matplotlib brings it), and trials from the same draws. What
may differ is how another version of the drawing library smooths the edges of letters and lines, and the last digits of
sine and cosine. So a pixel counts as another one only if a colour is off by more than ``FAR`` of 255. On one machine
two pictures are the same to the last bit; between pygame 2.6.1 and pygame-ce 2.5.8 the mean difference was 0.29 and
0.24 of 255, and 0.033 % and 0.009 % of the pixels were others. A robot that is one second farther on makes a mean of
0.92 and 0.54 % of the pixels: the limits lie between.
"""

from __future__ import annotations

from pathlib import Path
from tempfile import TemporaryDirectory

import numpy as np
import pytest
from numpy.typing import NDArray
from PIL import Image

from fieldsim.window.paint.frame import Layers, paint
from fieldsim.window.record import _session as run_session
from fieldsim.window.record import picture, still
from fieldsim.window.robot.app import picture_robot
from fieldsim.window.run.choosing import open_row
from fieldsim.window.run.looking import press_trouble
from fieldsim.window.season.app import picture_season

ROOT = Path(__file__).parents[3]
GOLDEN = Path(__file__).parent / "golden"
# A run, seconds, and whether it is dark.
PICTURES = {"flour-round": (4.0, False), "yard-bell": (1.5, True)}
SIZE = (640, 400)
SCREENS, SCREEN = ("season", "robot", "trial", "act", "list"), (1366, 768)
# Flour round acts on this segment, from 0.
ACT = 5
FAR, SHARE, MEAN = 80, 0.0015, 0.6


def made(name: str, folder: Path, at: float | None = None) -> Path:
    seconds, dark = PICTURES[name]
    return picture(
        ROOT / "runs" / "bakery" / f"{name}.yaml", folder / f"{name}.png", at=seconds if at is None else at, size=SIZE,
        dark=dark, trials=250, threads=1,
    )  # fmt: skip


def screen(name: str, folder: Path) -> Path:
    """A screen of the demo season, as large as many a school's."""
    out = folder / f"{name}.png"
    if name in ("trial", "act", "list"):
        return run_screen(name, out)
    if name == "season":
        return picture_season(ROOT / "runs" / "bakery", out, size=SCREEN, place="bakery")
    return picture_robot(ROOT / "runs" / "bakery" / "box-one.yaml", out, size=SCREEN)


def run_screen(name: str, out: Path) -> Path:
    """A run in the middle of being looked at: a trial that fails, the act's trials, a list that is open."""
    run = ROOT / "runs" / "bakery" / "flour-round.yaml"
    with run_session(run, SCREEN, 1.0, 1, 1, name == "act", 1000) as (session, view):
        if name == "trial":
            press_trouble(session, 0, "")
        else:
            session._pick(ACT)
            if name == "list":
                open_row(session, 0)
        return still(out, SCREEN, lambda surface: paint(surface, view.scene(), Layers()))


@pytest.mark.parametrize("name", SCREENS)
def test_screens_look_as_they_did(name: str, tmp_path: Path) -> None:
    now, then = pixels(screen(name, tmp_path)), pixels(GOLDEN / f"{name}.png")
    assert now.shape == then.shape
    mean, share = apart(now, then)
    assert mean < MEAN, (mean, share)
    assert share < SHARE, (mean, share)


def pixels(path: Path) -> NDArray[np.int64]:
    with Image.open(path) as image:
        return np.asarray(image.convert("RGB")).astype(np.int64)


def apart(a: NDArray[np.int64], b: NDArray[np.int64]) -> tuple[float, float]:
    """The mean difference of a colour, of 255, and the share of pixels that are others."""
    off = np.abs(a - b)
    return float(off.mean()), float((off.max(axis=-1) > FAR).mean())


@pytest.mark.parametrize("name", PICTURES)
def test_it_looks_as_it_did(name: str, tmp_path: Path) -> None:
    now, then = pixels(made(name, tmp_path)), pixels(GOLDEN / f"{name}.png")
    assert now.shape == then.shape
    mean, share = apart(now, then)
    assert mean < MEAN, (mean, share)
    assert share < SHARE, (mean, share)


def test_a_robot_that_is_elsewhere_is_seen(tmp_path: Path) -> None:
    mean, share = apart(pixels(made("flour-round", tmp_path, at=3.0)), pixels(GOLDEN / "flour-round.png"))
    assert mean > MEAN or share > SHARE, (mean, share)


if __name__ == "__main__":
    for each in PICTURES:
        with TemporaryDirectory() as place:
            kept = made(each, Path(place)).read_bytes()
        (GOLDEN / f"{each}.png").write_bytes(kept)
    for each in SCREENS:
        with TemporaryDirectory() as place:
            kept = screen(each, Path(place)).read_bytes()
        (GOLDEN / f"{each}.png").write_bytes(kept)
