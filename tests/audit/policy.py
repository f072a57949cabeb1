"""The best policy of a match against trying everything: a slow twin that shares no code with it
(`tests/match/test_match_policy.py`), on random matches in which everything takes whole seconds."""

from __future__ import annotations

import sys
from pathlib import Path

import numpy as np

sys.path.append(str(Path(__file__).parents[1] / "match"))

from test_match_policy import all_that_can_be_had, whole_bank  # type: ignore[import-not-found]

from fieldsim.match.policy import best_policy


def largest_difference(matches: int, first: int = 0) -> tuple[float, int]:
    """By how many points the policy's promise is off, at most, and in how many matches one was made."""
    worst, made = 0.0, 0
    for seed in range(first, first + matches):
        rng = np.random.default_rng(seed)
        runs = int(rng.integers(1, 4))
        bank = whole_bank(rng, int(rng.integers(1, 4)), runs)
        policy = best_policy(bank, tuple(range(runs)), threads=1, margin=0.0)
        if policy is None:
            continue
        made += 1
        brought = float(policy.value[policy.states[policy.start], -1])
        worst = max(worst, abs(brought - all_that_can_be_had(bank)))
    return worst, made


def table(short: bool = False) -> str:
    worst, made = largest_difference(60 if short else 1000)
    return f"| random matches | largest difference, points |\n|---|---|\n| {made} | {worst:.1e} |"
