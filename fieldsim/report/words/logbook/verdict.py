"""What a log says of its forecast: the verdict, and how sure it is."""

from __future__ import annotations

from typing import TYPE_CHECKING

from fieldsim.language import tr, tr_later, tr_many
from fieldsim.rounding import rounded_down, rounded_up
from fieldsim.stats.intervals import Share

if TYPE_CHECKING:
    from fieldsim.logbook.answer import (
        Fits,
        Judged,
        LogAnswer,
    )


def headline(answer: LogAnswer) -> str:
    """The one sentence: 'Too hopeful: forecast 825 in 1000 (between 817 and 833), at the table 6 of 14 (between 213 and
    675 in 1000).' 'Between' are the forecast's trials, or what the robot's tests leave open of it."""
    if answer.together is None:
        return tr("The log has no drives yet.")
    return verdict_words(answer.together)


AS_WRITTEN = ("too hopeful as written", "too gloomy as written")
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
    "nothing against it": tr_later("Nothing speaks against it: forecast {forecast}, at the table {table}."),
    "too few to say": tr_later("Too few to say: forecast {forecast}, at the table {table}."),
}


def verdict_words(judged: Judged) -> str:
    forecast, fits = judged.forecast, judged.fits
    often = forecast_words(forecast.share)
    # Of the ends of the trials and of what the tests leave open those count that are farther out.
    if fits is None:
        told = tr("{often} ({between})", often=often, between=between_words(forecast))
    else:
        wide = Share(forecast.share, min(forecast.low, fits.low), max(forecast.high, fits.high))
        told = tr(
            "{often} ({between} by its {tests})", often=often, between=between_words(wide), tests=tests_words(fits)
        )
    table = tr(
        "{through} of {drives} ({between} in 1000)",
        through=judged.through,
        drives=judged.drives,
        between=between_words(judged.observed),
    )
    return tr(_VERDICTS[judged.verdict], forecast=told, table=table)


def tests_words(fits: Fits) -> str:
    return tr_many("{n} test", "{n} tests", fits.tests)


def usual_words(judged: Judged) -> str:
    """How many drives might have got through without any surprise."""
    many = from_to(judged.fewest, judged.most)
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
        tests=tests_words(judged.fits),
        open=from_to(judged.fits.fewest, judged.fits.most),
    )


def from_to(low: int, high: int) -> str:
    return str(low) if low == high else tr("{low} to {high}", low=low, high=high)


def forecast_words(share: float) -> str:
    if share < 0.0005:
        return tr("less than 1 in 1000")
    if share > 0.9995:
        return tr("more than 999 in 1000")
    return tr("{share} in 1000", share=round(share * 1000))


def between_words(share: Share) -> str:
    return tr("between {low} and {high}", low=rounded_down(share.low * 1000), high=rounded_up(share.high * 1000))


def chance_words(p_value: float) -> str:
    if p_value < 0.001:
        return tr("less than 1 of 1000 logs")
    return tr("about {n} of 1000 logs", n=round(p_value * 1000))


def sure_words(judged: Judged) -> str:
    """How sure the verdict is."""
    if judged.verdict == "honest":
        return tr(
            "nothing speaks against the forecast. If it were wrong by 200 in 1000, this log would probably have shown "
            "it."
        )
    if judged.verdict == "nothing against it" and judged.shows is not None:
        return tr(
            "nothing speaks against the forecast. If it were wrong by {by} in 1000, this log would probably have shown "
            "it; smaller errors it may have missed.",
            by=round(1000 * judged.shows),
        )
    if judged.verdict in AS_WRITTEN and judged.fits is not None:
        return tr(
            "if the robot were just as its file says, luck would make a log look at least so wrong in {chance}. But "
            "robots that fit its {tests} do as much in {fits}: so nothing else need be wrong. The robot is not known "
            "well enough.",
            chance=chance_words(judged.p_value),
            tests=tests_words(judged.fits),
            fits=chance_words(judged.fits.p_value),
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
        chance=chance_words(judged.p_value),
    )
