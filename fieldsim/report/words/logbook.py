"""The answer of ``fieldsim log`` in words and as JSON."""

from __future__ import annotations

from collections.abc import Iterator
from math import exp, inf, log

from fieldsim.language import in_digits, tr, tr_later, tr_many
from fieldsim.lettering import shorten
from fieldsim.logbook.answer import (
    LEAST_POINTING,
    LEAST_SCORED,
    LEVEL,
    Alternative,
    Explained,
    Fits,
    Judged,
    LogAnswer,
    MissLog,
    RunLog,
    Score,
    Scores,
    TimeLog,
    WentWrong,
)
from fieldsim.report.phrases import NAME_CELLS, fixed, rounded_down, rounded_up
from fieldsim.report.statement import Part, Section, Statement, Table, rows, statement_text
from fieldsim.stats.intervals import Share

TITLE_CELLS = 40
NARROWEST = 40

# Told of each run and of all: ways to fail, and assumptions.
WRONG_SHOWN = 8
ALTERNATIVES_SHOWN = 6
RIVALS_SHOWN = 3
FEW_SHOWN = 3
# A way to fail that never happened is told if at least this share was forecast.
WORTH_TELLING = 0.01

# What is believed of a spread: twice and half of it.
_SPREADS = {
    "start": (
        tr_later("placing at the start spreading twice as much"),
        tr_later("placing at the start spreading half as much"),
    ),
    "straight": (
        tr_later("the length of straights spreading twice as much"),
        tr_later("the length of straights spreading half as much"),
    ),
    "veer": (
        tr_later("the veer on straights spreading twice as much"),
        tr_later("the veer on straights spreading half as much"),
    ),
    "turn": (tr_later("turns spreading twice as much"), tr_later("turns spreading half as much")),
    "day": (
        tr_later("changes from day to day spreading twice as much"),
        tr_later("changes from day to day spreading half as much"),
    ),
    "square": (
        tr_later("what a square leaves over spreading twice as much"),
        tr_later("what a square leaves over spreading half as much"),
    ),
    "gyro": (tr_later("the gyro spreading twice as much"), tr_later("the gyro spreading half as much")),
}
# Of a shift: more and less of it, and what it is told in.
_SHIFTS = {
    "distance": (tr_later("straights {size} % longer"), tr_later("straights {size} % shorter"), 100.0),
    "veer": (
        tr_later("veer {size} degrees per metre more to the left"),
        tr_later("veer {size} degrees per metre more to the right"),
        1.0,
    ),
    "turn": (tr_later("turns going {size} % farther"), tr_later("turns going {size} % less far"), 100.0),
    "along": (tr_later("the start {size} mm farther forwards"), tr_later("the start {size} mm farther back"), 1.0),
    "across": (tr_later("the start {size} mm farther left"), tr_later("the start {size} mm farther right"), 1.0),
    "heading": (
        tr_later("the start turned {size} degrees more to the left"),
        tr_later("the start turned {size} degrees more to the right"),
        1.0,
    ),
}
# The same for one degree.
_ONE = {
    "veer": (
        tr_later("veer 1 degree per metre more to the left"),
        tr_later("veer 1 degree per metre more to the right"),
    ),
    "heading": (
        tr_later("the start turned 1 degree more to the left"),
        tr_later("the start turned 1 degree more to the right"),
    ),
}
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
# Results as a log writes them, and how they are told.
_RESULTS = {
    "touched": (tr_later("touched {where}"), tr_later("touched, not said where")),
    "missed": (tr_later("missed {where}"), tr_later("missed, not said where")),
    "stopped": (tr_later("stopped {where}"), tr_later("stopped, not said where")),
}


def logbook_text(answer: LogAnswer, width: int = 100) -> str:
    """The whole answer as text, ending in a line end. ``width`` in terminal cells; below 40 it is taken as 40."""
    return statement_text(logbook_statement(answer), max(width, NARROWEST))


def logbook_statement(answer: LogAnswer) -> Statement:
    """The answer as a statement."""
    found = [_run_section(run, alone=len(answer.runs) == 1) for run in answer.runs]
    if answer.drives:
        found.append(Section(tr("What the log points at"), tuple(_pointed(answer))))
    if answer.scores is not None and answer.drives >= LEAST_SCORED:
        found.append(Section(tr("Scores of the forecasts: 0 is best"), tuple(_scored(answer, answer.scores))))
    closing = (tr("A few drives prove little: it is the interval that says how little."),)
    return Statement(
        name=tr("The log against the forecast"),
        title=tr("The log against the forecast"),
        about=(about_words(answer),),
        headline=headline(answer),
        further=tuple(_meanings(answer)),
        sections=tuple(found),
        advice=tuple(_advice(answer)),
        closing=closing if answer.drives >= LEAST_POINTING else (),
    )


def about_words(answer: LogAnswer) -> str:
    return tr_many(
        "{drives}; {n} trial of each forecast, seed {seed}",
        "{drives}; {n} trials of each forecast, seed {seed}",
        answer.trials,
        drives=_drives(answer),
        seed=answer.seed,
    )


def _drives(answer: LogAnswer) -> str:
    drives = tr_many("{n} drive", "{n} drives", answer.drives)
    if answer.days and not answer.undated:
        return tr_many("{drives} on {n} day", "{drives} on {n} days", answer.days, drives=drives)
    return drives


def _meanings(answer: LogAnswer) -> Iterator[str]:
    """What the words mean, and what holds for all of the answer."""
    if answer.together is None:
        return
    if answer.drives >= LEAST_POINTING:
        yield tr(
            "A drive is a run at the table, a trial is a simulated one. 'Between' is where the true share is in 19 of "
            "20 cases, if every drive is for itself."
        )
    if answer.undated > 1:
        yield tr(
            "{n} drives have no date. They are taken to be of one day, which is the careful side.", n=answer.undated
        )
    if len(answer.runs) > 1:
        yield tr("All runs together: {sure}", sure=_sure(answer.together))
    if len(answer.runs) > 2:
        yield tr(
            "Luck alone makes up to 50 of 1000 honest runs look wrong. Here are {n} runs: one odd verdict among them "
            "is no great surprise.",
            n=len(answer.runs),
        )


# --- the verdict ---------------------------------------------------------------------------------------------------


def headline(answer: LogAnswer) -> str:
    """The one sentence: 'Too hopeful: forecast 825 in 1000 (between 817 and 833), at the table 6 of 14 (between 213 and
    675 in 1000).' 'Between' are the forecast's trials, or what the robot's tests leave open of it."""
    if answer.together is None:
        return tr("The log has no drives yet.")
    return _verdict(answer.together)


_AS_WRITTEN = ("too hopeful as written", "too gloomy as written")
_VERDICTS = {
    "too hopeful": tr_later("Too hopeful: forecast {forecast}, at the table {table}."),
    "too gloomy": tr_later("Too gloomy: forecast {forecast}, at the table {table}."),
    "too hopeful as written": tr_later(
        "The robot as written is too hopeful, but its few tests allow this too: forecast {forecast}, at the table "
        "{table}."
    ),
    "too gloomy as written": tr_later(
        "The robot as written is too gloomy, but its few tests allow this too: forecast {forecast}, at the table "
        "{table}."
    ),
    "honest": tr_later("Honest: forecast {forecast}, at the table {table}."),
    "too few to say": tr_later("Too few to say: forecast {forecast}, at the table {table}."),
}


def _verdict(judged: Judged) -> str:
    forecast, fits = judged.forecast, judged.fits
    often = _forecast(forecast.share)
    # Of the ends of the trials and of what the tests leave open those count that are farther out.
    if fits is None:
        told = tr("{often} ({between})", often=often, between=_between(forecast))
    else:
        wide = Share(forecast.share, min(forecast.low, fits.low), max(forecast.high, fits.high))
        told = tr("{often} ({between} by its {tests})", often=often, between=_between(wide), tests=_tests(fits))
    table = tr(
        "{through} of {drives} ({between} in 1000)",
        through=judged.through,
        drives=judged.drives,
        between=_between(judged.observed),
    )
    return tr(_VERDICTS[judged.verdict], forecast=told, table=table)


def _tests(fits: Fits) -> str:
    return tr_many("{n} test", "{n} tests", fits.tests)


def _usual(judged: Judged) -> str:
    """How many drives might have got through without any surprise."""
    many = _from_to(judged.fewest, judged.most)
    if judged.fits is None:
        return tr_many(
            "By the forecast {many} of {n} drive get through, days and luck counted.",
            "By the forecast {many} of {n} drives get through, days and luck counted.",
            judged.drives,
            many=many,
        )
    return tr_many(
        "The robot as written gets through {many} of {n} time, days and luck counted; robots that fit its {tests}, "
        "{open}.",
        "The robot as written gets through {many} of {n} times, days and luck counted; robots that fit its {tests}, "
        "{open}.",
        judged.drives,
        many=many,
        tests=_tests(judged.fits),
        open=_from_to(judged.fits.fewest, judged.fits.most),
    )


def _from_to(low: int, high: int) -> str:
    return str(low) if low == high else tr("{low} to {high}", low=low, high=high)


def _forecast(share: float) -> str:
    if share < 0.0005:
        return tr("less than 1 in 1000")
    if share > 0.9995:
        return tr("more than 999 in 1000")
    return tr("{share} in 1000", share=round(share * 1000))


def _between(share: Share) -> str:
    return tr("between {low} and {high}", low=rounded_down(share.low * 1000), high=rounded_up(share.high * 1000))


def _chance(p_value: float) -> str:
    if p_value < 0.001:
        return tr("less than 1 of 1000 logs")
    return tr("about {n} of 1000 logs", n=round(p_value * 1000))


def _sure(judged: Judged) -> str:
    """How sure the verdict is."""
    if judged.verdict == "honest":
        return tr(
            "nothing speaks against the forecast. If it were wrong by 200 in 1000, this log would probably have shown "
            "it."
        )
    if judged.verdict in _AS_WRITTEN and judged.fits is not None:
        return tr(
            "if the robot were just as its file says, luck would make a log look at least so wrong in {chance}. But "
            "robots that fit its {tests} do as much in {fits}: so nothing else need be wrong. The robot is not known "
            "well enough.",
            chance=_chance(judged.p_value),
            tests=_tests(judged.fits),
            fits=_chance(judged.fits.p_value),
        )
    if judged.verdict == "too few to say":
        if judged.needed is None:
            return tr(
                "nothing speaks against the forecast, but the log is too short to say more. If the forecast were "
                "wrong by 200 in 1000, far more drives, or more days, would be needed."
            )
        return tr(
            "nothing speaks against the forecast, but the log is too short to say more. If the forecast were wrong by "
            "200 in 1000, a log of about {n} drives would show it, with as many drives a day as up to now.",
            n=judged.needed,
        )
    return tr(
        "if the forecast were right, luck would make a log look at least so wrong in {chance}.",
        chance=_chance(judged.p_value),
    )


# --- a run ---------------------------------------------------------------------------------------------------------


def _run_section(run: RunLog, alone: bool) -> Section:
    name, robot, field = (shorten(text, TITLE_CELLS) for text in (run.run, run.robot, run.field))
    title = tr("{run}: {robot} on {field}", run=name, robot=robot, field=field)
    return Section(title, tuple(_run_parts(run, alone)))


def _run_parts(run: RunLog, alone: bool) -> Iterator[Part]:
    if not alone:
        # A single run's verdict is the headline.
        yield _verdict(run.judged)
    sure = _sure(run.judged)
    usual = f" {_usual(run.judged)}" if run.judged.drives >= LEAST_SCORED else ""
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
    somewhere, nowhere = _RESULTS[each.result]
    return tr(somewhere, where=shorten(each.where, NAME_CELLS)) if each.where else tr(nowhere)


def _wrong_row(each: WentWrong, drives: int) -> tuple[str, str, str]:
    forecast = "" if each.forecast is None else _forecast(each.forecast.share)
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
    parts.append(tr(_MISSES[miss.verdict], chance=_chance(miss.p_value), needed=miss.needed))
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


# --- what it points at ---------------------------------------------------------------------------------------------


def alternative_words(each: Alternative) -> str:
    """'turns going 1 % farther', 'the veer on straights spreading twice as much'; all 'than believed'."""
    if each.change in ("double", "half"):
        return tr(_SPREADS[each.what][each.change == "half"])
    more, less, scale = _SHIFTS[each.what]
    size = f"{abs(each.step) * scale:.3g}"
    if size == "1" and each.what in _ONE:
        more, less = _ONE[each.what]
    return tr(more if each.step > 0 else less, size=in_digits(size))


def explained_words(explained: Explained) -> Iterator[str]:
    """How much the change explains, in short sentences."""
    yield tr_many(
        "{n} drive failed. Forecast were {written} with the robot as written; with this change {changed}.",
        "{n} drives failed. Forecast were {written} with the robot as written; with this change {changed}.",
        explained.failed,
        written=fixed(explained.as_written, 1),
        changed=fixed(explained.changed, 1),
    )
    if explained.enough:
        yield tr("That is enough to explain the failures.")
        return
    if explained.p_value < LEVEL:
        chance = _chance(explained.p_value)
        if explained.failed > explained.changed:
            yield tr(
                "That explains only part of it: too many failed even for that (luck does as much in {chance}). The "
                "change must be larger, or something else must be wrong as well.",
                chance=chance,
            )
        else:
            yield tr(
                "That explains only part of it: too few failed even for that (luck does as much in {chance}). The "
                "change must be larger, or something else must be wrong as well.",
                chance=chance,
            )
    for each in explained.left[:RIVALS_SHOWN]:
        yield tr_many(
            "Not explained: {run} {wrong} once; with this change {expected} would be forecast.",
            "Not explained: {run} {wrong} {n} times; with this change {expected} would be forecast.",
            each.counted,
            run=shorten(each.run, NAME_CELLS),
            wrong=tr(_RESULTS[each.result][0], where=shorten(each.where, NAME_CELLS)),
            expected=fixed(each.expected, 1),
        )
    if explained.p_value >= LEVEL:
        yield tr("Something else must be wrong as well.")


def _believed(each: Alternative) -> str:
    if each.change in ("double", "half"):
        return tr("{change} as believed", change=alternative_words(each))
    return tr("{change} than believed", change=alternative_words(each))


def times_words(each: Alternative) -> str:
    """'12 times likelier', '3 times less likely', 'no difference'."""
    size = exp(min(abs(each.gain), 50.0))
    if size < 1.05:
        return tr("no difference")
    many = _many(size)
    return tr("{many} times likelier", many=many) if each.gain > 0 else tr("{many} times less likely", many=many)


def _many(size: float) -> str:
    """Two figures are all that such a number is worth."""
    if size > 1_000_000:
        return tr("over a million")
    return f"{float(f'{size:.2g}'):.0f}" if size >= 9.95 else fixed(size, 1)


def _pointed(answer: LogAnswer) -> Iterator[Part]:
    if answer.together is None:
        yield tr("Nothing: there are no drives yet.")
        return
    if answer.bar == inf:
        # So few cannot tell one change from another.
        yield tr("Too few to say: with {n} drives or more it can be asked.", n=LEAST_POINTING)
        return
    if not answer.alternatives:
        yield tr("Nothing: no change of what is believed of the robot would make a difference.")
        return
    if answer.pointed:
        best, *rivals = answer.rivals
        yield tr("At {change}.", change=_believed(best))
        if rivals:
            others = "; ".join(alternative_words(each) for each in rivals[:RIVALS_SHOWN])
            more = len(rivals) - RIVALS_SHOWN
            if more > 0:
                others = tr("{others}; and {n} more", others=others, n=more)
            yield tr(
                "The log can hardly tell that from: {others}. Which of them it is, more tests can tell.",
                others=others,
            )
        if best.allowed:
            yield tr("The robot's few tests allow it too.")
        if answer.explained is not None:
            yield from explained_words(answer.explained)
    else:
        yield tr("At nothing yet: luck alone can make the best of so many changes look as good.")
    yield tr(
        "How this was found: one thing that is believed of the robot was changed at a time, and the runs were tried "
        "anew. The list says how much likelier each change makes this log. If the forecast is right, luck makes the "
        "best one up to {many} times likelier in 19 of 20 logs like this. Only more than that counts (*). Few sizes "
        "are tried: the true one may be in between or beyond.",
        many=_many(exp(min(answer.bar, 50.0))),
    )
    likelier = [each for each in answer.alternatives if each.pointed or each.gain > log(1.05)]
    told = rows(
        (
            ("* " if each.pointed else "  ") + alternative_words(each),
            times_words(each),
            _forecast(each.through),
        )
        for each in likelier[: ALTERNATIVES_SHOWN if answer.pointed else FEW_SHOWN]
    )
    if told:
        heads = tr("this log"), tr("gets through")
        yield Table((tr("change"), *heads), told, text_head=("", *heads))
    else:
        yield tr("No change makes it any likelier.")


# --- scores --------------------------------------------------------------------------------------------------------


def _score_row(name: str, score: Score) -> tuple[str, str, str]:
    honest = tr(
        "an honest one: {expected} ({low} to {high})",
        expected=fixed(score.expected, 3),
        low=fixed(score.low, 3),
        high=fixed(score.high, 3),
    )
    return name, fixed(score.value, 3), honest


def _scored(answer: LogAnswer, scores: Scores) -> Iterator[Part]:
    # What an honest forecast gets depends on what is open of the robot.
    if answer.together is not None and answer.together.fits is not None:
        yield tr("An honest forecast here is one of a robot that fits the tests, whichever that is.")
    yield Table(
        (tr("score"), tr("this log"), tr("an honest forecast")),
        rows([_score_row(tr("Brier score"), scores.brier), _score_row(tr("log score"), scores.log)]),
    )
    inside = all(score.low <= score.value <= score.high for score in (scores.brier, scores.log))
    if inside:
        yield tr("Both are what an honest forecast gets in 19 of 20 logs.")
    elif scores.brier.value > scores.brier.high or scores.log.value > scores.log.high:
        yield tr(
            "That is worse than an honest forecast gets in 19 of 20 logs: what happened was forecast as rare too often."
        )
    else:
        yield tr(
            "That is better than an honest forecast gets in 19 of 20 logs: it is less sure of itself than it could be."
        )
    if scores.z is not None and scores.p_value is not None:
        told = {"z": fixed(scores.z, 2), "chance": _chance(scores.p_value)}
        if scores.z >= 0:
            yield tr(
                "Spiegelhalter's z: {z}. So many standard deviations is the Brier score above what is expected, if "
                "every drive is for itself. An honest forecast is as far off in {chance} with days like these.",
                **told,
            )
        else:
            yield tr(
                "Spiegelhalter's z: {z}. So many standard deviations is the Brier score below what is expected, if "
                "every drive is for itself. An honest forecast is as far off in {chance} with days like these.",
                **told,
            )
    yield tr(
        "What they mean: a forecast of 0.8 is 0.2 off a drive that gets through, and 0.8 off one that does not. The "
        "Brier score is the mean square of that. The log score is hard on forecasts that are sure and wrong."
    )


# --- what next -----------------------------------------------------------------------------------------------------


def _advice(answer: LogAnswer) -> Iterator[str]:
    if answer.together is None:
        yield tr("Drive a run at the table, and write a row into the log for each drive: those that went well too.")
        return
    verdict = answer.together.verdict
    if answer.pointed:
        best = answer.pointed[0]
        yield tr(
            "Look at this assumption, {change}: {measure}, and let fit say what they tell.",
            change=_believed(best),
            measure=tr(_MEASURE[best.what]),
        )
    for run in answer.runs:
        yield from _run_advice(run, answer.explained)
    if answer.explained is not None and not answer.explained.enough:
        yield tr("That assumption is not all: check the field's file against the table, and what else may be wrong.")
    if verdict in _AS_WRITTEN:
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
            forecast=_forecast(worst.forecast.share),
            chance=_chance(worst.surprise),
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
