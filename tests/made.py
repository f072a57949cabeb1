"""Matches made up for tests: invented runs whose luck is written by hand, and a slow twin that plays them."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from math import inf

import numpy as np
from plans import open_floor, robot

from fieldsim.match.bank import TRIES, Bank, blank, rules_of
from fieldsim.model import Act, Attachment, Box, Run, Segment, StartArea, StartByEye, Straight, Target
from fieldsim.model.match import Changeover, Match, MatchPoints, MatchRun, Rescue

TARGETS = "abcdefgh"


@dataclass(frozen=True)
class Try:
    """One try: seconds until it ends, the seconds at which it hits targets, how it ends, drawn numbers by hand."""

    seconds: float
    hits: Mapping[str, float] = field(default_factory=dict)
    through: bool = True
    out: bool = False
    home: bool = False
    change: float = 0.0
    rescue: float = 0.0


def made_run(name: str, targets: str = "", wear: tuple[str, ...] = (), finish: bool = False, points: str = "") -> Run:
    """A run that acts at some targets, each of which scores ``points`` (10, 20, 30 and so on if left out)."""
    known = tuple(
        Target(each, (10.0 * n + 10.0, 10.0), 5.0, points=10.0 * (n + 1)) for n, each in enumerate(points or TARGETS)
    )
    area = StartArea("home", Box((200.0, 200.0), (400.0, 400.0)))
    floor = replace(open_floor(), targets=known, start_areas=(area,))
    tools = tuple(Attachment(each, ((90.0, -9.0), (99.0, -9.0), (99.0, 9.0))) for each in ("fork", "scoop"))
    segments: tuple[Segment, ...] = (Straight(100.0), *(Act(each, 1.0) for each in targets))
    driver = replace(robot(), attachments=tools)
    return Run(name, floor, driver, StartByEye((500.0, 500.0), 0.0), segments, wear, "home" if finish else None)


def made_match(
    runs: Sequence[Run], limit: float, needs: Mapping[str, tuple[str, ...]] | None = None, **rest: object
) -> Match:
    entries = tuple(MatchRun(run, (needs or {}).get(run.name, ())) for run in runs)
    given: dict[str, object] = {"changeover": Changeover(5.0), **rest}
    return Match("Made up", limit, entries, **given)  # type: ignore[arg-type]


def made_bank(match: Match, drawn: Sequence[Sequence[Sequence[Try]]]) -> Bank:
    """A bank with ``drawn[match][run][try]``; the last try of a run stands for all after it."""
    tables = blank(match, len(drawn))
    for m, runs in enumerate(drawn):
        for r, tries in enumerate(runs):
            acts = [s.target for s in match.runs[r].run.segments if isinstance(s, Act)]
            for j in range(TRIES[match.rerun]):
                each = tries[min(j, len(tries) - 1)]
                tables.seconds[m, r, j] = each.seconds
                tables.through[m, r, j], tables.out[m, r, j], tables.home[m, r, j] = each.through, each.out, each.home
                tables.change[m, r, j], tables.rescue[m, r, j] = each.change, each.rescue
                for a, target in enumerate(acts):
                    end = each.hits.get(target, inf)
                    tables.ends[m, r, j, a] = end
                    tables.begins[m, r, j, a] = end - 1.0 if end < inf else inf
                    tables.hit[m, r, j, a] = target in each.hits
    return Bank(match, rules_of(match), tables)


@dataclass
class Told:
    """What the slow twin says of one match."""

    score: float = 0.0
    clock: float = 0.0
    hit: set[str] = field(default_factory=set)
    through: set[str] = field(default_factory=set)
    tries: dict[str, int] = field(default_factory=dict)
    cut: set[str] = field(default_factory=set)
    fetched: int = 0


def slow_play(bank: Bank, m: int, order: Sequence[int]) -> Told:
    """One match in one order, written as a person would tell it; shares no code with the kernel."""
    match, drawn = bank.match, bank.drawn
    told = Told()
    home: set[str] = set()
    had_turn: set[str] = set()
    standing: tuple[int, int] | None = None
    for r in order:
        entry = match.runs[r]
        name = entry.name
        acts = [s.target for s in entry.run.segments if isinstance(s, Act)]
        ready = all(other in told.through for other in entry.needs)
        for j in range(TRIES[match.rerun] if ready else 0):
            if j > 0:
                worth = any(match.points_of(t) > 0 and t not in told.hit for t in acts)
                finish = match.points.finish > 0 and entry.run.finish is not None and name not in home
                asked = any(name in other.needs and other.name not in had_turn for other in match.runs)
                if not (worth or finish or asked):
                    break
            if standing is not None:
                before = match.runs[standing[0]].run
                change = match.changeover_between(before, entry.run)
                out = bool(drawn.out[m][standing])
                if told.clock + change.mean + (match.rescue.mean if out else 0) >= match.limit:
                    told.cut.add(name)
                    break
                if out:
                    told.score += match.rescue.points
                    told.fetched += 1
                    told.clock += max(
                        match.rescue.least, match.rescue.mean + match.rescue.sd * drawn.rescue[m][standing]
                    )
                    told.clock = min(told.clock, match.limit)
                told.clock += max(change.least, change.mean + change.sd * drawn.change[m, r, j])
            standing = (r, j)
            if told.clock >= match.limit:
                told.clock = match.limit
                told.cut.add(name)
                break
            told.tries[name] = told.tries.get(name, 0) + 1
            left = match.limit - told.clock
            for a, target in enumerate(acts):
                if drawn.hit[m, r, j, a] and drawn.ends[m, r, j, a] <= left and target not in told.hit:
                    told.hit.add(target)
                    told.score += match.points_of(target)
            if drawn.seconds[m, r, j] > left:
                told.clock = match.limit
                told.cut.add(name)
                break
            told.clock += drawn.seconds[m, r, j]
            if drawn.home[m, r, j] and name not in home:
                home.add(name)
                told.score += match.points.finish
            if drawn.through[m, r, j]:
                told.through.add(name)
                break
        had_turn.add(name)
    return told


def random_bank(rng: np.random.Generator, matches: int = 3, runs: int = 4) -> Bank:
    """A match of any shape with luck of any kind."""
    names = [f"run {n}" for n in range(runs)]
    few = TARGETS[:5]
    made = []
    for n in range(runs):
        targets = "".join(t for t in few if rng.random() < 0.35)
        wear = tuple(w for w in ("fork", "scoop") if rng.random() < 0.4)
        made.append(made_run(names[n], targets, wear, finish=rng.random() < 0.5, points=few))
    needs = {names[n]: tuple(names[k] for k in range(n) if rng.random() < 0.2) for n in range(runs)}
    match = made_match(
        made,
        float(rng.integers(5, 90)),
        needs,
        changeover=Changeover(float(rng.integers(0, 9)), float(rng.integers(0, 3))),
        rescue=Rescue(-float(rng.integers(0, 12)), float(rng.integers(0, 9)), float(rng.integers(0, 3))),
        rerun=str(rng.choice(list(TRIES))),
        points=MatchPoints(float(rng.choice([0.0, 7.0]))),
    )

    def one(run: Run) -> Try:
        seconds = float(rng.integers(1, 25))
        acts = [s.target for s in run.segments if isinstance(s, Act)]
        return Try(
            seconds,
            {t: float(rng.integers(1, int(seconds) + 1)) for t in acts if rng.random() < 0.6},
            through=bool(rng.random() < 0.5),
            out=bool(rng.random() < 0.5),
            home=run.finish is not None and bool(rng.random() < 0.5),
            change=float(rng.normal()),
            rescue=float(rng.normal()),
        )

    drawn = [[[one(run) for _ in range(TRIES[match.rerun])] for run in made] for _ in range(matches)]
    return made_bank(match, drawn)
