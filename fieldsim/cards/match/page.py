"""The card of a match as one page of HTML that stands alone, laid out like the card of a run."""

from __future__ import annotations

from html import escape

from fieldsim.cards.html import document, form, list_of, ticks, told
from fieldsim.cards.match import words
from fieldsim.cards.match.card import MatchCard
from fieldsim.cards.match.rule_words import rule_rows
from fieldsim.language import tr
from fieldsim.report.phrases import no_proof
from fieldsim.report.words.match import picture_note

# Cells that are kept on one line, by their place in ``plan_heads``.
SHORT = (2, 3, 4, 6, 7)


def match_card_html(card: MatchCard, drawing: str) -> str:
    """The whole card. ``drawing`` is an SVG element of its lanes over the clock."""
    body = [
        "<header>", f"<h1>{escape(words.title(card))}</h1>", f'<p class="grey">{escape(words.subtitle(card))}</p>',
        "</header>", "<main>", *_plan(card), "<figure>", told(drawing, words.picture_words(card)),
        f"<figcaption>{escape(picture_note())}</figcaption>", "</figure>", '<div class="top">', "<div>",
        f"<h2>{escape(words.rules_title())}</h2>", *_rules(card), "</div>", "<div>",
        f"<h2>{escape(words.odds_title())}</h2>", *(f"<p>{escape(text)}</p>" for text in words.odds_words(card)),
    ]  # fmt: skip
    if card.worth:
        body += [f"<h2>{escape(words.worth_title())}</h2>", *list_of(words.worth_lines(card))]
    body += [
        "</div>", "</div>", f"<h2>{escape(words.before_title())}</h2>", *ticks(words.tick_words(card)),
        f"<h2>{escape(words.happened_title())}</h2>",
        *form(tr("rows to write in, for a log"), card.log_columns, words.log_rows(card)), "</main>", "<footer>",
        f"<p>{escape(words.made_words(card))}</p>", f"<p>{escape(no_proof())}</p>", "</footer>",
    ]  # fmt: skip
    return document(words.document_title(card), card.paper, body)


def _rules(card: MatchCard) -> list[str]:
    """What happened, and by the time that is left what comes next."""
    rows = rule_rows(card)
    found = [f"<p>{escape(words.rules_lead(card))}</p>"]
    if not rows:
        return found
    found.append(f'<table class="form" aria-label="{escape(words.rules_title())}"><tbody>')
    most = max(len(row.cells) for row in rows)
    for row in rows:
        cells = "".join(
            f"<td{f' colspan={most - len(row.cells) + 1}' if n == 0 and len(row.cells) < most else ''}>"
            f"{escape(cell.when)}{'<br>' if cell.when else ''}<strong>{escape(cell.do)}</strong></td>"
            for n, cell in enumerate(row.cells)
        )
        found.append(f'<tr><th scope="row">{escape(row.happened)}</th>{cells}</tr>')
    return [*found, "</tbody></table>"]


def _plan(card: MatchCard) -> list[str]:
    """The table of runs. The roles keep it a table for a reader's ear where a phone shows it as blocks."""
    names = words.plan_heads()
    heads = "".join(f'<th scope="col" role="columnheader">{escape(name)}</th>' for name in (tr("number"), *names))
    found = [
        f"<h2>{escape(words.plan_title())}</h2>",
        f'<table class="steps" role="table" aria-label="{escape(words.plan_title())}">',
        f'<thead role="rowgroup"><tr role="row">{heads}</tr></thead>', '<tbody role="rowgroup">',
    ]  # fmt: skip
    for step in card.steps:
        cells = [f'<tr role="row"><th scope="row" role="rowheader">{step.number}</th>']
        for n, (name, text) in enumerate(zip(names, words.plan_cells(card, step), strict=True)):
            label = f' data-label="{escape(name)}"' if n else ""
            kind = ' class="short"' if n in SHORT else ""
            cells.append(f'<td role="cell"{kind}{label}>{escape(text)}</td>')
        found.append("".join(cells) + "</tr>")
    return [*found, "</tbody>", "</table>", f'<p class="small grey">{escape(words.clock_note())}</p>']
