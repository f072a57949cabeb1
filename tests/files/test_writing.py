"""Values changed in files that people wrote: everything else stays as it was."""

from __future__ import annotations

import os
from pathlib import Path

import pytest
import yaml
from hypothesis import given, settings
from hypothesis import strategies as st

from fieldsim.errors import SaveError
from fieldsim.files import load_robot
from fieldsim.files.writing import changed, rewrite

ROOT = Path(__file__).parents[2]
BOX = (ROOT / "runs/bakery/box-one.yaml").read_text(encoding="utf-8")
SOME = {("accuracy", "bias", "distance"): "0.61 %", ("accuracy", "turn", "stop"): 0.35, ("drive", "speed"): 220.0}


def words(text: str) -> list[str]:
    """Comments of a file, in order, without the blanks before them."""
    return [line[line.index("#") :].rstrip() for line in text.splitlines() if "#" in line]


def test_comments_order_and_all_other_values_stay() -> None:
    after = changed(BOX, SOME)
    assert words(after) == words(BOX)
    before, now = yaml.safe_load(BOX), yaml.safe_load(after)
    assert list(now) == list(before)
    assert (now["accuracy"]["bias"].pop("distance"), now["accuracy"]["turn"].pop("stop")) == ("0.61 %", 0.35)
    assert now["drive"].pop("speed") == 220.0
    del before["accuracy"]["bias"]["distance"], before["accuracy"]["turn"]["stop"], before["drive"]["speed"]
    assert now == before


def test_a_change_to_what_is_there_changes_nothing() -> None:
    assert changed(BOX, {("drive", "speed"): 250}) == changed(BOX, {})


def test_keys_that_are_not_there_are_added() -> None:
    text = "robot: Box  # mine\nbody: {length: 170, width: 140, axle: 60}\ndrive:\n  track: 112\n  wheel: 62\n"
    after = changed(text, {("accuracy", "turn", "slip"): 0.5, ("drive", "gear"): 1.5})
    assert yaml.safe_load(after)["accuracy"] == {"turn": {"slip": 0.5}}
    assert yaml.safe_load(after)["drive"] == {"track": 112, "wheel": 62, "gear": 1.5}
    assert "# mine" in after


def test_a_way_through_a_value_is_refused() -> None:
    with pytest.raises(ValueError, match="no keys"):
        changed(BOX, {("drive", "speed", "left"): 3.0})
    with pytest.raises(ValueError, match="cannot be read"):
        changed("a: [1", {("a",): 2.0})


def test_the_file_is_replaced_whole_and_the_old_one_is_kept(tmp_path: Path) -> None:
    path = tmp_path / "box.yaml"
    path.write_text(BOX, encoding="utf-8")
    backup = rewrite(path, SOME)
    assert backup.read_text(encoding="utf-8") == BOX
    assert load_robot(path).accuracy.bias.distance == pytest.approx(0.0061)
    assert load_robot(path).accuracy.turn.stop == 0.35
    assert sorted(each.name for each in tmp_path.iterdir()) == ["box.yaml", "box.yaml.bak"]


@pytest.mark.parametrize("mark", ["", "\ufeff"])
@pytest.mark.parametrize("ending", ["\n", "\r\n"])
def test_line_ends_and_byte_order_mark_stay(mark: str, ending: str, tmp_path: Path) -> None:
    path = tmp_path / "box.yaml"
    path.write_bytes((mark + BOX.replace("\n", ending)).encode())
    rewrite(path, SOME)
    after = path.read_bytes().decode()
    assert after.startswith(mark + "# A small robot")
    assert after.count("\r\n") == (after.count("\n") if ending == "\r\n" else 0)
    assert load_robot(path).drive.speed == 220.0


def test_a_save_that_fails_leaves_the_old_file(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = tmp_path / "box.yaml"
    path.write_text(BOX, encoding="utf-8")

    def full(*_: object) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "fsync", full)
    with pytest.raises(SaveError, match="No space left"):
        rewrite(path, SOME)
    assert path.read_text(encoding="utf-8") == BOX
    assert {each.name for each in tmp_path.iterdir()} <= {"box.yaml", "box.yaml.bak"}


@settings(max_examples=30, deadline=None)
@given(value=st.floats(0.01, 9.0), text=st.sampled_from(sorted((ROOT / "runs").rglob("box-*.yaml"))))
def test_any_value_reads_back(value: float, text: Path) -> None:
    after = changed(text.read_text(encoding="utf-8"), {("accuracy", "straight", "veer"): value})
    assert yaml.safe_load(after)["accuracy"]["straight"]["veer"] == value
    assert words(after) == words(text.read_text(encoding="utf-8"))
