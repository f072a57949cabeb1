"""The run that drives on its own page: what the script ``driving.js`` is given, as plain numbers and words.

The script only shows: where the robot is at a time comes from here (poses at heads, and heads by the planned clock, as
the window plays them), and so does what went wrong. Lengths are in mm, angles in degrees, times in seconds.
"""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from fieldsim.language import tr, tr_many
from fieldsim.lettering import one_line, shorten
from fieldsim.model import Act
from fieldsim.model.bounds import NAME_LENGTH
from fieldsim.report.phrases import NAME_CELLS, failing_words, fixed, segment_words
from fieldsim.sim.clock import Clock
from fieldsim.sim.failures import Failure, failures
from fieldsim.sim.sample import PathSample
from fieldsim.sim.shapes import meet
from fieldsim.sim.ways import Way, trial_way, until_of, way_of
from fieldsim.studies.attempt import Tried

__all__ = ["SCRIPT", "driving"]

SCRIPT = Path(__file__).with_suffix(".js").read_text(encoding="utf-8")

# Seconds between two places of the clock that are told; the script goes evenly from one to the next.
STEP = 0.05


def driving(tried: Tried, sample: PathSample) -> str:
    """The planned run and the trials of a sample (the first of those that were kept), as JSON."""
    ready, first = tried.ready, tried.first
    run = ready.run
    found = [] if first is None else failures(first)
    causes: list[Failure] = []
    trials: list[dict[str, Any]] = []
    for n, joints in enumerate(sample.trials):
        assert first is not None
        failure = found[n]
        if failure is not None and failure not in causes:
            causes.append(failure)
        trials.append({
            "way": _nodes(trial_way(ready, joints)),
            "end": round(until_of(first, n, len(run.segments)), 4),
            "cause": -1 if failure is None else causes.index(failure),
            "at": _rounded(first.contact_at[n]) if first.contact_segment[n] else None,
            "words": "" if failure is None else _trial_words(tried, n, failure),
        })  # fmt: skip
    # Most often first, as the answer has them.
    many = [sum(trial["cause"] == number for trial in trials) for number in range(len(causes))]
    order = sorted(range(len(causes)), key=lambda number: -many[number])
    for trial in trials:
        trial["cause"] = order.index(trial["cause"]) if trial["cause"] >= 0 else -1
    causes = [causes[number] for number in order]
    clock = Clock(ready)
    times = np.arange(0.0, clock.seconds + STEP, STEP)
    made = {
        "size": list(run.field.size),
        "solids": [
            {
                "cores": [{"points": _rounded(core.points), "radius": round(core.radius, 1)} for core in solid.cores],
                "met": any(meet(part, solid) for part in ready.parts),
            }
            for solid in ready.solids
            if not solid.drop and solid.name not in _outside(run.field.walls is not None)
        ],
        "targets": [
            {"at": list(target.at), "within": target.within or 0.0, "name": shorten(target.name, NAME_CELLS)}
            for target in run.field.targets
            if any(isinstance(each, Act) and each.target == target.name for each in run.segments)
        ],
        "parts": [_rounded(part.points) for part in ready.parts],
        "step": STEP,
        "heads": [round(clock.head_at(float(t)), 4) for t in times],
        "seconds": round(clock.seconds, 2),
        "segments": [segment_words(tried.answer, g + 1) for g in range(len(run.segments))],
        "planned": _nodes(way_of(ready)),
        "trials": trials,
        "causes": [
            {
                "words": failing_words(each.why, shorten(each.what, NAME_LENGTH) if each.what else ""),
                "segment": each.segment,
                "many": sum(trial["cause"] == number for trial in trials),
            }
            for number, each in enumerate(causes)
        ],
        "words": _words(len(trials)),
    }
    return json.dumps(made, allow_nan=False, separators=(",", ":"))


def _trial_words(tried: Tried, n: int, failure: Failure) -> str:
    """'trial 3: misses flour lid, 31 mm off'."""
    what = failing_words(failure.why, shorten(failure.what, NAME_CELLS) if failure.what else "")
    if failure.why == "misses" and tried.first is not None:
        acts = [g + 1 for g, segment in enumerate(tried.ready.run.segments) if isinstance(segment, Act)]
        miss = float(tried.first.miss[n, acts.index(failure.segment)])
        return tr("trial {number}: {what}, {miss} mm off", number=n + 1, what=what, miss=fixed(miss, 0))
    return tr("trial {number}: {what}", number=n + 1, what=what)


def _outside(walled: bool) -> frozenset[str]:
    """Walls are the rim of the picture."""
    return frozenset(("near wall", "far wall", "left wall", "right wall")) if walled else frozenset()


def _nodes(way: Way) -> list[list[float]]:
    """Head, x, y and heading of each pose of a way, one after another."""
    rows = [
        [round(g + float(share), 4), *_rounded(pose)]
        for g, (poses, shares) in enumerate(zip(way.segments, way.shares, strict=True))
        for share, pose in zip(shares, poses, strict=True)
    ]
    return rows


def _rounded(values: NDArray[np.float64]) -> Any:
    return np.round(np.asarray(values, dtype=float), 1).tolist()


def _words(trials: int) -> dict[str, str]:
    """What the script says; in braces what it puts in."""
    return {
        "play": tr("Play"),
        "pause": tr("Pause"),
        "time": tr("Time"),
        "speed": tr("Speed"),
        "show": tr("Show"),
        "all": tr_many("the plan and {n} trial", "the plan and {n} trials", trials),
        "plan": tr("the plan alone"),
        "cause": tr("{what}: {value} of {n}", what="{what}", value="{value}", n=trials),
        "before": tr("Previous trial"),
        "after": tr("Next trial"),
        "now": tr("{time} s: {segment}", time="{time}", segment="{segment}"),
        "picture": one_line(tr("The robot on the field, driving.")),
    }
