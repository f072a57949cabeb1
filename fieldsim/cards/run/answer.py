"""A run's card as told to other programs: its values, and the words that stand on it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Annotated, ClassVar, Literal

from fieldsim.answers import Told
from fieldsim.cards.run.card import Card
from fieldsim.cards.run.check_words import tick_words
from fieldsim.cards.run.step_words import formula, seen_words
from fieldsim.sim.program import Step

__all__ = ["CardAnswer", "card_answer"]


@dataclass(frozen=True)
class StepAnswer:
    """A step with how its degrees are found, and what to look at."""

    step: Annotated[Step, Told(spread=True)]
    formula: tuple[str, ...]
    look: tuple[str, ...]


@dataclass(frozen=True)
class CardAnswer:
    """The card of a run."""

    command: ClassVar[Literal["card"]] = "card"
    card: Annotated[Card, Told(spread=True)]
    steps: tuple[StepAnswer, ...]
    again: Annotated[str, "the command that makes it again"]
    ticks: tuple[str, ...]


def card_answer(card: Card) -> CardAnswer:
    steps = tuple(
        StepAnswer(step, tuple(formula(step, card)), tuple(seen_words(card, step.number))) for step in card.steps
    )
    return CardAnswer(card, steps, card.command, tuple(tick_words(card)))
