"""`tune` as a study, which can write what it found into the run's file."""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any

from fieldsim.catalog.aim import STEP, read_step
from fieldsim.catalog.shared import RUN, SEED, THREADS, need, read_run, told, trials
from fieldsim.catalog.study import (
    Decimal,
    Flag,
    Given,
    Option,
    Outcome,
    Remark,
    Study,
    Text,
    Watch,
    Whole,
    Word,
    WrongWordsError,
)
from fieldsim.language import tr, tr_later
from fieldsim.report.origin import Origin

_PART = re.compile(r"(\d{1,3})(?:-(\d{1,3}))?")


def kept_segments(text: str | None) -> frozenset[int]:
    """'3,5-7,start' as indices from 0, -1 for the start. Raises WrongWordsError."""
    found: set[int] = set()
    for part in (text or "").split(","):
        part = part.strip()
        if not part:
            continue
        if part in ("start", "0"):
            found.add(-1)
            continue
        match = _PART.fullmatch(part)
        if match is None or (match[2] is not None and int(match[2]) < int(match[1])):
            raise WrongWordsError(tr("--keep {text}: name segments by their numbers, such as 3,5-7.", text=text))
        found |= set(range(int(match[1]) - 1, int(match[2] or match[1])))
    return frozenset(found)


def _read(given: Given) -> Any:
    from fieldsim.planning.tuning import Rules

    rules = Rules(
        step=read_step(given), keep=kept_segments(given["keep"]), most=given["most"], within=given["within"],
        speeds=given["speeds"], structure=not given["numbers"],
    )  # fmt: skip
    if given["need"] is not None and given["aim"] != "time":
        raise WrongWordsError(tr("--need goes with --for time: how often it must still get through."))
    return read_run(given), rules


def _ask(read: Any, given: Given, watch: Watch) -> Outcome:
    from fieldsim.draw.tune import draw_tune
    from fieldsim.planning.tune import tune
    from fieldsim.report.words.tune import headline, tune_statement

    run, rules = read
    tuned = tune(
        run, aim=given["aim"], need=given["need"], rules=rules, trials=given["trials"], seed=given["seed"],
        threads=given["threads"], watch=watch,
    )  # fmt: skip
    answer = tuned.answer
    outcome = told(
        "tune", answer, tune_statement(answer), lambda sheet: draw_tune(tuned, headline(answer), sheet), TUNE.pictures,
        maps=True, meets_need=answer.meets_need is not False,
    )  # fmt: skip
    path = Path(given["run_file"])

    def save(folder: Path, origin: Origin) -> list[Path]:
        from fieldsim.files.tuned import write_beside

        made = outcome.save(folder, origin)
        return [*made, write_beside(folder, path.name, _text(path, run, tuned, folder))] if answer.better else made

    def write() -> Iterator[Remark]:
        from fieldsim.files.tuned import write_over

        if not given["write"]:
            return
        if not answer.better:
            yield Remark(tr("Nothing was written: there is nothing better to write."))
            return
        copy = write_over(path, _text(path, run, tuned))
        yield Remark(tr("Written: {file}; as it was it is kept in {copy}.", file=path, copy=copy.name))

    return Outcome(answer, outcome.text, save, outcome.meets_need, write, outcome.statement, _one_by_one(tuned))


def _one_by_one(tuned: Any) -> tuple[Any, ...]:
    """Each change with its words."""
    from fieldsim.report.words.tune import change_words

    rows = iter(tuned.answer.changes)
    found = []
    for group in tuned.order:
        mine = [next(rows) for _ in group]
        found.append((change_words(mine, tuned.answer), group))
    return tuple(found)


def _text(path: Path, run: Any, tuned: Any, folder: Path | None = None) -> str:
    """The run's file with what was found, to lie in its own folder or in another one."""
    from fieldsim.files.proposed import seen_from
    from fieldsim.files.tuned import tuned_text
    from fieldsim.files.writing import named_files

    with path.open(encoding="utf-8", newline="") as file:
        text = file.read()
    elsewhere = {}
    if folder is not None:
        elsewhere = {word: seen_from(folder, path.parent / file) for word, file in named_files(text, run).items()}
    return tuned_text(
        text, run, tuned.run, tuned.origins, [*_remarks(tuned)], elsewhere.get("field"), elsewhere.get("robot")
    )


def _remarks(tuned: Any) -> Iterator[tuple[int, str, float | None]]:
    """Each change by the segment's index in the run as it is now."""
    at = {origin: index for index, origin in enumerate(tuned.origins) if origin is not None}
    for change in tuned.answer.changes:
        if change.segment == 0:
            yield -1, change.key, change.was
        elif change.key not in ("put in", "taken out"):
            yield at[change.segment - 1], change.key, change.was
    for index, origin in enumerate(tuned.origins):
        if origin is None:
            yield index, "put in", None


TUNE = Study(
    name="tune",
    about=tr_later("Better numbers for a run, and squares where they help: how little is changed, and its worth."),
    arguments=(RUN,),
    options=(
        Option(
            "--for",
            Word(("share", "margin", "points", "time")),
            tr_later("What is to be better: the share that gets through, the room, the points, or the time."),
            default="share",
            own_name="aim",
        ),
        need(tr_later("With --for time: how often it must still get through, such as 95%.")),
        Option(
            "--keep", Text(), tr_later("Segments that stay as they are, such as 3,5-7; 'start' for the start."),
            sign=tr_later("SEGMENTS"),
        ),
        Option("--most", Whole(1, 100), tr_later("Change no more than so many numbers or places.")),
        STEP,
        Option("--within", Decimal(0, above=True), tr_later("The most seconds the run may take.")),
        Option("--speeds", Flag(), tr_later("Speeds may be changed too.")),
        Option("--numbers", Flag(), tr_later("Only numbers: no square is put in or taken out.")),
        Option("--write", Flag(), tr_later("Write it into RUN; the old file is kept beside it.")),
        trials(10_000, tr_later("Fresh trials that are told.")),
        SEED,
        THREADS,
    ),
    types=("planning.tune:TuneAnswer",),
    read=_read,
    ask=_ask,
    example=("runs/bakery/practice-loop.yaml", "--numbers", "--trials", "500"),
    saving=tr_later("Save the better run as a file, with report and picture."),
    pictures={
        "tune": (
            tr_later("Before and after"),
            tr_later(
                "The run as it is written and as it was changed: the ground it sweeps, its trials as thin lines, the "
                "segments by their numbers."
            ),
        )
    },
)  # fmt: skip
