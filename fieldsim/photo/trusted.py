"""Which markers can be believed: those that do not fit the others are named, measured, and left out."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from fieldsim.model import replace as changed
from fieldsim.model.markers import Marker, RobotMarker
from fieldsim.photo.answer import Spoiler
from fieldsim.photo.bundle import Measured, Shot, Solved, solve

FloatArray = NDArray[np.float64]

# The pictures agree with what is known while what is minimised is less than this for each number that was seen, and
# something: of good pictures it is about 0.3 with corners 0.15 pixels off.
FITS, FITS_AT_ALL = 0.6, 20.0
# A marker is left out if it takes at least this share of what is minimised with it. Others that explain it nearly as
# well (99 % of chance, chi-square of the two numbers of a place) may be the guilty one, too.
GUILTY = 0.5
NEARLY = 9.2
MOST_OUT = 3
# A marker that lies this many give-or-takes off what the field says is named; one that moved by more mm was moved.
MISPLACED = 4.0
MOVED = 2.0
# A side that is so much another than told is a wrong size: more than a printer does.
WRONG_SIZE = 0.035
WRONG_SCALE = 0.02


@dataclass(frozen=True, eq=False)
class Trusted:
    """A set-up solved with the markers that fit."""

    solved: Solved
    out: tuple[int, ...]
    """Numbers of the field's markers that were left out."""
    spoilers: tuple[Spoiler, ...]


def trusted(
    shots: Sequence[Shot], markers: Sequence[Marker], robot: RobotMarker | None, measured: Sequence[Measured] = ()
) -> Trusted | None:
    """Solve, and solve again without what spoils it. None where no camera could have taken these pictures."""
    found = _solve(shots, markers, robot, measured, ())
    if found is None:
        return None
    out: list[int] = []
    sizes: list[Spoiler] = []
    doubts: list[Spoiler] = []
    while not _fits(found) and len(out) + len(sizes) < MOST_OUT:
        # The robot's marker can only have another size: it may stand anywhere.
        if robot is not None and not sizes:
            alone = _solve(shots, markers, None, measured, out)
            if alone is not None and alone.cost < GUILTY * found.cost and _fits(alone):
                mended = _mended(alone, robot, shots, markers, measured, out)
                if mended is not None and mended[1].cost < GUILTY * found.cost:
                    spoiler, found = mended
                    sizes.append(spoiler)
                    robot = found.robot
                    continue
        candidates = [
            int(marker.number) for marker in markers if int(marker.number) not in out and _seen(shots, marker)
        ]
        if len(candidates) <= 2:
            break
        tried = [
            (other.cost, number, other)
            for number in candidates
            if (other := _solve(shots, markers, robot, measured, [*out, number])) is not None
        ]
        if not tried:
            break
        cost, number, other = min(tried, key=lambda each: each[0])
        if cost > GUILTY * found.cost:
            break
        perhaps = [at for near, at, _ in tried if near < cost + NEARLY]
        doubts += [Spoiler("doubtful", at) for at in perhaps if len(perhaps) > 1]
        out.append(number)
        found = other
    return Trusted(found, tuple(out), (*sizes, *doubts, *_named(found, shots, markers, robot, out, bool(sizes))))


def _fits(found: Solved) -> bool:
    return found.cost <= FITS * found.corners + FITS_AT_ALL


def _seen(shots: Sequence[Shot], marker: Marker) -> bool:
    return any(int(marker.number) in shot.found for shot in shots)


def _solve(
    shots: Sequence[Shot], markers: Sequence[Marker], robot: RobotMarker | None, measured: Sequence[Measured],
    out: Sequence[int],
) -> Solved | None:  # fmt: skip
    kept = [marker for marker in markers if int(marker.number) not in out and _seen(shots, marker)]
    numbers = {int(marker.number) for marker in kept}
    if not all(numbers & set(shot.found) for shot in shots):
        return None
    tapes = [each for each in measured if {each.one, each.other} <= numbers]
    cleared = [
        replace(shot, found={number: at for number, at in shot.found.items() if number not in out}) for shot in shots
    ]
    return solve(cleared, kept, robot, tapes)


def _mended(
    alone: Solved, robot: RobotMarker, shots: Sequence[Shot], markers: Sequence[Marker], measured: Sequence[Measured],
    out: Sequence[int],
) -> tuple[Spoiler, Solved] | None:  # fmt: skip
    """What is wrong with the robot's marker, its size or its height, and the set-up solved with that."""
    number = int(robot.number)
    ways: list[tuple[Spoiler, Solved]] = []
    size = _robot_size(alone, robot, shots)
    if size is not None:
        found = _solve(shots, markers, changed(robot, size=size), measured, out)
        if found is not None:
            ways.append((Spoiler("size", number, size), found))
    if robot.height is not None:
        found = _solve(shots, markers, changed(robot, height=None), measured, out)
        if found is not None:
            ways.append((Spoiler("height wrong", number, float(found.state.shared[6])), found))
    return min(ways, key=lambda way: way[1].cost, default=None)


def _robot_size(alone: Solved, robot: RobotMarker, shots: Sequence[Shot]) -> float | None:
    """The side that the robot's marker seems to have at the height it is told to be, mm."""
    height = robot.height if robot.height is not None else float(alone.state.shared[6])
    sides = [
        _side(alone.back(p, shot.found[int(robot.number)], height))
        for p, shot in enumerate(shots)
        if int(robot.number) in shot.found
    ]
    size = float(np.median(sides)) / alone.printed if sides else float("nan")
    return size if 10.0 <= size <= 500.0 else None


def _side(corners: FloatArray) -> float:
    return float(np.linalg.norm(np.roll(corners, -1, axis=0) - corners, axis=1).mean())


def _named(
    found: Solved,
    shots: Sequence[Shot],
    markers: Sequence[Marker],
    robot: RobotMarker | None,
    out: Sequence[int],
    mended: bool,
) -> list[Spoiler]:
    spoilers: list[Spoiler] = []
    for marker in markers:
        number = int(marker.number)
        seen = [
            found.back(p, shot.found[number], marker.height) for p, shot in enumerate(shots) if number in shot.found
        ]
        if not seen:
            continue
        size = float(np.median([_side(each) for each in seen])) / found.printed
        wrong = abs(size / marker.size - 1) > WRONG_SIZE
        if wrong:
            spoilers.append(Spoiler("size", number, size))
        middles = np.array([each.mean(axis=0) for each in seen])
        apart = max((float(np.linalg.norm(a - b)) for a in middles for b in middles), default=0.0)
        off = float(np.linalg.norm(np.median(middles, axis=0) - np.array(marker.at)))
        if number in out and apart > MOVED:
            spoilers.append(Spoiler("moved", number, apart))
        elif not wrong and (number in out or off > MISPLACED * max(marker.laid, 0.5)):
            spoilers.append(Spoiler("misplaced", number, off))
    if abs(found.printed - 1) > WRONG_SCALE:
        spoilers.append(Spoiler("printed", None, found.printed))
    if robot is not None and robot.height is None and not mended:
        spoilers.append(Spoiler("height", int(robot.number), float(found.state.shared[6])))
    return spoilers
