"""Runs that drive on a field whose things get other names: who they are, and what their files are to say.

A run names jigs, targets, lines, obstacles and start areas of its field. Where one of them has another name in the
window, the runs' files would no longer be read: they are found, and changed with the field if that is wanted.
"""

from __future__ import annotations

import os
from collections import deque
from collections.abc import Iterator
from dataclasses import dataclass, replace
from itertools import pairwise
from pathlib import Path

from fieldsim.files import kind_of, load_run
from fieldsim.files.writing import run_text
from fieldsim.language import tr, tr_as, tr_many
from fieldsim.model import Field, Run, known_names
from fieldsim.model.errors import FileError, SaveError, shown
from fieldsim.window.asking import Question, letter_answer
from fieldsim.window.dials import Refused
from fieldsim.window.field.things import KINDS
from fieldsim.window.history import History
from fieldsim.window.run.edits import run_on, uses

__all__ = ["Followers", "followers", "renamed"]

# How far below the field's folder, and below the one that holds it, runs are looked for; and in how many files.
DEEP, MOST_FILES = 3, 2000
# A file that people wrote is no longer than this, bytes.
LONGEST = 500_000
# Runs that a question names one by one.
NAMED = 6

Names = dict[tuple[str, str], str]
"""(kind, old name) -> new name."""


def renamed(history: History[Field]) -> Names:
    """What has had another name since the field was saved last, by the steps done since then."""
    states = [step.state for step in history.steps]
    saved = next((n for n, state in enumerate(states) if state is history.kept or state == history.kept), None)
    if saved is None:
        way = [history.kept, *states[: history.at + 1]]
    elif saved <= history.at:
        way = states[saved : history.at + 1]
    else:
        way = states[history.at : saved + 1][::-1]
    known = _names(history.kept)
    now = {each: each[1] for each in known}
    for before, after in pairwise(way):
        step = dict(_step(before, after))
        now = {each: step.get((each[0], name), name) for each, name in now.items()}
    there = _names(history.state)
    # Where the old name is another thing's now, a run still means the thing it named.
    return {each: name for each, name in now.items() if name != each[1] and (each[0], name) in there}


def _names(field: Field) -> set[tuple[str, str]]:
    known = known_names(field, None)
    return {(kind, name) for kind in KINDS for name in known[kind]}


def _step(before: Field, after: Field) -> Iterator[tuple[tuple[str, str], str]]:
    """Names that one change exchanged: the thing is the same but for its name."""
    for kind, word in zip(KINDS, ("obstacles", "start_areas", "jigs", "lines", "targets"), strict=True):
        was, now = getattr(before, word), getattr(after, word)
        if was is now or len(was) != len(now):
            continue
        for old, new in zip(was, now, strict=True):
            if old.name != new.name and replace(old, name=new.name) == new:
                yield (kind, old.name), new.name


@dataclass(frozen=True)
class Followers:
    """The runs that name what is no longer called so."""

    texts: dict[Path, str]
    """What the files of those that can follow are to say,"""
    names: dict[Path, tuple[tuple[str, str], ...]]
    """and the names (old, new) that are changed in them."""
    stuck: dict[Path, str]
    """Those that cannot, and why."""

    def __bool__(self) -> bool:
        return bool(self.texts or self.stuck)

    def question(self) -> Question:
        """What saving does to the runs, and what can be answered."""
        lines = [
            tr("{file}: {names}", file=path.name, names=", ".join(map(_other_name, pairs)))
            for path, pairs in self.names.items()
        ]
        lines += [
            tr("{file} can no longer be read: {reason}", file=path.name, reason=why) for path, why in self.stuck.items()
        ]
        if len(lines) > NAMED:
            left = len(lines) - NAMED + 1
            lines = [*lines[: NAMED - 1], tr_many("and one more", "and {n} more", left)]
        count = len(self.texts) + len(self.stuck)
        title = tr_many("A run names what has changed here", "{n} runs name what has changed here", count)
        back = letter_answer("back", tr("go back"), tr_as("letter: go back", "b"), "escape")
        if not self.texts:
            alone = letter_answer("alone", tr("save all the same"), tr_as("letter: save all the same", "s"), "y")
            return Question(title, (*lines, "", tr("Save all the same?")), (alone, back))
        answers = (
            letter_answer("both", tr("change them too"), tr_as("letter: change them too", "c"), "y"),
            letter_answer("alone", tr("only save the field"), tr_as("letter: only save the field", "f"), "n"),
            back,
        )
        return Question(title, (*lines, "", tr("Change the names in the runs too?")), answers)


def _other_name(pair: tuple[str, str]) -> str:
    old, new = pair
    return tr("'{old}' is '{new}' now", old=shown(old), new=shown(new))


def followers(path: Path, base: Field, history: History[Field]) -> Followers:
    """The runs on the field in a file, which holds ``base``, that name what the field of the history has no longer."""
    names = renamed(history)
    field = history.state
    texts: dict[Path, str] = {}
    changed: dict[Path, tuple[tuple[str, str], ...]] = {}
    stuck: dict[Path, str] = {}
    moved = (_names(base) - _names(field)) | names.keys()
    if not moved:
        return Followers({}, {}, {})
    for file, text, run in _runs_on(path, base):
        used = {each: None for each in uses(run) if each in moved}
        if not used:
            continue
        made = run_on(run, field, names)
        if isinstance(made, Refused):
            lost = [name for kind, name in used if (kind, name) not in names]
            stuck[file] = tr("it names '{name}'", name=shown(lost[0])) if lost else made.words
            continue
        try:
            texts[file] = run_text(text, run, made)
        except SaveError as problem:
            stuck[file] = str(problem)
            continue
        changed[file] = tuple(dict.fromkeys((name, names[kind, name]) for kind, name in used))
    return Followers(texts, changed, stuck)


def _runs_on(path: Path, base: Field) -> Iterator[tuple[Path, str, Run]]:
    """The files of runs near a field's file that drive on it, with their texts. What cannot be read is passed over."""
    for file in _files_near(path):
        try:
            if file.stat().st_size > LONGEST:
                continue
            with file.open(encoding="utf-8", newline="") as opened:
                text = opened.read()
            # Most files are seen to be something else without reading them as YAML.
            if "segments" not in text or path.stem not in text or kind_of(file) != "run":
                continue
            run = load_run(file)
        except (FileError, OSError, UnicodeError):
            continue
        if run.field == base:
            yield file, text, run


def _files_near(path: Path) -> Iterator[Path]:
    """YAML files in the folder that holds the field's folder and below it, each once, near ones first."""
    here = path.resolve().parent
    seen: set[Path] = set()
    left = MOST_FILES
    folders = deque([(here, DEEP), (here.parent, DEEP)])
    while folders and left > 0:
        folder, deep = folders.popleft()
        if folder in seen:
            continue
        seen.add(folder)
        try:
            entries = sorted(os.scandir(folder), key=lambda entry: entry.name)
        except OSError:
            continue
        for entry in entries:
            left -= 1
            if left <= 0:
                return
            if entry.name.startswith("."):
                continue
            if entry.is_dir(follow_symlinks=False):
                if deep > 0:
                    folders.append((Path(entry.path), deep - 1))
            elif entry.name.lower().endswith((".yaml", ".yml")) and Path(entry.path) != path.resolve():
                yield Path(entry.path)
