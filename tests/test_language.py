"""The language of texts: how it is chosen, how values come into texts, and whether every text is in every catalog."""

from __future__ import annotations

import gettext
import re
from collections.abc import Iterator
from pathlib import Path

import pytest
from catalogs import OTHERS, PACKAGE, asked_for, fields, gathered, messages, read, texts, untold

from fieldsim import language
from fieldsim.language import DOMAIN, LANGUAGES, LOCALE, choose, in_digits, taken, tr, tr_as, tr_later, tr_many, wanted
from fieldsim.window.keys import (
    FIELD_KEYS,
    MATCH_KEYS,
    PROPOSAL_KEYS,
    ROBOT_KEYS,
    RUN_KEYS,
    SEASON_KEYS,
    STUDIES_KEYS,
)


@pytest.fixture
def german() -> Iterator[None]:
    choose("de")
    yield
    choose("en")


# --- choosing -----------------------------------------------------------------------------------------------------


def test_there_is_english_and_one_more() -> None:
    assert LANGUAGES[0] == "en"
    assert "de" in LANGUAGES
    assert language.language() == "en"


@pytest.mark.parametrize(
    ("environment", "found"),
    [
        ({"LANG": "de_DE.UTF-8"}, "de"),
        ({"LANG": "de_AT@euro"}, "de"),
        ({"LANG": "de"}, "de"),
        ({"LANG": "DE_de"}, "de"),
        ({"LANG": "en_GB.UTF-8"}, "en"),
        ({"LANG": "xx_YY"}, "en"),
        ({"LANG": "de_DE", "LC_ALL": "C"}, "en"),
        ({"LANG": "de_DE", "LC_MESSAGES": "en_GB.UTF-8"}, "en"),
        ({"LANG": "en_GB", "LC_MESSAGES": "de_CH.UTF-8"}, "de"),
        ({"LANG": "en_GB", "LANGUAGE": "xx:de:en"}, "de"),
        ({"LANG": "de_DE", "LANGUAGE": ""}, "de"),
        ({"LANG": "dexter"}, "en"),
    ],
)
def test_the_language_of_the_system(environment: dict[str, str], found: str) -> None:
    assert wanted(environment) == found


@pytest.mark.parametrize(
    ("own", "found"), [(("de_DE", "cp1252"), "de"), (("German_Germany", "1252"), "de"), ((None, None), "en")]
)
def test_where_no_variable_says_it(
    own: tuple[str | None, str | None], found: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("locale.getlocale", lambda: own)
    assert wanted({}) == found


def test_the_option_stands_anywhere() -> None:
    assert taken(["try", "run.yaml"]) == (None, ["try", "run.yaml"])
    assert taken(["--language", "de", "try", "run.yaml"]) == ("de", ["try", "run.yaml"])
    assert taken(["try", "run.yaml", "--language=de"]) == ("de", ["try", "run.yaml"])
    assert taken(["--language", "de", "try", "--language", "en"]) == ("en", ["try"])
    # Left for click to complain of.
    assert taken(["try", "--language"]) == (None, ["try", "--language"])
    assert taken(["try", "--", "--language", "de"]) == (None, ["try", "--", "--language", "de"])


def test_a_language_that_is_not_there() -> None:
    with pytest.raises(ValueError, match="must be one of"):
        choose("xx")
    assert language.language() == "en"


# --- texts --------------------------------------------------------------------------------------------------------


def test_values_come_into_english_texts() -> None:
    assert tr("Saved {file}", file="a.b") == "Saved a.b"
    assert tr("{gap:.1f} mm of {whole}", gap=1.25, whole=3) == "1.3 mm of 3"  # halves go away from nought
    assert tr("") == ""
    # Without values braces are just braces.
    assert tr("{not a value}") == "{not a value}"
    assert tr_many("{n} test", "{n} tests", 1) == "1 test"
    assert tr_many("{n} test of {robot}", "{n} tests of {robot}", 2, robot="Box") == "2 tests of Box"
    assert tr_as("a context", "word") == "word"
    assert tr_later("Later {x}") == "Later {x}"


def test_numbers_have_the_languages_decimal_mark(german: None) -> None:
    assert in_digits("12.5") == "12,5"
    assert tr("{gap:.1f} {name} {whole} {text}", gap=1.25, name="a.b", whole=3, text="v1.2") == "1,3 a.b 3 v1.2"


# --- catalogs -----------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("other", OTHERS)
def test_every_text_is_in_every_catalog(other: str) -> None:
    """If this fails: python tests/catalogs.py, then write what is missing."""
    catalog = {(message.id, message.context): message for message in messages(read(other))}
    said = {(message.id, message.context) for message in messages(gathered())}
    assert said - catalog.keys() == set()
    assert catalog.keys() - said == set()
    for message in catalog.values():
        one, told = texts(message)
        assert all(told), f"not translated: {message.id}"
        assert not message.fuzzy
        assert len(told) == (1 if len(one) == 1 else 2)
        for text in told:
            # The form for one thing may leave out the number.
            assert fields(text) | {"n"} >= fields(one[-1]), f"{text!r} lacks a value of {one[-1]!r}"
            assert fields(text) <= fields(one[-1]) | fields(one[0]), f"{text!r} has a value that {one!r} has not"
            assert text.strip() == text or one[0].strip() != one[0], f"{text!r} begins or ends with a blank"


def test_every_text_the_code_asks_for_is_gathered() -> None:
    known = {
        (*([message.id] if isinstance(message.id, str) else message.id), message.context or "")
        for message in messages(gathered())
    }
    asked = list(asked_for())
    assert len(asked) > 1000
    assert [
        (path.name, line, forms) for path, line, forms, context in asked if forms[0] and (*forms, context) not in known
    ] == []


@pytest.mark.parametrize("other", OTHERS)
def test_what_the_program_reads_is_what_the_catalog_says(other: str) -> None:
    catalog = gettext.translation(DOMAIN, LOCALE, [other])
    for message in messages(read(other)):
        one, told = texts(message)
        if message.context:
            assert [catalog.pgettext(message.context, one[0])] == told
        elif len(one) == 1:
            assert [catalog.gettext(one[0])] == told
        else:
            assert [catalog.ngettext(*one, 1), catalog.ngettext(*one, 2)] == told


# Modules whose sentences are not all for people.
ALLOWED: dict[str, tuple[str, ...]] = {
    "cards": (
        ":root",
        '"{}" counter',
        "class=",
        "{",
        "}",
        "@page",
        "default-src",
        "<",
        "data-label",
        "colspan=",
        "page ",
        "rear left",
        "rear right",
        "front right",
        "front left",
        "right side",
        "left side",
        "square path",
        "there and back",
        "left wheel",
        "ends outside",
        "360 x",
        "-2 x",
        "2 x",
        "<",
        "data-label",
        "area-",
        "attachment-name-",
        "measure-",
        "obstacle-",
        "wall-",
        "corner-",
        "near ",
        "far ",
        "left wall",
        "right wall",
        "left edge",
        "right edge",
        "start-area-",
        "target-",
        "leg-",
        "gap-",
        "room-",
        # Columns of a tests.csv, the same in every language.
        "heading from",
        "speed mm/s",
        "turn speed deg/s",
        "tape mm",
        "travel mm",
        "sideways mm",
        "heading deg",
        "side mm",
        "return x mm",
        "return y mm",
        "commanded mm",
        "along mm",
        "across mm",
        "angle deg",
        "arc3,rad=",
        "test {}",
        "there and back",
    ),
    "draw.thousand": ("part-",),
    "draw.__init__": ("font-family:", "'DejaVu Sans'", ".{}", "upper center"),
    "draw.base": (
        "lower center",
        "attachment-{",
        "axes fraction",
        "side-attachment-",
        "wheel-",
        "caster-",
        "sensor-",
        "side-caster-",
        "tips-",
    ),
    "draw.designs": ("causes ", "lower center"),
    "draw.field_map": ("start-area-", "stop-", "obstacle-", "target-", "jig-", "trial-", "line-", "square-", "sight-"),
    "draw.ribbon": (
        "offset points",
        "lower left",
        "ribbon-words-",
        "margin-",
        "median-",
        "nominal-",
        "band-",
        "touch-",
    ),
    "draw.starts": ("start-{}", "offset points", "map {}", "lower center"),
    "draw.table_time": ("ends-", "value-", "now-", "open-", "{}-", "lower center"),
    "match.bank": ("while time is left",),
    "files.reading": ("{}.yaml",),
    "files.records": ("turn left", "turn right"),
    "model": (
        "near wall",
        "far wall",
        "left wall",
        "right wall",
        "obstacle or wall",
        "left wheel",
        "right wheel",
        "^",
    ),
    "pages.page": (
        ":root",
        "default-src",
        "{}; script-src",
        "frame wide-one",
        "frame narrow-one",
        "<!doctype",
        "width=",
        "url(",
    ),
    "pages.page_words": ("causes ", "fieldsim {}", "Python {}, numpy {}", "SHA-256 {}"),
    "report.advice": (
        "not reached",
        "too skew",
        "face not borne",
        "line missed",
        "too flat an angle",
        "already under",
        "line square",
        "half speed",
        "corrected numbers",
        "aimed numbers",
    ),
    "report.words.base": ("{} mm/s^2",),
    "report.words.fit": ("sign of ", "both signs", "x and y swapped", "root ", "by eye"),
    "report.words.logbook": ("too ", "nothing against it", "larger as", "smaller as", "as forecast"),
    "report.words.match": ("while time is left", "{}_low", "{}_high"),
    "report.words.slack": ("stands against", "no end"),
    "report.phrases": ("ends outside", "by eye"),
    "studies.base": ("caster_load_", "an attachment", "{}_"),
    "studies.tally": ("left wheel", "right wheel"),
    "window.desk": ("full screen", "recover ", "save, then", "save over"),
    "window.field.app": ("save with runs", "save alone"),
    "window.field.edits": ("rear left", "far right", "shape.points", "corner {}"),
    "window.field.files": ("New field",),
    "window.field.session": (
        "rear ",
        "front ",
        "next thing",
        "last thing",
        "row ",
        "more ",
        "less ",
        "turned ",
        "next corner",
        "own word",
        "another picture",
        "ctrl q",
        "draw {}",
        "far right",
        "shift tab",
        "corner {}",
    ),
    "window.field.view": ("tool ",),
    "window.keys": (
        "save as",
        "part ",
        "new ",
        "put back",
        "scroll ",
        "left tile",
        "right tile",
        "upper tile",
        "lower tile",
        "first tile",
        "ctrl ",
        "alt ",
        "shift ",
        "page ",
        "row ",
        "more ",
        "less ",
        "step ",
        "segment ",
        "stretch ",
        "next ",
        "last ",
        "pick ",
        "start ",
        "draw ",
        "far ",
        "turned ",
        "full screen",
        "own word",
        "another picture",
    ),
    "window.live": ("getting ready", "fieldsim live"),
    "window.loop": ("{}{} - fieldsim", "fieldsim getting ready", "ctrl q"),
    "window.match.app": ("full screen",),
    "window.match.session": ("full screen", "step ", "stretch ", "next match", "last match", "block {}", "ctrl q"),
    "window.paint.cards": ("number {}", "switch {}", "button {}"),
    "window.paint.editor": (
        "deep picture",
        "jig names",
        "ruler ",
        "part {}",
        "whole picture",
    ),
    "window.paint.frame": ("part {}", "ruler "),
    "window.paint.layers": ("layer {}",),
    "window.paint.layout": ("tool {}", "button {}", "{} {} "),
    "window.paint.look": ("DejaVu",),
    "window.paint.odds": ("ends outside",),
    "window.paint.over": ("answer {}",),
    "window.paint.season": ("button {}", "row {}", "season {}", "tile {}"),
    "window.paint.strip": ("block {}",),
    "window.paint.toolbox": ("tool {}", "button tool"),
    "window.recovery": ("fieldsim recovery copy", "{}", "Application Support"),
    "window.robot": (
        "wheel left",
        "wheel right",
        "corner {}",
        "spot {}",
        "part ",
        "tool ",
        "next ",
        "last ",
        "row ",
        "more finely",
        "less finely",
        "{} {}",
        "shift ",
        "shift tab",
    ),
    "window.paint.robot": ("robot window", "spot {}", "tool {}", "button tool", "+ {}"),
    "window.run.app": ("getting ready", "save as", "name it"),
    "window.run.edits": ("{}.low", "{}.high"),
    "window.run.session": (
        "step ",
        "handle ",
        "segment back",
        "segment forth",
        "next ",
        "last segment",
        "row ",
        "more finely",
        "less finely",
        "pick ",
        "start turned",
        "block {}",
        "number {}",
        "ctrl q",
        "choice {}",
        "shift tab",
    ),
    "window.screen": ("page ", "keypad ", "alt {}"),
    "window.season": (
        "item {}",
        "tile {}",
        "season {}",
        "fieldsim season",
        "begin {}",
        "put back",
        "button {}",
        "new ",
        "scroll ",
        "left tile",
        "right tile",
        "upper tile",
        "lower tile",
        "first tile",
        "last tile",
        "full screen",
        "{} {}",
        "row {}",
        "shift ",
        "{} - fieldsim",
        "{}-{}",
        "{}: {}",
        "{}.csv",
        "{}.yaml",
    ),
    "window.session": ("ctrl ", "recover ", "save ", "save, then", "answer {}", "name it"),
    "window.snapping": ("corner {}",),
    "window.studies": (
        "fieldsim studies",
        "fieldsim {} {}",
        "fieldsim-",
        "button {}",
        "row {}",
        "full screen",
        "{}-card",
        "ctrl b",
    ),
    "window.paint.studies": ("button {}", "row {}", "study picture"),
}
# Modules that say something, and folders of them, all in `tr`.
SAID = (
    "cards.html",
    "cards.match",
    "cards.run.check_words",
    "cards.run.front",
    "cards.run.page",
    "cards.run.pages",
    "cards.run.plan_picture",
    "cards.run.start_picture",
    "cards.run.start_words",
    "cards.run.step_table",
    "cards.run.step_words",
    "cards.run.text",
    "cards.run.watch",
    "cards.run.words",
    "cards.shared",
    "cards.sheet.drawings",
    "cards.sheet.page",
    "cards.sheet.pages",
    "cards.sheet.words",
    "draw.__init__",
    "draw.base",
    "draw.designs",
    "draw.field_map",
    "draw.ribbon",
    "draw.starts",
    "draw.table_time",
    "draw.thousand",
    "files.__init__",
    "files.meant",
    "files.reading",
    "files.records",
    "files.tables.cells",
    "files.tables.dates",
    "files.tables.dialect",
    "files.tables.numbers",
    "files.tables.rows",
    "files.values",
    "language",
    "match.bank",
    "match.follow",
    "match.order",
    "match.play",
    "match.policy",
    "match.story",
    "match.study",
    "match.worth",
    "model",
    "pages.page",
    "pages.page_words",
    "report.advice",
    "report.one_trial",
    "report.phrases",
    "report.statement",
    "report.words.attempt",
    "report.words.base",
    "report.words.fit",
    "report.words.further",
    "report.words.jigs",
    "report.words.logbook",
    "report.words.match",
    "report.words.slack",
    "sim.endings",
    "sim.trials",
    "studies.base",
    "studies.causes",
    "studies.sources",
    "studies.tally",
    "window.asking",
    "window.camera",
    "window.desk",
    "window.field.app",
    "window.field.edits",
    "window.field.files",
    "window.field.runs",
    "window.field.session",
    "window.field.view",
    "window.following",
    "window.history",
    "window.keys",
    "window.live",
    "window.loop",
    "window.match.app",
    "window.match.session",
    "window.match.view",
    "window.paint.build",
    "window.paint.cards",
    "window.paint.editor",
    "window.paint.field",
    "window.paint.frame",
    "window.paint.ground",
    "window.paint.layers",
    "window.paint.layout",
    "window.paint.look",
    "window.paint.marks",
    "window.paint.names",
    "window.paint.odds",
    "window.paint.over",
    "window.paint.places",
    "window.paint.robot",
    "window.paint.scene",
    "window.paint.menu",
    "window.paint.season",
    "window.paint.studies",
    "window.paint.strip",
    "window.paint.tightest",
    "window.paint.toolbox",
    "window.paint.tools",
    "window.paint.writer",
    "window.record",
    "window.recovery",
    "window.robot",
    "window.run.app",
    "window.run.driving",
    "window.run.edits",
    "window.run.files",
    "window.run.session",
    "window.run.view",
    "window.screen",
    "window.season",
    "window.session",
    "window.studies",
    "window.snapping",
)


@pytest.mark.parametrize("module", SAID)
def test_no_sentence_is_outside_the_catalog(module: str) -> None:
    allowed = ALLOWED.get(module) or ALLOWED.get(module.partition(".")[0], ())
    place = PACKAGE / module.replace(".", "/")
    files = sorted(place.rglob("*.py")) if place.is_dir() else [place.with_suffix(".py")]
    found = [
        (file.name, *each)
        for file in files
        for each in untold(file)
        if not each[1].strip().startswith(allowed or ("\0",))
    ]
    assert found == []


def test_the_help_says_nothing_of_keys_outside_the_catalog() -> None:
    """In the list of keys texts stand between names of keys and of actions."""
    known = {message.id for message in messages(gathered())}
    for key in (*RUN_KEYS, *MATCH_KEYS, *FIELD_KEYS, *SEASON_KEYS, *STUDIES_KEYS, *ROBOT_KEYS, *PROPOSAL_KEYS):
        # Letters and digits are the same everywhere.
        said = {key.words, key.shown if re.search("[A-Za-z]{2}", key.shown) else ""}
        assert said - {""} <= known


def test_sentences_are_found_wherever_they_stand(tmp_path: Path) -> None:
    path = tmp_path / "module.py"
    path.write_text(
        '"""A docstring here."""\n'
        'WORDS = "two words"\n'
        'def f(x: "a b"):\n'
        '    """Another docstring."""\n'
        '    raise ValueError(f"for programmers {x}")\n'
        '    y = {"key": f"the {x}"}\n'
        '    return tr("said {x} here", x=x) + f"{x}:{y}" + tr_many("one thing", "{n} things", 2)\n',
        encoding="utf-8",
    )
    assert list(untold(path)) == [(2, "two words"), (3, "a b"), (6, "the {}")]
