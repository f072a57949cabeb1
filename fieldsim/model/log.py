"""What a team has seen at the table: a log of runs really driven. Immutable values, in mm and seconds."""

from __future__ import annotations

import datetime
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Annotated, ClassVar, Literal

from fieldsim.language import tr
from fieldsim.model.bounds import Checked, Choice, Many, Maybe, Name, Number, Record, Rule
from fieldsim.model.errors import Complaint
from fieldsim.model.quantities import ROBOT
from fieldsim.model.readings import MOST_ROWS, Count, Day, FileLine, Text
from fieldsim.model.units import LENGTH, TIME


def _where_fits(result: str, where: str | None) -> Iterator[Complaint]:
    if result == "touched" and where is None:
        yield Complaint(("where",), tr("is empty, but the run touched something"), tr("name the obstacle it touched"))
    if result == "through" and where is not None:
        text = tr("names a place, but a run that went through had trouble nowhere")
        yield Complaint(("where",), text, tr("leave it empty, or change the result to touched, missed or stopped"))


def _miss_has_target(result: str, where: str | None, target: str | None, miss: float | None) -> Iterator[Complaint]:
    if miss is not None and target is None and not (result == "missed" and where is not None):
        yield Complaint(("target",), tr("is empty, but a miss was measured"), tr("name the target it was measured at"))


@dataclass(frozen=True, kw_only=True)
class LogEntry(Checked):
    """One run driven at the table. ``run`` is its name or its file; ``where`` the obstacle or target at which it came
    to grief, ``segment`` the segment that was (from 1). ``miss`` is how far the tool was from ``target``, mm (from
    ``where``, if a run missed and names no target); ``seconds`` how long it all took."""

    noun: ClassVar[str] = "log entry"
    rules: ClassVar[tuple[Rule, ...]] = (
        Rule(("result", "where"), _where_fits),
        Rule(("result", "where", "target", "miss"), _miss_has_target),
    )

    line: FileLine
    date: Annotated[datetime.date | None, Maybe(Day()), "The day of the run."] = None
    run: Annotated[str, Name("the name of a run or of its file"), "The run: its name or its file."]
    result: Annotated[
        Literal["through", "touched", "missed", "stopped"],
        Choice(("through", "touched", "missed", "stopped")),
        "How it ended.",
    ]
    where: Annotated[
        str | None,
        Maybe(Name("the name of an obstacle or a target")),
        "The obstacle it touched, or the target it missed.",
    ] = None
    segment: Annotated[int | None, Maybe(Count()), "The segment it was on, counted from 1."] = None
    target: Annotated[str | None, Maybe(Name("the name of a target")), "The target whose miss was measured."] = None
    miss: Annotated[
        float | None, Maybe(Number(LENGTH, least=0.0, most=ROBOT)), "How far the tool was from the target, mm."
    ] = None
    seconds: Annotated[
        float | None, Maybe(Number(TIME, above=0.0, most=3_600.0)), "How long the run took, seconds."
    ] = None
    note: Annotated[str, Text(), "Anything worth remembering."] = ""


@dataclass(frozen=True)
class Log(Checked):
    """All runs of a log, in the file's order."""

    noun: ClassVar[str] = "log"

    entries: Annotated[tuple[LogEntry, ...], Many(Record(LogEntry), most=MOST_ROWS), "The runs, in order."] = ()
