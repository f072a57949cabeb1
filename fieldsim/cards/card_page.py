"""The card of a run, and the blank test sheet, as one page of HTML each that stands alone: no script, nothing fetched.

All numbers and words are those of ``card_words``. Every text is escaped where it is put in, and the page forbids
scripts and loading besides. It is laid out for paper (``@page``), a screen and a phone, where rows of the steps stand
under one another.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from html import escape

from fieldsim.cards import card_words as words
from fieldsim.cards.card import PAPERS, BlankTable, BlankTests, Card, Step
from fieldsim.language import language, tr, tr_later
from fieldsim.report.phrases import no_proof

# Dark grey on white has a contrast of 9.7 to 1, the red of what is measured 6.6 to 1 (WCAG 2.1 asks for 4.5 to 1).
_STYLE = """
:root { color-scheme: light; }
* { box-sizing: border-box; }
body { margin: 0 auto; max-width: 60rem; padding: 1rem; font: 1rem/1.35 "DejaVu Sans", Verdana, sans-serif;
  color: #000; background: #fff; overflow-wrap: anywhere; }
h1 { font-size: 1.8rem; line-height: 1.15; margin: 0; }
h2 { font-size: 1.1rem; margin: 1rem 0 0.3rem; }
p, ul, ol, figure { margin: 0.2rem 0; }
ul, ol { padding-left: 1.3rem; }
.grey, footer, figcaption { color: #444; }
.small, footer, figcaption { font-size: 0.85rem; }
.top { display: grid; grid-template-columns: 1.1fr 1fr; gap: 1rem; }
.top h2:first-child { margin-top: 0; }
.top ul.plain, ul.ticks { list-style: none; padding: 0; }
svg { display: block; width: 100%; height: auto; }
ul.ticks { columns: 18rem 3; }
ul.ticks li { break-inside: avoid; padding: 0.1rem 0; }
table { border-collapse: collapse; width: 100%; }
th { text-align: left; font-weight: normal; color: #444; font-size: 0.85rem; vertical-align: bottom; }
td, th { padding: 0.15rem 0.4rem; }
td { vertical-align: top; }
.steps th[scope=row] { font-weight: bold; color: #000; font-size: 1rem; vertical-align: top; text-align: right; }
.steps thead { border-bottom: 1.5px solid #000; }
.steps tbody tr:nth-child(even) { background: #eee; }
.number { text-align: right; white-space: nowrap; }
.short { white-space: nowrap; }
.wide { overflow-x: auto; }
.form td, .form th { border: 1px solid #888; }
.form th { background: #eee; color: #000; }
.form td { height: 1.9rem; color: #444; font-size: 0.85rem; vertical-align: middle; }
footer { margin-top: 1rem; }
code { font: inherit; }
@media screen and (max-width: 44rem) {
  .top { grid-template-columns: 1fr; }
  .steps, .steps tbody, .steps tr, .steps td, .steps th[scope=row] { display: block; text-align: left; }
  .steps thead { position: absolute; width: 1px; height: 1px; overflow: hidden; clip-path: inset(50%); }
  .steps tr { border-bottom: 1px solid #888; padding: 0.4rem 0; }
  .steps td:empty { display: none; }
  .steps td[data-label]::before { content: attr(data-label) ": "; color: #444; }
  .number, .short { white-space: normal; }
}
@media print {
  html { font-size: 8.5pt; }
  body { max-width: none; padding: 0; }
  h2 { margin-top: 0.6rem; break-after: avoid; }
  tr, figure, li { break-inside: avoid; }
  thead { display: table-header-group; }
  details:not([open]) { display: none; }
  .wide { overflow: visible; }
  * { print-color-adjust: exact; }
}
"""


DEGREES = tr_later("How each wheel's degrees are found")


def document(title: str, paper: str, body: Iterable[str]) -> str:
    width, height = PAPERS[paper]
    page = (
        f"@page {{ size: {width:g}mm {height:g}mm; margin: 10mm; @bottom-right "
        f"{{ content: {_counted()}; font-size: 8pt; }} }}"
    )
    head = [
        "<!doctype html>", f'<html lang="{language()}">', "<head>", '<meta charset="utf-8">',
        """<meta http-equiv="Content-Security-Policy" content="default-src 'none'; style-src 'unsafe-inline'">""",
        '<meta name="viewport" content="width=device-width, initial-scale=1">', f"<title>{escape(title)}</title>",
        f"<style>{_STYLE}{page}\n</style>", "</head>", "<body>",
    ]  # fmt: skip
    return "\n".join([*head, *body, "</body>", "</html>", ""])


def _counted() -> str:
    """'page 1 of 2' as the content of a page's margin."""
    before, between, after = words.page_words(-1, -2).replace("-2", "-1").split("-1")
    return f'"{before}" counter(page) "{between}" counter(pages) "{after}"'


def card_html(card: Card, drawing: str) -> str:
    """The whole card. ``drawing`` is the start's picture: an SVG element such as ``picture.card.start_svg`` makes."""
    body = [
        "<header>",
        f"<h1>{escape(words.title(card))}</h1>",
        f'<p class="grey">{escape(words.subtitle(card))}</p>',
        "</header>",
        "<main>",
        '<div class="top">',
        "<figure>",
        told(drawing, words.start_picture_words(card)),
        "</figure>",
        "<div>",
        f"<h2>{escape(tr(words.SET_IT))}</h2>",
        *list_of(words.start_words(card), "plain"),
        f"<h2>{escape(tr(words.ODDS))}</h2>",
        *(f"<p>{escape(text)}</p>" for text in words.odds_words(card)),
    ]
    watch = words.watch_words(card)
    if watch:
        body += [f"<h2>{escape(tr(words.WATCH))}</h2>", *list_of(watch)]
    body += [
        "</div>", "</div>", *_steps(card), f"<h2>{escape(tr(words.BEFORE))}</h2>", *ticks(words.tick_words(card)),
        f"<h2>{escape(tr(words.HAPPENED))}</h2>", f'<p class="small grey">{escape(tr(words.HINT_RESULT))}</p>',
        *form(tr("rows to write in, for a log"), card.log_columns, words.log_rows(card)), "</main>", "<footer>",
        f"<p>{escape(words.made_words(card))}</p>", f"<p>{escape(no_proof())}</p>", "</footer>",
    ]  # fmt: skip
    return document(words.document_title(card), card.paper, body)


def told(drawing: str, text: str) -> str:
    """The picture with its words for those who cannot see it."""
    return drawing.replace("<svg ", f'<svg role="img" aria-label="{escape(text)}" ', 1)


def list_of(points: Sequence[str], kind: str = "") -> list[str]:
    marked = f' class="{kind}"' if kind else ""
    return [f"<ul{marked}>", *(f"<li>{escape(point)}</li>" for point in points), "</ul>"]


def ticks(points: Sequence[str]) -> list[str]:
    boxes = (f'<li><label><input type="checkbox"> {escape(point)}</label></li>' for point in points)
    return ['<ul class="ticks">', *boxes, "</ul>"]


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
        f"<h2>{escape(words.steps_title(card))}</h2>",
        f'<table class="steps" role="table" aria-label="{escape(words.steps_title(card))}">',
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
    legend = [*words.formula_words(card), *([tr(words.GAPS_MEAN)] if card.gaps else [])]
    found.append(f'<p class="small grey">{escape(" ".join(legend))}</p>')
    return found + _formulas(card)


def _kind(name: str, numbers: set[str]) -> str:
    return ' class="number"' if name in numbers else ""


def _cells(card: Card, step: Step, geared: bool) -> list[list[str]]:
    turns = list(words.turns_words(step.wheels, step))
    if geared:
        turns += words.turns_words(step.motors, step)
    values = [*turns, words.speed_words(step), *words.time_words(step)]
    seen = [f"{words.BOX} {point}" for point in words.seen_words(card, step.number)]
    return [[words.step_words(step)], *([value] if value else [] for value in values), seen]


def _formulas(card: Card) -> list[str]:
    """Every step's wheel degrees with the numbers put in, folded away."""
    rows = [
        f'<tr><th scope="row">{step.number}</th>'
        + "".join(f"<td>{escape(each)}</td>" for each in words.worked_out(step, card))
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


def form(named: str, columns: Sequence[str], rows: Sequence[Sequence[str]]) -> list[str]:
    """A table to write in."""
    heads = "".join(f'<th scope="col">{escape(column)}</th>' for column in columns)
    # What can be scrolled can be reached by keyboard and has a name.
    found = [
        f'<div class="wide" role="region" tabindex="0" aria-label="{escape(named)}">',
        f'<table class="form" aria-label="{escape(named)}">',
        f"<thead><tr>{heads}</tr></thead>", "<tbody>",
    ]  # fmt: skip
    found += ["<tr>" + "".join(f"<td>{escape(text)}</td>" for text in row) + "</tr>" for row in rows]
    return [*found, "</tbody>", "</table>", "</div>"]


# --- the test sheet ------------------------------------------------------------------------------------------------


def sheet_html(sheet: BlankTests) -> str:
    """The blank test sheet."""
    title = words.sheet_title(sheet)
    body = [
        "<header>", f"<h1>{escape(title)}</h1>", f'<p class="grey">{escape(words.sheet_speeds(sheet))}</p>',
        "</header>", "<main>", *(f"<p>{escape(text)}</p>" for text in (tr(words.TEST_CARE), tr(words.TEST_SIGNS))),
    ]  # fmt: skip
    for each in sheet.tables:
        body += _tests(each)
    body += ["</main>", f"<footer><p>{escape(words.sheet_made(sheet))}</p></footer>"]
    return document(title, sheet.paper, body)


def _tests(each: BlankTable) -> list[str]:
    name = tr(words.TEST_NAMES[each.kind])
    return [
        f"<h2>{escape(name)}</h2>", f'<p class="small">{escape(tr(words.TEST_STEPS[each.kind]))}</p>',
        *form(tr("rows to write in: {test}", test=name), each.columns, each.rows),
    ]  # fmt: skip
