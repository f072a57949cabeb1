"""Which targets belong into which run: a small invented match in which it is clear, and what cannot be asked."""

from __future__ import annotations

import shutil
from dataclasses import replace
from pathlib import Path

import pytest
from plans import TYPICAL, open_floor, run

from fieldsim.files import load_match, load_run
from fieldsim.files.proposed import write_match
from fieldsim.model import Act, Box, Jig, Run, StartArea, Straight, Target
from fieldsim.model.match import Changeover, Match, MatchPoints, MatchRun
from fieldsim.planning.sharing import Sharing, SharingError, _Router, name_of, share_out
from fieldsim.report.statement import statement_text
from fieldsim.report.words.sharing import headline, sharing_statement

BAKERY = Path(__file__).parents[2] / "runs" / "bakery"


@pytest.fixture(autouse=True)
def little(monkeypatch: pytest.MonkeyPatch) -> None:
    """A small roadmap, few labels and trials: what is looked at here is found with these too."""
    monkeypatch.setattr("fieldsim.planning.ways.PLACES", 40)
    monkeypatch.setattr("fieldsim.planning.search.BEAM", 200)
    for name, value in (("FEW", 40), ("MANY", 40), ("TRIED", 4), ("BETTERED", 1), ("STEPS", (40.0,))):
        monkeypatch.setattr(f"fieldsim.planning.polish.{name}", value)
    for name, value in (("CHOOSING", 200), ("TRIALS", 200), ("JOINS", 2), ("MOVES", 1)):
        monkeypatch.setattr(f"fieldsim.planning.sharing.{name}", value)


def small(limit: float, change: float, *targets: Target) -> Match:
    floor = replace(
        open_floor((1800.0, 1000.0)), targets=targets,
        jigs=(Jig("home corner", (100.0, 100.0), 0.0, "rear right"),),
        start_areas=(StartArea("home", Box((250.0, 250.0), (500.0, 500.0))),),
    )  # fmt: skip
    first: Run = run(
        Straight(400.0), Act(targets[0].name), Straight(-390.0), at=(300.0, 300.0), accuracy=TYPICAL, field=floor
    )
    first = replace(first, name="as it is", start="home corner", finish="home")
    return Match("Invented", limit, (MatchRun(first),), Changeover(change), points=MatchPoints(finish=1.0))


NEAR = Target("bell", (800.0, 180.0), within=40.0, points=10.0)
BESIDE = Target("lamp", (1100.0, 180.0), within=40.0, points=10.0)


def by_hand(router: _Router, targets: tuple[str, ...]) -> Run | None:
    """In place of a route: straight to one target after the other, nearest first, and back."""
    at = sorted((target for target in router.like.field.targets if target.name in targets), key=lambda each: each.at)
    router.known[targets] = None
    if [target.name for target in at] != list(targets):
        return None
    x, segments = 160.0, []
    for target in at:
        way = target.at[0] - x - 110.0
        segments += [Straight(round(way) / 1.004), Act(target.name)]
        x += way
    made = replace(router.like, name=" + ".join(targets), segments=(*segments, Straight(-round(x - 160.0))))
    router.known[targets] = made
    return made


def test_joining_saves_a_change_by_hand(monkeypatch: pytest.MonkeyPatch) -> None:
    """Runs that are given: joined they score both targets in time, one after the other they do not; with time enough
    they are left apart, since each brings its own points for coming home."""
    monkeypatch.setattr(_Router, "to", by_hand)
    near, beside = replace(NEAR, at=(800.0, 170.0)), replace(BESIDE, at=(1100.0, 170.0))
    dear = share_out(small(26.0, 20.0, near, beside), trials=200).answer
    assert [run.targets for run in dear.runs] == [("bell", "lamp")]
    assert dear.score.mean > dear.single.mean + 5.0
    cheap = share_out(small(60.0, 1.0, near, beside), trials=200).answer
    assert {run.targets for run in cheap.runs} == {("bell",), ("lamp",)}
    assert cheap.score.mean == pytest.approx(cheap.single.mean)


@pytest.fixture(scope="module")
def kept() -> dict[str, Sharing]:
    return {}


def shared(kept: dict[str, Sharing]) -> Sharing:
    """Two targets on one line and a change by hand that takes as long as both runs: they belong into one run."""
    if "both" not in kept:
        kept["both"] = share_out(small(26.0, 20.0, NEAR, BESIDE), trials=400)
    return kept["both"]


@pytest.mark.slow
def test_what_lies_on_one_way_goes_into_one_run_where_changes_are_dear(kept: dict[str, Sharing]) -> None:
    found = shared(kept)
    assert found.match is not None
    (only,) = found.answer.runs
    assert set(only.targets) == {"bell", "lamp"}
    assert found.answer.score.mean > found.answer.single.mean
    assert found.answer.left_out == ()
    assert [each.run.name for each in found.match.runs] == [only.run]
    acts = [segment.target for segment in found.match.runs[0].run.segments if isinstance(segment, Act)]
    assert acts == list(only.targets)


@pytest.mark.slow
def test_it_is_told_against_a_bound_and_the_match_as_it_is(kept: dict[str, Sharing]) -> None:
    answer = shared(kept).answer
    # Both targets, and home from each of the two runs there could be.
    assert answer.bound == pytest.approx(10.0 + 10.0 + 2.0)
    assert answer.score.mean <= answer.bound
    assert answer.now.mean <= 11.0 + 1e-9
    text = " ".join(statement_text(sharing_statement(answer)).split())
    assert headline(answer) in text
    assert "more than 22 cannot be scored at all" in text
    assert "is not proved" in text


def test_what_cannot_be_reached_is_told(kept: dict[str, Sharing]) -> None:
    outside = Target("attic", (1795.0, 995.0), within=1.0, points=5.0)
    found = share_out(small(60.0, 3.0, NEAR, outside), trials=100).answer
    assert found.no_way == ("attic",)
    assert "No way was found to: attic" in statement_text(sharing_statement(found))


def test_only_targets_that_are_there_and_score_are_asked_for() -> None:
    with pytest.raises(SharingError, match="there are: bell, lamp"):
        share_out(small(30.0, 3.0, NEAR, BESIDE), ("bel",))
    with pytest.raises(SharingError, match="scores points"):
        share_out(small(30.0, 3.0, replace(NEAR, points=0.0)))


def test_it_is_broken_off_with_the_best_so_far() -> None:
    def watch(done: int, wanted: int) -> None:
        if 0 < done < 92:
            raise KeyboardInterrupt

    found = share_out(small(60.0, 3.0, NEAR, BESIDE), trials=100, watch=watch)
    assert found.answer.interrupted


def test_it_is_written_as_files_that_every_command_reads(kept: dict[str, Sharing], tmp_path: Path) -> None:
    """Clock and rules are those of the file it was asked of, with its comments."""
    season = tmp_path / "runs" / "bakery"
    shutil.copytree(BAKERY, season)
    shutil.copytree(BAKERY.parents[1] / "fields", tmp_path / "fields")
    match = load_match(season / "match.yaml")
    runs = tuple(replace(each.run, name=f"proposed {n}") for n, each in enumerate(match.runs[:2], start=1))
    made = write_match(tmp_path / "out", replace(match, runs=tuple(map(MatchRun, runs))), season / "match.yaml")
    assert [path.name for path in made] == ["run-1.yaml", "run-2.yaml", "match.yaml"]
    again = load_match(made[-1])
    assert [each.run for each in again.runs] == list(runs)
    assert (again.limit, again.changeover, again.rerun) == (match.limit, match.changeover, match.rerun)
    assert "# seconds" in made[-1].read_text(encoding="utf-8")
    assert load_run(made[0]) == runs[0]


def test_a_name_for_many_targets_is_a_name() -> None:
    assert name_of(("bell", "lamp")) == "bell + lamp"
    many = tuple(f"target {n}" for n in range(30))
    for count in range(1, 30):
        name = name_of(many[:count])
        assert len(name) <= 60
        # The model takes it: no blank at an end.
        assert replace(load_run(BAKERY / "flour-round.yaml"), name=name).name == name
