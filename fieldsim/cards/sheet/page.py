"""The blank test sheet as one page of HTML that stands alone."""

from __future__ import annotations

from collections.abc import Mapping
from html import escape

from fieldsim.cards.html import apart, document, form, told
from fieldsim.cards.sheet.blank import BlankTable, BlankTests
from fieldsim.cards.sheet.words import (
    TEST_CARE,
    TEST_NAMES,
    TEST_SIGNS,
    TEST_STEPS,
    sheet_made,
    sheet_speeds,
    sheet_title,
)
from fieldsim.language import tr


def sheet_html(sheet: BlankTests, drawn: Mapping[str, str]) -> str:
    """The blank test sheet. ``drawn`` has an SVG element for each kind of test."""
    title = sheet_title(sheet)
    body = [
        "<header>", f"<h1>{escape(title)}</h1>", f'<p class="grey">{escape(sheet_speeds(sheet))}</p>',
        "</header>", "<main>", *(f"<p>{escape(text)}</p>" for text in (tr(TEST_CARE), tr(TEST_SIGNS))),
    ]  # fmt: skip
    for each in sheet.tables:
        body += _tests(each, drawn[each.kind])
    body += ["</main>", f"<footer><p>{escape(sheet_made(sheet))}</p></footer>"]
    return document(title, sheet.paper, body)


def _tests(each: BlankTable, drawing: str) -> list[str]:
    name, steps = tr(TEST_NAMES[each.kind]), tr(TEST_STEPS[each.kind])
    picture = told(apart(drawing, each.kind.replace(" ", "-")), steps)
    return [
        f"<h2>{escape(name)}</h2>", f'<div class="top"><figure>{picture}</figure><p>{escape(steps)}</p></div>',
        *form(tr("rows to write in: {test}", test=name), each.columns, each.rows),
    ]  # fmt: skip
