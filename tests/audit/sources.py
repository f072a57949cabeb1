"""The joint distribution of where a run ends, of all sources of noise at once, against linear propagation by hand.

Random runs of straights (forwards and backwards), turns on the spot and pivots are propagated as a linear Gaussian
system, from the words of the guide alone (`fieldsim/sim/README.md`): the walk of the heading along a straight of L has
the variances k^2 L and k^2 L^3/3 of heading and sideways offset and the covariance k^2 L^2/2; what differs from day to
day is one draw a run. Nothing of fieldsim but the model's values is used. Held against it are the six covariances of
x, y and heading at the end of many trials; the noise is a fifth of a usual robot's, so that what is not linear is far
below what the trials could show.
"""

from __future__ import annotations

from collections.abc import Iterator
from math import cos, radians, sin, sqrt

import numpy as np
from numpy.typing import NDArray

from fieldsim import simulate
from fieldsim.model import (
    Accuracy,
    Body,
    Drive,
    Field,
    Robot,
    Run,
    Segment,
    Spread,
    StartByEye,
    Straight,
    StraightNoise,
    Systematic,
    Turn,
    TurnNoise,
)

Floats = NDArray[np.float64]

TRACK = 112.0
NOISE = Accuracy(
    day=Systematic(distance=0.0006, veer=0.05, turn=0.0012),
    straight=StraightNoise(stop=0.2, distance=0.3, veer=0.08),
    turn=TurnNoise(stop=0.1, slip=0.12),
)
PLACED = Spread(0.3, 0.2, 0.06)


def random_run(rng: np.random.Generator) -> Run:
    """On an open floor, so large that nothing is near."""
    segments: list[Segment] = []
    for _ in range(int(rng.integers(3, 8))):
        match int(rng.integers(0, 4)):
            case 0:
                about = ("axle", "left wheel", "right wheel")[int(rng.integers(0, 3))]
                angle = float(rng.uniform(20, 200) * rng.choice([-1, 1]))
                segments.append(Turn(angle) if about == "axle" else Turn(angle, about=about))  # type: ignore[arg-type]
            case _:
                segments.append(Straight(float(rng.uniform(60, 900) * rng.choice([-1, 1, 1]))))
    robot = Robot("Audit", Body(170.0, 140.0, 60.0, (8.0, 110.0)), Drive(track=TRACK, wheel=62.0), NOISE)
    start = StartByEye((10_000.0, 10_000.0), float(rng.uniform(-180, 180)), PLACED)
    return Run("Audit", Field("Hall", (20_000.0, 20_000.0)), robot, start, tuple(segments))


def covariance(run: Run) -> Floats:
    """(3, 3) of x, y (mm) and heading (degrees) at the end."""
    assert isinstance(run.start, StartByEye)
    x, y = run.start.at
    h = radians(run.start.heading)
    c, s = cos(h), sin(h)
    placed = run.start.spread
    # Columns: independent draws of one standard deviation, and how far the end is moved by each (x, y, heading in rad).
    spread = [
        np.array([c * placed.along, s * placed.along, 0.0]), np.array([-s * placed.across, c * placed.across, 0.0]),
        np.array([0.0, 0.0, radians(placed.heading)]),
    ]  # fmt: skip
    day = {name: np.zeros(3) for name in ("distance", "veer", "turn")}
    noise = NOISE
    for segment in run.segments:
        c, s = cos(h), sin(h)
        if isinstance(segment, Straight):
            way = segment.distance
            metres = abs(way) / 1000.0
            to = np.array([x + way * c, y + way * s])
            carried = np.array([[1.0, 0.0, -way * s], [0.0, 1.0, way * c], [0.0, 0.0, 1.0]])
            fresh = [
                np.array([c, s, 0.0]) * sqrt(noise.straight.stop**2 + noise.straight.distance**2 * metres),
                *_walk(radians(noise.straight.veer) * sqrt(metres), way, c, s),
            ]
            moved = {
                "distance": noise.day.distance * way * np.array([c, s, 0.0]),
                "veer": _veer(radians(noise.day.veer) / 1000.0, way, c, s),
                "turn": np.zeros(3),
            }
        else:
            assert isinstance(segment, Turn)
            t = radians(segment.angle)
            way = {"left wheel": 1.0, "right wheel": -1.0}.get(segment.about or "", 0.0) * t * TRACK / 2
            to = _arc(x, y, h, way, t)[:2]
            carried = np.eye(3)
            # Where the wheel that is held stands, and so all that turns about it, moves with the heading's error.
            carried[:2, 2] = -(to - [x, y])[1], (to - [x, y])[0]
            by_way = (_arc(x, y, h, way + 0.5, t) - _arc(x, y, h, way - 0.5, t)) / 1.0
            by_turn = (_arc(x, y, h, way, t + 1e-4) - _arc(x, y, h, way, t - 1e-4)) / 2e-4
            quarter = abs(segment.angle) / 90.0
            # More or less of the commanded motion, about the same centre.
            fresh = [(way / t * by_way + by_turn) * radians(sqrt(noise.turn.stop**2 + noise.turn.slip**2 * quarter))]
            # The day's wheels are of other sizes: their travels are way -+ t times half the track.
            veer = radians(noise.day.veer) / 1000.0
            moved = {
                "distance": noise.day.distance * way * by_way,
                "veer": veer * (way * by_turn + t * TRACK**2 / 4 * by_way),
                "turn": noise.day.turn * t * by_turn,
            }
            h += t
        x, y = to
        spread = [carried @ each for each in spread] + fresh
        day = {name: carried @ each + moved[name] for name, each in day.items()}
    root = np.array([*spread, *day.values()])
    root[:, 2] = np.degrees(root[:, 2])
    return np.asarray(root.T @ root)


def _arc(x: float, y: float, h: float, way: float, t: float) -> Floats:
    """Where an arc of so much travel and turn ends."""
    chord = way * sin(t / 2) / (t / 2)
    return np.array([x + chord * cos(h + t / 2), y + chord * sin(h + t / 2), h + t])


def _walk(sd: float, way: float, c: float, s: float) -> Iterator[Floats]:
    """Heading and sideways offset of a random walk of the heading: sd of the heading at the end, and the way."""
    # Two independent draws: the offset follows half the heading's, and has way^2/12 of its own.
    yield np.array([-s * way / 2 * sd, c * way / 2 * sd, sd])
    own = sd * abs(way) / sqrt(12.0)
    yield np.array([-s * own, c * own, 0.0])


def _veer(each_mm: float, way: float, c: float, s: float) -> Floats:
    off = each_mm * way * way / 2
    return np.array([-s * off, c * off, each_mm * way])


def largest_z(runs: int, trials: int, seed: int = 1) -> tuple[float, int]:
    """The largest deviation of a covariance from the one by hand, in its standard deviations, of how many."""
    rng = np.random.default_rng(seed)
    worst, count = 0.0, 0
    for number in range(runs):
        run = random_run(rng)
        wanted = covariance(run)
        ends = simulate(run, trials, seed=number + 1).poses[:, -1]
        off = ends - ends.mean(axis=0)
        found = off.T @ off / (trials - 1)
        sd = np.sqrt((np.outer(np.diag(wanted), np.diag(wanted)) + wanted**2) / trials)
        z = np.abs((found - wanted) / sd)[np.triu_indices(3)]
        worst, count = max(worst, float(z.max())), count + len(z)
    return worst, count


def table(short: bool = False) -> str:
    runs, trials = (15, 20_000) if short else (120, 100_000)
    worst, count = largest_z(runs, trials)
    return (
        "| random runs | trials each | covariances | largest z |\n|---|---|---|---|\n"
        f"| {runs} | {trials} | {count} | {worst:.2f} |"
    )
