"""The language of all texts. English stands in the code; every other language is a catalog of gettext.

`tr` takes a template as it stands in the catalog and the values that belong into its braces. Catalogs lie in
``locale/LANGUAGE/LC_MESSAGES/fieldsim.po``: one list of all texts, which any editor for translators opens. Names from
files, keys of files and JSON keys are never translated.

The language is the process's own: it is chosen once, before the first text is made, by `entry`.
"""

from __future__ import annotations

import gettext
import locale
import os
import string
from collections.abc import Hashable, Mapping, Sequence
from pathlib import Path
from typing import Any

from fieldsim.rounding import Spoken

__all__ = [
    "LANGUAGES",
    "choose",
    "choose_for_libraries",
    "chosen_catalog",
    "in_digits",
    "language",
    "named",
    "taken",
    "tr",
    "tr_as",
    "tr_later",
    "tr_many",
    "wanted",
]

LOCALE = Path(__file__).parent / "locale"
DOMAIN = "fieldsim"
# What the library of the command line says by itself: 'Usage:', 'Missing argument'.
CLICK = "click"
LANGUAGES = ("en", *sorted(path.name for path in LOCALE.iterdir() if path.is_dir()))

OPTION = "--language"
# Which of them counts first is as gettext has it: GNU gettext manual, 2.3 'Setting the Locale through Environment
# Variables'.
VARIABLES = ("LANGUAGE", "LC_ALL", "LC_MESSAGES", "LANG")


class _Chosen:
    language = "en"
    catalog: gettext.NullTranslations = gettext.NullTranslations()
    decimal_mark = "."


_chosen = _Chosen()


def language() -> str:
    """The language chosen, such as 'en'."""
    return _chosen.language


def chosen_catalog() -> Hashable:
    """What texts are taken from: whoever keeps an answer that has texts keeps it together with this."""
    return _chosen.catalog


def choose(language: str) -> None:
    """Say everything in this language from now on. Raises ValueError if there is no such language."""
    if language not in LANGUAGES:
        raise ValueError(f"language={language!r} must be one of {LANGUAGES}")
    _chosen.language = language
    _chosen.catalog = (
        gettext.NullTranslations() if language == "en" else gettext.translation(DOMAIN, LOCALE, [language])
    )
    _chosen.decimal_mark = tr_as("decimal mark", ".")


def choose_for_libraries(language: str) -> None:
    """Let what the command's library says by itself be in this language too; it asks gettext, and that the environment.

    For a process of its own only: the choice is the whole process's, and that of those it starts.
    """
    os.environ["LANGUAGE"] = language
    gettext.bindtextdomain(CLICK, str(LOCALE))
    gettext.textdomain(CLICK)


def wanted(environment: Mapping[str, str]) -> str:
    """The language that the system is set to, if there is a catalog of it, else English."""
    for name in VARIABLES:
        value = environment.get(name, "")
        for each in value.split(":"):
            if each:
                # Only LANGUAGE is a list; the first of any other that is set decides.
                word = each.split(".")[0].split("@")[0].split("_")[0].lower()
                if word in LANGUAGES:
                    return word
                if word in ("c", "posix"):
                    return "en"
        if value and name != "LANGUAGE":
            return "en"
    try:
        # Where no variable says it, as on Windows, whose own name of the language is the English word.
        own = locale.normalize(locale.getlocale()[0] or "").lower()
    except ValueError:
        own = ""
    return next((word for word in LANGUAGES if own.startswith(word + "_")), "en")


def taken(arguments: Sequence[str]) -> tuple[str | None, list[str]]:
    """The value of the last ``--language``, wherever it stands before a lone ``--``, and the other arguments.

    It is looked for before anything else is read, since help and complaints are texts too. A ``--language`` without a
    value is left where it is.
    """
    words, rest, found = list(arguments), [], None
    while words:
        word = words.pop(0)
        if word == "--":
            rest += [word, *words]
            break
        if word == OPTION and words:
            found = words.pop(0)
        elif word.startswith(f"{OPTION}="):
            found = word.partition("=")[2]
        else:
            rest.append(word)
    return found, rest


class _Formatter(string.Formatter):
    """Braces filled as by `str.format`, with the language's decimal mark in numbers."""

    def format_field(self, value: Any, format_spec: str) -> str:
        text = str(super().format_field(value, format_spec))
        return in_digits(text) if isinstance(value, float) else text


_formatter = _Formatter()


def in_digits(text: str) -> str:
    """A number written with a point, with the language's decimal mark."""
    return text if _chosen.decimal_mark == "." else text.replace(".", _chosen.decimal_mark)


def _filled(template: str, values: Mapping[str, Any]) -> str:
    # Without values the text is taken as it is, braces too.
    if not values:
        return template
    told = {name: Spoken(value) if isinstance(value, float) else value for name, value in values.items()}
    return template.format_map(told) if _chosen.decimal_mark == "." else _formatter.vformat(template, (), told)


def tr(template: str, /, **values: Any) -> str:
    """The text in the language chosen, with ``values`` in its braces; numbers by a format, such as ``{gap:.1f}``."""
    return _filled(_chosen.catalog.gettext(template) if template else "", values)


def tr_many(one: str, many: str, n: int, /, **values: Any) -> str:
    """The text for a number of things, which is ``{n}`` in its braces."""
    return _filled(_chosen.catalog.ngettext(one, many, n), {"n": n, **values})


def tr_as(context: str, template: str, /, **values: Any) -> str:
    """The text where one English word needs several in other languages: ``context`` tells them apart."""
    return _filled(_chosen.catalog.pgettext(context, template), values)


def tr_later(template: str) -> str:
    """The template itself: a mark that it is in the catalog, for texts that stand in tables and are said later."""
    return template


_OURS = frozenset(
    (
        tr_later("near wall"),
        tr_later("far wall"),
        tr_later("left wall"),
        tr_later("right wall"),
        tr_later("near edge"),
        tr_later("far edge"),
        tr_later("left edge"),
        tr_later("right edge"),
    )
)


def named(name: str) -> str:
    """The name of a thing as it is said: the walls (or edges) are named by us and have a name in every language,
    all else is named by the team."""
    return tr(name) if name in _OURS else name
