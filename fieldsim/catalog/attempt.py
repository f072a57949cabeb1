"""`try` as a study."""

from __future__ import annotations

from contextlib import suppress
from pathlib import Path
from typing import Any

from fieldsim.catalog.shared import RUN, SEED, THREADS, need, read_run
from fieldsim.catalog.study import Flag, Given, Option, Outcome, ShareOf, Study, Watch, Whole, WrongWordsError
from fieldsim.language import tr, tr_later
from fieldsim.report.origin import Origin


def _read(given: Given) -> Any:
    if given["trials"] is not None and given["half_width"] is not None:
        raise WrongWordsError(tr("--trials and --half-width are two ways to say how many trials; give one of them."))
    if given["half_width"] is not None and given["half_width"] >= 0.5:
        raise WrongWordsError(tr("--half-width must be less than 50%, such as 0.5%."))
    others = ("trials", "half_width", "need", "folder")
    if given["number"] is not None and any(given.get(option) is not None for option in others):
        raise WrongWordsError(tr("--trial shows one trial alone; leave out --trials, --half-width, --need and --save."))
    return read_run(given)


def _ask(run: Any, given: Given, watch: Watch) -> Outcome:
    if given["number"] is not None:
        return _one_trial(run, given)
    from fieldsim.report.statement import statement_text
    from fieldsim.report.words.attempt import try_statement
    from fieldsim.report.words.brief import brief_statement
    from fieldsim.studies.attempt import KEPT, attempt, with_remedies

    tried = attempt(
        run,
        trials=given["trials"] or 10_000,
        half_width=given["half_width"],
        seed=given["seed"],
        without_attachments=given["bare"],
        need=given["need"],
        threads=given["threads"],
        keep=KEPT if given.get("folder") else 0,
        watch=watch,
    )
    if not tried.answer.interrupted:
        # What is broken off there is only what could be made better; what was asked for is known.
        with suppress(KeyboardInterrupt):
            tried = with_remedies(tried, threads=given["threads"])

    def save(folder: Path, origin: Origin) -> list[Path]:
        from fieldsim.pages.saving import save

        return save(folder, tried, origin)

    def text(width: int, colour: bool) -> str:
        told = try_statement if given.get("details") else brief_statement
        return statement_text(told(tried.answer), width, colour)

    return Outcome(
        tried.answer, text, save, tried.answer.meets_need is not False, statement=lambda: try_statement(tried.answer)
    )


def _one_trial(run: Any, given: Given) -> Outcome:
    from fieldsim.report import one_trial
    from fieldsim.sim import plan
    from fieldsim.sim.trials import nominal, trial

    ready = plan.plan(plan.bare(run) if given["bare"] else run)
    answer = one_trial.one(trial(ready, given["seed"], given["number"] - 1), nominal(ready))

    def save(folder: Path, origin: Origin) -> list[Path]:
        raise ValueError("one trial has no report")

    return Outcome(answer, lambda width, colour: one_trial.text(answer, ready.course.horizon), save)


TRY = Study(
    name="try",
    about=tr_later("How often a run gets through, where it touches, and how tight it is."),
    arguments=(RUN,),
    options=(
        Option("--trials", Whole(1, 1_000_000_000), tr_later("How many trials.  [default: 10000]")),
        Option(
            "--half-width",
            ShareOf(),
            tr_later("Instead: as many as make the share this certain, such as 0.5%."),
        ),
        SEED,
        Option("--details", Flag(), tr_later("Tell all: every gap, target and square, the end, all advice.")),
        Option("--bare", Flag(), tr_later("Without attachments and acts, to test the path first.")),
        need(tr_later("Exit with 1 if a smaller share gets through, such as 95%.")),
        Option("--trial", Whole(1), tr_later("Show trial K alone."), own_name="number", sign=tr_later("K")),
        THREADS,
    ),
    types=("studies.answer:TryAnswer", "report.one_trial:TrialAnswer"),
    read=_read,
    ask=_ask,
    example=("runs/bakery/flour-round.yaml", "--trials", "200"),
    saving=tr_later("Save report, pictures, tables."),
)
