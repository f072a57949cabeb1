"""Every study of the catalog in all its faces. A study more is tested by being in the catalog."""

from __future__ import annotations

import json
import re
from pathlib import Path
from typing import Any

import click
import pytest
from catalogs import OTHERS, read
from jsonschema import Draft202012Validator
from pages import Page

from fieldsim import cli
from fieldsim.catalog import STUDIES, Study, schema_of_answers
from fieldsim.catalog.study import Option

ROOT = Path(__file__).parents[2]
README = (ROOT / "README.md").read_text(encoding="utf-8")
ROWS = re.findall(r"^\| `fieldsim ([^`]+)` \|", README, re.MULTILINE)

each_study = pytest.mark.parametrize("study", STUDIES, ids=[study.name for study in STUDIES])


def ask(*words: str | Path) -> int:
    with pytest.MonkeyPatch.context() as patch:
        patch.chdir(ROOT)
        patch.setattr("sys.argv", ["fieldsim", *map(str, words)])
        with pytest.raises(SystemExit) as end:
            cli.main()
    assert isinstance(end.value.code, int)
    return end.value.code


def templates(study: Study) -> set[str]:
    pictures = {text for pair in study.pictures.values() for text in pair}
    return {study.about, study.saving, *(option.about for option in study.options), *pictures}


@each_study
def test_it_is_a_command_with_all_its_options(study: Study) -> None:
    made = cli.program.commands[study.name]
    flags = [each.opts[0] for each in made.params if isinstance(each, click.Option)]
    assert flags == [*(option.flag for option in study.options), "--json", "--save"]
    arguments = [each.name for each in made.params if isinstance(each, click.Argument)]
    assert arguments == [argument.name for argument in study.arguments]
    assert made.help == study.about


@each_study
@pytest.mark.parametrize("language", OTHERS)
def test_its_words_are_in_every_language(study: Study, language: str) -> None:
    known = {message.id: message.string for message in read(language) if isinstance(message.id, str)}
    assert {text for text in templates(study) if not known.get(text)} == set()


@each_study
def test_it_has_a_row_in_the_readme_and_no_row_asks_for_what_it_has_not(study: Study) -> None:
    rows = [row.split() for row in ROWS if row.split()[0] == study.name]
    assert rows
    flags = {option.flag for option in study.options} | {"--json", "--save"}
    assert {word for row in rows for word in row if word.startswith("--")} <= flags


@pytest.mark.usefixtures("small_maps")
@each_study
def test_its_answer_keeps_to_its_schema_and_its_page_is_saved(
    study: Study, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    schema = schema_of_answers(study.name)
    Draft202012Validator.check_schema(schema)
    assert ask(study.name, *study.example, "--json", "--save", tmp_path) == 0
    answer: dict[str, Any] = json.loads(capsys.readouterr().out)
    assert answer["command"] == study.name
    assert [error.message for error in Draft202012Validator(schema).iter_errors(answer)] == []
    assert json.loads((tmp_path / "answer.json").read_text(encoding="utf-8")) == answer
    page = Page((tmp_path / "report.html").read_text(encoding="utf-8"))
    read_there = " ".join(text for _, text in page.texts)
    for what, seen in study.pictures.values():
        assert what in read_there
        assert seen[:40] in read_there
    assert {path.suffix for path in tmp_path.iterdir()} >= {".json", ".html", ".svg", ".png"}


@each_study
def test_its_words_are_told_by_their_record_alone(study: Study) -> None:
    names = [option.name for option in study.options]
    assert len(set(names)) == len(names)
    assert not set(names) & {argument.name for argument in study.arguments}
    assert all(option.about for option in study.options)


def test_an_option_is_called_as_its_flag_unless_told() -> None:
    trials = next(option for study in STUDIES for option in study.options if option.flag == "--every-trial")
    assert trials.name == "every_trial"
    assert Option("--from", trials.kind, "x", own_name="low").name == "low"


def test_no_two_studies_have_one_name() -> None:
    assert len({study.name for study in STUDIES}) == len(STUDIES)
