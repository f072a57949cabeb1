"""What is painted where it must be: colours of pixels on a surface without a screen."""

from __future__ import annotations

from dataclasses import replace
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np
import pygame
import pytest
import shapely
from numpy.typing import NDArray
from plans import open_floor
from plans import run as driven

from fieldsim.draw.swept import corners_at
from fieldsim.model import (
    Accuracy,
    Act,
    Box,
    Obstacle,
    Square,
    Straight,
    StraightNoise,
    Target,
    Turn,
    TurnNoise,
)
from fieldsim.sim.failures import failures
from fieldsim.sim.plan import plan
from fieldsim.sim.trials import nominal, paths
from fieldsim.sim.ways import trial_way, until_of, way_of
from fieldsim.studies.attempt import Tried, attempt
from fieldsim.studies.single import shots
from fieldsim.window.camera import Camera, Rect
from fieldsim.window.paint.build import alignments_of, cloud_of, strip_of, wheel_ways
from fieldsim.window.paint.frame import Layers, paint
from fieldsim.window.paint.layout import layout
from fieldsim.window.paint.look import DARK, LIGHT, Colour, Look, font_files
from fieldsim.window.paint.marks import mark
from fieldsim.window.paint.odds import columns_of, odds_of, troubles_of
from fieldsim.window.paint.places import OVER_WORDS, Places
from fieldsim.window.paint.scene import (
    Cloud,
    ErrorWords,
    Guide,
    Handle,
    Mat,
    NumberRow,
    Numbers,
    Odds,
    Picked,
    Scene,
    Shot,
    SwitchRow,
    hit_handle,
)
from fieldsim.window.paint.tightest import pinch_of
from fieldsim.window.paint.tools import clipped
from fieldsim.window.paint.writer import Writer

SHAKY = Accuracy(straight=StraightNoise(stop=6.0, distance=3.0, veer=1.5), turn=TurnNoise(stop=2.0, slip=1.0))
POST = Obstacle("post", Box((1488.0, 950.0), (100.0, 200.0)))
BOARD = open_floor((2000.0, 1600.0), POST)
# Runs past the post with little room, turns, and comes part of the way back.
PAST = (Straight(900.0), Turn(90.0), Straight(200.0))


@cache
def tried() -> Tried:
    there = driven(*PAST, at=(400.0, 900.0), heading=0.0, accuracy=SHAKY, field=BOARD)
    return attempt(there, trials=300, keep=300, seed=3, threads=1)


@cache
def scene(size: tuple[int, int] = (1280, 800), scale: float = 1.0) -> Scene:
    done = tried()
    ready, answer, trials = done.ready, done.answer, done.first
    assert trials is not None
    found = failures(trials)
    rows, segments, touched = troubles_of(answer)
    places = layout(size, scale)
    way = way_of(ready)
    return Scene(
        run=ready.run, parts=ready.parts, layout=places, camera=Camera.fit(places.field, ready.run.field.size, 12),
        way=way, strip=strip_of(ready, answer.segments, places), head=1.5,
        cloud=cloud_of(paths(ready, 3, trials, list(range(100))), trials, found), pinch=pinch_of(ready, answer, way),
        columns=columns_of(answer, trials), odds=odds_of(answer, rows), troubled=segments, touched=touched,
        title="invented", switches=(SwitchRow("start", "by eye"),),
        numbers=Numbers("1  straight 900 mm", "", (NumberRow("distance", "900", "mm"),)),
    )  # fmt: skip


def frame(shown: Scene, layers: Layers | None = None) -> NDArray[np.int64]:
    """Pixels (w, h, 3)."""
    surface = pygame.Surface(shown.layout.size, 0, 32)
    paint(surface, shown, layers or Layers())
    return np.asarray(pygame.surfarray.array3d(surface)).astype(np.int64)


def around(pixels: NDArray[np.int64], at: tuple[float, float], half: int = 3) -> NDArray[np.float64]:
    """The mean colour of a square about a pixel."""
    x, y = round(at[0]), round(at[1])
    part: NDArray[np.float64] = pixels[x - half : x + half + 1, y - half : y + half + 1].mean(axis=(0, 1))
    return part


def count_of(pixels: NDArray[np.int64], colour: Colour, rect: Rect, near: int = 12) -> int:
    part = pixels[rect.x : rect.right, rect.y : rect.bottom]
    return int((np.abs(part - np.array(colour)).max(axis=-1) <= near).sum())


def bare_scene() -> Scene:
    """Nothing but the field and the robot."""
    return replace(scene(), cloud=None, pinch=None, troubled=(), touched=frozenset())


# --- where things are --------------------------------------------------------------------------------------------


@pytest.mark.parametrize("dark", [False, True])
def test_the_robot_stands_at_the_playhead(dark: bool) -> None:
    look = DARK if dark else LIGHT
    shown = replace(bare_scene(), dark=dark, pose=(700.0, 400.0, 0.0))
    pixels = frame(shown)
    body = shown.run.robot.body
    # Between the axle and the nose, away from wheels: the body; just outside its front: the mat.
    inside = shown.camera.pixel(700.0 + 0.3 * (body.length - body.axle), 400.0 + 0.2 * body.width)
    assert np.abs(around(pixels, inside, 1) - look.body).max() < 45
    outside = shown.camera.pixel(700.0 + body.length - body.axle + 40.0, 400.0 + 12.0)
    assert np.abs(around(pixels, outside, 1) - look.mat).max() < 12
    elsewhere = frame(replace(shown, pose=(1200.0, 400.0, 0.0)))
    assert np.abs(around(elsewhere, inside, 1) - look.mat).max() < 30


def test_without_a_pose_the_robot_is_where_the_plan_has_it() -> None:
    shown = bare_scene()
    planned = shown.way.pose_at(shown.head)
    assert (frame(shown) == frame(replace(shown, pose=planned))).all()


def test_an_obstacle_is_where_it_stands_and_has_a_strong_edge_when_touched() -> None:
    shown = bare_scene()
    pixels = frame(shown)
    assert np.abs(around(pixels, shown.camera.pixel(1500.0, 1030.0), 1) - LIGHT.obstacle).max() < 8
    touched = frame(replace(shown, touched=frozenset({"post"})))
    rect = shown.layout.field
    assert count_of(touched, LIGHT.fail, rect) > count_of(pixels, LIGHT.fail, rect) + 50


def test_a_cross_at_each_contact() -> None:
    shown = bare_scene()
    cloud = Cloud((), (), np.zeros((0, 3)), (("touches", np.array([(1000.0, 400.0)])),))
    pixels = frame(replace(shown, cloud=cloud))
    # Of marks on the same two pixels of the field one is drawn.
    field = shown.layout.field
    px, py = shown.camera.pixel(1000.0, 400.0)
    x, y = field.x + 2 * round((px - field.x) / 2), field.y + 2 * round((py - field.y) / 2)
    close = pixels[x - 7 : x + 8, y - 7 : y + 8]
    red = np.abs(close - np.array(LIGHT.fail)).max(axis=-1) < 60
    # The arms lie on the diagonals and not straight up or to the side.
    assert red[6:9, 6:9].mean() > 0.5
    for dx, dy in ((-3, -3), (3, 3), (-3, 3), (3, -3)):
        assert red[7 + dx, 7 + dy]
    for dx, dy in ((-4, 0), (4, 0), (0, -4), (0, 4)):
        assert not red[7 + dx, 7 + dy]


def test_marks_differ_in_shape_not_only_in_colour() -> None:
    drawn = {}
    for kind in ("touches", "misses", "lost", "outside", "through", "maybe"):
        surface = pygame.Surface((41, 41), 0, 32)
        surface.fill((255, 255, 255))
        mark(surface, kind, (20, 20), 12, (0, 0, 0), (255, 255, 255))
        drawn[kind] = pygame.surfarray.array3d(surface)[..., 0] < 128
    for first, a in drawn.items():
        for second, b in drawn.items():
            if first < second:
                both, either = (a & b).sum(), (a | b).sum()
                assert both / either < 0.75, (first, second)


def test_failing_trials_are_dashed_and_others_are_not() -> None:
    line = np.column_stack([np.linspace(200.0, 1800.0, 2), np.full(2, 300.0)])
    shown = bare_scene()
    shares = {}
    for fail in (False, True):
        cloud = Cloud((line,), (fail,), np.array([(1800.0, 300.0, 0.0)]))
        pixels = frame(replace(shown, cloud=cloud))
        (x0, y), (x1, _) = np.rint(shown.camera.to_pixels(line)).astype(int)
        row = pixels[x0 + 5 : x1 - 10, y - 1 : y + 2].astype(float)
        shares[fail] = (np.abs(row - np.array(LIGHT.mat)).max(axis=-1).max(axis=1) > 25).mean()
    assert shares[False] > 0.98
    assert 0.5 < shares[True] < 0.85


def test_what_is_outside_the_field_part_is_not_painted_over() -> None:
    near = replace(scene(), camera=scene().camera.zoomed(scene().camera.view.centre, 1e6))
    a, b = frame(scene()), frame(near)
    odds = scene().layout.odds
    assert (a[odds.x : odds.right, odds.y : odds.bottom] == b[odds.x : odds.right, odds.y : odds.bottom]).all()
    field = scene().layout.field
    assert (a[field.x : field.right, field.y : field.bottom] != b[field.x : field.right, field.y : field.bottom]).any()


def test_a_mat_picture_lies_where_its_corner_is() -> None:
    picture = pygame.Surface((200, 100), 0, 32)
    picture.fill((0, 0, 255), (0, 0, 100, 100))
    picture.fill((255, 0, 0), (100, 0, 100, 100))
    shown = replace(bare_scene(), mat=Mat(picture, (100.0, 100.0), 800.0))
    for factor in (1.0, 30.0):
        at = shown.camera.pixel(500.0, 300.0)
        near = replace(shown, camera=shown.camera.zoomed(at, factor))
        pixels = frame(near)
        left, right = (around(pixels, near.camera.pixel(500.0 + s * 6.0, 293.0), 1) for s in (-1, 1))
        assert left[2] > left[0] + 40, factor
        assert right[0] > right[2] + 40, factor


# --- what changes a frame, and what does not ---------------------------------------------------------------------


def changed(**more: Any) -> float:
    """The share of pixels that are different."""
    a, b = frame(scene()), frame(replace(scene(), **more))
    return float((a != b).any(axis=-1).mean())


@pytest.mark.parametrize(
    "more",
    [
        {"segment": 1},
        {"segment": 2},
        {"thing": "post"},
        {"head": 2.2},
        {"hover": "button play"},
        {"playing": True},
        {"toast": "Saved"},
        {"error": ErrorWords("It cannot be read", ("line 3: what is this",))},
        {"help": (("space", "play"),)},
        {"handles": (Handle("start", "move", (400.0, 500.0)),)},
        {"guides": (Guide((0.0, 300.0), (2000.0, 300.0), "flush"),)},
        {"picked": Picked(np.array([(400.0, 900.0), (900.0, 905.0)]), (900.0, 905.0, 1.0), "trial 7")},
        {"odds": Odds("1 in 1000")},
        {"numbers": Numbers("2  turn", "", (NumberRow("angle", "90", wrong=True, cursor=2),))},
        {"switches": (SwitchRow("start", "another"),)},
        {"columns": ()},
        {"pinch": None},
        {"cloud": None},
        {"flats": (((300.0, 200.0), (300.0, 400.0)),)},
        {"sights": ((300.0, 300.0),)},
        {"title": "another"},
        {"changed": True},
        {"off": frozenset({"undo"})},
        {"dark": True},
        {"axis": "way"},
        {"pace": "2x"},
        {"clock": "3 of 4 s"},
    ],
    ids=lambda more: next(iter(more)) + str(next(iter(more.values())))[:12],
)  # fmt: skip
def test_a_frame_shows_every_part_of_the_scene(more: dict[str, Any]) -> None:
    assert changed(**more) > 0


def test_what_was_kept_gives_the_same_frame_as_painting_anew() -> None:
    layers = Layers()
    base = scene()
    steps: list[dict[str, Any]] = [
        {}, {"segment": 1}, {"head": 0.4}, {"dark": True}, {"dark": True, "segment": 3}, {"toast": "Saved"},
        {"camera": base.camera.zoomed((300.0, 300.0), 2.0)}, {"hover": "number 0 plus"}, {"help": (("a", "b"),)}, {},
    ]  # fmt: skip
    for more in steps:
        shown = replace(base, **more)
        assert (frame(shown, layers) == frame(shown)).all(), more
    small = scene((900, 600))
    assert (frame(small, layers) == frame(small)).all()


@pytest.mark.parametrize("size", [(900, 600), (640, 400), (300, 200), (120, 90)])
def test_small_windows_do_not_fail(size: tuple[int, int]) -> None:
    """What does not fit is cut; what lies over the window is still seen, and nothing is drawn beside it."""
    error = ErrorWords("x" * 300, ("y" * 400,) * 40)
    plain = frame(scene(size))
    over = frame(replace(scene(size), help=(("space", "play"),) * 30, toast="Saved" * 20, error=error))
    assert over.shape == plain.shape == (*size, 3)
    assert (over != plain).any(axis=-1).mean() > 0.3


def test_odd_names_can_be_written() -> None:
    odd = "\x00\n\u202e\U0001f600 \u98ef\ud800 " + "long " * 60
    odds = replace(scene().odds or Odds(""), big=odd, between=odd, foot=odd, time=odd)
    shown = replace(
        scene(), title=odd, toast=odd, thing=odd, numbers=Numbers(odd, odd, (NumberRow(odd, odd, "mm", cursor=3),)),
        switches=(SwitchRow(odd, odd),), odds=odds, guides=(Guide((0.0, 0.0), (9.0, 9.0), odd),), help=((odd, odd),),
        error=ErrorWords(odd, (odd,)), clock=odd,
    )  # fmt: skip
    # They are written, and leave the field and the strip, which have none of them, as they were but for the guide.
    before, after = frame(scene()), frame(shown)
    assert (before != after).any()
    strip = scene().layout.segments
    rows = slice(strip.x, strip.right), slice(strip.y, strip.bottom)
    clear = frame(replace(shown, help=(), error=None))
    assert (before[rows] == clear[rows]).all()


def test_a_run_far_outside_the_field_can_be_drawn() -> None:
    far = driven(Straight(19_000.0), Turn(90.0), at=(400.0, 900.0), field=BOARD)
    done = attempt(far, trials=10, keep=10, threads=1)
    assert done.first is not None
    way = way_of(done.ready)
    camera = scene().camera.zoomed(scene().camera.pixel(400.0, 900.0), 1e6)
    strip = strip_of(done.ready, done.answer.segments, scene().layout)
    drawn = frame(replace(scene(), run=far, way=way, camera=camera, strip=strip))
    # From so near the planned way is a broad stroke through the view.
    view = scene().layout.field
    seen = drawn[view.x : view.right, view.y : view.bottom].reshape(-1, 3)
    assert len(np.unique(seen, axis=0)) > 1


# --- words -------------------------------------------------------------------------------------------------------


def test_words_fit_their_room() -> None:
    writer = Writer()
    writer.unit = 1.0
    for text in ("churn handle", "a very long name of a thing on the field", "iiiii", "WWWWWWWWWWWW"):
        for room in (0, 5, 20, 47, 80, 300):
            assert writer.width(writer.fit(text, room, 13), 13) <= room
            for line in writer.lines(text, max(room, 20), 13, most=2):
                assert writer.width(line, 13) <= max(room, 20)
    assert writer.fit("short", 300, 13) == "short"
    assert len(writer.lines("one two three four five six", 50, 13, most=2)) == 2


def test_a_blank_line_stays_blank() -> None:
    """What went wrong is told in paragraphs; a line without words is no thing without a name."""
    assert Writer().lines("", 200, 12) == [""]
    assert Writer().lines("\u202e", 200, 12) == ["?"]


def test_the_letters_are_those_that_come_with_matplotlib() -> None:
    import matplotlib

    folder = Path(matplotlib.get_data_path()) / "fonts" / "ttf"
    assert font_files() == tuple(folder / f"DejaVuSans{kind}.ttf" for kind in ("", "-Bold", "-Oblique"))


def test_labels_do_not_cover_each_other_while_there_is_room() -> None:
    places = Places((0.0, 0.0, 300.0, 300.0))
    boxes = []
    for _ in range(9):
        (x, y), covered = places.find([(50.0 + 70 * i, 40.0 + 40 * j) for j in range(3) for i in range(3)], 60.0, 20.0)
        assert covered < 1 / OVER_WORDS
        boxes.append((x, y))
    assert len(set(boxes)) == 9
    assert places.find([(50.0, 40.0)], 60.0, 20.0)[1] == pytest.approx(OVER_WORDS)


def luminance(colour: Colour) -> float:
    """Relative luminance (WCAG 2.1, 2018, definition of it; from memory)."""
    parts = [c / 255 for c in colour]
    r, g, b = (c / 12.92 if c <= 0.03928 else ((c + 0.055) / 1.055) ** 2.4 for c in parts)
    return 0.2126 * r + 0.7152 * g + 0.0722 * b


def contrast(a: Colour, b: Colour) -> float:
    high, low = sorted((luminance(a), luminance(b)), reverse=True)
    return (high + 0.05) / (low + 0.05)


@pytest.mark.parametrize("look", [LIGHT, DARK], ids=lambda look: look.name)
def test_words_stand_out_from_their_ground(look: Look) -> None:
    for ground in (look.table, look.card, look.press):
        assert contrast(look.ink, ground) > 7
        assert contrast(look.faint, ground) > 4.5
    assert contrast(look.ink, look.hover) > 7
    assert contrast(look.target, look.mat) > 4.5
    assert contrast(look.fail_words, look.card) > 4.5
    assert contrast((20, 20, 20), look.accent) > 7
    for thing in (look.path, look.fail, look.wall, look.obstacle_edge):
        assert contrast(thing, look.mat) > 3


# --- what is built from a try ------------------------------------------------------------------------------------


def test_the_way_ends_where_the_planned_run_does() -> None:
    ready = tried().ready
    way = way_of(ready)
    poses = nominal(ready).poses[0]
    for g, segment in enumerate(way.segments):
        assert segment[0] == pytest.approx(poses[g], abs=1e-6)
        assert segment[-1] == pytest.approx(poses[g + 1], abs=1e-6)
        assert way.pose_at(g) == pytest.approx(tuple(poses[g]), abs=1e-6)
    assert way.pose_at(3.0) == pytest.approx(tuple(poses[3]), abs=1e-6)
    # A quarter of a straight of 900 mm from x = 400, and half of a turn of 90 degrees.
    assert way.pose_at(0.25) == pytest.approx((625.0, 900.0, 0.0), abs=1e-6)
    assert way.pose_at(1.5) == pytest.approx((1300.0, 900.0, 45.0), abs=1e-6)


def test_a_turn_on_the_spot_is_a_way_of_the_wheels() -> None:
    ready = tried().ready
    turn = np.pi / 2 * ready.run.robot.drive.track / 2
    assert wheel_ways(ready) == pytest.approx((900.0, turn, 200.0))


def test_faces_lie_flat_on_what_they_are_pushed_on() -> None:
    there = driven(Square("rear", "left wall", 300.0), Straight(100.0), at=(160.0, 800.0), field=BOARD)
    ready = plan(there)
    flats, sights = alignments_of(ready, way_of(ready))
    assert not sights
    # The rear of the body, 140 mm wide about y = 800, on x = 0.
    assert sorted(flats[0]) == [pytest.approx((0.0, 730.0), abs=1e-3), pytest.approx((0.0, 870.0), abs=1e-3)]
    unreached = driven(Square("rear", "left wall", 50.0), at=(160.0, 800.0), field=BOARD)
    ready = plan(unreached)
    assert alignments_of(ready, way_of(ready)) == ((), ())


def test_clouds_end_at_their_contacts() -> None:
    done = tried()
    trials = done.first
    assert trials is not None
    found = failures(trials)
    sample = paths(done.ready, 3, trials, list(range(100)))
    cloud = cloud_of(sample, trials, found)
    assert len(cloud.paths) == 100
    assert list(cloud.fails) == [failure is not None for failure in found[:100]]
    assert sum(cloud.fails) > 3, "too few fail to see anything"
    for n in range(100):
        assert cloud.paths[n][-1] == pytest.approx(cloud.ends[n, :2])
        if cloud.fails[n]:
            # What touched stands at the point of contact: it is on the edge of the robot there.
            edges = [shapely.Polygon(corners_at(part.points, cloud.ends[n])).exterior for part in done.ready.parts]
            assert min(edge.distance(shapely.Point(trials.contact_at[n])) for edge in edges) < 1e-3
            # And there the trial ends that is picked and replayed.
            way = trial_way(done.ready, sample.trials[n])
            assert cloud.ends[n] == pytest.approx(way.pose_at(until_of(trials, n, len(way.segments))), abs=1e-6)
            # It stopped there: no nearer to the contact would the whole segment have been.
            assert np.hypot(*(cloud.ends[n, :2] - trials.poses[n, trials.contact_segment[n] - 1, :2])) <= (
                np.hypot(*np.diff(trials.poses[n], axis=0)[trials.contact_segment[n] - 1, :2]) + 1e-6
            )
        else:
            assert cloud.ends[n] == pytest.approx(trials.poses[n, -1], abs=1e-6)
    (kind, places), *others = cloud.marks
    assert kind == "touches"
    assert not others
    assert len(places) == sum(failure is not None for failure in found)


def test_the_tightest_place_is_as_wide_as_the_planned_gap() -> None:
    done = tried()
    pinch = pinch_of(done.ready, done.answer, way_of(done.ready))
    assert pinch is not None
    gap = done.answer.clearance[0]
    assert gap.obstacle == "post"
    away = float(np.hypot(pinch.thing[0] - pinch.robot[0], pinch.thing[1] - pinch.robot[1]))
    assert away == pytest.approx(gap.nominal, abs=0.5)
    assert gap.segment - 1 <= pinch.head <= gap.segment


def test_the_odds_say_what_the_answer_says() -> None:
    done = tried()
    rows, segments, touched = troubles_of(done.answer)
    odds = odds_of(done.answer, rows, going=0.3, coarse=True)
    assert odds.big == f"{round(done.answer.success.share * 300)} of 300"
    assert odds.foot == "coarse: 300 trials, going on"
    assert rows[0].kind == "touches"
    assert rows[0].what == "post"
    assert touched == {"post"}
    assert (int(rows[0].where.split()[-1]), "touches") in segments


def test_quartiles_lie_between_the_percentiles() -> None:
    done = tried()
    for column in columns_of(done.answer, done.first):
        values = (column.p05, column.p25, column.p50, column.p75, column.p95)
        assert None not in values
        numbers = [value for value in values if value is not None]
        assert (np.diff(numbers) >= -0.011).all()  # The answer counts in steps of 0.01 mm.
    for column in columns_of(done.answer):
        assert column.p25 is None


def test_handles_are_found_by_nearness() -> None:
    camera = Camera.fit(Rect(0, 0, 1000, 800), (2000.0, 1600.0))
    handles = (Handle("a", "move", (1000.0, 800.0)), Handle("b", "width", (1020.0, 800.0)))
    assert hit_handle(camera, handles, 501, 400, 12) is handles[0]
    assert hit_handle(camera, handles, 508, 400, 12) is handles[1]
    assert hit_handle(camera, handles, 560, 400, 12) is None


def test_a_polygon_is_cut_to_a_box_by_hand() -> None:
    triangle = np.array([(-10.0, 5.0), (20.0, 5.0), (20.0, 35.0)])
    cut = clipped(triangle, (0.0, 0.0, 15.0, 20.0))
    x, y = cut.T
    area = 0.5 * abs(float(np.dot(x, np.roll(y, -1)) - np.dot(y, np.roll(x, -1))))
    # Below the line y = x + 15 and over y = 5: 5 mm wide with 10 to 15 high, then 10 wide and 15 high.
    assert area == pytest.approx(5 * 12.5 + 10 * 15)
    assert len(clipped(triangle, (100.0, 100.0, 110.0, 110.0))) == 0


def test_a_lens_shows_the_act_that_is_looked_at_and_hides_no_handle() -> None:
    """Dots of the path's colour inside the circle and of the failing colour outside it, in a corner."""
    aimed = replace(open_floor((2000.0, 1600.0)), targets=(Target("bell", (1390.0, 900.0), 12.0),))
    run = driven(Straight(900.0), Act("bell", takes=1.0), at=(400.0, 900.0), accuracy=SHAKY, field=aimed)
    done = attempt(run, trials=300, keep=300, threads=1)
    assert done.first is not None
    found = shots(done.first, 2)
    assert 0 < found.hit.sum() < len(found.hit)
    places = layout((1280, 800))
    base = scene()
    there = replace(
        base, run=run, parts=done.ready.parts, way=way_of(done.ready), cloud=None, pinch=None, pose=None, head=0.0,
        camera=Camera.fit(places.field, aimed.size, 12), odds=None, columns=columns_of(done.answer, done.first),
        strip=strip_of(done.ready, done.answer.segments, places),
    )  # fmt: skip
    without, within = (
        frame(each)[places.field.x : places.field.right, places.field.y : places.field.bottom]
        for each in (there, replace(there, shots=(Shot(found, ("in place", "the plan")),)))
    )
    changed = (without != within).any(axis=-1)
    card = np.argwhere((within == LIGHT.card).all(axis=-1) & changed)
    assert len(card) > 5000
    low, high = card.min(axis=0), card.max(axis=0)
    for x, y, _ in (way_of(done.ready).start, way_of(done.ready).pose_at(1.0)):
        px, py = there.camera.pixel(x, y)
        column, row = px - places.field.x, py - places.field.y
        assert not (low[0] <= column <= high[0] and low[1] <= row <= high[1])
    lens = within[low[0] : high[0], low[1] : high[1]]
    assert (lens == LIGHT.fail).all(axis=-1).sum() > 20
    # The circle, whose edges are smooth.
    assert (np.abs(lens - LIGHT.target).max(axis=-1) < 60).sum() > 60
