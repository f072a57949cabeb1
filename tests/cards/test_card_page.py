"""The card on paper and as a page: sizes, what fits, names that could do harm, what a reader's ear and a phone get.

All fields, robots, runs and names are invented. Contrast after the World Wide Web Consortium, Web Content
Accessibility Guidelines 2.1, 2018 (relative luminance; coefficients from memory).
"""

from __future__ import annotations

import re
import xml.etree.ElementTree as ET
from collections.abc import Iterator
from dataclasses import replace
from functools import cache
from html import unescape
from itertools import combinations
from pathlib import Path

import pytest
from matplotlib import rc_context
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.text import Text
from pages import ALLOWED, HARMFUL, Page, contrast, harmless, named
from plans import TYPICAL, robot

from fieldsim import load_run
from fieldsim.cards.paper import FORMS, MARGIN, pdf
from fieldsim.cards.run.card import Card, make_card
from fieldsim.cards.run.check_words import go_or_not, go_words, ready_words, set_words, tick_words
from fieldsim.cards.run.page import Pictures, card_html
from fieldsim.cards.run.pages import card_file, card_pages, card_pictures
from fieldsim.cards.run.plan_picture import cautious
from fieldsim.cards.run.start_picture import start_svg
from fieldsim.cards.run.start_words import start_picture_words
from fieldsim.cards.run.step_words import seen_words
from fieldsim.cards.run.text import card_text
from fieldsim.cards.run.words import warning_words
from fieldsim.cards.shared import PAPERS
from fieldsim.cards.sheet.blank import BlankTests, blank_tests
from fieldsim.cards.sheet.pages import sheet_file, sheet_pages
from fieldsim.cards.sheet.words import told_once
from fieldsim.draw.look import plain_style
from fieldsim.lettering import cells, shorten
from fieldsim.model import (
    Field,
    Run,
    StartByEye,
    Straight,
    Turn,
)
from fieldsim.report.phrases import no_proof
from fieldsim.studies.answer import UnknownAnswer
from fieldsim.studies.attempt import attempt

BAKERY = Path(__file__).parents[2] / "runs" / "bakery"
MM = 25.4


def card(of: Run, paper: str = "A4", trials: int = 400, file: str = "runs/test-run.yaml") -> Card:
    return make_card(attempt(of, trials=trials, keep=trials, threads=1), file, paper)


def long_run(count: int, gear: float = 1.0) -> Run:
    """The flour round with so many segments, all of them driven."""
    of = load_run(BAKERY / "flour-round.yaml")
    first, rest = of.segments[:3], of.segments[3:]
    fill = (Straight(-100.0), Straight(100.0), Turn(10.0), Turn(-10.0)) * count
    segments = (*first, *fill[: count - len(of.segments)], *rest)
    drive = replace(of.robot.drive, gear=gear)
    return replace(of, segments=segments, robot=replace(of.robot, drive=drive), finish=None)


@pytest.fixture(scope="module")
def flour() -> tuple[Run, Card]:
    of = load_run(BAKERY / "flour-round.yaml")
    return of, card(of, trials=1000)


@pytest.fixture(scope="module")
def harmful() -> tuple[Run, Card]:
    of = named(*HARMFUL)
    return of, card(of, file="runs/<img src=x onerror=alert(4)>.yaml")


# --- paper ----------------------------------------------------------------------------------------------------------


def boxes_of(data: bytes) -> list[tuple[float, float]]:
    """Width and height of every page of a PDF, mm. 72 points are an inch (ISO 32000-1, from memory)."""
    found = re.findall(rb"/MediaBox \[ *0 0 ([\d.]+) ([\d.]+) *\]", data)
    assert len(found) == len(re.findall(rb"/Type /Page\b(?!s)", data))
    return [(float(w) / 72 * MM, float(h) / 72 * MM) for w, h in found]


@cache
def laid_out(which: str, paper: str) -> tuple[Card, list[Figure]]:
    """The card of one of these runs and its pages."""
    if which.startswith("long "):
        of = long_run(int(which.split()[1]), gear=1.5)
    elif which == "names":
        of = named(*(f"{n} {LONG}"[:80] for n in range(7)))
    else:
        of = load_run(BAKERY / which)
    told = card(of, paper)
    return told, card_pages(of, told)


A4, LETTER = (210.0, 297.0), (8.5 * MM, 11 * MM)


@pytest.mark.parametrize(
    ("which", "paper", "size", "count"),
    [("mill-hatch.yaml", "Letter", LETTER, 2), pytest.param("yard-bell.yaml", "A4", A4, 2, marks=pytest.mark.slow),
     pytest.param("long 29", "Letter", LETTER, 3, marks=pytest.mark.slow), ("long 29", "A4", A4, 3)],
)  # fmt: skip
def test_the_pdf_has_a_front_and_a_back_of_the_papers_size(
    which: str, paper: str, size: tuple[float, float], count: int
) -> None:
    """Some 30 segments, with columns for the motors, take one page more."""
    data = pdf(laid_out(which, paper)[1], "x")
    assert data.startswith(b"%PDF-")
    found = boxes_of(data)
    assert len(found) == count
    assert found == [pytest.approx(size, abs=0.05)] * count


def test_a_very_long_run_takes_more_pages_and_they_are_numbered() -> None:
    told, pages = laid_out("long 70", "A4")
    assert len(told.steps) == 70
    assert len(pages) > 3
    for n, page in enumerate(pages, 1):
        assert f"page {n} of {len(pages)}" in texts(page)
    # Every step is in the words and in the numbers, once.
    written = [text.get_text() for page in pages[1:] for text in page.axes[0].texts]
    for number in range(1, 71):
        assert written.count(str(number)) == 2


def test_what_is_read_at_the_table_is_large_and_nothing_of_it_is_cut() -> None:
    """Boxes, their words, steps, warnings: 11 points at least, also where names are as long as they may be."""
    told, pages = laid_out("names", "Letter")
    front = pages[0].axes[0].texts
    for points in (ready_words(told), set_words(told, shortly=True), go_words(), go_or_not(told), warning_words(told)):
        for point in points:
            assert "".join(point.split()) in "".join("".join(text.get_text().split()) for text in front)
    for page in pages:
        for text in page.axes[0].texts:
            if text.get_text().startswith(("\N{BALLOT BOX}", "!", "GO", "NO GO", "NOT READY", "Not ready")):
                assert text.get_fontsize() >= 11.0
    care = ("The event's own rules come first", "An adult is here", "Fingers and hair off gears and wheels")
    for words in care:
        (found,) = [text for text in front if text.get_text() == words]
        assert found.get_fontsize() >= 11.0
    boxes = [text for text in front if text.get_text() == "\N{BALLOT BOX}"]
    assert len(boxes) == len(tick_words(told))


def labelled(figure: Figure, label: str) -> Axes:
    return next(axes for axes in figure.axes if axes.get_label() == label)


def test_the_plan_shows_every_leg_the_tight_places_and_both_ends(flour: tuple[Run, Card]) -> None:
    of, told = flour
    front = card_pages(of, told)[0]
    plan = labelled(front, "plan")
    marks = {text.get_gid(): text.get_text() for text in plan.texts}
    for step in told.steps:
        assert marks[f"segment-number-{step.number}"] == str(step.number)
    lines = {line.get_gid(): line for line in plan.lines}
    shown = [gap for gap in told.gaps if cautious(gap)]
    assert [gap.obstacle for gap in shown] == ["milk churn", "flour bin"]
    for gap in shown:
        assert marks[f"gap-name-{gap.letter}"].startswith(gap.letter)
        (x,), (y,) = lines[f"gap-{gap.letter}"].get_data()
        assert (x, y) == gap.at
    ends = {patch.get_gid() for patch in plan.patches}
    assert {"start", "end", "walls", *(f"obstacle-{n}" for n in range(1, 1 + len(of.field.obstacles)))} <= ends
    # One mm of the field is as long across as up.
    box = plan.get_position()
    (left, right), (low, high) = plan.get_xlim(), plan.get_ylim()
    width, height = PAPERS["A4"]
    assert box.width * width / (right - left) == pytest.approx(box.height * height / (high - low), rel=1e-6)


def test_a_plan_that_leaves_the_field_is_drawn_inside_its_frame() -> None:
    """The words on the plan stay on it, wherever the robot would be."""
    of = load_run(BAKERY / "flour-round.yaml")
    of = replace(of, segments=(Straight(1500.0), Turn(90.0), Straight(300.0)), finish=None)
    plan = labelled(card_pages(of, card(of))[0], "plan")
    assert plan.texts
    for text in (text for text in plan.texts if text.get_text()):
        x, y = text.get_position()
        assert -50 < x < of.field.size[0] + 50, text.get_text()
        assert -50 < y < of.field.size[1] + 50, text.get_text()


def test_the_strip_is_the_clock(flour: tuple[Run, Card]) -> None:
    """Each step as wide as it takes, one after the other; over each that drives, the room that is left."""
    of, told = flour
    strip = labelled(card_pages(of, told)[0], "strip")
    boxes = [patch for patch in strip.patches if patch.get_gid() is None]
    across = strip.get_xlim()[1] / told.seconds
    begin = 0.0
    for box, step in zip(boxes, told.steps, strict=True):
        assert box.get_x() == pytest.approx(begin * across)  # type: ignore[attr-defined]
        assert box.get_width() == pytest.approx(step.seconds * across)  # type: ignore[attr-defined]
        begin = step.clock
    rooms = {patch.get_gid(): patch for patch in strip.patches if patch.get_gid() is not None}
    assert set(rooms) == {f"room-{room.step}" for room in told.rooms}
    tightest = min(told.rooms, key=lambda room: room.left)
    assert tightest.step == 11
    assert min(rooms, key=lambda gid: rooms[gid].get_height()) == "room-11"  # type: ignore[attr-defined]


def test_under_the_bar_stands_what_the_tests_leave_open(flour: tuple[Run, Card]) -> None:
    of, told = flour
    open_to = UnknownAnswer(low=0.28, high=0.8, mean=0.6, tests=36, robots=100, untold=())
    front = card_pages(of, replace(told, unknown=open_to))[0]
    bar = labelled(front, "thousand").get_position()
    found = [text for text in front.axes[0].texts if "between 280 and 800" in text.get_text()]
    assert len(found) == 1
    assert found[0].get_position()[1] > (1 - bar.y1) * PAPERS["A4"][1]
    assert list(overlaps(extents(front, whole_page=True), 0.4)) == []


def test_no_run_that_hardly_gets_through_is_let_go() -> None:
    told, pages = laid_out("names", "Letter")
    assert told.success.share < 0.05
    front = texts(pages[0])
    assert any(text.startswith("NOT READY") for text in front)
    assert not any(text.startswith("GO:") for text in front)
    assert not any(text.startswith("GO:") for text in card_text(told).splitlines())


def test_a_sheet_is_printed_at_its_papers_size() -> None:
    sheet = blank_tests(robot(), "1.2.3", "Letter")
    assert boxes_of(sheet_file(sheet, "pdf")) == [pytest.approx((8.5 * MM, 11 * MM), abs=0.05)]


def test_the_same_card_gives_the_same_bytes(flour: tuple[Run, Card]) -> None:
    for form in FORMS:
        assert card_file(*flour, form) == card_file(*flour, form)
    with pytest.raises(ValueError, match="odt"):
        card_file(*flour, "odt")
    with pytest.raises(ValueError, match="odt"):
        sheet_file(blank_tests(robot(), "1"), "odt")


def texts(figure: Figure) -> list[str]:
    return [text.get_text() for text in figure.findobj(Text) if text.get_text()]


Extent = tuple[str, float, float, float, float]


def extents(figure: Figure, whole_page: bool) -> list[Extent]:
    """Every text of the page itself, or of the picture in it: left, top, right, bottom, mm from the upper left corner.
    Without hinting, as a PDF sets its letters; from the baseline up the height of a capital, and no descender."""
    found = []
    with plain_style(), rc_context({"text.hinting": "none"}):
        figure.set_dpi(300)
        scale = MM / 300
        for axes in figure.axes:
            if (axes is figure.axes[0]) != whole_page:
                continue
            for text in axes.texts:
                if not text.get_text() or not text.get_visible():
                    continue
                box = text.get_window_extent()
                top, bottom = figure.bbox.height - box.y1, figure.bbox.height - box.y0
                found.append((text.get_text(), box.x0 * scale, top * scale, box.x1 * scale, bottom * scale))
    return found


def overlaps(found: list[Extent], least: float) -> Iterator[tuple[str, str]]:
    """Texts that lie over one another by more than ``least`` mm both ways."""
    for a, b in combinations(found, 2):
        if min(a[3], b[3]) - max(a[1], b[1]) > least and min(a[4], b[4]) - max(a[2], b[2]) > least:
            yield a[0], b[0]


LONG = "the very long and winding name of something that stands on the field, and more X"


@pytest.mark.parametrize(
    ("which", "paper"),
    [("flour-round.yaml", "A4"), ("mill-hatch.yaml", "Letter"), ("yard-bell.yaml", "A4"),
     pytest.param("long 30", "Letter", marks=pytest.mark.slow), ("long 30", "A4"), ("long 70", "A4"),
     ("names", "Letter")],
)  # fmt: skip
def test_all_that_is_written_fits_and_covers_nothing(which: str, paper: str) -> None:
    width, height = PAPERS[paper]
    for figure in laid_out(which, paper)[1]:
        found = extents(figure, whole_page=True)
        assert len(found) > 20
        for text, x0, y0, x1, y1 in found:
            assert x0 >= MARGIN - 0.3, text
            assert x1 <= width - MARGIN + 0.3, text
            assert y0 >= MARGIN - 1.5, text
            assert y1 <= height - MARGIN + 1.0, text
        assert list(overlaps(found, 0.4)) == []


def test_a_test_sheet_fits() -> None:
    for paper, (width, height) in PAPERS.items():
        for figure in sheet_pages(blank_tests(replace(robot(), name=LONG), "1.2.3", paper)):
            found = extents(figure, whole_page=True)
            for text, x0, _, x1, y1 in found:
                assert x0 >= MARGIN - 0.3, text
                assert x1 <= width - MARGIN + 0.3, text
                assert y1 <= height - MARGIN + 1.0, text
            assert list(overlaps(found, 0.4)) == []
            # No column's name is cut: they must be read as the file has them.
            assert not any("..." in text for text, *_ in found if not text.startswith("How accurately"))


def test_a_test_sheet_has_a_drawing_for_each_test_and_tells_once_what_is_the_same() -> None:
    sheet = blank_tests(robot(), "1.2.3")
    (figure,) = sheet_pages(sheet)
    drawn = {axes.get_label() for axes in figure.axes if str(axes.get_label()).startswith("test ")}
    assert drawn == {f"test {each.kind}" for each in sheet.tables}
    written = [text.get_text() for text in figure.axes[0].texts]
    for once in ("date", "heading from: wheels"):
        assert written.count(once) == 1
    # What is measured is named in its drawing as its column is, and each drawing says which way is positive.
    signs = {"straight": "sideways mm +", "placing": "along mm +", "square path": "return y mm +", "turn": "+360"}
    for axes in figure.axes[1:]:
        said = [text.get_text() for text in axes.texts]
        kind = str(axes.get_label()).removeprefix("test ")
        assert signs.get(kind, said[0]) in said
        columns = next(each.columns for each in sheet.tables if each.kind == kind)
        for text in said:
            if text.endswith((" mm", " deg", " +")):
                assert text.removesuffix(" +") in columns, text
    # Every column of a table that is not told once has its name over it, and each row is there to be written in.
    for each in sheet.tables:
        for column in each.columns:
            if not told_once(column):
                assert any(column == text or column.startswith(text + " ") for text in written), column
    assert written.count("300") == 9


@pytest.mark.parametrize("paper", ["A4", "Letter"])
def test_the_drawings_words_lie_inside_and_apart(paper: str) -> None:
    (figure,) = sheet_pages(blank_tests(robot(), "1.2.3", paper))
    figure.set_dpi(200)
    with plain_style(), rc_context({"text.hinting": "none"}):
        for axes in figure.axes[1:]:
            frame = axes.get_window_extent()
            boxes = [text.get_window_extent() for text in axes.texts if text.get_text()]
            for box in boxes:
                assert frame.x0 - 8 <= box.x0, axes.get_label()
                assert box.x1 <= frame.x1 + 8, axes.get_label()
            for one, other in combinations(boxes, 2):
                assert min(one.x1, other.x1) - max(one.x0, other.x0) < 2 or (
                    min(one.y1, other.y1) - max(one.y0, other.y0) < 2
                ), axes.get_label()


def test_measures_in_the_picture_stand_apart_and_inside() -> None:
    for which, paper in (("flour-round.yaml", "A4"), ("mill-hatch.yaml", "Letter"), ("long 29", "Letter")):
        front = laid_out(which, paper)[1][0]
        found = [each for each in extents(front, whole_page=False) if re.match(r"[ABC] -?\d", each[0])]
        assert sorted(each[0][0] for each in found) == ["A", "B", "C"]
        assert list(overlaps(found, 0.3)) == []
        box = labelled(front, "start").get_position()
        width, height = PAPERS[paper]
        for text, x0, y0, x1, y1 in found:
            assert box.x0 * width - 0.2 <= x0 < x1 <= box.x1 * width + 0.2, text
            assert (1 - box.y1) * height - 0.2 <= y0 < y1 <= (1 - box.y0) * height + 0.2, text


def test_the_picture_shows_the_robot_where_the_start_is(flour: tuple[Run, Card]) -> None:
    """Dots of the measured corners at their places; the body is drawn to scale; the jig's bracket at its corner."""
    of, told = flour
    axes = labelled(card_pages(of, told)[0], "start")
    by_gid = {line.get_gid(): line for line in axes.lines}
    for measure in told.start.measures:
        (x,), (y,) = by_gid[f"corner-{measure.letter}"].get_data()
        assert (x, y) == pytest.approx(measure.at)
    (x,), (y,) = by_gid["axle"].get_data()
    assert (x, y) == pytest.approx(told.start.pose[:2])
    assert "jig" in by_gid
    left, right = axes.get_xlim()
    low, high = axes.get_ylim()
    box = axes.get_position()
    width, height = PAPERS["A4"]
    # One mm of the field is as long across as up.
    assert box.width * width / (right - left) == pytest.approx(box.height * height / (high - low), rel=1e-6)


# A start 1 m from every wall, turned, without a jig.
@pytest.mark.parametrize("heading", [0.0, 30.0, 135.0, -100.0])
def test_a_start_by_eye_far_from_walls_is_drawn(heading: float) -> None:
    field = Field("Floor", (2400.0, 2200.0))
    of = Run("By eye", field, robot(TYPICAL), StartByEye((1000.0, 1000.0), heading), (Straight(200.0),))
    told = card(of, trials=100)
    figure = card_pages(of, told)[0]
    written = texts(figure)
    for measure in told.start.measures:
        assert any(text.startswith(f"{measure.letter} ") and f"to {measure.wall}" in text for text in written)
    assert list(overlaps(extents(figure, whole_page=True), 0.4)) == []
    assert not any(line.get_gid() == "jig" for line in labelled(figure, "start").lines)


# --- the page -------------------------------------------------------------------------------------------------------


def test_no_name_does_harm(harmful: tuple[Run, Card]) -> None:
    of, told = harmful
    html = card_html(told, card_pictures(of, told))
    page = Page(html)
    harmless(page)
    everything = " ".join(text for _, text in page.texts)
    # The names are there to be read, as they are or shortened.
    for name in HARMFUL:
        assert shorten(name, 24) in everything or shorten(name, 18) in everything or name in everything, name
    assert "<script" not in html.lower()
    assert len(page.all("style")) == 5


def test_no_name_does_harm_on_a_test_sheet() -> None:
    for name in HARMFUL:
        page = Page(sheet_file(blank_tests(replace(robot(), name=name), name), "html").decode())
        harmless(page)
        assert any(shorten(name, 40) in text for text in page.said("h1"))


def test_the_picture_alone_is_sound_xml_with_the_names_as_text(harmful: tuple[Run, Card]) -> None:
    of, told = harmful
    root = ET.fromstring(start_svg(of, told))
    written = ["".join(each.itertext()) for each in root.iter("{http://www.w3.org/2000/svg}text")]
    assert f"jig: {shorten(HARMFUL[4], 20)}" in written
    assert shorten(HARMFUL[6], 18) in written
    assert {each.tag.partition("}")[2].lower() for each in root.iter()} <= ALLOWED


def test_a_harmful_name_breaks_no_other_form(harmful: tuple[Run, Card]) -> None:
    of, told = harmful
    assert card_file(of, told, "pdf").startswith(b"%PDF-")
    for line in card_text(told).splitlines():
        assert cells(line) <= 80


def test_the_page_loads_nothing_and_says_so(flour: tuple[Run, Card]) -> None:
    html = card_file(*flour, "html").decode()
    page = Page(html)
    harmless(page)
    # Names of XML's own spaces are not fetched.
    addresses = set(re.findall(r"\w+://[^\"'\s)]+", html))
    assert addresses <= {"http://www.w3.org/2000/svg", "http://www.w3.org/1999/xlink"}
    assert "url(http" not in html
    assert "@import" not in html
    policy = next(meta for meta in page.all("meta") if meta.get("http-equiv") == "Content-Security-Policy")
    assert policy["content"] == "default-src 'none'; style-src 'unsafe-inline'"


def test_headings_and_what_an_ear_needs(flour: tuple[Run, Card]) -> None:
    _, told = flour
    page = Page(card_file(*flour, "html").decode())
    assert page.all("html")[0]["lang"] == "en"
    assert page.said("h1") == ["Flour round"]
    assert page.said("h2") == [
        "Make ready", "Set and check", "Go or no go", "The odds", "Watch these",
        "Steps: planned 15.8 s, must end inside left start", "What happened?",
    ]  # fmt: skip
    pictures = page.all("svg")
    assert len(pictures) == 4
    assert all(picture["role"] == "img" for picture in pictures)
    assert pictures[1]["aria-label"] == "The steps along the clock, and the room left on each."
    assert pictures[2]["aria-label"].startswith("Of 1000 drives: gets through: ")
    assert pictures[3]["aria-label"] == start_picture_words(told)
    assert all("scope" in head for head in page.all("th"))
    ids = [attributes["id"] for _, attributes in page.elements if "id" in attributes]
    assert len(ids) == len(set(ids))
    # A box to tick for each thing, inside its label.
    assert len(page.all("input")) == len(page.all("label")) == len(tick_words(told))
    assert page.all("meta")[2]["name"] == "viewport"


def test_the_page_says_what_the_card_says(flour: tuple[Run, Card]) -> None:
    _, told = flour
    html = card_file(*flour, "html").decode()
    plain = " ".join(unescape(re.sub(r"<[^>]+>", " ", html)).split())
    for step in told.steps:
        for words in seen_words(told, step.number):
            assert words in plain
        if step.wheels is not None:
            assert f"{step.wheels.left:.1f} {step.wheels.right:.1f}" in plain
    assert told.command in plain
    assert no_proof() in plain
    page = Page(html)
    forms = [text for text in page.said("th") if text in told.log_columns]
    assert tuple(forms) == told.log_columns


@pytest.mark.parametrize(("paper", "size"), [("A4", "210mm 297mm"), ("Letter", "215.9mm 279.4mm")])
def test_the_page_prints_on_its_paper(paper: str, size: str, flour: tuple[Run, Card]) -> None:
    of, told = flour
    html = card_html(replace(told, paper=paper), card_pictures(of, told))
    assert f"@page {{ size: {size};" in html
    assert "@media print" in html
    assert "@media screen and (max-width" in html
    sheet: BlankTests = blank_tests(robot(), "1", paper)
    assert f"@page {{ size: {size};" in sheet_file(sheet, "html").decode()


def test_all_letters_have_contrast(flour: tuple[Run, Card]) -> None:
    """4.5 to 1 at least, on white and on the grey of every other row."""
    of, told = flour
    html = card_html(told, Pictures(*["<svg ></svg>"] * 4))
    letters = set(re.findall(r"(?<![-\w])color: ?(#[0-9a-f]{3,6})", html))
    grounds = set(re.findall(r"background: ?(#[0-9a-f]{3,6})", html))
    assert letters
    assert grounds
    for letter in letters:
        for ground in grounds:
            assert contrast(letter, ground) >= 4.5, (letter, ground)
    for text in (text for figure in card_pages(of, told) for text in figure.findobj(Text)):
        if text.get_text():
            assert contrast(text.get_color(), "#eeeeee") >= 4.5, text.get_text()
