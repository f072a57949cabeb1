"""Damaged copies of the shipped plans: either they load, or FileError says why."""

from __future__ import annotations

import shutil
import tempfile
from collections.abc import Iterator
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fieldsim.errors import FileError
from fieldsim.files import load_run
from fieldsim.model import Run

ROOT = Path(__file__).parents[2]
FILES = {
    name: (ROOT / name).read_bytes()
    for name in ("fields/bakery.yaml", "runs/bakery/box-wide.yaml", "runs/bakery/mill-hatch.yaml")
}
TOKENS = [
    *("on", "no", "~", "", "12:30", "010", "0x", "0b", "1__", ".", ".nan", "-.inf", "1e999", "9" * 5000, "2024-99-99"),
    *("!!int x", "!!binary x", "!!timestamp 1", "!!python/name:os.system", "!", "*a", "&a", "<<", "{", "[", "[]", "{}"),
    *("'", '"', '"\\ud800"', '"\\x00"', "%YAML 9.9", "---", "...", "? ", ": ", "- ", "#", "|", ">", "@", "`", "\t"),
    *("1,5 m", "3 kg", "0.1 %", "-5", "0", "=", "\x85", "\u2028", "\ufeff", "\x00", "é", "mill", "mill-hatch.yaml"),
]


@pytest.fixture(scope="module")
def folder() -> Iterator[Path]:
    with tempfile.TemporaryDirectory() as made:
        yield Path(made)


def lay_out(folder: Path, changed: str, data: bytes) -> Path:
    for name, original in FILES.items():
        (folder / name).parent.mkdir(parents=True, exist_ok=True)
        (folder / name).write_bytes(data if name == changed else original)
    return folder / "runs/bakery/mill-hatch.yaml"


def test_the_plans_themselves_load(folder: Path) -> None:
    assert load_run(lay_out(folder, "", b"")).name == "Mill hatch"
    shutil.rmtree(folder / "runs")


def loaded(path: Path) -> tuple[Run | None, FileError | None]:
    try:
        return load_run(path), None
    except FileError as refused:
        return None, refused


@settings(max_examples=150, deadline=None)
@given(data=st.data())
def test_only_file_errors_come_out(folder: Path, data: st.DataObject) -> None:
    name = data.draw(st.sampled_from(sorted(FILES)))
    content = FILES[name]
    for _ in range(data.draw(st.integers(1, 3))):
        lines = content.split(b"\n")
        at = data.draw(st.integers(0, len(lines) - 1))
        token = data.draw(st.sampled_from(TOKENS)).encode()
        match data.draw(st.sampled_from(["byte", "delete", "double", "insert", "value", "cut"])):
            case "byte":
                place = data.draw(st.integers(0, len(content)))
                content = content[:place] + bytes([data.draw(st.integers(0, 255))]) + content[place + 1 :]
                continue
            case "cut":
                content = content[: data.draw(st.integers(0, len(content)))]
                continue
            case "delete":
                del lines[at]
            case "double":
                lines.insert(at, lines[at])
            case "insert":
                lines.insert(at, token)
            case "value":
                lines[at] = lines[at].partition(b":")[0] + b": " + token
        content = b"\n".join(lines)
    path = lay_out(folder, name, content)
    run, refused = loaded(path)
    if refused is None:
        assert isinstance(run, Run)
    else:
        assert refused.problems
        assert all(problem.message and problem.line >= 1 and problem.column >= 1 for problem in refused.problems)
        assert str(refused).encode("utf-8")
