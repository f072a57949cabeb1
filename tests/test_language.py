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
from fieldsim.window.keys import FIELD_KEYS, MATCH_KEYS, RUN_KEYS


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
    assert tr("{gap:.1f} mm of {whole}", gap=1.25, whole=3) == "1.2 mm of 3"
    assert tr("") == ""
    # Without values braces are just braces.
    assert tr("{not a value}") == "{not a value}"
    assert tr_many("{n} test", "{n} tests", 1) == "1 test"
    assert tr_many("{n} test of {robot}", "{n} tests of {robot}", 2, robot="Box") == "2 tests of Box"
    assert tr_as("a context", "word") == "word"
    assert tr_later("Later {x}") == "Later {x}"


def test_numbers_have_the_languages_decimal_mark(german: None) -> None:
    assert in_digits("12.5") == "12,5"
    assert tr("{gap:.1f} {name} {whole} {text}", gap=1.25, name="a.b", whole=3, text="v1.2") == "1,2 a.b 3 v1.2"


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
    # Ids, names of walls and keys and values of files; text patterns.
    "advice": ("not reached", "too skew", "face not borne", "line missed", "too flat an angle", "already under"),
    "base": ("caster_load_", "an attachment", "{}_"),
    "base_words": ("{} mm/s^2",),
    "card_page": (":root", '"{}" counter', "class=", "{", "}", "@page", "default-src", "<", "data-label", "page "),
    "card_words": (
        "rear left",
        "rear right",
        "front right",
        "front left",
        "right side",
        "left side",
        "square path",
        "left wheel",
        "ends outside",
        "360 x",
        "-2 x",
        "2 x",
    ),
    "causes": ("right wall", "far wall", "left wall", "near wall", "square: ", "straight: "),
    "match_bank": ("while time is left",),
    "match_card_page": ("<", "data-label"),
    "match_words": ("while time is left", "{}_low", "{}_high"),
    "model": ("near wall", "far wall", "left wall", "right wall"),
    "picture.__init__": ("font-family:", ".{}", "upper center"),
    "picture.base": (
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
    "picture.designs": ("causes ", "lower center"),
    "picture.field_map": (
        "start-area-",
        "stop-",
        "obstacle-",
        "target-",
        "jig-",
        "trial-",
        "line-",
        "square-",
        "sight-",
    ),
    "picture.ribbon": (
        "offset points",
        "lower left",
        "ribbon-words-",
        "margin-",
        "median-",
        "nominal-",
        "band-",
        "touch-",
    ),
    "picture.starts": ("start-{}", "offset points", "map {}", "lower center"),
    "picture.card": (
        "area-",
        "attachment-name-",
        "measure-",
        "obstacle-",
        "wall-",
        "corner-",
    ),
    "fit_words": ("sign of ", "both signs", "x and y swapped", "root ", "by eye"),
    "logbook_words": ("too ", "larger as", "smaller as", "as forecast"),
    "picture.table_time": ("ends-", "value-", "now-", "open-", "{}-", "lower center"),
    "slack_words": ("stands against", "no end"),
    "studies_words": ("ends outside",),
    "report": (":root", "default-src", "<!doctype", "width=", "url("),
    "report_words": ("causes ", "fieldsim {}"),
    "tally": ("left wheel", "right wheel"),
    # Names of actions, of keys and of parts of the window.
    "window.desk": ("full screen", "recover "),
    "window.field_app": ("save with runs", "save alone"),
    "window.field_edits": ("rear left", "far right", "shape.points", "corner {}"),
    "window.field_files": ("New field",),
    "window.field_session": (
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
    "window.field_view": ("tool ",),
    # Keys and actions; what the help says of them is looked at below.
    "window.keys": (
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
    "window.look": ("DejaVu",),
    "window.loop": ("{}{} - fieldsim", "fieldsim getting ready", "ctrl q"),
    "window.match_app": ("full screen",),
    "window.match_session": ("full screen", "step ", "stretch ", "next match", "last match", "block {}", "ctrl q"),
    "window.paint": ("part {}", "ruler "),
    "window.paint_build": ("ends outside",),
    "window.paint_cards": ("number {}", "switch {}", "button {}"),
    "window.paint_editor": (
        "deep picture",
        "jig names",
        "ruler ",
        "part {}",
        "whole picture",
        "tool {}",
        "button tool",
    ),
    "window.paint_layers": ("layer {}",),
    "window.paint_layout": ("tool {}", "button {}", "{} {} "),
    "window.paint_strip": ("block {}",),
    "window.recovery": ("fieldsim recovery copy", "{}", "Application Support"),
    "window.run_app": ("getting ready",),
    "window.run_edits": ("{}.low", "{}.high"),
    "window.run_session": (
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
    "window.session": ("ctrl ", "recover ", "save "),
    "window.snapping": ("corner {}",),
}
# Modules that say something, all in `tr`.
SAID = (
    "advice",
    "base",
    "base_words",
    "card_page",
    "card_words",
    "causes",
    "fit_words",
    "further_words",
    "jigs_words",
    "language",
    "logbook_words",
    "match",
    "match_bank",
    "match_card",
    "match_card_page",
    "match_card_words",
    "match_follow",
    "match_model",
    "match_order",
    "match_play",
    "match_policy",
    "match_story",
    "match_words",
    "match_worth",
    "model",
    "one_trial",
    "phrases",
    "picture.__init__",
    "picture.base",
    "picture.card",
    "picture.designs",
    "picture.field_map",
    "picture.ribbon",
    "picture.starts",
    "picture.table_time",
    "report",
    "report_words",
    "slack_words",
    "statement",
    "studies_words",
    "tally",
    "trials",
    "window.camera",
    "window.clock",
    "window.desk",
    "window.field_app",
    "window.field_edits",
    "window.field_files",
    "window.field_runs",
    "window.field_session",
    "window.field_view",
    "window.following",
    "window.history",
    "window.keys",
    "window.live",
    "window.look",
    "window.loop",
    "window.match_app",
    "window.match_session",
    "window.match_view",
    "window.paint",
    "window.paint_build",
    "window.paint_cards",
    "window.paint_editor",
    "window.paint_field",
    "window.paint_ground",
    "window.paint_layers",
    "window.paint_layout",
    "window.paint_names",
    "window.paint_over",
    "window.paint_places",
    "window.paint_scene",
    "window.paint_strip",
    "window.paint_tools",
    "window.record",
    "window.recovery",
    "window.run_app",
    "window.run_edits",
    "window.run_files",
    "window.run_session",
    "window.run_view",
    "window.screen",
    "window.session",
    "window.snapping",
    "wording",
)


@pytest.mark.parametrize("module", SAID)
def test_no_sentence_is_outside_the_catalog(module: str) -> None:
    allowed = ALLOWED.get(module, ())
    found = [
        each
        for each in untold(PACKAGE / f"{module.replace('.', '/')}.py")
        if not each[1].strip().startswith(allowed or ("\0",))
    ]
    assert found == []


def test_the_help_says_nothing_of_keys_outside_the_catalog() -> None:
    """In the list of keys texts stand between names of keys and of actions."""
    known = {message.id for message in messages(gathered())}
    for key in (*RUN_KEYS, *MATCH_KEYS, *FIELD_KEYS):
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
