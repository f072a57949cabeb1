"""The card of a run as one page of HTML that stands alone. All numbers and words are the card's."""

from __future__ import annotations

from dataclasses import dataclass
from html import escape

from fieldsim.cards.html import apart, document, form, list_of, ticks, told
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
from fieldsim.cards.run.start_words import start_notes, start_picture_words
from fieldsim.cards.run.step_words import (
    GAPS_MEAN,
    formula_words,
    plan_note,
    sights,
    speed_words,
    step_words,
    steps_title,
    time_words,
    turns_words,
    worked_out,
)
from fieldsim.cards.run.words import (
    HAPPENED,
    HINT_RESULT,
    ODDS,
    WATCH,
    card_title,
    document_title,
    log_rows,
    made_words,
    odds_words,
    subtitle,
    thousand_of,
    warning_words,
    watch_words,
)
from fieldsim.draw.thousand import thousand_words
from fieldsim.language import tr, tr_later
from fieldsim.report.phrases import no_proof
from fieldsim.sim.program import Step

DEGREES = tr_later("How each wheel's degrees are found")
PLAN = tr_later("The run from above, its steps numbered; all of it is told in words below.")
STRIP = tr_later("The steps along the clock, and the room left on each.")


@dataclass(frozen=True)
class Pictures:
    """SVG elements: the plan, its strip, the start, the bar of a thousand drives ('' if none was tried)."""

    plan: str
    strip: str
    start: str
    thousand: str


def card_html(card: Card, drawn: Pictures) -> str:
    """The whole card."""
    parts = thousand_of(card)
    watch = watch_words(card)
    body = [
        "<header>",
        f"<h1>{escape(card_title(card))}</h1>",
        f'<p class="grey">{escape(subtitle(card))}</p>',
        *(f'<p class="warning">{escape(text)}</p>' for text in warning_words(card)),
        "</header>",
        "<main>",
        "<figure>", told(apart(drawn.plan, "plan"), tr(PLAN)), told(apart(drawn.strip, "strip"), tr(STRIP)),
        f"<figcaption>{escape(plan_note(card))}</figcaption>", "</figure>",
        *(["<figure>", told(apart(drawn.thousand, "thousand"), thousand_words(parts)), "</figure>"] if parts else []),
        f"<h2>{escape(tr(MAKE_READY))}</h2>", *ticks(ready_words(card)),
        f"<h2>{escape(tr(SET_IT))}</h2>", '<div class="top">',
        "<figure>", told(apart(drawn.start, "start"), start_picture_words(card)), "</figure>",
        "<div>", *ticks(set_words(card)), "</div>", "</div>",
        f"<h2>{escape(tr(GO))}</h2>", *ticks(go_words()),
        *(f'<p class="warning">{escape(text)}</p>' for text in go_or_not(card)),
        f"<h2>{escape(tr(ODDS))}</h2>", *(f"<p>{escape(text)}</p>" for text in odds_words(card)),
        *([f"<h2>{escape(tr(WATCH))}</h2>", *list_of(watch)] if watch else []),
        *_steps(card),
        f"<h2>{escape(tr(HAPPENED))}</h2>", f'<p class="small grey">{escape(tr(HINT_RESULT))}</p>',
        *form(tr("rows to write in, for a log"), card.log_columns, log_rows(card)), "</main>", "<footer>",
        f"<p>{escape(made_words(card))}</p>", f"<p>{escape(no_proof())}</p>", "</footer>",
    ]  # fmt: skip
    return document(document_title(card), card.paper, body)


def _steps(card: Card) -> list[str]:
    """The table of steps. The roles keep it a table for a reader's ear where a phone shows it as blocks."""
    geared = card.gear != 1
    does, seen = tr("what it does"), tr("what must be seen")
    turns = [tr("left wheel (degrees)"), tr("right wheel (degrees)")]
    turns += [tr("left motor (degrees)"), tr("right motor (degrees)")] if geared else []
    names = [tr("step"), does, *turns, tr("speed"), tr("takes (s)"), tr("clock (s)"), seen]
    numbers = set(names) - {does, seen}
    heads = "".join(f'<th scope="col" role="columnheader"{_kind(name, numbers)}>{escape(name)}</th>' for name in names)
    found = [
        f"<h2>{escape(steps_title(card))}</h2>",
        f'<table class="steps" role="table" aria-label="{escape(steps_title(card))}">',
        f'<thead role="rowgroup"><tr role="row">{heads}</tr></thead>', '<tbody role="rowgroup">',
    ]  # fmt: skip
    for step in card.steps:
        cells = [f'<tr role="row"><th scope="row" role="rowheader">{step.number}</th>']
        for name, points in zip(names[1:], _cells(card, step, geared), strict=True):
            label = "" if name == does else f' data-label="{escape(name)}"'
            text = "<br>".join(map(escape, points))
            cells.append(f'<td role="cell"{_kind(name, numbers)}{label}>{text}</td>')
        found.append("".join(cells) + "</tr>")
    found += ["</tbody>", "</table>"]
    notes = [*formula_words(card), *([tr(GAPS_MEAN)] if card.gaps else []), *start_notes(card), limits_mean(card)]
    found.append(f'<p class="small grey">{escape(" ".join(filter(None, notes)))}</p>')
    return found + _formulas(card)


def _kind(name: str, numbers: set[str]) -> str:
    return ' class="number"' if name in numbers else ""


def _cells(card: Card, step: Step, geared: bool) -> list[list[str]]:
    turns = list(turns_words(step.wheels, step))
    if geared:
        turns += turns_words(step.motors, step)
    values = [*turns, speed_words(step), *time_words(step)]
    seen = [f"{sight.mark} {sight.words}" for sight in sights(card, step.number)]
    return [[step_words(step)], *([value] if value else [] for value in values), seen]


def _formulas(card: Card) -> list[str]:
    """Every step's wheel degrees with the numbers put in, folded away."""
    rows = [
        f'<tr><th scope="row">{step.number}</th>'
        + "".join(f"<td>{escape(each)}</td>" for each in worked_out(step, card))
        + "</tr>"
        for step in card.steps
        if step.wheels is not None
    ]
    if not rows:
        return []
    heads = "".join(
        f'<th scope="col">{escape(name)}</th>' for name in (tr("step"), tr("left wheel"), tr("right wheel"))
    )
    return [
        "<details>", f"<summary>{escape(tr(DEGREES))}</summary>", '<div class="wide">',
        f'<table aria-label="{escape(tr(DEGREES))}">',
        f"<thead><tr>{heads}</tr></thead>",
        "<tbody>", *rows, "</tbody>", "</table>", "</div>", "</details>",
    ]  # fmt: skip
