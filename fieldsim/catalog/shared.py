"""What several studies take, and how most of them are told."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Any

from fieldsim.catalog.study import Argument, Given, Option, Outcome, ShareOf, Whole
from fieldsim.language import tr_later
from fieldsim.report.origin import Origin

if TYPE_CHECKING:
    from fieldsim.report.statement import Statement

RUN = Argument("run_file", tr_later("RUN"))
SEED = Option("--seed", Whole(0, 2**64 - 1), tr_later("Another seed, other luck."), default=1)
THREADS = Option("--threads", Whole(1, 256), tr_later("How many cores to use.  [default: all]"))
EACH = {
    2_000: tr_later("Trials of each.  [default: 2000, and 10000 of the run as it is]"),
    4_000: tr_later("Trials of each.  [default: 4000, and 10000 of the run as it is]"),
}
PICTURE_SAVED = tr_later("Save report and picture.")


def trials(default: int, about: str = tr_later("Trials of each."), high: int = 1_000_000) -> Option:
    return Option("--trials", Whole(1, high), about, default=default)


def trials_of_each(default: int) -> Option:
    """Of what is changed, and of the run as it is: without the option the latter are as many as `try` drives."""
    return Option("--trials", Whole(1, 1_000_000), EACH[default])


def need(about: str) -> Option:
    return Option("--need", ShareOf(), about)


def read_run(given: Given) -> Any:
    from fieldsim.files import load_run

    return load_run(given["run_file"])


def told(
    name: str,
    answer: Any,
    statement: Statement,
    draw: Callable[[Any], Any],
    pictures: Mapping[str, tuple[str, str]],
    *,
    kept: Statement | None = None,
    maps: bool = False,
    **more: Any,
) -> Outcome:
    """An outcome that is a statement and pictures: ``draw`` makes the figure for a sheet, or for a report several by
    name; ``kept`` is what is saved in place of the statement; ``maps`` as ``save_study`` has it."""

    def text(width: int, colour: bool) -> str:
        from fieldsim.report.statement import statement_text

        return statement_text(statement, width, colour)

    def save(folder: Path, origin: Origin) -> list[Path]:
        from fieldsim.answers import to_json
        from fieldsim.pages.saving import save_study

        return save_study(folder, name, to_json(answer), kept or statement, draw, origin, pictures=pictures, maps=maps)

    return Outcome(answer, text, save, statement=lambda: statement, **more)
