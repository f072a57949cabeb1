"""The studies, one record each: what they are called, asked and answered. Faces go by these; none knows a study's name.

A study more is a module more here, with its words; it loads what it computes with only when it is asked.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from fieldsim.catalog.aim import AIM
from fieldsim.catalog.attempt import TRY
from fieldsim.catalog.base import BASE
from fieldsim.catalog.causes import CAUSES
from fieldsim.catalog.compare import COMPARE
from fieldsim.catalog.fit import FIT
from fieldsim.catalog.jigs import JIGS
from fieldsim.catalog.log import LOG
from fieldsim.catalog.match import MATCH
from fieldsim.catalog.photo import PHOTO
from fieldsim.catalog.route import ROUTE
from fieldsim.catalog.slack import SLACK
from fieldsim.catalog.study import Study, loaded
from fieldsim.catalog.tune import TUNE
from fieldsim.catalog.widths import WIDTHS

__all__ = ["ANSWERS", "STUDIES", "Study", "schema_of_answers"]

STUDIES = (TRY, AIM, TUNE, JIGS, SLACK, WIDTHS, COMPARE, CAUSES, BASE, ROUTE, MATCH, FIT, PHOTO, LOG)

ANSWERS: Mapping[str, tuple[str, ...]] = {
    **{study.name: study.types for study in STUDIES},
    # A card is no study: it is made for the table, but told to programs like one.
    "card": (
        "cards.run.answer:CardAnswer",
        "cards.sheet.blank:BlankTests",
        "cards.match.answer:MatchCardAnswer",
        "cards.markers.sheet:MarkerSheet",
    ),
}
"""The types of every command's answer, as `Study.types` has them."""


def schema_of_answers(command: str | None = None) -> dict[str, Any]:
    """JSON Schema of the answers of one command, or of all: what ``--json`` prints and answer.json holds.

    Raises KeyError for a command without an answer. Loads all that the answers are computed with.
    """
    from fieldsim.answers import answer_schema

    if command is not None:
        return answer_schema([loaded(each) for each in ANSWERS[command]], f"fieldsim {command}")
    return answer_schema([loaded(each) for types in ANSWERS.values() for each in types], "fieldsim answer")
