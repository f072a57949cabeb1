"""The match as a study: joint days, points and seconds that add up, choices judged on fresh matches, what pays."""

from __future__ import annotations

import json
import re
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from commands import fieldsim
from made import Try, made_bank, made_match, made_run
from plans import open_floor
from plans import run as plain_run

from fieldsim import simulate
from fieldsim.answers import to_json
from fieldsim.files import load_match
from fieldsim.match.answer import Estimate, RuleAnswer
from fieldsim.match.bank import fill, stopped
from fieldsim.match.play import play
from fieldsim.match.study import percentile, result, study
from fieldsim.match.worth import worth
from fieldsim.model import (
    Accuracy,
    Act,
    Box,
    Obstacle,
    Robot,
    Run,
    StartArea,
    Straight,
    StraightNoise,
    Systematic,
    Target,
)
from fieldsim.model.match import Changeover, Match, MatchPoints, MatchRun, Rescue
from fieldsim.report.words.match import gain_words, match_text, rule_words

ROOT = Path(__file__).parents[2]
BAKERY = ROOT / "runs/bakery/match.yaml"


def to_target(name: str, accuracy: Accuracy, within: float = 10.0) -> Run:
    """1000 mm straight to a target: hit if the way is right to within so many mm."""
    # The tool is the middle of the front face, 110 mm before the axle.
    field = replace(open_floor(), targets=(Target("bell", (3110.0, 2000.0), within, points=20.0),))
    return replace(plain_run(Straight(1000.0), Act("bell", 1.0), accuracy=accuracy, field=field), name=name)


def both(accuracy: Accuracy, **robot_changes: str) -> tuple[float, float]:
    """Shares of matches in which the first tries of two runs get through: each, and both."""
    first, second = (to_target(name, accuracy) for name in ("A", "B"))
    if robot_changes:
        second = replace(second, robot=replace(second.robot, **robot_changes))  # type: ignore[arg-type]
    bank = fill(Match("M", 60.0, (MatchRun(first), MatchRun(second)), Changeover(5.0)), 8000, 3)
    through = bank.drawn.through[:, :, 0].astype(bool)
    return float(through.mean()), float((through[:, 0] & through[:, 1]).mean())


def test_what_differs_from_day_to_day_is_one_draw_for_all_runs_of_a_match() -> None:
    # Only the day: 1 % of 1000 mm is 10 mm, so P(within 10 mm) is P(|z| < 1) = 0.6827, for both at once.
    each, together = both(Accuracy(day=Systematic(distance=0.01)))
    assert each == pytest.approx(0.6827, abs=0.011)
    assert together == each


def test_runs_without_days_are_independent() -> None:
    each, together = both(Accuracy(straight=StraightNoise(stop=10.0), measured_at=200.0))
    assert each == pytest.approx(0.6827, abs=0.011)
    assert together == pytest.approx(each**2, abs=0.012)


def test_days_and_chance_together() -> None:
    """Equal parts of both: P(both) is the bivariate normal's with correlation 1/2, by integration over the day."""
    from scipy.integrate import quad
    from scipy.stats import norm

    sd = 10 / np.sqrt(2)
    accuracy = Accuracy(day=Systematic(distance=sd / 1000), straight=StraightNoise(stop=float(sd)), measured_at=200.0)
    each, together = both(accuracy)

    def within(day: float) -> float:
        return float(norm.cdf((10 - sd * day) / sd) - norm.cdf((-10 - sd * day) / sd))

    wanted = quad(lambda day: norm.pdf(day) * within(day) ** 2, -8, 8)[0]
    assert each == pytest.approx(0.6827, abs=0.011)
    assert together == pytest.approx(wanted, abs=0.016)
    assert wanted > 0.6827**2 + 0.03


def test_two_robots_have_two_days() -> None:
    each, together = both(Accuracy(day=Systematic(distance=0.01)), name="Another box")
    assert together == pytest.approx(each**2, abs=0.012)


def test_a_second_try_is_on_the_same_day() -> None:
    run = to_target("A", Accuracy(day=Systematic(distance=0.01)))
    bank = fill(Match("M", 60.0, (MatchRun(run),), Changeover(5.0), rerun="once"), 2000, 3)
    first = bank.drawn.through[:, 0, 0] == 1
    assert 0.6 < first.mean() < 0.75
    # What failed for the day's sake fails again; where the first got through there is no second.
    assert not bank.drawn.through[~first, 0, 1].any()
    assert (bank.drawn.seconds[~first, 0, 1] > 0).all()
    assert (bank.drawn.seconds[first, 0, 1] == 0).all()


def test_a_run_of_a_match_gets_through_as_often_as_alone() -> None:
    match = load_match(BAKERY)
    bank = fill(match, 4000, 2)
    for r, each in enumerate(match.runs):
        alone = simulate(each.run, 4000, seed=9).share.share
        spread = np.sqrt(2 * alone * (1 - alone) / 4000)
        assert bank.drawn.through[:, r, 0].mean() == pytest.approx(alone, abs=4 * spread)


def test_where_a_robot_stops_decides_whether_it_is_fetched() -> None:
    """A wall 500 mm ahead of the front: the robot stops there; inside the start area or out of it."""
    for far, out in ((700.0, False), (400.0, True)):
        wall = Obstacle("board", Box((2640.0, 2000.0), (60.0, 600.0)))
        made = plain_run(Straight(900.0), field=None)
        field = replace(
            made.field, obstacles=(wall,), start_areas=(StartArea("home", Box((2000.0, 2000.0), (2 * far, 800.0))),)
        )
        made = replace(made, field=field)
        trials = simulate(made, 5)
        # The front face is 110 mm before the axle, the board begins at 2610.
        assert stopped(trials)[:, 0] == pytest.approx([2500.0] * 5, abs=1e-3)
        bank = fill(Match("M", 60.0, (MatchRun(made),), Changeover(5.0), rescue=Rescue(-5.0, 6.0)), 5)
        assert bank.drawn.out[:, 0, 0].tolist() == [int(out)] * 5
        assert not bank.drawn.through.any()


def test_the_act_that_is_stopped_by_a_contact_before_it_never_begins() -> None:
    wall = Obstacle("board", Box((2640.0, 2000.0), (60.0, 600.0)))
    made = to_target("A", Accuracy())
    made = replace(made, field=replace(made.field, obstacles=(wall,)))
    bank = fill(Match("M", 60.0, (MatchRun(made),), Changeover(5.0)), 5)
    assert np.isinf(bank.drawn.begins).all()
    assert not bank.drawn.hit.any()


# --- what practice is worth -----------------------------------------------------------------------------------------


def test_a_second_by_hand() -> None:
    match = made_match([made_run("A", "a"), made_run("B", "b")], 39.0)
    # 20 + 5 + 15: the second run scores at 40 s, a second late, in half of the matches.
    late = [[Try(20.0, {"a": 5.0})], [Try(15.0, {"b": 15.0})]]
    fine = [[Try(20.0, {"a": 5.0})], [Try(10.0, {"b": 10.0})]]
    bank = made_bank(match, [late, fine] * 50)
    base = play(bank, (0, 1))
    found = {(each.kind, each.what): each for each in worth(bank, (0, 1), base)}
    assert {kind for kind, _ in found} == {"changeover", "run"}
    for each in found.values():
        # Target b scores 20, in half of the matches.
        assert each.one.mean == each.five.mean == pytest.approx(10.0)
        assert each.one.low < 10.0 < each.one.high


def test_a_success_more_in_a_hundred() -> None:
    match = made_match([made_run("A", "a"), made_run("B", "b")], 100.0)
    good, bad = [Try(20.0, {"a": 5.0})], [Try(20.0, {}, through=False)]
    bank = made_bank(match, [[good, [Try(5.0, {"b": 3.0})]]] * 30 + [[bad, [Try(5.0, {"b": 3.0})]]] * 70)
    (each,) = (e for e in worth(bank, (0, 1), play(bank, (0, 1))) if e.kind == "success")
    # One success more in a hundred tries is a hundredth of target a's 10 points; B always gets through.
    assert (each.what, each.one.mean, each.five.mean) == ("A", pytest.approx(0.1), pytest.approx(0.5))


def test_a_success_more_where_a_second_try_is_left() -> None:
    """p = 1/2 a try, two tries, independent: 1 - (1 - p)^2 grows by 2 (1 - p) a unit of p, so by 0.01 a hundredth."""
    match = made_match([made_run("A", "a")], 100.0, rerun="once")
    good, bad = Try(20.0, {"a": 5.0}), Try(20.0, {}, through=False)
    bank = made_bank(match, [[[good]], [[good]], [[bad, good]], [[bad, bad]]] * 25)
    (each,) = (e for e in worth(bank, (0,), play(bank, (0,))) if e.kind == "success")
    assert each.one.mean == pytest.approx(0.01 * 2 * 0.5 * 10.0)


# --- the answer -----------------------------------------------------------------------------------------------------


def test_points_and_seconds_add_up() -> None:
    match = load_match(BAKERY)
    answer = study(match, trials=300, seed=4)
    for order in (answer.written, answer.best.result):
        assert sum(each.points.mean for each in order.runs) == pytest.approx(order.score.mean.mean)
        spent = order.spent
        parts = (spent.driving, spent.acting, spent.changing, spent.rescuing, spent.left)
        assert sum(part.mean for part in parts) == pytest.approx(match.limit)
        taken = sum(each.seconds.mean + each.by_hand.mean for each in order.runs)
        assert taken == pytest.approx(match.limit - spent.left.mean)
        assert order.score.p05.mean <= order.score.median.mean <= order.score.p95.mean
    assert answer.best.gain.mean == pytest.approx(answer.best.result.score.mean.mean - answer.written.score.mean.mean)
    assert study(match, trials=300, seed=4, threads=1) == study(match, trials=300, seed=4, threads=3) == answer
    assert study(match, trials=300, seed=5) != answer


def test_a_choice_made_of_luck_alone_gains_nothing_on_fresh_matches() -> None:
    """Three runs that are all alike: whichever order looked best, it is no better, and few studies say otherwise."""
    accuracy = Accuracy(straight=StraightNoise(stop=10.0), measured_at=200.0)
    runs = [to_target(name, accuracy) for name in "ABC"]
    targets = tuple(replace(runs[0].field.targets[0], name=name) for name in "ABC")
    runs = [
        replace(run, field=replace(run.field, targets=targets), segments=(run.segments[0], Act(run.name, 1.0)))
        for run in runs
    ]
    match = Match("M", 14.0, tuple(map(MatchRun, runs)), Changeover(3.0, 1.0))
    gains = [study(match, trials=100, seed=seed).best.gain for seed in range(30)]
    mean = np.mean([gain.mean for gain in gains])
    assert abs(mean) < 4 * np.std([gain.mean for gain in gains]) / np.sqrt(len(gains)) + 1e-9
    assert sum(gain.truly != 0 for gain in gains) <= 5


def test_a_match_without_points_is_told_so() -> None:
    match = load_match(BAKERY)
    bare = tuple(replace(target, points=0.0) for target in match.runs[0].run.field.targets)
    runs = tuple(
        MatchRun(replace(each.run, field=replace(each.run.field, targets=bare)), each.needs) for each in match.runs
    )
    answer = study(replace(match, runs=runs, rescue=Rescue(), points=MatchPoints()), trials=200)
    assert answer.written.score.mean.mean == 0
    assert "Nothing in this match scores" in " ".join(match_text(answer).split())
    assert answer.best.order == answer.written.order


def test_what_is_unknown_of_the_robot_is_named() -> None:
    from fieldsim.model import Between

    match = load_match(BAKERY)

    def unsure(robot: Robot) -> Robot:
        return replace(robot, accuracy=replace(robot.accuracy, between=Between(tests=5)))

    runs = tuple(MatchRun(replace(each.run, robot=unsure(each.run.robot)), each.needs) for each in match.runs)
    text = " ".join(match_text(study(replace(match, runs=runs), trials=200)).split())
    assert "'Box one' is taken just as its file has it: what its tests leave unknown is not in these numbers" in text


def test_percentiles_and_a_single_match() -> None:
    assert percentile(np.arange(1.0, 101.0), 0.5).mean == 50.0
    bank = made_bank(made_match([made_run("A", "a")], 9.0), [[[Try(8.0, {"a": 5.0})]]])
    alone = result(bank, play(bank, (0,)))
    assert (alone.score.mean.mean, alone.score.sd, alone.runs[0].without) == (10.0, 0.0, None)
    answer = study(load_match(BAKERY), trials=1)
    assert "points on average" in match_text(answer)
    json.dumps(to_json(answer), allow_nan=False)


def test_words() -> None:
    assert gain_words(Estimate(3.21, 2.94, 3.48)) == "3.2 (2.9 to 3.5) points more"
    assert gain_words(Estimate(-3.21, -3.48, -2.94)) == "3.2 (2.9 to 3.5) points fewer"
    assert gain_words(Estimate(0.1, -0.2, 0.4)) == "no more than luck could make"
    assert gain_words(Estimate(0.0, 0.0, 0.0)) == "the same"
    rule = RuleAnswer(
        "Flour round", False, ("Flour round", "Yard bell"), 0.2, ((31.0, "Flour round"), (0.0, "Yard bell"))
    )
    assert rule_words(rule) == (
        "After Flour round failed, with Yard bell still to come: 31 s left or more: try it again; under 31 s: go for "
        "Yard bell."
    )
    three = RuleAnswer("", False, (), 0.2, ((53.0, "Oven lever"), (48.0, "Yard bell"), (0.0, "")))
    assert rule_words(three) == (
        "At the start: 53 s left or more: go for Oven lever; 48 to 53 s: go for Yard bell; under 48 s: stop there."
    )


# --- the command ----------------------------------------------------------------------------------------------------


def test_the_command_says_it_all(tmp_path: Path) -> None:
    done = fieldsim("match", BAKERY, "--trials", 300, "--json", "--save", tmp_path)
    assert done.returncode == 0, done.stderr
    answer = json.loads(done.stdout)
    assert (answer["command"], answer["match"], answer["trials"], answer["seed"]) == (
        "match",
        "Bakery morning",
        300,
        1,
    )
    assert answer["score"].keys() >= {"mean", "sd", "p05", "median", "p95"}
    assert answer["inside_clock"].keys() == {"share", "low", "high"}
    assert [each["run"] for each in answer["runs"]] == ["Flour round", "Oven lever", "Yard bell"]
    for each in answer["runs"]:
        assert each.keys() >= {"run", "points", "seconds", "success"}
        assert each["success"].keys() == {"share", "low", "high"}
    assert answer["best"].keys() >= {"order", "dropped", "gain"}
    assert answer["best"]["gain"].keys() == {"mean", "low", "high"}
    assert sorted(answer["best"]["order"] + answer["best"]["dropped"]) == ["Flour round", "Oven lever", "Yard bell"]
    assert {path.name for path in tmp_path.iterdir()} >= {"answer.json", "match.svg", "match.png", "report.html"}
    assert json.loads((tmp_path / "answer.json").read_text(encoding="utf-8")) == answer
    text = fieldsim("match", BAKERY, "--trials", 300, "--threads", 1)
    mean = re.search(r"As written it scores ([\d.]+)", text.stdout)
    assert mean is not None
    assert float(mean[1]) == pytest.approx(answer["score"]["mean"], abs=0.51)


def test_the_command_refuses_what_is_no_match(tmp_path: Path) -> None:
    spoilt = tmp_path / "match.yaml"
    spoilt.write_text("match: M\nlimit: 2,5\nruns: [{run: nowhere.yaml}]\nchangeover: {mean: 9}\n", encoding="utf-8")
    for file, words in ((BAKERY.with_name("flour-round.yaml"), "this file holds a run"), (spoilt, "match.yaml:2:8")):
        done = fieldsim("match", file)
        assert done.returncode == 2
        assert words in done.stderr
        assert "Traceback" not in done.stderr
    assert "there is no file" in done.stderr
    assert fieldsim("check", BAKERY).stdout.endswith("a match, 3 runs in 75 s\n")
