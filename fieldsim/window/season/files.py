"""A season on the disk: which files of a folder are ours, and what can be begun, copied, renamed and put away there.

Nothing here replaces a file. What is deleted goes to the folder ``trash`` inside the season, under a name of its own.
"""

from __future__ import annotations

import json
import os
import re
import shutil
import tempfile
from collections.abc import Iterable, Iterator
from contextlib import suppress
from dataclasses import dataclass, replace
from itertools import count
from os.path import abspath, relpath
from pathlib import Path
from typing import Any

from fieldsim.files import kind_of, load_field, load_match, load_robot, load_run
from fieldsim.files.changing import changed
from fieldsim.files.forms import KINDS
from fieldsim.files.fresh import free_name, unwritten, write_fresh
from fieldsim.files.meant import looks_like_ours
from fieldsim.files.nodes import ENDINGS
from fieldsim.files.saving import replace_file
from fieldsim.files.sheets import is_log, load_log, load_sheet
from fieldsim.files.starter import starter_text
from fieldsim.files.writing import new_run_text
from fieldsim.language import tr, tr_as
from fieldsim.model import Field, Run, StartByEye, Wait
from fieldsim.model.errors import FileError, PlanError, SaveError, shown
from fieldsim.model.field import shape_bounds
from fieldsim.window.field.files import begins_field
from fieldsim.window.recovery import state_folder

__all__ = [
    "TABLES",
    "TRASH",
    "Item",
    "Season",
    "begin_robot",
    "begin_run",
    "duplicate",
    "first_start",
    "free_name",
    "load",
    "look",
    "meant_by_name",
    "nothing_yet",
    "put_away",
    "put_back",
    "recent_seasons",
    "remember_season",
    "rename",
    "take_over",
    "users_of",
]

TRASH = "trash"
TABLES = ("tests", "log")
ORDER = ("run", "field", "robot", "match", "tests", "log")
# A season has some dozens of files, and folders in its folder; more are not looked into.
MOST_FILES, DEEP = 300, 3
# Seasons that are remembered.
MOST_SEASONS = 6
_SKIPPED = frozenset((TRASH, "node_modules", "__pycache__", "site-packages"))
_LINE = re.compile(r"^(run|field|robot|match)[ \t]*:[ \t]*(.*?)[ \t]*(?:#.*)?$", re.MULTILINE)


@dataclass(frozen=True)
class Item:
    """A file of a season. ``name`` is what it calls itself, or the file's own name."""

    kind: str
    """'run', 'field', 'robot', 'match', 'tests' or 'log'."""
    path: Path
    name: str
    uses: tuple[Path, ...] = ()
    """The files that it names: field and robot of a run."""
    mark: tuple[int, int] = (0, 0)
    """Time and size: another one is another content."""


@dataclass(frozen=True)
class Season:
    """What there is in a folder."""

    folder: Path
    items: tuple[Item, ...]

    def of(self, *kinds: str) -> tuple[Item, ...]:
        return tuple(item for item in self.items if item.kind in kinds)

    def item(self, path: Path | None) -> Item | None:
        return next((item for item in self.items if item.path == path), None)


def look(folder: Path) -> Season:
    """The files of a folder and of those in it that are ours; besides fields and robots elsewhere that its runs name.
    A folder that cannot be read is an empty season."""
    found: dict[str, Item] = {}
    for path in _files(folder):
        item = _item(path)
        if item is not None:
            found[abspath(path)] = item
    for item in tuple(found.values()):
        for used in item.uses:
            if abspath(used) not in found and used.is_file():
                other = _item(used)
                if other is not None:
                    found[abspath(used)] = other
    items = sorted(found.values(), key=lambda item: (ORDER.index(item.kind), item.name.casefold(), str(item.path)))
    return Season(folder, tuple(items))


def _files(folder: Path) -> Iterator[Path]:
    seen = 0
    at = [(folder, 0)]
    while at:
        here, deep = at.pop(0)
        try:
            inside = sorted(here.iterdir())
        except OSError:
            continue
        for path in inside:
            if path.name.startswith(".") or path.name in _SKIPPED:
                continue
            if path.is_dir():
                if deep + 1 < DEEP and not (path / "pyvenv.cfg").exists():
                    at.append((path, deep + 1))
            elif path.suffix.casefold() in (*ENDINGS, ".csv"):
                seen += 1
                if seen > MOST_FILES:
                    return
                yield path


def _item(path: Path) -> Item | None:
    """A file as far as its first lines tell; None if it is none of ours."""
    try:
        told = path.stat()
        mark = told.st_mtime_ns, told.st_size
        if path.suffix.casefold() == ".csv":
            return _table(path, mark)
        text = path.read_text(encoding="utf-8", errors="replace")
    except (OSError, ValueError):
        return None
    keys = {match[1]: match[2].strip("\"'") for match in reversed(list(_LINE.finditer(text)))}
    kind = next((word for word in KINDS if word in keys), None)
    if kind is None or not looks_like_ours(path):
        return None
    uses: tuple[Path, ...] = ()
    if kind == "run":
        uses = tuple(Path(os.path.normpath(path.parent / keys[word])) for word in ("field", "robot") if keys.get(word))
    return Item(kind, path, keys[kind] or path.stem, uses, mark)


def _table(path: Path, mark: tuple[int, int]) -> Item | None:
    """A sheet of tests or a log. Any other table is nobody's business, but one that is called so has a mistake."""
    try:
        kind = "log" if is_log(path) else "tests"
        (load_log if kind == "log" else load_sheet)(path)
    except FileError:
        if path.stem.casefold() not in TABLES:
            return None
        kind = path.stem.casefold()
    return Item(kind, path, path.name, (), mark)


def load(item: Item) -> Any:
    """What a file holds, as the model has it. Raises FileError."""
    loaders = {
        "run": load_run, "field": load_field, "robot": load_robot, "match": load_match, "tests": load_sheet,
        "log": load_log,
    }  # fmt: skip
    return loaders[item.kind](item.path)


def users_of(season: Season, path: Path) -> tuple[Item, ...]:
    """The runs that name a file."""
    return tuple(item for item in season.of("run") if any(abspath(used) == abspath(path) for used in item.uses))


# --- something new -------------------------------------------------------------------------------------------------


def meant_by_name(path: Path) -> str:
    """What a file that is not there is to become, by its name or its folder: 'field', 'robot', 'run', or '' where it
    does not say."""
    if begins_field(path):
        return "field"
    if path.suffix.casefold() not in ENDINGS:
        return ""
    words = path.stem.casefold()
    for kind, told in (
        ("robot", tr_as("in the name of a file", "robot")),
        ("run", tr_as("in the name of a file", "run")),
    ):
        parts = re.split(r"[^\w]+|_", words)
        if any(part in (kind, told.casefold()) for part in parts) or path.absolute().parent.name == f"{kind}s":
            return kind
    return ""


def nothing_yet(run: Run) -> bool:
    """Whether a run was begun from nothing: it only stands at its start."""
    return run.segments == (Wait(0.0),)


def first_start(field: Field) -> str | StartByEye:
    """Where a new run starts: in the field's first jig, else by eye in its first start area, else in the middle."""
    if field.jigs:
        return field.jigs[0].name
    x, y = field.size[0] / 2, field.size[1] / 2
    if field.start_areas:
        low_x, low_y, high_x, high_y = shape_bounds(field.start_areas[0].shape)
        x, y = (low_x + high_x) / 2, (low_y + high_y) / 2
    return StartByEye((min(max(x, 0.0), field.size[0]), min(max(y, 0.0), field.size[1])), 90.0)


def begin_run(
    season: Season, name: str, field_file: Path, robot_file: Path, start: str | StartByEye | None = None,
    file: Path | None = None,
) -> Path:  # fmt: skip
    """Write a run that only stands at its start, on a field with a robot; its file. It lies beside the runs that drive
    there already, unless ``file`` says where. Raises FileError, PlanError, SaveError."""
    field, robot = load_field(field_file), load_robot(robot_file)
    run = Run(name.strip(), field, robot, first_start(field) if start is None else start, (Wait(0.0),))
    return _write_run(season, run, field_file, robot_file, file)


def take_over(season: Season, run: Run, field_file: Path, robot_file: Path) -> Path:
    """Write a run that was proposed; its file, beside the runs that drive on that field. Its name is made another one
    if there is one called so. Raises SaveError."""
    taken = {item.name for item in season.of("run")}
    names = (f"{run.name} ({number})" for number in count(2))
    name = run.name if run.name not in taken else next(each for each in names if each not in taken)
    return _write_run(season, replace(run, name=name), field_file, robot_file)


def _write_run(season: Season, run: Run, field_file: Path, robot_file: Path, file: Path | None = None) -> Path:
    beside = [*users_of(season, field_file), *season.of("run")]
    path = file or free_name(beside[0].path.parent if beside else season.folder, run.name)
    return write_fresh(
        path, new_run_text(run, _seen_from(path.parent, field_file), _seen_from(path.parent, robot_file))
    )


def begin_robot(season: Season, name: str, file: Path | None = None) -> Path:
    """Write a robot to start from, under a name; its file. Raises SaveError."""
    beside = season.of("robot")
    path = file or free_name(beside[0].path.parent if beside else season.folder, name)
    return write_fresh(path, changed(starter_text("robot.yaml").decode(), {("robot",): _named(name)}))


def _named(name: str) -> str:
    """A name that the model takes: all of them are alike. Raises SaveError."""
    name = " ".join(name.split())
    try:
        return Field(name, (100.0, 100.0)).name
    except PlanError as problem:
        raise SaveError(problem.lines[0]) from None


def _seen_from(folder: Path, path: Path) -> str:
    try:
        return Path(relpath(path, folder)).as_posix()
    except ValueError:
        # On another drive.
        return path.resolve().as_posix()


# --- what is there -------------------------------------------------------------------------------------------------


def duplicate(item: Item, taken: Iterable[str]) -> Path:
    """The same once more under another name, in a file beside it. Raises FileError, SaveError."""
    names = set(taken)
    number = 2
    while f"{item.name} {number}" in names:
        number += 1
    if item.kind in TABLES:
        try:
            text = item.path.read_bytes()
        except OSError as problem:
            raise unwritten(item.path, problem) from None
        return write_fresh(free_name(item.path.parent, item.path.stem, ".csv"), text)
    name = f"{item.name} {number}"
    return write_fresh(free_name(item.path.parent, name, item.path.suffix), _renamed(item, name))


def rename(item: Item, name: str) -> Path:
    """Call it something else; its file, which for a table is another one. A field's, robot's and run's file keeps its
    own name, since others name it. Raises FileError, SaveError."""
    if item.kind in TABLES:
        name = _named(name)
        to = item.path.with_name(name if name.casefold().endswith(".csv") else f"{name}.csv")
        try:
            if os.path.lexists(to):
                raise FileExistsError(17, os.strerror(17))
            os.rename(item.path, to)
        except (OSError, ValueError) as problem:
            raise unwritten(to, problem) from None
        return to
    replace_file(item.path, _renamed(item, name))
    return item.path


def _renamed(item: Item, name: str) -> str:
    """The text of a file with another name in it, comments kept. Raises FileError if it cannot be read, SaveError."""
    kind_of(item.path)
    try:
        with item.path.open(encoding="utf-8-sig", newline="") as file:
            return changed(file.read().replace("\r\n", "\n"), {(item.kind,): _named(name)})
    except OSError as problem:
        raise unwritten(item.path, problem) from None
    except ValueError as problem:
        raise SaveError(tr("nothing was written: {reason}", reason=shown(str(problem), 200))) from None


def put_away(season: Season, item: Item) -> Path:
    """Move a file to the season's trash; where it lies there. Raises SaveError."""
    trash = season.folder / TRASH
    try:
        trash.mkdir(exist_ok=True)
        to = trash / item.path.name
        number = 2
        while os.path.lexists(to):
            to = trash / f"{item.path.stem}-{number}{item.path.suffix}"
            number += 1
        shutil.move(item.path, to)
    except OSError as problem:
        raise SaveError(
            tr("{file} could not be put away: {reason}", file=shown(item.path.name),
               reason=tr(problem.strerror or str(problem)))
        ) from None  # fmt: skip
    return to


def put_back(was: Path, trashed: Path) -> None:
    """Take a file out of the trash again. Raises SaveError if there is another one in its place."""
    try:
        if os.path.lexists(was):
            raise FileExistsError(17, os.strerror(17))
        shutil.move(trashed, was)
    except OSError as problem:
        raise unwritten(was, problem) from None


# --- seasons that were open ----------------------------------------------------------------------------------------


def _memory(folder: Path | None) -> Path:
    return (state_folder().parent if folder is None else folder) / "seasons.json"


def recent_seasons(folder: Path | None = None) -> tuple[Path, ...]:
    """Folders that were open as seasons, the last one first; those that are gone are left out. ``folder`` None: the
    user's own place."""
    try:
        found: Any = json.loads(_memory(folder).read_text(encoding="utf-8"))
    except (OSError, ValueError, RecursionError):
        return ()
    if not isinstance(found, list):
        return ()
    paths = [Path(each) for each in found[:MOST_SEASONS] if isinstance(each, str) and "\0" not in each]
    return tuple(path for path in paths if path.is_dir())


def remember_season(season: Path, folder: Path | None = None) -> None:
    """Remember that a folder was open. A disk that takes nothing is no reason to trouble anybody."""
    here = Path(abspath(season))
    paths = [here, *(path for path in recent_seasons(folder) if path != here)][:MOST_SEASONS]
    place = _memory(folder)
    with suppress(OSError):
        place.parent.mkdir(parents=True, exist_ok=True)
        handle, name = tempfile.mkstemp(dir=place.parent, prefix=".seasons-", suffix=".part")
        with os.fdopen(handle, "w", encoding="utf-8") as file:
            json.dump([str(path) for path in paths], file)
        os.replace(name, place)
