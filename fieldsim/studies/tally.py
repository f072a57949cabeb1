"""From blocks of trials to an answer, in memory that does not grow with the number of trials."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator

import numpy as np
from numpy.typing import NDArray

from fieldsim import __version__
from fieldsim.language import tr
from fieldsim.model import (
    Accuracy,
    Act,
    Alignment,
    GyroNoise,
    Run,
    Square,
    StartByEye,
)
from fieldsim.sim.alignment import line_of
from fieldsim.sim.endings import ending_words
from fieldsim.sim.failures import Failure, counted, failures, in_order
from fieldsim.sim.kernel.course import CAUGHT
from fieldsim.sim.motion import wrapped
from fieldsim.sim.plan import Plan, set_against
from fieldsim.sim.trials import Trials, nominal
from fieldsim.stats.histogram import Histogram
from fieldsim.stats.intervals import Share, wilson
from fieldsim.stats.quantiles import percentile_ranks, rank
from fieldsim.studies.answer import (
    ClearanceAnswer,
    ContactAnswer,
    FinishAnswer,
    FirstAnswer,
    Missed,
    Pose,
    RibbonAnswer,
    SpreadAnswer,
    SquareAnswer,
    TargetAnswer,
    TimeAnswer,
    TryAnswer,
)

# Clearances are counted in steps of this, mm, misses of targets likewise up to ``FAR_MISS``, times in milliseconds.
STEP = 0.01
FAR_MISS = 1000.0
# A trial that takes longer than this, s (30,000 years of a robot that hardly moves), counts as this long: beyond it
# squares and thousandths of seconds are no numbers any more.
LONGEST = 1e12


class Tally:
    """Counts of everything an answer says. Add blocks in order: sums of poses are then the same bits every time."""

    def __init__(self, ready: Plan) -> None:
        self.ready = ready
        self.planned = nominal(ready)
        segments = len(ready.run.segments)
        self.driving = [g for g in range(segments) if ready.course.wheels.piece[g] < ready.course.wheels.piece[g + 1]]
        self.horizon = ready.course.horizon
        self.n = 0
        self.success = 0
        self.clear = 0
        self.home = 0
        self.contacts: Counter[tuple[int, int]] = Counter()
        self.first: Counter[Failure] = Counter()
        # Planned mm driven up to each segment, and on it; mm driven until the contacts, summed.
        ways = [segment.way(ready.run.robot.drive.track) for segment in ready.run.segments]
        self.ways = np.array([0.0, *ways])
        self.driven: dict[tuple[int, int], float] = {}
        self.near: dict[int, int] = {}
        self.gaps: list[Histogram] = []
        self.where: list[Counter[int]] = []
        self.ribbon = Histogram(segments, self.horizon, STEP)
        self.acts = [(g, s) for g, s in enumerate(ready.run.segments) if isinstance(s, Act)]
        self.hits = np.zeros(len(self.acts), dtype=np.int64)
        self.misses = [Histogram(1, FAR_MISS, STEP) for _ in self.acts]
        self.aligned = [(g, s) for g, s in enumerate(ready.run.segments) if isinstance(s, Alignment)]
        self.squares = [
            _AlignmentTally(self.planned.poses[0, g], self.planned.poses[0, g + 1]) for g, _ in self.aligned
        ]
        # The pose at the end about the planned one, so that the sums keep their digits.
        self.end = np.array([*self.planned.poses[0, -1]])
        self.ended = 0
        self.sum = np.zeros(3)
        self.products = np.zeros((3, 3))
        self.seconds: Counter[int] = Counter()
        self.time_sum = 0.0
        self.time_squares = 0.0

    def add(self, block: Trials) -> None:
        clear = block.clear
        self.n += len(block)
        self.success += int(block.success.sum())
        self.clear += int(clear.sum())
        self.first.update(dict(counted(failures(block))))
        ended = block.ended
        self.home += int((ended & block.home).sum())
        touched = ~clear
        pairs = np.column_stack([block.contact_obstacle[touched], block.contact_segment[touched]])
        for (o, g), count in zip(*np.unique(pairs, axis=0, return_counts=True), strict=True) if len(pairs) else ():
            self.contacts[int(o), int(g)] += int(count)
            here = touched & (block.contact_obstacle == o) & (block.contact_segment == g)
            before = self.ways[:g].sum() * count + self.ways[g] * block.contact_fraction[here].sum()
            self.driven[int(o), int(g)] = self.driven.get((int(o), int(g)), 0.0) + float(before)
        for column, obstacle in enumerate(block.obstacles):
            row = self.near.get(int(obstacle))
            if row is None:
                row = self.near[int(obstacle)] = len(self.gaps)
                self.gaps.append(Histogram(1, self.horizon, STEP))
                self.where.append(Counter())
                # It was beyond the horizon in every trial so far.
                self.gaps[row].counts[0, -1] += self.n - len(block)
            self.gaps[row].add(0, block.clearance[:, column])
            for g, count in enumerate(np.bincount(block.tightest[:, column])):
                if g and count:
                    self.where[row][g] += int(count)
        for obstacle in set(self.near) - {int(o) for o in block.obstacles}:
            self.gaps[self.near[obstacle]].counts[0, -1] += len(block)
        for g in self.driving:
            came = (block.ended_segment == 0) | (block.ended_segment > g)
            self.ribbon.add(g, block.ribbon[came, g])
        for a, (g, _) in enumerate(self.aligned):
            before_contact = clear | (block.contact_segment > g + 1)
            self.squares[a].add(block, a, g, before_contact)
        self.hits += block.hit.sum(axis=0)
        for t, histogram in enumerate(self.misses):
            histogram.add(0, block.miss[block.reached[:, t], t])

        off = block.poses[ended, -1] - self.end
        self.ended += len(off)
        self.sum += off.sum(axis=0)
        self.products += off.T @ off
        times = np.minimum(block.time[ended], LONGEST)
        self.time_sum += float(times.sum())
        self.time_squares += float((times * times).sum())
        thousandths = np.rint(times * 1000).astype(np.int64)
        for value, count in zip(*np.unique(thousandths, return_counts=True), strict=True):
            self.seconds[int(value)] += int(count)

    def share(self) -> Share:
        return wilson(self.success, self.n)

    def answer(
        self, *, seed: int, asked: int | None, bare: bool, need: float | None, stopped_early: bool = False
    ) -> TryAnswer:
        run = self.ready.run
        return TryAnswer(
            version=__version__,
            run=run.name,
            field=run.field.name,
            robot=run.robot.name,
            start=tr("by eye") if isinstance(run.start, StartByEye) else run.start,
            trials=self.n,
            seed=seed,
            asked=asked,
            bare=bare,
            horizon=self.horizon,
            success=self.share(),
            clear=wilson(self.clear, self.n),
            contacts=self._contacts(),
            first=tuple(
                FirstAnswer(each.why, each.what, each.segment, count, wilson(count, self.n))
                for each, count in in_order(self.first)
            ),
            clearance=self._clearance(),
            ribbon=self._ribbon(),
            targets=self._targets(),
            squares=self._squares(),
            notes=tuple(notes(run)),
            finish=self._finish(),
            time=self._time(),
            segments=tuple(segment.in_words() for segment in run.segments),
            need=need,
            stopped_early=stopped_early,
        )

    def _contacts(self) -> tuple[ContactAnswer, ...]:
        ordered = sorted(self.contacts.items(), key=lambda item: (-item[1], item[0][1], item[0][0]))
        return tuple(
            ContactAnswer(self.ready.solids[o].name, g, wilson(count, self.n), self.driven[o, g] / count)
            for (o, g), count in ordered
        )

    def _clearance(self) -> tuple[ClearanceAnswer, ...]:
        """Every obstacle that can be met; one that no trial came near has the horizon for all its numbers."""
        found = []
        best = self.ready.course.entries.best
        against = set_against(self.ready)
        for number, thing in enumerate(self.ready.solids):
            row = self.near.get(number)
            planned = float(self.planned.clearance[0, number])
            if row is None and best[number] < 0:
                continue
            segment = int(self.planned.tightest[0, number]) or 1
            if row is None or self.n == 0:
                values = (self.horizon,) * 5
            else:
                gaps = self.gaps[row]
                n = gaps.total(0)
                ranks = (rank(n, 0.05), *percentile_ranks(n, 0.05), rank(n, 0.5))
                p05, low, high, median = gaps.values(0, ranks)
                values = (p05, low, high, median, gaps.mean(0))
                if self.where[row]:
                    segment = max(sorted(self.where[row]), key=lambda g: self.where[row][g])
                elif np.isinf(planned) and number not in against:
                    continue
            stands = number in against and planned >= self.horizon
            found.append(ClearanceAnswer(thing.name, segment, 0.0 if stands else planned, *values, stands))
        found = [entry for entry in found if not np.isinf(entry.nominal) or entry.p05 < self.horizon]
        return tuple(sorted(found, key=lambda entry: (entry.p05, entry.median, entry.nominal)))

    def _ribbon(self) -> tuple[RibbonAnswer, ...]:
        rows = []
        for g in self.driving:
            planned = min(float(self.planned.ribbon[0, g]), self.horizon)
            n = self.ribbon.total(g)
            shares = (0.05, 0.5, 0.95)
            values = self.ribbon.values(g, [rank(n, q) for q in shares]) if n else (planned,) * len(shares)
            rows.append(RibbonAnswer(g + 1, planned, *values))
        return tuple(rows)

    def _targets(self) -> tuple[TargetAnswer, ...]:
        rows = []
        for t, (g, act) in enumerate(self.acts):
            target = next(target for target in self.ready.run.field.targets if target.name == act.target)
            came = self.misses[t].total(0)
            rows.append(
                TargetAnswer(
                    target=act.target,
                    segment=g + 1,
                    share=wilson(int(self.hits[t]), self.n),
                    nominal_miss=float(self.planned.miss[0, t]),
                    miss_median=self.misses[t].percentile(0, 0.5) if came else None,
                    miss_p95=self.misses[t].percentile(0, 0.95) if came else None,
                    points=target.points,
                    within=target.within,
                )
            )
        return tuple(rows)

    def _squares(self) -> tuple[SquareAnswer, ...]:
        rows = []
        for (g, segment), tally in zip(self.aligned, self.squares, strict=True):
            missed = sorted(tally.missed.items(), key=lambda item: (-item[1], item[0]))
            before, after = tally.spreads(normal(self.ready.run, segment, tally))
            rows.append(
                SquareAnswer(
                    segment=g + 1,
                    on=segment.on,
                    share=wilson(tally.caught, self.n),
                    missed=tuple(Missed(ending_words(segment, why), wilson(count, self.n)) for why, count in missed),
                    before=before,
                    after=after,
                    of_those=wilson(tally.caught, tally.caught + sum(tally.missed.values())),
                )
            )
        return tuple(rows)

    def _finish(self) -> FinishAnswer:
        planned = _pose(self.end)
        met = wilson(self.home, self.n) if self.ready.run.finish is not None else None
        if self.ended == 0:
            return FinishAnswer(planned, None, None, None, met)
        mean = self.sum / self.ended
        if self.ended > 1:
            spread = (self.products - self.ended * np.outer(mean, mean)) / (self.ended - 1)
        else:
            spread = np.zeros((3, 3))
        sd = np.sqrt(np.maximum(np.diag(spread), 0.0))
        rows = tuple((float(a), float(b), float(c)) for a, b, c in spread)
        return FinishAnswer(
            nominal=planned,
            mean=_pose(self.end + mean),
            sd=(float(sd[0]), float(sd[1]), float(sd[2])),
            covariance=(rows[0], rows[1], rows[2]),
            met=met,
        )

    def _time(self) -> TimeAnswer:
        planned = float(self.planned_seconds())
        if self.ended == 0:
            return TimeAnswer(planned, None, None, None)
        mean = self.time_sum / self.ended
        square = max(0.0, self.time_squares / self.ended - mean * mean)
        sd = float(np.sqrt(square * self.ended / max(self.ended - 1, 1)))
        k, seen = rank(self.ended, 0.95), 0
        p95 = mean
        for value in sorted(self.seconds):
            seen += self.seconds[value]
            if seen >= k:
                p95 = value / 1000
                break
        return TimeAnswer(planned, mean, sd, p95)

    def planned_seconds(self) -> float:
        return sum(self.ready.seconds)


def notes(run: Run) -> Iterator[str]:
    """What is taken for granted because the robot's file does not say it."""
    accuracy = run.robot.accuracy
    steered = run.robot.drive.heading_from == "gyro"
    if accuracy == Accuracy():
        yield tr("The robot's file has no 'accuracy': it is taken to drive perfectly.")
    elif steered and accuracy.gyro == GyroNoise():
        yield tr("It steers by a gyro, and 'accuracy' has no 'gyro': that is taken to be perfect.")
    elif not steered and accuracy.gyro != GyroNoise():
        yield tr("'accuracy' has a 'gyro', but the robot does not steer by it (heading_from: wheels).")
    if accuracy != Accuracy() and accuracy.between is None:
        yield tr("The robot's file does not say how well its accuracy is known: fit writes it.")


class _AlignmentTally:
    """One alignment: how it ended, and sums of the poses before and after it over the trials that caught it."""

    def __init__(self, before: NDArray[np.float64], after: NDArray[np.float64]) -> None:
        # About the planned poses, so that the sums keep their digits.
        self.about = np.stack([before, after])
        self.caught = 0
        self.missed: Counter[int] = Counter()
        self.sums = np.zeros((2, 3))
        self.products = np.zeros((2, 3, 3))

    def add(self, block: Trials, a: int, g: int, before_contact: NDArray[np.bool_]) -> None:
        came = before_contact & ((block.ended_segment == 0) | (block.ended_segment > g))
        caught = came & (block.endings[:, a] == CAUGHT)
        self.caught += int(caught.sum())
        for why, count in zip(*np.unique(block.endings[came & ~caught, a], return_counts=True), strict=True):
            self.missed[int(why)] += int(count)
        for side in (0, 1):
            off = block.poses[caught, g + side] - self.about[side]
            self.sums[side] += off.sum(axis=0)
            self.products[side] += off.T @ off

    def spreads(self, away: float) -> tuple[SpreadAnswer | None, SpreadAnswer | None]:
        """Before and after; ``away`` is the direction square to the wall or line, degrees."""
        if self.caught < 2:
            return None, None
        turn = np.radians(away)
        axes = np.array([(0.0, 0.0, 1.0), (np.cos(turn), np.sin(turn), 0.0), (-np.sin(turn), np.cos(turn), 0.0)])
        found = []
        for total, products in zip(self.sums, self.products, strict=True):
            covariance = (products - np.outer(total, total) / self.caught) / (self.caught - 1)
            variance = np.diag(axes @ covariance @ axes.T)
            found.append(SpreadAnswer(*(float(sd) for sd in np.sqrt(np.maximum(variance, 0.0)))))
        return found[0], found[1]


def normal(run: Run, segment: Alignment, tally: _AlignmentTally) -> float:
    """The direction square to what an alignment is on, degrees: a robot that stands flat looks that way on average."""
    if isinstance(segment, Square):
        return float(tally.about[1, 2] + tally.sums[1, 2] / max(tally.caught, 1))
    line = line_of(run, segment)
    return float(np.degrees(np.arctan2(line.end[1] - line.start[1], line.end[0] - line.start[0]))) + 90.0


def _pose(pose: NDArray[np.float64]) -> Pose:
    return float(pose[0]), float(pose[1]), wrapped(float(pose[2]))
