"""A statement as one page of HTML that stands alone: nothing fetched, pictures inside, readable without scripts.

The page is built as a tree and written by the standard library, so that every text is escaped, wherever it comes from;
drawings are let in element by element, and the page forbids loading and all scripts but its own one (if a run is to be
played), which it names by its hash. It is laid out for a screen, a
phone (rows of wide tables stand under one another, pictures are others, drawn for it) and paper of any size, and
follows the reader's choice of light or dark.
"""

from __future__ import annotations

import base64
import hashlib
import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from xml.etree import ElementTree as ET

from fieldsim.language import language, tr
from fieldsim.lettering import one_line, units_kept
from fieldsim.report.statement import Part, Picture, Playing, Points, Statement, Table, look_next

__all__ = ["Colophon", "inline", "report_html"]

# Contrasts, text on ground, by WCAG 2.1: at least 8.0 to 1 in either scheme; tests measure them in a browser.
_STYLE = """
:root { color-scheme: light dark; --ink: #111; --soft: #444; --ground: #fff; --band: #f0f3f6; --rule: #aab2ba;
  --answer: #e3f0fa; --edge: #0072b2; --mat: #f7f5f0; --model: #8a8a8a; --rim: #111; --target: #00735a;
  --trial: #333; --bad: #b34700; }
@media screen and (prefers-color-scheme: dark) {
  :root { --ink: #f2f2f2; --soft: #c8ccd0; --ground: #16191c; --band: #22272c; --rule: #59626b; --answer: #14303f;
    --edge: #56b4e9; --mat: #23272b; --model: #8d949b; --rim: #d9d9d9; --target: #35c99f; --trial: #d5d9dd;
    --bad: #ff9b57; }
}
* { box-sizing: border-box; }
html { font: 100%/1.45 "DejaVu Sans", Verdana, sans-serif; }
body { margin: 0 auto; max-width: 54rem; padding: 1rem; color: var(--ink); background: var(--ground);
  overflow-wrap: anywhere; font-variant-numeric: tabular-nums; }
h1 { font-size: 1.9rem; line-height: 1.15; margin: 0; }
h2 { font-size: 1.2rem; line-height: 1.25; margin: 1.8rem 0 0.5rem; }
p { margin: 0.35rem 0; }
ol { margin: 0.35rem 0; padding-left: 1.8rem; }
li { margin: 0.25rem 0; }
.about, figcaption, footer { color: var(--soft); font-size: 0.9rem; }
.answer { background: var(--answer); border-left: 0.4rem solid var(--edge); padding: 0.7rem 1rem; margin: 1rem 0; }
.answer .headline { font-size: 1.35rem; line-height: 1.3; font-weight: bold; margin: 0; }
table { border-collapse: collapse; width: 100%; margin: 0.4rem 0; }
th, td { text-align: left; vertical-align: top; padding: 0.3rem 0.6rem 0.3rem 0; font-weight: normal; }
/* Words and numbers stay whole where a column is narrow; only names, which may be one long word, are broken. */
th, td { overflow-wrap: break-word; }
tbody th { overflow-wrap: anywhere; min-width: 6rem; }
thead th { color: var(--soft); font-size: 0.9rem; vertical-align: bottom; border-bottom: 1.5px solid var(--ink); }
tbody th { font-weight: bold; }
tbody th, tbody td { border-bottom: 1px solid var(--rule); }
td p { margin: 0; }
td p + p { margin-top: 0.25rem; }
figure { margin: 0.4rem 0; }
.frame { overflow-x: auto; background: #fff; border-radius: 0.3rem; padding: 0.3rem; }
.narrow-one { display: none; }
svg { display: block; max-width: 100%; height: auto; margin: 0 auto; }
svg * { stroke-linejoin: round; stroke-linecap: butt; }
.driving canvas { display: block; width: 100%; border-radius: 0.3rem; }
.driving .row { display: flex; flex-wrap: wrap; gap: 0.5rem; align-items: center; margin: 0.5rem 0; }
.driving input[type="range"] { flex: 1 1 12rem; min-width: 8rem; height: 2.75rem; margin: 0;
  accent-color: var(--edge); }
.driving button, .driving select { font: inherit; color: var(--ink); background: var(--band); min-height: 2.75rem;
  min-width: 2.75rem; padding: 0 0.8rem; border: 1px solid var(--soft); border-radius: 0.3rem; max-width: 100%; }
.driving [hidden] { display: none; }
footer { margin-top: 2rem; border-top: 1px solid var(--rule); }
dl { display: grid; grid-template-columns: max-content 1fr; gap: 0.2rem 1rem; margin: 0.6rem 0; }
dt { font-weight: bold; }
dd { margin: 0; }
code { font: 0.95em/1.4 "DejaVu Sans Mono", Consolas, monospace; }
:focus-visible { outline: 3px solid var(--edge); outline-offset: 2px; }
@media screen and (max-width: 42rem) {
  h1 { font-size: 1.5rem; }
  .answer .headline { font-size: 1.15rem; }
  .wide, .wide tbody, .wide tr, .wide td, .wide tbody th { display: block; }
  .wide thead { position: absolute; width: 1px; height: 1px; overflow: hidden; clip-path: inset(50%); }
  .wide tr { border-bottom: 1px solid var(--rule); padding: 0.4rem 0; }
  .wide td, .wide tbody th { border: 0; padding: 0.1rem 0; overflow-wrap: anywhere; }
  .wide td { display: inline-block; margin-right: 1rem; }
  .wide td:empty { display: none; }
  .wide td[data-label]::before { content: attr(data-label) ": "; color: var(--soft); }
  .wide td p { display: inline; }
  .wide td p + p { display: block; }
  .frame svg { max-width: none; min-width: 38rem; width: 38rem; }
  /* One of the two is shown: the other is not there for anybody. */
  .narrow-one { display: block; }
  .narrow-one svg { max-width: 26rem; min-width: 0; width: 100%; }
  .wide-one { display: none; }
  dl { grid-template-columns: 1fr; }
}
@page { margin: 14mm; @bottom-right { content: counter(page) " / " counter(pages); font: 8pt sans-serif; } }
@media print {
  .driving, section:has(> .driving) { display: none; }
  html { font-size: 9.5pt; }
  body { max-width: none; padding: 0; }
  h2 { break-after: avoid; margin-top: 1.2rem; }
  th, td { padding-top: 0.15rem; padding-bottom: 0.15rem; }
  tr, li, figure, .answer, .short, footer { break-inside: avoid; }
  thead { display: table-header-group; }
  figcaption { break-before: avoid; }
  .frame { overflow: visible; padding: 0; }
  .frame svg { max-height: 215mm; }
  .answer { print-color-adjust: exact; }
}
"""

# No loading; a drawing may hold pixels, as data.
_POLICY = "default-src 'none'; style-src 'unsafe-inline'; img-src data:"


def _policy(script: str) -> str:
    """The Content-Security-Policy (W3C, Level 2, 2016): no script at all, or only that one, by its hash."""
    if not script:
        return _POLICY
    digest = base64.b64encode(hashlib.sha256(script.encode()).digest()).decode()
    return f"{_POLICY}; script-src 'sha256-{digest}'"


# A table of more columns than this is stacked on a phone; one of so many rows is not broken on paper.
BESIDE, UNBROKEN = 2, 8

SVG_TAGS = {"svg", "g", "path", "defs", "text", "tspan", "use", "clipPath", "rect", "image", "circle", "pattern"}


@dataclass(frozen=True)
class Colophon:
    """Where a page comes from: pairs of what and which, and the command that makes it again."""

    facts: tuple[tuple[str, str], ...]
    command: str


def report_html(statement: Statement, colophon: Colophon) -> str:
    """The whole page, ending in a line end. Advice comes right after the answer, since that is what it is read for."""
    plays = any(isinstance(part, Playing) for section in statement.sections for part in section.parts)
    script = _script() if plays else ""
    head = _element(
        "head",
        _element("meta", charset="utf-8"),
        _element("meta", **{"http-equiv": "Content-Security-Policy", "content": _policy(script)}),
        _element("meta", name="viewport", content="width=device-width, initial-scale=1"),
        _element("meta", name="generator", content="fieldsim"),
        _element("title", _clean(statement.name)),
        _element("style", _STYLE),
    )
    main = _element("main", *_answer(statement))
    if statement.advice:
        items = _points(statement.advice)
        main.append(_element("section", _element("h2", _clean(look_next())), items))
    pictures = 0
    for section in statement.sections:
        parts = []
        for part in section.parts:
            pictures += isinstance(part, Picture)
            parts.append(_part(part, f"p{pictures}-", section.title))
        # What only a script can show is not there without one.
        hidden = {"hidden": "hidden"} if all(isinstance(part, Playing) for part in section.parts) else {}
        main.append(_element("section", _element("h2", _clean(section.title)), *parts, **hidden))
    body = _element("body", _header(statement), main, _footer(statement, colophon))
    if script:
        body.append(_element("script", script))
    page = _element("html", head, body, lang=language())
    return f"<!doctype html>\n{ET.tostring(page, encoding='unicode', method='html')}\n"


def _script() -> str:
    from fieldsim.pages.driving import SCRIPT

    return f"\n{SCRIPT}"


def _header(statement: Statement) -> ET.Element:
    # The whole title begins with the short one, or is another one.
    title = statement.title.removeprefix(f"{statement.name}: ")
    lines = [title] if title != statement.name else []
    about = [_element("p", _clean(text), **{"class": "about"}) for text in (*lines, *statement.about)]
    return _element("header", _element("h1", _clean(statement.name)), *about)


def _answer(statement: Statement) -> Iterator[ET.Element]:
    texts = [_element("p", _clean(statement.headline), **{"class": "headline"})] if statement.headline else []
    texts += [_element("p", _clean(text)) for text in statement.further]
    if texts:
        yield _element("div", *texts, **{"class": "answer"})


def _footer(statement: Statement, colophon: Colophon) -> ET.Element:
    facts = [
        each for what, which in colophon.facts for each in (_element("dt", _clean(what)), _element("dd", _clean(which)))
    ]
    again = [_element("dt", tr("to make it again")), _element("dd", _element("code", one_line(colophon.command)))]
    closing = [_element("p", _clean(text)) for text in statement.closing]
    return _element("footer", _element("h2", tr("How this page was made")), _element("dl", *facts, *again), *closing)


def _part(part: Part, mark: str, title: str) -> ET.Element:
    """``mark`` goes before the ids of a drawing, ``title`` is what the part stands under."""
    match part:
        case Points(items):
            return _points(items)
        case Table():
            return _table(part, title)
        case Picture(svg, words, caption, narrow):
            frames = [_frame(svg, mark, words, caption, "frame wide-one" if narrow else "frame")]
            if narrow:
                frames.append(_frame(narrow, f"n{mark}", words, caption, "frame narrow-one"))
            return _element("figure", *frames, _element("figcaption", _clean(caption)))
        case Playing(data, caption):
            # Nothing in it ends the element: browsers look for no more than "</".
            held = _element("script", data.replace("<", "\\u003c"), id="driving-data", type="application/json")
            return _element(
                "figure",
                held,
                _element("div", id="driving", hidden="hidden"),
                _element("figcaption", _clean(caption)),
                **{"class": "driving"},
            )
    return _element("p", _clean(part))


def _frame(svg: str, mark: str, words: str, caption: str, kind: str) -> ET.Element:
    drawing = inline(svg, mark)
    drawing.set("role", "img")
    drawing.set("aria-label", one_line(words))
    # What can be scrolled can be reached by keyboard, and has a name.
    frame = {"class": kind, "role": "group", "tabindex": "0", "aria-label": one_line(caption)}
    return _element("div", drawing, **frame)


def _points(items: Sequence[str]) -> ET.Element:
    return _element("ol", *(_element("li", _clean(item)) for item in items))


def _table(table: Table, title: str) -> ET.Element:
    """A table. Its roles keep it one for a reader's ear where a phone shows it as blocks."""
    heads = [*table.head, *([table.below_head or tr("more")] if any(row.below for row in table.rows) else [])]
    head = _element(
        "tr", *(_element("th", _clean(name), scope="col", role="columnheader") for name in heads), role="row"
    )
    lines = []
    for row in table.rows:
        cells = [_element("th", _clean(row.cells[0]), scope="row", role="rowheader")]
        for name, cell in zip(heads[1:], row.cells[1:], strict=False):
            cells.append(_element("td", _clean(cell), role="cell", **{"data-label": name}))
        if len(heads) > len(row.cells):
            below = (_element("p", _clean(text)) for text in row.below)
            cells.append(_element("td", *below, role="cell", **{"data-label": heads[-1]}))
        lines.append(_element("tr", *cells, role="row"))
    kinds = [kind for kind, is_so in (("wide", len(heads) > BESIDE), ("short", len(table.rows) <= UNBROKEN)) if is_so]
    return _element(
        "table",
        _element("thead", head, role="rowgroup"),
        _element("tbody", *lines, role="rowgroup"),
        role="table",
        **{"aria-label": one_line(title)},
        **({"class": " ".join(kinds)} if kinds else {}),
    )


def _clean(text: str) -> str:
    """A text on one line, without signs that steer, and with numbers kept beside their units."""
    return units_kept(one_line(text)) if text.strip() else ""


# Elements after which the source goes on in a new line.
_BLOCKS = {
    "head", "meta", "title", "style", "body", "header", "main", "section", "footer", "h1", "h2", "p", "div", "figure",
    "figcaption", "script", "table", "thead", "tbody", "tr", "ol", "li", "dl", "dd", "svg",
}  # fmt: skip


def _element(tag: str, *inside: ET.Element | str, **attributes: str) -> ET.Element:
    found = ET.Element(tag, attributes)
    if tag in _BLOCKS:
        found.tail = "\n"
    for each in inside:
        if isinstance(each, str):
            found.text = each
        else:
            found.append(each)
    return found


# --- drawings ------------------------------------------------------------------------------------------------------

_XLINK = "{http://www.w3.org/1999/xlink}href"
_REFERENCE = re.compile(r"url\(#([^)]*)\)")
_ELSEWHERE = re.compile(r"url\((?!#)")


def inline(svg: str, mark: str) -> ET.Element:
    """A drawing as an element of a page. ``mark`` is put before every id in it, so that drawings do not mix theirs up.

    Styles of whole documents, comments and metadata go. Raises ValueError for an element or attribute that has no
    business in a drawing of ours: a script, a link, something to load.
    """
    root = ET.fromstring(svg)
    _let_in(root, mark)
    root.tail = "\n"
    return root


def _let_in(element: ET.Element, mark: str) -> None:
    element.tag = element.tag.rpartition("}")[2]
    if element.tag not in SVG_TAGS:
        raise ValueError(f"a drawing may not hold <{element.tag}>")
    attributes = dict(element.attrib)
    element.attrib.clear()
    for name, value in attributes.items():
        if name in (_XLINK, "href"):
            if value.startswith("#"):
                element.set("href", f"#{mark}{value[1:]}")
            elif element.tag == "image" and value.startswith("data:image/png;base64,"):
                element.set("href", value)
            else:
                raise ValueError(f"a drawing may not link to {value[:40]!r}")
        elif name.startswith("on"):
            raise ValueError(f"a drawing may not have {name}")
        elif name == "id":
            element.set("id", f"{mark}{value}")
        elif not name.startswith("{"):
            if _ELSEWHERE.search(value):
                raise ValueError(f"a drawing may not load {value[:40]!r}")
            element.set(name, _REFERENCE.sub(rf"url(#{mark}\1)", value))
    for child in list(element):
        kind = child.tag.rpartition("}")[2]
        # matplotlib writes a rule for all elements and a description of the file; the page has the rule.
        if kind in ("style", "metadata") or (kind == "defs" and all(_is_style(each) for each in child)):
            element.remove(child)
        else:
            _let_in(child, mark)


def _is_style(element: ET.Element) -> bool:
    return element.tag.rpartition("}")[2] == "style"
