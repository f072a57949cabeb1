"""The best next run for every state of a match and every second that may be left, by dynamic programming.

From a state with so much time left a run may be tried, or nothing more. Each of the run's samples says how long making
ready takes, when which act is done, when the try ends, and of which kind its end is; the kind leads to the next state,
whose value at the time that is then left is known already, since states are done in an order in which each comes after
those it leads to. Between the seconds of the grid values are taken on a straight line.
"""

from __future__ import annotations

from typing import NamedTuple

from fieldsim.sim.kernel.jit import jit
from fieldsim.sim.kernel.match import MEAN
from fieldsim.sim.kernel.shapes import Floats, Ints

HAIR = 1e-9

# What is chosen where it is best to do nothing more, and where nothing is to be had or lost by anything.
STOP, ALIKE = -1, -2


class Samples(NamedTuple):
    """R runs, J tries, K samples at most, A acts, C classes of runs after which every change takes the same."""

    many: Ints
    """(R, J) how many samples there are."""
    change: Floats
    """(C, R, J, K) seconds of the change to the run; class C - 1 is the start, where nothing is changed."""
    rescue: Floats
    """(R, J, K) seconds of fetching the robot before it, if it stands out."""
    seconds: Floats
    """(R, J, K)"""
    ends: Floats
    """(R, J, K, A) when each act that is in place ends; infinite if it is not."""
    kind: Ints
    """(R, J, K) of which kind its end is."""
    home: Ints
    """(R, J, K) 1 if it ends inside its finish."""


class Choices(NamedTuple):
    """What can be done in each state. S states, B choices in all, E ends."""

    first: Ints
    """(S + 1,) the choices of a state are ``first[s]`` to ``first[s + 1]``, those of the plan first."""
    run: Ints
    """(B,)"""
    attempt: Ints
    """(B,) which of its tries."""
    points: Floats
    """(B, A) what each act still scores."""
    finish: Floats
    """(B,) what its finish still scores."""
    leads: Ints
    """(B, E) the state after each kind of end."""
    before: Ints
    """(S,) the class of the run before."""
    out: Ints
    """(S,) 1 if the robot stands out."""


@jit
def worth(
    samples: Samples, choices: Choices, mean: Floats, rescue: Floats, points: float, step: float, value: Floats,
    state: int, choice: int, left: float,
) -> float:  # fmt: skip
    """What a choice brings on average with so many seconds left; less than nothing if it cannot start in time."""
    run, attempt = choices.run[choice], choices.attempt[choice]
    before = choices.before[state]
    expected = mean[before, run]
    if choices.out[state] != 0:
        expected += rescue[MEAN]
    if expected >= left - HAIR:
        return -1e300
    total = 0.0
    many = samples.many[run, attempt]
    for k in range(many):
        now = left - samples.change[before, run, attempt, k]
        if choices.out[state] != 0:
            now -= samples.rescue[run, attempt, k]
            total += points
        if now <= HAIR:
            continue
        for act in range(samples.ends.shape[3]):
            if samples.ends[run, attempt, k, act] <= now + HAIR:
                total += choices.points[choice, act]
        now -= samples.seconds[run, attempt, k]
        if now < -HAIR:
            continue
        if samples.home[run, attempt, k] != 0:
            total += choices.finish[choice]
        after = choices.leads[choice, samples.kind[run, attempt, k]]
        if after >= 0:
            place = max(now, 0.0) / step
            cell = min(int(place + HAIR), value.shape[1] - 1)
            part = max(0.0, place - cell)
            there = value[after, cell]
            if part > HAIR and cell + 1 < value.shape[1]:
                there += part * (value[after, cell + 1] - there)
            total += there
    mean_points: float = total / many
    return mean_points


@jit
def best_choices(
    samples: Samples, choices: Choices, mean: Floats, rescue: Floats, points: float, step: float, margin: float,
    first: int, count: int, value: Floats, chosen: Ints,
) -> None:  # fmt: skip
    """Fill ``value`` (S, T) and ``chosen`` (S, T) of some states: the choice with the highest mean, STOP or ALIKE. One
    that comes later must be better by ``margin``."""
    for state in range(first, first + count):
        for cell in range(value.shape[1]):
            left = cell * step
            told = 0.0
            pick = STOP if choices.first[state] < choices.first[state + 1] else ALIKE
            for choice in range(choices.first[state], choices.first[state + 1]):
                brings = worth(samples, choices, mean, rescue, points, step, value, state, choice, left)
                if brings == 0.0 and pick == STOP:
                    pick = ALIKE
                elif brings > told + margin or (pick < 0 and brings > 0.0):
                    pick, told = choice, brings
            value[state, cell] = told
            chosen[state, cell] = pick
