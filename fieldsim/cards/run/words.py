"""The words of a run's card: short phrases that every face of it shares.

Nothing is computed here that the card does not already say; numbers are only rounded, gaps always down.
"""

from __future__ import annotations

from fieldsim.cards.run.card import Card
from fieldsim.cards.run.watch import Trouble
from fieldsim.draw.thousand import Part, thousand
from fieldsim.language import tr, tr_later, tr_many
from fieldsim.lettering import one_line, shorten
from fieldsim.report.phrases import fixed, how_often, how_often_shortly, unknown_words
from fieldsim.rounding import nearest
from fieldsim.stats.intervals import Share

# Before what is seen but should not be: no box to tick.
WARNING = "!"
# A run that gets through less often than this is not ready for the table.
HARDLY = 0.05
NAME_CELLS = 24
TITLE_CELLS = 40

# Rows of the text's table to write in, ready to be copied into a log.
LOG_ROWS = 4

# Headings, the same in every form.
ODDS, WATCH, HAPPENED = tr_later("The odds"), tr_later("Watch these"), tr_later("What happened?")
NUMBERS = tr_later("For the program: degrees, speeds, seconds")

HINT_RESULT = tr_later(
    "result: through, touched, missed or stopped. where: what it touched or missed. segment: the step."
)


def short_name(text: str) -> str:
    return shorten(text, NAME_CELLS)


def millimetres(value: float) -> str:
    """'60 mm', '46.5 mm': as finely as a ruler can be read with good eyes, and a little finer."""
    tenths = nearest(value, 1)
    return tr("{distance} mm", distance=fixed(value, 0 if tenths == int(tenths) else 1))


def share_words(share: Share, trials: int) -> str:
    """'24 in 1000', without its interval."""
    return how_often_shortly(share, trials)


# --- the start ---------------------------------------------------------------------------------------------------


def card_title(card: Card) -> str:
    return shorten(card.run, TITLE_CELLS)


def document_title(card: Card) -> str:
    return tr("{run}: card for the table", run=card_title(card))


def subtitle(card: Card) -> str:
    return tr("{robot} on {field}", robot=shorten(card.robot, TITLE_CELLS), field=shorten(card.field, TITLE_CELLS))


def wear_words(card: Card) -> str:
    """Which attachment to slip on."""
    if card.bare:
        return tr("Slip nothing on: this was tried bare, without attachments and acts.")
    if not card.wear:
        return tr("Slip nothing on.")
    return tr("Slip on: {names}.", names=", ".join(short_name(name) for name in card.wear))


def warning_words(card: Card) -> list[str]:
    """Across the head of a card whose run hardly ever gets through."""
    if card.trials == 0 or card.success.share >= HARDLY:
        return []
    return [tr("Not ready for the table: this run gets through {often}.", often=share_words(card.success, card.trials))]


# --- the odds ----------------------------------------------------------------------------------------------------


def odds_words(card: Card) -> list[str]:
    """How often it gets through, what is unknown, and what is taken for granted."""
    if card.trials == 0:
        return [tr("No trial was done: nothing is known of the odds."), *card.notes]
    found = [tr("Gets through {often}.", often=how_often(card.success, card.trials))]
    if card.unknown is not None:
        found.append(unknown_words(card.unknown, card.success.share))
    if card.interrupted:
        found.append(tr_many("Stopped early, after {n} trial.", "Stopped early, after {n} trials.", card.trials))
    return [*found, *card.notes]


def trouble_words(trouble: Trouble, looked_at: int) -> str:
    """'Step 11 touches milk churn: 24 in 1000'."""
    what = short_name(trouble.what)
    often = share_words(trouble.share, looked_at)
    told = {
        "touches": tr_later("Step {step} touches {name}: {often}"),
        "misses": tr_later("Step {step} misses {name}: {often}"),
        "ends outside": tr_later("Step {step} ends outside {name}: {often}"),
    }.get(trouble.why)
    if told is not None:
        return tr(told, step=trouble.step, name=what, often=often)
    return tr(
        "Step {step} does not catch {name} ({why}): {often}",
        step=trouble.step,
        name=what,
        why=tr(trouble.why),
        often=often,
    )


def watch_words(card: Card) -> list[str]:
    """The places to watch, the most frequent first."""
    if not card.looked_at:
        return []
    if not card.troubles:
        return [
            tr_many(
                "Nothing went wrong in the one trial. Watch the tightest gap.",
                "Nothing went wrong in any of {n} trials. Watch the tightest gap.",
                card.looked_at,
            )
        ]
    return [trouble_words(trouble, card.looked_at) for trouble in card.troubles]


def loss_words(trouble: Trouble) -> str:
    """'misses flour lid, step 6', for the bar of a thousand drives."""
    what = short_name(trouble.what)
    told = {
        "touches": tr_later("touches {name}, step {step}"),
        "misses": tr_later("misses {name}, step {step}"),
        "ends outside": tr_later("ends outside {name}, step {step}"),
    }.get(trouble.why)
    if told is not None:
        return tr(told, name=what, step=trouble.step)
    return tr("does not catch {name} ({why}), step {step}", name=what, why=tr(trouble.why), step=trouble.step)


def thousand_of(card: Card) -> tuple[Part, ...]:
    """The bar of a thousand drives; empty if none was tried."""
    if not card.trials:
        return ()
    losses = [(loss_words(trouble), trouble.share.share) for trouble in card.troubles]
    rest = 1.0 - card.success.share - sum(share for _, share in losses)
    # Less than half a trial is a rounding of the shares.
    return thousand(card.success.share, [*losses, *([("", rest)] if rest * card.trials > 0.5 else [])])


def made_words(card: Card) -> str:
    """What made the card, so that it can be made again."""
    return tr_many(
        "fieldsim {version}, {n} trial, seed {seed}. Again: {command}",
        "fieldsim {version}, {n} trials, seed {seed}. Again: {command}",
        card.trials,
        version=card.version,
        seed=card.seed,
        command=one_line(card.command),
    )


def log_rows(card: Card, rows: int = LOG_ROWS) -> list[list[str]]:
    """Rows to fill in, in the log's columns, with the run written in."""
    return [[one_line(card.run_file) if column == "run" else "" for column in card.log_columns] for _ in range(rows)]
