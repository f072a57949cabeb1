"""The card of a run as plain text and as JSON."""

from __future__ import annotations

from collections.abc import Iterator

from fieldsim.cards.run.card import Card
from fieldsim.cards.run.check_words import (
    GO,
    MAKE_READY,
    SET_IT,
    go_or_not,
    go_words,
    limits_mean,
    ready_words,
    set_words,
)
from fieldsim.cards.run.start_words import start_notes
from fieldsim.cards.run.step_words import (
    GAPS_MEAN,
    formula_words,
    sights,
    speed_words,
    step_words,
    steps_title,
    time_words,
    turns_words,
)
from fieldsim.cards.run.words import (
    HINT_RESULT,
    ODDS,
    WARNING,
    WATCH,
    card_title,
    log_rows,
    made_words,
    odds_words,
    subtitle,
    warning_words,
    watch_words,
)
from fieldsim.cards.shared import csv_lines
from fieldsim.language import tr
from fieldsim.lettering import cells, wrapped_lines
from fieldsim.report.phrases import no_proof


def card_text(card: Card, width: int = 80) -> str:
    """The whole card as plain text, ending in a line end."""
    lines: list[str] = []

    def heading(words: str) -> None:
        lines.extend(["", words])

    def list_of(points: list[str], mark: str) -> None:
        for point in points:
            lines.extend(wrapped_lines(point, width, mark, " " * len(mark)))

    lines += wrapped_lines(tr("Card for the table: {run}", run=card_title(card)), width)
    lines += wrapped_lines(subtitle(card), width)
    for words in warning_words(card):
        lines += ["", *wrapped_lines(words, width, f"{WARNING} ", "  ")]
    for title, points in ((MAKE_READY, ready_words(card)), (SET_IT, set_words(card)), (GO, go_words())):
        heading(tr(title))
        list_of(points, "  [ ] ")
    list_of(list(go_or_not(card)), "  ")
    heading(tr(ODDS))
    list_of(odds_words(card), "  ")
    if card.looked_at:
        heading(tr(WATCH))
        list_of(watch_words(card), "  - ")
    heading(steps_title(card))
    lines += _steps_text(card, width)
    gaps_mean = [tr(GAPS_MEAN)] if card.gaps else []
    notes = [*formula_words(card), *gaps_mean, *start_notes(card), limits_mean(card)]
    list_of([note for note in notes if note], "  ")
    heading(tr("What happened? Rows for your log.csv"))
    lines += csv_lines([list(card.log_columns), *log_rows(card)])
    list_of([tr(HINT_RESULT)], "  ")
    lines.append("")
    lines += wrapped_lines(made_words(card), width)
    lines += wrapped_lines(no_proof(), width)
    return "\n".join(line.rstrip() for line in lines) + "\n"


def _steps_text(card: Card, width: int) -> Iterator[str]:
    """A line of numbers for each step, under its words; what must be seen below."""
    for step in card.steps:
        mark = f"  {step.number:>2} "
        yield from wrapped_lines(step_words(step), width, mark, " " * len(mark))
        seconds, clock = time_words(step)
        parts = []
        if step.wheels is not None:
            left, right = turns_words(step.wheels, step)
            parts.append(tr("wheels {left} and {right} degrees", left=left, right=right))
            if card.gear != 1:
                left, right = turns_words(step.motors, step)
                parts.append(tr("motors {left} and {right}", left=left, right=right))
            parts.append(speed_words(step))
        parts.append(tr("{seconds} s, clock {clock} s", seconds=seconds, clock=clock))
        yield from wrapped_lines("; ".join(parts), width, "       ", "       ")
        for sight in sights(card, step.number):
            look = tr("       look: ") if sight.good else f"       {WARNING} "
            yield from wrapped_lines(sight.words, width, look, " " * cells(look))
