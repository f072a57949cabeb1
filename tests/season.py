"""Every command on the invented bakery's files, with so few trials that all of them are quick."""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path
from typing import Any

import pytest

BAKERY = Path(__file__).parent.parent / "runs" / "bakery"

COMMANDS: dict[str, tuple[object, ...]] = {
    "try": ("try", "flour-round.yaml", "--trials", 300),
    "try with squares": ("try", "yard-bell.yaml", "--trials", 300, "--need", "80%"),
    "try practice": ("try", "practice-loop.yaml", "--half-width", "5%", "--bare"),
    "trial": ("try", "flour-round.yaml", "--trial", 7),
    "trial that fails": ("try", "yard-bell.yaml", "--trial", 3, "--seed", 9),
    "jigs": ("jigs", "flour-round.yaml", "--trials", 100),
    "jigs for a target": (
        "jigs",
        "../../fields/practice.yaml",
        "--robot",
        "box-one.yaml",
        "--wear",
        "scoop",
        "--to",
        "bell",
        "--trials",
        100,
    ),
    "jigs anywhere": ("jigs", "practice-loop.yaml", "--anywhere", "--trials", 100),
    "slack": ("slack", "flour-round.yaml", "--trials", 20),
    "widths": ("widths", "mill-hatch.yaml", "--trials", 50),
    "compare": ("compare", "flour-round.yaml", "mill-hatch.yaml", "--trials", 100),
    "causes": ("causes", "yard-bell.yaml", "--trials", 100),
    "tune": ("tune", "practice-loop.yaml", "--numbers", "--trials", 200),
    "aim": ("aim", "flour-round.yaml", "flour lid", "--trials", 200),
    "route": (
        "route",
        "../../fields/practice.yaml",
        "--robot",
        "box-one.yaml",
        "--wear",
        "scoop",
        "--to",
        "bell",
        "--trials",
        200,
    ),
    "base": ("base", "box-one.yaml", "--wear", "scoop"),
    "match": ("match", "match.yaml", "--trials", 200),
    "fit": ("fit", "tests.csv", "box-one.yaml"),
    "fit with a plan": ("fit", "tests.csv", "box-one.yaml", "--plan", "flour-round.yaml"),
    "photo": ("photo", "before.jpg", "after.jpg", "../../fields/practice.yaml", "box-one.yaml", "--straight", 600),
    "log": ("log", "log.csv", "--trials", 1000),
    "card": ("card", "yard-bell.yaml", "--trials", 200),
    "card on Letter": ("card", "flour-round.yaml", "--trials", 200, "--paper", "Letter"),
    "card for tests": ("card", "flour-round.yaml", "--tests"),
    "card of markers": ("card", "../../fields/bakery.yaml", "--markers", "--robot", "box-one.yaml"),
    "card for a match": ("card", "match.yaml", "--trials", 200),
    "check": ("check", "flour-round.yaml", "match.yaml", "tests.csv"),
}
# Those that keep what they found as a page.
PAGES = {
    name: words for name, words in COMMANDS.items() if not {"--trial", "--markers"} & {*words} and words[0] != "check"
}
# Those that answer for programs.
ANSWERS = {name: words for name, words in COMMANDS.items() if words[0] != "check"}
# Those whose answer takes more than a second or two: asked once in the daily suite, in their own tests, and in every
# form there is among the slow ones.
LONG = {
    "jigs",
    "slack",
    "widths",
    "causes",
    "fit",
    "fit with a plan",
    "log",
    "card on Letter",
    "try with squares",
    "compare",
    "route",
    "tune",
    "jigs anywhere",
    "jigs for a target",
}


def daily(names: Iterable[str]) -> list[Any]:
    """Names for ``parametrize``, the long ones marked slow."""
    return [pytest.param(name, marks=[pytest.mark.slow] if name in LONG else []) for name in names]
