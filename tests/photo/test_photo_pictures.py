"""Whole pictures with a known truth, from JPEG to the robot's pose and to what spoils it; files that are none."""

from __future__ import annotations

import csv
import io
import json
import sys
from dataclasses import replace
from math import cos, hypot, radians, sin
from pathlib import Path

import numpy as np
import pytest

cv2 = pytest.importorskip("cv2", reason="pictures need the extra 'photo'")

from commands import fieldsim  # noqa: E402
from photographed import Eye, Lain, Light, corners, jpeg, picture, taken  # noqa: E402

from fieldsim.files import load_field, load_robot, load_run  # noqa: E402
from fieldsim.files.sheets import load_log, load_sheet  # noqa: E402
from fieldsim.model.errors import FileError  # noqa: E402
from fieldsim.photo import opencv, rows  # noqa: E402
from fieldsim.photo.answer import PhotoPicture  # noqa: E402
from fieldsim.photo.files import picture as read_picture  # noqa: E402
from fieldsim.photo.taking import Taken, look, take  # noqa: E402

ROOT = Path(__file__).parents[2]
FIELD = load_field(ROOT / "fields" / "practice.yaml")
ROBOT = load_robot(ROOT / "runs" / "bakery" / "box-one.yaml")
LOOP = load_run(ROOT / "runs" / "bakery" / "practice-loop.yaml")
POSE = (640.0, 300.0, 25.0)
EYE = Eye((560.0, -420.0, 1150.0), (600.0, 360.0, 0.0), width=2000, height=1500, focal=1600.0, lens=(0.01, -0.01))
SHARP = Light(noise=2.0)


def lain(pose: tuple[float, float, float] = POSE) -> dict[int, Lain]:
    made = {int(each.number): Lain(*each.at, each.heading, each.size) for each in FIELD.markers}
    x, y, heading = pose
    made[9] = Lain(x + 20 * cos(radians(heading)), y + 20 * sin(radians(heading)), heading, 60.0, 110.0)
    return made


def looked_at(*files: bytes) -> Taken:
    seen = []
    for number, data in enumerate(files, 1):
        image = opencv.decoded(data)
        assert image is not None
        seen.append(look(Path(f"{number}.jpg"), image))
    return take(seen, FIELD, ROBOT)


def one(light: Light = SHARP, eye: Eye = EYE, truth: dict[int, Lain] | None = None) -> PhotoPicture:
    return looked_at(taken(eye, truth or lain(), light)).answer.pictures[0]


def kinds(seen: PhotoPicture) -> set[tuple[str, int | None]]:
    return {(each.kind, each.marker) for each in seen.spoilers}


def test_a_good_picture() -> None:
    seen = one()
    assert seen.seen == (1, 2, 3, 4, 9)
    assert seen.spoilers == ()
    assert seen.robot is not None
    assert hypot(seen.robot.x - POSE[0], seen.robot.y - POSE[1]) < 2.0
    assert abs(seen.robot.heading - POSE[2]) < 0.4
    assert hypot(seen.robot.x_error, seen.robot.y_error) < 1.5


def test_the_cells_are_those_of_the_published_table() -> None:
    """OpenCV's board of its own, with our numbers, is found as what it is."""
    board = cv2.aruco.GridBoard((4, 2), 60.0, 30.0, cv2.aruco.getPredefinedDictionary(cv2.aruco.DICT_4X4_50))
    image = np.asarray(board.generateImage((1200, 700), marginSize=60))
    assert sorted(number for number, _ in opencv.markers(image)) == list(range(8))
    for number in (1, 9, 49):
        square = np.kron(np.pad(~opencv.cells(number), 2, constant_values=True), np.full((20, 20), 255)).astype(
            np.uint8
        )
        ((found, _),) = opencv.markers(square)
        assert found == number


def test_corners_are_found_to_parts_of_a_pixel() -> None:
    image = picture(EYE, lain(), SHARP)
    off = np.concatenate([at - EYE.pixels(corners(lain()[number])) for number, at in opencv.markers(image)])
    assert len(off) == 20
    assert np.sqrt((off**2).mean()) < 0.25


class TestWhatSpoilsAPicture:
    def test_a_marker_that_is_cut_off(self) -> None:
        eye = replace(EYE, to=(900.0, 360.0, 0.0), focal=2100.0)
        seen = one(eye=eye)
        assert ("cut off", 1) in kinds(seen) or ("cut off", 4) in kinds(seen)
        assert seen.robot is not None

    def test_glare(self) -> None:
        assert ("glare", 2) in kinds(one(replace(SHARP, glare={2: 0.3})))

    def test_something_over_a_marker(self) -> None:
        assert ("hidden", 3) in kinds(one(replace(SHARP, covered=(3,))))

    def test_a_hand_that_shook(self) -> None:
        assert any(kind == "blurred" for kind, _ in kinds(one(replace(SHARP, moved=(7.0, 1.0)))))

    def test_seen_too_flat(self) -> None:
        eye = replace(EYE, at=(600.0, -900.0, 480.0), to=(600.0, 330.0, 0.0))
        assert ("flat", None) in kinds(one(eye=eye))

    def test_no_robot(self) -> None:
        there = {number: each for number, each in lain().items() if number != 9}
        seen = one(truth=there)
        assert kinds(seen) == {("no robot marker", 9)}
        assert seen.robot is None

    def test_few_of_the_fields(self) -> None:
        there = {number: each for number, each in lain().items() if number in (1, 2, 9)}
        assert {kind for kind, _ in kinds(one(truth=there))} == {"few", "hidden"}

    def test_only_the_robot(self) -> None:
        seen = one(truth={9: lain()[9]})
        assert kinds(seen) == {("no field marker", None)}
        assert seen.robot is None

    def test_no_marker_at_all(self) -> None:
        answer = looked_at(taken(EYE, {}, SHARP)).answer
        assert kinds(answer.pictures[0]) == {("no markers", None)}
        assert answer.camera is None

    def test_one_number_twice(self) -> None:
        image = picture(EYE, lain(), SHARP)
        again = picture(EYE, {3: Lain(350.0, 600.0, 70.0, 60.0)}, SHARP)
        both = np.where(again == picture(EYE, {}, SHARP), image, again)
        assert ("twice", 3) in kinds(looked_at(jpeg(both)).answer.pictures[0])

    def test_one_that_was_moved_between_two(self) -> None:
        moved = {**lain((300.0, 600.0, -80.0)), 2: Lain(1150.0, 64.0, 90.0, 60.0)}
        answer = looked_at(taken(EYE, lain(), SHARP), taken(replace(EYE, roll=4.0), moved, SHARP)).answer
        assert ("moved", 2) in {(each.kind, each.marker) for each in answer.spoilers}
        assert [each.counted for each in answer.markers if each.number == 2] == [False]


BEFORE, AFTER = (300.0, 600.0, 3.0), (704.0, 612.0, 4.2)


@pytest.fixture(scope="module")
def pair() -> Taken:
    return looked_at(taken(EYE, lain(BEFORE), SHARP), taken(replace(EYE, roll=3.0), lain(AFTER), SHARP))


class TestRows:
    def test_a_straight(self, pair: Taken, tmp_path: Path) -> None:
        (row,) = rows.straights(pair, ROBOT, 400.0, "2026-11-25")
        (tmp_path / "tests.csv").write_text(rows.csv_text([row], "tests"), encoding="utf-8")
        (test,) = load_sheet(tmp_path / "tests.csv").straights
        turn = radians(BEFORE[2])
        dx, dy = AFTER[0] - BEFORE[0], AFTER[1] - BEFORE[1]
        assert test.photo is not None
        assert test.photo_angle is not None
        # Within four of the errors that the row tells of itself.
        assert abs(test.travel - (cos(turn) * dx + sin(turn) * dy)) < 4 * 1.5 * test.photo
        assert test.sideways is not None
        wide = hypot(1.5 * test.photo, 404 * radians(test.photo_angle))
        assert abs(test.sideways - (cos(turn) * dy - sin(turn) * dx)) < 4 * wide
        assert test.heading is not None
        assert abs(test.heading - 1.2) < 4 * 1.5 * test.photo_angle
        assert (test.commanded, str(test.date)) == (400.0, "2026-11-25")

    def test_turns_take_their_whole_turns_from_the_command(self, pair: Taken) -> None:
        angles = [float(dict(rows.turns(pair, ROBOT, asked)[0].cells)["angle deg"]) for asked in (0.5, 360.0, -720.0)]
        assert angles[1] - angles[0] == pytest.approx(360.0)
        assert angles[2] - angles[0] == pytest.approx(-720.0)

    def test_a_square_path(self, pair: Taken, tmp_path: Path) -> None:
        text = rows.csv_text(rows.square_paths(pair, ROBOT, -800.0), "tests")
        (row,) = csv.DictReader(io.StringIO(text))
        assert (row["direction"], row["side mm"]) == ("cw", "800")

    def test_placings_are_seen_from_the_start_that_was_meant(self, tmp_path: Path) -> None:
        """The loop starts with its rear left corner at [100, 300]: the axle at [160, 230]."""
        seen = looked_at(
            *(taken(EYE, lain((160.0 + dx, 230.0 + dy, 0.3)), SHARP) for dx, dy in ((1.5, -0.5), (0.5, 0.5)))
        )
        (tmp_path / "tests.csv").write_text(rows.csv_text(rows.placings(seen, LOOP), "tests"), encoding="utf-8")
        first, second = load_sheet(tmp_path / "tests.csv").placings
        assert first.jig == "home corner"
        assert first.along - second.along == pytest.approx(1.0, abs=0.6)
        assert first.across - second.across == pytest.approx(-1.0, abs=0.6)

    def test_the_end_of_a_run(self, tmp_path: Path) -> None:
        """It must end inside the practice start, [40, 40] to [400, 420]."""
        home, out = (200.0, 230.0, -90.0), (350.0, 230.0, -90.0)
        seen = looked_at(taken(EYE, lain(home), SHARP), taken(EYE, lain(out), SHARP))
        (tmp_path / "log.csv").write_text(
            rows.csv_text(rows.endings(seen, LOOP, "practice-loop.yaml"), "log"), encoding="utf-8"
        )
        assert [entry.result for entry in load_log(tmp_path / "log.csv").entries] == ["through", "stopped"]

    def test_a_run_that_ends_at_a_target(self, tmp_path: Path) -> None:
        """The bell at [865, 232] is reached by the scoop's tool, 165 mm ahead of the axle."""
        run = replace(LOOP, segments=LOOP.segments[:2], finish=None)
        seen = looked_at(*(taken(EYE, lain((700.0 + off, 232.0, 0.0)), SHARP) for off in (2.0, -20.0)))
        (tmp_path / "log.csv").write_text(rows.csv_text(rows.endings(seen, run, "a.yaml"), "log"), encoding="utf-8")
        near, far = load_log(tmp_path / "log.csv").entries
        assert (near.result, near.target) == ("through", "bell")
        assert (far.result, far.where, far.segment) == ("missed", "bell", 2)
        assert far.miss == pytest.approx(20.0, abs=3.0)

    def test_pictures_that_are_not_pairs(self, pair: Taken) -> None:
        with pytest.raises(rows.NoRowsError, match="pairs"):
            rows.straights(replace(pair, looked=pair.looked[:1]), ROBOT, 400.0)


class TestTheCommand:
    def test_rows_are_added_to_a_sheet_and_fit_reads_it(self, tmp_path: Path) -> None:
        sheet = tmp_path / "tests.csv"
        words = ["runs/bakery/before.jpg", "runs/bakery/after.jpg", "fields/practice.yaml", "runs/bakery/box-one.yaml"]
        for _ in range(2):
            done = fieldsim("photo", *words, "--straight", "600", "--into", str(sheet))
            assert done.returncode == 0, done.stderr
        assert len(load_sheet(sheet).straights) == 2
        sheet.write_text("a,b\n1,2\n", encoding="utf-8")
        done = fieldsim("photo", *words, "--straight", "600", "--into", str(sheet))
        assert "other columns" in done.stderr
        assert sheet.read_text(encoding="utf-8") == "a,b\n1,2\n"

    def test_nothing_of_the_files_but_pixels_is_saved(self, tmp_path: Path) -> None:
        """A picture that tells its place and its maker in its head: neither is in anything that is written."""
        data = (ROOT / "runs" / "bakery" / "before.jpg").read_bytes()
        told = b"Exif\0\0MM\0*\0\0\0\x08SECRETPLACE 52N 13E"
        (tmp_path / "a.jpg").write_bytes(data[:2] + b"\xff\xe1" + (len(told) + 2).to_bytes(2, "big") + told + data[2:])
        done = fieldsim(
            "photo", str(tmp_path / "a.jpg"), "fields/practice.yaml", "runs/bakery/box-one.yaml", "--json", "--save",
            str(tmp_path / "out"),
        )  # fmt: skip
        assert done.returncode == 0, done.stderr
        assert json.loads(done.stdout)["pictures"][0]["robot"] is not None
        for file in (tmp_path / "out").iterdir():
            assert b"SECRETPLACE" not in file.read_bytes()

    @pytest.mark.parametrize(
        ("words", "said"),
        [
            (["--straight", "600", "--turn", "90"], "do not go together"),
            (["--straight", "0"], "nothing was driven"),
            (["--into", "x.csv"], "--into needs to know"),
            (["--measured", "1-7=30"], "not two markers"),
            (["--measured", "abc"], "such as 1-3=1985"),
            (["--straight", "600", "--date", "25.11."], "year-month-day"),
            (["--straight", "600"], "pairs"),
        ],
    )
    def test_words_that_do_not_go_together(self, words: list[str], said: str) -> None:
        done = fieldsim("photo", "runs/bakery/before.jpg", "fields/practice.yaml", "runs/bakery/box-one.yaml", *words)
        assert done.returncode == 2
        assert said in done.stderr

    def test_without_opencv_it_says_what_to_install(self, monkeypatch: pytest.MonkeyPatch) -> None:
        monkeypatch.setitem(sys.modules, "cv2", None)
        opencv.cv2.cache_clear()
        try:
            done = fieldsim("photo", "runs/bakery/before.jpg", "fields/practice.yaml", "runs/bakery/box-one.yaml")
        finally:
            opencv.cv2.cache_clear()
        assert done.returncode != 0
        assert "pip install 'fieldsim[photo]'" in done.stderr
        assert "Traceback" not in done.stderr

    def test_a_field_without_markers(self) -> None:
        done = fieldsim("photo", "a.jpg", "fields/bakery.yaml", "runs/bakery/box-one.yaml")
        assert (done.returncode, "has no markers" in done.stderr) == (2, True)


class TestFilesThatAreNone:
    def test_not_there(self, tmp_path: Path) -> None:
        with pytest.raises(FileError, match="no such file"):
            read_picture(tmp_path / "a.jpg")

    @pytest.mark.parametrize("data", [b"", b"no picture", b"\xff\xd8\xff\xe0 cut off", b"\x89PNG\r\n\x1a\n"])
    def test_no_picture(self, tmp_path: Path, data: bytes) -> None:
        (tmp_path / "a.jpg").write_bytes(data)
        with pytest.raises(FileError, match="no picture"):
            read_picture(tmp_path / "a.jpg")

    def test_heic_is_told_what_to_do(self, tmp_path: Path) -> None:
        (tmp_path / "a.HEIC").write_bytes(b"\0\0\0\x18ftypheic")
        with pytest.raises(FileError, match="save it as JPEG"):
            read_picture(tmp_path / "a.HEIC")

    def test_a_folder(self, tmp_path: Path) -> None:
        with pytest.raises(FileError):
            read_picture(tmp_path)


@pytest.mark.slow
class TestAtFullSize:
    def test_fifty_megapixels(self) -> None:
        eye = replace(EYE, width=8160, height=6120, focal=6500.0)
        seen = one(eye=eye)
        assert seen.seen == (1, 2, 3, 4, 9)
        assert seen.robot is not None
        assert hypot(seen.robot.x - POSE[0], seen.robot.y - POSE[1]) < 1.5

    def test_a_hundred_views(self) -> None:
        """12 megapixels, a field of 2.2 by 1.1 m, markers laid to 0.5 mm, an unknown camera and lens in each: found in
        at least 95 of 100, rms 1.0 mm and 0.2 degrees at most, and the covariance holds the truth in 95 % (binomial:
        88 of 100 or fewer come by chance in 4 of 1000)."""
        from test_bundle import PLACES, ROBOT, markers

        from fieldsim.photo.bundle import Shot, solve

        rng = np.random.default_rng(1)
        found, inside, errors = 0, 0, []
        for number in range(100):
            camera = {"focal": rng.uniform(2700, 3400), "off": tuple(rng.normal(0, 12, 2)),
                      "lens": (rng.normal(0, 0.03), rng.normal(0, 0.03))}  # fmt: skip
            off = {each: rng.normal(0.0, 0.5, 2) for each in PLACES}
            truth = {each: Lain(x + off[each][0], y + off[each][1], 90.0, 80.0) for each, (x, y) in PLACES.items()}
            x, y, heading = rng.uniform(200, 2000), rng.uniform(200, 900), rng.uniform(-180, 180)
            truth[9] = Lain(x + 10 * cos(radians(heading)), y + 10 * sin(radians(heading)), heading, 60.0, 110.0)
            while True:
                eye = Eye(
                    (1100 + rng.uniform(-700, 700), rng.uniform(-900, -100), rng.uniform(1100, 2000)),
                    (1100 + rng.normal(0, 60), 550 + rng.normal(0, 60), 0.0), roll=rng.normal(0, 6), **camera,
                )  # fmt: skip
                spots = np.concatenate([eye.pixels(corners(each)) for each in truth.values()])
                if (spots > 60).all() and (spots < [eye.width - 60, eye.height - 60]).all():
                    break
            seen = dict(opencv.markers(picture(eye, truth, Light(seed=number))))
            if set(truth) - set(seen):
                continue
            found += 1
            solved = solve([Shot(eye.width, eye.height, {each: seen[each] for each in truth})], markers(), ROBOT)
            assert solved is not None
            error = solved.state.robot[0] - np.array([x, y, radians(heading)])
            error[2] = (error[2] + np.pi) % (2 * np.pi) - np.pi
            columns = solved.robot_columns(0)
            inside += float(error @ np.linalg.solve(solved.covariance[columns, columns], error)) < 7.815
            errors.append(error)
        rms = np.sqrt((np.array(errors) ** 2).mean(axis=0))
        assert found >= 95
        assert hypot(rms[0], rms[1]) <= 1.0
        assert np.degrees(rms[2]) <= 0.2
        assert inside > 0.88 * found
