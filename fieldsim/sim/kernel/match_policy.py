"""The best next run for every state of a match and every time that may be left, by dynamic programming: c/match.h.

Times left are cells of a grid. What a try of a run comes to is told by its chances; the kind of its end leads to the
next state, whose values are known already, since states are done in an order in which each comes after those it leads
to. A try that takes a part of a cell more counts partly for both: values between the cells are on a straight line.
"""

from __future__ import annotations

from ctypes import byref
from typing import NamedTuple

from fieldsim.sim.kernel.library import (
    ARRAY,
    CHANCES,
    CHOICES,
    NUMBER,
    SIZE,
    PackedChances,
    PackedChoices,
    floats,
    function,
    ints,
    stretches,
    within,
)
from fieldsim.sim.kernel.shapes import Floats, Ints

# What is chosen where it is best to do nothing more, and where nothing is to be had or lost by anything.
STOP, ALIKE = -1, -2


class Chances(NamedTuple):
    """C classes of runs after which every change takes the same, 2 for a robot that is in or out, R runs, J tries,
    A acts, E kinds of end, T cells of time, W cells at most that differ between the tries of one kind."""

    start: Ints
    """(C, 2, R, J) the first cell in which it can be started; T if it never can."""
    done: Floats
    """(C, 2, R, J, A, T) share of the tries in which each act is done within so many cells."""
    home: Floats
    """(C, 2, R, J, T) share that has ended inside the finish within so many."""
    first: Ints
    """(C, 2, R, J, E) fewest cells that it takes to each kind of end, at least 0."""
    last: Ints
    """(C, 2, R, J, E) one more than the most that count."""
    share: Floats
    """(C, 2, R, J, E, W) share of the tries that take ``first`` cells, one more, and so on."""


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
    """(B, E) the state after each kind of end; less than 0 for none."""
    before: Ints
    """(S,) the class of the run before."""
    out: Ints
    """(S,) 1 if the robot stands out."""


def best_choices(
    chances: Chances, choices: Choices, points: float, margin: float, first: int, count: int, value: Floats,
    chosen: Ints,
) -> None:  # fmt: skip
    """Fill ``value`` (S, T) and ``chosen`` (S, T) of some states: the choice with the highest mean, STOP or ALIKE. One
    that comes later must be better by ``margin``. ``points`` are for a robot that has to be fetched."""
    classes, sides, runs, tries, acts, times = chances.done.shape
    ends, cells = chances.share.shape[4:]
    states = len(value)
    many = len(choices.run)
    table = classes, sides, runs, tries
    if sides != 2 or not 0 <= first <= first + count <= states:
        raise ValueError(f"states {first} to {first + count} are not among {states}, or {sides} is not in and out")
    within(chances.start, 0, times + 1, "the first cell of a try")
    within(chances.first, 0, times + 1, "the fewest cells of an end")
    within(chances.last, 0, times + 1, "the most cells of an end")
    within(chances.last - chances.first, -times - 1, cells + 1, "how far the cells of an end differ")
    stretches(choices.first, many, "choices")
    within(choices.run, 0, runs, "the run of a choice")
    within(choices.attempt, 0, tries, "the try of a choice")
    within(choices.leads, -1, states, "the state after an end")
    within(choices.before, 0, classes, "the run before")
    all_of = PackedChances(
        ints(chances.start, *table), floats(chances.done, *table, acts, times), floats(chances.home, *table, times),
        ints(chances.first, *table, ends), ints(chances.last, *table, ends), floats(chances.share, *table, ends, cells),
        runs, tries, acts, ends, cells, times,
    )  # fmt: skip
    every = PackedChoices(
        ints(choices.first, states + 1), ints(choices.run, many), ints(choices.attempt, many),
        floats(choices.points, many, acts), floats(choices.finish, many), ints(choices.leads, many, ends),
        ints(choices.before, states), ints(choices.out, states),
    )  # fmt: skip
    call = function("best_choices", None, CHANCES, CHOICES, NUMBER, NUMBER, SIZE, SIZE, ARRAY, ARRAY)
    call(
        byref(all_of), byref(every), points, margin, first, count, floats(value, states, times),
        ints(chosen, states, times),
    )  # fmt: skip
