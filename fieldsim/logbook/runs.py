"""The runs that a log names: their files found, and every name in the log held against them."""

from __future__ import annotations

import datetime
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import replace
from pathlib import Path

from fieldsim.files import load_run
from fieldsim.files.meant import distinct
from fieldsim.files.nodes import ENDINGS, is_text, read
from fieldsim.files.sheets import LogRows
from fieldsim.language import tr, tr_later, tr_many
from fieldsim.model import WALLS, Act, Arc, LineSquare, Run, Segment, Square, Straight, Turn, Until, Wait
from fieldsim.model.bounds import nearest
from fieldsim.model.errors import FileError, Problem, shown
from fieldsim.model.measured import Log, LogEntry

# A tape is read in whole millimetres.
TAPE = 0.5


def read_log(log_path: str | Path, today: datetime.date | None = None) -> tuple[Log, dict[str, Run]]:
    """The log in a CSV file, and the runs it names, by the word it uses.

    Raises FileError with every mistake at once: cells that cannot be read, names that nothing has, rows that contradict
    themselves or their run, days that cannot be, and what is wrong in the runs. ``today`` is the day by the computer's
    clock.
    """
    path = Path(log_path)
    rows = LogRows.of(path)
    log = Log(tuple(rows.records))
    entries, runs, problems = _looked_up(path, log, rows)
    now = today or datetime.date.today()
    problems += [
        rows.problem(entry, column, message, hint)
        for entry in log.entries
        for column, message, hint in _days_that_cannot_be(entry, now)
    ]
    _refuse([*rows.problems, *problems])
    return Log(tuple(entries)), runs


def _refuse(problems: Iterable[Problem]) -> None:
    # A name that is wrong in many rows is said in each, since each must be mended.
    found = sorted(distinct(problems), key=lambda p: (p.file, p.line, p.column))
    if found:
        raise FileError(found)


def _looked_up(path: Path, log: Log, rows: LogRows) -> tuple[list[LogEntry], dict[str, Run], list[Problem]]:
    """The entries with names spelt as their run spells them, the runs of a log by its words, and what is wrong with its
    names, its rows and its runs."""
    files = {file.name: file for file in sorted(_listed(path.parent)) if file.suffix.lower() in ENDINGS}
    names = {file: name for file in files.values() if (name := _run_name(file)) is not None}
    problems: list[Problem] = []
    words: dict[str, list[Path]] = {}
    loaded: dict[Path, Run | None] = {}
    runs: dict[str, Run] = {}
    entries: list[LogEntry] = []
    asked: set[str] = set()
    for entry in log.entries:
        found = words.setdefault(entry.run, _meant(entry.run, files, names))
        if len(found) != 1:
            # Which of several was meant is one question, however many rows ask it.
            if found and entry.run in asked:
                continue
            asked.add(entry.run)
            problems.append(rows.problem(entry, "run", *_not_one(entry.run, found, names)))
            continue
        if found[0] not in loaded:
            loaded[found[0]] = None
            try:
                loaded[found[0]] = load_run(found[0])
            except FileError as refused:
                problems += refused.problems
        run = loaded[found[0]]
        if run is None:
            continue
        runs[entry.run] = run
        entry = _spelt(entry, run)
        entries.append(entry)
        said = [*_strangers(entry, run), *_contradictions(entry, run)]
        problems += [rows.problem(entry, column, message, hint) for column, message, hint in said]
    return entries, runs, problems


def _spelt(entry: LogEntry, run: Run) -> LogEntry:
    """The entry with names in capitals or small letters as the run's field has them."""
    known = {name for names in _places(run, entry.result).values() for name in names}
    targets = {item.name for item in run.field.targets}

    def own(word: str | None, known: set[str]) -> str | None:
        if word is None or word in known:
            return word
        alike = {name for name in known if name.casefold() == word.casefold()}
        return alike.pop() if len(alike) == 1 else word

    return replace(entry, where=own(entry.where, known), target=own(entry.target, targets))


def _not_one(word: str, found: Sequence[Path], names: Mapping[Path, str]) -> tuple[str, str]:
    """What to say of a word that means no run or several: a message and a hint."""
    if found:
        there = ", ".join(f"'{shown(file.name)}'" for file in found)
        return tr("'{word}' may be any of {there}", word=shown(word), there=there), tr("write the name of the file")
    known = [*dict.fromkeys(names.values()), *(file.name for file in names)]
    guess = nearest(word, known)
    listed = ", ".join(shown(name) for name in dict.fromkeys(names.values())) or tr("none")
    hint = _guessed(guess, tr("runs in the log's folder: {names}", names=listed))
    return tr("there is no run '{word}' beside the log", word=shown(word)), hint


def _guessed(guess: str | None, hint: str) -> str:
    return tr("did you mean '{guess}'? {hint}", guess=shown(guess), hint=hint) if guess else hint


def _listed(folder: Path) -> Iterable[Path]:
    try:
        return list(folder.iterdir())
    except OSError:
        return []


def _run_name(path: Path) -> str | None:
    """What a file says after 'run:', None if it is no run or cannot be read."""
    try:
        document = read(path)
    except FileError:
        return None
    return next((node.value for key, node in document.root.value if key.value == "run" and is_text(node)), None)


def _meant(word: str, files: Mapping[str, Path], names: Mapping[Path, str]) -> list[Path]:
    """The files that a word of a log may mean."""
    if word in files:
        return [files[word]]
    folded = word.casefold()
    return [
        file
        for name, file in files.items()
        if folded in (name.casefold(), file.stem.casefold()) or folded == names.get(file, "").casefold()
    ]


def _places(run: Run, result: str) -> dict[str, tuple[str, ...]]:
    """What a result may name, by what it is."""
    field = run.field
    aligned = tuple(segment.against for segment in run.segments if isinstance(segment, Square))
    solid = {"obstacle": tuple(item.name for item in field.obstacles), "wall": WALLS}
    other = {
        "target": tuple(item.name for item in field.targets),
        "start area": tuple(item.name for item in field.start_areas),
        "line": tuple(item.name for item in field.lines),
    }
    if result == "touched":
        return solid
    return other | {"wall": aligned} if result == "missed" else solid | other


def _strangers(entry: LogEntry, run: Run) -> Iterator[tuple[str, str, str]]:
    """Words of an entry that its run knows nothing of: the column, what is wrong with it, and a hint."""

    def unknown(key: str, word: str, kinds: Mapping[str, tuple[str, ...]]) -> tuple[str, str, str]:
        known = [name for names in kinds.values() for name in dict.fromkeys(names)]
        guess = nearest(word, known)
        hint = "; ".join(
            tr(_LISTED[kind], names=", ".join(shown(name) for name in dict.fromkeys(names)))
            for kind, names in kinds.items()
            if names
        )
        of = tr(" or ").join(tr(kind) for kind, names in kinds.items() if names) or tr("target")
        text = tr(
            "'{key}' names '{word}', which is no {kind} of {field}",
            key=key, word=shown(word), kind=of, field=shown(run.field.name),
        )  # fmt: skip
        return key, text, _guessed(guess, hint)

    places = _places(run, entry.result)
    if entry.where is not None and not any(entry.where in names for names in places.values()):
        yield unknown("where", entry.where, places)
    targets = {"target": tuple(item.name for item in run.field.targets)}
    if entry.target is not None and entry.target not in targets["target"]:
        yield unknown("target", entry.target, targets)
    if entry.segment is not None and entry.segment > len(run.segments):
        text = tr_many(
            "'segment' is {number}, but {run} has {n} segment",
            "'segment' is {number}, but {run} has {n} segments",
            len(run.segments), number=entry.segment, run=shown(run.name),
        )  # fmt: skip
        yield "segment", text, tr("the first is 1")


def _contradictions(entry: LogEntry, run: Run) -> Iterator[tuple[str, str, str]]:
    """Two cells of an entry that cannot both be true: the column of the second, what is wrong, and a hint."""
    acts: dict[str, list[int]] = {}
    for number, segment in enumerate(run.segments, start=1):
        if isinstance(segment, Act):
            acts.setdefault(segment.target, []).append(number)
    name = entry.target or (entry.where if entry.result == "missed" else None)
    target = next((each for each in run.field.targets if each.name == name and name in acts), None)
    if target is not None and entry.miss is not None:
        values = {"miss": entry.miss, "target": shown(target.name), "within": target.within}
        if entry.result == "through" and entry.miss - TAPE > target.within:
            yield (
                "miss mm",
                tr(
                    "'result' is through, but 'miss mm' is {miss:g}, and {target} allows {within:g} mm: that is a miss",
                    **values,
                ),
                tr("write missed, with {name} under 'where', or mend the number", name=shown(target.name)),
            )
        if (
            entry.result == "missed"
            and (entry.where or target.name) == target.name
            # It may have missed the target at another time, or by its heading.
            and len(acts[target.name]) == 1
            and target.heading is None
            and entry.miss + TAPE <= target.within
        ):
            yield (
                "miss mm",
                tr(
                    "'result' is missed, but 'miss mm' is {miss:g}, and {target} allows {within:g} mm: that is a hit",
                    **values,
                ),
                tr("write through, or mend the number; if it missed something else, name that under 'where'"),
            )
    if entry.segment is None or entry.segment > len(run.segments):
        return
    here = run.segments[entry.segment - 1]
    if entry.result == "missed":
        column, missed = ("where", entry.where) if entry.where is not None else ("target", entry.target)
        places = acts.get(missed or "", [])
        walls = [
            n for n, each in enumerate(run.segments, start=1) if isinstance(each, Square) and each.against == missed
        ]
        right = places or walls
        if right and entry.segment not in right:
            numbers = tr(" or ").join(map(str, right))
            where = tr_later("the act at {name} is segment {numbers}")
            if not places:
                where = tr_later("the square against {name} is segment {numbers}")
            yield (
                "segment",
                _elsewhere(column, missed, entry.segment, here),
                tr(where, name=shown(missed or ""), numbers=numbers),
            )
    elif entry.result == "through" and isinstance(here, Act) and entry.target in acts and here.target != entry.target:
        yield (
            "segment",
            _elsewhere("target", entry.target, entry.segment, here),
            tr(
                "the act at {name} is segment {numbers}",
                name=shown(entry.target or ""), numbers=tr(" or ").join(map(str, acts[entry.target or ""])),
            ),
        )  # fmt: skip


def _elsewhere(column: str, word: str | None, number: int, segment: Segment) -> str:
    """A cell names what another segment is for."""
    if isinstance(segment, Act):
        described = tr("the act at {name}", name=shown(segment.target))
    else:
        described = tr(_KIND[type(segment)])
    return tr(
        "'{column}' is {word}, but 'segment' is {number}, {described}",
        column=column, word=shown(word or ""), number=number, described=described,
    )  # fmt: skip


_KIND: Mapping[type[Segment], str] = {
    Straight: tr_later("which is a straight"),
    Turn: tr_later("which is a turn"),
    Arc: tr_later("which is an arc"),
    Square: tr_later("which is a square"),
    LineSquare: tr_later("which is a line square"),
    Until: tr_later("which is an until"),
    Wait: tr_later("which is a wait"),
}
_LISTED = {
    "obstacle": tr_later("obstacles: {names}"),
    tr_later("wall"): tr_later("walls: {names}"),
    "target": tr_later("targets: {names}"),
    "start area": tr_later("start areas: {names}"),
    "line": tr_later("lines: {names}"),
}


def _days_that_cannot_be(entry: LogEntry, today: datetime.date) -> Iterator[tuple[str, str, str]]:
    """A date in the future: the column, what is wrong, and a hint."""
    if entry.date is None:
        return
    # Tomorrow may be today elsewhere.
    if entry.date > today + datetime.timedelta(days=1):
        text = tr(
            "'date' is {date}, but today is {today} by this computer's clock",
            date=entry.date.isoformat(),
            today=today.isoformat(),
        )
        yield "date", text, tr("a log is of runs already driven: is it the right year, and is the clock right?")
