"""A card or sheet as one page of HTML that stands alone: no script, nothing fetched.

Every text is escaped where it is put in, and the page forbids scripts and loading besides. It is laid out for paper
(``@page``), a screen and a phone, where rows of the steps stand under one another.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from html import escape

from fieldsim.cards.shared import PAPERS, page_words
from fieldsim.language import language

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
.warning { border: 2px solid; padding: .4em .6em; font-weight: bold; }
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
    before, between, after = page_words(-1, -2).replace("-2", "-1").split("-1")
    return f'"{before}" counter(page) "{between}" counter(pages) "{after}"'


def apart(drawing: str, name: str) -> str:
    """The picture with names of its own inside, so that several of them can stand on a page."""
    return re.sub(r'(\bid="|href="#|url\(#)', rf"\g<1>{name}-", drawing)


def told(drawing: str, text: str) -> str:
    """The picture with its words for those who cannot see it."""
    return drawing.replace("<svg ", f'<svg role="img" aria-label="{escape(text)}" ', 1)


def list_of(points: Sequence[str], kind: str = "") -> list[str]:
    marked = f' class="{kind}"' if kind else ""
    return [f"<ul{marked}>", *(f"<li>{escape(point)}</li>" for point in points), "</ul>"]


def ticks(points: Sequence[str]) -> list[str]:
    boxes = (f'<li><label><input type="checkbox"> {escape(point)}</label></li>' for point in points)
    return ['<ul class="ticks">', *boxes, "</ul>"]


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
