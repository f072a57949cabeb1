"""Kinds of values: a number with its bounds, a name, a choice, a list ... and what is wrong with a value of that kind.

A kind says what is wrong in words that follow the name of a thing: ``is 0 mm; accepted: ...``.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from difflib import get_close_matches
from math import inf, isfinite, isnan
from numbers import Real
from typing import TYPE_CHECKING, Any

from fieldsim.language import tr, tr_later, tr_many
from fieldsim.model.errors import Complaint, shown
from fieldsim.model.units import LENGTH, NUMBER, Unit, plain

if TYPE_CHECKING:
    from fieldsim.model.bounds import Checked

__all__ = [
    "NAME_LENGTH", "NAME_PATTERN", "Choice", "Complaints", "Either", "Height", "Kind", "Many", "Maybe", "Name", "Named",
    "Number", "Pair", "Record", "nearest", "repeated", "unknown_name",
]  # fmt: skip

NAME_LENGTH = 80
# No control characters, line breaks or direction marks (they would break reports); no blank at either end.
NAME_PATTERN = (
    r"^(?!\s)[^\x00-\x1f\x7f-\x9f\u2028\u2029\u200e\u200f\u202a-\u202e\u2066-\u2069\ufeff\ud800-\udfff]+(?<!\s)$"
)
_NAME = re.compile(NAME_PATTERN)

Complaints = Iterator[Complaint]

HEIGHTS = (tr_later("low"), tr_later("high"))

# What a name may be of: what is wrong if nothing of that kind has it, and which names there are.
OF = {
    "attachment": (
        tr_later("names '{name}', which is not an attachment here"), tr_later("attachments here: {names}")
    ),
    "jig": (tr_later("names '{name}', which is not a jig here"), tr_later("jigs here: {names}")),
    "line": (tr_later("names '{name}', which is not a line here"), tr_later("lines here: {names}")),
    "obstacle or wall": (
        tr_later("names '{name}', which is not an obstacle or wall here"), tr_later("obstacles and walls here: {names}")
    ),
    "run": (tr_later("names '{name}', which is not a run here"), tr_later("runs here: {names}")),
    "sensor": (tr_later("names '{name}', which is not a sensor here"), tr_later("sensors here: {names}")),
    "start area": (tr_later("names '{name}', which is not a start area here"), tr_later("start areas here: {names}")),
    "target": (tr_later("names '{name}', which is not a target here"), tr_later("targets here: {names}")),
}  # fmt: skip


def nearest(word: str, known: Sequence[str]) -> str | None:
    """The known word most like this one, whatever its case, or None if none is much like it."""
    folded = {name.casefold(): name for name in reversed(known)}
    found = get_close_matches(word[:NAME_LENGTH].casefold(), list(folded), n=1, cutoff=0.6)
    return folded[found[0]] if found else None


class Kind:
    """What an attribute may hold."""

    def clean(self, value: Any) -> Any:
        """The value as the model keeps it: numbers as float, sequences as tuples. Called before `complain`."""
        return value

    def complain(self, value: Any) -> Complaints:
        """What is wrong with a cleaned value."""
        raise NotImplementedError


@dataclass(frozen=True)
class Number(Kind):
    """A finite number with a unit and bounds; ``above`` and ``below`` exclude the bound itself, ``whole`` asks for a
    whole one."""

    unit: Unit = NUMBER
    least: float = -inf
    most: float = inf
    above: float = -inf
    below: float = inf
    nonzero: bool = False
    whole: bool = False

    def clean(self, value: Any) -> Any:
        return float(value) if isinstance(value, Real) and not isinstance(value, bool) else value

    def complain(self, value: Any) -> Complaints:
        if not isinstance(value, float):
            yield Complaint((), tr("must be {what}, found {found}", what=tr(self.unit.what), found=_quoted(value)))
        elif not isfinite(value):
            yield Complaint(
                (),
                tr(
                    "is {value}; accepted: {accepted}",
                    value=tr("not a number") if isnan(value) else tr("infinite"),
                    accepted=self.accepted,
                ),
            )
        elif not self._inside(value):
            yield Complaint(
                (), tr("is {value}; accepted: {accepted}", value=self.unit.show(value), accepted=self.accepted)
            )

    def _inside(self, value: float) -> bool:
        return (
            self.least <= value <= self.most
            and self.above < value < self.below
            and not (self.nonzero and value == 0)
            and not (self.whole and value != round(value))
        )

    @property
    def accepted(self) -> str:
        """The bounds in words, such as ``more than 0 mm, up to 2000 mm``."""
        show = self.unit.show
        low, high = max(self.least, self.above), min(self.most, self.below)
        at_low = tr("more than {value}") if self.above >= self.least else tr("{value} or more")
        at_high = tr("less than {value}") if self.below <= self.most else tr("up to {value}")
        low_text = "" if low == -inf else at_low.format(value=show(low))
        high_text = "" if high == inf else at_high.format(value=show(high))
        if self.least > self.above and self.most < self.below:
            text = tr("{low} to {high}", low=plain(_bare(low, self.unit)), high=show(high))
        else:
            text = ", ".join(part for part in (low_text, high_text) if part) or tr("any number")
        if self.whole:
            return tr("a whole number, {range}", range=text)
        return tr("{range}, but not 0", range=text) if self.nonzero else text


def _bare(value: float, unit: Unit) -> float:
    return value / float(unit.scale)


@dataclass(frozen=True)
class Name(Kind):
    """A name or another short text."""

    what: str = "a name"

    def complain(self, value: Any) -> Complaints:
        if not isinstance(value, str):
            yield Complaint((), tr("must be {what}, found {found}", what=tr(self.what), found=_quoted(value)))
        elif not value.strip():
            yield Complaint((), tr("is empty; it must be {what}", what=tr(self.what)))
        elif len(value) > NAME_LENGTH:
            yield Complaint(
                (),
                tr("has {count} characters; accepted: up to {most}", count=len(value), most=NAME_LENGTH),
            )
        elif value != value.strip():
            yield Complaint(
                (),
                tr("is '{value}', with a blank at its end or start", value=shown(value)),
                tr("write '{value}'", value=shown(value.strip())),
            )
        elif not _NAME.match(value):
            yield Complaint(
                (), tr("is '{value}', with a character that cannot be printed in a line of text", value=shown(value))
            )


@dataclass(frozen=True)
class Named(Name):
    """The name of something that must exist; ``of`` says which kind: an attachment, a jig, a target ..."""

    of: str = ""

    @property
    def kinds(self) -> tuple[str, ...]:
        return tuple(self.of.split(" or "))


@dataclass(frozen=True)
class Choice(Kind):
    """One of a few words."""

    options: tuple[str, ...]

    def complain(self, value: Any) -> Complaints:
        accepted = " | ".join(self.options)
        if isinstance(value, str) and value in self.options:
            return
        if isinstance(value, str):
            guess = nearest(value, self.options)
            hint = tr("did you mean '{guess}'?", guess=guess) if guess else ""
            yield Complaint((), tr("is '{value}'; accepted: {accepted}", value=shown(value), accepted=accepted), hint)
        else:
            yield Complaint(
                (), tr("must be one of: {accepted}; found {found}", accepted=accepted, found=_quoted(value))
            )


@dataclass(frozen=True)
class Pair(Kind):
    """A fixed number of numbers: two for a point or a size, three for a place in space."""

    number: Number
    words: tuple[str, ...] = ("x", "y")

    def clean(self, value: Any) -> Any:
        return tuple(self.number.clean(item) for item in value) if _is_sequence(value) else value

    def complain(self, value: Any) -> Complaints:
        if not isinstance(value, tuple) or len(value) != len(self.words):
            yield Complaint((), tr("must be {what}, found {found}", what=self.what, found=_quoted(value)))
            return
        for index, item in enumerate(value):
            for complaint in self.number.complain(item):
                yield Complaint(
                    (index,),
                    tr("has {word} that {message}", word=tr(self.words[index]), message=complaint.message),
                    complaint.hint,
                )

    @property
    def what(self) -> str:
        words = ", ".join(tr(word) for word in self.words)
        if len(self.words) == 2:
            return tr("two numbers: [{words}]", words=words)
        return tr("three numbers: [{words}]", words=words)


@dataclass(frozen=True)
class Height(Kind):
    """A height band above the mat, mm: (low, high), high may be infinite. ``alone``: one number is (0, high)."""

    most: float = 2000.0
    alone: bool = False

    @property
    def number(self) -> Number:
        return Number(LENGTH, least=0.0, most=self.most)

    @property
    def top(self) -> Number:
        return Number(LENGTH, above=0.0, most=self.most)

    def clean(self, value: Any) -> Any:
        return tuple(self.number.clean(item) for item in value) if _is_sequence(value) else value

    def complain(self, value: Any) -> Complaints:
        if not isinstance(value, tuple) or len(value) != 2:
            yield Complaint((), tr("must be a height band (low, high), found {found}", found=_quoted(value)))
            return
        for index, item in enumerate(value):
            if not (index == 1 and item == inf):
                for complaint in self.number.complain(item):
                    yield Complaint(
                        (index,),
                        tr("has {word} that {message}", word=tr(HEIGHTS[index]), message=complaint.message),
                        complaint.hint,
                    )
        low, high = value
        if isinstance(low, float) and isinstance(high, float) and low >= high:
            yield Complaint(
                (),
                tr("goes from {low} to {high} mm; the first must be the lower one", low=plain(low), high=plain(high)),
            )


@dataclass(frozen=True)
class Record(Kind):
    """Another dataclass of the model, which checks itself."""

    record: type[Checked]

    def complain(self, value: Any) -> Complaints:
        if not isinstance(value, self.record):
            yield Complaint(
                (),
                tr(
                    "must be made with {maker}, found {found}",
                    maker=self.record.__name__ + "(...)",
                    found=_quoted(value),
                ),
            )


@dataclass(frozen=True)
class Maybe(Kind):
    """Something, or None."""

    kind: Kind

    def clean(self, value: Any) -> Any:
        return None if value is None else self.kind.clean(value)

    def complain(self, value: Any) -> Complaints:
        if value is not None:
            yield from self.kind.complain(value)


@dataclass(frozen=True)
class Many(Kind):
    """A list. ``least`` and ``most`` bound the number of items; ``what`` names one item."""

    item: Kind
    least: int = 0
    most: int = 5000
    what: str = ""
    distinct: bool = False

    def clean(self, value: Any) -> Any:
        return tuple(self.item.clean(item) for item in value) if _is_sequence(value) else value

    def complain(self, value: Any) -> Complaints:
        if not isinstance(value, tuple):
            yield Complaint((), tr("must be a list, found {found}", found=_quoted(value)))
            return
        yield from self.complain_count(len(value))
        for index, item in enumerate(value):
            for complaint in self.item.complain(item):
                yield Complaint((index, *complaint.path), complaint.message, complaint.hint)
        names = [item if isinstance(item, str) else getattr(item, "name", None) for item in value]
        yield from repeated([name if isinstance(name, str) else None for name in names])

    def complain_count(self, count: int) -> Complaints:
        if not self.least <= count <= self.most:
            if self.least == self.most:
                wanted = f"{self.most}"
            elif self.least:
                wanted = tr("{low} to {high}", low=self.least, high=self.most)
            else:
                wanted = tr("up to {value}", value=self.most)
            yield Complaint(
                (),
                tr_many("has {n} item; accepted: {wanted}", "has {n} items; accepted: {wanted}", count, wanted=wanted),
            )


@dataclass(frozen=True)
class Either(Kind):
    """One of several kinds: the shapes, the segments, a start by jig or by eye."""

    kinds: tuple[Kind, ...]

    def complain(self, value: Any) -> Complaints:
        texts = [kind for kind in self.kinds if isinstance(kind, Name)]
        records = [kind.record for kind in self.kinds if isinstance(kind, Record)]
        if texts and isinstance(value, str):
            yield from texts[0].complain(value)
        elif not isinstance(value, tuple(records)):
            words = [tr(kind.what) for kind in texts] + [f"{record.__name__}(...)" for record in records]
            yield Complaint(
                (), tr("must be one of: {accepted}; found {found}", accepted=", ".join(words), found=_quoted(value))
            )


def repeated(names: Sequence[str | None]) -> Complaints:
    """Names that occur a second time; None stands for a name that is not known. Case matters."""
    first: dict[str, int] = {}
    for index, name in enumerate(names):
        if name is None:
            continue
        if name in first:
            yield Complaint(
                (index,),
                tr(
                    "repeats the name '{name}', which number {number} has already",
                    name=shown(name),
                    number=first[name] + 1,
                ),
                tr("names must differ"),
            )
        first.setdefault(name, index)


def unknown_name(kind: Named, name: str, known: Sequence[str]) -> Complaint:
    """The complaint about a name that nothing has."""
    guess = nearest(name, known)
    listed = ", ".join(shown(word) for word in known) if known else tr("none")
    missing, there = OF[kind.of]
    hint = tr(there, names=listed)
    if guess:
        hint = tr("did you mean '{guess}'? {hint}", guess=shown(guess), hint=hint)
    return Complaint((), tr(missing, name=shown(name)), hint)


def _is_sequence(value: Any) -> bool:
    """Lists, tuples and arrays; no text, no mapping."""
    return (
        hasattr(value, "__iter__") and hasattr(value, "__len__") and not isinstance(value, (str, bytes, Mapping, set))
    )


def _quoted(value: Any) -> str:
    if value is None:
        return tr("nothing")
    if isinstance(value, str):
        return tr("the text '{value}'", value=shown(value))
    return shown(repr(value))
