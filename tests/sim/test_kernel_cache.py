"""Where the compiled kernel is kept."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest

from fieldsim.sim.kernel import jit

MOVE = "from fieldsim.sim.kernel.sweep import least; print(least(0.5))"


def _least(cache: str) -> str:
    env = {k: v for k, v in os.environ.items() if k != "NUMBA_CACHE_DIR"} | {"XDG_CACHE_HOME": cache}
    done = subprocess.run([sys.executable, "-c", MOVE], env=env, capture_output=True, text=True, check=True)
    return done.stdout.strip()


def test_it_goes_to_the_user_s_cache_folder(tmp_path: Path) -> None:
    assert _least(str(tmp_path)) == "0.5"
    assert [file.name for file in tmp_path.rglob("sweep.least*.nbc")]


def test_a_cache_folder_that_cannot_be_written_is_no_trouble(tmp_path: Path) -> None:
    blocked = tmp_path / "a file"
    blocked.write_text("")
    assert _least(str(blocked)) == "0.5"


def test_the_folder_changes_with_any_file_of_the_kernel(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """numba itself would not see that a function of another file has changed."""
    source = Path(jit.__file__).parent
    for file in source.glob("*.py"):
        (tmp_path / file.name).write_bytes(file.read_bytes())
    monkeypatch.setattr(jit, "__file__", str(tmp_path / "jit.py"))
    before = jit._folder()
    (tmp_path / "sweep.py").write_text((tmp_path / "sweep.py").read_text().replace("1e-5", "2e-5"))
    assert jit._folder() != before
