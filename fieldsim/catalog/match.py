"""`match` as a study."""

from __future__ import annotations

from typing import Any

from fieldsim.catalog.shared import PICTURE_SAVED, SEED, THREADS, told, trials
from fieldsim.catalog.study import Argument, Given, Outcome, Study, Watch
from fieldsim.language import tr_later


def _read(given: Given) -> Any:
    from fieldsim.files import load_match

    return load_match(given["match_file"])


def _ask(match: Any, given: Given, watch: Watch) -> Outcome:
    from fieldsim.draw.match import draw_match
    from fieldsim.match.study import study
    from fieldsim.report.words.match import headline, match_statement

    answer = study(match, trials=given["trials"], seed=given["seed"], threads=given["threads"], watch=watch)
    return told(
        "match", answer, match_statement(answer), lambda sheet: draw_match(answer, headline(answer), sheet),
        MATCH.pictures,
    )  # fmt: skip


MATCH = Study(
    name="match",
    about=tr_later("What several runs score inside the clock, in which order, and where practice pays most."),
    arguments=(Argument("match_file", tr_later("MATCH")),),
    options=(
        trials(10_000, tr_later("How many matches; as many more, up to 10000, to choose the order on."), high=200_000),
        SEED,
        THREADS,
    ),
    types=("match.answer:MatchAnswer",),
    read=_read,
    ask=_ask,
    example=("runs/bakery/match.yaml", "--trials", "100"),
    saving=PICTURE_SAVED,
    pictures={
        "match": (
            tr_later("The runs over the clock"),
            tr_later(
                "A lane for each run: the bar goes from the middle one of its starts to the middle "
                "one of its ends, the "
                "thin lines hold 18 of 20 of them, the dashed line is the end of the match. On the right the points it "
                "brings on average, and in how many of 100 matches it gets through in time."
            ),
        )
    },
)
