"""A blank sheet for a robot's tests, as values: the columns of its file, with what is asked for written in."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Annotated, ClassVar, Literal

from fieldsim.answers import Told
from fieldsim.cards.shared import PAPERS, header
from fieldsim.files.sheets import blank_sheet
from fieldsim.model import (
    Robot,
)


@dataclass(frozen=True)
class BlankTable:
    """The rows to fill in for one kind of test: its columns among those of ``files.sheets.blank_sheet``, and what is
    written in them already, a row each ('' where there is room)."""

    kind: str
    columns: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]


@dataclass(frozen=True)
class BlankTests:
    """A blank sheet for a robot's tests."""

    command: ClassVar[Literal["card"]] = "card"
    version: Annotated[str, "of fieldsim"]
    robot: str
    speed: Annotated[float, "mm/s"]
    turn_speed: Annotated[float, "degrees/s"]
    mode: Annotated[str, Told("what it knows its heading from", one_of=("wheels", "gyro"))]
    columns: tuple[str, ...]
    """All columns of the file, in its order."""
    tables: tuple[BlankTable, ...]
    paper: Annotated[str, Told(one_of=("A4", "Letter"))]


_ALWAYS = {"date", "test", "note"}
_USED: dict[str, set[str]] = {
    "straight": {
        "heading from", "speed mm/s", "commanded mm", "travel mm", "sideways mm", "heading deg", "tape mm",
    },
    "turn": {
        "heading from", "turn speed deg/s", "commanded deg", "angle deg", "near mm", "far mm", "side mm", "tape mm",
    },
    "square path": {
        "heading from", "speed mm/s", "turn speed deg/s", "side mm", "direction", "return x mm", "return y mm",
        "heading deg", "tape mm",
    },
    "there and back": {
        "heading from", "speed mm/s", "commanded mm", "return x mm", "return y mm", "heading deg", "tape mm",
    },
    "placing": {"jig", "along mm", "across mm", "heading deg", "tape mm"},
    "square": {"face", "angle deg", "along mm", "near mm", "far mm", "side mm", "result", "tape mm"},
    "drop": {"result", "came off"},
}  # fmt: skip

# What the README asks for: two lengths, quarter and whole turns both ways, square paths both ways, there and back, a
# jig six times, square from five degrees off.
_WRITTEN: dict[str, list[dict[str, str]]] = {
    "straight": [{"commanded mm": way} for way in ("300",) * 5 + ("1000",) * 5],
    "turn": [{"commanded deg": angle} for angle in (*("90", "-90") * 3, *("360", "-360") * 2)],
    "square path": [{"direction": way} for way in ("cw", "ccw") * 3],
    "there and back": [{"commanded mm": "300"} for _ in range(4)],
    "placing": [{} for _ in range(6)],
    "square": [{"angle deg": angle} for angle in ("5", "-5", "5", "-5", "10", "-10", "20", "-20")],
    "drop": [{} for _ in range(2)],
}  # fmt: skip


def blank_tests(robot: Robot, version: str, paper: str = "A4") -> BlankTests:
    """A blank sheet for this robot's tests, with what is asked for written in.

    Raises ValueError for a paper that is not one of ``PAPERS``.
    """
    if paper not in PAPERS:
        raise ValueError(f"paper={paper!r} must be one of {tuple(PAPERS)}")
    columns = header(blank_sheet())
    tables = []
    for kind, used in _USED.items():
        mine = tuple(column for column in columns if column in used | _ALWAYS)
        told = {"test": kind} | ({"heading from": robot.drive.heading_from} if "heading from" in used else {})
        rows = tuple(tuple((told | row).get(column, "") for column in mine) for row in _WRITTEN[kind])
        tables.append(BlankTable(kind, mine, rows))
    drive = robot.drive
    return BlankTests(
        version, robot.name, drive.speed, drive.turn_speed, drive.heading_from, columns, tuple(tables), paper
    )
