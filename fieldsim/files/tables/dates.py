"""Dates as spreadsheets write them, and the days that one can mean.

A general parser of dates takes 3/4/2026 for one of two days without a word; here it is a question to the team.
"""

from __future__ import annotations

import datetime
import re
from contextlib import suppress

from fieldsim.language import tr_later

SHORT_YEAR = re.compile(r"[0-9]{1,2}[-/.][0-9]{1,2}[-/.][0-9]{2}")
DOTTED = re.compile(r"([0-9]{1,2})\. ?([0-9]{1,2})\. ?([0-9]{4})")
DOTS = tr_later("with dots, the day comes first: day.month.year, such as 25.11.2026; or write 2026-11-25")

_MONTHS = ("jan", "feb", "mar", "apr", "may", "jun", "jul", "aug", "sep", "oct", "nov", "dec")
_TIME_OF_DAY = r"(?:[T ,]+[0-9]{1,2}:.*)?"
_YEAR_FIRST = re.compile(rf"([0-9]{{4}})[-/. ]{{1,2}}([0-9]{{1,2}})[-/. ]{{1,2}}([0-9]{{1,2}})\.?{_TIME_OF_DAY}")
_TOGETHER = re.compile(r"([0-9]{4})([0-9]{2})([0-9]{2})")
YEAR_LAST = re.compile(rf"([0-9]{{1,2}})[-/. ]{{1,2}}([0-9]{{1,2}})[-/. ]{{1,2}}([0-9]{{4}}){_TIME_OF_DAY}")
_DAY_MONTH = re.compile(r"([0-9]{1,2})(?:st|nd|rd|th)?[-/. ]{0,2}([a-z]{3,9})[-/., ]{0,2}([0-9]{4})")
_MONTH_DAY = re.compile(r"([a-z]{3,9})[-/. ]{0,2}([0-9]{1,2})(?:st|nd|rd|th)?[-/., ]{1,2}([0-9]{4})")


def day_of(year: str, month: str, day: str) -> datetime.date | None:
    """A day of the calendar, or None if there is no such day. The month may be a word."""
    with suppress(ValueError):
        number = _MONTHS.index(month[:3]) + 1 if month.isalpha() else int(month)
        return datetime.date(int(year), number, int(day))
    return None


def meant_days(text: str) -> set[datetime.date]:
    """The days that a date in another form can mean."""
    text = text.casefold()
    if found := _YEAR_FIRST.fullmatch(text) or _TOGETHER.fullmatch(text):
        year, month, day = found.groups()
        days = {day_of(year, month, day)}
    elif found := YEAR_LAST.fullmatch(text):
        one, two, year = found.groups()
        days = {day_of(year, two, one), day_of(year, one, two)}
    elif found := _DAY_MONTH.fullmatch(text):
        day, month, year = found.groups()
        days = {day_of(year, month, day)}
    elif found := _MONTH_DAY.fullmatch(text):
        month, day, year = found.groups()
        days = {day_of(year, month, day)}
    else:
        days = set()
    return {day for day in days if day}
