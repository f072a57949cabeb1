"""The saved report: what it says, how it is built, and that no name from a file can do harm in it.

All answers, fields, robots, runs and names are invented.
"""

from __future__ import annotations

import hashlib
import re
import shlex
from collections.abc import Callable, Iterator
from dataclasses import fields, is_dataclass, replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from commands import fieldsim
from hypothesis import given
from hypothesis import strategies as st
from invented import ANSWERS, spread_is_the_trouble
from pages import HARMFUL, Page, harmless, named
from season import daily

from fieldsim import catalog, load_run
from fieldsim.answers import to_json
from fieldsim.calibration.answer import fit_answer
from fieldsim.calibration.fit import fit
from fieldsim.draw import (
    draw_causes,
    draw_causes_apart,
    draw_compare,
    draw_jigs,
    draw_slack,
    draw_widths,
)
from fieldsim.draw.base import draw_base
from fieldsim.draw.table_time import draw_fit, draw_log
from fieldsim.lettering import one_line, shorten
from fieldsim.logbook.judge import judge
from fieldsim.model import Run
from fieldsim.model.measured import DropTest, LogEntry, PlacingTest, Sheet, StraightTest
from fieldsim.pages.page import Colophon, inline, report_html
from fieldsim.pages.page_words import Drawn, TryPictures, try_report
from fieldsim.pages.saving import save, save_study
from fieldsim.report.origin import Origin
from fieldsim.report.phrases import near_gaps, no_proof
from fieldsim.report.statement import Picture, Points, Row, Section, Statement, Table, rows, statement_text
from fieldsim.report.words.attempt import try_statement
from fieldsim.report.words.base import base_statement
from fieldsim.report.words.causes import causes_headline, causes_statement
from fieldsim.report.words.compare import compare_statement, difference_words
from fieldsim.report.words.fit import fit_statement
from fieldsim.report.words.jigs import headline as jigs_headline
from fieldsim.report.words.jigs import jigs_statement
from fieldsim.report.words.logbook import logbook_statement
from fieldsim.report.words.methods import method_words
from fieldsim.report.words.slack import headline as slack_headline
from fieldsim.report.words.slack import slack_statement
from fieldsim.report.words.widths import widths_headline, widths_statement
from fieldsim.studies.attempt import attempt
from fieldsim.studies.base import base
from fieldsim.studies.causes import causes
from fieldsim.studies.compare import compare
from fieldsim.studies.jigs import rank
from fieldsim.studies.slack import slack
from fieldsim.studies.widths import widths

ROOT = Path(__file__).parents[2]
PICTURES = {study.name: study.pictures for study in catalog.STUDIES}
FLOUR = ROOT / "runs" / "bakery" / "flour-round.yaml"
SVG = '<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 9 9"><g id="a"><path d="M0 0"/></g></svg>'
MADE = Colophon((("made by", "fieldsim 0"),), "fieldsim try RUN")


def saved(folder: Path, study: str, of: Run, command: str = "fieldsim") -> str:
    """The report of a study of a run, as its command saves it."""
    if study == "try":
        save(folder, attempt(of, trials=300, keep=300, threads=1), Origin(command))
    else:
        said, statement, draw = STUDIES[study](of)
        save_study(folder, study, said, statement, draw, Origin(command), pictures=PICTURES[study])
    return (folder / "report.html").read_text(encoding="utf-8")


def _jigs(of: Run) -> Any:
    answer = rank(of, trials=100, threads=1)
    return to_json(answer), jigs_statement(answer), lambda sheet: draw_jigs(answer, jigs_headline(answer), sheet)


def _slack(of: Run) -> Any:
    answer = slack(of, trials=20, threads=1)
    return to_json(answer), slack_statement(answer), lambda sheet: draw_slack(answer, slack_headline(answer), sheet)


def _widths(of: Run) -> Any:
    answer = widths(of, trials=50, threads=1)
    said = widths_headline(answer)
    return to_json(answer), widths_statement(answer), lambda sheet: draw_widths(answer, said, "body width", sheet)


def _compare(of: Run) -> Any:
    answer = compare([of, of], names=[of.name, f"2 {of.name}"], trials=50, threads=1)
    said = difference_words(answer.differences[0])
    return to_json(answer), compare_statement(answer), lambda sheet: draw_compare(answer, said, sheet)


def _causes(of: Run) -> Any:
    answer = causes(of, trials=100, threads=1)
    said = causes_headline(answer)

    def draw(sheet: Any) -> Any:
        return draw_causes(answer, said) if sheet.alone else draw_causes_apart(answer)

    return to_json(answer), causes_statement(answer), draw


def _base(of: Run) -> Any:
    answer = base(of.robot, of.wear)
    return to_json(answer), base_statement(answer, True), lambda sheet: draw_base(of.robot, answer, sheet)


def _fit(of: Run) -> Any:
    jig = str(of.start)
    tests = Sheet(
        (
            *(StraightTest(line=n, commanded=500.0, travel=500.0 + n, sideways=0.5 * n) for n in range(2, 6)),
            *(PlacingTest(line=n, along=float(n), across=0.1 * n, jig=jig) for n in range(6, 10)),
            DropTest(line=10, result="fail", came_off=of.wear[0]),
        )
    )
    answer = fit(of.robot, tests)
    told = fit_statement(answer, of.robot.name, f"{of.field.name}.csv", ("look here",))
    return (
        to_json(fit_answer(answer)), told,
        lambda sheet: draw_fit(answer, of.robot.accuracy, told.title, told.about[0], told.headline, sheet),
    )  # fmt: skip


def _log(of: Run) -> Any:
    touched = of.field.obstacles[0].name
    rows = [
        LogEntry(line=n + 2, run=of.name, result="touched" if n % 2 else "through", where=touched if n % 2 else None)
        for n in range(12)
    ]
    answer = judge(rows, {of.name: of}, trials=1000, threads=1)
    told = logbook_statement(answer)
    return (
        to_json(answer), told,
        lambda sheet: draw_log(answer, told.title, told.about[0], told.headline, sheet),
    )  # fmt: skip


STUDIES: dict[str, Callable[[Run], Any]] = {
    "jigs": _jigs, "slack": _slack, "widths": _widths, "compare": _compare, "causes": _causes, "base": _base,
    "fit": _fit, "log": _log,
}  # fmt: skip


# --- what it says --------------------------------------------------------------------------------------------------


def texts(value: Any) -> Iterator[str]:
    """Every text in a statement, those of pictures left out."""
    if isinstance(value, str):
        yield value
    elif isinstance(value, tuple):
        for each in value:
            yield from texts(each)
    elif is_dataclass(value) and not isinstance(value, Picture | Table):
        for field in fields(value):
            yield from texts(getattr(value, field.name))
    elif isinstance(value, Table):
        yield from value.head
        yield from texts(value.rows)


def plain(page: str) -> str:
    """All that is to be read, on one line."""
    return " ".join(" ".join(text for _, text in Page(page).texts).split())


@pytest.mark.parametrize("name", ANSWERS)
def test_a_page_says_all_that_its_statement_says(name: str) -> None:
    statement = try_statement(ANSWERS[name](), whole=True)
    read = plain(report_html(statement, MADE))
    for text in texts(replace(statement, title="")):
        # A text that is empty stays away; all others are told, on one line.
        assert not text or " ".join(one_line(text).split()) in read, text


def test_text_and_page_are_told_by_one_statement() -> None:
    statement = try_statement(spread_is_the_trouble())
    read = plain(report_html(statement, MADE))
    for line in statement_text(statement, width=10_000).splitlines()[1:]:
        # The page numbers a list itself, and has columns where the text has blanks.
        for piece in re.split(r"\s{2,}", re.sub(r"^\s*\d\. ", "", line)):
            assert piece in read


@pytest.fixture(scope="module")
def flour(tmp_path_factory: pytest.TempPathFactory) -> tuple[str, Any]:
    tried = attempt(load_run(FLOUR), trials=2000, keep=2000, threads=1)
    folder = tmp_path_factory.mktemp("flour")
    save(folder, tried, Origin("fieldsim try flour-round.yaml --trials 2000 --seed 1"))
    return (folder / "report.html").read_text(encoding="utf-8"), tried.answer


def test_the_report_of_a_try_has_everything(flour: tuple[str, Any]) -> None:
    page, answer = flour
    found = Page(page)
    assert found.said("h1") == ["Flour round"]
    assert found.said("h2") == [
        "What to look at next", "What goes wrong first", "The run, driving", "The run on the field",
        "Where it touches first", "Tightest places",
        "How much room is left on each segment", "Targets", "The end", "Time", "What was assumed", "How sure this is",
        "How this page was made",
    ]  # fmt: skip
    read = plain(page)
    # Every near obstacle has its row, not the tightest alone; every segment with a gap has one.
    heads = found.said("th")
    assert all(gap.obstacle in heads for gap in near_gaps(answer))
    assert sum(head.partition(",")[0].isdigit() for head in heads) == len(answer.ribbon)
    for words in (
        "Gets through ", f"fieldsim {answer.version}", "2000", no_proof(), "set in corner block", "bias: distance",
        "0.4 %", "fieldsim try flour-round.yaml --trials 2000 --seed 1", "answer.json, segments.csv, trials.csv",
    ):  # fmt: skip
        assert words in read, words
    # The bar, the map, the ribbon, where the tool comes to, each for a telephone too; what is played is no drawing.
    assert len(found.all("svg")) == 8
    assert len(found.all("figure")) == 5


def test_without_a_trial_the_page_says_so() -> None:
    answer = ANSWERS["no_trial_done"]()
    page = report_html(try_report(answer, load_run(FLOUR), TryPictures(Drawn(SVG), Drawn(SVG))), MADE)
    assert "nothing is known of how often" in plain(page)


def test_the_command_in_a_report_makes_it_again(tmp_path: Path) -> None:
    def run(*words: str) -> None:
        assert words[0] == "fieldsim"
        done = fieldsim(*words[1:])
        assert (done.returncode, done.stderr) == (0, "")

    first = tmp_path / "odd name & <b>"
    run("fieldsim", "try", "runs/bakery/practice-loop.yaml", "--half-width", "5%", "--bare", "--save", str(first))
    said = Page((first / "report.html").read_text(encoding="utf-8")).said("code")
    again = shlex.split("".join(said))
    assert again[again.index("--save") + 1] == str(first)
    again[again.index("--save") + 1] = str(tmp_path / "again")
    run(*again)
    assert (tmp_path / "again" / "answer.json").read_bytes() == (first / "answer.json").read_bytes()


# --- how it is built -----------------------------------------------------------------------------------------------


READ = {"aria-label", "content"}


def sound(page: str) -> Page:
    """A page whose elements are closed in order, whose ids are its own and whose references lead to them, which loads
    nothing, and which names what is to be named."""
    assert page.startswith('<!doctype html>\n<html lang="en">')
    found = Page(page)
    harmless(found)
    ids = [attributes["id"] for _, attributes in found.elements if "id" in attributes]
    assert len(ids) == len(set(ids))
    wanted = {value[1:] for _, attributes in found.elements if (value := attributes.get("href") or "")[:1] == "#"}
    wanted |= set(re.findall(r"url\(#([^)]*)\)", page))
    assert wanted <= set(ids)
    # What stands in labels is only read; anywhere else nothing may lead out.
    told = [value or "" for _, attributes in found.elements for name, value in attributes.items() if name not in READ]
    for value in [*told, *found.said("style")]:
        assert not re.search(r"url\((?!#)|@import|javascript:", value), value
    assert set(re.findall(r"https?://[^\"'\s<)]+", page)) <= {"http://www.w3.org/2000/svg"}
    metas = {attributes.get("name") or attributes.get("http-equiv"): attributes for attributes in found.all("meta")}
    assert metas["viewport"]["content"] == "width=device-width, initial-scale=1"
    assert str(metas["Content-Security-Policy"]["content"]).startswith("default-src 'none'; style-src 'unsafe-inline'")
    levels = [int(tag[1]) for tag, _ in found.elements if re.fullmatch(r"h\d", tag)]
    assert levels[0] == 1
    assert set(levels[1:]) == {2}
    assert all(attributes.get("scope") in ("col", "row") for attributes in found.all("th"))
    assert all(attributes.get("aria-label") and attributes.get("role") == "img" for attributes in found.all("svg"))
    played = [attributes for attributes in found.all("figure") if attributes.get("class") == "driving"]
    narrow = [attributes for attributes in found.all("div") if attributes.get("class") == "frame narrow-one"]
    assert len(found.all("figcaption")) == len(found.all("svg")) - len(narrow) + len(played)
    assert len(found.all("style")) == 1
    return found


def test_the_report_of_a_try_is_sound(flour: tuple[str, Any]) -> None:
    found = sound(flour[0])
    assert len(found.all("svg")) == 8


def test_drawings_keep_their_ids_apart() -> None:
    section = Section("pictures", (Picture(SVG, "one", "first"), Picture(SVG, "two", "second")))
    page = sound(report_html(Statement("n", "n", (), "h", sections=(section,)), MADE))
    assert [attributes["id"] for _, attributes in page.elements if "id" in attributes] == ["p1-a", "p2-a"]


@pytest.mark.parametrize(
    "inside",
    [
        "<script>alert(1)</script>",
        "<foreignObject/>",
        '<a href="https://x.example"/>',
        '<use href="https://x.example#a"/>',
        '<image href="data:image/svg+xml,x"/>',
        '<image href="x.png"/>',
        '<g onload="alert(1)"/>',
        '<g style="fill: url(https://x.example)"/>',
        "<g><g><animate/></g></g>",
    ],
)
def test_a_drawing_that_does_more_than_draw_is_refused(inside: str) -> None:
    with pytest.raises(ValueError, match="a drawing may not"):
        inline(SVG.replace("<path", f"{inside}<path"), "p1-")


def test_what_belongs_to_a_whole_document_stays_out_of_a_drawing() -> None:
    more = '<metadata>m</metadata><!-- c --><defs><style type="text/css">*{fill:red}</style></defs><style>b{}</style>'
    drawing = inline(SVG.replace("<g", f"{more}<g"), "p1-")
    assert [each.tag for each in drawing.iter()] == ["svg", "g", "path"]


def test_a_table_says_what_stands_below_its_rows() -> None:
    table = Table(("a", "b"), (Row(("1", "2"), ("first", "second")), Row(("3", "4"))), below_head="more of it")
    page = Page(report_html(Statement("n", "n", (), "h", sections=(Section("s", (table,)),)), MADE))
    assert page.said("th") == ["a", "b", "more of it", "1", "3"]
    assert "first" in page.said("p")
    bare = Page(
        report_html(Statement("n", "n", (), "h", sections=(Section("s", (Table(("a",), rows(["1"])),)),)), MADE)
    )
    assert bare.said("th") == ["a", "1"]


# --- names that could do harm --------------------------------------------------------------------------------------


@pytest.mark.parametrize("turn", [0, *(pytest.param(n, marks=pytest.mark.slow) for n in range(1, len(HARMFUL)))])
def test_no_name_does_harm_in_the_report_of_a_try(turn: int, tmp_path: Path) -> None:
    names = HARMFUL[turn:] + HARMFUL[:turn]
    of = named(*names)
    page = saved(tmp_path, "try", of, shlex.join(["fieldsim", "try", names[0], "--save", names[4]]))
    found = sound(page)
    read = " ".join(text for _, text in found.texts)
    for name in names:
        assert any(each in read for each in (name, shorten(name, 40), shorten(name, 26), shorten(name, 22))), name
    assert found.said("title") == [names[0]] == found.said("h1")


@pytest.mark.parametrize("study", daily(STUDIES))
def test_no_name_does_harm_in_the_report_of_a_study(study: str, tmp_path: Path) -> None:
    of = named(*HARMFUL)
    found = sound(saved(tmp_path, study, of, shlex.join(["fieldsim", study, HARMFUL[0]])))
    read = " ".join(text for _, text in found.texts)
    assert shorten((of.robot if study in ("base", "fit") else of).name, 26) in read
    assert "fieldsim" in read


ANY = st.text(max_size=60)


@given(st.lists(ANY, min_size=12, max_size=12))
def test_any_text_at_all_is_only_read(words: list[str]) -> None:
    name, title, about, head, further, section, cell, other, point, alt, caption, command = words
    parts = (
        cell, Table((cell, other), (Row((other, cell), (point,)),), below_head=alt), Points((point,)),
        Picture(SVG, alt, caption),
    )  # fmt: skip
    statement = Statement(name, title, (about,), head, (further,), (Section(section, parts),), (point,), (about,))
    page = report_html(statement, Colophon(((cell, other),), command))
    page.encode("utf-8")
    found = Page(page)
    harmless(found)
    # Whatever the texts are, the elements are the same.
    calm = Page(report_html(Statement("n", "m", ("a",), "h", ("f",), (Section("s", parts),), ("p",), ("c",)), MADE))
    wanted = [tag for tag, _ in calm.elements]
    kept = [tag for tag, _ in found.elements]
    assert set(kept) <= set(wanted)
    assert kept.count("td") == wanted.count("td")


def test_a_page_says_what_it_was_made_from(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Files with their digests, the day, and what it was computed with; the last as the program itself says them."""
    monkeypatch.setenv("SOURCE_DATE_EPOCH", "1700000000")
    done = fieldsim("jigs", FLOUR, "--trials", "200", "--save", tmp_path)
    assert done.returncode == 0
    page = Page((tmp_path / "report.html").read_text(encoding="utf-8"))
    facts = dict(zip(page.said("dt"), page.said("dd", "code"), strict=True))
    for file in (FLOUR, FLOUR.parent / "box-one.yaml", FLOUR.parents[2] / "fields/bakery.yaml"):
        digest = hashlib.sha256(file.read_bytes()).hexdigest()
        assert facts[f"from {file.name}"] == f"SHA-256 {digest[:16]}"
    assert facts["on"] == "2023-11-14"
    assert np.__version__ in facts["computed with"]
    read = plain((tmp_path / "report.html").read_text(encoding="utf-8"))
    assert all(words in read for words in method_words("jigs"))


def test_every_study_with_a_page_says_how_it_was_found() -> None:
    # A try says it in sections of its own, a check has no page.
    told = {study.name for study in catalog.STUDIES} - {"try"}
    assert {name for name in told if not list(method_words(name))} == set()
