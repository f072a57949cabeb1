"""What may happen in a match, before it is known which runs are driven and when: tables of what is drawn.

Match n has one day: the errors that differ from day to day are the same in all its runs and tries (of one robot).
Everything else is drawn anew for each run and try, and for each change and rescue by hand. As a draw belongs to (seed,
match, run, try) and not to a place in the order, all orders are played on the same draws.
"""

from __future__ import annotations

import os
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from math import inf
from typing import Any

import numpy as np
from numpy.typing import NDArray

from fieldsim.model import Act, Arc, Turn
from fieldsim.model.match import Match
from fieldsim.sim.draws import BLOCK, Draws
from fieldsim.sim.drivetrain import DAY, Stream
from fieldsim.sim.endings import ends_inside
from fieldsim.sim.kernel.match import Drawn, Rules
from fieldsim.sim.motion import along_piece, travel_and_turn
from fieldsim.sim.plan import Plan, plan
from fieldsim.sim.table import TABLE
from fieldsim.sim.trials import Driver, Trials, joints

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]
Watch = Callable[[int, int], None]

# How often a run can be tried in a match, by the match's 'rerun'.
TRIES = {"never": 1, "once": 2, "while time is left": 8}

# Decks of drawn numbers: the day of each robot, what is done by hand, and each try of each run.
HANDS, TRY = 50, 100
CHANGE, RESCUE = 0, 1


@dataclass(frozen=True, eq=False)
class Bank:
    """A match's rules, and what is drawn for it in M matches."""

    match: Match
    rules: Rules
    drawn: Drawn

    def __len__(self) -> int:
        return len(self.drawn.seconds)

    def part(self, first: int, count: int) -> Bank:
        """Some of these matches."""
        return Bank(self.match, self.rules, changed(self.drawn, lambda table: table[first : first + count]))


def changed(drawn: Drawn, change: Callable[[Any], Any]) -> Drawn:
    """The same change made to every table."""
    tables: list[Any] = [change(table) for table in drawn]
    return Drawn(*tables)


def rules_of(match: Match) -> Rules:
    """A match as flat arrays."""
    runs, targets = match.runs, match.targets
    acts = [[s.target for s in each.run.segments if isinstance(s, Act)] for each in runs]
    target = np.full((len(runs), max(map(len, acts))), -1, dtype=np.int64)
    for row, names in zip(target, acts, strict=True):
        row[: len(names)] = [targets.index(name) for name in names]
    changes = [[match.changeover_between(a.run, b.run) for b in runs] for a in runs]
    needs = np.array([sum(1 << other for other in needed) for needed in match.needed], dtype=np.int64)
    return Rules(
        limit=match.limit,
        change=np.array([[(change.mean, change.sd, change.least) for change in row] for row in changes]),
        rescue=np.array([match.rescue.mean, match.rescue.sd, match.rescue.least]),
        rescue_points=match.rescue.points,
        finish=match.points.finish,
        points=np.array([match.points_of(name) for name in targets], dtype=float),
        target=target,
        needs=needs,
        needed=np.array([sum(1 << q for q in range(len(runs)) if needs[q] >> r & 1) for r in range(len(runs))]),
        finishes=np.array([each.run.finish is not None for each in runs], dtype=np.int64),
    )


def stopped(trials: Trials) -> Floats:
    """(N, 3) where each robot stands at the end, at its first contact, or where it lost a square or line: mm, degrees.

    At a contact within a turn about a wheel or an arc it is taken to have come along the commanded way: a few mm off.
    """
    run = trials.plan.run
    poses = trials.poses[:, -1].copy()
    for g in np.unique(trials.contact_segment[~trials.clear]) - 1:
        here = trials.contact_segment == g + 1
        before, after, fraction = trials.poses[here, g], trials.poses[here, g + 1], trials.contact_fraction[here]
        segment = run.segments[g]
        if isinstance(segment, Turn | Arc):
            poses[here] = along_piece(before, *travel_and_turn(segment, run.robot.drive.track), fraction)
        else:
            poses[here] = before + fraction[:, None] * (after - before)
    return poses


def left_out(trials: Trials) -> Bools:
    """(N,) whether the body stands outside every start area at the end. On a field without any, none counts as out."""
    run = trials.plan.run
    areas = run.field.start_areas
    poses = stopped(trials)
    poses[:, 2] = np.radians(poses[:, 2])
    inside = [ends_inside(run, area.shape, poses) for area in areas]
    return ~np.any(inside, axis=0) if inside else np.zeros(len(trials), dtype=bool)


def blank(match: Match, count: int) -> Drawn:
    """Tables for so many matches, with nothing in them."""
    runs, tries = len(match.runs), TRIES[match.rerun]
    acts = max(sum(isinstance(s, Act) for s in each.run.segments) for each in match.runs)
    each, act = (count, runs, tries), (count, runs, tries, acts)
    return Drawn(
        seconds=np.zeros(each),
        begins=np.full(act, inf),
        ends=np.full(act, inf),
        hit=np.zeros(act, dtype=np.uint8),
        through=np.zeros(each, dtype=np.uint8),
        home=np.zeros(each, dtype=np.uint8),
        out=np.zeros(each, dtype=np.uint8),
        change=np.zeros(each),
        rescue=np.zeros(each),
    )


def fill(
    match: Match,
    matches: int,
    seed: int = 1,
    *,
    first_block: int = 0,
    threads: int | None = None,
    watch: Watch = lambda done, wanted: None,
) -> Bank:
    """What is drawn for so many matches, from ``first_block * BLOCK`` on. ``watch(done, wanted)`` counts first tries.

    A second try is simulated only where the first did not get through, and so on.
    """
    drawn = blank(match, matches)
    plans = [plan(each.run) for each in match.runs]
    blocks = -(-matches // BLOCK)
    work = [(r, number) for number in range(blocks) for r in range(len(plans))]

    def one(r: int, number: int) -> int:
        rows = slice(number * BLOCK, min((number + 1) * BLOCK, matches))
        part = changed(drawn, lambda table: table[rows, r])
        _tries(plans[r], part, seed, first_block + number, _day(match, r), TRY + r * max(TRIES.values()))
        for source, table in ((CHANGE, part.change), (RESCUE, part.rescue)):
            normal = np.empty((table.shape[1], BLOCK))
            Draws(seed, HANDS).block(first_block + number, [Stream(r + 1, source, len(normal))], normal)
            table[:] = normal[:, : len(table)].T
        return len(part.seconds)

    done = 0
    with ThreadPoolExecutor(threads or os.cpu_count() or 1) as pool:
        waiting = [pool.submit(one, *each) for each in work]
        try:
            for future in waiting:
                done += future.result()
                watch(done, matches * len(plans))
        finally:
            for future in waiting:
                future.cancel()
    return Bank(match, rules_of(match), drawn)


def _tries(ready: Plan, part: Drawn, seed: int, number: int, day: int, deck: int) -> None:
    """All tries of one run in one block of matches; ``part`` holds that run's tables, (n, J, ...)."""
    driver = Driver(ready, seed, clearances=False)
    left = np.arange(len(part.seconds))
    for attempt in range(part.seconds.shape[1]):
        z = _drawn(ready, seed, number, day, deck + attempt)
        driver.z = np.ascontiguousarray(z[:, left])
        found = driver.drawn(number, len(left))
        success = found.success
        part.seconds[left, attempt] = found.time
        acts = found.hit.shape[1]
        # What a contact or a lost line keeps it from is never begun.
        begun = found.reached & (found.acting[..., 0] <= found.time[:, None])
        part.begins[left, attempt, :acts] = np.where(begun, found.acting[..., 0], inf)
        part.ends[left, attempt, :acts] = np.where(begun, found.acting[..., 1], inf)
        part.hit[left, attempt, :acts] = found.hit
        part.through[left, attempt] = success
        part.home[left, attempt] = found.ended & found.home & (ready.run.finish is not None)
        part.out[left, attempt] = left_out(found)
        left = left[~success]
        if len(left) == 0:
            return


def _drawn(ready: Plan, seed: int, number: int, day: int, deck: int) -> Floats:
    """(rows, BLOCK) the drawn numbers of one try in one block of matches, with the day and the table that are the
    match's."""
    streams = ready.drivetrain.streams
    z = np.zeros((ready.drivetrain.rows, BLOCK))
    Draws(seed, deck).block(number, streams, z)
    top = 0
    for stream in streams:
        if stream.source == DAY or stream.source in TABLE:
            own = Draws(seed, day if stream.source == DAY else 0)
            own.block(number, (stream,), z[top : top + stream.rows])
        top += stream.rows
    return z


def one_try(match: Match, ready: Plan, seed: int, m: int, r: int, attempt: int) -> tuple[Trials, Floats]:
    """Try ``attempt`` of run ``r`` in match ``m``, all from 0, driven again as ``fill`` did: a single trial, and its
    poses at the joints of its pieces (P + 1, 3), mm and degrees. ``ready`` is that run's plan."""
    number, column = divmod(m, BLOCK)
    z = _drawn(ready, seed, number, _day(match, r), TRY + r * max(TRIES.values()) + attempt)
    driver = Driver(ready, seed)
    driver.z[:, :1] = z[:, column : column + 1]
    return driver.drawn(number, 1), joints(ready.course, z, column, 1)[0]


def _day(match: Match, r: int) -> int:
    """Two robots have two days."""
    robots = list(dict.fromkeys(each.run.robot.name for each in match.runs))
    return robots.index(match.runs[r].run.robot.name)
