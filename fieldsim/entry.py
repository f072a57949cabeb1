"""Where the command begins: the language is chosen before anything is imported that says something."""

from __future__ import annotations

import codecs
import io
import os
import sys
import unicodedata

from fieldsim.language import LANGUAGES, OPTION, choose, choose_for_libraries, taken, tr, wanted

WRONG = 2
# How umlauts are spelled where there are none; other letters lose their marks.
SPELLED = {"ä": "ae", "ö": "oe", "ü": "ue", "Ä": "Ae", "Ö": "Oe", "Ü": "Ue", "ß": "ss"}


def main() -> None:
    """The console command. `cli.main` tells its exit status; an unknown language is 2, like any wrong word."""
    asked, sys.argv[1:] = taken(sys.argv[1:])
    language = wanted(os.environ)
    if asked is not None:
        # As people write it, and as the system names it: de, DE, de_DE.UTF-8.
        language = asked.split(".")[0].replace("-", "_").split("_")[0].lower()
    unknown = language not in LANGUAGES
    # A complaint about the language is said in the one the system is set to.
    chosen = wanted(os.environ) if unknown else language
    _write_anyhow()
    choose(chosen)
    choose_for_libraries(chosen)
    if unknown:
        text = tr(
            "Error: {option} {asked}: there is no such language; there are: {languages}",
            option=OPTION, asked=_shown(asked or ""), languages=", ".join(LANGUAGES),
        )  # fmt: skip
        print(text, file=sys.stderr)
        sys.exit(WRONG)

    from fieldsim.cli import main as command

    command()


def _shown(word: str) -> str:
    from fieldsim.model.errors import shown

    return shown(word)


def _write_anyhow() -> None:
    """Let a terminal that lacks a letter show the nearest ones it has."""
    codecs.register_error("fieldsim", _nearest)
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, io.TextIOWrapper):
            stream.reconfigure(errors="fieldsim")


def _nearest(problem: UnicodeError) -> tuple[str, int]:
    if not isinstance(problem, UnicodeEncodeError):
        raise problem
    letters = problem.object[problem.start : problem.end]
    return "".join(SPELLED.get(letter) or _without_marks(letter) for letter in letters), problem.end


def _without_marks(letter: str) -> str:
    return unicodedata.normalize("NFKD", letter).encode("ascii", "ignore").decode() or "?"
