"""Questions that are answered before anything else: what can be answered, by which button or letter, and where the
buttons stand. Knows no screen."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from fieldsim.language import tr, tr_as
from fieldsim.window.camera import Rect

__all__ = ["Answer", "Question", "answer_rects", "answers_of", "box_width", "known_question", "letter_answer"]

# Sizes for a unit: how wide what lies over the window is at most, its buttons, and what is left beside them.
WIDE, BUTTON, BESIDE = 560, 34, 12
# Where the buttons stand: so much of the field's height from its top. What is asked stands above them.
DOWN = 0.58


@dataclass(frozen=True)
class Answer:
    """``name`` is what the session does; ``letter`` is the key that gives it, in the user's language."""

    name: str
    words: str
    letter: str
    also: tuple[str, ...] = ()
    """Keys that give it too, whatever the language."""


@dataclass(frozen=True)
class Question:
    title: str
    lines: tuple[str, ...]
    answers: tuple[Answer, ...]

    def by_key(self, pressed: str) -> Answer | None:
        """What a key answers; None if it answers nothing."""
        key = pressed.removeprefix("shift ")
        for number, answer in enumerate(self.answers, start=1):
            if key in (answer.letter, *answer.also, str(number)):
                return answer
        return None


def answers_of(question: Question | None) -> tuple[Answer, ...]:
    return () if question is None else question.answers


def letter_answer(name: str, words: str, letter: str, *also: str) -> Answer:
    return Answer(name, words, letter.casefold(), also)


def known_question(asked: str) -> Question:
    """The questions that every window asks. Escape decides nothing for good: the window stays open, a copy is offered
    again the next time. To close without saving needs its own letter: enter is pressed too easily."""
    if asked == "recover":
        return Question(
            tr("There is a copy of what was not saved last time"),
            (tr("The window was closed before it was saved."),),
            (
                letter_answer("take", tr("take it"), tr_as("letter: take it", "t"), "y", "return"),
                letter_answer("throw", tr("throw it away"), tr_as("letter: throw it away", "x"), "n"),
                letter_answer("later", tr("ask again next time"), tr_as("letter: ask again next time", "l"), "escape"),
            ),
        )
    return Question(
        tr("Not everything is saved"),
        (),
        (
            letter_answer("save", tr("save, then go"), tr_as("letter: save, then go", "s")),
            letter_answer("go", tr("go without saving"), tr_as("letter: go without saving", "w"), "y"),
            letter_answer("stay", tr("stay"), tr_as("letter: stay", "b"), "n", "escape"),
        ),
    )


def box_width(field: Rect, unit: float) -> float:
    """How wide what lies over a window is, pixels."""
    return min(field.w - 24 * unit, WIDE * unit)


def answer_rects(field: Rect, unit: float, answers: Sequence[Answer]) -> tuple[Rect, ...]:
    """The buttons of a question over a part of a window, side by side."""
    count = len(answers)
    if not count:
        return ()
    wide = box_width(field, unit)
    left = field.x + (field.w - wide) / 2 + BESIDE * unit
    each = (wide - 2 * BESIDE * unit + 8 * unit) / count
    y, high = round(field.y + DOWN * field.h), round(BUTTON * unit)
    return tuple(Rect(round(left + n * each), y, max(1, round(each - 8 * unit)), high) for n in range(count))
