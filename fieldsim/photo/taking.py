"""Pictures looked at: from files to what is seen in them, and to where the robot stood."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from math import asin, degrees, hypot
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from fieldsim import __version__
from fieldsim.model import Field, Robot
from fieldsim.photo import opencv
from fieldsim.photo.answer import PhotoAnswer, PhotoCamera, PhotoMarker, PhotoPicture, PhotoPose, Spoiler
from fieldsim.photo.bundle import Measured, Shot
from fieldsim.photo.camera import corners_at
from fieldsim.photo.quality import Quality, quality, sampled
from fieldsim.photo.trusted import Trusted, trusted
from fieldsim.sim.shapes import body_corners

Image = NDArray[np.uint8]
FloatArray = NDArray[np.float64]

# A picture is kept for drawing with at most so long a side, pixels.
KEPT = 1600
# An edge wider than this share of a cell, and than so many pixels, is blurred.
BLURRED, BLURRED_PIXELS = 0.55, 4.0
# So much of a marker's rim that is white is glare.
GLARE = 0.06
# A camera lower than this above the mat, as seen from the robot, degrees, sees it too flat.
FLAT = 25.0
# Markers of the field without which a picture says little of its own errors.
FEW = 3


@dataclass(frozen=True, eq=False)
class Looked:
    """One picture looked at."""

    file: Path
    small: Image
    """In colour, to draw on: nothing else of the file is kept."""
    grey: Image
    """(height, width) as small as ``small``."""
    width: int
    height: int
    found: dict[int, FloatArray]
    """Corners by the number of the marker, of all numbers that are seen once."""
    twice: tuple[int, ...]
    qualities: dict[int, Quality]


@dataclass(frozen=True, eq=False)
class Taken:
    """All pictures of a set-up, and what they say."""

    answer: PhotoAnswer
    looked: tuple[Looked, ...]
    found: Trusted | None
    places: tuple[int | None, ...]
    """Of each picture its place among those that were solved."""


def look(file: Path, image: Image) -> Looked:
    """Find what is seen in a picture (height, width, 3)."""
    grey = opencv.grey(image)
    seen = opencv.markers(grey)
    counts = Counter(number for number, _ in seen)
    found = {number: corners for number, corners in seen if counts[number] == 1}
    small = opencv.smaller(image, KEPT)
    return Looked(
        file, small, opencv.grey(small), image.shape[1], image.shape[0], found,
        tuple(sorted(number for number, count in counts.items() if count > 1)),
        {number: quality(grey, corners) for number, corners in found.items()},
    )  # fmt: skip


def take(
    looked: Sequence[Looked],
    field: Field,
    robot: Robot,
    measured: Sequence[Measured] = (),
    watch: Callable[[int, int], None] | None = None,
) -> Taken:
    """Where the robot stood in each of these pictures of one set-up, and what spoils them."""
    own = {int(marker.number) for marker in field.markers}
    robots = int(robot.marker.number) if robot.marker is not None else None
    shots: list[Shot] = []
    places: list[int | None] = []
    for each in looked:
        there = {number: at for number, at in each.found.items() if number in own or number == robots}
        if own & set(there):
            places.append(len(shots))
            shots.append(Shot(each.width, each.height, there))
        else:
            places.append(None)
    seen_robot = robots is not None and any(robots in shot.found for shot in shots)
    found = trusted(shots, field.markers, robot.marker if seen_robot else None, measured) if shots else None
    if found is None:
        places = [None] * len(looked)
    pictures = tuple(_picture(each, p, found, field, robots, own) for each, p in zip(looked, places, strict=True))
    answer = PhotoAnswer(
        version=__version__,
        field=field.name,
        robot=robot.name,
        pictures=pictures,
        camera=None if found is None else camera_of(found),
        markers=() if found is None else markers_of(found, field),
        spoilers=() if found is None else found.spoilers,
    )
    return Taken(answer, tuple(looked), found, tuple(places))


def camera_of(found: Trusted) -> PhotoCamera:
    solved = found.solved
    k1, k2 = (float(each) for each in solved.lens)
    return PhotoCamera(float(np.exp(solved.state.shared[0])), (k1, k2), solved.pixel, solved.printed)


def markers_of(found: Trusted, field: Field) -> tuple[PhotoMarker, ...]:
    there = {
        int(marker.number): laid for marker, laid in zip(found.solved.markers, found.solved.state.laid, strict=True)
    }
    made = []
    for marker in field.markers:
        number = int(marker.number)
        if number in there:
            x, y, heading = there[number]
            turned = (degrees(heading) - marker.heading + 180.0) % 360.0 - 180.0
            made.append(PhotoMarker(number, True, float(x) - marker.at[0], float(y) - marker.at[1], turned))
        elif number in found.out:
            made.append(PhotoMarker(number, False, *([float("nan")] * 3)))
    return tuple(made)


def _picture(
    each: Looked, p: int | None, found: Trusted | None, field: Field, robots: int | None, own: set[int]
) -> PhotoPicture:
    ours = own | ({robots} if robots is not None else set())
    seen = tuple(sorted(set(each.found) & ours))
    spoilers = [Spoiler("twice", number) for number in each.twice if number in ours]
    for number in seen:
        how = each.qualities[number]
        if how.edge > max(BLURRED * how.side / 6, BLURRED_PIXELS):
            spoilers.append(Spoiler("blurred", number, how.edge))
        if how.glare > GLARE:
            spoilers.append(Spoiler("glare", number, how.glare))
    pose = None
    if not seen:
        spoilers.append(Spoiler("no markers"))
    elif p is None or found is None:
        spoilers.append(Spoiler("no field marker"))
    else:
        spoilers += _missing(each, p, found, field)
        if len(set(seen) & own) < FEW:
            spoilers.append(Spoiler("few", None, float(len(set(seen) & own))))
        if robots is None or robots not in each.found:
            spoilers.append(Spoiler("no robot marker", robots))
        else:
            pose = _pose(found, p)
            if (up := _elevation(found, p, pose)) < FLAT:
                spoilers.append(Spoiler("flat", None, up))
    return PhotoPicture(str(each.file), each.width, each.height, seen, pose, tuple(spoilers))


def _pose(found: Trusted, p: int) -> PhotoPose:
    x, y, heading = (float(value) for value in found.solved.state.robot[p])
    columns = found.solved.robot_columns(p)
    errors = np.sqrt(np.diag(found.solved.covariance[columns, columns]))
    return PhotoPose(x, y, degrees(heading), float(errors[0]), float(errors[1]), degrees(errors[2]))


def _elevation(found: Trusted, p: int, pose: PhotoPose) -> float:
    """How high the camera is seen from the robot's marker, degrees above the mat."""
    state = found.solved.state
    eye = -state.rotation[p].T @ state.shift[p]
    rise = float(eye[2]) - float(state.shared[6])
    return degrees(asin(rise / max(hypot(eye[0] - pose.x, eye[1] - pose.y, rise), 1e-9)))


def _missing(each: Looked, p: int, found: Trusted, field: Field) -> list[Spoiler]:
    """Why markers of the field are not seen: where they ought to be is known now."""
    made = []
    share = each.small.shape[1] / each.width
    for marker in field.markers:
        number = int(marker.number)
        if number in each.found or number in each.twice:
            continue
        turn = np.array([np.radians(marker.heading)])
        at = np.array(marker.at)[:, None]
        flat = corners_at(at[0], at[1], turn, np.array([marker.size / 2]))[0]
        pixels = found.solved.pixels(p, np.concatenate([flat, np.full((4, 1), marker.height)], axis=1))
        if not np.isfinite(pixels).all() or _outside(pixels, each.width, each.height):
            made.append(Spoiler("cut off", number))
            continue
        weights = np.stack(np.meshgrid(np.linspace(0.05, 0.95, 15), np.linspace(0.05, 0.95, 15)), axis=-1)[..., None]
        top = pixels[0] + weights[..., 0, :] * (pixels[1] - pixels[0])
        low = pixels[3] + weights[..., 0, :] * (pixels[2] - pixels[3])
        light = sampled(each.grey, (top + weights[..., 1, :] * (low - top) + 0.5) * share - 0.5)
        white = float((light > 245).mean())
        made.append(Spoiler("glare", number, white) if white > 0.08 else Spoiler("hidden", number))
    return made


def _outside(pixels: FloatArray, width: int, height: int) -> bool:
    return bool((pixels < 0).any() or (pixels[:, 0] > width - 1).any() or (pixels[:, 1] > height - 1).any())


def lines_over(taken: Taken, n: int, field: Field, robot: Robot) -> tuple[tuple[str, FloatArray], ...]:
    """Closed lines to draw over a picture, (corners, 2) each in pixels of its ``small``: 'marker' those that were seen,
    'field' the field's edge on the mat, 'body' the robot's body at its marker's height, 'ahead' an open one."""
    each = taken.looked[n]
    share = each.small.shape[1] / each.width
    made = [("marker", corners) for corners in each.found.values()]
    p, pose = taken.places[n], taken.answer.pictures[n].robot
    if taken.found is not None and p is not None:
        solved = taken.found.solved
        x, y = field.size
        # Straight lines are bent by the lens, and leave the picture: in steps.
        steps = np.linspace(0.0, 1.0, 24)[:, None]
        corners = np.array([[0.0, 0.0], [x, 0.0], [x, y], [0.0, y]])
        edge = np.concatenate([a + steps * (b - a) for a, b in zip(corners, np.roll(corners, -1, axis=0), strict=True)])
        made.append(("field", solved.pixels(p, _lifted(edge, 0.0))))
        if pose is not None:
            high = float(solved.state.shared[6])
            turn = np.radians(pose.heading)
            frame = np.array([[np.cos(turn), np.sin(turn)], [-np.sin(turn), np.cos(turn)]])
            outline = body_corners(robot.body) @ frame + [pose.x, pose.y]
            front = robot.body.length - robot.body.axle
            ahead = np.array([[0.0, 0.0], [1.35 * front, 0.0]]) @ frame + [pose.x, pose.y]
            made.append(("body", solved.pixels(p, _lifted(outline, high))))
            made.append(("ahead", solved.pixels(p, _lifted(ahead, high))))
    return tuple((kind, (line + 0.5) * share - 0.5) for kind, line in made)


def _lifted(points: FloatArray, height: float) -> FloatArray:
    return np.concatenate([points, np.full((len(points), 1), height)], axis=1)
