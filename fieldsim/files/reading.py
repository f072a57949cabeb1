"""A field, a run and a match from nodes: what is written in a way of its own, and the other files that they name."""

from __future__ import annotations

from collections.abc import Callable
from math import inf
from pathlib import PurePath as FilePath
from typing import Any

from fieldsim.files.forms import keys_of
from fieldsim.files.nodes import (
    Mapping,
    Node,
    Sequence,
    found,
    is_text,
)
from fieldsim.files.records import RecordReader
from fieldsim.files.values import BAD, Path
from fieldsim.language import tr
from fieldsim.model import Field, Robot, Run, known_names
from fieldsim.model.bounds import (
    Checked,
    Height,
    Many,
    Name,
    Named,
    owner_of,
    phrase,
    said_of,
    unknown_name,
)
from fieldsim.model.errors import shown
from fieldsim.model.match import MOST_RUNS, NOTHING, Match, MatchRun, attachments_of

__all__ = ["BAD", "Reader"]

# Characters of a path from a run to its field or robot.
LONGEST_PATH = 1000


class Reader(RecordReader):
    """Reads one file."""

    def field(self) -> Any:
        self.special[Field] = {"walls": self._walls}
        return self.record(self.document.root, Field)

    def _walls(self, node: Node, path: Path) -> Any:
        self.place[path] = node
        if is_text(node) and node.value == "none":
            return None
        if not isinstance(node, Mapping):
            hint = tr("write walls: {height: 75}, or walls: none for an open board")
            return self.wrong(
                node, tr("'walls' of the field must be a height or none, found {found}", found=found(node)), hint
            )
        height: Any = (0.0, inf)
        for key, value in node.value:
            if key.value == "height":
                height = self.height(value, Height(alone=True), path, tr("'height' of the walls"))
            else:
                self.unknown(key, key.value, tr("'walls' of the field"), ["height"])
                height = BAD
        return height

    def run(self, load: Callable[[str, Node, type[Checked]], Any]) -> Any:
        """A run; ``load`` reads the field's and the robot's file, named as text at a node."""
        loaded: dict[type[Checked], Any] = {}

        def other(record: type[Checked]) -> Callable[[Node, Path], Any]:
            def read_other(node: Node, path: Path) -> Any:
                text = self._file_name(node, path, owner_of(Run.noun, None), f"{record.noun}.yaml")
                loaded[record] = BAD if text is BAD else load(text, node, record)
                return loaded[record]

            return read_other

        def names_exist() -> bool:
            field, robot = (None if loaded.get(kind, BAD) is BAD else loaded[kind] for kind in (Field, Robot))
            return self._names_exist(known_names(field, robot))

        self.special[Run] = {"field": other(Field), "robot": other(Robot)}
        return self.record(self.document.root, Run, check=names_exist)

    def _file_name(self, node: Node, path: Path, owner: str, example: str) -> Any:
        """The name of another file, seen from the folder of this one."""
        self.place[path] = node
        if not is_text(node) or not node.value.strip() or len(node.value) > LONGEST_PATH:
            text = tr(
                "{subject} must be the name of a file, found {found}",
                subject=phrase(str(path[-1]), owner), found=found(node),
            )  # fmt: skip
            return self.wrong(node, text, tr("such as {example}, seen from the folder of this file", example=example))
        return node.value

    def match(self, load: Callable[[str, Node, type[Checked]], Any]) -> Any:
        """A match; ``load`` reads the file of a run, named as text at a node."""
        # By what a run may be named in 'needs': its own name, its file's name with and without the ending.
        names: dict[str, str] = {}
        files: set[str] = set()
        loaded: list[Any] = []

        def read_run(node: Node, path: Path) -> Any:
            text = self._file_name(node, path, tr("run {number}", number=int(path[-2]) + 1), "first-run.yaml")
            if text is BAD:
                return BAD
            file = FilePath(text)
            if str(file) in files:
                hint = tr("list it once; 'rerun' says whether a run is tried again")
                return self.wrong(node, tr("the run '{text}' is listed already", text=shown(text)), hint)
            files.add(str(file))
            loaded.append(load(text, node, Run))
            return loaded[-1]

        def read_needs(node: Node, path: Path) -> Any:
            subject = phrase("needs", tr("run {number}", number=int(path[-2]) + 1))
            read = self.value(node, Many(Name("the name of a run"), most=MOST_RUNS), path, subject)
            if read is BAD:
                return BAD
            assert isinstance(node, Sequence)
            good = True
            for item, word in zip(node.value, read, strict=True):
                if word not in names:
                    wrong = unknown_name(Named("the name of a run", of="run"), word, short)
                    self.wrong(item, said_of(subject, wrong.message), wrong.hint)
                    good = False
            return tuple(dict.fromkeys(names[word] for word in read)) if good else BAD

        def read_runs(node: Node, path: Path) -> Any:
            # The files first, so that 'needs' can name any of them.
            for index, item in enumerate(node.value if isinstance(node, Sequence) else ()):
                for key, value in item.value if isinstance(item, Mapping) else ():
                    if key.value == "run":
                        runs[id(value)] = read_run(value, (*path, index, "run"))
                        if is_text(value):
                            run, file = runs[id(value)], FilePath(value.value)
                            name = file.stem if run is BAD else run.name
                            short.append(file.stem)
                            names.update({file.name: name, file.stem: name})
                            names.setdefault(name, name)
            kind = keys_of(Match)["runs"].kind
            return self.value(node, kind, path, tr("'runs' of the match"), None)

        runs: dict[int, Any] = {}
        short: list[str] = []

        def attachments_exist() -> bool:
            good = [run for run in loaded if run is not BAD]
            if not good or len(good) < len(runs):
                return True
            known = {"attachment": (*attachments_of(tuple(MatchRun(run) for run in good)), NOTHING)}
            return self._names_exist(known)

        self.special[Match] = {"runs": read_runs}
        self.special[MatchRun] = {"run": lambda node, path: runs[id(node)], "needs": read_needs}
        return self.record(self.document.root, Match, check=attachments_exist)

    def _names_exist(self, known: dict[str, tuple[str, ...]]) -> bool:
        """Say which names nothing has; names of a file that is wrong itself are not looked for."""
        good = True
        for node, kind, name, subject in self.named:
            if all(of in known for of in kind.kinds):
                there = tuple(word for of in kind.kinds for word in known[of])
                if name not in there:
                    complaint = unknown_name(kind, name, there)
                    self.wrong(node, said_of(subject, complaint.message), complaint.hint)
                    good = False
        return good
