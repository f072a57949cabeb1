"""Other languages from end to end: everything that is said is said in them, and nothing but words changes.

The made-up language puts every text of the catalog between two signs, so that a text which does not come from there is
seen at once. Names, files and robots are the invented bakery's.
"""

from __future__ import annotations

import gettext
import json
import os
import re
import subprocess
import sys
from collections.abc import Iterator
from functools import cache, partial
from pathlib import Path
from typing import Any

import pygame
import pytest
from catalogs import gathered, messages
from commands import fieldsim
from pages import Page
from season import ANSWERS, BAKERY, COMMANDS, PAGES, daily

from fieldsim import cli, language
from fieldsim.calibration.further import Batch, FurtherAnswer, Worth
from fieldsim.files import load_field
from fieldsim.language import choose
from fieldsim.model import Wait
from fieldsim.report.statement import Statement, statement_text
from fieldsim.report.words.further import further_section
from fieldsim.sim.failures import Failure
from fieldsim.window.dials import Refused
from fieldsim.window.field.session import FieldSession
from fieldsim.window.field.state import DRAWN
from fieldsim.window.field.things import things
from fieldsim.window.field.view import FieldView
from fieldsim.window.paint.editor import paint_editor
from fieldsim.window.paint.frame import Layers, paint
from fieldsim.window.paint.odds import failing_words
from fieldsim.window.paint.writer import Writer
from fieldsim.window.run.edits import typed
from fieldsim.window.run.files import RunFiles
from fieldsim.window.run.session import RunSession
from fieldsim.window.run.view import RunView
from fieldsim.window.snapping import snap_point

ROOT = Path(__file__).parent.parent
# Which further tests help is half a minute of trials: the last test here has its words.
QUICK = [name for name in COMMANDS if name != "fit with a plan"]
OPEN, CLOSE = "\N{MATHEMATICAL LEFT WHITE SQUARE BRACKET}", "\N{MATHEMATICAL RIGHT WHITE SQUARE BRACKET}"


class Marked(gettext.NullTranslations):
    """English with every text that is in the catalog between two signs."""

    def __init__(self) -> None:
        super().__init__()
        ids = ((message.context or "", message.id) for message in messages(gathered()))
        self.known = {(context, forms if isinstance(forms, str) else forms[0]) for context, forms in ids}

    def marked(self, message: str, known: str, context: str = "") -> str:
        return f"{OPEN}{message}{CLOSE}" if (context, known) in self.known else message

    def gettext(self, message: str) -> str:
        return self.marked(message, message)

    def ngettext(self, msgid1: str, msgid2: str, n: int) -> str:
        return self.marked(msgid1 if n == 1 else msgid2, msgid1)

    def pgettext(self, context: str, message: str) -> str:
        return self.marked(message, message, context)


@pytest.fixture
def marked(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(language._chosen, "catalog", made_up())


@cache
def made_up() -> Marked:
    return Marked()


@pytest.fixture
def german() -> Iterator[None]:
    choose("de")
    yield
    choose("en")


def said(*words: object) -> int:
    """A command in this process and in the language that is chosen; its exit status."""
    with pytest.MonkeyPatch.context() as patch:
        patch.chdir(BAKERY)
        patch.setattr("sys.argv", ["fieldsim", *map(str, words)])
        with pytest.raises(SystemExit) as end:
            cli.main()
    assert isinstance(end.value.code, int)
    return end.value.code


def outside(text: str) -> str:
    """What of a text stands between no two signs."""
    depth, found = 0, []
    for letter in text:
        depth += (letter == OPEN) - (letter == CLOSE)
        assert depth >= 0
        if depth == 0 and letter not in (OPEN, CLOSE):
            found.append(letter)
    assert depth == 0
    # A kind of test is a word of the sheet's file, whatever else its words may be.
    return "".join(found).replace("there and back", "")


# What is a name or the same in every language: names of things in the season's files, keys, commands, columns.
FILES = (*BAKERY.glob("*.*"), *(ROOT / "fields").glob("*.yaml"))
# Of a picture only its name is a text.
SEASON = " ".join(path.name if path.suffix == ".jpg" else path.read_text(encoding="utf-8") for path in FILES)
# Without what the files remark.
KNOWN = {*re.findall(r"[A-Za-z]+", re.sub(r"#.*", "", SEASON))} | {
    "fieldsim", "try", "card", "match", "trials", "seed", "save", "tests", "wall", "left", "right", "near", "far", "mm",
    "edge", "s", "x", "pi", "protractor", "face", "photo", "yaml", "csv", "e", "of",
}  # fmt: skip


@pytest.mark.parametrize("name", daily(QUICK))
def test_every_sentence_comes_from_the_catalog(name: str, marked: None, capsys: pytest.CaptureFixture[str]) -> None:
    said(*COMMANDS[name])
    # Long lines are broken, and a sign may stand at the end of one: what is outside is read without line ends.
    printed = capsys.readouterr().out
    left = outside(printed)
    assert printed.count(OPEN) > 3
    strange = [word for word in re.findall(r"[A-Za-z]{2,}", left) if word not in KNOWN]
    assert strange == [], left


def keys(value: Any) -> Any:
    """An answer without its texts: keys, numbers, and whether there is a text."""
    if isinstance(value, dict):
        return {key: keys(each) for key, each in value.items()}
    if isinstance(value, list):
        return [keys(each) for each in value]
    return "" if isinstance(value, str) else value


@pytest.mark.parametrize("name", daily(name for name in QUICK if name in ANSWERS))
def test_an_answer_for_programs_differs_in_sentences_only(name: str, capsys: pytest.CaptureFixture[str]) -> None:
    status = said(*COMMANDS[name], "--json")
    english = json.loads(capsys.readouterr().out)
    choose("de")
    try:
        assert said(*COMMANDS[name], "--json") == status
        told = json.loads(capsys.readouterr().out)
    finally:
        choose("en")
    assert keys(told) == keys(english)
    # Ids, names and files among the texts are the same.
    for key in ("command", "run", "field", "robot", "version", "start"):
        assert english.get(key) == told.get(key) or isinstance(told.get(key), dict)


def command(*words: object, **environment: str) -> subprocess.CompletedProcess[str]:
    """One in a process of its own, for texts that are there before any command runs."""
    env = {
        name: value for name, value in os.environ.items() if name not in ("LANGUAGE", "LC_ALL", "LC_MESSAGES", "LANG")
    }
    return subprocess.run(
        [sys.executable, "-m", "fieldsim", *map(str, words)], cwd=BAKERY, capture_output=True, encoding="utf-8",
        env=env | {"PYTHONIOENCODING": "utf-8"} | environment, check=False,
    )  # fmt: skip


spoken = partial(fieldsim, at=BAKERY)


def test_the_language_is_chosen_by_a_word_or_by_the_system(tmp_path: Path) -> None:
    words = ("try", "practice-loop.yaml", "--trials", 20, "--bare")
    for done in (
        spoken(*words, "--language", "de", LANG="C"),
        spoken("--language=de_DE.UTF-8", *words, LANG="C"),
        command(*words, LANG="de_AT.UTF-8"),
        spoken(*words, LANG="de_AT.UTF-8"),
        spoken(*words, LANG="fr_FR.UTF-8", LANGUAGE="fr:de:en"),
    ):
        assert done.returncode == 0
        assert "Kommt durch:" in done.stdout
    for done in (
        spoken(*words, LANG="C"),
        spoken(*words, LANG="fr_FR.UTF-8"),
        spoken(*words, "--language", "en", LANG="de_DE"),
    ):
        assert "Gets through" in done.stdout
    wrong = spoken(*words, "--language", "klingon", LANG="de_DE.UTF-8")
    assert wrong.returncode == 2
    assert wrong.stdout == ""
    assert "klingon" in wrong.stderr
    assert "en, de" in wrong.stderr
    assert wrong.stderr.startswith("Fehler:")


def test_mistakes_and_help_are_told_in_it() -> None:
    assert "Aufruf: fieldsim try" in command("try", "--help", LANG="de_DE.UTF-8").stdout
    unknown = command("try", "flour-round.yaml", "--sed", 3, "--language", "de").stderr
    assert "Die Option '--sed' gibt es nicht." in unknown
    assert "Meinst du" in unknown
    missing = spoken("try", "nothing.yaml", "--language", "de")
    assert missing.returncode == 2
    assert missing.stderr == "nothing.yaml:1:1: diese Datei gibt es nicht\n"


def test_a_report_and_a_card_are_in_it_and_say_how_they_are_made_again(tmp_path: Path) -> None:
    done = spoken("try", "flour-round.yaml", "--trials", 20, "--save", tmp_path, "--language", "de")
    assert done.returncode == 0, done.stderr
    html = (tmp_path / "report.html").read_text(encoding="utf-8")
    page = Page(html)
    assert page.all("html")[0]["lang"] == "de"
    assert "Was angenommen wurde" in page.said("h2")
    assert any("fieldsim --language de try flour-round.yaml" in text for text in page.said("code"))
    assert ">planned path<" not in html
    # Tables for other programs stay as they are.
    assert (tmp_path / "segments.csv").read_text(encoding="utf-8").startswith("segment,kind,words,distance_mm")
    numbers = (tmp_path / "trials.csv").read_text(encoding="utf-8").splitlines()
    assert numbers[0].startswith("trial,success,seconds,contact")
    assert re.match(r"1,[01],\d+\.\d{3},", numbers[1])
    for name in ("c.html", "c.pdf"):
        done = spoken("card", "flour-round.yaml", "--trials", 20, "--save", tmp_path / name, LANG="de_DE")
        assert done.returncode == 0, done.stderr
    assert "Aufstellen und prüfen" in (tmp_path / "c.html").read_text(encoding="utf-8")


def test_the_window_is_in_it(tmp_path: Path) -> None:
    for file in ("flour-round.yaml", "match.yaml", "../../fields/bakery.yaml"):
        english, told = tmp_path / "en.png", tmp_path / "de.png"
        assert spoken("watch", file, "--picture", english).returncode == 0
        assert spoken("watch", file, "--picture", told, LANG="de_DE.UTF-8").returncode == 0
        assert english.read_bytes() != told.read_bytes()


def test_a_terminal_without_umlauts_still_tells() -> None:
    done = command("check", "flour-round.yaml", "--language", "de", PYTHONIOENCODING="ascii")
    assert done.returncode == 0
    assert done.stdout.isascii()


class Untried:
    """No trials: what is written does not wait for any."""

    def want(self, run: Any, ready: Any = None, *, bare: bool = False) -> int:
        return 0

    def news(self) -> None:
        return None


def test_every_word_of_the_window_comes_from_the_catalog(marked: None, monkeypatch: pytest.MonkeyPatch) -> None:
    """Everything that is written into it is caught: pictures with trials, the number cards, the help, a question."""
    monkeypatch.setenv("SDL_VIDEODRIVER", "dummy")
    written: list[str] = []
    put = Writer.put

    def caught(self: Writer, surface: Any, text: str, *more: Any, **look: Any) -> Any:
        written.append(text)
        return put(self, surface, text, *more, **look)

    # No text is cut or broken, for the signs at its ends.
    monkeypatch.setattr(Writer, "fit", lambda self, text, *more, **look: text)
    monkeypatch.setattr(Writer, "lines", lambda self, text, *more, **look: [text])
    monkeypatch.setattr(Writer, "put", caught)
    pygame.display.init()
    pygame.font.init()
    size = (2400, 1600)
    surface, layers = pygame.Surface(size), Layers()
    files = RunFiles.read(BAKERY / "yard-bell.yaml")
    session = RunSession(files.begun, Untried(), size, robots=files.robots)
    for place in (None, "start", "body", *range(6)):
        session.place = place
        for over in ("", "help", "quit"):
            session.help, session.asked = over == "help", "quit" if over == "quit" else None
            paint(surface, RunView(session).scene(), layers)
    drawing = FieldSession(load_field(ROOT / "fields" / "bakery.yaml"), size)
    for tool in (*DRAWN, "pick", "picture", "scale"):
        drawing.tool = tool
        drawing.help = tool == "jig"
        paint_editor(surface, FieldView(drawing).scene(), layers)
    drawing.tool = "pick"
    for handle, _ in things(drawing.field):
        drawing.chosen = handle
        paint_editor(surface, FieldView(drawing).scene(), layers)
    assert len(written) > 1000
    strange = {
        text
        for text in written
        for word in re.findall(r"[A-Za-z]{3,}", outside(text))
        if word not in KNOWN | {"PNG", "JPEG"}
    }
    assert strange == set()


def test_what_went_wrong_is_told_in_the_window(german: None) -> None:
    assert failing_words(Failure("touches", "mill", 3)) == "berührt mill"
    assert failing_words(Failure("misses", "flour lid", 6)) == "verfehlt flour lid"
    assert failing_words(Failure("ends outside", "left start", 6)) == "endet außerhalb von left start"
    assert failing_words(Failure("line missed", "kerb", 2)) == "Linie verfehlt: kerb"


def test_numbers_are_shown_and_typed_with_the_languages_decimal_mark(german: None) -> None:
    run = RunFiles.read(BAKERY / "flour-round.yaml").begun.run
    session = RunSession(RunFiles.read(BAKERY / "flour-round.yaml").begun, Untried(), (1000, 640))
    session.place = next(g for g, segment in enumerate(run.segments) if isinstance(segment, Wait))
    (seconds,) = (line for line in session.lines if line.key.endswith(" seconds"))
    assert seconds.text == "0,5"
    # What is shown may be typed again: here a comma does not set thousands apart.
    for text, value in (("1,250", 1.25), ("0,5", 0.5), ("0.75", 0.75), ("1,5 s", 1.5)):
        made = typed(run, session.place, "seconds", text)
        assert not isinstance(made, Refused)
        segment = made.segments[session.place]
        assert isinstance(segment, Wait)
        assert segment.seconds == value
    assert isinstance(typed(run, session.place, "seconds", "1,500,000"), Refused)
    refused = typed(run, session.place, "seconds", "lang")
    assert isinstance(refused, Refused)
    assert "(etwa 2.5 oder 2.5 s)" in refused.words
    choose("en")
    assert isinstance(typed(run, session.place, "seconds", "1,250"), Refused)
    assert next(line for line in session.lines if line.key == seconds.key).text == "0.5"


def test_words_of_the_files_are_told_on_the_number_card(german: None) -> None:
    """What kind a segment is and which wheel it turns about; names of things stay."""
    files = RunFiles.read(BAKERY / "flour-round.yaml")
    session = RunSession(files.begun, Untried(), (1000, 640))
    told = []
    for session.place in range(len(files.begun.run.segments)):
        told.append({line.label: line.text for line in session.lines})
    assert [each["Art"] for each in told[:4]] == ["Geradeaus", "Drehung", "Geradeaus", "Bogen"]
    assert told[1]["um"] == "rechtes Rad"
    assert told[5]["Ziel"] == "flour lid"


def test_degrees_are_a_sign_on_the_strip(german: None) -> None:
    """A word of each segment has little room there."""
    session = RunSession(RunFiles.read(BAKERY / "flour-round.yaml").begun, Untried(), (1000, 640))
    words = RunView(session).scene().strip.words
    assert any("89\N{DEGREE SIGN}" in word for word in words)
    assert not any("Grad" in word for word in words)


def test_what_draws_a_thing_is_told_in_whole_sentences(german: None) -> None:
    field = load_field(ROOT / "fields" / "bakery.yaml")
    assert "an der linken Wand" in snap_point((2.0, 640.4), field, 6.0).words
    assert "an der vorderen Wand" in snap_point((1150.4, 2.0), field, 6.0).words


# A page without remedies says nothing that one with them does not.
@pytest.mark.parametrize("name", daily(name for name in QUICK if name in PAGES and name != "try practice"))
def test_every_word_of_a_page_comes_from_the_catalog(name: str, marked: None, tmp_path: Path) -> None:
    """Its drawings too, whose letters are texts."""
    words = PAGES[name]
    card = words[0] == "card"
    said(*words, "--save", tmp_path / "card.html" if card else tmp_path)
    page = Page((tmp_path / ("card.html" if card else "report.html")).read_text(encoding="utf-8"))
    labels = [each.get("aria-label") or "" for _, each in page.elements]
    told = [re.sub(r"SHA-256 [0-9a-f]{16}", "", text) for tag, text in page.texts if tag not in ("style", "code")]
    assert len(told) > 20
    strange = set()
    for text in (*told, *labels):
        # A name that is cut may have lost one of its signs; what is cut is a name or a title of one.
        if text.count(OPEN) == text.count(CLOSE):
            strange |= {word for word in re.findall(r"[A-Za-z]{3,}", outside(text)) if word not in KNOWN}
    # Files that lie beside it.
    assert (
        strange
        - {str(words[0]), "report", "html", "json", "answer", "svg", "png", "run", "segments", "tables", "xlsx"}
        # What it was computed with, and the digests of its files.
        - {"Python", "numpy", "SHA"}
        == set()
    )


def test_which_further_tests_help_is_told_from_the_catalog(marked: None) -> None:
    """Made-up numbers, in every form that the answer can have."""
    batches = (Batch("straight", 300.0, 1), Batch("turn", 90.0, 2), Batch("square path", 600.0, 1))
    worth = tuple(Worth(batch, 0.5 + 0.01 * n, 0.7) for n, batch in enumerate(batches))
    for low, untold in ((0.2, ()), (0.51, ("bias.turn", "straight.stop"))):
        answer = FurtherAnswer("Loop", 12, low, 0.7, 0.6, worth, worth, untold)
        text = statement_text(Statement("", "", (), "", sections=(further_section(answer),)), 10_000)
        left = re.findall(r"[A-Za-z]{2,}", outside(text))
        assert [word for word in left if word not in {*KNOWN, "Loop"}] == []
