"""`match` as a study."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from fieldsim.catalog.shared import PICTURE_SAVED, SEED, THREADS, told, trials
from fieldsim.catalog.study import Argument, Flag, Given, Option, Outcome, Study, Text, Watch, WrongWordsError
from fieldsim.language import tr, tr_later
from fieldsim.report.origin import Origin

# The picture of proposed runs.
SHARED = {
    "match": (
        tr_later("The proposed runs"),
        tr_later(
            "A small map for each run in the order in which they are driven: the ground it sweeps, its trials as thin "
            "lines, the segments by their numbers."
        ),
    )
}


def _read(given: Given) -> Any:
    from fieldsim.files import load_match

    if given["targets"] and not given["propose"]:
        raise WrongWordsError(tr("--targets goes with --propose: for which targets runs are to be proposed."))
    return load_match(given["match_file"])


def _propose(match: Any, given: Given, watch: Watch) -> Outcome:
    from fieldsim.draw.sharing import draw_sharing
    from fieldsim.planning.sharing import share_out
    from fieldsim.report.words.sharing import headline, sharing_statement

    names = tuple(name.strip() for words in given["targets"] or () for name in words.split(",") if name.strip())
    shared = share_out(
        match, names or None, trials=given["trials"], seed=given["seed"], threads=given["threads"], watch=watch
    )
    answer = shared.answer
    outcome = told(
        "match", answer, sharing_statement(answer), lambda sheet: draw_sharing(shared, headline(answer), sheet), SHARED
    )

    def save(folder: Path, origin: Origin) -> list[Path]:
        from fieldsim.files.proposed import write_match

        made = outcome.save(folder, origin)
        return made if shared.match is None else made + write_match(folder, shared.match, Path(given["match_file"]))

    return Outcome(answer, outcome.text, save, statement=outcome.statement)


def _ask(match: Any, given: Given, watch: Watch) -> Outcome:
    if given["propose"]:
        return _propose(match, given, watch)
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
        Option("--propose", Flag(), tr_later("Propose the runs too: which targets belong into which run.")),
        Option(
            "--targets",
            Text(),
            tr_later("With --propose: only these targets, with commas between them."),
            sign=tr_later("TARGET,TARGET"),
            many=True,
        ),
        SEED,
        THREADS,
    ),
    types=("match.answer:MatchAnswer", "planning.sharing:SharingAnswer"),
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
