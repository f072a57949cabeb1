"""The search for better numbers, and for squares worth their time, on common draws.

Numbers are moved in steps that a team types, coarse to fine: every free number one way and the other, and turns in
pairs, of which the second gives back what the first took, so that the way between them moves aside. What helps is
put together, and a move that helped is tried once more the same way (Hooke and Jeeves, 'Direct search' solution of
numerical and statistical problems, Journal of the ACM 8, 1961, sec. 3). Structure is a race: each square that could be
put in, or taken out, is driven on few draws, the best are set up as well as their numbers allow, and one stays where it
is worth more than luck and its time.

The draws that choose lie far from those that are told (`fieldsim.planning.polish.CHOOSING`).
"""

from __future__ import annotations

import os
from collections.abc import Callable, Generator, Iterator, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, field
from itertools import pairwise
from math import cos, degrees, radians, sin
from typing import Any

from fieldsim.model import Alignment, Arc, LineSquare, Run, Square, Straight, Turn
from fieldsim.model.errors import FieldsimError
from fieldsim.planning.aims import Aim, Driven, driven
from fieldsim.planning.draft import Draft, Edit, Free, applied, draft_of, edits, free_numbers
from fieldsim.planning.numbers import Step
from fieldsim.planning.places import sides
from fieldsim.planning.polish import CHOOSING
from fieldsim.sim.draws import BLOCK
from fieldsim.sim.feasible import unreached
from fieldsim.sim.motion import wrapped
from fieldsim.sim.plan import plan, typical_poses
from fieldsim.sim.trials import Driver
from fieldsim.studies import changes

__all__ = ["Rules", "Searched", "search"]

# The first steps of the search, mm and degrees (and mm/s, degrees/s for speeds); halved down to what is typed.
FIRST = {"mm": 16.0, "degrees": 4.0, "speed": 80.0, "turn_speed": 40.0}
# Times that a step is tried anew from where it led.
AGAIN = 3
# How many of the moves that help alone are tried together.
TOGETHER = 5
# Trials of the coarse search, of the fine one, and of a first look at a change of structure.
COARSE, FINE, LOOK = 600, 2000, 300
# A square, or a number that is changed, has to be worth so much of a success: what is worth less is luck, or no trouble
# worth typing it.
SQUARE_WORTH, NUMBER_WORTH = 0.006, 0.0015
# Squares that are set up after the first look, and rounds of putting one in.
TRIED, ROUNDS = 3, 2
# Segments before and after a square whose numbers are set up with it, before all of them are.
BEFORE, AFTER = 3, 6
# A wall or flat side may be this far from where a square is tried, mm, and the way to it this far from square, degrees.
NEAR, SQUARE_TO = 450.0, 12.0
SPARE = 60.0


@dataclass(frozen=True)
class Rules:
    """What may be changed."""

    step: Step = field(default_factory=Step)
    keep: frozenset[int] = frozenset()
    """Segments that stay as they are (indices of the run as written), -1 the start."""
    most: int | None = None
    """Changes, at most."""
    within: float | None = None
    """Seconds, at most, as planned."""
    speeds: bool = False
    structure: bool = True
    """Squares may be put in and taken out."""


@dataclass(frozen=True, eq=False)
class Searched:
    """What was found: the best draft, and its changes in the order in which each gives most."""

    best: Draft
    order: tuple[tuple[Edit, ...], ...]
    """Each with what belongs to it: a square and the longer straight that comes after it are one change."""
    looked: int
    """Runs that were driven,"""
    trials: int
    """and trials of all of them."""
    interrupted: bool


class _EnoughError(Exception):
    """Somebody wants what there is."""


class _Bench:
    """Drives drafts on the choosing draws, each once."""

    def __init__(
        self, run: Run, aim: Aim, rules: Rules, seed: int, threads: int | None, watch: Callable[[int], None]
    ) -> None:
        self.run, self.aim, self.rules, self.seed, self.watch = run, aim, rules, seed, watch
        self.pool = ThreadPoolExecutor(threads or os.cpu_count() or 1)
        self.looked = self.trials = 0
        self._known: dict[tuple[Any, int], float] = {}
        self._before: dict[int, float] = {}

    def made(self, draft: Draft, trials: int) -> Driven | None:
        """None for a run that cannot be driven as planned, or takes too long."""
        try:
            ready = plan(draft.run)
        except (FieldsimError, ValueError):
            return None
        if self.rules.within is not None and sum(ready.seconds) > self.rules.within:
            return None
        driver = Driver(ready, self.seed, clearances=self.aim.gaps)
        parts = [driver.block(CHOOSING + k, min(BLOCK, trials - k * BLOCK)) for k in range(-(-trials // BLOCK))]
        return driven(ready, parts, self.aim.gaps, self.aim.points or {})

    def value(self, draft: Draft, trials: int) -> float:
        made = self.made(draft, trials)
        return float("-inf") if made is None else self.aim.value(made, self.before(trials))

    def before(self, trials: int) -> float:
        """The share of the run as written; only asked for where it counts."""
        if not self.aim.gaps:
            return 0.0
        if trials not in self._before:
            made = self.made(draft_of(self.run), trials)
            self._before[trials] = 0.0 if made is None else made.share
        return self._before[trials]

    def values(self, drafts: Sequence[Draft], trials: int) -> list[float]:
        """How good each is; those that were driven before are known."""
        keys = [((draft.run.start, draft.run.segments), trials) for draft in drafts]
        new = {key: draft for key, draft in zip(keys, drafts, strict=True) if key not in self._known}
        waiting = {key: self.pool.submit(self.value, draft, trials) for key, draft in new.items()}
        try:
            for key, future in waiting.items():
                self._known[key] = future.result()
                self.looked += 1
                self.trials += trials
                self.watch(self.looked)
        except KeyboardInterrupt:
            raise _EnoughError from None
        finally:
            for future in waiting.values():
                future.cancel()
        return [self._known[key] for key in keys]

    def one(self, draft: Draft, trials: int) -> float:
        return self.values([draft], trials)[0]


def search(
    run: Run,
    aim: Aim,
    rules: Rules,
    *,
    seed: int = 1,
    threads: int | None = None,
    watch: Callable[[int], None] = lambda looked: None,
) -> Searched:
    """Look for a better run. ``watch`` is told how many runs were driven; a KeyboardInterrupt it raises, or that comes
    meanwhile, ends the search with the best so far."""
    bench = _Bench(run, aim, rules, seed, threads, watch)
    best = draft_of(run)
    order: tuple[tuple[Edit, ...], ...] = ()
    interrupted = False
    try:
        for better in _better(bench, best):
            best = better
        order, best = _in_order(bench, run, best)
    except _EnoughError:
        interrupted = True
        order = tuple(_grouped(edits(run, best)))
    finally:
        bench.pool.shutdown(cancel_futures=True)
    return Searched(best, order, bench.looked, bench.trials, interrupted)


def _better(bench: _Bench, draft: Draft) -> Iterator[Draft]:
    """Better and better drafts, the last one the best."""
    rules = bench.rules
    draft = _first(bench, draft)
    yield draft
    draft = yield from _numbers(bench, draft, FIRST, COARSE)
    if rules.structure:
        for _ in range(ROUNDS):
            before = draft
            draft = yield from _structure(bench, draft)
            if draft is before:
                break
    fine = {kind: size / 4 for kind, size in FIRST.items()}
    yield from _numbers(bench, draft, fine, FINE)


def _first(bench: _Bench, draft: Draft) -> Draft:
    """Where the search begins: the run as written, or with its known bias taken out, whichever does better."""
    if bench.rules.most is not None:
        return draft
    options = [draft]
    for change in changes.corrected(draft.run):
        made: Draft | None = draft
        for index, key, value in change.numbers:
            free = next((f for f in _free(bench, draft) if (f.where, f.key) == (index, key)), None)
            if free is None or made is None:
                continue
            made = made.with_value(free, round(round(value / free.size) * free.size, 3)) or made
        if made is not None and made is not draft:
            options.append(made)
    values = bench.values(options, COARSE)
    return options[values.index(max(values))]


def _free(bench: _Bench, draft: Draft) -> list[Free]:
    rules = bench.rules
    reaches = {
        origin
        for origin, segment in zip(draft.origins, draft.run.segments, strict=True)
        if origin is not None and isinstance(segment, Alignment)
    }
    return list(free_numbers(draft, rules.step, keep=rules.keep, speeds=rules.speeds, reaches=reaches))


# --- numbers -------------------------------------------------------------------------------------------------------


Way = tuple[tuple[Free, float], ...]
"""Numbers, and by how many steps each is moved."""


def _kind(free: Free) -> str:
    if free.key in ("speed", "turn_speed"):
        return free.key
    return "degrees" if free.key in ("angle", "heading") else "mm"


def _moved(draft: Draft, way: Way) -> Draft | None:
    for free, steps in way:
        made = draft.moved(free, steps)
        if made is None:
            return None
        draft = made
    return draft


def _ways(bench: _Bench, draft: Draft, sizes: dict[str, float], near: range | None = None) -> list[Way]:
    """Every free number, and each turn with the next one, by the sizes given (at least one step), both ways; ``near``
    are the segments that are asked about, None for all and the start."""
    free = [each for each in _free(bench, draft) if near is None or each.where in near]

    def steps(each: Free) -> float:
        return max(1.0, float(round(sizes[_kind(each)] / each.size)))

    ways: list[Way] = []
    for each in free:
        ways += [((each, steps(each)),), ((each, -steps(each)),)]
    turns = [each for each in free if each.key in ("angle", "heading")]
    for one, other in pairwise(turns):
        ways += [((one, steps(one)), (other, -steps(other))), ((one, -steps(one)), (other, steps(other)))]
    return ways


def _numbers(
    bench: _Bench,
    draft: Draft,
    sizes: dict[str, float],
    trials: int,
    levels: int | None = None,
    near: range | None = None,
) -> Generator[Draft, None, Draft]:
    """Better numbers, coarse to fine; what was found last is returned too."""
    now = bench.one(draft, trials)
    level = 0
    while levels is None or level < levels:
        for _ in range(AGAIN):
            ways = _allowed(bench, draft, _ways(bench, draft, sizes, near))
            tried = [(way, made) for way in ways if (made := _moved(draft, way)) is not None]
            values = bench.values([made for _, made in tried], trials)
            ranked = sorted(zip(values, tried, strict=True), key=lambda each: -each[0])
            if not ranked or ranked[0][0] <= now:
                break
            before = now
            now, (way, draft) = ranked[0][0], ranked[0][1]
            yield draft
            moved = list(way)
            for value, (other, _) in ranked[1 : 1 + TOGETHER]:
                if value <= before:
                    break
                made = _moved(draft, other) if not {f for f, _ in other} & {f for f, _ in moved} else None
                if made is None or not _few(bench, made):
                    continue
                both = bench.one(made, trials)
                if both > now:
                    now, draft = both, made
                    moved += other
                    yield draft
            # What led here is tried once more the same way.
            made = _moved(draft, tuple(moved))
            if made is not None and (further := bench.one(made, trials)) > now:
                now, draft = further, made
                yield draft
        level += 1
        finest = all(round(sizes[_kind(each)] / each.size) <= 1 for each in _free(bench, draft) if each.key != "reach")
        if finest:
            break
        sizes = {kind: size / 2 for kind, size in sizes.items()}
    return draft


def _few(bench: _Bench, draft: Draft) -> bool:
    return bench.rules.most is None or len(edits(bench.run, draft)) <= bench.rules.most


def _allowed(bench: _Bench, draft: Draft, ways: list[Way]) -> list[Way]:
    """Those that do not change more than may be changed."""
    if bench.rules.most is None:
        return ways
    return [way for way in ways if (made := _moved(draft, way)) is not None and _few(bench, made)]


# --- structure -----------------------------------------------------------------------------------------------------


def _structure(bench: _Bench, draft: Draft) -> Generator[Draft, None, Draft]:
    """The best square to put in, or to take out, if one is worth it; else the draft itself is returned."""
    now = bench.one(draft, COARSE)
    options = [made for made in (*_squares(bench, draft), *_taken(bench, draft)) if _few(bench, made)]
    looks = bench.values(options, LOOK)
    ranked = sorted(zip(looks, options, strict=True), key=lambda each: -each[0])
    found, best = draft, now
    for _, option in _apart(ranked)[:TRIED]:
        sizes = {kind: size / 2 for kind, size in FIRST.items()}
        tuned = list(_numbers(bench, option, sizes, COARSE, levels=3, near=_near(draft, option)))
        last = tuned[-1] if tuned else option
        value = bench.one(last, COARSE)
        worth = SQUARE_WORTH * _unit(bench)
        fewer = len(last.origins) < len(draft.origins)
        if value > best + (0.0 if fewer else worth):
            found, best = last, value
    if found is not draft:
        yield found
    return found


def _near(draft: Draft, option: Draft) -> range:
    """The segments around where an option differs: those that can make up for it."""
    pairs = zip(draft.origins, option.origins, strict=False)
    first = next((n for n, (a, b) in enumerate(pairs) if a != b), min(len(draft.origins), len(option.origins)))
    return range(first - BEFORE, first + AFTER)


def _unit(bench: _Bench) -> float:
    """What a success is worth in what is aimed at: a share itself, or so many mm, points, seconds."""
    points = bench.aim.points or {}
    return {"share": 1.0, "margin": 30.0, "time": 20.0}.get(bench.aim.word, max(1.0, sum(map(abs, points.values()))))


def _apart(ranked: list[tuple[float, Draft]]) -> list[tuple[float, Draft]]:
    """The best of each place: two that are put in at the same place are one idea."""
    found: list[tuple[float, Draft]] = []
    seen: set[tuple[int | None, ...]] = set()
    for value, draft in ranked:
        if draft.origins not in seen:
            seen.add(draft.origins)
            found.append((value, draft))
    return found


def _squares(bench: _Bench, draft: Draft) -> Iterator[Draft]:
    """Squares on walls, flat sides and lines that are near and nearly square to the robot after a move; from a wall it
    comes back to where it was."""
    run = draft.run
    poses = typical_poses(run)
    flat = sides(run, frozenset())
    for after in range(len(run.segments)):
        if after and not isinstance(run.segments[after - 1], Straight | Turn | Arc):
            continue
        if draft.origins[after] is not None and draft.origins[after] in bench.rules.keep and after == 0:
            continue
        x, y, h = poses[after]
        for side in flat:
            skew = wrapped(h - degrees(side.heading))
            if abs(skew) > SQUARE_TO:
                continue
            (ax, ay), (lx, ly) = side.away, side.along
            off = (x - side.at[0]) * ax + (y - side.at[1]) * ay
            way = (off - abs(side.x)) / cos(radians(skew))
            mx, my = x + side.x * cos(radians(h)), y + side.x * sin(radians(h))
            lane = (mx - side.at[0]) * lx + (my - side.at[1]) * ly
            if not 5.0 < way < NEAR or not -side.low < lane < side.length + side.low:
                continue
            square = Square(side.face, side.name, float(round(way + SPARE)))  # type: ignore[arg-type]
            back = float(round(way)) * (-1.0 if side.face == "front" else 1.0)
            yield from _if_caught(_pushed(bench, draft, after, square, back))
    for change in changes.line_squares(run, len(run.segments)):
        made = draft
        for index, key, value in change.numbers:
            free = Free(index, key, bench.rules.step.mm)
            made = made.with_value(free, value) or made
        for at, segments in sorted(change.inserted, reverse=True):
            made = made.put(at, segments)
        yield made


def _pushed(bench: _Bench, draft: Draft, at: int, square: Square, back: float) -> Draft:
    """With a square and the way back from it: where a straight that way comes next, that one is longer instead."""
    following = draft.run.segments[at]
    free = next((f for f in _free(bench, draft) if (f.where, f.key) == (at, "distance")), None)
    if free is not None and isinstance(following, Straight) and following.distance * back > 0:
        longer = draft.with_value(free, round(round((following.distance + back) / free.size) * free.size, 3))
        if longer is not None:
            return longer.put(at, (square,))
    return draft.put(at, (square, Straight(back)))


def _if_caught(made: Draft) -> Iterator[Draft]:
    try:
        if not list(unreached(made.run)):
            yield made
    except (FieldsimError, ValueError):
        return


def _taken(bench: _Bench, draft: Draft) -> Iterator[Draft]:
    """Without one of its squares: alone, with the straight that came back from it, or with that straight as long as it
    has to be to end where it did."""
    poses = typical_poses(draft.run)
    for index, segment in enumerate(draft.run.segments):
        if not isinstance(segment, Square | LineSquare) or draft.origins[index] in bench.rules.keep:
            continue
        alone = draft.without((index,))
        if alone is not None:
            yield alone
        after = index + 1
        following = draft.run.segments[after] if after < len(poses) - 1 else None
        if not isinstance(following, Straight) or draft.origins[after] in bench.rules.keep:
            continue
        both = draft.without((index, after))
        if both is not None:
            yield both
        free = next((f for f in _free(bench, draft) if (f.where, f.key) == (after, "distance")), None)
        x, y, h = poses[index]
        way = (poses[after + 1][0] - x) * cos(radians(h)) + (poses[after + 1][1] - y) * sin(radians(h))
        longer = None if free is None else draft.with_value(free, round(round(way / free.size) * free.size, 3))
        if longer is not None and (made := longer.without((index,))) is not None:
            yield made


# --- what each change is worth -------------------------------------------------------------------------------------


def _grouped(found: Sequence[Edit]) -> list[tuple[Edit, ...]]:
    """Changes with what belongs to them."""
    longer = {each.segment: each for each in found if each.key == "distance"}
    groups = [(each, longer[each.segment]) for each in found if each.key == "put in" and each.segment in longer]
    taken = {id(each) for group in groups for each in group}
    return [*groups, *((each,) for each in found if id(each) not in taken)]


def _all(groups: Sequence[tuple[Edit, ...]]) -> list[Edit]:
    return [each for group in groups for each in group]


def _in_order(bench: _Bench, run: Run, best: Draft) -> tuple[tuple[tuple[Edit, ...], ...], Draft]:
    """The changes in the order in which each gives most, without those that are not worth being typed; and the draft
    with what is left. A change that cannot be made without another comes after it."""
    left = _grouped(edits(run, best))
    worth = NUMBER_WORTH * _unit(bench)
    # Those that give nothing, all others made, go first.
    whole = bench.one(applied(run, _all(left)), FINE) if left else 0.0
    while left:
        without = [applied(run, _all([other for other in left if other is not each])) for each in left]
        values = bench.values(without, FINE)
        k = max(range(len(left)), key=values.__getitem__)
        if values[k] < whole - worth:
            break
        whole = values[k]
        del left[k]
    order: list[tuple[Edit, ...]] = []
    while left:
        values = bench.values([applied(run, _all([*order, each])) for each in left], COARSE)
        order.append(left.pop(max(range(len(left)), key=values.__getitem__)))
    return tuple(order), applied(run, _all(order))
