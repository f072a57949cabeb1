"""The picture: everything stands where it belongs, names are harmless, files are whole and always the same.

Field, robot, run and paths are invented. Colours against grey: relative luminance after the World Wide Web Consortium,
Web Content Accessibility Guidelines 2.1, 2018, definition of relative luminance (coefficients from memory).
"""

from __future__ import annotations

import struct
import subprocess
import sys
import time
import xml.etree.ElementTree as ET
from copy import copy
from dataclasses import replace
from math import hypot, inf
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import shapely
from invented import ANSWERS, NASTY, nothing_there, odd_names, spread_is_the_trouble
from matplotlib.axes import Axes
from matplotlib.colors import to_rgb
from matplotlib.figure import Figure
from matplotlib.text import Text

from fieldsim.draw import PALETTE, draw_try, save
from fieldsim.draw.look import LINE, OBSTACLE, SWEPT, TRIAL
from fieldsim.model import (
    Act,
    Arc,
    Attachment,
    Body,
    Box,
    Drive,
    Field,
    Jig,
    Line,
    Obstacle,
    Outline,
    Robot,
    Round,
    Run,
    StartArea,
    StartByEye,
    Straight,
    Target,
    Turn,
    Wait,
)
from fieldsim.model.errors import SaveError
from fieldsim.sim.motion import along_piece, start_pose, travel_and_turn
from fieldsim.sim.sample import PathSample
from fieldsim.sim.shapes import polygon

OVEN = ((1500.0, 800.0), (1700.0, 800.0), (1700.0, 1000.0), (1580.0, 1000.0), (1580.0, 900.0), (1500.0, 900.0))


def a_run() -> Run:
    field = Field(
        name="Bakery yard",
        size=(1800.0, 1100.0),
        walls=(0.0, 75.0),
        obstacles=(
            Obstacle("mill", Box((900.0, 700.0), (200.0, 140.0), 15.0)),
            Obstacle("flour bin", Round((700.0, 200.0), 55.0)),
            Obstacle("oven", Outline(OVEN)),
            Obstacle("awning", Box((1200.0, 420.0), (200.0, 120.0)), (150.0, inf)),
        ),
        start_areas=(StartArea("left start", Box((200.0, 200.0), (400.0, 400.0))),),
        jigs=(Jig("corner block", (60.0, 0.0), 90.0, "rear left"), Jig("gate block", (360.0, 0.0), 90.0, "rear right")),
        lines=(Line("kerb", (900.0, 0.0), (900.0, 500.0), 20.0),),
        targets=(Target("lever", (1300.0, 650.0), 30.0, 0.0, 6.0), Target("tap", (500.0, 600.0), 12.0)),
    )
    scoop = Attachment("scoop", ((110.0, -40.0), (170.0, -40.0), (170.0, 40.0), (110.0, 40.0)), (15.0, 60.0))
    robot = Robot("Box one", Body(170.0, 140.0, 60.0, (8.0, 110.0)), Drive(112.0, 62.0), attachments=(scoop,))
    segments = (
        Straight(420.0),
        Turn(-90.0),
        Straight(610.0),
        Arc(45.0, 300.0),
        Act("lever"),
        Straight(-300.0),
    )
    return Run("Flour round", field, robot, "corner block", segments, ("scoop",))


def a_sample(run: Run, trials: int = 12, contacts: int = 3) -> PathSample:
    """Paths with made-up errors."""
    draw = np.random.default_rng(4)
    travel = np.array([travel_and_turn(s, run.robot.drive.track) for s in run.segments], dtype=float).reshape(-1, 2)

    def drive(pose: Any, moves: Any) -> Any:
        poses = [np.array(pose, dtype=float)]
        for s, t in moves:
            poses.append(along_piece(poses[-1], s, t, 1.0))
        return np.array(poses)

    start, joints = start_pose(run), len(travel) + 1
    paths = [drive(start + draw.normal(0, 0.5, 3), travel * (1 + draw.normal(0, [0.004, 0.01]))) for _ in range(trials)]
    ended = np.full(trials, joints)
    ended[:contacts] = min(3, joints)
    return PathSample(
        nominal=drive(start, travel),
        segment=np.arange(1, joints),
        travel=travel,
        ahead=np.zeros(joints - 1),
        trials=np.array(paths).reshape(trials, joints, 3),
        ended=ended,
        contacts=np.array([(800.0 + 9 * n, 640.0) for n in range(contacts)]).reshape(contacts, 2),
        contact_obstacle=("mill",) * contacts,
        lost=np.zeros((0, 2)),
    )


@pytest.fixture(scope="module")
def run() -> Run:
    return a_run()


@pytest.fixture(scope="module")
def sample(run: Run) -> PathSample:
    return a_sample(run)


@pytest.fixture(scope="module")
def figure(run: Run, sample: PathSample) -> Figure:
    return draw_try(run, spread_is_the_trouble(), sample)


def axes_of(figure: Figure, name: str) -> Axes:
    return next(axes for axes in figure.axes if axes.get_label() == name)


def drawn(figure: Figure, gid: str) -> Any:
    found = figure.findobj(lambda artist: artist.get_gid() == gid)
    assert len(found) == 1, f"{len(found)} things are called {gid}"
    return found[0]


def area_of(patch: Any) -> shapely.Geometry:
    rings = patch.get_path().to_polygons()
    return shapely.union_all([shapely.Polygon(ring) for ring in rings])


# --- places ----------------------------------------------------------------------------------------------------------


def test_every_obstacle_is_at_its_place(figure: Figure, run: Run) -> None:
    for n, obstacle in enumerate(run.field.obstacles, 1):
        wanted = polygon(obstacle.shape)
        assert area_of(drawn(figure, f"obstacle-{n}")).symmetric_difference(wanted).area < 1e-6 * wanted.area
        assert drawn(figure, f"obstacle-name-{n}").get_text() == obstacle.name


def test_an_obstacle_overhead_looks_different(figure: Figure) -> None:
    met, overhead = drawn(figure, "obstacle-1"), drawn(figure, "obstacle-4")
    assert met.get_hatch() is None
    assert overhead.get_hatch() == "///"
    assert met.get_linestyle() != overhead.get_linestyle()


def test_a_model_that_is_touched_has_a_wider_edge(figure: Figure, run: Run, sample: PathSample) -> None:
    """The invented answer has first contacts with mill and oven; the flour bin is never touched."""
    mill, flour_bin, oven = (drawn(figure, f"obstacle-{n}") for n in (1, 2, 3))
    assert mill.get_linewidth() == oven.get_linewidth() > 2 * flour_bin.get_linewidth()
    assert "model that is touched" in [t.get_text() for t in figure.legends[0].get_texts()]
    calm = draw_try(run, nothing_there(), sample)
    assert drawn(calm, "obstacle-1").get_linewidth() == flour_bin.get_linewidth()
    assert "model that is touched" not in [t.get_text() for t in calm.legends[0].get_texts()]


def test_targets_lines_jigs_and_areas_are_there(figure: Figure, run: Run) -> None:
    for n, target in enumerate(run.field.targets, 1):
        circle = drawn(figure, f"target-{n}")
        assert circle.get_center() == target.at
        assert circle.get_radius() == target.within
    for n, jig in enumerate(run.field.jigs, 1):
        assert tuple(drawn(figure, f"jig-{n}").get_xydata()[1]) == jig.corner
    assert area_of(drawn(figure, "line-1")).area == pytest.approx(500 * 20)
    assert area_of(drawn(figure, "start-area-1")).area == pytest.approx(400 * 400)


def test_the_jig_mark_lies_along_the_body_it_holds(figure: Figure) -> None:
    """The body of corner block goes right and away from the corner, that of gate block left and away."""
    along, corner, across = drawn(figure, "jig-1").get_xydata()
    assert (along - corner)[1] > 0
    assert (across - corner)[0] > 0
    along, corner, across = drawn(figure, "jig-2").get_xydata()
    assert (along - corner)[1] > 0
    assert (across - corner)[0] < 0


def test_the_map_is_to_scale_and_whole(figure: Figure, run: Run) -> None:
    axes = axes_of(figure, "map")
    figure.canvas.draw()
    box = axes.get_window_extent()
    w, d = run.field.size
    assert (axes.get_xlim(), axes.get_ylim()) == ((0, w), (0, d))
    assert box.width / box.height == pytest.approx(w / d, rel=1e-3)


def test_the_path_and_the_outlines(figure: Figure, run: Run, sample: PathSample) -> None:
    path = drawn(figure, "path").get_xydata()
    for pose in sample.nominal:
        assert np.hypot(*(path - pose[:2]).T).min() < 1e-9
    start = area_of(drawn(figure, "start"))
    assert start.area == pytest.approx(170 * 140 + 60 * 80)
    # Set into the jig the rear left corner of the body is in the corner.
    assert min(hypot(x - 60, y) for x, y in start.exterior.coords) < 1e-9
    swept = area_of(drawn(figure, "swept"))
    for gid in ("start", "finish", "stop-1", "stop-3"):
        assert area_of(drawn(figure, gid)).difference(swept).area < 1


def test_the_ground_covered_is_what_small_steps_cover(figure: Figure, run: Run, sample: PathSample) -> None:
    """Against the union of outlines at many poses, which misses slivers between them but nothing more."""
    from fieldsim.sim.shapes import footprint

    stamps = []
    for pose, (s, t) in zip(sample.nominal[:-1], sample.travel, strict=True):
        for x, y, h in along_piece(pose, s, t, np.linspace(0, 1, 200)):
            for part in footprint(run.robot, run.wear):
                turned = shapely.affinity.rotate(shapely.Polygon(part.points), h, origin=(0, 0))
                stamps.append(shapely.affinity.translate(turned, x, y))
    wanted = shapely.union_all(stamps)
    assert area_of(drawn(figure, "swept")).symmetric_difference(wanted).area < 0.005 * wanted.area


def test_an_outline_is_one_ring_wherever_the_robot_looks(run: Run) -> None:
    """Body and scoop share a side; turned by an odd angle they must not fall apart into rings with a slit between."""
    for heading in (17.3, 91.0, -133.7):
        turned = replace(run, start=StartByEye((600.0, 500.0), heading))
        figure = draw_try(turned, spread_is_the_trouble(), a_sample(turned))
        for gid in ("start", "stop-1", "stop-2", "finish"):
            assert len(drawn(figure, gid).get_path().to_polygons()) == 1
        # The shape of body and scoop together has eight corners.
        assert len(drawn(figure, "start").get_path().vertices) == 9


def test_a_bare_robot_is_drawn_without_its_attachment(run: Run, sample: PathSample) -> None:
    bare = draw_try(run, replace(spread_is_the_trouble(), bare=True), sample)
    assert area_of(drawn(bare, "start")).area == pytest.approx(170 * 140)


def test_contacts_are_where_they_were(figure: Figure, sample: PathSample) -> None:
    assert (drawn(figure, "contacts").get_xydata() == sample.contacts).all()


def test_of_very_many_contacts_the_first_are_drawn_and_the_legend_says_so(run: Run) -> None:
    figure = draw_try(run, spread_is_the_trouble(), a_sample(run, contacts=12, trials=12))
    assert "first contact" in [t.get_text() for t in figure.legends[0].get_texts()]
    few = a_sample(run)
    many = replace(few, contacts=np.tile(few.contacts, (200, 1)), contact_obstacle=few.contact_obstacle * 200)
    figure = draw_try(run, spread_is_the_trouble(), many)
    assert (drawn(figure, "contacts").get_xydata() == many.contacts[:300]).all()
    assert "first contact (300 of 600)" in [t.get_text() for t in figure.legends[0].get_texts()]


def test_trials_end_where_they_ended(figure: Figure, sample: PathSample) -> None:
    for n, (poses, lived) in enumerate(zip(sample.trials, sample.ended, strict=True), 1):
        line = drawn(figure, f"trial-{n}").get_xydata()
        assert np.allclose(line[0], poses[0, :2])
        assert np.allclose(line[-1], poses[lived - 1, :2])


def test_a_trial_on_an_arc_is_drawn_as_an_arc(run: Run) -> None:
    quarter = replace(run, segments=(Arc(90.0, 300.0),), start=StartByEye((500.0, 300.0), 0.0))
    sample = a_sample(quarter, trials=1, contacts=0)
    figure = draw_try(quarter, replace(spread_is_the_trouble(), segments=("arc 90 degrees, radius 300 mm",)), sample)
    line = drawn(figure, "trial-1").get_xydata()
    first, last = sample.trials[0, 0], sample.trials[0, -1]
    radius = hypot(*(last - first)[:2]) / (2 * np.sin(np.radians(last[2] - first[2]) / 2))
    heading = np.radians(first[2])
    middle = first[:2] + radius * np.array([-np.sin(heading), np.cos(heading)])
    assert np.hypot(*(line - middle).T) == pytest.approx(radius, abs=0.01)


def test_every_segment_has_its_number_near_its_place(figure: Figure, sample: PathSample) -> None:
    for number, segment in enumerate(spread_is_the_trouble().segments, 1):
        label = drawn(figure, f"segment-number-{number}")
        assert label.get_text() == str(number), segment
        ends = sample.nominal[number - 1 : number + 1, :2]
        assert min(np.hypot(*(ends.mean(axis=0) - label.get_position())), 500) < 120


@pytest.mark.parametrize("posts", [0, 6])
def test_no_two_labels_of_the_map_lie_on_each_other(posts: int, run: Run, sample: PathSample) -> None:
    """Six posts stand nearer to each other than their names are long."""
    row = tuple(Obstacle(f"bread post {n}", Round((1150.0 + 60 * n, 200.0), 8.0)) for n in range(posts))
    crowded = replace(run, field=replace(run.field, obstacles=run.field.obstacles + row))
    figure = draw_try(crowded, spread_is_the_trouble(), sample)
    figure.canvas.draw()
    texts = [t for t in axes_of(figure, "map").texts if t.get_text()]
    boxes = [t.get_window_extent() for t in texts]
    for a in range(len(boxes)):
        for b in range(a):
            overlap = shapely.box(*boxes[a].extents).intersection(shapely.box(*boxes[b].extents)).area
            smaller = min(boxes[a].width * boxes[a].height, boxes[b].width * boxes[b].height)
            assert overlap < 0.15 * smaller, (texts[a].get_text(), texts[b].get_text())


# --- the ribbon ------------------------------------------------------------------------------------------------------


def test_the_ribbon_shows_the_answer(figure: Figure) -> None:
    answer = spread_is_the_trouble()
    for entry in answer.ribbon:
        assert drawn(figure, f"margin-{entry.segment}").get_ydata()[0] == entry.p05
        assert drawn(figure, f"median-{entry.segment}").get_ydata()[0] == entry.median
        assert drawn(figure, f"nominal-{entry.segment}").get_ydata()[0] == entry.nominal
        band = drawn(figure, f"band-{entry.segment}")
        assert (band.get_y(), band.get_y() + band.get_height()) == pytest.approx((entry.p05, entry.p95))
    words = drawn(figure, "ribbon-words-3").get_text()
    assert words.replace("\n", " ").replace("\u00a0", " ") == "3 straight 610 mm"


def test_a_touch_is_marked_where_there_is_one(figure: Figure) -> None:
    touched = [a.get_gid() for a in figure.findobj(lambda artist: str(artist.get_gid()).startswith("touch-"))]
    assert touched == ["touch-3"]
    assert "touches" in [t.get_text() for t in axes_of(figure, "ribbon").texts]


def test_the_headline_is_the_title(figure: Figure) -> None:
    assert "Flour round: gets through 871 in 1000 (between 848 and 891)" in [t.get_text() for t in figure.texts]


# --- every kind of answer --------------------------------------------------------------------------------------------


@pytest.mark.parametrize("name", ANSWERS)
def test_every_answer_can_be_drawn(name: str, run: Run, sample: PathSample, tmp_path: Path) -> None:
    answer = ANSWERS[name]()
    drawn = draw_try(run, answer, sample)
    assert ET.parse(save(drawn, tmp_path / "try.svg")).getroot().tag.endswith("svg")
    title = drawn.texts[0].get_text()
    assert title.startswith(answer.run[:4])
    assert title.isprintable()


def test_an_empty_field_without_driving_or_trials(run: Run, tmp_path: Path) -> None:
    empty = replace(
        run,
        field=Field("empty", (500.0, 1500.0), None),
        start=StartByEye((250.0, 250.0), 0.0),
        segments=(Wait(1.0),),
        wear=(),
    )
    still = PathSample(
        nominal=np.array([start_pose(empty)]),
        segment=np.zeros(0, dtype=np.int64),
        travel=np.zeros((0, 2)),
        ahead=np.zeros(0),
        trials=np.zeros((0, 1, 3)),
        ended=np.zeros(0, dtype=np.int64),
        contacts=np.zeros((0, 2)),
        contact_obstacle=(),
        lost=np.zeros((0, 2)),
    )
    figure = draw_try(empty, replace(nothing_there(), segments=("wait 1 s",)), still)
    assert area_of(drawn(figure, "start")).area == pytest.approx(170 * 140)
    assert drawn(figure, "segment-number-1").get_text() == "1"
    save(figure, tmp_path / "empty.png")


def changed(thing: Any, **values: Any) -> Any:
    """A copy with any name at all: the model refuses some of these, and the picture does not lean on that."""
    thing = copy(thing)
    for attribute, value in values.items():
        object.__setattr__(thing, attribute, value)
    return thing


def odd_run() -> Run:
    run = a_run()
    field = run.field
    return changed(
        run,
        field=changed(
            field,
            obstacles=tuple(changed(o, name=NASTY[i]) for i, o in enumerate(field.obstacles)),
            targets=tuple(changed(t, name=NASTY[i + 4]) for i, t in enumerate(field.targets)),
        ),
    )


@pytest.mark.parametrize("kind", ["svg", "png"])
def test_odd_names_are_drawn_and_do_no_harm(kind: str, sample: PathSample, tmp_path: Path) -> None:
    picture = save(draw_try(odd_run(), odd_names(), sample), tmp_path / f"odd.{kind}")
    if kind == "svg":
        words = "".join(ET.parse(picture).getroot().itertext())
        assert "$x^2$" in words
        assert "面包房" in words
        assert "<b>" in words
        assert not [c for c in words if ord(c) < 32 and c not in "\n\t "]


def test_no_text_is_read_as_a_formula(sample: PathSample) -> None:
    figure = draw_try(odd_run(), odd_names(), sample)
    named = [t for t in figure.findobj(Text) if "$" in t.get_text() or "\\" in t.get_text()]
    assert named
    assert not [t for t in named if t.get_parse_math()]


def test_long_names_are_shortened(sample: PathSample) -> None:
    run = a_run()
    longest = changed(run.field.obstacles[0], name="A" * 300)
    figure = draw_try(
        changed(run, field=changed(run.field, obstacles=(longest,))), replace(odd_names(), run="B" * 300), sample
    )
    assert max(len(t.get_text()) for t in figure.findobj(Text)) < 130


# --- files -----------------------------------------------------------------------------------------------------------


def test_the_files_are_what_they_say(figure: Figure, tmp_path: Path) -> None:
    png = save(figure, tmp_path / "try.png").read_bytes()
    width, height = struct.unpack(">II", png[16:24])
    assert png[:8] == b"\x89PNG\r\n\x1a\n"
    wanted = figure.get_size_inches() * 150
    assert (width, height) == pytest.approx(tuple(wanted), abs=1)
    root = ET.parse(save(figure, tmp_path / "try.SVG")).getroot()
    assert root.tag == "{http://www.w3.org/2000/svg}svg"
    assert sorted(p.name for p in tmp_path.iterdir()) == ["try.SVG", "try.png"]


def test_the_same_try_gives_the_same_bytes(run: Run, sample: PathSample, tmp_path: Path) -> None:
    first, second = (draw_try(run, spread_is_the_trouble(), sample) for _ in range(2))
    other = draw_try(run, spread_is_the_trouble(), a_sample(run, trials=11))
    for kind in ("svg", "png"):
        kept, again, differs = (
            save(each, tmp_path / f"{n}.{kind}").read_bytes() for n, each in enumerate((first, second, other))
        )
        assert kept == again
        assert differs != kept


def test_another_ending_and_a_missing_folder_are_refused(figure: Figure, tmp_path: Path) -> None:
    with pytest.raises(SaveError, match=r"can be saved as \.svg or \.png"):
        save(figure, tmp_path / "try.gif")
    with pytest.raises(SaveError, match="could not be written"):
        save(figure, tmp_path / "nowhere" / "try.svg")
    assert list(tmp_path.iterdir()) == []


# --- in grey ---------------------------------------------------------------------------------------------------------


def luminance(colour: str) -> float:
    parts = [c / 12.92 if c <= 0.03928 else ((c + 0.055) / 1.055) ** 2.4 for c in to_rgb(colour)]
    return 0.2126 * parts[0] + 0.7152 * parts[1] + 0.0722 * parts[2]


def contrast(a: str, b: str) -> float:
    dark, light = sorted((luminance(a), luminance(b)))
    return (light + 0.05) / (dark + 0.05)


@pytest.mark.parametrize(
    ("front", "back", "least"),
    [
        (PALETTE["blue"], SWEPT, 3.0),  # the path on the ground it covers
        (TRIAL, SWEPT, 3.0),
        (PALETTE["vermilion"], SWEPT, 3.0),  # a contact on it
        (PALETTE["vermilion"], "white", 3.0),
        (PALETTE["green"], "white", 3.0),
        (PALETTE["orange"], "black", 3.0),  # the jig in use in its black edge
        ("black", OBSTACLE, 4.5),  # a name on a model
        (OBSTACLE, SWEPT, 1.8),
        (OBSTACLE, "white", 2.0),
        (OBSTACLE, LINE, 1.5),
    ],
)
def test_what_lies_on_what_differs_in_grey(front: str, back: str, least: float) -> None:
    """3 and 4.5 are what the guidelines ask of marks and of letters; areas also have dark edges, so less will do."""
    assert contrast(front, back) >= least


def test_nothing_written_leaves_the_page(run: Run, sample: PathSample) -> None:
    """With every entry a legend can have."""
    figure = draw_try(run, replace(spread_is_the_trouble(), run="W" * 300, robot="W" * 300, field="W" * 300), sample)
    figure.canvas.draw()
    page = figure.bbox
    legends = [*figure.legends, axes_of(figure, "ribbon").get_legend()]
    both = (axes_of(figure, "map"), axes_of(figure, "ribbon"))
    written = [*figure.texts, *(t for axes in both for t in (*axes.texts, axes.xaxis.label, axes.yaxis.label))]
    for thing in (*legends, *(t for t in written if t.get_text())):
        box = thing.get_window_extent()
        assert page.x0 <= box.x0 <= box.x1 <= page.x1, thing
        assert page.y0 <= box.y0 <= box.y1 <= page.y1, thing
    assert not legends[0].get_window_extent().overlaps(axes_of(figure, "ribbon").title.get_window_extent())


def test_letters_are_large_enough(figure: Figure) -> None:
    """7 points at 11 inches of width; common practice, no source."""
    assert min(t.get_fontsize() for t in figure.findobj(Text) if t.get_text()) >= 7


# --- pace and manners ------------------------------------------------------------------------------------------------


def test_drawing_is_quick(run: Run, sample: PathSample) -> None:
    extra = tuple(Obstacle(f"crate {n}", Box((150.0 + 110 * n, 1040.0), (60.0, 60.0), 7.0 * n)) for n in range(14))
    many = replace(run, field=replace(run.field, obstacles=run.field.obstacles + extra))
    paths = a_sample(run, trials=60)
    seconds = []
    for _ in range(2):
        began = time.process_time()
        draw_try(many, spread_is_the_trouble(), paths)
        seconds.append(time.process_time() - began)
    assert min(seconds) < 1.5


def test_no_window_is_opened_and_nothing_heavy_is_loaded_early(tmp_path: Path) -> None:
    code = (
        "import sys, fieldsim.draw as p; assert 'matplotlib' not in sys.modules and 'shapely' not in sys.modules;"
        "from matplotlib.figure import Figure; p.save(Figure(), sys.argv[1]);"
        "assert 'matplotlib.pyplot' not in sys.modules"
    )
    where = tmp_path / "blank.svg"
    done = subprocess.run([sys.executable, "-c", code, str(where)], capture_output=True, text=True, check=False)
    assert (done.returncode, done.stderr) == (0, "")
    assert where.exists()


def test_a_sample_whose_arrays_do_not_fit_is_refused(sample: PathSample) -> None:
    with pytest.raises(ValueError, match="travel has the shape"):
        replace(sample, travel=sample.travel[:-1])
