"""What a study is to those who ask it: its name, what it takes, and how it is read, asked and told.

Nothing here knows the command line or a window: both are made from these records. Texts are templates of the catalog
of texts (`tr_later`), said in the language that is chosen by then.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field
from importlib import import_module
from pathlib import Path
from typing import Any

from fieldsim.report.origin import Origin

__all__ = [
    "Argument",
    "Decimal",
    "Flag",
    "Given",
    "Option",
    "Outcome",
    "PathName",
    "Remark",
    "ShareOf",
    "Study",
    "Text",
    "Watch",
    "Whole",
    "Word",
    "WrongWordsError",
]

Given = Mapping[str, Any]
"""What was given for each argument and option, by their names; None where an option without a default was left out."""
Watch = Callable[[int, int], None]
"""Called with how much is done of how much: see ``fieldsim.sim.trials.blocks``."""


class WrongWordsError(Exception):
    """Options or files that do not go together; the text says why, in the language chosen."""


# --- what may be given ---------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class Flag:
    """On or off."""


@dataclass(frozen=True)
class Whole:
    """A whole number from ``low`` to ``high``."""

    low: int
    high: int | None = None


@dataclass(frozen=True)
class Decimal:
    """A number from ``low`` (or above it) to ``high``."""

    low: float
    high: float | None = None
    above: bool = False


@dataclass(frozen=True)
class ShareOf:
    """A share between 0 and 1, such as 95%."""


@dataclass(frozen=True)
class Word:
    """One of a few words, the same whatever the language."""

    known: tuple[str, ...]


@dataclass(frozen=True)
class Text:
    """Any text."""


@dataclass(frozen=True)
class PathName:
    """A file or folder."""


Kind = Flag | Whole | Decimal | ShareOf | Word | Text | PathName


@dataclass(frozen=True)
class Argument:
    """What has to be given: a file, unless told."""

    name: str
    sign: str
    """Such as 'RUN': what stands for it in the help; a template."""
    many: bool = False
    kind: Kind = PathName()


@dataclass(frozen=True)
class Option:
    """Something that can be asked for besides."""

    flag: str
    """Such as '--trials'."""
    kind: Kind
    about: str
    default: Any = None
    own_name: str = ""
    """Its name in what is given, where that is not the flag's."""
    sign: str = ""
    """What stands for its value in the help, where the kind does not say it; a template."""
    many: bool = False
    """It may be given again."""

    @property
    def name(self) -> str:
        return self.own_name or self.flag.removeprefix("--").replace("-", "_")


# --- what comes of it ----------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class Remark:
    """A sentence about what was done besides, such as a file that was written."""

    text: str
    warning: bool = False
    """To be told even to a program that reads the answer."""


@dataclass(frozen=True)
class Outcome:
    """What a study found, for every face."""

    answer: Any
    """The answer as values, one of the study's types: its JSON is ``fieldsim.answers.to_json`` of it."""
    text: Callable[[int, bool], str]
    """The answer in words for a terminal so many cells wide, with colours or without."""
    save: Callable[[Path, Origin], list[Path]]
    """Save report, picture and tables into a folder, with what they were made from; gives what was written."""
    meets_need: bool = True
    """False if less gets through than was asked for."""
    afterwards: Callable[[], Iterator[Remark]] | None = None
    """What is still to be done when the answer is told, such as writing numbers into a file."""
    statement: Callable[[], Any] | None = None
    """The answer as a ``Statement``, for a face that lays out its parts itself; None where it is text only."""
    changes: tuple[Any, ...] = ()
    """Changes to the run that was asked about, for a face in which they can be taken one by one: of each its words, and
    what it is made of (``fieldsim.planning.draft.Edit``)."""


@dataclass(frozen=True)
class Study:
    """One study."""

    name: str
    """Its command, and its constant ``command`` in JSON."""
    about: str
    arguments: tuple[Argument, ...]
    options: tuple[Option, ...]
    types: tuple[str, ...]
    """Its answer's types, as 'module:name' below ``fieldsim``: loading one may bring all the study computes with."""
    read: Callable[[Given], Any]
    """Check what was given and read its files, quickly. Raises WrongWordsError, or FileError of a file."""
    ask: Callable[[Any, Given, Watch], Outcome]
    """The outcome for what was read. Raises WrongWordsError, or another FieldsimError."""
    example: tuple[str, ...]
    """Arguments over the demo season that ask it in little time: tests and benchmarks ask that."""
    saving: str
    """What is saved of it, a template."""
    pictures: Mapping[str, tuple[str, str]] = field(default_factory=dict)
    """Of each of its pictures: what it is called, and what is seen in it; templates."""


def loaded(name: str) -> type:
    """The type called 'module:name' below ``fieldsim``."""
    module, _, kind = name.partition(":")
    found: type = getattr(import_module(f"fieldsim.{module}"), kind)
    return found
