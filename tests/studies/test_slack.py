"""How far off the start may be: closed forms, shapely, and what stands in the way. All fields invented."""

from __future__ import annotations

from dataclasses import replace
from functools import cache
from math import erf, sqrt

import numpy as np
import pytest
import shapely
from plans import PERFECT, STILL, cluttered, robot
from scipy.optimize import brentq
from shapely import affinity

from fieldsim import load_run, simulate
from fieldsim.model import Act, Box, Field, Jig, Obstacle, Run, Spread, Square, StartByEye, Straight
from fieldsim.report.words.slack import slack_text
from fieldsim.sim.kernel.path import H, S, T, X, Y
from fieldsim.sim.motion import along_piece
from fieldsim.sim.plan import Plan, plan
from fieldsim.sim.shapes import polygon
from fieldsim.sim.trials import typical
from fieldsim.studies.own import own
from fieldsim.studies.slack import Offset, Shifted, finer, slack

BODY = 140.0


def corridor(room: float, spread: Spread = STILL, heading: float = 0.0, y: float = 500.0) -> Run:
    """A straight between two long boxes with ``room`` mm to either side of the body."""
    walls = tuple(
        Obstacle(name, Box((1500.0, 500.0 + side * (BODY / 2 + room + 50)), (1000.0, 100.0)))
        for name, side in (("lower", -1), ("upper", 1))
    )
    field = Field("Corridor", (3000.0, 1000.0), obstacles=walls)
    return Run("Through", field, robot(PERFECT), StartByEye((300.0, y), heading, spread), (Straight(1600.0),))


# --- without noise -------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("room", [0.5, 5.0, 23.0])
def test_a_corridor_leaves_exactly_its_room_to_either_side(room: float) -> None:
    edges = slack(corridor(room), trials=20, maps=False).geometry
    assert edges.y == pytest.approx((-room, room), abs=2e-5)
    assert edges.ends[1] == ("edge", "edge")


def test_forwards_it_may_be_off_until_the_wall_at_the_end() -> None:
    """Front face at 300 + 110 + 1600 = 2010: 40 mm before a post whose side is at 2050."""
    post = Obstacle("post", Box((2060.0, 500.0), (20.0, 20.0)))
    run = corridor(30.0)
    run = replace(run, field=replace(run.field, obstacles=(*run.field.obstacles, post)))
    edges = slack(run, trials=20, maps=False).geometry
    assert edges.x[1] == pytest.approx(40.0, abs=2e-5)


def test_heading_in_a_corridor_by_hand() -> None:
    """A body of 170 x 140, axle 60 from the rear, drives 1600 mm from 300 at a heading h: its front left corner ends
    70 cos h + (1600 + 110) sin h to the left, and comes into the corridor (x from 1000 to 2000) before that. The end is
    at x = 300 + 1600 cos h - 70 sin h + 110 cos h > 2000, so the corner leaves the corridor at x = 2000 with
    y = 70 cos h + tan h (2000 - 300 + 70 sin h) ... the line of the corner: y = 70/cos h + (2000 - 300) tan h.
    """
    room = 12.0

    def left(h: float) -> float:
        return 70 / np.cos(h) + 1700 * np.tan(h) - (70 + room)

    wanted = np.degrees(brentq(left, 0.0, 0.1))
    edges = slack(corridor(room), trials=20, maps=False).geometry
    assert edges.heading == pytest.approx((-wanted, wanted), abs=1e-4)


def swept(ready: Plan) -> shapely.Geometry:
    """The ground the footprint covers, from poses a third of a mm apart: at most 0.001 mm too little at the arcs."""
    hulls = []
    for row in ready.path[:-1]:
        pose = np.array([row[X], row[Y], np.degrees(row[H])])
        count = max(2, int((abs(row[S]) + 200 * abs(row[T])) / 0.33)) if row[T] else 2
        poses = along_piece(pose, row[S], np.degrees(row[T]), np.linspace(0, 1, count))
        corners = ready.parts[0].points
        c, s = np.cos(np.radians(poses[:, 2]))[:, None], np.sin(np.radians(poses[:, 2]))[:, None]
        x = poses[:, 0, None] + c * corners[:, 0] - s * corners[:, 1]
        y = poses[:, 1, None] + s * corners[:, 0] + c * corners[:, 1]
        placed = np.stack([x, y], axis=-1)
        pairs = np.concatenate([placed[:-1], placed[1:]], axis=1)
        hulls.append(shapely.convex_hull(shapely.multipoints(shapely.points(pairs).reshape(len(pairs), -1))))
    return shapely.union_all(np.concatenate(hulls))


def first_touch(area: shapely.Geometry, things: shapely.Geometry, way: np.ndarray, most: float) -> float:
    """How far ``area`` can be moved along the unit vector ``way`` until it touches, by steps no larger than the gap."""
    gone = 0.0
    while gone < most:
        gap = affinity.translate(area, *(gone * way)).distance(things)
        if gap < 1e-7:
            return gone
        gone += gap
    return most


@cache
def clear_runs(wanted: int) -> list[Run]:
    """Cluttered runs without noise that touch nothing, of the boxes that are not in the way."""
    found = []
    seed = 0
    while len(found) < wanted:
        run = replace(cluttered(seed, 12, PERFECT), robot=robot(PERFECT))
        ready = plan(run)
        area = swept(ready)
        kept = tuple(o for o in run.field.obstacles if polygon(o.shape).distance(area) > 1.0)
        field = replace(run.field, size=(4000.0, 4000.0), obstacles=kept)
        x, y = run.start.at if isinstance(run.start, StartByEye) else (0, 0)
        moved = tuple(
            replace(o, shape=replace(o.shape, center=(o.shape.center[0] + 900, o.shape.center[1] + 900)))  # type: ignore[union-attr]
            for o in field.obstacles
        )
        found.append(
            replace(run, field=replace(field, obstacles=moved), start=StartByEye((x + 900, y + 900), 90.0, STILL))
        )
        seed += 1
    return found


@pytest.mark.parametrize("number", range(3))
def test_the_edge_without_noise_against_shapely(number: int) -> None:
    """A start that is moved moves the whole swept ground: shapely says how far until it touches anything."""
    run = clear_runs(3)[number]
    shifted = Shifted(run)
    area = swept(shifted.ready)
    things = shapely.union_all([polygon(o.shape) for o in run.field.obstacles])
    outside = shapely.box(-3000, -3000, 7000, 7000).difference(shapely.box(0, 0, *run.field.size))
    everything = shapely.union_all([things, outside])
    edges = slack(run, trials=10, maps=False).geometry
    # The robot looks along +y: forwards is +y, its left is -x.
    for pair, way in ((edges.x, (0.0, 1.0)), (edges.y, (-1.0, 0.0))):
        for value, sign in zip(pair, (-1, 1), strict=True):
            wanted = first_touch(area, everything, sign * np.array(way), 150.0)
            assert abs(value) == pytest.approx(wanted, abs=0.01) or (wanted == 150.0 and abs(value) > 139.0)


def test_the_edge_of_heading_against_shapely() -> None:
    """Turning the start turns the whole swept ground about it."""
    for run in clear_runs(3):
        shifted = Shifted(run)
        area = swept(shifted.ready)
        things = shapely.union_all([polygon(o.shape) for o in run.field.obstacles])
        assert isinstance(run.start, StartByEye)
        edges = slack(run, trials=10, maps=False).geometry
        for value, why in zip(edges.heading, edges.ends[2], strict=True):
            if why != "edge":
                continue
            for off, touches in ((value * 0.999, False), (value + np.sign(value) * 0.002, True)):
                turned = affinity.rotate(area, off, origin=run.start.at)
                assert bool(turned.distance(things) < 0.002 or turned.intersects(things)) == touches


def test_a_step_jumps_over_nothing() -> None:
    """A needle of 0.2 mm that only the offsets between 30 and 30.2 + body mm meet is found at its near side."""
    needle = Obstacle("needle", Box((1500.0, 500.0 + 70 + 30.1), (0.2, 0.2)))
    run = replace(corridor(100.0), field=Field("Hall", (3000.0, 1000.0), obstacles=(needle,)))
    assert slack(run, trials=10, maps=False).geometry.y[1] == pytest.approx(30.0, abs=2e-5)


# --- with noise ----------------------------------------------------------------------------------------------------


def test_with_noise_against_the_normal_distribution() -> None:
    """Placing across with sd s, offset o, room r: Phi((r - o)/s) - Phi((-r - o)/s) get through; the edge is where that
    falls to the wanted share (closed form by root finding)."""
    room, sd, need = 12.0, 4.0, 0.8

    def share(off: float) -> float:
        return 0.5 * (erf((room - off) / (sd * sqrt(2))) - erf((-room - off) / (sd * sqrt(2))))

    wanted = brentq(lambda off: share(off) - need, 0.0, 20.0)
    answer = slack(corridor(room, Spread(0.0, sd, 0.0)), need=need, trials=8000, maps=False)
    # The edge's own error: sd of the share over its slope there, sqrt(0.8 0.2/8000)/0.07 = 0.064 mm; four of them, and
    # the 0.1 mm to which the search goes.
    assert answer.slack.y == pytest.approx((-wanted, wanted), abs=0.36)
    assert answer.geometry.y == pytest.approx((-room, room), abs=2e-5)


def test_the_planned_start_is_what_try_says() -> None:
    run = load_run("runs/bakery/flour-round.yaml")
    shifted = Shifted(run)
    assert (shifted.success(Offset(), 1500, 7, None) == simulate(run, 1500, seed=7).success).all()


def test_an_offset_start_is_the_run_from_there() -> None:
    """The culling is the planned start's; the answers must be those of a plan made for the other start."""
    run = cluttered(3)
    assert isinstance(run.start, StartByEye)
    (x, y), h = run.start.at, run.start.heading
    for offset in (Offset(7.0, 0.0, 0.0), Offset(0.0, -9.0, 0.0), Offset(3.0, 4.0, 5.0)):
        # It looks along +y.
        there = replace(run, start=replace(run.start, at=(x - offset.y, y + offset.x), heading=h + offset.heading))
        assert (Shifted(run).success(offset, 1000, 2, 1) == simulate(there, 1000, seed=2).success).all()


def test_without_a_wanted_share_it_is_nine_tenths_of_the_planned_starts() -> None:
    answer = slack(corridor(8.0, Spread(0.0, 6.0, 0.0)), trials=1000, maps=False)
    assert answer.need == pytest.approx(0.9 * answer.success.share)
    assert not answer.need_given
    assert answer.meets_need


def test_more_than_the_planned_start_gets_leaves_no_slack() -> None:
    answer = slack(corridor(8.0, Spread(0.0, 6.0, 0.0)), need=0.99, trials=500, maps=False)
    assert not answer.meets_need
    assert (answer.slack.x, answer.slack.y, answer.slack.heading) == ((0.0, 0.0),) * 3
    assert "no slack" in slack_text(answer)


def test_where_nothing_is_near_it_says_how_far_it_looked() -> None:
    field = Field("Hall", (9000.0, 9000.0))
    run = Run("Out", field, robot(PERFECT), StartByEye((4500.0, 4500.0), 0.0, STILL), (Straight(300.0),))
    answer = slack(run, trials=50, maps=False)
    assert set(sum(answer.geometry.ends, ())) == {"no end"}
    assert "no limit within 150.0 mm, the farthest that was looked at" in slack_text(answer)


# --- in a jig ------------------------------------------------------------------------------------------------------


def in_a_jig() -> Run:
    """The rear face on the near wall, the left side on a stop."""
    stop = Obstacle("stop", Box((30.0, 20.0), (60.0, 40.0)), (0.0, 30.0))
    side = Obstacle("side", Box((300.0, 500.0), (100.0, 400.0)))
    jig = Jig("block", (60.0, 0.0), 90.0, "rear left", Spread(0.3, 0.3, 0.1))
    field = Field("Corner", (1000.0, 1000.0), obstacles=(stop, side), jigs=(jig,))
    return Run("Out", field, robot(PERFECT), "block", (Straight(600.0),))


def test_against_a_jig_there_is_no_slack_and_it_says_what_is_there() -> None:
    answer = slack(in_a_jig(), trials=400, maps=False)
    assert answer.geometry.x[0] == 0.0
    assert answer.geometry.ends[0][0] == "stands against near wall"
    assert answer.geometry.y[1] == 0.0
    assert answer.geometry.ends[1][1] == "stands against stop"
    # To its right 50 mm are left: the body ends at x = 200, the box beside the way begins at 250.
    assert answer.geometry.y[0] == pytest.approx(-50.0, abs=2e-5)
    assert "stands against near wall" in slack_text(answer)


def test_a_start_that_would_stand_in_something_gets_nowhere_however_it_is_drawn() -> None:
    """5 mm to either side, begun between the bars: moved 5.5 mm one start in three is drawn clear of the bar, and
    ``simulate`` says of a plan from there that none gets through. A bar that the first segment may touch does not
    count."""
    spread = Spread(0.0, 1.0, 0.0)
    run = replace(corridor(5.0, spread), start=StartByEye((1200.0, 500.0), 0.0, spread), segments=(Straight(600.0),))
    shifted = Shifted(run)
    there = replace(run, start=StartByEye((1200.0, 505.5), 0.0, spread))
    assert not shifted.stands_in(Offset(y=4.9))
    assert shifted.stands_in(Offset(y=5.5))
    assert not shifted.success(Offset(y=5.5), 200, 1, 1).any()
    assert not simulate(there, 200).success.any()
    may = Shifted(replace(run, segments=(Straight(600.0, may_touch=("upper",)),)))
    assert not may.stands_in(Offset(y=5.5))
    assert may.stands_in(Offset(y=-5.5))


@pytest.mark.parametrize("name", ["flour-round", "mill-hatch"])
def test_what_many_starts_leave_is_what_each_moved_plan_leaves(name: str) -> None:
    shifted = Shifted(load_run(f"runs/bakery/{name}.yaml"))
    offsets = [Offset(x, y, h) for x in (0.0, 3.0) for y in (-4.0, 1.5) for h in (-1.0, 0.5)]
    rooms = shifted.rooms(offsets)
    acts = [segment for segment in shifted.run.segments if isinstance(segment, Act)]
    within = np.array([next(t.within for t in shifted.run.field.targets if t.name == act.target) for act in acts])
    for offset, room in zip(offsets, rooms, strict=True):
        alone = typical(shifted.plan_at(offset))
        assert (room > 0) == alone.success[0]
        within = [
            next(t.within for t in shifted.run.field.targets if t.name == a.target)
            for a in shifted.run.segments
            if isinstance(a, Act)
        ]
        left = min([float(alone.clearance.min()), *(within - alone.miss[0])])
        assert room == pytest.approx(left if room > 0 else min(left, -0.01), abs=1e-9)


def test_heading_turns_about_the_corner_the_jig_holds() -> None:
    run = in_a_jig()
    x, y, h = Shifted(run).plan_at(Offset(heading=2.0)).course.wheels.start
    # The rear left corner, 60 behind and 70 to the left of the axle's middle, stays at (60, 0).
    corner = (x - 60 * np.cos(h) - 70 * np.sin(h), y - 60 * np.sin(h) + 70 * np.cos(h))
    assert corner == pytest.approx((60.0, 0.0), abs=1e-9)


# --- maps ----------------------------------------------------------------------------------------------------------


@pytest.mark.usefixtures("small_maps")
def test_maps_agree_with_the_edges() -> None:
    answer = slack(corridor(10.0, Spread(0.0, 2.0, 0.3)), trials=100)
    assert [(each.across, each.up) for each in answer.maps] == [("x", "heading"), ("y", "heading"), ("y", "x")]
    each = answer.maps[2]
    shares = np.array(each.share, dtype=float)
    assert shares.shape == (len(each.rows), len(each.columns))
    assert ((shares >= 0) & (shares <= 1)).all()
    room = np.array(each.room)
    for column, value in zip(each.fine_columns, room[len(each.fine_rows) // 2], strict=True):
        inside = answer.geometry.y[0] < column < answer.geometry.y[1]
        assert (value >= 0) == inside or abs(abs(column) - 10.0) < 0.1


def test_a_finer_map_asks_where_the_wanted_share_runs_through() -> None:
    """On a plane what is halfway between its neighbours is right, so only the cells of the line are asked for."""
    x, y = np.meshgrid(np.arange(6.0), np.arange(5.0))
    plane = 0.1 * x + 0.05 * y
    made, wanted = finer(plane, need=0.32)
    fx, fy = np.meshgrid(np.arange(0, 5.5, 0.5), np.arange(0, 4.5, 0.5))
    assert made == pytest.approx(0.1 * fx + 0.05 * fy)
    assert not wanted[::2, ::2].any()
    assert 0 < wanted.sum() < wanted.size / 2
    # Each cell of the old map through which the line runs is asked for inside, and no other.
    through = (plane[:-1, :-1] < 0.32) & (plane[1:, 1:] >= 0.32)
    assert (wanted[1::2, 1::2] == through).all()


def test_a_finer_map_asks_along_the_edge_of_what_is_known() -> None:
    share = np.full((4, 4), 0.9)
    share[:, 2:] = np.nan
    made, wanted = finer(share, need=0.5)
    assert wanted[:, 3].all()
    assert not wanted[:, 0].any()
    assert not wanted[1::2, 5:].any()
    assert made[:, :3] == pytest.approx(np.full((7, 3), 0.9))
    assert np.isnan(made[:, 5:]).all()


@pytest.mark.usefixtures("small_maps")
def test_what_a_map_says_was_driven_is_what_is_driven_from_there() -> None:
    run = corridor(8.0, Spread(0.0, 4.0, 0.3))
    answer = slack(run, trials=100, seed=4)
    each, shifted = answer.maps[1], Shifted(run)
    known = own(run, trials=100, seed=4)
    driven = np.array(each.driven)
    assert driven.any()
    assert not driven.all()
    for i, j in np.argwhere(driven)[::9]:
        offset = Offset(**{each.across: each.columns[j], each.up: each.rows[i]})
        expected = known.beside(shifted.success(offset, 20, 4, 1)).share.share
        assert each.share[i][j] == pytest.approx(expected)


@pytest.mark.usefixtures("small_maps")
def test_maps_leave_out_where_the_robot_cannot_be_set() -> None:
    answer = slack(in_a_jig(), trials=100)
    y_x = answer.maps[2]
    # Neither forwards nor to the right is anything in the way, backwards and to the left is.
    assert max(y_x.columns) <= 1.0
    assert min(y_x.rows) == 0.0


@pytest.mark.usefixtures("small_maps")
def test_same_seed_same_answer_on_any_number_of_threads() -> None:
    run = corridor(8.0, Spread(0.0, 6.0, 0.5))
    assert slack(run, trials=20, threads=1) == slack(run, trials=20, threads=2)


def test_a_run_with_a_square_forgives_the_start() -> None:
    """What the wall takes away does not matter: with the square much more heading is forgiven."""
    run = load_run("runs/bakery/yard-bell.yaml")
    without = replace(run, segments=(*run.segments[:2], Straight(-70.0), *run.segments[3:]))
    squared, blind = (slack(each, need=0.05, trials=100, maps=False) for each in (run, without))
    assert min(np.abs(squared.geometry.heading)) > 2 * min(np.abs(blind.geometry.heading))
    assert isinstance(run.segments[2], Square)
