"""Trials side by side with what one would write otherwise, in one process, and how their cost grows.

    python tests/bench/side_by_side.py            both tables, for the README of the kernel
    python tests/bench/side_by_side.py --rounds 3
    python tests/bench/side_by_side.py --growth --picture growth.png   the second alone, drawn too

Every way drives the same trials of the benchmark's run (14 segments, 20 rotated boxes, 4 walls) and tells each
obstacle's least clearance. The others are handed the driven paths for nothing, draws and noise left out; ours is timed
with its draws and with all that is judged of a trial. They step 2 mm and 1 degree, which leaves them 0.01 to 0.03 mm
wrong. Before a ratio is told the answers are held against each other.

Processor time of one core, the ways in turn, round after round; a ratio is the middle one of the rounds' own, so that a
busy neighbour slows down both of its sides.
"""

from __future__ import annotations

import argparse
import os
import sys
import time
from collections.abc import Callable
from math import inf
from pathlib import Path
from statistics import median

import numpy as np
import shapely

if __name__ == "__main__":
    sys.path[:0] = [str(Path(__file__).parents[2]), str(Path(__file__).parents[1])]

from bench.workload import run_among
from reference import Piece, obstacles, placed, poses, stepped_clearances, steps

from fieldsim.model import Run
from fieldsim.sim.draws import BLOCK, Draws
from fieldsim.sim.kernel.shapes import Floats
from fieldsim.sim.plan import HORIZON, Plan, plan
from fieldsim.sim.trials import blocks, joints

STEP_MM, STEP_DEGREES = 2.0, 1.0


class Paths:
    """The first trials of the run as they were driven, and what stands on the field."""

    def __init__(self, trials: int, boxes: int = 20) -> None:
        self.ready = plan(run_among(boxes))
        ready = self.ready
        z = np.zeros((ready.drivetrain.rows, BLOCK))
        Draws(1).block(0, ready.drivetrain.streams, z)
        self.poses = joints(ready.course, z, 0, trials)
        """(N, P + 1, 3) at the joints of the pieces, mm and degrees."""
        self.body = ready.parts[0].points
        self.cores = [core.points for thing in ready.solids for core in thing.cores]

    def pieces(self, trial: int) -> list[Piece]:
        """One trial's pieces: a chord and a turn make a rigid rotation."""
        found = []
        for (x, y, h), (to_x, to_y, to_h) in zip(self.poses[trial, :-1], self.poses[trial, 1:], strict=True):
            s, t = travelled(to_x - x, to_y - y, np.radians(h), np.radians(to_h - h))
            found.append(Piece((x, y, np.radians(h)), float(s), float(t)))
        return found


def travelled(dx: Floats, dy: Floats, h: Floats, t: Floats) -> tuple[Floats, Floats]:
    """Travel and turn of a piece from its chord: the chord points along the middle heading."""
    chord = dx * np.cos(h + t / 2) + dy * np.sin(h + t / 2)
    return chord / np.sinc(t / 2 / np.pi), t


# --- the ways --------------------------------------------------------------------------------------------------------


def plain_loop(paths: Paths, trials: range) -> Floats:
    """What is written first: a footprint a step, a distance an obstacle."""
    things = [shapely.Polygon(core) for core in paths.cores]
    least = np.full((len(trials), len(things)), inf)
    for row, trial in enumerate(trials):
        for piece in paths.pieces(trial):
            count = steps(piece.s, piece.t, STEP_MM, STEP_DEGREES)
            at = poses(piece.pose, piece.s, piece.t, np.linspace(0.0, 1.0, count + 1))
            for corners in placed(paths.body, at):
                footprint = shapely.Polygon(corners)
                for i, thing in enumerate(things):
                    least[row, i] = min(least[row, i], footprint.distance(thing))
    return least


def array_functions(paths: Paths, trials: range) -> Floats:
    """The best that was found with shapely's array functions: one prepared multipolygon a piece."""
    against = obstacles(paths.cores, [0.0] * len(paths.cores))
    return np.array([stepped_clearances(paths.body, paths.pieces(n), against, STEP_MM, STEP_DEGREES) for n in trials])


def numpy_over_trials(paths: Paths, trials: range) -> Floats:
    """All trials a step at a time. Rectangles only: the distance of two is that of a corner of one to the other, and
    nought where no side parts them."""
    poses_of = paths.poses[list(trials)]
    boxes = [_rectangle(core) for core in paths.cores]
    least = np.full((len(trials), len(boxes)), inf)
    middle, half, lies = _rectangle(paths.body)
    for p in range(poses_of.shape[1] - 1):
        begin, end = poses_of[:, p], poses_of[:, p + 1]
        h = np.radians(begin[:, 2])
        s, t = travelled(end[:, 0] - begin[:, 0], end[:, 1] - begin[:, 1], h, np.radians(end[:, 2] - begin[:, 2]))
        count = max(steps(float(a), float(b), STEP_MM, STEP_DEGREES) for a, b in zip(s, t, strict=True))
        for u in np.linspace(0.0, 1.0, count + 1):
            turn = t * u
            chord = s * u * np.sinc(turn / 2 / np.pi)
            heading = h + turn
            x, y = begin[:, 0] + chord * np.cos(h + turn / 2), begin[:, 1] + chord * np.sin(h + turn / 2)
            cx = x + middle[0] * np.cos(heading) - middle[1] * np.sin(heading)
            cy = y + middle[0] * np.sin(heading) + middle[1] * np.cos(heading)
            for i, box in enumerate(boxes):
                np.minimum(least[:, i], _apart(cx, cy, heading + lies, half, *box), out=least[:, i])
    return least


def _rectangle(corners: Floats) -> tuple[Floats, Floats, float]:
    """Middle, half sides and heading of a rectangle given by its corners."""
    along, across = corners[1] - corners[0], corners[2] - corners[1]
    half = 0.5 * np.array([np.hypot(*along), np.hypot(*across)])
    return corners.mean(axis=0), half, float(np.arctan2(along[1], along[0]))


_SIGNS = np.array([(1, 1), (1, -1), (-1, -1), (-1, 1)])


def _apart(x: Floats, y: Floats, h: Floats, half: Floats, at: Floats, other: Floats, angle: float) -> Floats:
    """(N,) distances of N rectangles (middles, headings, half sides) to one."""

    def corner_gap(dx: Floats, dy: Floats, turned: Floats, of: Floats, to: Floats) -> tuple[Floats, Floats]:
        c, s = np.cos(turned), np.sin(turned)
        px = dx + _SIGNS[:, :1] * of[0] * c - _SIGNS[:, 1:] * of[1] * s
        py = dy + _SIGNS[:, :1] * of[0] * s + _SIGNS[:, 1:] * of[1] * c
        gap = np.hypot(np.maximum(np.abs(px) - to[0], 0.0), np.maximum(np.abs(py) - to[1], 0.0)).min(axis=0)
        # How far a side of ``to`` parts them, if it does.
        free = np.maximum(np.maximum(px.min(axis=0) - to[0], -to[0] - px.max(axis=0)),
                          np.maximum(py.min(axis=0) - to[1], -to[1] - py.max(axis=0)))  # fmt: skip
        return gap, free

    dx, dy = x - at[0], y - at[1]
    c, s = np.cos(angle), np.sin(angle)
    mine, free = corner_gap(dx * c + dy * s, dy * c - dx * s, h - angle, half, other)
    c, s = np.cos(h), np.sin(h)
    theirs, clear = corner_gap(-dx * c - dy * s, dx * s - dy * c, angle - h, other, half)
    return np.where(np.maximum(free, clear) > 0, np.minimum(mine, theirs), 0.0)


def ours(paths: Paths, trials: range) -> Floats:
    """With draws, contacts, poses, acts and times."""
    least = np.full((len(trials), len(paths.ready.solids)), HORIZON)
    for block in blocks(paths.ready, 1, len(trials), threads=1):
        least[block.first : block.first + len(block), block.obstacles] = block.clearance
    return least


WAYS: dict[str, tuple[Callable[[Paths, range], Floats], int]] = {
    "plain loop, shapely": (plain_loop, 1),
    "array functions, shapely": (array_functions, 5),
    "numpy over trials, rectangles": (numpy_over_trials, 1000),
    "fieldsim, exact": (ours, 20_000),
}


def disagreement(paths: Paths, trials: int) -> dict[str, float]:
    """By how much each stepped way differs at most from ours, mm: of what came nearer than the horizon, touched nothing
    and is not what the robot is set against."""
    exact = ours(paths, range(trials))
    told = (exact < HORIZON) & (exact > 0.0)
    found = {}
    for name, (way, _) in WAYS.items():
        if way is not ours:
            seen = way(paths, range(trials))
            told &= seen > 0.0
            found[name] = float(np.abs(seen - exact)[told].max())
    return found


# --- tables ----------------------------------------------------------------------------------------------------------


def compared(rounds: int) -> str:
    """The ways in turn."""
    paths = Paths(1000)
    off = disagreement(paths, 2)
    taken: dict[str, list[float]] = {name: [] for name in WAYS}
    for way, trials in WAYS.values():
        way(paths, range(min(trials, 1000)))
    for _ in range(rounds):
        for name, (way, trials) in WAYS.items():
            begin = time.process_time()
            way(paths, range(trials))
            taken[name].append((time.process_time() - begin) / trials * 1e6)
    rows = ["| way | us a trial and core | times ours | differs by, mm |", "|---|---|---|---|"]
    exact = taken["fieldsim, exact"]
    for name, each in taken.items():
        ratio = median(a / b for a, b in zip(each, exact, strict=True))
        rows.append(f"| {name} | {median(each):,.1f} | {ratio:,.0f} | {off.get(name, 0.0):.3f} |")
    return "\n".join(rows)


# What grows, at how much of it, and what a trial costs there, microseconds; or a plan.
Growth = dict[str, dict[float, float]]


def grown(rounds: int) -> Growth:
    """How the cost of a trial grows, by processor time; by threads, by the clock."""

    def cost(ready: Plan, trials: int, threads: int = 1, clock: Callable[[], float] = time.process_time) -> float:
        sum(len(block) for block in blocks(ready, 1, 2000, threads=threads))
        taken = []
        for _ in range(rounds):
            begin = clock()
            assert sum(len(block) for block in blocks(ready, 1, trials, threads=threads)) == trials
            taken.append((clock() - begin) / trials * 1e6)
        return min(taken)

    def planning(run: Run) -> float:
        plan(run)
        taken = []
        for _ in range(10 * rounds):
            begin = time.process_time()
            plan(run)
            taken.append((time.process_time() - begin) * 1e6)
        return min(taken)

    ready = plan(run_among(20))
    segments = {n: run_among(20, n) for n in (4, 7, 14)}
    boxes = {n: run_among(n) for n in (20, 200, 2000)}
    return {
        "segments (20 boxes)": {n: cost(plan(run), 10_000) for n, run in segments.items()},
        "boxes (14 segments)": {n: cost(plan(run), 10_000) for n, run in boxes.items()},
        "trials (one thread)": {n: cost(ready, n) for n in (1_000, 10_000, 100_000, 1_000_000)},
        "threads (100,000 trials, by the clock)": {
            n: cost(ready, 100_000, n, time.perf_counter) for n in range(1, (os.cpu_count() or 1) + 1)
        },
        "segments: a plan": {n: planning(run) for n, run in segments.items()},
        "boxes: a plan": {n: planning(run) for n, run in boxes.items()},
    }


def told(growth: Growth) -> str:
    rows = ["| what | at | us a trial, or a plan |", "|---|---|---|"]
    for what, costs in growth.items():
        rows.append(
            f"| {what} | {', '.join(f'{n:g}' for n in costs)} | {', '.join(f'{c:,.1f}' for c in costs.values())} |"
        )
    return "\n".join(rows)


def drawn(growth: Growth, to: Path) -> None:
    """The same as a picture."""
    from matplotlib.figure import Figure

    figure = Figure(figsize=(10, 6), layout="constrained")
    for axes, (what, costs) in zip(figure.subplots(2, 3).flat, growth.items(), strict=True):
        axes.plot(list(costs), list(costs.values()), marker="o")
        axes.set(xlabel=what, ylabel="microseconds", ylim=(0, None), xscale="log" if max(costs) > 100 else "linear")
    figure.savefig(to)


if __name__ == "__main__":
    asked = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    asked.add_argument("--rounds", type=int, default=5)
    asked.add_argument("--growth", action="store_true", help="leave out the ways that others would take")
    asked.add_argument("--picture", type=Path, help="draw how the cost grows, too")
    chosen = asked.parse_args()
    if not chosen.growth:
        print(compared(chosen.rounds), end="\n\n")
    growth = grown(min(chosen.rounds, 3))
    print(told(growth))
    if chosen.picture is not None:
        drawn(growth, chosen.picture)
