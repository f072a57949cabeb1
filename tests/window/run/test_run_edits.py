"""Runs changed by hand: what can be said in a file can be done, what cannot be is refused in plain words."""

from __future__ import annotations

from dataclasses import replace
from math import inf
from pathlib import Path
from typing import Any

import pytest
from examples import examples
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from fieldsim.files import load_run
from fieldsim.files.forms import SEGMENTS
from fieldsim.files.writing import new_field_text, new_run_text, run_text
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
    LineSquare,
    Obstacle,
    Robot,
    Round,
    Run,
    Segment,
    Sensor,
    Spread,
    Square,
    StartArea,
    StartByEye,
    Straight,
    Target,
    Turn,
    Until,
    Wait,
)
from fieldsim.model.bounds import attributes
from fieldsim.model.units import LENGTH
from fieldsim.sim.motion import start_pose
from fieldsim.window.dials import Refused, parse_number
from fieldsim.window.history import History
from fieldsim.window.run.edits import (
    Place,
    choices,
    move_start,
    nudge,
    numbers,
    numbers_at,
    rename_run,
    reverse,
    run_on,
    set_choice,
    set_number,
    start_at_jig,
    start_by_eye,
    toggle,
    turn_start,
    turn_start_to,
    typed,
    uses,
    with_robot,
)
from fieldsim.window.run.segments import (
    SEGMENT_WORDS,
    add_segment,
    copy_segment,
    kind_word,
    move_segment,
    new_segment,
    remove_segment,
    with_kind,
)

# All invented.
FIELD = Field(
    "Yard",
    (2000.0, 1000.0),
    (0.0, 75.0),
    obstacles=(Obstacle("crate", Box((700.0, 500.0), (100.0, 60.0))), Obstacle("bin", Round((1200.0, 300.0), 50.0))),
    start_areas=(StartArea("home", Box((200.0, 200.0), (400.0, 400.0))),),
    jigs=(Jig("block", (60.0, 0.0), 90.0, "rear left"), Jig("rail", (240.0, 0.0), 270.0, "front right")),
    lines=(Line("kerb", (900.0, 0.0), (900.0, 1000.0)), Line("seam", (0.0, 800.0), (2000.0, 800.0))),
    targets=(Target("lever", (1500.0, 800.0), 8.0), Target("lid", (1000.0, 300.0), 20.0)),
)
ROBOT = Robot(
    "Box",
    Body(170.0, 140.0, 60.0, (8.0, 110.0)),
    Drive(112.0, 62.0, speed=250.0),
    sensors=(Sensor("left eye", (95.0, 30.0)), Sensor("right eye", (95.0, -30.0)), Sensor("tail", (-40.0, 0.0))),
    attachments=(
        Attachment("scoop", ((110.0, -40.0), (170.0, -40.0), (170.0, 40.0), (110.0, 40.0))),
        Attachment("hook", ((-100.0, -12.0), (-60.0, -12.0), (-60.0, 12.0))),
    ),
)
RUN = Run(
    "Round",
    FIELD,
    ROBOT,
    "block",
    (
        Straight(240.0),
        Turn(-89.0, "right wheel"),
        Arc(-35.0, 300.0, speed=150.0),
        Straight(30.0, may_touch=("bin",)),
        Act("lid", 2.0),
        Square("rear", "left wall", 100.0),
        Until("kerb", "left eye", 300.0),
        LineSquare("kerb", ("left eye", "right eye"), -150.0),
        Wait(0.5),
    ),
    wear=("scoop",),
    finish="home",
)


def good(run: Run | Refused) -> Run:
    assert isinstance(run, Run), run
    return run


def words(run: Run | Refused) -> str:
    assert isinstance(run, Refused), run
    return run.words


# --- everything a file can say can be done by hand

_KINDS = {kind: word for word, kind in SEGMENTS.items()}
_SPEED = st.none() | st.floats(1.0, 5000.0)
_TOUCH = st.lists(st.sampled_from(["crate", "bin", "far wall", "left wall"]), unique=True, max_size=3).map(tuple)
_WAY = st.floats(-20_000.0, 20_000.0).filter(bool)
_ANGLE = st.floats(-3600.0, 3600.0).filter(bool)
_LINE, _SENSOR = st.sampled_from(["kerb", "seam"]), st.sampled_from(["left eye", "right eye", "tail"])
_CAPTURE = st.floats(0.1, 89.0)
_SIDES = st.lists(_SENSOR, min_size=2, max_size=2, unique=True).map(tuple)
_FACE = st.sampled_from(["front", "rear"])
SEGMENT: st.SearchStrategy[Segment] = st.one_of(
    st.builds(Straight, _WAY, _SPEED, _TOUCH),
    st.builds(
        Turn, _ANGLE, st.sampled_from([None, "left wheel", "right wheel"]), _SPEED.map(lambda v: v and v / 2), _TOUCH
    ),
    st.builds(Arc, _ANGLE, _WAY, _SPEED, _TOUCH),
    st.builds(Square, _FACE, st.sampled_from(["crate", "far wall"]), st.floats(1, 2e4), _SPEED, _CAPTURE, _TOUCH),
    st.builds(LineSquare, _LINE, _SIDES, _WAY, st.integers(1, 20), _SPEED, _CAPTURE, _TOUCH),
    st.builds(Until, _LINE, _SENSOR, _WAY, _SPEED, _CAPTURE, _TOUCH),
    st.builds(Act, st.sampled_from(["lever", "lid"]), st.floats(0, 600), st.floats(0, 600)),
    st.builds(Wait, st.floats(0, 600)),
)
EYE = st.builds(
    StartByEye,
    st.tuples(st.floats(0, 2000), st.floats(0, 1000)),
    st.floats(-360, 360),
    st.builds(Spread, st.floats(0, 200), st.floats(0, 200), st.floats(0, 360)),
)


def value_at(record: object, key: str) -> Any:
    name, _, rest = key.partition(".")
    value = getattr(record, name)
    if isinstance(value, tuple) and rest:
        return value["xy".index(rest)] if rest in "xy" else value[int(rest)]
    return value_at(value, rest) if rest else value


@settings(max_examples=examples(120))
@given(SEGMENT)
def test_any_segment_can_be_made_from_a_new_one(wanted: Segment) -> None:
    segment = new_segment(RUN, _KINDS[type(wanted)])
    assert not isinstance(segment, Refused)
    run = good(add_segment(RUN, 3, segment))
    for choice in choices(run, 3, possible=False):
        if choice.key.startswith("sensors"):
            run = good(set_choice(run, 3, "sensors", value_at(wanted, "sensors")))
            continue
        value = value_at(wanted, choice.key)
        assert value is None or isinstance(value, tuple) or value in choice.options
        run = good(set_choice(run, 3, choice.key, value))
    for dial in numbers_at(run, 3):
        run = good(set_number(run, 3, dial.key, value_at(wanted, dial.key)))
    assert run.segments == (*RUN.segments[:3], wanted, *RUN.segments[3:])


@settings(max_examples=examples(40))
@given(EYE)
def test_any_start_by_eye_can_be_made(wanted: StartByEye) -> None:
    run = good(start_by_eye(RUN))
    for dial in numbers_at(run, "start"):
        run = good(set_number(run, "start", dial.key, value_at(wanted, dial.key)))
    assert run.start == wanted


def test_what_is_changed_is_all_there_is() -> None:
    """Each attribute of each kind of segment is a number or a choice."""
    for index, segment in enumerate(RUN.segments):
        keys = {dial.key for dial in numbers_at(RUN, index)} | {c.key.split(".")[0] for c in choices(RUN, index)}
        assert keys == set(attributes(type(segment)))


# --- any sequence of edits


def edit(data: st.DataObject, run: Run) -> Run | Refused:
    """One edit of any kind."""
    index = data.draw(st.integers(0, len(run.segments) - 1))
    what = data.draw(st.integers(0, 13))
    if what < 4:
        place: Place = data.draw(st.sampled_from([index, "start", "body"]))
        dials = numbers_at(run, place)
        if not dials:
            return Refused("no numbers")
        dial = data.draw(st.sampled_from(dials))
        if what == 0:
            return nudge(run, place, dial.key, data.draw(st.integers(-5, 5)), data.draw(st.booleans()))
        if what == 1:
            text = data.draw(st.sampled_from(["", "12", "-3,5", "4 cm", "1 in", "200", "0", "90 deg", "2 s", "x"]))
            return typed(run, place, dial.key, text)
        value = data.draw(st.none() | st.floats(-400, 400) | st.sampled_from([0.0, 1e9, inf]))
        return set_number(run, place, dial.key, value)
    if what < 6:
        place = data.draw(st.sampled_from([index, "run"]))
        options = choices(run, place)
        if not options:
            return Refused("no choices")
        choice = data.draw(st.sampled_from(options))
        if choice.many:
            return toggle(run, place, choice.key, data.draw(st.sampled_from(choice.options)))
        return set_choice(run, place, choice.key, data.draw(st.sampled_from([*choice.options, "nix", None])))
    match what:
        case 6:
            segment = new_segment(run, data.draw(st.sampled_from(SEGMENT_WORDS)), start_pose(run))
            return segment if isinstance(segment, Refused) else add_segment(run, index, segment)
        case 7:
            return remove_segment(run, index)
        case 8:
            return move_segment(run, index, data.draw(st.integers(-1, len(run.segments))))
        case 9:
            return with_kind(run, index, data.draw(st.sampled_from(SEGMENT_WORDS)), start_pose(run))
        case 10:
            return move_start(run, (data.draw(st.floats(-50, 2050)), data.draw(st.floats(-50, 1050))))
        case 11:
            return turn_start(run, data.draw(st.floats(-800, 800)))
        case 12:
            return set_number(run, "body", "width", data.draw(st.floats(1, 800)))
        case _:
            return copy_segment(run, index)


@settings(max_examples=examples(150), suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large])
@given(st.data())
def test_any_edits_can_be_undone_and_redone_and_written(data: st.DataObject) -> None:
    history = History.begun(RUN)
    for n in range(data.draw(st.integers(1, 8))):
        made = edit(data, history.state)
        if isinstance(made, Refused):
            assert made.words.strip()
        else:
            history = history.push(made, f"edit {n}")
    end = history.state
    text = new_run_text(RUN, "yard.yaml", "box.yaml")
    # What is written has been read again and compared, or it raises. The body is the robot's file's.
    same_robot = replace(end, robot=RUN.robot)
    assert run_text(text, RUN, same_robot) == text or same_robot != RUN
    while history.undo_words:
        history = history.undo()
    assert history.state == RUN
    while history.redo_words:
        history = history.redo()
    assert history.state == end


def test_an_edited_run_is_read_from_its_file(tmp_path: Path) -> None:
    season = Path(__file__).parents[3] / "runs/bakery"
    before = load_run(season / "flour-round.yaml")
    after = good(typed(good(move_start(before, (180.0, 222.5))), 0, "distance", "24,4 cm"))
    (tmp_path / "robot.yaml").write_text((season / "box-one.yaml").read_text(encoding="utf-8"), encoding="utf-8")
    (tmp_path / "field.yaml").write_text(new_field_text(after.field), encoding="utf-8")
    (tmp_path / "run.yaml").write_text(new_run_text(after, "field.yaml", "robot.yaml"), encoding="utf-8")
    assert load_run(tmp_path / "run.yaml") == after


# --- numbers


@pytest.mark.parametrize(
    ("text", "mm"),
    [
        ("620", 620.0),
        ("62 cm", 620.0),
        (" -62,5 ", -62.5),
        ("1.5in", 38.1),
        ("0,62 m", 620.0),
        ("\u221240", -40.0),
        ("+10", 10.0),
        (".5", 0.5),
    ],
)
def test_numbers_as_people_type_them(text: str, mm: float) -> None:
    assert good(typed(RUN, 0, "distance", text)).segments[0] == Straight(mm)


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("", "distance needs a number; accepted: -20000 to 20000 mm, but not 0"),
        ("far", "distance must be a length; 'far' is no number with a unit (such as 420 or 42 cm)"),
        ("5 kg", "has the unit 'kg', which is not known here (accepted units: mm, cm, m, in)"),
        ("5 MM", "(write 5 mm)"),
        ("1,500", "does '1,500' mean 1500, or 1.500? Write that one"),
        ("1,500,000", "distance must be a length"),
        ("0", "'distance' of the straight is 0 mm; accepted: -20000 to 20000 mm, but not 0"),
        ("30 m", "is 30000 mm; accepted: -20000 to 20000 mm, but not 0"),
        ("9" * 50, "far too long for a number"),
        ("inf", "is no number"),
    ],
)
def test_what_is_typed_wrongly_is_said(text: str, said: str) -> None:
    assert said in words(typed(RUN, 0, "distance", text))


def test_a_number_left_out_is_the_robots() -> None:
    (dial,) = (each for each in numbers(RUN.segments[2], ROBOT.drive) if each.key == "speed")
    assert (dial.text, dial.instead, dial.optional, dial.unit) == ("150 mm/s", 250.0, True, "mm/s")
    run = good(typed(RUN, 2, "speed", " "))
    assert run.segments[2] == Arc(-35.0, 300.0)
    (dial,) = (each for each in numbers_at(run, 2) if each.key == "speed")
    assert (dial.text, dial.value, dial.instead) == ("", None, 250.0)
    # The wheel goes on from there.
    assert good(nudge(run, 2, "speed", -1)).segments[2] == Arc(-35.0, 300.0, 240.0)


def test_the_wheel_by_hand() -> None:
    assert good(nudge(RUN, 0, "distance", 2)).segments[0] == Straight(260.0)
    assert good(nudge(RUN, 0, "distance", -1, fine=True)).segments[0] == Straight(239.0)
    # Past 0, which is no straight.
    assert good(nudge(RUN, 3, "distance", -3)).segments[3] == Straight(-10.0, may_touch=("bin",))
    # 0.1 three times is 0.3 and not 0.30000000000000004.
    assert good(nudge(good(set_number(RUN, 8, "seconds", 0.0)), 8, "seconds", 3, fine=True)).segments[8] == Wait(0.3)
    assert good(nudge(RUN, 8, "seconds", -9)).segments[8] == Wait(0.0)
    assert (
        words(nudge(good(set_number(RUN, 8, "seconds", 0.0)), 8, "seconds", -1))
        == "seconds is 0 s; accepted: 0 to 600 s"
    )
    assert "more than 0 mm/s" in words(nudge(good(set_number(RUN, 0, "speed", 5.0)), 0, "speed", -1))


@settings(max_examples=examples(60))
@given(st.integers(1, 40), st.booleans(), st.integers(600, 900))
def test_a_step_back_is_where_one_was(steps: int, fine: bool, tenths: int) -> None:
    run = good(set_number(RUN, 0, "distance", tenths))
    there = good(nudge(run, 0, "distance", steps, fine))
    assert good(nudge(there, 0, "distance", -steps, fine)) == run


def test_the_other_way() -> None:
    assert good(reverse(RUN, 1, "angle")).segments[1] == Turn(89.0, "right wheel")
    assert good(reverse(good(reverse(RUN, 2, "radius")), 2, "radius")) == RUN
    assert "accepted: more than 0 mm" in words(reverse(RUN, 5, "reach"))


def test_a_key_that_is_none_is_the_callers_mistake() -> None:
    for place, key in ((0, "angle"), ("start", "at.x"), (0, "distance.x")):
        with pytest.raises(KeyError):
            set_number(RUN, place, key, 1.0)  # type: ignore[arg-type]


# --- choices


def test_what_cannot_be_is_not_offered() -> None:
    """A face is pushed flat on a wall or a flat side, not on the round bin, nor on a wall of an open board."""
    (against,) = (each for each in choices(RUN, 5) if each.key == "against")
    assert against.options == ("crate", "near wall", "far wall", "left wall", "right wall")
    open_board = good(run_on(good(set_choice(RUN, 5, "against", "crate")), replace(FIELD, walls=None)))
    (against,) = (each for each in choices(open_board, 5) if each.key == "against")
    assert against.options == ("crate",)
    assert "which is round" in words(set_choice(RUN, 5, "against", "bin"))
    (about,) = (each for each in choices(RUN, 1) if each.key == "about")
    assert (about.value, about.options, about.nothing) == ("right wheel", ("left wheel", "right wheel"), "on the spot")


def test_what_is_worn_touched_and_finished_in() -> None:
    run = good(toggle(RUN, "run", "wear", "hook"))
    assert run.wear == ("scoop", "hook")
    assert good(toggle(run, "run", "wear", "scoop")).wear == ("hook",)
    assert good(toggle(RUN, 3, "may_touch", "bin")).segments[3] == Straight(30.0)
    assert good(set_choice(RUN, "run", "finish", None)).finish is None
    assert {each.key: each.nothing for each in choices(RUN, "run")} == {
        "start": "by eye",
        "wear": "",
        "finish": "anywhere",
    }
    said = "'wear' of run 'Round' names 'spoon', which is not an attachment here (did you mean 'scoop'? "
    assert words(toggle(RUN, "run", "wear", "spoon")).startswith(said)


# --- segments


def test_add_move_copy_remove() -> None:
    run = good(add_segment(RUN, 9, Wait(3.0)))
    assert run.segments == (*RUN.segments, Wait(3.0))
    assert good(move_segment(run, 9, 0)).segments == (Wait(3.0), *RUN.segments)
    assert good(move_segment(good(move_segment(RUN, 2, 6)), 6, 2)) == RUN
    assert good(copy_segment(RUN, 0)).segments[:3] == (Straight(240.0), Straight(240.0), RUN.segments[1])
    assert good(remove_segment(run, 9)) == RUN
    one = replace(RUN, segments=(Straight(1.0),))
    assert words(remove_segment(one, 0)) == "a run needs at least one segment; change this one, or add another first"
    assert words(move_segment(RUN, 0, 9)) == "segments go from 1 to 9"


def test_all_other_segments_stay_the_same_objects() -> None:
    """A file's comments follow the objects."""
    run = good(set_number(RUN, 2, "radius", 310.0))
    assert all(a is b for n, (a, b) in enumerate(zip(run.segments, RUN.segments, strict=True)) if n != 2)


def test_another_kind_keeps_what_both_have() -> None:
    arc = good(with_kind(RUN, 1, "arc")).segments[1]
    assert arc == Arc(-89.0, 300.0)
    assert good(with_kind(RUN, 3, "until")).segments[3] == Until("kerb", "left eye", 30.0, may_touch=("bin",))
    back = good(set_number(RUN, 3, "distance", -70.0))
    assert good(with_kind(back, 3, "square", (100.0, 500.0, 0.0))).segments[3] == Square(
        "rear", "left wall", 70.0, may_touch=("bin",)
    )
    assert good(with_kind(RUN, 5, "straight")).segments[5] == Straight(-100.0)
    assert good(with_kind(RUN, 0, "straight")) is RUN


@pytest.mark.parametrize(
    ("pose", "face", "wall"),
    [
        ((300.0, 400.0, 180.0), "front", "left wall"),
        ((300.0, 400.0, 2.0), "rear", "left wall"),
        ((1700.0, 400.0, 0.0), "front", "right wall"),
        ((1000.0, 900.0, 270.0), "rear", "far wall"),
        ((1000.0, 100.0, -88.0), "front", "near wall"),
    ],
)
def test_a_new_square_finds_its_wall(pose: tuple[float, float, float], face: str, wall: str) -> None:
    square = new_segment(RUN, "square", pose)
    assert isinstance(square, Square)
    assert (square.face, square.against) == (face, wall)


def test_what_the_field_or_the_robot_lacks_is_said() -> None:
    bare = Run(
        "Bare",
        Field("Floor", (1000.0, 1000.0), None),
        replace(ROBOT, sensors=()),
        StartByEye((5.0, 5.0), 0.0),
        (Wait(1.0),),
    )
    said = {word: new_segment(bare, word) for word in SEGMENT_WORDS}
    refused = {word: found.words for word, found in said.items() if isinstance(found, Refused)}
    assert refused["act"] == "an act needs a target, and the field has none: put one on the field first"
    assert refused["until"] == "'until' needs a line, and the field has none: put one on the field first"
    assert refused["square"] == "a square needs a wall or something with a flat side, and the field has neither"
    assert set(refused) == {"act", "until", "square", "line square"}
    blind = good(run_on(bare, replace(FIELD, walls=None)))
    assert (
        words(with_kind(blind, 0, "until")) == "'until' needs a light sensor, and Box has none: write one in its file"
    )
    assert good(with_kind(blind, 0, "square")).segments == (Square("front", "crate", 150.0),)
    for word in SEGMENT_WORDS:
        segment = new_segment(RUN, word)
        assert not isinstance(segment, Refused)
        assert kind_word(segment) == word
    # The target that nothing is done at yet.
    assert new_segment(RUN, "act") == Act("lever", 2.0)


# --- start, robot, field


def test_the_start_by_hand() -> None:
    """The block holds the rear left corner at [60, 0] with the robot looking away: the axle is 60 further on, and half
    the width to the right."""
    assert start_pose(RUN) == pytest.approx((130.0, 60.0, 90.0))
    run = good(move_start(RUN, (150.0, 200.0004)))
    assert run.start == StartByEye((150.0, 200.0), 90.0)
    assert good(turn_start_to(run, (250.0, 100.0))).start == StartByEye((150.0, 200.0), -45.0)
    assert good(turn_start(run, 450.0)).start == StartByEye((150.0, 200.0), 90.0)
    assert "outside the field" in words(move_start(run, (-1.0, 200.0)))
    wide = good(set_number(run, "start", "spread.along", 9.0))
    assert good(move_start(wide, (1.0, 2.0))).start == StartByEye((1.0, 2.0), 90.0, Spread(9.0, 3.0, 1.5))
    assert good(start_at_jig(wide, "rail")).start == "rail"
    assert "did you mean 'rail'?" in words(start_at_jig(wide, "rails"))
    # Looking at the team, right is towards smaller x: the body lies to the right of the held front right corner.
    assert good(set_choice(good(start_at_jig(wide, "rail")), "run", "start", None)).start == StartByEye(
        (310.0, 110.0), 270.0
    )
    assert numbers_at(RUN, "start") == ()


def test_a_wider_body_stands_elsewhere_in_its_jig() -> None:
    run = good(set_number(RUN, "body", "width", 161.0))
    assert run.robot.body.width == 161.0
    assert start_pose(run) == pytest.approx((60.0 + 80.5, 60.0, 90.0))
    assert "three times" in words(set_number(RUN, "body", "width", 1.0))
    assert good(typed(RUN, "body", "width", "15 cm")).robot.body.width == 150.0
    assert "'axle' of the body" in words(set_number(RUN, "body", "length", 50.0))


def test_another_robot() -> None:
    bare = replace(ROBOT, name="Bare", attachments=())
    assert "names 'scoop', which is not an attachment here" in words(with_robot(RUN, bare))
    assert good(with_robot(RUN, bare, take_off=True)).wear == ()
    blind = replace(ROBOT, sensors=())
    assert "which is not a sensor here" in words(with_robot(RUN, blind, take_off=True))


def test_another_field_with_new_names() -> None:
    new = replace(FIELD, obstacles=(FIELD.obstacles[0], replace(FIELD.obstacles[1], name="tub")), jigs=FIELD.jigs[1:])
    assert "names 'bin'" in words(run_on(RUN, new))
    run = good(run_on(RUN, new, {("obstacle", "bin"): "tub", ("jig", "block"): "rail"}))
    assert run.segments[3] == Straight(30.0, may_touch=("tub",))
    assert run.start == "rail"
    assert run.segments[0] is RUN.segments[0]
    # A target of the same name is another thing.
    assert good(run_on(RUN, FIELD, {("obstacle", "lid"): "lever"})) == RUN


def test_what_of_the_field_a_run_uses() -> None:
    assert set(uses(RUN)) == {
        ("jig", "block"), ("obstacle", "bin"), ("target", "lid"), ("wall", "left wall"), ("line", "kerb"),
        ("start area", "home"),
    }  # fmt: skip


def test_names() -> None:
    assert good(rename_run(RUN, " Other ")).name == "Other"
    assert words(rename_run(RUN, "  ")) == "'name' of the run is empty; it must be a name"


def test_long_complaints_are_cut() -> None:
    small = Field("Small", (1000.0, 1000.0))
    assert words(run_on(RUN, small)).splitlines()[-1].startswith("and ")
    assert len(words(run_on(RUN, small)).splitlines()) == 4


def test_parse_number_takes_no_bare_number_where_a_unit_is_needed() -> None:
    from fieldsim.model.bounds import Number
    from fieldsim.model.units import PERCENT

    assert parse_number("0.4 %", Number(PERCENT)) == pytest.approx(0.004)
    assert parse_number("0.4", Number(PERCENT)) == Refused("this must be a percentage; '0.4' has no unit (write 0.4 %)")
    assert parse_number("5", Number(LENGTH)) == 5.0
