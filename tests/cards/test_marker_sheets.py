"""The sheets of markers: what is on them, and that what comes out of a printer is found as what it is."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from commands import fieldsim

pytest.importorskip("cv2", reason="markers need the extra 'photo'")

from fieldsim.cards.markers.pages import marker_pages
from fieldsim.cards.markers.sheet import file_lines, marker_sheet
from fieldsim.cards.markers.words import place_words
from fieldsim.files import load_field, load_robot
from fieldsim.photo import opencv

ROOT = Path(__file__).parents[2]
PRACTICE = load_field(ROOT / "fields" / "practice.yaml")
BAKERY = load_field(ROOT / "fields" / "bakery.yaml")
ROBOT = load_robot(ROOT / "runs" / "bakery" / "box-one.yaml")


@pytest.mark.parametrize("paper", ["A4", "Letter"])
def test_printed_markers_have_their_size_and_point_up_the_page(paper: str) -> None:
    """Each page as a printer at 150 dots an inch makes it: numbers, sides to 0.1 mm, the arrow's side up."""
    sheet = marker_sheet(BAKERY, ROBOT, "0", paper)
    found: dict[int, np.ndarray] = {}
    for figure in marker_pages(sheet):
        figure.set_dpi(150)
        figure.canvas.draw()
        image = np.ascontiguousarray(np.asarray(figure.canvas.buffer_rgba())[:, :, :3])
        found |= dict(opencv.markers(opencv.grey(image)))
    assert sorted(found) == [1, 2, 3, 4, 9]
    for each in sheet.markers:
        corners = found[each.number] / 150 * 25.4
        sides = np.linalg.norm(np.roll(corners, -1, axis=0) - corners, axis=1)
        assert sides == pytest.approx(each.size, abs=0.1)
        assert corners[0][1] < corners[3][1]
        assert corners[0][0] < corners[1][0]


def test_those_of_the_files_are_taken_as_they_are() -> None:
    sheet = marker_sheet(PRACTICE, ROBOT, "0")
    assert [(each.number, each.size, each.on_robot) for each in sheet.markers] == [
        *((number, 60.0, False) for number in (1, 2, 3, 4)), (9, 60.0, True),
    ]  # fmt: skip
    assert file_lines(sheet) == ((), ())


def test_what_is_proposed_can_be_pasted_into_the_files(tmp_path: Path) -> None:
    without = "field: Board\nsize: [2000, 1000]\n"
    (tmp_path / "field.yaml").write_text(without, encoding="utf-8")
    sheet = marker_sheet(load_field(tmp_path / "field.yaml"), None, "0")
    field, robot = file_lines(sheet)
    (tmp_path / "field.yaml").write_text(without + "\n".join(field) + "\n", encoding="utf-8")
    read = load_field(tmp_path / "field.yaml")
    assert [(int(each.number), each.size, each.at) for each in read.markers] == [
        (each.number, each.size, each.at) for each in sheet.markers if not each.on_robot
    ]
    # The white rim stays on the field.
    rim = sheet.markers[0].size * (0.5 + 1 / 6)
    assert all(rim <= x <= 2000 - rim and rim <= y <= 1000 - rim for x, y in (each.at for each in read.markers))
    plain = "robot: Box\nbody: {length: 170, width: 140, axle: 60}\ndrive: {track: 112, wheel: 62}\n"
    (tmp_path / "robot.yaml").write_text(plain + "\n".join(robot) + "\n", encoding="utf-8")
    assert load_robot(tmp_path / "robot.yaml").marker is not None


def test_where_each_lies_is_told() -> None:
    sheet = marker_sheet(PRACTICE, ROBOT, "0")
    assert place_words(sheet.markers[1]) == "its middle at [1150, 50], the arrow to the far wall"
    assert place_words(sheet.markers[-1]) == (
        "its middle 20 mm ahead of the axle's middle, 0 mm left of it; the arrow ahead"
    )


def test_the_command(tmp_path: Path) -> None:
    words = ("card", "fields/practice.yaml", "--markers", "--robot", "runs/bakery/box-one.yaml")
    done = fieldsim(*words, "--save", tmp_path / "markers.pdf")
    assert (done.returncode, (tmp_path / "markers.pdf").read_bytes()[:5]) == (0, b"%PDF-")
    for wrong, said in (
        ((*words, "--save", tmp_path / "a.xlsx"), "can be saved as"),
        ((*words, "--save", tmp_path / "a.html"), "true size"),
        (("card", "runs/bakery/flour-round.yaml", "--robot", "runs/bakery/box-one.yaml"), "--markers only"),
        (("card", "runs/bakery/flour-round.yaml", "--markers"), "a field is wanted"),
    ):
        done = fieldsim(*wrong)
        assert done.returncode == 2
        assert said in done.stderr
