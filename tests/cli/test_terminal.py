"""How wide and in which colours answers are laid out: by what shows them."""

from __future__ import annotations

import sys

import pytest
from commands import fieldsim

from fieldsim.cli.say import coloured, terminal_width

FLOUR = "runs/bakery/flour-round.yaml"


@pytest.mark.parametrize(("columns", "width"), [("20", 40), ("72", 72), ("300", 120)])
def test_a_terminal_says_how_wide_it_is(columns: str, width: int, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(sys.stdout, "isatty", lambda: True, raising=False)
    monkeypatch.setenv("COLUMNS", columns)
    assert terminal_width() == width


def test_what_is_piped_is_the_same_everywhere(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(sys.stdout, "isatty", lambda: False, raising=False)
    monkeypatch.setenv("COLUMNS", "57")
    monkeypatch.setenv("TERM", "xterm")
    assert terminal_width() == 100
    assert not coloured()


@pytest.mark.parametrize(
    ("variables", "colours"),
    [
        ({}, True),
        ({"NO_COLOR": "1"}, False),
        # Set to nothing it says nothing (no-color.org).
        ({"NO_COLOR": ""}, True),
        ({"TERM": "dumb"}, False),
    ],
)
def test_colours_are_for_terminals_that_want_them(
    variables: dict[str, str], colours: bool, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(sys.stdout, "isatty", lambda: True, raising=False)
    monkeypatch.delenv("NO_COLOR", raising=False)
    monkeypatch.setenv("TERM", "xterm")
    for name, value in variables.items():
        monkeypatch.setenv(name, value)
    assert coloured() is colours


def test_details_tell_all_and_say_nothing_on_stderr() -> None:
    brief = fieldsim("try", FLOUR, "--trials", "300")
    whole = fieldsim("try", FLOUR, "--trials", "300", "--details")
    assert "Tightest places" not in brief.stdout
    assert "Tightest places" in whole.stdout
    assert "\x1b" not in brief.stdout + whole.stdout
    assert brief.stderr == whole.stderr == ""
