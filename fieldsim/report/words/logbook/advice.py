"""What to do next, after a log."""

from __future__ import annotations

from collections.abc import Iterator
from math import inf

from fieldsim.language import tr, tr_later, tr_many
from fieldsim.lettering import shorten
from fieldsim.logbook.answer import (
    LEVEL,
    Explained,
    LogAnswer,
    RunLog,
)
from fieldsim.report.phrases import NAME_CELLS
from fieldsim.report.words.logbook.pointed import believed_words
from fieldsim.report.words.logbook.runs import wrong_words
from fieldsim.report.words.logbook.verdict import AS_WRITTEN, chance_words, forecast_words

_PLACING = tr_later("set the robot down ten times and measure where it stands (placing tests)")
_MEASURE = {
    "start": _PLACING,
    "along": _PLACING,
    "across": _PLACING,
    "heading": tr_later("set the robot down ten times and measure which way it looks (placing tests)"),
    "straight": tr_later("drive straights and measure how far they go (straight tests)"),
    "distance": tr_later("drive straights and measure how far they go (straight tests)"),
    "veer": tr_later("drive straights and measure how far beside the line they end (straight tests)"),
    "turn": tr_later("drive turns and measure them (turn tests)"),
    "day": tr_later("drive the same tests on another day"),
    "square": tr_later("push the robot against the wall some times and measure how it stands"),
    "gyro": tr_later("drive straights and turns by gyro and measure where they end"),
}


def log_advice(answer: LogAnswer) -> Iterator[str]:
    if answer.together is None:
        yield tr("Drive a run at the table, and write a row into the log for each drive: those that went well too.")
        return
    verdict = answer.together.verdict
    if answer.pointed:
        best = answer.pointed[0]
        yield tr(
            "Look at this assumption, {change}: {measure}, and let fit say what they tell.",
            change=believed_words(best),
            measure=tr(_MEASURE[best.what]),
        )
    for run in answer.runs:
        yield from _run_advice(run, answer.explained)
    if answer.explained is not None and not answer.explained.enough:
        yield tr("That assumption is not all: check the field's file against the table, and what else may be wrong.")
    if verdict in AS_WRITTEN:
        yield tr(
            "Do more tests, and let fit read them together with the old ones: 'fieldsim fit TESTS ROBOT --plan RUN' "
            "says which tests tell most."
        )
    if verdict == "too few to say":
        needed = answer.together.needed
        if needed is None:
            yield tr("Go on with the log: far more drives would tell. Write down every drive, those that go well too.")
        else:
            yield tr_many(
                "Go on with the log: about {n} more drive would tell. Write down every drive, those that go well too.",
                "Go on with the log: about {n} more drives would tell. Write down every drive, those that go well too.",
                max(needed - answer.together.drives, 1),
            )
    if answer.undated:
        yield tr("Write the date of every drive: then drives of different days count for more.")
    if answer.one_day:
        yield tr(
            "All drives are of one day, or may be. What differs from day to day hits all of them alike, so more drives "
            "of this day say little more. Drive on another day."
        )
    if verdict == "nothing against it":
        needed = answer.together.needed
        if needed is not None and needed > answer.together.drives:
            yield tr(
                "Trust the forecast roughly, and go on with the log: with about {n} drives it would also show an error "
                "of 200 in 1000.",
                n=needed,
            )
        else:
            yield tr("Trust the forecast roughly, and go on with the log: more days tell more.")
    if verdict == "honest" and not answer.pointed:
        yield tr("Trust the forecast as far as it goes, and go on with the log when you change the robot or the run.")
    if verdict == "too gloomy" and not answer.pointed:
        yield tr("The robot drives better than its file says: measure it anew, and let fit say what that tells.")
    if verdict == "too hopeful" and not answer.pointed:
        if answer.bar == inf:
            yield tr(
                "The drives are too few to say why: measure the robot anew, and check the field's file against the "
                "table."
            )
        else:
            yield tr(
                "No single assumption explains it: measure the robot anew, and check the field's file against the "
                "table."
            )


def _run_advice(run: RunLog, explained: Explained | None) -> Iterator[str]:
    name = shorten(run.run, NAME_CELLS)
    known = [each for each in run.went_wrong if each.forecast is not None and each.counted]
    if explained is not None:
        # The rest is explained by what the log points at, and that is looked at first.
        left = {(each.run, each.result, each.where) for each in explained.left}
        known = [each for each in known if (run.run, each.result, each.where) in left]
    strange = [each for each in known if each.forecast is not None and each.forecast.share == 0.0]
    for each in strange[:2]:
        yield tr(
            "{run}: it {wrong}, and no trial does. Look whether that place in the field's file is the same as on the "
            "table, and whether something else went wrong.",
            run=name,
            wrong=wrong_words(each),
        )
    # The greatest surprise, not what was counted most: 3 of 10 is nothing odd where 3 are forecast.
    worst = min(
        (each for each in known if each not in strange and each.surprise is not None),
        key=lambda each: each.surprise or 0.0,
        default=None,
    )
    if worst is not None and worst.forecast is not None and worst.surprise is not None and worst.surprise < LEVEL:
        yield tr_many(
            "{run}: it {wrong} {counted} of {n} time, forecast {forecast}; luck does as much in {chance}. Watch that "
            "place, and measure it against the field's file.",
            "{run}: it {wrong} {counted} of {n} times, forecast {forecast}; luck does as much in {chance}. Watch that "
            "place, and measure it against the field's file.",
            run.judged.drives,
            run=name,
            wrong=wrong_words(worst),
            counted=worst.counted,
            forecast=forecast_words(worst.forecast.share),
            chance=chance_words(worst.surprise),
        )
    if run.time is not None and run.time.verdict == "slower":
        yield tr(
            "{run} is slower than forecast: look at the speeds and the acceleration in the robot's file, and at what "
            "the acts take.",
            run=name,
        )
    if run.time is not None and run.time.verdict == "faster":
        yield tr(
            "{run} is faster than forecast: look at the speeds and the acceleration in the robot's file, and at what "
            "the acts take.",
            run=name,
        )
