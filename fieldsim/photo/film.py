"""The way a robot drove, from a film: its pose, time by time, and the drives it is made of.

A few frames, spread over the film, are solved as a set-up of pictures is: they tell the camera and how the markers
lie. With that held, camera and robot are solved for in each frame by itself, from where they were in the frame before.
The error of a pose is that of its own frame; what all frames have in common is told by the set-up.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise
from math import cos, hypot, radians, sin
from pathlib import Path
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from fieldsim import __version__
from fieldsim.language import tr
from fieldsim.model import Field, Robot
from fieldsim.model.errors import FileError, Problem
from fieldsim.photo import opencv
from fieldsim.photo.answer import PhotoAnswer, PhotoFilm, PhotoMove
from fieldsim.photo.bundle import Measured, Shot, Solved, followed
from fieldsim.photo.taking import camera_of, markers_of
from fieldsim.photo.trusted import Trusted, trusted

FloatArray = NDArray[np.float64]

ENDINGS = (".mp4", ".mov", ".m4v", ".avi", ".mkv", ".webm")
# Frames that are solved together, and the most that are looked at: ten minutes of thirty a second.
KEYS = 8
MOST = 18_000
# A robot stands where it moves by less than this in such a time: mm and degrees a second, seconds.
STANDING, STANDING_TURN = 12.0, 6.0
WINDOW = 0.12
# It turns where its axle's middle moves by less than a wheel this far from it would, mm.
ARM = 40.0
# A drive takes at least so many frames, and goes so far, mm or degrees.
SHORTEST = 3
# So many frames of a straight tell the heading at its end.
NEAR = 3
LEAST_MM, LEAST_DEGREES = 5.0, 1.5


@dataclass(frozen=True, eq=False)
class Film:
    """What was seen, by the frame: n of them."""

    file: Path
    seconds: FloatArray
    """(n,) from the film's begin."""
    poses: FloatArray
    """(n, 3) mm and degrees (these unwrapped: a whole turn left is 360 more); not a number where it is not seen."""
    errors: FloatArray
    """(n, 3) standard deviations, mm and degrees."""
    found: Trusted


@dataclass(frozen=True)
class Move:
    """One drive, between two stands or between driving and turning; as frame numbers from ``first`` to ``last``."""

    kind: Literal["straight", "turn"]
    """A turn if its axle's middle hardly moved while it turned."""
    first: int
    last: int
    before: FloatArray
    """(3,) the pose before, mm and degrees."""
    after: FloatArray

    @property
    def change(self) -> tuple[float, float, float]:
        """Ahead and left of the pose before, mm, and turned left, degrees."""
        dx, dy, turned = (float(value) for value in self.after - self.before)
        c, s = cos(radians(float(self.before[2]))), sin(radians(float(self.before[2])))
        return c * dx + s * dy, c * dy - s * dx, turned


def is_film(path: Path) -> bool:
    """Whether a file is called as films are."""
    return path.suffix.lower() in ENDINGS


def film(
    path: Path,
    field: Field,
    robot: Robot,
    measured: Sequence[Measured] = (),
    watch: Callable[[int, int], None] = lambda done, wanted: None,
) -> Film | None:
    """The way in a film; None where nothing in it tells where the robot is. Raises FileError, MissingError."""
    own = {int(marker.number) for marker in field.markers}
    robots = None if robot.marker is None else int(robot.marker.number)
    seconds: list[float] = []
    shots: list[Shot] = []
    for time, image, count in _frames(path):
        watch(len(seconds), max(count, len(seconds) + 1))
        seen = opencv.markers(image)
        numbers = [number for number, _ in seen]
        there = {
            number: at for number, at in seen if numbers.count(number) == 1 and (number in own or number == robots)
        }
        seconds.append(time)
        shots.append(Shot(image.shape[1], image.shape[0], there))
    found = _keys(shots, field, robot, own, robots, measured)
    if found is None or robots is None:
        return None
    poses, errors = _all(found.solved, shots, own - set(found.out), robots)
    return Film(path, np.array(seconds), poses, errors, found)


def _frames(path: Path) -> Iterator[tuple[float, NDArray[np.uint8], int]]:
    """Times in seconds, grey pictures, and about how many there are."""
    cv = opencv.cv2()
    if not path.is_file():
        raise FileError([Problem(str(path), 1, 1, tr("there is no such file"))])
    source = cv.VideoCapture(str(path))
    try:
        rate, count = float(source.get(cv.CAP_PROP_FPS)), int(source.get(cv.CAP_PROP_FRAME_COUNT))
        n = 0
        while n < MOST:
            there, frame = source.read()
            if not there:
                break
            told = float(source.get(cv.CAP_PROP_POS_MSEC)) / 1000
            # Some files tell no times.
            yield (
                (told if told > 0 or n == 0 else n / max(rate, 1.0)),
                np.asarray(cv.cvtColor(frame, cv.COLOR_BGR2GRAY), dtype=np.uint8),
                min(count, MOST),
            )
            n += 1
    finally:
        source.release()
    if n == 0:
        raise FileError(
            [Problem(str(path), 1, 1, tr("this is no film that can be read"), "", tr("accepted: MP4, MOV"))]
        )


def _keys(
    shots: Sequence[Shot], field: Field, robot: Robot, own: set[int], robots: int | None, measured: Sequence[Measured]
) -> Trusted | None:
    """The set-up, from a few frames in which the most is seen, spread over the film."""
    good = [n for n, shot in enumerate(shots) if robots in shot.found and own & set(shot.found)]
    if not good:
        return None
    most = max(len(shots[n].found) for n in good)
    good = [n for n in good if len(shots[n].found) == most]
    picked = sorted({good[round(k)] for k in np.linspace(0, len(good) - 1, KEYS)})
    return trusted([shots[n] for n in picked], field.markers, robot.marker, measured)


def _all(solved: Solved, shots: Sequence[Shot], own: set[int], robots: int) -> tuple[FloatArray, FloatArray]:
    poses, errors = np.full((len(shots), 3), np.nan), np.full((len(shots), 3), np.nan)
    last = None
    for n, shot in enumerate(shots):
        if robots not in shot.found or not own & set(shot.found):
            continue
        there = followed(solved, shot, last)
        if there is None:
            last = None
            continue
        last, pose, error = there
        poses[n], errors[n] = pose, error
    seen = np.isfinite(poses[:, 2])
    poses[:, 2] = np.degrees(poses[:, 2])
    errors[:, 2] = np.degrees(errors[:, 2])
    poses[seen, 2] = np.degrees(np.unwrap(np.radians(poses[seen, 2])))
    return poses, errors


def moves(seen: Film) -> tuple[Move, ...]:
    """The drives of a film: between two stands, or where driving straight on and turning on the spot meet."""
    good = np.flatnonzero(np.isfinite(seen.poses[:, 0]))
    if len(good) < 3:
        return ()
    speeds = np.array([_speed(seen, good, n) for n in range(len(good))])
    driving = np.hypot(speeds[:, 0], speeds[:, 1])
    turning = np.abs(speeds[:, 2])
    still = (driving < STANDING) & (turning < STANDING_TURN)
    kinds = np.where(still, 0, np.where(driving > np.radians(turning) * ARM, 1, 2))
    runs = _runs(kinds)
    # What is too short to be a drive is a part of what is beside it.
    kept = [(kind, a, b) for kind, a, b in runs if kind == 0 or b - a >= SHORTEST]
    made = []
    for n, (kind, a, b) in enumerate(kept):
        if kind == 0:
            continue
        before = _between(seen, good, kept[n - 1] if n else None, (kind, a, b))
        after = _between(seen, good, (kind, a, b), kept[n + 1] if n + 1 < len(kept) else None)
        word: Literal["straight", "turn"] = "straight" if kind == 1 else "turn"
        move = Move(word, int(good[a]), int(good[b - 1]), before, after)
        ahead, left, turned = move.change
        if hypot(ahead, left) >= LEAST_MM or abs(turned) >= LEAST_DEGREES:
            made.append(move)
    return tuple(made)


def _runs(kinds: NDArray[np.int_]) -> list[tuple[int, int, int]]:
    edges = np.flatnonzero(np.diff(kinds)) + 1
    ends = [0, *(int(each) for each in edges), len(kinds)]
    return [(int(kinds[a]), a, b) for a, b in pairwise(ends)]


def _between(
    seen: Film, good: NDArray[np.int_], one: tuple[int, int, int] | None, other: tuple[int, int, int] | None
) -> FloatArray:  # fmt: skip
    """The pose between two drives, or at the begin or the end of the film."""
    for each in (one, other):
        if each is not None and each[0] == 0:
            return np.asarray(np.median(seen.poses[good[each[1] : each[2]]], axis=0), dtype=np.float64)
    if one is None or other is None:
        end = 0 if one is None else len(good) - 1
        return np.asarray(seen.poses[good[end]], dtype=np.float64)
    # While it turns on the spot its place is that of the joint; while it drives straight on, its heading is. The frames
    # at the joint itself may be of either.
    turn, straight = (one, other) if one[0] == 2 else (other, one)
    place = seen.poses[good[_inner(turn)], :2]
    headings = seen.poses[good[_inner(straight)], 2]
    near = headings[-NEAR:] if straight is one else headings[:NEAR]
    return np.array([*np.median(place, axis=0), np.median(near)])


def _inner(run: tuple[int, int, int]) -> slice:
    """The frames of a drive without its first and last, where there are enough."""
    _, a, b = run
    return slice(a + 1, b - 1) if b - a > 3 else slice(a, b)


def _speed(seen: Film, good: NDArray[np.int_], n: int) -> FloatArray:
    """(3,) mm and degrees a second around a frame, by a straight line through those near it."""
    time = seen.seconds[good]
    # The frames beside it at least, though one between them may tell nothing.
    near = np.flatnonzero((np.abs(time - time[n]) <= WINDOW) | (np.abs(np.arange(len(good)) - n) <= 1))
    t = time[near] - time[near].mean()
    spread = float((t**2).sum())
    if spread <= 0:
        return np.zeros(3)
    poses = seen.poses[good[near]]
    return np.asarray((t[:, None] * (poses - poses.mean(axis=0))).sum(axis=0) / spread, dtype=np.float64)


def film_answer(seen: Film, made: Sequence[Move], field: Field, robot: Robot) -> PhotoAnswer:
    """The answer of a film."""
    good = np.isfinite(seen.poses[:, 0])
    place = np.hypot(seen.errors[good, 0], seen.errors[good, 1])
    told = []
    for move in made:
        ahead, left, turned = move.change
        begin, end = float(seen.seconds[move.first]), float(seen.seconds[move.last])
        told.append(PhotoMove(move.kind, begin, end, ahead, left, turned))
    shown = PhotoFilm(
        str(seen.file), len(seen.seconds), int(good.sum()), float(seen.seconds[-1] - seen.seconds[0]),
        float(np.median(place)), float(np.median(seen.errors[good, 2])), tuple(told),
    )  # fmt: skip
    return PhotoAnswer(
        version=__version__, field=field.name, robot=robot.name, pictures=(), camera=camera_of(seen.found),
        markers=markers_of(seen.found, field), spoilers=seen.found.spoilers, film=shown,
    )  # fmt: skip
