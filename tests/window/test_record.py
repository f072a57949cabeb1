"""The window without a screen: pictures and films of a run, read again with Pillow."""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
from itertools import pairwise
from pathlib import Path

import numpy as np
import pygame
import pytest
from numpy.typing import NDArray
from PIL import Image

from fieldsim.files import load_run
from fieldsim.model.errors import FileError, PlanError, SaveError
from fieldsim.sim.clock import Clock
from fieldsim.sim.motion import start_pose
from fieldsim.sim.plan import plan
from fieldsim.window.record import LAST, RATE, film, picture

ROOT = Path(__file__).parent.parent.parent
RUN = ROOT / "runs" / "bakery" / "flour-round.yaml"
SMALL = (480, 320)


def pixels(path: Path) -> NDArray[np.int64]:
    with Image.open(path) as image:
        return np.asarray(image.convert("RGB")).astype(np.int64)


def frames(path: Path) -> tuple[list[NDArray[np.int64]], list[int]]:
    """Pixels of each frame, and how long it stays, ms."""
    found, times = [], []
    with Image.open(path) as image:
        for n in range(image.n_frames):  # type: ignore[attr-defined]
            image.seek(n)
            image.load()
            found.append(np.asarray(image.convert("RGB")).astype(np.int64))
            times.append(int(image.info["duration"]))
    return found, times


@pytest.fixture(scope="module")
def short(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The flour round with its first two segments only, 2.9 s: short films."""
    folder = tmp_path_factory.mktemp("season")
    for part in ("fields", "runs"):
        shutil.copytree(ROOT / part, folder / part)
    path = folder / "runs" / "bakery" / "flour-round.yaml"
    lines = path.read_text(encoding="utf-8").splitlines()
    cut = next(n for n, line in enumerate(lines) if line.startswith("  - straight: 560"))
    path.write_text("\n".join([*lines[:cut], ""]), encoding="utf-8")
    return path


@pytest.mark.parametrize("ending", ["png", "jpg", "webp"])
def test_a_picture_has_its_size_and_the_form_of_its_ending(short: Path, tmp_path: Path, ending: str) -> None:
    out = tmp_path / f"run.{ending}"
    assert picture(short, out, size=(640, 400), trials=100) == out
    with Image.open(out) as image:
        assert image.size == (640, 400)
        assert image.format == {"png": "PNG", "jpg": "JPEG", "webp": "WEBP"}[ending]
    assert [path.name for path in tmp_path.iterdir()] == [out.name]


def test_the_picture_is_of_that_time(short: Path, tmp_path: Path) -> None:
    seen = {}
    for name, at in (("start", None), ("zero", 0.0), ("later", 1.0), ("end", 1e9), ("before", -3.0)):
        seen[name] = pixels(picture(short, tmp_path / f"{name}.png", at=at, size=SMALL, trials=60))
    assert (seen["start"] == seen["zero"]).all()
    assert (seen["before"] == seen["zero"]).all()
    assert (seen["later"] != seen["zero"]).any()
    assert (seen["end"] != seen["later"]).any()
    # The same trials give the same picture, whatever threads made them.
    again = pixels(picture(short, tmp_path / "again.png", at=1.0, size=SMALL, trials=60, threads=1))
    assert (again == seen["later"]).all()
    dark = pixels(picture(short, tmp_path / "dark.png", size=SMALL, trials=60, dark=True))
    assert dark.mean() < 0.5 * seen["zero"].mean()


def test_a_film_has_its_frames_and_takes_as_long_as_the_run(short: Path, tmp_path: Path) -> None:
    seconds = Clock(plan(load_run(short))).seconds
    told = []
    out = film(
        short, tmp_path / "run.gif", size=SMALL, trials=60, watch=lambda done, wanted: told.append((done, wanted))
    )
    count = round(seconds * RATE) + 1
    assert told == [(n + 1, count) for n in range(count)]
    found, times = frames(out)
    # Frames that are alike are one that stays longer: no second is lost by that.
    assert len(found) <= count
    assert sum(times) == 80 * (count - 1) + 1000 * LAST
    assert times[-1] >= 1000 * LAST
    assert len(found) > 0.9 * count
    assert found[0].shape == (SMALL[1], SMALL[0], 3)
    different = sum((a != b).any() for a, b in pairwise(found))
    assert different == len(found) - 1
    with Image.open(out) as image:
        assert image.info["loop"] == 0
    # The first is the robot at its start, and looks like the picture, but for 256 colours.
    still = pixels(picture(short, tmp_path / "start.png", size=SMALL, trials=60))
    assert np.abs(found[0] - still).mean() < 2.0


def test_a_film_as_webp(short: Path, tmp_path: Path) -> None:
    seconds = Clock(plan(load_run(short))).seconds
    found, times = frames(film(short, tmp_path / "run.webp", size=SMALL, trials=60))
    count = round(seconds * RATE) + 1
    assert len(found) <= count
    assert sum(times) == 80 * (count - 1) + 1000 * LAST
    assert (found[0] != found[-1]).any()
    assert [path.name for path in tmp_path.iterdir()] == ["run.webp"]


def test_a_long_film_has_fewer_frames_and_keeps_its_speed(
    short: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    seconds = Clock(plan(load_run(short))).seconds
    monkeypatch.setattr("fieldsim.window.record.MOST_FRAMES", 10)
    found, times = frames(film(short, tmp_path / "run.gif", size=SMALL, trials=60))
    assert len(found) <= 11
    assert sum(times) == pytest.approx(1000 * (seconds + LAST), abs=200)


def test_what_cannot_be_says_so(short: Path, tmp_path: Path) -> None:
    with pytest.raises(SaveError, match=r"must end in \.png or"):
        picture(short, tmp_path / "run.tiff")
    with pytest.raises(SaveError, match=r"must end in \.gif or \.webp"):
        film(short, tmp_path / "run.mp4")
    with pytest.raises(SaveError, match="cannot write"):
        picture(short, tmp_path / "no" / "folder" / "run.png", size=SMALL, trials=60)
    with pytest.raises(FileError):
        picture(tmp_path / "nothing.yaml", tmp_path / "run.png")
    assert list(tmp_path.iterdir()) == []
    with pytest.raises(ValueError, match="must be at least 1"):
        picture(short, tmp_path / "run.png", trials=0)


def test_a_field_without_its_picture_is_not_drawn_without_it(short: Path, tmp_path: Path) -> None:
    folder = tmp_path / "season"
    shutil.copytree(short.parent.parent.parent, folder)
    field = folder / "fields" / "bakery.yaml"
    text = field.read_text(encoding="utf-8")
    field.write_text(text + "\npicture: {file: mat.png, corner: [0, 0], width: 2200}\n", encoding="utf-8")
    run = folder / "runs" / "bakery" / "flour-round.yaml"
    with pytest.raises(SaveError, match=r"mat\.png"):
        picture(run, tmp_path / "run.png", size=SMALL, trials=60)
    # A picture that is there lies under the field.
    Image.new("RGB", (40, 20), (200, 30, 30)).save(field.with_name("mat.png"))
    red = pixels(picture(run, tmp_path / "run.png", size=SMALL, trials=60))
    plain = pixels(picture(short, tmp_path / "plain.png", size=SMALL, trials=60))
    assert (red[..., 0] - red[..., 1]).mean() > 5 + (plain[..., 0] - plain[..., 1]).mean()


def test_the_window_before_and_after_is_left_alone(
    short: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("SDL_VIDEODRIVER", "x11")
    monkeypatch.delenv("SDL_AUDIODRIVER", raising=False)
    picture(short, tmp_path / "run.png", size=SMALL, trials=60)
    assert os.environ["SDL_VIDEODRIVER"] == "x11"
    assert "SDL_AUDIODRIVER" not in os.environ
    assert not pygame.display.get_init()


def test_a_run_that_cannot_be_tried_has_no_picture(
    short: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def refuse(*_: object) -> None:
        raise PlanError(["segment 1: invented for a test"])

    monkeypatch.setattr("fieldsim.window.run.session.plan", refuse)
    with pytest.raises(PlanError, match="invented for a test"):
        picture(short, tmp_path / "run.png", size=SMALL, trials=60)
    assert list(tmp_path.iterdir()) == []


def test_nothing_is_greeted_on_standard_output(short: Path, tmp_path: Path) -> None:
    out = tmp_path / "run.png"
    program = (
        "import sys\nfrom pathlib import Path\nfrom fieldsim.window.record import picture\n"
        "picture(Path(sys.argv[1]), Path(sys.argv[2]), size=(320, 200), trials=60)\n"
    )
    environment = {name: value for name, value in os.environ.items() if name != "PYGAME_HIDE_SUPPORT_PROMPT"}
    done = subprocess.run(
        [sys.executable, "-c", program, str(short), str(out)],
        env={**environment, "PYTHONPATH": str(ROOT)}, capture_output=True, text=True, check=True,
    )  # fmt: skip
    assert (done.stdout, done.stderr) == ("", "")
    assert out.exists()


def test_the_picture_begins_with_the_robot_at_its_start() -> None:
    # What the pictures above rest on: time 0 is the start.
    run = load_run(RUN)
    assert Clock(plan(run)).head_at(0.0) == 0.0
    assert start_pose(run)[2] == 90.0
