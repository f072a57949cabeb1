"""The card of a match: what it says, that every form says the same, that it fits its paper, and that no name does harm.

All matches, runs and names are invented.
"""

from __future__ import annotations

import csv
import io
import json
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

import pytest
from commands import fieldsim
from made import TARGETS, Try, made_bank, made_match, made_run
from pages import HARMFUL, Page, harmless, named

from fieldsim.answers import to_json
from fieldsim.cards.match import words
from fieldsim.cards.match.answer import match_card_answer
from fieldsim.cards.match.card import MatchCard, make_match_card
from fieldsim.cards.match.pages import lanes_svg, match_card_file, match_card_pages
from fieldsim.cards.match.rule_words import rule_rows
from fieldsim.cards.paper import FORMS
from fieldsim.catalog.match import MATCH
from fieldsim.draw.match import draw_match
from fieldsim.files import load_match
from fieldsim.lettering import shorten
from fieldsim.match.answer import Estimate, MatchAnswer, RuleAnswer, RuleStep
from fieldsim.match.play import play
from fieldsim.match.study import result, study
from fieldsim.model.match import Change, Changeover, Match, MatchPoints, MatchRun
from fieldsim.pages.saving import save_study
from fieldsim.report.origin import Origin
from fieldsim.report.words.match import headline, match_statement

ROOT = Path(__file__).parent.parent.parent
BAKERY = ROOT / "runs" / "bakery" / "match.yaml"


@pytest.fixture(scope="module")
def bakery() -> tuple[Match, MatchAnswer, MatchCard]:
    match = load_match(BAKERY)
    answer = study(match, trials=2000)
    return match, answer, make_match_card(match, answer, "match.yaml", saved="card.pdf")


def test_how_the_robot_is_made_ready_between_two_runs() -> None:
    match = made_match(
        [made_run("One", "a", ("fork",)), made_run("Two", "b", ("fork", "scoop"), True), made_run("Three", "")], 90.0,
        {"Three": ("One",)},
        changeover=Changeover(5.0), between=(Change("fork", "scoop", 12.0),), points=MatchPoints(7.0),
    )  # fmt: skip
    sure = [Try(10.0, {"a": 9.0, "b": 9.0}, home=True)]
    bank = made_bank(match, [[sure, sure, sure]])
    answer = replace(study(load_match(BAKERY), trials=50), written=result(bank, play(bank, (0, 1, 2))))
    one, two, three = make_match_card(match, answer).steps
    assert (one.take_off, one.slip_on, one.keep_on, one.by_hand) == ((), ("fork",), (), None)
    assert (two.take_off, two.slip_on, two.keep_on) == ((), ("scoop",), ("fork",))
    assert (three.take_off, three.slip_on, three.by_hand) == (("fork", "scoop"), (), 5.0)
    assert (two.targets, two.finish, three.needs) == ((("b", 20.0),), 7.0, ("One",))
    # By hand: 10 s, then the change to the scoop of 12 s and 10 s, then 5 s and 10 s.
    assert [(each.starts, each.ends) for each in (one, two, three)] == [
        ((0.0,) * 3, (10.0,) * 3), ((22.0,) * 3, (32.0,) * 3), ((37.0,) * 3, (47.0,) * 3),
    ]  # fmt: skip
    card = make_match_card(match, answer)
    assert words.ready_words(two) == "set by eye; slip on scoop; fork stays on"
    assert words.ready_words(three) == "set by eye; take off fork and scoop; nothing on"
    assert words.run_words(card, three) == "Three (only if One got through)"
    assert words.score_words(two) == "b 20, finish 7"
    assert (words.score_words(three), words.hand_words(one), words.clock_words(two.starts)) == ("nothing", "", "22 s")
    assert words.clock_words(None) == "never"


def test_another_robot_takes_nothing_from_the_one_before(bakery: tuple[Match, MatchAnswer, MatchCard]) -> None:
    match, answer, _ = bakery
    second = match.runs[1]
    other = MatchRun(replace(second.run, robot=replace(second.run.robot, name="Box two")), second.needs)
    two = replace(match, runs=(match.runs[0], other, match.runs[2]))
    card = make_match_card(two, replace(answer, robots=("Box one", "Box two")))
    assert card.steps[1].take_off == ()
    assert card.steps[1].slip_on == second.run.wear
    assert words.run_words(card, card.steps[1]).endswith(", with Box two")


def test_every_form_says_the_same(bakery: tuple[Match, MatchAnswer, MatchCard]) -> None:
    _, answer, card = bakery
    text = " ".join(words.match_card_text(card, 10_000).split())
    page = Page(match_card_file(card, "html").decode())
    read = " ".join(" ".join(said for _, said in page.texts).split())
    drawn = " ".join(
        " ".join(each.get_text() for axes in figure.axes for each in axes.texts) for figure in match_card_pages(card)
    )
    drawn = " ".join(drawn.replace("\N{NO-BREAK SPACE}", " ").split())
    said: Sequence[str] = [
        *(row.happened for row in rule_rows(card)),
        *(part for row in rule_rows(card) for cell in row.cells for part in cell),
        words.rules_lead(card), *words.odds_words(card), *words.worth_lines(card), words.clock_note(),
        *(cell for step in card.steps for cell in words.plan_cells(card, step)[:-1] if cell),
    ]  # fmt: skip
    for each in said:
        assert each in read, each
        assert each in drawn, each
    for each in (*words.rules_words(card), *said[-1:]):
        assert all(piece in text for piece in each.split(" (", 1)), each
    for tick in words.tick_words(card):
        assert tick in read
        assert tick in text
    assert answer.policy is not None
    # Beside the order as written stand rules that leave that, not those that leave the best order; as few as will do.
    assert card.rules == answer.policy.kept
    assert 0 < len(card.rules) <= len(answer.policy.rules_as_written)
    assert {(rule.after, rule.through) for rule in card.rules} <= {
        (rule.after, rule.through) for rule in answer.policy.rules_as_written
    }
    order = [step.run for step in card.steps]
    for rule in card.rules:
        following = order[order.index(rule.after) + 1 :] if rule.after else order
        as_it_stands = len(rule.steps) == 1 and rule.through and [rule.steps[0].run] == following[:1]
        assert not as_it_stands, rule
    assert json.dumps(to_json(match_card_answer(card)), allow_nan=False)


def test_the_table_of_rules_is_read_in_two_seconds(bakery: tuple[Match, MatchAnswer, MatchCard]) -> None:
    """What happened, how much is left, what comes next; from much time left to little, without a gap or an overlap."""
    card = bakery[2]
    a, b, c = (step.run for step in card.steps)
    told = replace(
        card,
        rules=(
            RuleAnswer(b, False, (a, b, c), 0.1, (RuleStep(20.0, a),)),
            RuleAnswer(b, False, (b, c), 0.2, (RuleStep(38.5, b), RuleStep(20.0, c))),
            RuleAnswer(a, False, (a, b, c), 0.3, (RuleStep(53.25, b), RuleStep(30.0, c), RuleStep(9.0, ""))),
        ),
    )
    assert [(row.happened, *row.cells) for row in rule_rows(told)] == [
        (f"{a} failed", ("54 s left or more", b), ("30 to 54 s left", c), ("less than 30 s left", "stop there")),
        (f"{b} failed, {a} and {c} still to come", ("", a)),
        (f"{b} failed, {c} still to come", ("39 s left or more", f"{b} again"), ("less than 39 s left", c)),
    ]
    html = match_card_file(told, "html").decode()
    assert html.count("<strong>stop there</strong>") == 1
    front = match_card_pages(told)[0]
    by_text = {text.get_text().replace("\N{NO-BREAK SPACE}", " "): text for text in front.axes[0].texts}
    for words_of in ("stop there", "54 s left or more", f"{a} failed", *words.tick_words(told)):
        assert by_text[words_of].get_fontsize() >= 11.0
    for step in told.steps:
        assert by_text[words.clock_shortly(step)].get_fontsize() >= 18.0


def test_no_rules_where_the_clock_changes_nothing(bakery: tuple[Match, MatchAnswer, MatchCard]) -> None:
    match, answer, card = bakery
    assert answer.policy is not None
    luck = replace(answer.policy, kept_worth=Estimate(0.1, -0.2, 0.4))
    told = words.rules_words(make_match_card(match, replace(answer, policy=luck)))
    assert told == [
        "A run that failed is tried again once, if there is something left in it.",
        "Keep to the plan: nothing that looks at the clock is worth more.",
    ]
    assert words.rules_words(make_match_card(match, replace(answer, policy=None))) == told
    best = replace(answer.best, gain=Estimate(0.1, -0.2, 0.4))
    assert make_match_card(match, replace(answer, best=best)).better == ()
    with pytest.raises(ValueError, match="must be one of"):
        make_match_card(match, answer, paper="A5")
    with pytest.raises(ValueError, match="must be one of"):
        match_card_file(card, "png")


@pytest.mark.parametrize("paper", ["A4", "Letter"])
def test_it_fits_its_paper(bakery: tuple[Match, MatchAnswer, MatchCard], paper: str) -> None:
    from matplotlib.backends.backend_agg import FigureCanvasAgg

    card = replace(bakery[2], paper=paper)
    pages = match_card_pages(card)
    assert len(pages) == 2
    many = replace(card, steps=card.steps * 6, written=replace(card.written, runs=card.written.runs * 6))
    for figure in (*pages, *match_card_pages(many)):
        canvas = FigureCanvasAgg(figure)
        canvas.draw()
        whole = figure.bbox
        boxes = [each.get_window_extent() for axes in figure.axes for each in axes.texts if each.get_text().strip()]
        assert all(whole.x0 <= box.x0 and box.x1 <= whole.x1 and whole.y0 <= box.y0 for box in boxes)
        # Nothing is written over anything else on the page itself.
        own = [each.get_window_extent() for each in figure.axes[0].texts if each.get_text().strip()]
        for n, one in enumerate(own):
            for other in own[n + 1 :]:
                wide = min(one.x1, other.x1) - max(one.x0, other.x0)
                tall = min(one.y1, other.y1) - max(one.y0, other.y0)
                assert min(wide, tall) < 2.5


def test_no_name_does_harm() -> None:
    first, second, third, name, field, *_ = HARMFUL
    match = made_match([made_run(first, "a"), made_run(second, "b"), made_run(third, "c")], 60.0)
    runs = tuple(
        MatchRun(replace(each.run, field=replace(each.run.field, name=field), robot=replace(each.run.robot, name=name)))
        for each in match.runs
    )
    match = replace(match, name=name, runs=runs)
    sure = [Try(10.0, dict.fromkeys(TARGETS, 9.0))]
    bank = made_bank(match, [[sure, sure, sure]] * 3)
    answer = study(load_match(BAKERY), trials=20)
    answer = replace(
        answer, match=name, field=field, robots=(name,), written=result(bank, play(bank, (0, 1, 2))), policy=None
    )
    card = make_match_card(match, answer, name, saved=second)
    page = Page(match_card_file(card, "html").decode())
    harmless(page)
    read = " ".join(text for _, text in page.texts)
    for each in (first, second, third, name, field):
        assert shorten(each, words.NAME_CELLS) in read or shorten(each, words.TITLE_CELLS) in read
    assert lanes_svg(card).startswith("<svg")
    for form in FORMS:
        assert match_card_file(card, form) == match_card_file(card, form)


def test_no_name_does_harm_in_the_report(tmp_path: Path) -> None:
    """Every name in a match: its own, those of its runs, field, robot, obstacles, targets, jigs, attachments."""
    one, two = named(*HARMFUL), named(HARMFUL[3], *HARMFUL[1:])
    other = replace(one, name=two.name)
    match = Match(HARMFUL[6], 60.0, (MatchRun(one), MatchRun(other)), Changeover(5.0))
    answer = study(match, trials=50)
    save_study(
        tmp_path, "match", to_json(answer), match_statement(answer),
        lambda sheet: draw_match(answer, headline(answer), sheet), Origin(f"fieldsim match '{HARMFUL[0]}'"),
        pictures=MATCH.pictures,
    )  # fmt: skip
    page = Page((tmp_path / "report.html").read_text(encoding="utf-8"))
    harmless(page)
    read = " ".join(text for _, text in page.texts)
    for name in (HARMFUL[6], one.name, other.name):
        assert name in read or any(shorten(name, cells) in read for cells in (40, 30, 26, 24)), name


def test_the_rows_to_write_in_are_read_by_the_log(bakery: tuple[Match, MatchAnswer, MatchCard]) -> None:
    from fieldsim.files.sheets import blank_log

    text = words.match_card_text(bakery[2])
    lines = text[text.index("date,run,result") :].splitlines()
    rows = list(csv.reader(io.StringIO("\n".join(lines[:6]))))
    header = next(line for line in blank_log().splitlines() if not line.startswith("#"))
    assert rows[0] == header.split(",")
    assert [row[1] for row in rows[1:]] == ["Flour round", "Oven lever", "Yard bell", "", ""]


def test_the_command(tmp_path: Path) -> None:
    said = fieldsim("card", BAKERY, "--trials", 300)
    assert (said.returncode, said.stdout.splitlines()[0]) == (0, "Bakery morning: card for the match")
    for form in FORMS:
        done = fieldsim("card", BAKERY, "--trials", 100, "--paper", "Letter", "--save", tmp_path / f"card.{form}")
        assert (done.returncode, done.stderr) == (0, "")
        assert (tmp_path / f"card.{form}").stat().st_size > 1000
    told = json.loads(fieldsim("card", BAKERY, "--trials", 300, "--json").stdout)
    assert (told["command"], told["match"], len(told["steps"])) == ("card", "Bakery morning", 3)
    assert told["again"].startswith("fieldsim card ")
    wrong = fieldsim("card", BAKERY, "--tests")
    assert wrong.returncode == 2
    assert "is a match: --tests is for a run and its robot" in " ".join(wrong.stderr.split())
