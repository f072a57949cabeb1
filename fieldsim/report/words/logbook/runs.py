"""One run's drives against its forecast: what went wrong, misses, times."""

from __future__ import annotations

from collections.abc import Iterator

from fieldsim.language import tr, tr_later, tr_many
from fieldsim.lettering import shorten
from fieldsim.logbook.answer import (
    LEAST_SCORED,
    MissLog,
    RunLog,
    TimeLog,
    WentWrong,
)
from fieldsim.report.phrases import NAME_CELLS, fixed
from fieldsim.report.statement import Part, Section, Table, rows
from fieldsim.report.words.logbook.verdict import chance_words, forecast_words, sure_words, usual_words, verdict_words

TITLE_CELLS = 40

# Told of each run and of all: ways to fail, and assumptions.
WRONG_SHOWN = 8
# A way to fail that never happened is told if at least this share was forecast.
WORTH_TELLING = 0.01
# Results as a log writes them, and how they are told.
RESULTS = {
    "touched": (tr_later("touched {where}"), tr_later("touched, not said where")),
    "missed": (tr_later("missed {where}"), tr_later("missed, not said where")),
    "stopped": (tr_later("stopped {where}"), tr_later("stopped, not said where")),
}


def run_section(run: RunLog, alone: bool) -> Section:
    name, robot, field = (shorten(text, TITLE_CELLS) for text in (run.run, run.robot, run.field))
    title = tr("{run}: {robot} on {field}", run=name, robot=robot, field=field)
    return Section(title, tuple(run_parts(run, alone)))


def run_parts(run: RunLog, alone: bool) -> Iterator[Part]:
    if not alone:
        # A single run's verdict is the headline.
        yield verdict_words(run.judged)
    sure = sure_words(run.judged)
    usual = f" {usual_words(run.judged)}" if run.judged.drives >= LEAST_SCORED else ""
    yield f"{sure[0].upper()}{sure[1:]}{usual}"
    yield from run.notes
    # What a short log lacks says nothing.
    long = run.judged.drives >= LEAST_SCORED
    shown = [
        each
        for each in run.went_wrong
        if each.counted or (long and each.forecast and each.forecast.share >= WORTH_TELLING)
    ]
    if shown:
        yield tr("Where it went wrong")
        heads = tr("at the table"), tr("forecast")
        told = rows(_wrong_row(each, run.judged.drives) for each in shown[:WRONG_SHOWN])
        yield Table((tr("what went wrong"), *heads), told, text_head=("", *heads))
        if len(shown) > WRONG_SHOWN:
            yield tr("and {n} more, none of them more often", n=len(shown) - WRONG_SHOWN)
    if run.misses:
        yield tr("Misses: how far the tool was from the target")
        yield from map(miss_words, run.misses)
    if run.time is not None:
        yield tr("Time: {time}", time=time_words(run.time))


def wrong_words(each: WentWrong) -> str:
    """'touched milk churn', 'stopped, not said where'."""
    somewhere, nowhere = RESULTS[each.result]
    return tr(somewhere, where=shorten(each.where, NAME_CELLS)) if each.where else tr(nowhere)


def _wrong_row(each: WentWrong, drives: int) -> tuple[str, str, str]:
    forecast = "" if each.forecast is None else forecast_words(each.forecast.share)
    return wrong_words(each), tr("{n} of {drives}", n=each.counted, drives=drives), forecast


_MISSES = {
    "larger": tr_later("They are larger than forecast: luck alone does as much in {chance}."),
    "smaller": tr_later("They are smaller than forecast: luck alone does as much in {chance}."),
    "larger as written": tr_later(
        "They are larger than forecast for the robot as written, but its few tests allow this too."
    ),
    "smaller as written": tr_later(
        "They are smaller than forecast for the robot as written, but its few tests allow this too."
    ),
    "as forecast": tr_later("That is as forecast."),
    "too few to say": tr_later("Too few to say: about {needed} would do, with as many a day as up to now."),
}


def miss_words(miss: MissLog) -> str:
    """One target's measured misses in short sentences."""
    told = tr_many(
        "{target}: measured once, {median} mm. Forecast: the middle one {middle} mm, 19 of 20 within {most} mm.",
        "{target}: measured {n} times, the middle one {median} mm. Forecast: the middle one {middle} mm, 19 of 20 "
        "within {most} mm.",
        miss.measured,
        target=shorten(miss.target, NAME_CELLS),
        median=fixed(miss.median, 0),
        middle=fixed(miss.forecast_median, 0),
        most=fixed(miss.forecast_p95, 0),
    )
    parts = [told]
    if miss.by_ending:
        parts.append(
            tr(
                "Not every drive that came there was measured. So hits are held against trials that hit, and misses "
                "against trials that missed."
            )
        )
    parts.append(tr(_MISSES[miss.verdict], chance=chance_words(miss.p_value), needed=miss.needed))
    return " ".join(parts)


def time_words(time: TimeLog) -> str:
    """The measured seconds in short sentences."""
    values = {
        "mean": fixed(time.mean, 1),
        "least": fixed(time.least, 1),
        "most": fixed(time.most, 1),
        "forecast": fixed(time.forecast, 1),
        "low": fixed(time.forecast_low, 1),
        "high": fixed(time.forecast_high, 1),
    }
    if time.measured == 1:
        text = tr(
            "1 drive that got through was timed: {mean} s. Forecast: {forecast} s on average, 19 of 20 trials {low} to "
            "{high} s.",
            **values,
        )
    else:
        text = tr(
            "{n} drives that got through were timed: {mean} s on average ({least} to {most} s). Forecast: {forecast} s "
            "on average, 19 of 20 trials {low} to {high} s.",
            n=time.measured,
            **values,
        )
    low, high = sorted((abs(time.off_low), abs(time.off_high)))
    by = {"low": fixed(low, 1), "high": fixed(high, 1)}
    if time.verdict == "too few to say":
        verdict = tr("Too few to say whether the average is within 5 % of the forecast.")
    elif time.verdict == "as forecast":
        verdict = tr("The average is within 5 % of the forecast.")
    elif time.verdict == "slower":
        verdict = tr("The table is slower, by {low} to {high} s on average.", **by)
    else:
        verdict = tr("The table is faster, by {low} to {high} s on average.", **by)
    return f"{text} {verdict}"
