"""A match in a file: read as written, and every mistake in it said in plain words at its place."""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
import yaml
from jsonschema import Draft202012Validator
from small_files import BARE_FIELD, BARE_ROBOT, RUN, assert_one_problem, assert_refused, edited, unmark

from fieldsim.files import check, kind_of, load_match, schema
from fieldsim.model.errors import FileError, PlanError
from fieldsim.model.match import Change, Changeover, Match, MatchPoints, MatchRun, Rescue

MATCH = """\
match: Yard morning
limit: 150
runs:
  - {run: round.yaml}
  - {run: dash.yaml, needs: [round]}
  - {run: late.yaml}
changeover: {mean: 9, sd: 2, least: 5 s}
between: [{from: scoop, to: nothing, mean: 14, sd: 3}]
rescue: {points: -10, mean: 6, sd: 2}
rerun: once
points: {finish: 3}
"""
# Only the match matters here: three runs of the same bare robot on the same bare field.
NAMES = {"round.yaml": "Round", "dash.yaml": "Dash", "late.yaml": "Late one"}


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    (tmp_path / "yard.yaml").write_text(BARE_FIELD, encoding="utf-8")
    (tmp_path / "box.yaml").write_text(BARE_ROBOT, encoding="utf-8")
    for file, name in NAMES.items():
        run = edited(RUN, "run: Round", f"run: {name}")
        (tmp_path / file).write_text(run if file != "late.yaml" else edited(run, "wear: [scoop]\n", ""))
    (tmp_path / "match.yaml").write_text(MATCH, encoding="utf-8")
    return tmp_path


def test_a_match_is_read_as_written(folder: Path) -> None:
    match = load_match(folder / "match.yaml")
    assert [each.name for each in match.runs] == list(NAMES.values())
    assert match.needed == ((), (0,), ())
    assert match.runs[1].needs == ("Round",)
    assert (match.name, match.limit, match.rerun) == ("Yard morning", 150.0, "once")
    assert match.changeover == Changeover(9.0, 2.0, 5.0)
    assert match.between == (Change("scoop", "nothing", 14.0, 3.0),)
    assert (match.rescue, match.points) == (Rescue(-10.0, 6.0, 2.0), MatchPoints(3.0))
    assert match.targets == ("lever",)
    assert kind_of(folder / "match.yaml") == "match"
    assert check([folder / "match.yaml"]).lines == (f"{folder / 'match.yaml'}: a match, 3 runs in 150 s",)


def test_what_may_be_left_out(folder: Path) -> None:
    (folder / "match.yaml").write_text(
        "match: M\nlimit: 2.5\nruns: [{run: round.yaml}]\nchangeover: {mean: 1}\n", encoding="utf-8"
    )
    match = load_match(folder / "match.yaml")
    assert match == Match("M", 2.5, (MatchRun(match.runs[0].run),), Changeover(1.0))
    assert (match.rerun, match.rescue, match.points.finish) == ("never", Rescue(0.0, 0.0, 0.0), 0.0)


@pytest.mark.parametrize("word", ["round", "round.yaml", "Round"])
def test_a_run_may_be_named_by_its_file_or_by_itself(folder: Path, word: str) -> None:
    (folder / "match.yaml").write_text(edited(MATCH, "[round]", f"[{word}]"), encoding="utf-8")
    assert load_match(folder / "match.yaml").needed == ((), (0,), ())


def test_the_slowest_change_told_counts(folder: Path) -> None:
    match = load_match(folder / "match.yaml")
    scoop, bare = match.runs[0].run, match.runs[2].run
    assert match.changeover_between(scoop, bare) == match.between[0]
    # The way back is a change of its own, and one attachment for itself is the general one unless told.
    assert match.changeover_between(bare, scoop) == match.changeover_between(scoop, scoop) == match.changeover
    same, slow = Change("scoop", "scoop", 4.0), Change("nothing", "scoop", 20.0)
    told = replace(match, between=(*match.between, same, slow))
    assert told.changeover_between(scoop, scoop) == same
    assert told.changeover_between(bare, scoop) == slow


# Part of the file, what stands there instead, with a ¦ before the place; words of the message; words of the hint.
MISTAKES = {
    "unknown key": ("rerun: once", "¦rerum: once", "'rerum' is no key of the match", "did you mean 'rerun'?"),
    "unknown key of a run": ("late.yaml}", "late.yaml, ¦need: [round]}", "'need' is no key of run", "'needs'?"),
    "unknown key of the rescue": ("points: -10", "¦point: -10", "'point' is no key of 'rescue'", "'points'?"),
    "no limit": ("match: Yard morning\nlimit: 150", "¦match: Yard morning", "needs the key 'limit'", "seconds"),
    "no changeover": (
        "match: Yard morning\nlimit: 150",
        "¦match: Yard morning\nlimit: 150",
        "needs the key 'changeover'",
        "add changeover",
    ),
    "negative limit": ("limit: 150", "limit: ¦-150", "'limit' of the match is -150 s; accepted: more than 0 s", ""),
    "limit of nothing": ("limit: 150", "limit: ¦0", "is 0 s; accepted: more than 0 s, up to 3600 s", ""),
    "limit in minutes": ("limit: 150", "limit: ¦2.5 min", "has the unit 'min'", "accepted units: s, ms"),
    "limit with a colon": ("limit: 150", "limit: ¦2:30", "2:30", ""),
    "decimal comma": ("mean: 9, sd: 2", "mean: ¦'9,5', sd: 2", "'mean' of 'changeover'", "write 9.5"),
    "wrong unit": ("sd: 2, least", "sd: ¦2 mm, least", "has the unit 'mm'", "accepted units: s, ms"),
    "negative spread": ("mean: 6, sd: 2", "mean: 6, sd: ¦-2", "is -2 s; accepted: 0 to 600 s", ""),
    "least above the mean": ("least: 5 s", "least: ¦12", "is 12 s, more than the mean of 9 s", "fastest ever"),
    "points for a rescue": ("points: -10", "points: ¦10", "'points' of 'rescue' of the match is 10; accepted:", ""),
    "points as a text": ("finish: 3", "finish: ¦many", "must be a number, found 'many'", "such as 20"),
    "rerun": ("rerun: once", "rerun: ¦twice", "'rerun' of the match is 'twice'; accepted: never | once", ""),
    "rerun as yes": ("rerun: once", "rerun: ¦yes", "must be a text, found yes", ""),
    "no such run": ("late.yaml", "¦lat.yaml", "there is no file", ""),
    "a run twice": ("run: late.yaml", "run: ¦round.yaml", "the run 'round.yaml' is listed already", "list it once"),
    "a run as a number": ("run: late.yaml", "run: ¦12", "'run' of run 3 must be the name of a file, found 12", ""),
    "a robot for a run": ("run: late.yaml", "run: ¦box.yaml", "this file holds a robot, but a run is wanted here", ""),
    "no runs": (
        "runs:\n  - {run: round.yaml}\n  - {run: dash.yaml, needs: [round]}\n  - {run: late.yaml}",
        "runs: ¦[]",
        "'runs' of the match has 0 items; accepted: 1 to 20",
        "",
    ),
    "runs as a text": ("  - {run: late.yaml}", "  - ¦late.yaml", "must be keys with values", "keys here: run, needs"),
    "needs nobody": ("[round]", "[¦rond]", "names 'rond', which is not a run here", "did you mean 'round'?"),
    "needs as a text": ("[round]", "¦round", "'needs' of run 2 must be a list", ""),
    "needs itself": ("[round]", "[¦dash]", "names 'Dash', which is the run itself", ""),
    "needs a later one": ("[round]", "[¦late]", "names 'Late one', which is listed after it", "after those"),
    "no such attachment": ("from: scoop", "from: ¦scop", "names 'scop', which is not an attachment", "'scoop'?"),
    "a change told twice": (
        "mean: 14, sd: 3}]",
        "mean: 14}, {from: ¦scoop, to: nothing, mean: 9}]",
        "is told already",
        "once",
    ),
}


@pytest.mark.parametrize("mistake", MISTAKES)
def test_each_mistake_is_said_at_its_place(mistake: str, folder: Path) -> None:
    old, new, message, hint = MISTAKES[mistake]
    text = MATCH
    if mistake == "no changeover":
        text = edited(text, "changeover: {mean: 9, sd: 2, least: 5 s}\n", "")
    text, place = unmark(edited(text, old, new))
    (folder / "match.yaml").write_text(text, encoding="utf-8")
    problems = assert_refused(folder / "match.yaml", load_match)
    if mistake == "a robot for a run":
        place = (1, 1)  # in the robot's file, where it says what it holds
    assert_one_problem(problems, place, message, hint)


def test_a_cycle_of_needs_is_refused(folder: Path) -> None:
    (folder / "match.yaml").write_text(
        edited(MATCH, "- {run: round.yaml}", "- {run: round.yaml, needs: [dash]}"), encoding="utf-8"
    )
    (problem,) = assert_refused(folder / "match.yaml", load_match)
    assert (problem.line, problem.column) == (4, 31)
    assert "names 'Dash', which is listed after it" in problem.message


def test_runs_on_another_field_or_of_one_name_are_refused(folder: Path) -> None:
    (folder / "other.yaml").write_text(edited(BARE_FIELD, "field: Yard", "field: Meadow"), encoding="utf-8")
    late = (folder / "late.yaml").read_text(encoding="utf-8")
    (folder / "late.yaml").write_text(edited(late, "yard.yaml", "other.yaml"), encoding="utf-8")
    (problem,) = assert_refused(folder / "match.yaml", load_match)
    assert (problem.line, problem.column) == (6, 11)
    assert "is on the field 'Meadow', but the first run is on 'Yard'" in problem.message
    (folder / "late.yaml").write_text(edited(late, "run: Late one", "run: Round"), encoding="utf-8")
    (problem,) = assert_refused(folder / "match.yaml", load_match)
    assert "has the name 'Round' twice" in problem.message
    assert problem.line == 6


def test_all_mistakes_of_all_files_are_said_at_once(folder: Path) -> None:
    (folder / "match.yaml").write_text(edited(edited(MATCH, "150", "-1"), "from: scoop", "from: 7"), encoding="utf-8")
    dash = (folder / "dash.yaml").read_text(encoding="utf-8")
    (folder / "dash.yaml").write_text(edited(dash, "straight: 420", "straight: 0"), encoding="utf-8")
    (folder / "box.yaml").write_text(edited(BARE_ROBOT, "track: 112", "track: 0"), encoding="utf-8")
    found = assert_refused(folder / "match.yaml", load_match)
    # The robot's mistake once, though three runs name it.
    assert [(Path(problem.file).name, problem.line) for problem in found] == [
        ("box.yaml", 3),
        ("dash.yaml", 7),
        ("match.yaml", 2),
        ("match.yaml", 8),
    ]


def test_the_same_rules_hold_in_python(folder: Path) -> None:
    match = load_match(folder / "match.yaml")
    one = match.runs[0]
    with pytest.raises(PlanError, match="repeats the name 'Round'"):
        replace(match, runs=(one, one))
    with pytest.raises(PlanError, match="listed after it"):
        replace(match, runs=(MatchRun(one.run, ("Dash",)), match.runs[1]))
    with pytest.raises(PlanError, match="'fork', which is not an attachment"):
        replace(match, between=(Change("fork", "scoop", 3.0),))
    with pytest.raises(PlanError, match="more than the mean"):
        Changeover(1.0, 0.0, 2.0)


def spoilt(path: tuple[Any, ...], value: Any) -> Any:
    plan = yaml.safe_load(MATCH)
    part = plan
    for step in path[:-1]:
        part = part[step]
    part[path[-1]] = value
    return plan


PLACES: list[tuple[Any, ...]] = [
    ("match",), ("limit",), ("runs",), ("runs", 1), ("runs", 1, "run"), ("runs", 1, "needs"), ("runs", 1, "needs", 0),
    ("changeover",), ("changeover", "mean"), ("changeover", "least"), ("between",), ("between", 0),
    ("between", 0, "from"), ("between", 0, "mean"), ("rescue",), ("rescue", "points"), ("rescue", "sd"), ("rerun",),
    ("points",), ("points", "finish"),
]  # fmt: skip
VALUES = [
    0,
    -1,
    5,
    1e9,
    "5 s",
    "5 mm",
    "",
    "once",
    "scoop",
    "round",
    "round.yaml",
    [],
    [1, 2],
    ["round"],
    {},
    True,
    None,
]


@pytest.mark.parametrize("step", [4, pytest.param(1, marks=pytest.mark.slow)])
def test_the_schema_takes_what_the_reader_takes(folder: Path, step: int) -> None:
    rules = schema("match")
    Draft202012Validator.check_schema(rules)
    validator = Draft202012Validator(rules)
    assert validator.is_valid(yaml.safe_load(MATCH))
    assert not validator.is_valid(spoilt(("limit",), "2 min"))
    assert not validator.is_valid(spoilt(("rerun",), "twice"))
    assert not validator.is_valid(spoilt(("runs", 1, "need"), ["round"]))
    taken = refused = 0
    for place in PLACES:
        for value in VALUES[len(place) % step :: step]:
            plan = spoilt(place, value)
            (folder / "match.yaml").write_text(json.dumps(plan), encoding="utf-8")
            try:
                load_match(folder / "match.yaml")
            except FileError:
                refused += 1
            else:
                assert validator.is_valid(plan), f"{place} = {value!r} is read, but the schema refuses it"
                taken += 1
    assert taken > 20 / step
    assert refused > 150 / step
