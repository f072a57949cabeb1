"""A sheet in another unit than its headers say is asked about, once for each unit."""

from __future__ import annotations

from pathlib import Path

import pytest

from fieldsim.calibration.units import unit_doubts
from fieldsim.files import check
from fieldsim.files.sheets import load_sheet
from fieldsim.report.words.fit.sheets import sheet_words


def sheet(
    folder: Path, *rows: str, head: str = "test,commanded mm,commanded deg,travel mm,sideways mm,angle deg"
) -> Path:
    path = folder / "tests.csv"
    path.write_text("\n".join((head, *rows)) + "\n", encoding="utf-8")
    return path


CENTIMETRES = ("straight,30,,30.1,0.1,", "straight,100,,100.4,0.3,", "straight,100,,100.3,0.4,")
RADIANS = ("turn,,1.5708,,,1.58", "turn,,6.2832,,,6.3")
RIGHT = ("straight,300,,301,1,", "straight,1000,,1004,3,", "turn,,90,,,91", "turn,,360,,,363")


@pytest.mark.parametrize(
    ("rows", "found"),
    [
        (CENTIMETRES, {"lengths": 100.0}),
        (RADIANS, {"angles": 6.2832}),
        ((*CENTIMETRES, *RADIANS), {"lengths": 100.0, "angles": 6.2832}),
        (RIGHT, {}),
        # Short ones beside long ones are what a sheet should have.
        (("straight,100,,100.4,0.3,", "straight,500,,503,1,", "turn,,5,,,5.5", "turn,,90,,,91"), {}),
        ((), {}),
    ],
)
def test_another_unit_is_found_by_the_largest(tmp_path: Path, rows: tuple[str, ...], found: dict[str, float]) -> None:
    made = load_sheet(sheet(tmp_path, *rows))
    assert unit_doubts(made) == found
    said = list(sheet_words(made))
    assert len([each for each in said if "really" in each]) == len(found)
    if "lengths" in found:
        assert any("write 'commanded cm', 'travel cm'" in each for each in said)
    if "angles" in found:
        assert any("1.5708 is 90" in each for each in said)


def test_with_the_unit_in_the_header_nothing_is_asked(tmp_path: Path) -> None:
    made = load_sheet(
        sheet(tmp_path, *CENTIMETRES, head="test,commanded cm,commanded deg,travel cm,sideways cm,angle deg")
    )
    assert unit_doubts(made) == {}


@pytest.mark.parametrize(
    ("header", "hint"),
    [
        ("travle cm", "did you mean 'travel cm'?"),
        ("travel centimetres", "did you mean 'travel cm'?"),
        ("travl inch", "did you mean 'travel in'?"),
        ("travle mm", "did you mean 'travel mm'?"),
        ("travel feet", "did you mean 'travel mm'? Its numbers are then mm"),
    ],
)
def test_a_guess_at_a_column_keeps_its_unit(tmp_path: Path, header: str, hint: str) -> None:
    """'travel mm' for a column of centimetres would be wrong by ten."""
    path = sheet(tmp_path, "straight,1000,100.4", head=f"test,commanded mm,{header}")
    (problem,) = (each for each in check([path]).problems if "no column" in each.message)
    assert hint in problem.hint.splitlines()
