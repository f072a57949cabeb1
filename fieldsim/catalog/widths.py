"""`widths` as a study."""

from __future__ import annotations

from typing import Any

from fieldsim.catalog.shared import PICTURE_SAVED, RUN, SEED, THREADS, need, read_run, told, trials_of_each
from fieldsim.catalog.study import Decimal, Given, Option, Outcome, Study, Watch, Word, WrongWordsError
from fieldsim.language import tr, tr_later


def _read(given: Given) -> Any:
    if given["track"] == "moves" and given["vary"] != "width":
        raise WrongWordsError(tr("--track moves goes with --vary width; to vary the track alone write --vary track."))
    return read_run(given)


def _ask(run: Any, given: Given, watch: Watch) -> Outcome:
    from fieldsim.draw import draw_widths
    from fieldsim.report.words.widths import WORDS, widths_headline, widths_statement
    from fieldsim.studies.widths import widths

    try:
        answer = widths(
            run,
            vary=given["vary"],
            low=given["low"],
            high=given["high"],
            step=given["step"],
            to=given["within"],
            track_moves=given["track"] == "moves",
            need=given["need"],
            trials=given["trials"],
            seed=given["seed"],
            threads=given["threads"],
            watch=watch,
        )
    except ValueError as problem:
        raise WrongWordsError(str(problem)) from None
    return told(
        "widths", answer, widths_statement(answer),
        lambda sheet: draw_widths(answer, widths_headline(answer), tr(WORDS[given["vary"]]), sheet),
        WIDTHS.pictures, meets_need=given["need"] is None or answer.meets_need,
    )  # fmt: skip


WIDTHS = Study(
    name="widths",
    about=tr_later("How wide the base may be: the share that gets through, and the widest that still does."),
    arguments=(RUN,),
    options=(
        Option(
            "--vary",
            Word(("width", "length", "axle", "track", "wheel", "speed")),
            tr_later("What is varied."),
            default="width",
        ),
        Option("--from", Decimal(0, above=True), tr_later("Smallest value.  [default: 0.7 of now]"), own_name="low"),
        Option("--to", Decimal(0, above=True), tr_later("Largest value.  [default: 1.3 of now]"), own_name="high"),
        Option("--step", Decimal(0.001), tr_later("From one value to the next.")),
        Option("--within", Decimal(0.01), tr_later("How closely the largest is found."), default=1.0),
        Option("--track", Word(("stays", "moves")), tr_later("With the width."), default="stays"),
        need(tr_later("The share that has to get through.  [default: 9/10 of now]")),
        trials_of_each(4_000),
        SEED,
        THREADS,
    ),
    types=("studies.widths:WidthsAnswer",),
    read=_read,
    ask=_ask,
    example=("runs/bakery/flour-round.yaml", "--trials", "50", "--from", "120", "--to", "160", "--step", "20"),
    saving=PICTURE_SAVED,
    pictures={
        "widths": (
            tr_later("What gets through"),
            tr_later(
                "How often the run gets through, against the value that is varied. The band is what "
                "luck could make of it."
            ),
        )
    },
)
