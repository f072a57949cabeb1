"""Values changed in files that people wrote: everything else stays as it was."""

from __future__ import annotations

import os
import stat
from collections.abc import Sequence
from dataclasses import replace
from functools import cache
from math import inf
from pathlib import Path
from shutil import copytree
from typing import Any

import pytest
import yaml
from examples import examples
from hypothesis import HealthCheck, assume, given, settings
from hypothesis import strategies as st

from fieldsim.files import kind_of, load_field, load_robot, load_run, writing
from fieldsim.files.writing import (
    changed,
    field_text,
    new_field_text,
    new_run_text,
    replace_file,
    rewrite,
    robot_in,
    robot_text,
    run_text,
)
from fieldsim.model import (
    Act,
    Arc,
    Box,
    Field,
    Jig,
    Line,
    Obstacle,
    Outline,
    Round,
    Run,
    Segment,
    Spread,
    Square,
    StartArea,
    StartByEye,
    Straight,
    Target,
    Turn,
    Wait,
)
from fieldsim.model.errors import PlanError, SaveError

ROOT = Path(__file__).parents[2]
RUNS = sorted(path for path in (ROOT / "runs/bakery").glob("*.yaml") if kind_of(path) == "run")
FIELDS = sorted((ROOT / "fields").glob("*.yaml"))
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


def test_a_robot_is_written_where_its_numbers_stand() -> None:
    before = load_robot(ROOT / "runs" / "bakery" / "box-one.yaml")
    drive = replace(before.drive, track=115.0, speed=300.0, gear=0.5)
    after = replace(before, body=replace(before.body, width=152.5), drive=drive)
    wanted = BOX.replace("width: 140", "width: 152.5")
    for old, new in (("track: 112 ", "track: 115 "), ("  speed: 250", "  speed: 300"), ("gear: 1  ", "gear: 0.5")):
        wanted = wanted.replace(old, new)
    assert robot_text(BOX, before, after) == wanted
    assert robot_text(BOX, before, before) == BOX
    # What cannot be read is written anew.
    assert robot_in(robot_text("robot: [", before, after)) == after


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


@settings(max_examples=examples(30))
@given(value=st.floats(0.01, 9.0), text=st.sampled_from(sorted((ROOT / "runs").rglob("box-*.yaml"))))
def test_any_value_reads_back(value: float, text: Path) -> None:
    after = changed(text.read_text(encoding="utf-8"), {("accuracy", "straight", "veer"): value})
    assert yaml.safe_load(after)["accuracy"]["straight"]["veer"] == value
    assert words(after) == words(text.read_text(encoding="utf-8"))


def test_values_in_lists_lists_and_mappings() -> None:
    text = "jigs:\n  - name: a   # first\n    corner: [1, 2]\n  - name: b\n"
    after = changed(text, {("jigs", 0, "spread", "along"): 0.5, ("jigs", 0, "corner"): [3.0, 4.5]})
    assert yaml.safe_load(after)["jigs"] == [{"name": "a", "corner": [3, 4.5], "spread": {"along": 0.5}}, {"name": "b"}]
    assert "corner: [3, 4.5]\n" in after
    assert "# first" in after
    after = changed(text, {("jigs", 1): {"name": "c", "corner": [1, 2]}, ("walls",): {"height": 75.0}, ("x",): 1e-5})
    assert yaml.safe_load(after)["jigs"][1] == {"name": "c", "corner": [1, 2]}
    assert after.endswith("walls: {height: 75}\nx: 0.00001\n")
    after = changed(text, {("rows",): [{"straight": 1.0, "speed": 2.0}, {"turn": 3.0}], ("jigs", 0, "corner"): None})
    assert after.endswith("rows:\n  - straight: 1\n    speed: 2\n  - turn: 3\n")
    assert yaml.safe_load(after)["jigs"][0] == {"name": "a"}


@pytest.mark.parametrize("path", [("jigs", 2, "name"), ("jigs", -1), ("jigs", "name"), (0,), ("jigs", 0, 0)])
def test_a_way_to_no_place_is_refused(path: tuple[str | int, ...]) -> None:
    with pytest.raises(ValueError, match=r"in something that|in a list of 1"):
        changed("jigs:\n  - {name: a}\n", {path: 1.0})


# --- whole files replaced


def test_a_new_file_has_the_rights_of_one(tmp_path: Path) -> None:
    assert replace_file(tmp_path / "new.yaml", "a: 1\n") is None
    (tmp_path / "other").touch()
    assert (tmp_path / "new.yaml").read_bytes() == b"a: 1\n"
    assert stat.S_IMODE((tmp_path / "new.yaml").stat().st_mode) == stat.S_IMODE((tmp_path / "other").stat().st_mode)
    assert sorted(each.name for each in tmp_path.iterdir()) == ["new.yaml", "other"]


def test_the_copy_can_stay_that_of_the_first_time(tmp_path: Path) -> None:
    path = tmp_path / "run.yaml"
    path.write_bytes(b"\xef\xbb\xbfa: 1\r\n")
    backup = replace_file(path, "a: 2\n")
    assert backup == tmp_path / "run.yaml.bak"
    assert replace_file(path, "a: 3\r\n", backup=False) is None
    assert backup.read_bytes() == b"\xef\xbb\xbfa: 1\r\n"
    assert path.read_bytes() == b"\xef\xbb\xbfa: 3\r\n"


def test_the_first_copy_is_never_replaced(tmp_path: Path) -> None:
    path = tmp_path / "run.yaml"
    path.write_text("by: hand\n")
    copies = [replace_file(path, f"saved: {n}\n") for n in range(4)]
    first, later = tmp_path / "run.yaml.bak", tmp_path / "run.yaml.bak2"
    assert copies == [first, later, later, later]
    assert [each.read_text() for each in (first, later, path)] == ["by: hand\n", "saved: 2\n", "saved: 3\n"]


def test_a_link_stays_a_link(tmp_path: Path) -> None:
    (tmp_path / "there").mkdir()
    (tmp_path / "there/run.yaml").write_text("a: 1\n")
    (tmp_path / "run.yaml").symlink_to(tmp_path / "there/run.yaml")
    replace_file(tmp_path / "run.yaml", "a: 2\n")
    assert (tmp_path / "run.yaml").is_symlink()
    assert (tmp_path / "there/run.yaml").read_text() == "a: 2\n"


def test_a_place_that_cannot_be_written_to_is_said(tmp_path: Path) -> None:
    with pytest.raises(SaveError, match=r"run\.yaml could not be written: No such file"):
        replace_file(tmp_path / "none/run.yaml", "a: 1\n")
    with pytest.raises(SaveError, match="could not be written: No such file"):
        rewrite(tmp_path / "none.yaml", {})


# --- runs


@pytest.fixture(scope="module")
def season(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A copy of the examples to write in."""
    folder = tmp_path_factory.mktemp("season")
    copytree(ROOT / "runs", folder / "runs")
    copytree(ROOT / "fields", folder / "fields")
    return folder


@pytest.fixture
def no_second_way(monkeypatch: pytest.MonkeyPatch) -> None:
    """The text must be changed in its places: no round trip, no fresh file."""

    def called(*_: object) -> str:
        raise AssertionError("the text was not changed in its places")

    monkeypatch.setattr(writing, "changed", called)
    monkeypatch.setattr(writing, "fresh", called)


def commented(text: str) -> str:
    """A run's text with a line of comment above each segment and one at its end."""
    lines = []
    for number, line in enumerate(text.splitlines()):
        lines += [f"  # above line {number}"] if line.startswith("  - ") else []
        lines.append(line)
    return "\n".join(lines).replace("\nfinish:", "\n    # the last word\nfinish:") + "\n"


def blocks(text: str, key: str) -> list[str]:
    """The lines of each item of a block list, with the comment lines above it at the dash's column."""
    lines = text.splitlines()
    start = next(number for number, line in enumerate(lines) if line.startswith(f"{key}:")) + 1
    found: list[list[str]] = []
    above: list[str] = []
    for line in lines[start:]:
        if line[:1] not in (" ", ""):
            break
        if line.startswith("  - "):
            found.append([*above, line])
            above = []
        elif line.startswith("    ") and not above:
            found[-1].append(line)
        else:
            above.append(line)
    return ["\n".join(block) for block in found]


NUMBERS = st.integers(-900_000, 900_000).map(lambda n: n / 1000).filter(bool)
EDITS = st.lists(
    st.tuples(
        st.sampled_from(("number", "speed", "touch", "move", "delete", "insert", "twice")),
        st.integers(0, 30),
        st.integers(0, 30),
        NUMBERS,
    ),
    max_size=8,
)
known_run = cache(load_run)
Followed = list[tuple[Segment, int | None]]


def edited(segments: Followed, edit: tuple[str, int, int, float], run: Run) -> Followed:
    """Segments with one edit; each carries the number of the one it was."""
    what, a, b, number = edit
    a, b = a % len(segments), b % (len(segments) + 1)
    segment, origin = segments[a]
    match what, segment:
        case "move", _:
            rest = segments[:a] + segments[a + 1 :]
            return [*rest[:b], segments[a], *rest[b:]]
        case "delete", _ if len(segments) > 1:
            return segments[:a] + segments[a + 1 :]
        case "insert", _:
            made: list[Segment] = [
                Straight(number), Turn(number, about="left wheel"), Arc(number, 250, speed=abs(number)), Wait(0.5),
                Act(run.field.targets[0].name, takes=1.5), Square("rear", run.field.obstacles[0].name, abs(number)),
            ]  # fmt: skip
            return [*segments[:b], (made[a % len(made)], None), *segments[b:]]
        case "twice", _:
            return [*segments[:b], (segment, None), *segments[b:]]
        case "number", Straight():
            segment = replace(segment, distance=number)
        case "number", Turn() | Arc():
            segment = replace(segment, angle=number)
        case "number", Act():
            segment = replace(segment, takes=min(abs(number), 600), takes_sd=0.0)
        case "speed", Straight() | Arc() | Square():
            segment = replace(segment, speed=abs(number) if segment.speed is None else None)
        case "touch", Straight() | Turn() | Arc():
            touched = () if segment.may_touch and b % 2 else (run.field.obstacles[0].name, "near wall")
            segment = replace(segment, may_touch=touched)
    return [*segments[:a], (segment, origin), *segments[a + 1 :]]


@settings(
    max_examples=examples(60),
    deadline=None,
    suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow],
)
@given(path=st.sampled_from(RUNS), edits=EDITS, told=st.booleans(), extra=st.booleans())
def test_a_run_edited_anyhow_reads_back_with_its_comments(
    path: Path, edits: Sequence[Any], told: bool, extra: bool, season: Path, no_second_way: None
) -> None:
    text, before = path.read_text(encoding="utf-8"), known_run(path)
    text = commented(text) if extra else text
    there = season / "runs/bakery" / path.name
    followed: Followed = [(segment, number) for number, segment in enumerate(before.segments)]
    for edit in edits:
        followed = edited(followed, edit, before)
    after = replace(before, segments=tuple(segment for segment, _ in followed))
    origins = [origin for _, origin in followed]
    made = run_text(text, before, after, origins=origins if told else None)
    there.write_text(made, encoding="utf-8")
    assert load_run(there) == after
    assert run_text(made, after, after) == made
    if after == before:
        assert made == text
    # Objects that were moved about are known without being told; changed ones only if told.
    known = told or not any(what in ("number", "speed", "touch", "twice") for what, *_ in edits)
    if known:
        old, new = blocks(text, "segments"), blocks(made, "segments")
        assert len(new) == len(followed)
        for origin, block in zip(origins, new, strict=True):
            if origin is not None:
                assert set(words(old[origin])) <= set(words(block))
                if after.segments == before.segments:
                    assert block == old[origin]
    rest, rest_after = (each.split("segments:")[0] for each in (text, made))
    assert rest == rest_after


@pytest.mark.parametrize("path", RUNS, ids=lambda path: path.stem)
def test_all_else_of_a_run_changes_in_its_line(path: Path, no_second_way: None) -> None:
    text = path.read_text(encoding="utf-8")
    run = load_run(path)
    by_eye = StartByEye((100.5, 200), 90, Spread(1, 2, 3))
    after = replace(run, name="Other", start=by_eye, wear=(), finish=run.field.start_areas[0].name)
    made = run_text(text, run, after, robot_file="../b.yaml", field_file="a: b.yaml")
    assert "robot: ../b.yaml\n" in made
    assert "field: 'a: b.yaml'\n" in made
    assert "\nstart: {at: [100.5, 200], heading: 90, spread: {along: 1, across: 2, heading: 3}}" in made
    assert f"\nfinish: {after.finish}" in made
    again = run_text(made, after, replace(after, start=replace(by_eye, heading=80), wear=run.wear, finish=None))
    assert "heading: 80, spread" in again
    assert "wear: [" in again
    assert "finish" not in [line.split(":")[0] for line in again.splitlines()]


@pytest.mark.parametrize("path", RUNS, ids=lambda path: path.stem)
def test_a_new_run_file_reads_back(path: Path, tmp_path: Path) -> None:
    run = load_run(path)
    field = next(each for each in FIELDS if load_field(each) == run.field)
    robot = next(each for each in path.parent.glob("box-*.yaml") if load_robot(each) == run.robot)
    new = tmp_path / "new.yaml"
    new.write_text(new_run_text(run, str(field), str(robot)), encoding="utf-8")
    assert load_run(new) == run


def small(segments: str) -> str:
    return f"run: Round\nfield: yard.yaml\nrobot: box.yaml\nstart: corner block\n{segments}"


@pytest.mark.parametrize(
    ("text", "made"),
    [
        ("segments: [{straight: 100}, {turn: 90}]\n", "segments: [{turn: 90}, {straight: 120}, {wait: 1}]\n"),
        ("segments: [straight: 10 cm, turn: 90]  # all\n", "segments: [turn: 90, straight: 12 cm, {wait: 1}]  # all\n"),
        (
            "segments:\n  - {straight: 100}\n  - {\n      turn: 90  # left\n    }  # slow\n",
            "segments:\n  - {\n      turn: 90  # left\n    }  # slow\n  - {straight: 120}\n  - {wait: 1}\n",
        ),
        (
            "segments:\n- straight: '10 cm'   # far\n- turn: 90.0",
            "segments:\n- turn: 90.0\n- straight: '12 cm'   # far\n- wait: 1\n",
        ),
        (
            "segments:\n    -   {straight: 100}\n    # it turns\n    -   {turn: 90}\n# end\n",
            "segments:\n    # it turns\n    -   {turn: 90}\n    -   {straight: 120}\n    - {wait: 1}\n# end\n",
        ),
    ],
)
def test_lists_of_segments_in_any_style(text: str, made: str, no_second_way: None) -> None:
    run = replace(load_run(RUNS[0]), name="Round", wear=(), finish=None, segments=(Straight(100), Turn(90)))
    after = replace(run, segments=(Turn(90), Straight(120), Wait(1)))
    assert run_text(small(text), run, after, origins=[1, 0, None]) == small(made)


@pytest.mark.parametrize(
    ("text", "made"),
    [
        (
            "  # above\n  - straight: 100   # far\n    speed: 90       # slow\n    # below\n",
            "  # above\n  - turn: 90  # far       # slow\n    # below\n",
        ),
        (
            "  - {\n      straight: 100,  # far\n      speed: 90       # slow\n    }  # end\n",
            "  - {  # far  # slow\n     turn: 90}  # end\n",
        ),
    ],
)
def test_a_segment_that_is_told_to_be_another_now_keeps_its_comments(text: str, made: str, no_second_way: None) -> None:
    run = replace(load_run(RUNS[0]), name="Round", wear=(), finish=None, segments=(Straight(100, speed=90),))
    after = replace(run, segments=(Turn(90),))
    assert run_text(small(f"segments:\n{text}"), run, after, origins=[0]) == small(f"segments:\n{made}")
    # Untold, it is one that went and one that is new.
    assert run_text(small(f"segments:\n{text}"), run, after).count("# far") == 0


def test_line_ends_of_a_text_stay() -> None:
    text = "\ufeff" + small("segments:\n  - straight: 100  # far\n").replace("\n", "\r\n")
    run = replace(load_run(RUNS[0]), name="Round", wear=(), finish=None, segments=(Straight(100),))
    after = replace(run, segments=(Straight(100), Wait(1)))
    assert run_text(text, run, after) == text + "  - wait: 1\r\n"
    assert run_text(text, run, run) == text


def test_a_text_that_cannot_be_changed_in_its_places_is_changed_all_the_same() -> None:
    text = small("segments:  # all\n  - straight: &far 100  # far\n  - straight: *far\nwear: [scoop]  # on\n")
    run = replace(load_run(RUNS[0]), name="Round", wear=("scoop",), finish=None, segments=(Straight(100),) * 2)
    after = replace(run, segments=(Straight(120), Wait(1)))
    made = run_text(text, run, after)
    assert made == small("segments:  # all\n  - straight: 120\n  - wait: 1\nwear: [scoop]  # on\n")
    assert run_text(made, after, after) == made
    assert run_text(made, after, replace(after, wear=())).count("straight: 120") == 1


def test_a_text_that_holds_no_run_any_more_becomes_a_new_one_only_if_its_files_are_known() -> None:
    run = load_run(RUNS[0])
    after = replace(run, name="Other")
    with pytest.raises(SaveError, match="cannot be read any more"):
        run_text("run: [", run, after)
    made = run_text("run: [", run, after, robot_file="box.yaml", field_file="yard.yaml")
    assert made == new_run_text(after, "yard.yaml", "box.yaml")


def test_origins_are_one_for_each_segment() -> None:
    run = load_run(RUNS[0])
    text = RUNS[0].read_text(encoding="utf-8")
    fewer = replace(run, segments=run.segments[1:])
    with pytest.raises(ValueError, match="1 origins for"):
        run_text(text, run, fewer, origins=[0])
    # A segment can come from one place only.
    made = run_text(text, run, fewer, origins=[1] * len(fewer.segments))
    assert run_text(made, fewer, fewer) == made


def test_what_others_changed_meanwhile_is_not_mixed_in() -> None:
    run = replace(load_run(RUNS[0]), name="Round", wear=(), finish=None, segments=(Straight(100),))
    text = small("segments:\n  - straight: 90  # far\n  - wait: 2\n")
    made = run_text(text, run, replace(run, segments=(Straight(110),)))
    assert made == small("segments:\n  - straight: 110  # far\n")


# --- fields

PLACES = st.tuples(st.integers(0, 1_200_000), st.integers(0, 800_000)).map(lambda p: (p[0] / 1000, p[1] / 1000))
SIZES = st.integers(1, 300_000).map(lambda n: n / 1000)
LISTS = ("obstacles", "start_areas", "jigs", "lines", "targets")
FIELD_EDITS = st.lists(
    st.tuples(
        st.sampled_from(("place", "size", "shape", "height", "rename", "move", "delete", "insert", "walls")),
        st.sampled_from(LISTS),
        st.integers(0, 30),
        st.integers(0, 30),
        PLACES,
        SIZES,
    ),
    max_size=8,
)


def placed(item: Any, place: tuple[float, float]) -> Any:
    match item:
        case Obstacle(shape=Outline()) | StartArea(shape=Outline()):
            return replace(item, shape=Outline((place, *item.shape.points[1:])))
        case Obstacle() | StartArea():
            return replace(item, shape=replace(item.shape, center=place))
        case Jig():
            return replace(item, corner=place)
        case Line():
            return replace(item, end=place)
        case _:
            return replace(item, at=place)


def sized(item: Any, size: float) -> Any:
    match item:
        case Obstacle(shape=Box()) | StartArea(shape=Box()):
            return replace(item, shape=replace(item.shape, size=(size, item.shape.size[1]), heading=size))
        case Obstacle(shape=Round()) | StartArea(shape=Round()):
            return replace(item, shape=replace(item.shape, radius=size))
        case Obstacle() | StartArea():
            return replace(item, shape=Outline((*item.shape.points, (size, 3 * size))))
        case Jig():
            return replace(item, spread=replace(item.spread, along=min(size, 200)), heading=-size)
        case Line():
            return replace(item, width=size)
        case _:
            heading = (None, None) if item.heading is not None else (size, min(size, 180))
            return replace(item, within=size, heading=heading[0], heading_within=heading[1])


def field_edited(field: Field, edit: tuple[str, str, int, int, tuple[float, float], float], number: int) -> Field:
    what, words, a, b, place, size = edit
    items = list(getattr(field, words))
    name = f"new {number}"
    if what == "walls":
        return replace(
            field, walls=[None, (0, size), (0, inf), (1, size + 1)][a % 4], size=(field.size[0] + size, 1100)
        )
    if what == "insert" or not items:
        made = {
            "obstacles": Obstacle(name, Box(place, (size, 20), 30) if a % 2 else Round(place, size), (0, size)),
            "start_areas": StartArea(name, Outline((place, (place[0] + size, place[1]), (place[0], place[1] + size)))),
            "jigs": Jig(name, place, 90, "front left"),
            "lines": Line(name, place, (500, 500.125)),
            "targets": Target(name, place, size),
        }[words]
        return replace(field, **{words: (*items[:b], made, *items[b:])})
    a, b = a % len(items), b % len(items)
    item = items.pop(a)
    match what:
        case "move":
            items.insert(b, item)
        case "delete":
            pass
        case "rename":
            items.insert(a, replace(item, name=name))
        case "place":
            items.insert(a, placed(item, place))
        case "size":
            items.insert(a, sized(item, size))
        case "shape" if isinstance(item, Obstacle | StartArea):
            items.insert(a, replace(item, shape=Round(place, size) if b % 2 else Box(place, (size, size))))
        case "height" if isinstance(item, Obstacle):
            items.insert(a, replace(item, height=[(0, size), (1, size + 1), (0, inf)][b % 3]))
        case _:
            items.insert(a, item)
    return replace(field, **{words: tuple(items)})


@settings(
    max_examples=examples(40),
    deadline=None,
    suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow],
)
@given(path=st.sampled_from(FIELDS), edits=FIELD_EDITS)
def test_a_field_edited_anyhow_reads_back_with_its_comments(
    path: Path, edits: Sequence[Any], season: Path, no_second_way: None
) -> None:
    text = path.read_text(encoding="utf-8")
    before = after = load_field(path)
    for number, edit in enumerate(edits):
        try:
            after = field_edited(after, edit, number)
        except PlanError:
            assume(False)
    made = field_text(text, before, after)
    there = season / "fields" / path.name
    there.write_text(made, encoding="utf-8")
    assert load_field(there) == after
    assert field_text(made, after, after) == made
    if before == after:
        assert made == text
    for key in LISTS:
        old, new = getattr(before, key), getattr(after, key)
        if not new:
            continue
        was = dict(zip((item.name for item in old), blocks(text, key), strict=True))
        for item, block in zip(new, blocks(made, key), strict=True):
            if item.name in was:
                assert set(words(was[item.name])) <= set(words(block))
                if item in old:
                    assert block.endswith(was[item.name])


@pytest.mark.parametrize("path", FIELDS, ids=lambda path: path.stem)
def test_a_new_field_file_reads_back(path: Path, tmp_path: Path) -> None:
    new = tmp_path / "new.yaml"
    new.write_text(new_field_text(load_field(path)), encoding="utf-8")
    assert load_field(new) == load_field(path)


def test_a_field_that_no_file_can_hold_is_not_written() -> None:
    field = load_field(FIELDS[0])
    text = FIELDS[0].read_text(encoding="utf-8")
    high = replace(field, obstacles=(replace(field.obstacles[0], height=(5, inf)),))
    with pytest.raises(SaveError, match="a height from 5 mm up"):
        field_text(text, field, high)


def test_a_renamed_obstacle_keeps_its_comments() -> None:
    field = load_field(FIELDS[0])
    text = FIELDS[0].read_text(encoding="utf-8")
    renamed = tuple(replace(item, name="wind mill") if item.name == "mill" else item for item in field.obstacles)
    assert field_text(text, field, replace(field, obstacles=renamed)) == text.replace(
        "- name: mill\n", "- name: wind mill\n"
    )
