"""YAML text to nodes that know their place, with YAML's traps caught. The only module that knows PyYAML.

Only nodes are composed: no value is ever constructed from a tag, so nothing in a file can run.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from contextlib import suppress
from dataclasses import dataclass
from difflib import get_close_matches
from functools import lru_cache
from math import inf
from pathlib import Path

import yaml

from fieldsim.files.noted import note
from fieldsim.language import tr, tr_later
from fieldsim.model.errors import FileError, Problem, shown
from fieldsim.model.units import plain

# Far more than any season needs; a larger file is a mistake, and PyYAML would take seconds to say so.
MOST_BYTES = 200_000
MOST_NODES = 50_000
MOST_DEPTH = 20

BEGINS = tr_later("a file begins with field:, robot:, run: or match:")

ENDINGS = (".yaml", ".yml")
# Of the letters of two names, so many must agree for one to be a slip of the other; their endings say nothing.
CLOSE = 0.75

Node = yaml.Node
Mapping = yaml.MappingNode
Sequence = yaml.SequenceNode
Scalar = yaml.ScalarNode

_TAG = "tag:yaml.org,2002:"
_RESOLVER = yaml.SafeLoader("")
_EXPONENT = re.compile(r"[-+]?(\d+(\.\d*)?|\.\d+)[eE][-+]?\d+")
_SEXAGESIMAL = re.compile(r"[-+]?\d[\d_]*(:[0-5]?\d)+(\.[\d_]*)?")
_OCTAL = re.compile(r"[-+]?0[0-7_]+")


@dataclass(frozen=True)
class Document:
    """A file as nodes. ``root`` is a mapping."""

    file: str
    lines: tuple[str, ...]
    root: Mapping

    def problem(self, node: Node, message: str, hint: str = "") -> Problem:
        """A problem at a node, with the line it stands on."""
        mark, end = node.start_mark, node.end_mark
        span = end.column - mark.column if end.line == mark.line else 1
        return _problem(self.file, self.lines, mark.line, mark.column, message, hint, max(1, span))


def _problem(
    file: str, lines: tuple[str, ...], line: int, column: int, message: str, hint: str = "", span: int = 1
) -> Problem:
    """A problem at a line and column that count from 0."""
    source = lines[line] if line < len(lines) else ""
    return Problem(file, line + 1, column + 1, message, source, hint, span)


_CHARACTER = tr_later("the file has a character (number {number}) that does not belong in a text")


def read(path: Path, file: str | None = None) -> Document:
    """Read a file. Raises FileError with everything that keeps it from being read as plain YAML."""
    name = file or str(path)
    text = _text(path, name)
    lines = tuple(text.splitlines())
    try:
        documents = _composed(text)
    except yaml.MarkedYAMLError as problem:
        mark = problem.problem_mark or problem.context_mark
        line, column = (mark.line, mark.column) if mark else (0, 0)
        raise FileError([_problem(name, lines, line, column, *_syntax(problem, lines, line))]) from None
    except yaml.reader.ReaderError as problem:
        line = text.count("\n", 0, problem.position)
        column = problem.position - (text.rfind("\n", 0, problem.position) + 1)
        message = tr(_CHARACTER, number=ord(text[problem.position]))
        raise FileError([_problem(name, lines, line, column, message, tr("delete it"))]) from None
    except yaml.YAMLError as problem:
        raise FileError(
            [Problem(name, 1, 1, tr("cannot be read as YAML: {problem}", problem=shown(str(problem))))]
        ) from None
    except RecursionError:
        raise FileError([Problem(name, 1, 1, tr("the file is nested too deeply to be a plan"))]) from None
    except (ValueError, AttributeError, TypeError, IndexError, OverflowError):
        # PyYAML trips over a few malformed scalars and directives instead of reporting them.
        raise FileError([Problem(name, 1, 1, tr("the file cannot be read as YAML"))]) from None
    if not documents:
        raise FileError([Problem(name, 1, 1, tr("the file is empty"), hint=tr(BEGINS))])
    root = documents[0]
    if len(documents) > 1:
        mark = documents[1].start_mark
        text, hint = (
            tr("a second document begins here"),
            tr("one file holds one field, robot, run or match; delete the line ---"),
        )
        raise FileError([_problem(name, lines, mark.line, mark.column, text, hint)])
    if not isinstance(root, Mapping):
        mark = root.start_mark
        text = tr_later("the file holds a single value, not keys with values")
        if isinstance(root, Sequence):
            text = tr_later("the file holds a list, not keys with values")
        hint = tr("write keys, such as field: Bakery yard")
        raise FileError([_problem(name, lines, mark.line, mark.column, tr(text), hint)])
    document = Document(name, lines, root)
    problems = list(_traps(document))
    if problems:
        raise FileError(problems)
    return document


@lru_cache(maxsize=64)
def _composed(text: str) -> list[Node]:
    """The documents of a text as nodes, which nobody changes. PyYAML takes long, and one season reads its field and its
    robots again with every run, and the window with every save."""
    found = _composed_fast(text)
    return _composed_slowly(text) if found is None else found


def _composed_slowly(text: str) -> list[Node]:
    """By the parser in Python: whose complaints are told, and whose marks count."""
    return [node for node in yaml.compose_all(text, Loader=yaml.SafeLoader) if node is not None]


# What PyYAML's parser in C reads exactly as the one in Python does. It is ten times as fast, but passes tabs and
# question marks in lists, and ends what a file breaks off in elsewhere.
_ALIKE = re.compile(r"""(?:[\w \n.,:;#\[\]{}'"()/+=^-]|(?<=[\w ])%)*\n""")


def _composed_fast(text: str) -> list[Node] | None:
    """By the parser in C, if there is one and it can be taken at its word; None if not."""
    if not yaml.__with_libyaml__ or _ALIKE.fullmatch(text) is None:
        return None
    try:
        found = [node for node in yaml.compose_all(text, Loader=yaml.CSafeLoader) if node is not None]
    except (yaml.YAMLError, RecursionError, ValueError, AttributeError, TypeError, IndexError, OverflowError):
        return None
    waiting = list(found)
    while waiting:
        node = waiting.pop()
        if isinstance(node, Mapping):
            waiting += [each for pair in node.value for each in pair]
        elif isinstance(node, Sequence):
            waiting += node.value
        elif isinstance(node, Scalar) and not node.style:
            if not node.value:
                # The place of what is not there is told otherwise.
                return None
            node.style = None
    return found


def _text(path: Path, name: str) -> str:
    try:
        if path.is_dir():
            raise IsADirectoryError
        with path.open("rb") as file:
            data = file.read(MOST_BYTES + 1)
    except IsADirectoryError:
        raise FileError([Problem(name, 1, 1, tr("this is a folder, not a file"))]) from None
    except FileNotFoundError:
        raise FileError([Problem(name, 1, 1, tr("there is no such file"), hint=neighbour(path, ENDINGS))]) from None
    except (OSError, ValueError) as problem:
        reason = getattr(problem, "strerror", None) or tr_later("its name cannot be a file's name")
        raise FileError([Problem(name, 1, 1, tr("the file cannot be read: {reason}", reason=tr(reason)))]) from None
    if len(data) > MOST_BYTES:
        text = tr("the file is larger than {size} kB, too large for a plan", size=MOST_BYTES // 1000)
        raise FileError([Problem(name, 1, 1, text)])
    note(path, data)
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError as problem:
        line = data[: problem.start].count(b"\n") + 1
        column = problem.start - (data.rfind(b"\n", 0, problem.start) + 1) + 1
        hint = tr("save the file as text in UTF-8")
        raise FileError(
            [Problem(name, line, column, tr("the file is no text in UTF-8 from here on"), hint=hint)]
        ) from None
    for number, line_text in enumerate(text.split("\n"), start=1):
        for column, character in enumerate(line_text, start=1):
            if ord(character) < 32 and character not in "\t\r":
                message = tr(_CHARACTER, number=ord(character))
                raise FileError([Problem(name, number, column, message)])
    return text


def neighbour(path: Path, endings: tuple[str, ...]) -> str:
    """A hint at the file beside one that is not there whose name is a slip of the pen away, whatever its ending."""
    try:
        there = sorted(path.parent.iterdir()) if path.parent.is_dir() else []
    except OSError:
        there = []
    names = {entry.stem.casefold(): entry.name for entry in there if entry.suffix.casefold() in endings}
    found = get_close_matches(path.stem.casefold(), list(names), n=1, cutoff=CLOSE)
    return tr("did you mean '{guess}'?", guess=shown(names[found[0]])) if found else ""


def _syntax(problem: yaml.MarkedYAMLError, lines: tuple[str, ...], line: int) -> tuple[str, str]:
    """PyYAML's complaint in plain words: message and hint."""
    here = lines[line] if line < len(lines) else ""
    if "\t" in here[: len(here) - len(here.lstrip())] or "'\\t'" in str(problem.problem):
        return tr("a tab stands where blanks must"), tr("indent with blanks only")
    raw = shown(str(problem.problem or problem.context or tr("it cannot be read")), 120)
    if "mapping values are not allowed" in raw:
        return tr("there is a ':' too many, or the line is indented wrongly"), tr(
            "put quotes around a text that holds ': '"
        )
    if "could not find expected ':'" in raw:
        return tr("a key without ':'"), tr("write key: value")
    if "expected the node content" in raw:
        return tr("a value is missing before this place"), tr("a bracket or a quote may be open")
    if "expected ',' or" in raw or "expected <block end>" in raw or "did not find expected" in raw:
        return tr("the brackets or the indentation do not fit here"), tr("lines of one list start in one column")
    if "undefined alias" in raw:
        name = raw.partition("'")[2].rstrip("'")
        return tr("nothing here is marked with &{name}", name=name), tr("a text that begins with * needs quotes")
    return tr("cannot be read as YAML: {raw}", raw=raw), ""


def _traps(document: Document) -> Iterator[Problem]:
    """Tags, merge keys, repeated keys, and too much of anything."""
    seen = 0

    def walk(node: Node, depth: int) -> Iterator[Problem]:
        nonlocal seen
        seen += 1
        if seen > MOST_NODES:
            message = tr("the file holds more than {most} values once all aliases are filled in", most=MOST_NODES)
            yield document.problem(document.root, message)
            raise _EnoughError
        if depth > MOST_DEPTH:
            yield document.problem(node, tr("this is nested too deeply to be a plan"))
            raise _EnoughError
        if _tagged(node):
            tag = shown(node.tag.replace(_TAG, "!!"))
            yield document.problem(
                node, tr("'{tag}' is not read here", tag=tag), tr("write the value alone, without a ! word")
            )
        elif isinstance(node, Mapping):
            first: dict[str, Node] = {}
            for key, value in node.value:
                if not isinstance(key, Scalar):
                    yield document.problem(key, tr("a key must be a word, not a list or keys with values"))
                elif _tagged(key):
                    yield document.problem(key, tr("a key must be a word, without a ! word before it"))
                elif key.tag == _TAG + "merge":
                    yield document.problem(key, tr("'<<' is not read here"), tr("write the keys out"))
                elif key.value in first:
                    line = first[key.value].start_mark.line + 1
                    message = tr(
                        "the key '{key}' stands here again; it is on line {line} already",
                        key=shown(key.value),
                        line=line,
                    )
                    yield document.problem(key, message, tr("YAML would keep only the last one: delete one of them"))
                else:
                    first[key.value] = key
                yield from walk(value, depth + 1)
        elif isinstance(node, Sequence):
            for item in node.value:
                yield from walk(item, depth + 1)

    found = walk(document.root, 0)
    with suppress(_EnoughError):
        yield from found


def _tagged(node: Node) -> bool:
    """Does a tag change what the node is: !!str, !!python/name and the like."""
    if isinstance(node, Scalar):
        plain_text = node.style is None
        expected: str = _RESOLVER.resolve(  # type: ignore[no-untyped-call]
            Scalar, node.value, (plain_text, not plain_text)
        )
        return node.tag != expected
    return node.tag != _TAG + ("map" if isinstance(node, Mapping) else "seq")


class _EnoughError(Exception):
    """Stop looking: the rest would be more of the same."""


def is_null(node: Node) -> bool:
    return isinstance(node, Scalar) and node.tag == _TAG + "null"


def is_text(node: Node) -> bool:
    return isinstance(node, Scalar) and node.tag == _TAG + "str"


def found(node: Node) -> str:
    """What stands there, in words."""
    if isinstance(node, Mapping):
        return tr("keys with values")
    if isinstance(node, Sequence):
        return tr("a list")
    if is_null(node):
        return tr("nothing")
    return tr("the text '{value}'", value=shown(node.value)) if is_text(node) else shown(node.value)


def read_as(node: Scalar) -> str:
    """What YAML makes of a plain scalar that was meant as a text, in words."""
    kind = node.tag.removeprefix(_TAG)
    if kind == "bool":
        return "true" if node.value.lower() in ("yes", "on", "true") else "false"
    if kind in ("int", "float"):
        return tr("a number")
    return {"timestamp": tr("a date"), "null": tr("nothing")}.get(kind, tr("a sign of its own"))


def number_trap(node: Scalar) -> tuple[str, str] | None:
    """What YAML makes of a plain scalar that was meant as a number: (message, hint), or None if all is well."""
    text = node.value
    if node.style is not None:
        return None
    kind = node.tag.removeprefix(_TAG)
    if kind == "bool":
        return tr("must be a number, but YAML reads {text} as {meaning}", text=shown(text), meaning=read_as(node)), tr(
            "write a number"
        )
    if kind in ("merge", "value"):
        return tr("must be a number, found {text}", text=shown(text)), tr("write a number")
    if kind == "timestamp":
        return tr("must be a number, but YAML reads {text} as a date", text=shown(text)), tr("write a number")
    if kind in ("int", "float") and _SEXAGESIMAL.fullmatch(text):
        meant = 0.0
        for part in text.lstrip("+-").replace("_", "").split(":"):
            meant = meant * 60 + float(part)
        return (
            tr("must be a number, but YAML reads {text} as {meaning}", text=shown(text), meaning=plain(meant)),
            tr("write one number, in mm, degrees or seconds"),
        )
    if kind == "int" and _OCTAL.fullmatch(text):
        digits = text.replace("_", "").lstrip("+-")
        # Beyond 20 digits nobody asks what it would have been.
        octal = plain(float(int(digits, 8))) if len(digits) <= 20 else tr("another number")
        without = text[: text.startswith(("+", "-"))] + (digits.lstrip("0") or "0")
        return tr("begins with 0, and YAML reads {text} as {meaning}", text=shown(text), meaning=octal), tr(
            "write {value}", value=shown(without)
        )
    if kind == "int" and not re.fullmatch(r"[-+]?\d+", text):
        return tr("must be a plain number, found {text}", text=shown(text)), tr("write digits only")
    if kind == "float" and "_" in text:
        return tr("must be a plain number, found {text}", text=shown(text)), tr("write digits only")
    if kind == "str" and _EXPONENT.fullmatch(text):
        value = float(text)
        if value in (inf, -inf):
            return tr("is far too large: {text}", text=shown(text)), ""
        return tr("must be a number, but YAML reads {text} as text", text=shown(text)), tr(
            "write {value}", value=plain(value)
        )
    return None
