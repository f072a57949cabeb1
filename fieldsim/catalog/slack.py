"""`slack` as a study."""

from __future__ import annotations

from typing import Any

from fieldsim.catalog.shared import PICTURE_SAVED, RUN, SEED, THREADS, need, read_run, told, trials_of_each
from fieldsim.catalog.study import Given, Outcome, Study, Watch
from fieldsim.language import tr_later


def _ask(run: Any, given: Given, watch: Watch) -> Outcome:
    from fieldsim.draw import draw_slack
    from fieldsim.report.words.slack import headline, slack_statement
    from fieldsim.studies.slack import slack

    # The maps are drawn and written to files; the text tells nothing of them.
    answer = slack(
        run, need=given["need"], trials=given["trials"], seed=given["seed"], threads=given["threads"],
        maps=given.get("whole", True), watch=watch,
    )  # fmt: skip
    return told(
        "slack", answer, slack_statement(answer), lambda sheet: draw_slack(answer, headline(answer), sheet),
        SLACK.pictures, meets_need=given["need"] is None or answer.meets_need,
    )  # fmt: skip


SLACK = Study(
    name="slack",
    about=tr_later("How far off the start may be: with the robot's noise, and without any."),
    arguments=(RUN,),
    options=(
        need(tr_later("The share that has to get through.  [default: 9/10 of the planned start's]")),
        trials_of_each(2_000),
        SEED,
        THREADS,
    ),
    types=("studies.slack_answer:SlackAnswer",),
    read=read_run,
    ask=_ask,
    example=("runs/bakery/practice-loop.yaml", "--trials", "20"),
    saving=PICTURE_SAVED,
    pictures={
        "slack": (
            tr_later("Two errors of the start at a time"),
            tr_later(
                "Maps of how often the run gets through when the start is off in two ways at once: "
                "the lighter, the more "
                "often. Inside the blue line it gets through as often as wanted; the dashed line is "
                "where it fails without"
                " any noise."
            ),
        )
    },
)
