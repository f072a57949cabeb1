"""The runs that a log names: their files found, and every name in the log held against them."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from pathlib import Path

from fieldsim.bounds import nearest
from fieldsim.errors import FileError, Problem, shown
from fieldsim.files import load_run
from fieldsim.files.nodes import is_text, read
from fieldsim.measured import Log, LogEntry
from fieldsim.model import WALLS, Run, Square


def find_runs(log_path: str | Path, log: Log) -> dict[str, Run]:
    """The runs a log names, by the word it uses. Reads files; nothing else of the log study does.

    A word is a run's name (upper or lower case) or the name of its file, with or without .yaml, in the log's folder.
    Raises FileError with every name that nothing has, at the line of its entry, and with what is wrong in the runs.
    """
    path = Path(log_path)
    lines = _source(path)
    files = {file.name: file for file in sorted(_listed(path.parent)) if file.suffix.lower() in (".yaml", ".yml")}
    names = {file: name for file in files.values() if (name := _run_name(file)) is not None}
    problems: list[Problem] = []

    def wrong(entry: LogEntry, word: str, message: str, hint: str) -> None:
        source = lines[entry.line - 1] if entry.line <= len(lines) else ""
        at = source.casefold().find(word.casefold())
        problems.append(
            Problem(str(log_path), entry.line, max(at, 0) + 1, message, source, hint, len(word) if at >= 0 else 1)
        )

    words: dict[str, Run | None] = {}
    loaded: dict[Path, Run | None] = {}
    for entry in log.entries:
        if entry.run not in words:
            words[entry.run] = None
            found = _meant(entry.run, files, names)
            if len(found) == 1:
                if found[0] not in loaded:
                    loaded[found[0]] = None
                    try:
                        loaded[found[0]] = load_run(found[0])
                    except FileError as refused:
                        problems += refused.problems
                words[entry.run] = loaded[found[0]]
            elif found:
                there = ", ".join(f"'{shown(file.name)}'" for file in found)
                wrong(entry, entry.run, f"'{shown(entry.run)}' may be any of {there}", "write the name of the file")
            else:
                known = [*dict.fromkeys(names.values()), *(file.name for file in names)]
                guess = nearest(entry.run, known)
                listed = ", ".join(shown(name) for name in dict.fromkeys(names.values())) or "none"
                hint = (f"did you mean '{shown(guess)}'? " if guess else "") + f"runs in the log's folder: {listed}"
                wrong(entry, entry.run, f"there is no run '{shown(entry.run)}' beside the log", hint)
        run = words[entry.run]
        if run is not None:
            for word, message, hint in _strangers(entry, run):
                wrong(entry, word, message, hint)
    if problems:
        raise FileError(sorted(dict.fromkeys(problems), key=lambda p: (p.file, p.line, p.column)))
    return {word: run for word, run in words.items() if run is not None}


def _source(path: Path) -> list[str]:
    """The log's lines, to be quoted; none if it is not in plain UTF-8: then there is a line number and no quote."""
    try:
        return path.read_text(encoding="utf-8-sig").split("\n")
    except (OSError, ValueError):
        return []


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
    """Words of an entry that its run knows nothing of: the word, what is wrong with it, and a hint."""

    def unknown(key: str, word: str, kinds: Mapping[str, tuple[str, ...]]) -> tuple[str, str, str]:
        known = [name for names in kinds.values() for name in dict.fromkeys(names)]
        guess = nearest(word, known)
        hint = (f"did you mean '{shown(guess)}'? " if guess else "") + "; ".join(
            f"{kind}s: {', '.join(shown(name) for name in dict.fromkeys(names))}"
            for kind, names in kinds.items()
            if names
        )
        of = " or ".join(kind for kind, names in kinds.items() if names) or "target"
        return word, f"'{key}' names '{shown(word)}', which is no {of} of {shown(run.field.name)}", hint

    places = _places(run, entry.result)
    if entry.where is not None and not any(entry.where in names for names in places.values()):
        yield unknown("where", entry.where, places)
    targets = {"target": tuple(item.name for item in run.field.targets)}
    if entry.target is not None and entry.target not in targets["target"]:
        yield unknown("target", entry.target, targets)
    if entry.segment is not None and entry.segment > len(run.segments):
        count = len(run.segments)
        has = f"{count} segment{'' if count == 1 else 's'}"
        yield str(entry.segment), f"'segment' is {entry.segment}, but {shown(run.name)} has {has}", "the first is 1"
