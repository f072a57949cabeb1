"""A match's card as told to other programs: its values, and the words that stand on it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Annotated, ClassVar, Literal

from fieldsim.answers import Told
from fieldsim.cards.match.card import MatchCard
from fieldsim.cards.match.words import rules_words, tick_words

__all__ = ["MatchCardAnswer", "match_card_answer"]


@dataclass(frozen=True)
class MatchCardAnswer:
    """The card of a match."""

    card: Annotated[MatchCard, Told(spread=True)]
    # Its place is that of the card's own, which is told as ``again``.
    command: ClassVar[Literal["card"]] = "card"
    again: Annotated[str, "the command that makes it again"]
    plan: tuple[str, ...]
    ticks: tuple[str, ...]


def match_card_answer(card: MatchCard) -> MatchCardAnswer:
    return MatchCardAnswer(card, card.command, tuple(rules_words(card)), tuple(tick_words(card)))
