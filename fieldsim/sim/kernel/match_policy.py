"""The best next run for every state of a match and every second that may be left, by dynamic programming: c/match.h.

From a state with so much time left a run may be tried, or nothing more. Each of the run's samples says how long making
ready takes, when which act is done, when the try ends, and of which kind its end is; the kind leads to the next state,
whose value at the time that is then left is known already, since states are done in an order in which each comes after
those it leads to. Between the seconds of the grid values are taken on a straight line.
"""

from __future__ import annotations

from ctypes import byref
from typing import NamedTuple

from fieldsim.sim.kernel.library import (
    ARRAY,
    CHOICES,
    NUMBER,
    SAMPLES,
    SIZE,
    PackedChoices,
    PackedSamples,
    floats,
    function,
    ints,
    stretches,
    within,
)
from fieldsim.sim.kernel.shapes import Floats, Ints

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


def best_choices(
    samples: Samples, choices: Choices, mean: Floats, rescue: Floats, points: float, step: float, margin: float,
    first: int, count: int, value: Floats, chosen: Ints,
) -> None:  # fmt: skip
    """Fill ``value`` (S, T) and ``chosen`` (S, T) of some states: the choice with the highest mean, STOP or ALIKE. One
    that comes later must be better by ``margin``. ``mean`` (C, R) is of the changes, ``rescue`` (3,) of a rescue."""
    classes, runs, tries, most = samples.change.shape
    acts = samples.ends.shape[3]
    states, times = value.shape
    many, ends = choices.leads.shape
    table = runs, tries, most
    if not 0 <= first <= first + count <= states or times < 1 or not step > 0.0:
        raise ValueError(f"states {first} to {first + count} are not among {states}, or a step of {step} is none")
    within(samples.many, 0, most + 1, "the number of samples")
    within(samples.kind, 0, ends, "the kind of an end")
    stretches(choices.first, many, "choices")
    within(choices.run, 0, runs, "the run of a choice")
    within(choices.attempt, 0, tries, "the try of a choice")
    within(choices.leads, -1, states, "the state after an end")
    within(choices.before, 0, classes, "the run before")
    all_of = PackedSamples(
        ints(samples.many, runs, tries), floats(samples.change, classes, *table), floats(samples.rescue, *table),
        floats(samples.seconds, *table), floats(samples.ends, *table, acts), ints(samples.kind, *table),
        ints(samples.home, *table), runs, tries, most, acts,
    )  # fmt: skip
    every = PackedChoices(
        ints(choices.first, states + 1), ints(choices.run, many), ints(choices.attempt, many),
        floats(choices.points, many, acts), floats(choices.finish, many), ints(choices.leads, many, ends),
        ints(choices.before, states), ints(choices.out, states), ends,
    )  # fmt: skip
    call = function(
        "best_choices", None, SAMPLES, CHOICES, ARRAY, ARRAY, NUMBER, NUMBER, NUMBER, SIZE, SIZE, SIZE, ARRAY, ARRAY
    )  # fmt: skip
    call(
        byref(all_of), byref(every), floats(mean, classes, runs), floats(rescue, 3), points, step, margin, first, count,
        times, floats(value, states, times), ints(chosen, states, times),
    )  # fmt: skip
