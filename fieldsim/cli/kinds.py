"""What a word on the command line may be, named in the language chosen."""

from __future__ import annotations

import re
from pathlib import Path
from typing import Any

import click

from fieldsim.catalog.study import Decimal, Kind, PathName, ShareOf, Text, Whole, Word
from fieldsim.language import tr

__all__ = ["DecimalNumber", "FileName", "Seconds", "Share", "Size", "WholeNumber", "kind_of"]


class WholeNumber(click.IntRange):
    """A whole number."""

    name = tr("integer range")


class DecimalNumber(click.FloatRange):
    """A number."""

    name = tr("float range")


class FileName(click.Path):
    """A file or folder, there or not."""

    def __init__(self) -> None:
        super().__init__(path_type=Path)


class Share(click.ParamType[float]):
    """A share such as 95% or 0.95."""

    name = tr("share")

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> float:
        if isinstance(value, float):
            return value
        text = str(value).strip()
        try:
            number = float(text[:-1]) / 100 if text.endswith("%") else float(text)
        except ValueError:
            number = float("nan")
        if not 0 < number < 1:
            self.fail(tr("{value!r} is not a share between 0 and 1; write 95% or 0.95", value=value), param, ctx)
        return number


class Size(click.ParamType[Any]):
    """A size in pixels, such as 1600x900."""

    name = tr("WIDTHxHEIGHT")

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> tuple[int, int]:
        if isinstance(value, tuple):
            return value
        found = re.fullmatch(r"\s*(\d{1,5})\s*[xX\N{MULTIPLICATION SIGN}]\s*(\d{1,5})\s*", value)
        if found is None:
            self.fail(tr("'{value}' is no size; such as 1600x900", value=value), param, ctx)
        size = int(found[1]), int(found[2])
        if not (min(size) >= 320 and max(size) <= 8000):
            self.fail(tr("'{value}' is out of range; accepted: 320 to 8000 each way", value=value), param, ctx)
        return size


class Seconds(click.ParamType[Any]):
    """A time in the run, such as 12.5 or 12.5s."""

    name = tr("SECONDS")

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> float:
        if isinstance(value, float):
            return value
        found = re.fullmatch(r"\s*(\d{1,6}(?:[.,]\d{1,6})?)\s*s?\s*", value)
        if found is None:
            self.fail(tr("'{value}' is no time; such as 12.5s", value=value), param, ctx)
        return float(found[1].replace(",", "."))


def kind_of(kind: Kind) -> click.ParamType[Any]:
    """The type of click for what a study's option may be."""
    match kind:
        case Whole(low, high):
            return WholeNumber(low, high)
        case Decimal(low, high, above):
            return DecimalNumber(low, high, min_open=above)
        case ShareOf():
            return Share()
        case Word(known):
            return click.Choice(list(known))
        case PathName():
            return FileName()
        case Text():
            return click.STRING
    raise TypeError(f"no word on the command line is a {kind!r}")
