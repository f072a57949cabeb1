"""The words of a match's card: short phrases that every face of it shares, the card as plain text, and as JSON.

Nothing is computed here that the card does not already say; numbers are only rounded.
"""

from __future__ import annotations

from fieldsim.cards.match.card import Lane, MatchCard, MatchStep
from fieldsim.cards.shared import BOX, csv_lines
from fieldsim.language import tr, tr_later, tr_many
from fieldsim.lettering import one_line, shorten, wrapped_lines
from fieldsim.report.phrases import fixed, how_often_shortly, listed, no_proof, spoken
from fieldsim.report.words.match import (
    again_words,
    average_words,
    gain_words,
    not_begun,
    rule_words,
    spread_words,
    worth_words,
)

NAME_CELLS = 24
TITLE_CELLS = 40

# Rows to write in: one for each run and some for second tries.
MORE_ROWS = 2


def short_name(text: str) -> str:
    return shorten(text, NAME_CELLS)


def title(card: MatchCard) -> str:
    return shorten(card.match, TITLE_CELLS)


def subtitle(card: MatchCard) -> str:
    return tr_many(
        "{n} run in {limit:g} s on {field}, driven by {robots}",
        "{n} runs in {limit:g} s on {field}, driven by {robots}",
        len(card.steps),
        limit=card.limit,
        field=shorten(card.field, TITLE_CELLS),
        robots=listed([short_name(robot) for robot in card.robots]),
    )


def document_title(card: MatchCard) -> str:
    return tr("{match}: card for the match", match=title(card))


# --- the plan ----------------------------------------------------------------------------------------------------


def plan_title() -> str:
    return tr("The plan, in the order as written")


BY_CLOCK = tr_later("By the clock")
CLOCK_SHORTLY = tr_later("The clock is the usual second at which a run starts; tick it when it is through.")


def clock_shortly(step: MatchStep) -> str:
    """The usual second at which it starts."""
    return tr("never") if step.starts is None else tr("{time} s", time=fixed(step.starts[1], 0))


def start_shortly(step: MatchStep, trials: int) -> str:
    """Between what it starts in 18 of 20 matches, and how often it does not."""
    if step.starts is None:
        return ""
    low, _, high = (fixed(value, 0) for value in step.starts)
    found = [] if low == high else [tr("{low} to {high} s", low=low, high=high)]
    left = not_begun(step.begun, trials)
    return "; ".join([*found, *([left] if left else [])])


def ready_in_time(step: MatchStep) -> str:
    """How it is made ready, and how long that takes by hand."""
    hand = hand_words(step)
    ready = ready_words(step)
    return tr("{ready} (about {time})", ready=ready, time=hand) if hand else ready


def plan_heads() -> tuple[str, ...]:
    """What each cell of a run is, after its number."""
    return (
        tr("run"), tr("make ready"), tr("by hand"), tr("starts at"), tr("ends at"), tr("scores"), tr("through in time"),
        tr("done"),
    )  # fmt: skip


def plan_cells(card: MatchCard, step: MatchStep) -> tuple[str, ...]:
    """One run's cells, in the order of ``plan_heads``."""
    return (
        run_words(card, step), ready_words(step), hand_words(step), start_words(step, card.trials),
        clock_words(step.ends), score_words(step), how_often_shortly(step.success, card.trials), BOX,
    )  # fmt: skip


def run_words(card: MatchCard, step: MatchStep) -> str:
    """Which run, by which robot if there are several, and what must have got through before."""
    words = short_name(step.run)
    if len(card.robots) > 1:
        words = tr("{run}, with {robot}", run=words, robot=short_name(step.robot))
    if step.needs:
        needs = listed([short_name(name) for name in step.needs])
        words = tr("{run} (only if {needs} got through)", run=words, needs=needs)
    return words


def ready_words(step: MatchStep) -> str:
    """'jig corner block; take off fork; slip on scoop'."""
    parts = [tr("jig {jig}", jig=short_name(step.jig)) if step.jig is not None else tr("set by eye")]
    for words, names in (
        (tr_later("take off {names}"), step.take_off),
        (tr_later("slip on {names}"), step.slip_on),
        (tr_later("{names} stays on"), step.keep_on),
    ):
        if names:
            parts.append(tr(words, names=listed([short_name(name) for name in names])))
    if not step.slip_on and not step.keep_on:
        parts.append(tr("nothing on"))
    return "; ".join(parts)


def hand_words(step: MatchStep) -> str:
    return "" if step.by_hand is None else tr("{time} s", time=fixed(step.by_hand, 0))


def clock_words(lane: Lane | None) -> str:
    """The median and between what 18 of 20 are: '31 s (27 to 47)'."""
    if lane is None:
        return tr("never")
    low, middle, high = (fixed(value, 0) for value in lane)
    if low == high:
        return tr("{time} s", time=middle)
    return tr("{time} s ({low} to {high})", time=middle, low=low, high=high)


def score_words(step: MatchStep) -> str:
    """'flour lid 20, finish 5'."""
    parts = [f"{short_name(name)} {spoken(points)}" for name, points in step.targets if points]
    if step.finish:
        parts.append(tr("finish {points}", points=spoken(step.finish)))
    return ", ".join(parts) or tr("nothing")


def start_words(step: MatchStep, trials: int) -> str:
    """When it starts, and how often it does not."""
    told = clock_words(step.starts)
    left = not_begun(step.begun, trials)
    return f"{told}; {left}" if left and step.starts is not None else told


def clock_note() -> str:
    return tr(
        "Clock: the usual time, and in brackets between what it is in 18 of 20 matches; of those in which the run "
        "begins."
    )


def picture_words(card: MatchCard) -> str:
    """The lanes for those who cannot see them."""
    told = "; ".join(
        tr("{run} starts at {starts}, ends at {ends}",
           run=short_name(step.run), starts=start_words(step, card.trials), ends=clock_words(step.ends))
        for step in card.steps
    )  # fmt: skip
    return tr("The runs over the clock. {runs}.", runs=told)


# --- beside it ---------------------------------------------------------------------------------------------------


def odds_title() -> str:
    return tr("The odds")


def odds_words(card: MatchCard) -> list[str]:
    found = [average_words(card.written), *spread_words(card.written, card.limit, card.trials)]
    if card.better:
        order = ", ".join(short_name(name) for name in card.better)
        found.append(
            tr("Another order scores more: {order}. It was worth {gain}.", order=order, gain=gain_words(card.gain))
        )
    return [*found, *card.notes]


def rules_title() -> str:
    return tr("When to change the plan")


def rules_lead(card: MatchCard) -> str:
    """What is said over the table of rules: what they are worth, or that there are none."""
    if not card.rules or card.rules_worth is None:
        return rules_words(card)[-1]
    return tr("Else keep to the plan. Worth {gain}.", gain=gain_words(card.rules_worth))


def rules_words(card: MatchCard) -> list[str]:
    """When to change the plan, or that there is nothing to gain by it."""
    again = again_words(card.rerun)
    again = f"{again[0].upper()}{again[1:]}."
    if not card.rules:
        return [again, tr("Keep to the plan: nothing that looks at the clock is worth more.")]
    return [*map(rule_words, card.rules)]


def worth_title() -> str:
    return tr("Practise these: it pays most")


def worth_lines(card: MatchCard) -> list[str]:
    found = []
    for each in card.worth:
        what, points = worth_words(each), fixed(each.five.mean, 1)
        if each.kind == "success":
            found.append(tr("{what}, by 5 in 100: {points} points a match", what=what, points=points))
        else:
            found.append(tr("{what}, by 5 s: {points} points a match", what=what, points=points))
    return found


def before_title() -> str:
    return tr("Before the match")


def tick_words(card: MatchCard) -> list[str]:
    """What to check before the clock starts."""
    worn = dict.fromkeys(name for step in card.steps for name in (*step.slip_on, *step.keep_on))
    jigs = dict.fromkeys(step.jig for step in card.steps if step.jig is not None)
    found = [
        tr("The event's own rules come first"),
        tr("An adult is here"),
        tr("Battery charged as in the tests"),
        tr("Wheels clean and firm, mat swept"),
        tr("Models stand in their places"),
    ]
    if worn:
        found.append(tr("Laid out: {names}", names=", ".join(map(short_name, worn))))
    if jigs:
        found.append(tr("Jigs at hand: {names}", names=", ".join(map(short_name, jigs))))
    return [
        *found,
        tr("Jobs given out: drive, change, clock"),
        tr("What to do after a failed run is agreed"),
        tr("Fingers and hair off gears and wheels"),
    ]


def happened_title() -> str:
    return tr("What happened?")


def log_rows(card: MatchCard, more: int = MORE_ROWS) -> list[list[str]]:
    """Rows to fill in, in the log's columns, with the runs written in; empty ones for second tries."""
    runs = [*(one_line(step.run) for step in card.steps), *[""] * more]
    return [[run if column == "run" else "" for column in card.log_columns] for run in runs]


def made_words(card: MatchCard) -> str:
    """What made the card, so that it can be made again."""
    return tr_many(
        "fieldsim {version}, {n} match, seed {seed}. Again: {command}",
        "fieldsim {version}, {n} matches, seed {seed}. Again: {command}",
        card.trials,
        version=card.version,
        seed=card.seed,
        command=one_line(card.command),
    )


# --- text and JSON -----------------------------------------------------------------------------------------------


def match_card_text(card: MatchCard, width: int = 80) -> str:
    """The whole card as plain text, ending in a line end."""
    lines: list[str] = []

    def points(title: str, texts: list[str], mark: str) -> None:
        lines.extend(["", title])
        for text in texts:
            lines.extend(wrapped_lines(text, width, mark, " " * len(mark)))

    lines += wrapped_lines(document_title(card), width)
    lines += wrapped_lines(subtitle(card), width)
    lines += ["", plan_title()]
    for step in card.steps:
        run, _, _, starts, ends, scores, through, _ = plan_cells(card, step)
        mark = f"  {step.number:>2} "
        lines += wrapped_lines(run, width, mark, " " * len(mark))
        ready = ready_in_time(step)
        times = tr("starts at {starts}, ends at {ends}", starts=starts, ends=ends)
        through = tr("scores {scores}; through in time {often}", scores=scores, often=through)
        for text in (ready, times, through):
            lines += wrapped_lines(text, width, "       ", "       ")
    lines += wrapped_lines(clock_note(), width, "  ", "  ")
    points(rules_title(), rules_words(card), "  - ")
    points(odds_title(), odds_words(card), "  ")
    if card.worth:
        points(worth_title(), worth_lines(card), "  - ")
    points(before_title(), tick_words(card), "  [ ] ")
    lines += ["", tr("What happened? Rows for your log.csv")]
    lines += csv_lines([list(card.log_columns), *log_rows(card)])
    lines.append("")
    lines += wrapped_lines(made_words(card), width)
    lines += wrapped_lines(no_proof(), width)
    return "\n".join(line.rstrip() for line in lines) + "\n"
