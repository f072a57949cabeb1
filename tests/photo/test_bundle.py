"""Camera, markers and robot solved from corners whose truth is known: exact ones, noisy ones, and OpenCV's own road."""

from __future__ import annotations

from math import atan2, cos, degrees, radians, sin

import numpy as np
import pytest

cv2 = pytest.importorskip("cv2", reason="pictures need the extra 'photo'")

from hypothesis import assume, given, settings  # noqa: E402
from hypothesis import strategies as st  # noqa: E402
from photographed import Eye, Lain, corners  # noqa: E402

from fieldsim.model.markers import Marker, RobotMarker  # noqa: E402
from fieldsim.photo.bundle import Measured, Shot, Solved, solve  # noqa: E402
from fieldsim.photo.camera import rays, seen, turned  # noqa: E402
from fieldsim.photo.trusted import trusted  # noqa: E402

PLACES = {1: (80.0, 80.0), 2: (2120.0, 80.0), 3: (2120.0, 1020.0), 4: (80.0, 1020.0)}
ROBOT = RobotMarker(9, 60.0, (10.0, 0.0), 0.0, 110.0)
LENS = (-0.03, 0.02)


def markers(laid: float = 0.5) -> list[Marker]:
    return [Marker(number, 80.0, at, laid=laid) for number, at in PLACES.items()]


def lain(pose: tuple[float, float, float], off: np.ndarray | None = None) -> dict[int, Lain]:
    """The truth: markers off their places by (4, 2) mm, and the robot's marker for a pose of the robot."""
    off = np.zeros((4, 2)) if off is None else off
    made = {
        number: Lain(x + dx, y + dy, 90.0, 80.0) for (number, (x, y)), (dx, dy) in zip(PLACES.items(), off, strict=True)
    }
    x, y, heading = pose
    turn = radians(heading)
    made[9] = Lain(x + 10 * cos(turn), y + 10 * sin(turn), heading, 60.0, 110.0)
    return made


def shot(eye: Eye, truth: dict[int, Lain], noise: float = 0.0, rng: np.random.Generator | None = None) -> Shot:
    found = {number: eye.pixels(corners(each)) for number, each in truth.items()}
    if noise and rng is not None:
        found = {number: at + rng.normal(0.0, noise, at.shape) for number, at in found.items()}
    return Shot(eye.width, eye.height, found)


def eye(side: float = 0.0, away: float = 700.0, high: float = 1500.0, **more: object) -> Eye:
    return Eye((1100 + side, 550 - away, high), (1100.0, 550.0, 0.0), lens=LENS, **more)  # type: ignore[arg-type]


def off_by(found: Solved, p: int, pose: tuple[float, float, float]) -> tuple[float, float]:
    """mm and degrees."""
    x, y, heading = found.state.robot[p]
    turn = heading - radians(pose[2])
    return float(np.hypot(x - pose[0], y - pose[1])), abs(degrees(atan2(sin(turn), cos(turn))))


@given(
    side=st.floats(-500, 500),
    away=st.floats(600, 1300),
    high=st.floats(1400, 2000),
    roll=st.floats(-15, 15),
    pose=st.tuples(st.floats(150, 2000), st.floats(150, 950), st.floats(-180, 180)),
)
@settings(max_examples=10, deadline=None)
def test_exact_corners_give_the_robot_back(
    side: float, away: float, high: float, roll: float, pose: tuple[float, float, float]
) -> None:
    taken = shot(eye(side, away, high, roll=roll, focal=2400.0), lain(pose))
    # A telephone sees what is in its picture.
    assume(all((at > 0).all() and (at < [taken.width, taken.height]).all() for at in taken.found.values()))
    found = solve([taken], markers(0.0), ROBOT)
    assert found is not None
    mm, turn = off_by(found, 0, pose)
    # Not nought: a lens without errors is the likelier one, and the pictures say how much they lean to that.
    assert mm < 0.5
    assert turn < 0.05


def test_where_it_is_seen_and_the_lens_undone() -> None:
    """A camera of the tests, and Rodrigues' formula of OpenCV."""
    there = eye(200.0, roll=12.0, off=(15.0, -9.0))
    points = np.array([[100.0, 200.0, 0.0], [1500.0, 900.0, 110.0], [2100.0, 20.0, 5.0]])
    rotation = there.axes
    shift = -rotation @ np.array(there.at)
    middle = np.array([(there.width - 1) / 2 + 15.0, (there.height - 1) / 2 - 9.0])
    pixels = seen(points, rotation, shift, there.focal, middle, np.array(LENS))
    assert pixels == pytest.approx(there.pixels(points), abs=1e-9)
    flat = rays(pixels, there.focal, middle, np.array(LENS))
    again = seen(
        np.concatenate([flat, np.ones((3, 1))], axis=1), np.eye(3), np.zeros(3), there.focal, middle, np.array(LENS)
    )
    assert again == pytest.approx(pixels, abs=1e-6)
    vector = np.array([0.3, -1.1, 0.7])
    assert turned(vector) == pytest.approx(cv2.Rodrigues(vector)[0], abs=1e-12)


def test_opencv_finds_the_same_camera() -> None:
    """A second road: with lens and places of the markers known exactly, OpenCV's own solver stands where ours does."""
    there = eye(-300.0, 900.0)
    pose = (700.0, 500.0, 33.0)
    truth = lain(pose)
    taken = shot(there, truth)
    found = solve([taken], markers(0.0), ROBOT)
    assert found is not None
    points = np.concatenate([corners(truth[number]) for number in PLACES])
    pixels = np.concatenate([taken.found[number] for number in PLACES])
    matrix = np.array([[there.focal, 0, (there.width - 1) / 2], [0, there.focal, (there.height - 1) / 2], [0, 0, 1.0]])
    done, turn, shift = cv2.solvePnP(points, pixels, matrix, np.array([*LENS, 0.0, 0.0]))
    assert done
    rotation = cv2.Rodrigues(turn)[0]
    ours = -found.state.rotation[0].T @ found.state.shift[0]
    assert ours == pytest.approx((-rotation.T @ shift).ravel(), abs=12.0)
    # The middle of the robot's marker by OpenCV: the ray through it, down to its height.
    middle = cv2.undistortPoints(taken.found[9].mean(axis=0).reshape(1, 1, 2), matrix, np.array([*LENS, 0.0, 0.0]))
    way = rotation.T @ np.array([*middle.ravel(), 1.0])
    start = (-rotation.T @ shift).ravel()
    far = (110.0 - start[2]) / way[2]
    theirs = start[:2] + far * way[:2]
    x, y, heading = found.state.robot[0]
    assert [x + 10 * cos(heading), y + 10 * sin(heading)] == pytest.approx(theirs, abs=0.6)


def drawn(rng: np.random.Generator, pictures: int = 1) -> tuple[list[Shot], list[tuple[float, float, float]]]:
    """Pictures of one set-up with markers laid to 0.5 mm and corners to 0.15 pixels, and where the robot stood."""
    off = rng.normal(0.0, 0.5, (4, 2))
    focal, middle = rng.uniform(2700, 3400), tuple(rng.normal(0.0, 12.0, 2))
    shots, poses = [], []
    for _ in range(pictures):
        there = eye(
            rng.uniform(-600, 600), rng.uniform(500, 1300), rng.uniform(1200, 2000), focal=focal, off=middle,
            roll=rng.normal(0.0, 6.0),
        )  # fmt: skip
        pose = (rng.uniform(200, 2000), rng.uniform(200, 900), rng.uniform(-180, 180))
        shots.append(shot(there, lain(pose, off), 0.15, rng))
        poses.append(pose)
    return shots, poses


def test_the_covariance_holds_the_truth_as_often_as_it_says() -> None:
    """20 set-ups: within the ellipsoid of 95 % (chi-square of three, 7.815) in 16 or more, which chance makes of a true
    95 % in all but 3 of 1000 (binomial); the middle error is what the feasibility of this was."""
    rng = np.random.default_rng(7)
    inside, errors = 0, []
    for _ in range(20):
        shots, poses = drawn(rng)
        found = solve(shots, markers(), ROBOT)
        assert found is not None
        columns = found.robot_columns(0)
        off = found.state.robot[0] - np.array([*poses[0][:2], radians(poses[0][2])])
        off[2] = atan2(sin(off[2]), cos(off[2]))
        inside += float(off @ np.linalg.solve(found.covariance[columns, columns], off)) < 7.815
        errors.append(off)
    assert inside >= 16
    rms = np.sqrt((np.array(errors) ** 2).mean(axis=0))
    assert np.hypot(rms[0], rms[1]) < 1.0
    assert degrees(rms[2]) < 0.2


def test_more_pictures_and_a_measured_distance_only_tell_more() -> None:
    rng = np.random.default_rng(2)
    shots, _ = drawn(rng, 3)
    alone = solve(shots[:1], markers(2.0), ROBOT)
    together = solve(shots, markers(2.0), ROBOT)
    taped = solve(shots, markers(2.0), ROBOT, [Measured(1, 3, float(np.hypot(2040.0, 940.0)))])
    assert alone is not None
    assert together is not None
    assert taped is not None

    def errors(found: Solved) -> np.ndarray:
        return np.sqrt(np.diag(found.covariance[found.robot_columns(0), found.robot_columns(0)]))

    # The pixel's own error is told anew by each set-up: compared with that taken out.
    assert (errors(together)[:2] <= errors(alone)[:2] * 1.1).all()
    # The distance narrows the scale, which the printer and the laying leave open.
    scale = [np.sqrt(found.covariance[0, 0]) for found in (together, taped)]
    assert scale[1] <= scale[0] * 1.001


def test_badly_laid_markers_are_solved_for_by_many_pictures() -> None:
    """Laid 4 mm off, and told to be laid to 4 mm: six pictures know better how they lie to each other than the field's
    file. Compared as distances, which no shift of the whole can change."""
    rng = np.random.default_rng(5)
    off = rng.normal(0.0, 4.0, (4, 2))
    shots = [
        shot(eye(x, y, 1600.0), lain((400.0 + x, 500.0, 20.0), off), 0.15, rng)
        for x, y in ((0, 600), (500, 700), (-500, 900), (200, 1200), (-300, 500), (600, 1100))
    ]
    found = solve(shots, markers(4.0), ROBOT)
    assert found is not None
    true = np.array([PLACES[number] for number in PLACES]) + off
    for a in range(4):
        for b in range(a):
            apart = np.linalg.norm(found.state.laid[a, :2] - found.state.laid[b, :2]) / np.linalg.norm(
                true[a] - true[b]
            )
            drawn_apart = np.linalg.norm(np.subtract(PLACES[a + 1], PLACES[b + 1])) / np.linalg.norm(true[a] - true[b])
            assert abs(apart / found.printed - 1) < max(0.003, abs(drawn_apart - 1))


class TestWhatSpoilsIt:
    """Each mistake is named with its size, and the robot is still placed."""

    POSES = ((600.0, 400.0, 30.0), (1500.0, 700.0, -100.0))

    def taken(self, *changed: dict[int, Lain]) -> list[Shot]:
        rng = np.random.default_rng(3)
        eyes = (eye(-200.0), eye(300.0, 900.0, 1700.0))
        return [
            shot(there, {**lain(pose), **each}, 0.15, rng)
            for there, pose, each in zip(eyes, self.POSES, changed or ({}, {}), strict=True)
        ]

    def near(self, found: Solved, mm: float = 3.0) -> None:
        for p, pose in enumerate(self.POSES):
            assert off_by(found, p, pose)[0] < mm

    def test_nothing_is_found_in_good_pictures(self) -> None:
        found = trusted(self.taken(), markers(), ROBOT)
        assert found is not None
        assert (found.out, found.spoilers) == ((), ())

    def test_a_marker_that_was_moved_between_them(self) -> None:
        found = trusted(self.taken({}, {3: Lain(2120.0 + 15, 1020.0, 90.0, 80.0)}), markers(), ROBOT)
        assert found is not None
        assert found.out == (3,)
        (spoiler,) = [each for each in found.spoilers if each.kind == "moved"]
        assert (spoiler.marker, spoiler.amount) == (3, pytest.approx(15.0, abs=2.0))
        self.near(found.solved)

    def test_a_marker_that_lies_elsewhere(self) -> None:
        there = {2: Lain(2120.0, 80.0 + 20, 90.0, 80.0)}
        found = trusted(self.taken(there, there), markers(), ROBOT)
        assert found is not None
        assert found.out == (2,)
        assert [(each.kind, each.marker) for each in found.spoilers] == [("misplaced", 2)]
        assert found.spoilers[0].amount == pytest.approx(20.0, abs=3.0)
        self.near(found.solved)

    def test_a_marker_of_another_size(self) -> None:
        there = {1: Lain(80.0, 80.0, 90.0, 60.0)}
        found = trusted(self.taken(there, there), markers(), ROBOT)
        assert found is not None
        assert [(each.kind, each.marker) for each in found.spoilers] == [("size", 1)]
        assert found.spoilers[0].amount == pytest.approx(60.0, rel=0.02)
        self.near(found.solved)

    def test_the_robots_marker_of_another_size(self) -> None:
        told = RobotMarker(9, 50.0, (10.0, 0.0), 0.0, 110.0)
        found = trusted(self.taken(), markers(), told)
        assert found is not None
        assert [(each.kind, each.marker) for each in found.spoilers] == [("size", 9)]
        assert found.spoilers[0].amount == pytest.approx(60.0, rel=0.02)
        self.near(found.solved)

    def test_a_height_that_is_not_told_is_found(self) -> None:
        found = trusted(self.taken(), markers(), RobotMarker(9, 60.0, (10.0, 0.0)))
        assert found is not None
        (spoiler,) = found.spoilers
        assert (spoiler.kind, spoiler.amount) == ("height", pytest.approx(110.0, abs=10.0))
        self.near(found.solved, 6.0)

    def test_a_printer_that_scales(self) -> None:
        wide = [Marker(number, 80.0 / 0.95, at, laid=0.5) for number, at in PLACES.items()]
        found = trusted(self.taken(), wide, RobotMarker(9, 60.0 / 0.95, (10.0, 0.0), 0.0, 110.0))
        assert found is not None
        assert [each.kind for each in found.spoilers] == ["printed"]
        assert found.spoilers[0].amount == pytest.approx(0.95, abs=0.01)
        self.near(found.solved)


def test_no_camera_is_no_answer() -> None:
    """Corners that no camera can have seen: all in one point."""
    assert trusted([Shot(4000, 3000, {1: np.full((4, 2), 50.0)})], markers(), None) is None
