"""Kinds of values that test sheets and logs share: a count, a date, a remark, the line of a file."""

from __future__ import annotations

import datetime
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Annotated, Any

from fieldsim.language import tr
from fieldsim.model.errors import Complaint
from fieldsim.model.kinds import Kind

# Of one file; a file of the largest size that is read has fewer rows.
MOST_ROWS = 100_000


@dataclass(frozen=True)
class Count(Kind):
    """A whole number, counted from 1."""

    most: int = 1_000

    def complain(self, value: Any) -> Iterator[Complaint]:
        if not isinstance(value, int) or isinstance(value, bool):
            yield Complaint((), tr("must be a whole number, found {value!r:.60}", value=value))
        elif not 1 <= value <= self.most:
            yield Complaint((), tr("is {value}; accepted: 1 to {most}", value=value, most=self.most))


@dataclass(frozen=True)
class Day(Kind):
    """A date."""

    least: int = 2000
    most: int = 2099

    def complain(self, value: Any) -> Iterator[Complaint]:
        if not isinstance(value, datetime.date) or isinstance(value, datetime.datetime):
            yield Complaint((), tr("must be a date, found {value!r:.60}", value=value))
        elif not self.least <= value.year <= self.most:
            yield Complaint(
                (),
                tr(
                    "is {value}; accepted: the years {least} to {most}",
                    value=value.isoformat(),
                    least=self.least,
                    most=self.most,
                ),
            )


@dataclass(frozen=True)
class Text(Kind):
    """A remark, of several lines if need be; it may be empty."""

    most: int = 2_000

    def complain(self, value: Any) -> Iterator[Complaint]:
        if not isinstance(value, str):
            yield Complaint((), tr("must be a text, found {value!r:.60}", value=value))
        elif len(value) > self.most:
            yield Complaint((), tr("has {count} characters; accepted: up to {most}", count=len(value), most=self.most))


FileLine = Annotated[int, Count(most=10_000_000), "The line of the file, counted from 1."]
