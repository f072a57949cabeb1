"""Studies asked in a thread of their own, through the records of the catalog: the same values and words as the commands
have. What is found is saved into a folder of its own, so that the whole report can be opened."""

from __future__ import annotations

import shutil
import tempfile
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from fieldsim.catalog import STUDIES
from fieldsim.catalog.study import Flag, Option, Study, WrongWordsError
from fieldsim.language import tr, tr_later
from fieldsim.model.errors import FieldsimError
from fieldsim.report.origin import Origin
from fieldsim.window.errand import Errand, Watch

__all__ = ["CARD", "Answered", "Asking", "answered", "asked_of_a_run"]

CARD = "card"
"""The card for the table: no study, but asked for in the same list."""


def asked_of_a_run() -> tuple[Study, ...]:
    """The studies that need a run and nothing else."""
    return tuple(
        study
        for study in STUDIES
        if [each.name for each in study.arguments] == ["run_file"] and not study.arguments[0].many
    )


def _left_out(option: Option) -> Any:
    """What is given for an option that nobody asked for."""
    if option.default is not None:
        return option.default
    return False if isinstance(option.kind, Flag) else () if option.many else None


@dataclass(frozen=True, eq=False)
class Answered:
    """What was asked, and what came of it by now."""

    name: str
    done: int = 0
    wanted: int = 0
    over: bool = False
    headline: str = ""
    further: tuple[str, ...] = ()
    advice: tuple[str, ...] = ()
    wrong: tuple[str, ...] = ()
    picture: Path | None = None
    report: Path | None = None
    """To be opened in the browser, or printed."""
    changes: tuple[Any, ...] = ()
    """Changes that can be taken one by one (see `Outcome.changes`)."""
    run: Any = None
    """The run they are made to."""


def answered(name: str, path: Path, folder: Path, watch: Watch) -> Answered:
    """Ask a study, or make the card, of the run in a file; what it answers, with its report in a folder."""
    try:
        if name == CARD:
            return _card(path, folder, watch)
        study = next(each for each in asked_of_a_run() if each.name == name)
        given: dict[str, Any] = {option.name: _left_out(option) for option in study.options}
        given |= {"run_file": path, "folder": folder}
        from fieldsim.files import load_run
        from fieldsim.files.noted import noted

        with noted() as files:
            read = study.read(given)
        found = study.ask(read, given, watch)
        digests = tuple((each.name, digest) for each, digest in files.items())
        written = found.save(folder, Origin(f"fieldsim {name} {path}", digests))
    except (FieldsimError, WrongWordsError, OSError, ValueError) as problem:
        lines = getattr(problem, "lines", None) or str(problem).splitlines()
        return Answered(name, over=True, wrong=tuple(map(str, lines[:8])))
    made = Answered(
        name, over=True,
        picture=next((each for each in written if each.suffix == ".png"), None),
        report=next((each for each in written if each.suffix == ".html"), None),
    )  # fmt: skip
    if found.statement is None:
        first, *rest = found.text(100, False).splitlines() or [""]
        return replace(made, headline=first, further=tuple(rest))
    told = found.statement()
    return replace(
        made, headline=told.headline or told.title, further=tuple(told.further), advice=tuple(told.advice),
        changes=found.changes, run=load_run(path) if found.changes else None,
    )  # fmt: skip


def _card(path: Path, folder: Path, watch: Watch) -> Answered:
    from fieldsim.cards.run.card import make_card
    from fieldsim.cards.run.pages import card_file
    from fieldsim.cards.run.text import card_text
    from fieldsim.files import load_run
    from fieldsim.studies.attempt import KEPT, attempt
    from fieldsim.studies.slack import start_limits

    run = load_run(path)
    tried = attempt(run, keep=KEPT, watch=watch)
    place = folder / f"{path.stem}-card.pdf"
    off = None if tried.answer.interrupted else start_limits(run, tried.answer.trials, tried.answer.seed)
    card = make_card(tried, str(path), "A4", str(place), off)
    place.write_bytes(card_file(run, card, "pdf"))
    lines = [line.strip() for line in card_text(card).splitlines() if line.strip()]
    return Answered(CARD, over=True, headline=tr("The card is made"), further=tuple(lines[:12]), report=place)


class Asking:
    """The thread. One study at a time; asking another one breaks off the one before."""

    def __init__(self, path: Path) -> None:
        self.path = path
        self.folder = Path(tempfile.mkdtemp(prefix="fieldsim-"))
        self._errand = Errand(
            "fieldsim studies",
            self._answered,
            Answered,
            lambda name, problem: Answered(name, over=True, wrong=(tr(MISTAKE), repr(problem))),
        )

    def ask(self, name: str) -> None:
        self._errand.ask(name)

    def cancel(self) -> None:
        self._errand.cancel()

    def news(self) -> dict[str, Answered]:
        return dict(self._errand.news())

    @property
    def busy(self) -> bool:
        return self._errand.busy

    def close(self, wait: float = 5.0) -> bool:
        """End the thread, and take the reports away."""
        ended = self._errand.close(wait)
        shutil.rmtree(self.folder, ignore_errors=True)
        return ended

    def _answered(self, name: str, watch: Watch) -> Answered:
        place = self.folder / name
        place.mkdir(exist_ok=True)
        return answered(name, self.path, place, watch)


MISTAKE = tr_later("This study cannot be asked, and that is fieldsim's mistake.")
