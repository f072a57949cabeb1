"""The errors that ``tests/mutation.py`` puts into a module: which there are, and that each is put where it says."""

from __future__ import annotations

import ast
from pathlib import Path

import pytest
from mutation import ROOT, module_name, mutants, nearest, put

SOURCE = '''
"""A text with 3 in it."""
LIMIT: float = 2.5

def f(a: int, b: int = 7) -> int | None:
    """Another one."""
    if a < LIMIT and not b:
        raise ValueError(f"{a + 1} is too little")
    return max(a - b, key=abs)
'''


def test_every_kind_of_error_and_none_in_words() -> None:
    found = {(each.before, each.after) for each in mutants(SOURCE, "some")}
    assert found == {
        ("2.5", "2.75"),
        ("7", "8"),
        ("a < LIMIT", "a <= LIMIT"),
        ("a < LIMIT", "a >= LIMIT"),
        ("a < LIMIT and (not b)", "a < LIMIT or not b"),
        ("a < LIMIT and (not b)", "a < LIMIT"),
        ("a < LIMIT and (not b)", "not b"),
        ("not b", "b"),
        ("if a < LIMIT and (not b):", "if True:"),
        ("if a < LIMIT and (not b):", "if False:"),
        ("max(a - b, key=abs)", "max(a - b)"),
        ("max", "min"),
        ("a - b", "a + b"),
        ("return max(a - b, key=abs)", "return None"),
    }


def test_an_error_stands_in_its_place_and_nowhere_else() -> None:
    whole = ast.unparse(ast.parse(SOURCE))
    for each in mutants(SOURCE, "some"):
        changed = ast.unparse(put(each.source, each.path, each.node))
        differing = [new for old, new in zip(whole.splitlines(), changed.splitlines(), strict=True) if old != new]
        assert len(differing) == 1, str(each)
        assert each.after in differing[0], str(each)


@pytest.mark.parametrize(
    ("file", "name", "room"),
    [
        ("fieldsim/stats/intervals.py", "fieldsim.stats.intervals", "stats"),
        ("fieldsim/stats/__init__.py", "fieldsim.stats", "stats"),
        ("fieldsim/entry.py", "fieldsim.entry", ""),
    ],
)
def test_the_nearest_tests_are_those_of_the_room(file: str, name: str, room: str) -> None:
    path: Path = ROOT / file
    assert module_name(path) == name
    assert nearest(path) == [str(ROOT / "tests" / room) if room else str(ROOT / "tests")]
