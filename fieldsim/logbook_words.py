"""The answer of ``fieldsim log`` in words and as JSON."""

from __future__ import annotations

from collections.abc import Iterator
from math import exp, inf, log
from typing import Any

from fieldsim import __version__
from fieldsim.answer import Share
from fieldsim.lettering import numbered, shorten, table, wrapped_lines
from fieldsim.logbook_answer import (
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
from fieldsim.phrases import NAME_CELLS, fixed, rounded_down, rounded_up

TITLE_CELLS = 40
NARROWEST = 40

# Told of each run and of all: ways to fail, and assumptions.
WRONG_SHOWN = 8
ALTERNATIVES_SHOWN = 6
RIVALS_SHOWN = 3
FEW_SHOWN = 3
# A way to fail that never happened is told if at least this share was forecast.
WORTH_TELLING = 0.01

_SPREADS = {
    "start": "placing at the start",
    "straight": "the length of straights",
    "veer": "the veer on straights",
    "turn": "turns",
    "day": "changes from day to day",
    "square": "what a square leaves over",
    "gyro": "the gyro",
}
_SHIFTS = {
    "distance": ("straights {} % longer", "straights {} % shorter", 100.0),
    "veer": (
        "veer {} degrees per metre more to the left",
        "veer {} degrees per metre more to the right",
        1.0,
    ),
    "turn": ("turns going {} % farther", "turns going {} % less far", 100.0),
    "along": ("the start {} mm farther forwards", "the start {} mm farther back", 1.0),
    "across": ("the start {} mm farther left", "the start {} mm farther right", 1.0),
    "heading": ("the start turned {} degrees more to the left", "the start turned {} degrees more to the right", 1.0),
}
_MEASURE = {
    "start": "set the robot down ten times and measure where it stands (placing tests)",
    "along": "set the robot down ten times and measure where it stands (placing tests)",
    "across": "set the robot down ten times and measure where it stands (placing tests)",
    "heading": "set the robot down ten times and measure which way it looks (placing tests)",
    "straight": "drive straights and measure how far they go (straight tests)",
    "distance": "drive straights and measure how far they go (straight tests)",
    "veer": "drive straights and measure how far beside the line they end (straight tests)",
    "turn": "drive turns and measure them (turn tests)",
    "day": "drive the same tests on another day",
    "square": "push the robot against the wall some times and measure how it stands",
    "gyro": "drive straights and turns by gyro and measure where they end",
}


def logbook_text(answer: LogAnswer, width: int = 100) -> str:
    """The whole answer as text, ending in a line end. ``width`` in terminal cells; below 40 it is taken as 40."""
    width = max(width, NARROWEST)
    lines = list(wrapped_lines(headline(answer), width))
    lines += wrapped_lines(f"{_drives(answer)}; {answer.trials} trials of each forecast, seed {answer.seed}", width)
    for words in _meanings(answer):
        lines += wrapped_lines(words, width)
    for run in answer.runs:
        lines += ["", *_run_lines(run, width, alone=len(answer.runs) == 1)]
    if answer.drives:
        lines += ["", "What the log points at", *_pointed_lines(answer, width)]
    if answer.scores is not None and answer.drives >= LEAST_SCORED:
        lines += ["", "Scores of the forecasts: 0 is best", *_score_lines(answer, width)]
    lines += ["", "What to look at next", *numbered(list(_advice(answer)), width)]
    if answer.drives >= LEAST_POINTING:
        lines += ["", *wrapped_lines("A few drives prove little: it is the interval that says how little.", width)]
    return "\n".join(line.rstrip() for line in lines) + "\n"


def _drives(answer: LogAnswer) -> str:
    drives = _count(answer.drives, "drive")
    return f"{drives} on {_count(answer.days, 'day')}" if answer.days and not answer.undated else drives


def _count(number: int, thing: str) -> str:
    return f"{number} {thing}{'' if number == 1 else 's'}"


def _meanings(answer: LogAnswer) -> Iterator[str]:
    """What the words mean, and what holds for all of the answer."""
    if answer.together is None:
        return
    if answer.drives >= LEAST_POINTING:
        yield (
            "A drive is a run at the table, a trial is a simulated one. 'Between' is where the true share is in 19 of "
            "20 cases, if every drive is for itself."
        )
    if answer.undated > 1:
        yield f"{answer.undated} drives have no date. They are taken to be of one day, which is the careful side."
    if len(answer.runs) > 1:
        yield f"All runs together: {_sure(answer.together)}"
    if len(answer.runs) > 2:
        yield (
            f"Luck alone makes up to 50 of 1000 honest runs look wrong. Here are {len(answer.runs)} runs: one odd "
            "verdict among them is no great surprise."
        )


# --- the verdict ---------------------------------------------------------------------------------------------------


def headline(answer: LogAnswer) -> str:
    """The one sentence: 'Too hopeful: forecast 825 in 1000 (between 817 and 833), at the table 6 of 14 (between 213 and
    675 in 1000).' 'Between' are the forecast's trials, or what the robot's tests leave open of it."""
    if answer.together is None:
        return "The log has no drives yet."
    return _verdict(answer.together)


_VERDICTS = {
    "too hopeful as written": "The robot as written is too hopeful, but its few tests allow this too",
    "too gloomy as written": "The robot as written is too gloomy, but its few tests allow this too",
}


def _verdict(judged: Judged) -> str:
    verdict, forecast, fits = _VERDICTS.get(judged.verdict, judged.verdict), judged.forecast, judged.fits
    # Of the ends of the trials and of what the tests leave open those count that are farther out.
    wide = Share(forecast.share, forecast.low, forecast.high)
    if fits is not None:
        wide = Share(forecast.share, min(forecast.low, fits.low), max(forecast.high, fits.high))
    told = f"{_forecast(forecast.share)} ({_between(wide)}{'' if fits is None else f' by its {_tests(fits)}'})"
    table = f"{judged.through} of {judged.drives} ({_between(judged.observed)} in 1000)"
    return f"{verdict[0].upper()}{verdict[1:]}: forecast {told}, at the table {table}."


def _tests(fits: Fits) -> str:
    return _count(fits.tests, "test")


def _usual(judged: Judged) -> str:
    """How many drives might have got through without any surprise."""
    many = _from_to(judged.fewest, judged.most)
    if judged.fits is None:
        return f"By the forecast {many} of {_count(judged.drives, 'drive')} get through, days and luck counted."
    open_to = _from_to(judged.fits.fewest, judged.fits.most)
    return (
        f"The robot as written gets through {many} of {_count(judged.drives, 'time')}, days and luck counted; robots "
        f"that fit its {_tests(judged.fits)}, {open_to}."
    )


def _from_to(low: int, high: int) -> str:
    return str(low) if low == high else f"{low} to {high}"


def _forecast(share: float) -> str:
    if share < 0.0005:
        return "less than 1 in 1000"
    if share > 0.9995:
        return "more than 999 in 1000"
    return f"{round(share * 1000)} in 1000"


def _between(share: Share) -> str:
    return f"between {rounded_down(share.low * 1000)} and {rounded_up(share.high * 1000)}"


def _chance(p_value: float) -> str:
    return "less than 1 of 1000 logs" if p_value < 0.001 else f"about {round(p_value * 1000)} of 1000 logs"


def _sure(judged: Judged) -> str:
    """How sure the verdict is."""
    if judged.verdict == "honest":
        return (
            "nothing speaks against the forecast. If it were wrong by 200 in 1000, this log would probably have shown "
            "it."
        )
    if judged.verdict in _VERDICTS and judged.fits is not None:
        return (
            "if the robot were just as its file says, luck would make a log look at least so wrong in "
            f"{_chance(judged.p_value)}. But robots that fit its {_tests(judged.fits)} do as much in "
            f"{_chance(judged.fits.p_value)}: so nothing else need be wrong. The robot is not known well enough."
        )
    if judged.verdict == "too few to say":
        many = (
            "far more drives, or more days, would be needed"
            if judged.needed is None
            else f"a log of about {judged.needed} drives would show it, with as many drives a day as up to now"
        )
        return (
            "nothing speaks against the forecast, but the log is too short to say more. If the forecast were wrong by "
            f"200 in 1000, {many}."
        )
    return f"if the forecast were right, luck would make a log look at least so wrong in {_chance(judged.p_value)}."


# --- a run ---------------------------------------------------------------------------------------------------------


def _run_lines(run: RunLog, width: int, alone: bool) -> Iterator[str]:
    name, robot, field = (shorten(text, TITLE_CELLS) for text in (run.run, run.robot, run.field))
    yield from wrapped_lines(f"{name}: {robot} on {field}", width)
    if not alone:
        # A single run's verdict is the headline.
        yield from wrapped_lines(_verdict(run.judged), width, "  ", "  ")
    sure = _sure(run.judged)
    usual = f" {_usual(run.judged)}" if run.judged.drives >= LEAST_SCORED else ""
    yield from wrapped_lines(f"{sure[0].upper()}{sure[1:]}{usual}", width, "  ", "  ")
    for note in run.notes:
        yield from wrapped_lines(note, width, "  ", "  ")
    # What a short log lacks says nothing.
    long = run.judged.drives >= LEAST_SCORED
    shown = [
        each
        for each in run.went_wrong
        if each.counted or (long and each.forecast and each.forecast.share >= WORTH_TELLING)
    ]
    if shown:
        yield "  Where it went wrong"
        rows = [("", "at the table", "forecast")] if width >= 80 else []
        rows += [_wrong_row(each, run.judged.drives, width) for each in shown[:WRONG_SHOWN]]
        yield from _further_in(table(rows, width - 2))
        if len(shown) > WRONG_SHOWN:
            yield f"    and {len(shown) - WRONG_SHOWN} more, none of them more often"
    if run.misses:
        yield from wrapped_lines("Misses: how far the tool was from the target", width, "  ", "  ")
        for miss in run.misses:
            yield from wrapped_lines(miss_words(miss), width, "    ", "      ")
    if run.time is not None:
        yield "  Time"
        yield from wrapped_lines(time_words(run.time), width, "    ", "      ")


def _further_in(lines: Iterator[str]) -> Iterator[str]:
    for line in lines:
        yield f"  {line}"


def wrong_words(each: WentWrong) -> str:
    """'touched milk churn', 'stopped, not said where'."""
    return f"{each.result} {shorten(each.where, NAME_CELLS)}" if each.where else f"{each.result}, not said where"


def _wrong_row(each: WentWrong, drives: int, width: int) -> tuple[str, str, str]:
    forecast = "" if each.forecast is None else _forecast(each.forecast.share)
    if width < 80:
        return wrong_words(each), f"{each.counted} of {drives}", f"forecast {forecast}" if forecast else ""
    return wrong_words(each), f"{each.counted} of {drives}", forecast


def miss_words(miss: MissLog) -> str:
    """One target's measured misses in short sentences."""
    target = shorten(miss.target, NAME_CELLS)
    times = "once" if miss.measured == 1 else f"{miss.measured} times"
    middle = "" if miss.measured == 1 else "the middle one "
    text = (
        f"{target}: measured {times}, {middle}{fixed(miss.median, 0)} mm. Forecast: the middle one "
        f"{fixed(miss.forecast_median, 0)} mm, 19 of 20 within {fixed(miss.forecast_p95, 0)} mm. "
    )
    if miss.by_ending:
        text += (
            "Not every drive that came there was measured. So hits are held against trials that hit, and misses "
            "against trials that missed. "
        )
    if miss.verdict == "too few to say":
        return f"{text}Too few to say: about {miss.needed} would do, with as many a day as up to now."
    if miss.verdict == "as forecast":
        return f"{text}That is as forecast."
    if miss.verdict in ("larger as written", "smaller as written"):
        word = miss.verdict.split()[0]
        return f"{text}They are {word} than forecast for the robot as written, but its few tests allow this too."
    return f"{text}They are {miss.verdict} than forecast: luck alone does as much in {_chance(miss.p_value)}."


def time_words(time: TimeLog) -> str:
    """The measured seconds in short sentences."""
    ends = "" if time.measured == 1 else f" on average ({fixed(time.least, 1)} to {fixed(time.most, 1)} s)"
    timed = "1 drive that got through was" if time.measured == 1 else f"{time.measured} drives that got through were"
    text = (
        f"{timed} timed: {fixed(time.mean, 1)} s{ends}. Forecast: {fixed(time.forecast, 1)} s on average, 19 of 20 "
        f"trials {fixed(time.forecast_low, 1)} to {fixed(time.forecast_high, 1)} s. "
    )
    if time.verdict == "too few to say":
        return f"{text}Too few to say whether the average is within 5 % of the forecast."
    if time.verdict == "as forecast":
        return f"{text}The average is within 5 % of the forecast."
    low, high = sorted((abs(time.off_low), abs(time.off_high)))
    return f"{text}The table is {time.verdict}, by {fixed(low, 1)} to {fixed(high, 1)} s on average."


# --- what it points at ---------------------------------------------------------------------------------------------


def alternative_words(each: Alternative) -> str:
    """'turns going 1 % farther', 'the veer on straights spreading twice as much'; all 'than believed'."""
    if each.change in ("double", "half"):
        return f"{_SPREADS[each.what]} spreading {'twice' if each.change == 'double' else 'half'} as much"
    more, less, scale = _SHIFTS[each.what]
    size = f"{abs(each.step) * scale:.3g}"
    words = (more if each.step > 0 else less).format(size)
    return words.replace("1 degrees", "1 degree") if size == "1" else words


def explained_words(explained: Explained) -> Iterator[str]:
    """How much the change explains, in short sentences."""
    drives = _count(explained.failed, "drive")
    yield (
        f"{drives} failed. Forecast were {fixed(explained.as_written, 1)} with the robot as written; with this change "
        f"{fixed(explained.changed, 1)}."
    )
    if explained.enough:
        yield "That is enough to explain the failures."
        return
    if explained.p_value < LEVEL:
        side = "too many" if explained.failed > explained.changed else "too few"
        yield (
            f"That explains only part of it: {side} failed even for that (luck does as much in "
            f"{_chance(explained.p_value)}). The change must be larger, or something else must be wrong as well."
        )
    for each in explained.left[:RIVALS_SHOWN]:
        where = shorten(each.where, NAME_CELLS)
        yield (
            f"Not explained: {shorten(each.run, NAME_CELLS)} {each.result} {where} {_times(each.counted)}; with this "
            f"change {fixed(each.expected, 1)} would be forecast."
        )
    if explained.p_value >= LEVEL:
        yield "Something else must be wrong as well."


def _times(number: int) -> str:
    return "once" if number == 1 else f"{number} times"


def _believed(each: Alternative) -> str:
    return f"{alternative_words(each)} {'as' if each.change in ('double', 'half') else 'than'} believed"


def times_words(each: Alternative) -> str:
    """'12 times likelier', '3 times less likely', 'no difference'."""
    size = exp(min(abs(each.gain), 50.0))
    if size < 1.05:
        return "no difference"
    return f"{_many(size)} times {'likelier' if each.gain > 0 else 'less likely'}"


def _many(size: float) -> str:
    """Two figures are all that such a number is worth."""
    if size > 1_000_000:
        return "over a million"
    return f"{float(f'{size:.2g}'):.0f}" if size >= 9.95 else f"{size:.1f}"


def _pointed_lines(answer: LogAnswer, width: int) -> Iterator[str]:
    def say(words: str) -> Iterator[str]:
        return wrapped_lines(words, width, "  ", "  ")

    if answer.together is None:
        yield from say("Nothing: there are no drives yet.")
        return
    if answer.bar == inf:
        # So few cannot tell one change from another.
        yield from say(f"Too few to say: with {LEAST_POINTING} drives or more it can be asked.")
        return
    if not answer.alternatives:
        yield from say("Nothing: no change of what is believed of the robot would make a difference.")
        return
    if answer.pointed:
        best, *rivals = answer.rivals
        yield from say(f"At {_believed(best)}.")
        if rivals:
            others = "; ".join(alternative_words(each) for each in rivals[:RIVALS_SHOWN])
            more = len(rivals) - RIVALS_SHOWN
            yield from say(
                f"The log can hardly tell that from: {others}{f'; and {more} more' if more > 0 else ''}. "
                "Which of them it is, more tests can tell."
            )
        if best.allowed:
            yield from say("The robot's few tests allow it too.")
        if answer.explained is not None:
            for words in explained_words(answer.explained):
                yield from say(words)
    else:
        yield from say("At nothing yet: luck alone can make the best of so many changes look as good.")
    yield from say(
        "How this was found: one thing that is believed of the robot was changed at a time, and the runs were tried "
        "anew. The list says how much likelier each change makes this log. If the forecast is right, luck makes the "
        f"best one up to {_many(exp(min(answer.bar, 50.0)))} times likelier in 19 of 20 logs like this. "
        "Only more than that counts (*). Few sizes are tried: the true one may be in between or beyond."
    )
    likelier = [each for each in answer.alternatives if each.pointed or each.gain > log(1.05)]
    rows = [("", "this log", "gets through")] if width >= 80 else []
    rows += [
        (
            ("* " if each.pointed else "  ") + alternative_words(each),
            times_words(each),
            ("" if width >= 80 else "gets through ") + _forecast(each.through),
        )
        for each in likelier[: ALTERNATIVES_SHOWN if answer.pointed else FEW_SHOWN]
    ]
    if likelier:
        yield from table(rows, width)
    else:
        yield from say("No change makes it any likelier.")


# --- scores --------------------------------------------------------------------------------------------------------


def _score_row(name: str, score: Score) -> tuple[str, str, str]:
    honest = f"an honest one: {fixed(score.expected, 3)} ({fixed(score.low, 3)} to {fixed(score.high, 3)})"
    return name, fixed(score.value, 3), honest


def _score_lines(answer: LogAnswer, width: int) -> Iterator[str]:
    scores = answer.scores
    if scores is None:
        return
    # What an honest forecast gets depends on what is open of the robot.
    if answer.together is not None and answer.together.fits is not None:
        words = "An honest forecast here is one of a robot that fits the tests, whichever that is."
        yield from wrapped_lines(words, width, "  ", "  ")
    yield from table([_score_row("Brier score", scores.brier), _score_row("log score", scores.log)], width)
    inside = all(score.low <= score.value <= score.high for score in (scores.brier, scores.log))
    if inside:
        words = "Both are what an honest forecast gets in 19 of 20 logs."
    elif scores.brier.value > scores.brier.high or scores.log.value > scores.log.high:
        words = (
            "That is worse than an honest forecast gets in 19 of 20 logs: what happened was forecast as rare too often."
        )
    else:
        words = (
            "That is better than an honest forecast gets in 19 of 20 logs: it is less sure of itself than it could be."
        )
    yield from wrapped_lines(words, width, "  ", "  ")
    if scores.z is not None and scores.p_value is not None:
        words = (
            f"Spiegelhalter's z: {fixed(scores.z, 2)}. So many standard deviations is the Brier score "
            f"{'above' if scores.z >= 0 else 'below'} what is expected, if every drive is for itself. An honest "
            f"forecast is as far off in {_chance(scores.p_value)} with days like these."
        )
        yield from wrapped_lines(words, width, "  ", "  ")
    words = (
        "What they mean: a forecast of 0.8 is 0.2 off a drive that gets through, and 0.8 off one that does not. The "
        "Brier score is the mean square of that. The log score is hard on forecasts that are sure and wrong."
    )
    yield from wrapped_lines(words, width, "  ", "  ")


# --- what next -----------------------------------------------------------------------------------------------------


def _advice(answer: LogAnswer) -> Iterator[str]:
    if answer.together is None:
        yield "Drive a run at the table, and write a row into the log for each drive: those that went well too."
        return
    verdict = answer.together.verdict
    if answer.pointed:
        best = answer.pointed[0]
        yield f"Look at this assumption, {_believed(best)}: {_MEASURE[best.what]}, and let fit say what they tell."
    for run in answer.runs:
        yield from _run_advice(run, answer.explained)
    if answer.explained is not None and not answer.explained.enough:
        yield "That assumption is not all: check the field's file against the table, and what else may be wrong."
    if verdict in _VERDICTS:
        yield (
            "Do more tests, and let fit read them together with the old ones: 'fieldsim fit TESTS ROBOT --plan RUN' "
            "says which tests tell most."
        )
    if verdict == "too few to say":
        needed = answer.together.needed
        many = "far more drives" if needed is None else f"about {max(needed - answer.together.drives, 1)} more drives"
        yield f"Go on with the log: {many} would tell. Write down every drive, those that go well too."
    if answer.undated:
        yield "Write the date of every drive: then drives of different days count for more."
    if answer.one_day:
        yield (
            "All drives are of one day, or may be. What differs from day to day hits all of them alike, so more drives "
            "of this day say little more. Drive on another day."
        )
    if verdict == "honest" and not answer.pointed:
        yield "Trust the forecast as far as it goes, and go on with the log when you change the robot or the run."
    if verdict == "too gloomy" and not answer.pointed:
        yield "The robot drives better than its file says: measure it anew, and let fit say what that tells."
    if verdict == "too hopeful" and not answer.pointed:
        why = "The drives are too few to say why" if answer.bar == inf else "No single assumption explains it"
        yield f"{why}: measure the robot anew, and check the field's file against the table."


def _run_advice(run: RunLog, explained: Explained | None) -> Iterator[str]:
    name = shorten(run.run, NAME_CELLS)
    known = [each for each in run.went_wrong if each.forecast is not None and each.counted]
    if explained is not None:
        # The rest is explained by what the log points at, and that is looked at first.
        left = {(each.run, each.result, each.where) for each in explained.left}
        known = [each for each in known if (run.run, each.result, each.where) in left]
    strange = [each for each in known if each.forecast is not None and each.forecast.share == 0.0]
    for each in strange[:2]:
        yield (
            f"{name}: it {wrong_words(each)}, and no trial does. Look whether that place in the field's file is the "
            "same as on the table, and whether something else went wrong."
        )
    # The greatest surprise, not what was counted most: 3 of 10 is nothing odd where 3 are forecast.
    worst = min(
        (each for each in known if each not in strange and each.surprise is not None),
        key=lambda each: each.surprise or 0.0,
        default=None,
    )
    if worst is not None and worst.forecast is not None and worst.surprise is not None and worst.surprise < LEVEL:
        yield (
            f"{name}: it {wrong_words(worst)} {worst.counted} of {_count(run.judged.drives, 'time')}, forecast "
            f"{_forecast(worst.forecast.share)}; luck does as much in {_chance(worst.surprise)}. Watch that place, and "
            "measure it against the field's file."
        )
    if run.time is not None and run.time.verdict in ("slower", "faster"):
        yield (
            f"{name} is {run.time.verdict} than forecast: look at the speeds and the acceleration in the robot's file, "
            "and at what the acts take."
        )


# --- JSON ----------------------------------------------------------------------------------------------------------


def logbook_json(answer: LogAnswer) -> dict[str, Any]:
    """The whole answer as plain dictionaries: shares 0 to 1, mm, seconds; null where there is nothing."""
    return {
        "command": "log",
        "version": __version__,
        "trials": answer.trials,
        "seed": answer.seed,
        "drives": answer.drives,
        "days": answer.days,
        "undated": answer.undated,
        "one_day": answer.one_day,
        "together": None if answer.together is None else _judged_json(answer.together),
        "runs": [_run_json(run) for run in answer.runs],
        "alternatives": [
            {
                "what": each.what,
                "change": each.change,
                "step": each.step,
                "gain": each.gain,
                "times": each.times,
                "success": each.through,
                "pointed": each.pointed,
                "allowed": each.allowed,
            }
            for each in answer.alternatives
        ],
        "bar": answer.bar if answer.bar < inf else None,
        "explained": None if answer.explained is None else _explained_json(answer.explained),
        "scores": None if answer.scores is None else _scores_json(answer.scores),
    }


def _share_json(share: Share) -> dict[str, float]:
    return {"share": share.share, "low": share.low, "high": share.high}


def _judged_json(judged: Judged) -> dict[str, Any]:
    return {
        "drives": judged.drives,
        "through": judged.through,
        "observed": _share_json(judged.observed),
        "forecast": _share_json(judged.forecast),
        "p_value": judged.p_value,
        "power": judged.power,
        "needed": judged.needed,
        "verdict": judged.verdict,
        "fewest": judged.fewest,
        "most": judged.most,
        "fits": None
        if judged.fits is None
        else {
            "tests": judged.fits.tests,
            "low": judged.fits.low,
            "high": judged.fits.high,
            "fewest": judged.fits.fewest,
            "most": judged.fits.most,
            "p_value": judged.fits.p_value,
        },
    }


def _explained_json(explained: Explained) -> dict[str, Any]:
    return {
        "failed": explained.failed,
        "as_written": explained.as_written,
        "changed": explained.changed,
        "p_value": explained.p_value,
        "enough": explained.enough,
        "left": [
            {
                "run": each.run,
                "result": each.result,
                "where": each.where,
                "counted": each.counted,
                "expected": each.expected,
            }
            for each in explained.left
        ],
    }


def _run_json(run: RunLog) -> dict[str, Any]:
    time = run.time
    return {
        "run": run.run,
        "field": run.field,
        "robot": run.robot,
        **_judged_json(run.judged),
        "went_wrong": [
            {
                "result": each.result,
                "where": each.where or None,
                "counted": each.counted,
                "forecast": None if each.forecast is None else _share_json(each.forecast),
                "surprise": each.surprise,
            }
            for each in run.went_wrong
        ],
        "misses": [
            {
                "target": miss.target,
                "measured": miss.measured,
                "median": miss.median,
                "forecast_median": miss.forecast_median,
                "forecast_p95": miss.forecast_p95,
                "place": miss.place,
                "p_value": miss.p_value,
                "needed": miss.needed,
                "by_ending": miss.by_ending,
                "verdict": miss.verdict,
                "p_fits": miss.p_fits,
            }
            for miss in run.misses
        ],
        "time": None
        if time is None
        else {
            "measured": time.measured,
            "mean": time.mean,
            "least": time.least,
            "most": time.most,
            "forecast": time.forecast,
            "forecast_low": time.forecast_low,
            "forecast_high": time.forecast_high,
            "off_low": time.off_low,
            "off_high": time.off_high,
            "verdict": time.verdict,
        },
        "notes": list(run.notes),
    }


def _score_json(score: Score) -> dict[str, float]:
    return {"value": score.value, "expected": score.expected, "low": score.low, "high": score.high}


def _scores_json(scores: Scores) -> dict[str, Any]:
    return {
        "brier": _score_json(scores.brier),
        "log": _score_json(scores.log),
        "z": scores.z,
        "p_value": scores.p_value,
    }
