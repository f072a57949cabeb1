"""The catalogs of other languages: texts gathered from the code, and what is wrong with a catalog.

``python tests/catalogs.py`` brings every catalog up to date (with ``--check`` it only says what is wrong): new texts
come in without a translation, those that are said no longer go, and the compiled form that the program reads, which
git does not keep, is made anew.
"""

from __future__ import annotations

import ast
import datetime
import io
import os
import string
import sys
from collections.abc import Iterator, Mapping
from functools import cache
from pathlib import Path

import click
from babel.messages import Catalog, Message
from babel.messages.extract import extract_from_dir, extract_from_file
from babel.messages.mofile import write_mo
from babel.messages.pofile import read_po, write_po

from fieldsim.language import CLICK, DOMAIN, LANGUAGES, LOCALE
from fieldsim.model import Field, Robot, Run, measured
from fieldsim.model.bounds import Checked, Either, Height, Kind, Many, Maybe, Name, Number, Pair, attributes
from fieldsim.model.match import Match
from fieldsim.model.units import Unit

PACKAGE = LOCALE.parent
KEYWORDS = {"tr": None, "tr_later": None, "tr_many": (1, 2), "tr_as": ((1, "c"), 2)}
# What the library says of people and of itself.
HEADERS = ("Project-Id-Version", "Report-Msgid-Bugs-To", "Last-Translator", "Language-Team", "Generated-By")
# Git knows when a catalog was changed; here a date would only make two of them differ.
STAMP = datetime.datetime(2026, 11, 26, tzinfo=datetime.UTC)
LEFT_OUT = tuple(f'"{name}:'.encode() for name in HEADERS)
OTHERS = tuple(language for language in LANGUAGES if language != "en")


# What the library of the command line says in its own words: it marks them for gettext. Its prompts, and what it says
# to programmers, nobody meets here.
CLICK_KEYWORDS: Mapping[str, tuple[int, int] | None] = {"_": None, "gettext": None, "ngettext": (1, 2)}
CLICK_MODULES = ("core", "decorators", "exceptions", "formatting", "parser", "types")


def po(language: str, domain: str = DOMAIN) -> Path:
    return LOCALE / language / "LC_MESSAGES" / f"{domain}.po"


def gathered(domain: str = DOMAIN) -> Catalog:
    """Every text of the code, with the modules that say it."""
    found = Catalog(project="fieldsim", charset="utf-8", fuzzy=False)
    if domain == CLICK:
        for module in CLICK_MODULES:
            file = Path(click.__file__).with_name(f"{module}.py")
            for _, text, _, _ in extract_from_file("python", file, keywords=CLICK_KEYWORDS):
                found.add(text, locations=[(f"click/{module}.py", None)])
        return found
    for name, text, context in asked_in_the_code():
        # Without line numbers, so that only a change of a text changes the catalog.
        found.add(text, locations=[(name, None)], context=context)
    for module, text in sorted(declared()):
        found.add(text, locations=[(f"{module.replace('.', '/')}.py", None)])
    return found


@cache
def asked_in_the_code() -> tuple[tuple[str, str | tuple[str, ...], str | None], ...]:
    """The texts that the code asks for, as (file, text or its forms, context). To look takes seconds, and many tests
    ask; the catalog itself is made for each who asks, as it may be changed."""
    looked = extract_from_dir(PACKAGE, [("**.py", "python")], keywords=KEYWORDS)
    return tuple((Path("fieldsim", file).as_posix(), text, context) for file, _, text, _, context in looked)


@cache
def declared() -> set[tuple[str, str]]:
    """The texts that stand in the declarations of the model, as (module, text): what its things are called, what each
    attribute is for, what it may be."""
    found: set[tuple[str, str]] = set()
    seen: set[type[Checked]] = set()

    def look(record: type[Checked]) -> None:
        if record in seen:
            return
        seen.add(record)
        found.add((record.__module__, record.noun))
        for attribute in attributes(record).values():
            if attribute.about:
                found.add((record.__module__, attribute.about))
            look_at(attribute.kind, record.__module__)

    def look_at(kind: Kind, module: str) -> None:
        match kind:
            case Number():
                found.update(_of_unit(kind.unit))
            case Name():
                found.add((module, kind.what))
            case Pair():
                found.update((module, word) for word in kind.words)
                look_at(kind.number, module)
            case Height():
                look_at(kind.number, module)
            case Maybe():
                look_at(kind.kind, module)
            case Many():
                if kind.what:
                    found.add((module, kind.what))
                look_at(kind.item, module)
            case Either():
                for each in kind.kinds:
                    look_at(each, module)
            case _ if hasattr(kind, "record"):
                look(kind.record)

    for record in (Field, Robot, Run, Match, measured.Sheet, measured.Log):
        look(record)
    # Signs of units and names of axes are the same everywhere.
    return {(module, text) for module, text in found if len(text) > 2}


def _of_unit(unit: Unit) -> set[tuple[str, str]]:
    return {("fieldsim.model.units", text) for text in (unit.what, unit.symbol, unit.example)}


def read(language: str, domain: str = DOMAIN) -> Catalog:
    with po(language, domain).open("rb") as file:
        return read_po(file, locale=language)


def messages(catalog: Catalog) -> Iterator[Message]:
    return (message for message in catalog if message.id)


def compiled(catalog: Catalog) -> bytes:
    out = io.BytesIO()
    write_mo(out, catalog)
    return out.getvalue()


def update(language: str, domain: str = DOMAIN) -> None:
    path = po(language, domain)
    old = read(language, domain) if path.exists() else Catalog(locale=language)
    new = Catalog(
        locale=language, project="fieldsim", charset="utf-8", fuzzy=False, creation_date=STAMP, revision_date=STAMP,
        header_comment=f"# fieldsim in the language '{language}'. Made by: python tests/catalogs.py",
    )  # fmt: skip
    for message in messages(gathered(domain)):
        known = old.get(message.id, message.context)
        # A text that has become one for a number of things, or no longer is, is another one.
        told = known.string if known is not None and type(known.id) is type(message.id) else ""
        new.add(message.id, told, locations=message.locations, context=message.context)
    if domain == CLICK:
        # Other versions of the library have other texts: what was translated once stays.
        for message in messages(old):
            if new.get(message.id, message.context) is None:
                new.add(message.id, message.string)
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_bytes(written(new))
    make_compiled(path)


def make_compiled(path: Path) -> None:
    """What the program reads, which an install makes too; git does not keep it. Other processes may read meanwhile."""
    with path.open("rb") as file:
        made = compiled(read_po(file))
    beside = path.with_name(f"{path.stem}.{os.getpid()}")
    beside.write_bytes(made)
    beside.replace(path.with_suffix(".mo"))


def make_stale() -> None:
    """Compile again what was edited, or came from git, since."""
    for path in LOCALE.rglob("*.po"):
        made = path.with_suffix(".mo")
        if not made.exists() or made.stat().st_mtime < path.stat().st_mtime:
            make_compiled(path)


def written(catalog: Catalog) -> bytes:
    out = io.BytesIO()
    write_po(out, catalog, sort_by_file=True, width=118)
    return b"".join(line for line in out.getvalue().splitlines(True) if not line.startswith(LEFT_OUT))


def texts(message: Message) -> tuple[list[str], list[str]]:
    """The forms of a text in English and in the other language."""
    one = [message.id] if isinstance(message.id, str) else list(message.id)
    other = [message.string] if isinstance(message.string, str) else list(message.string)
    return one, other


def fields(template: str) -> set[str]:
    """The names in its braces."""
    return {name for _, name, _, _ in string.Formatter().parse(template) if name is not None}


def asked_for() -> Iterator[tuple[Path, int, tuple[str, ...], str]]:
    """What the code asks the catalog for, read from its syntax: module, line, the text's forms, its context. Texts in
    the braces of an f-string are here, though those who gather texts do not see them."""
    for path in sorted(PACKAGE.rglob("*.py")):
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if not (isinstance(node, ast.Call) and isinstance(node.func, ast.Name) and node.func.id in KEYWORDS):
                continue
            given = [each.value if isinstance(each, ast.Constant) else None for each in node.args]
            context = given.pop(0) if node.func.id == "tr_as" else ""
            forms = given[: 2 if node.func.id == "tr_many" else 1]
            if all(isinstance(form, str) for form in forms):
                yield path, node.lineno, tuple(map(str, forms)), str(context)


def untold(path: Path) -> Iterator[tuple[int, str]]:
    """Sentences of a module that are in no catalog: literals with letters and a blank that are neither an argument of
    `tr` and its sisters, nor declared in the model, nor a docstring, nor a complaint to programmers, nor a pattern."""
    tree = ast.parse(path.read_text(encoding="utf-8"))
    passed: set[ast.AST] = set()
    for node in ast.walk(tree):
        if isinstance(node, ast.Expr) and isinstance(node.value, ast.Constant):
            passed.add(node.value)
        if isinstance(node, ast.Call):
            name = node.func.id if isinstance(node.func, ast.Name) else getattr(node.func, "attr", "")
            if name in KEYWORDS or name in {"ValueError", "TypeError", "RuntimeError", "compile", "Annotated"}:
                passed.update(each for argument in node.args for each in ast.walk(argument))
        if isinstance(node, ast.Subscript):
            # The words of an annotated type are for the schema, and literal types are keys.
            passed.update(ast.walk(node.slice))
        if isinstance(node, ast.JoinedStr) and node not in passed:
            passed.update(each for each in ast.walk(node) if each is not node and isinstance(each, ast.Constant))
    said_elsewhere = {text for _, text in declared()}
    for node in ast.walk(tree):
        if node in passed:
            continue
        if isinstance(node, ast.Constant) and isinstance(node.value, str):
            words = node.value
        elif isinstance(node, ast.JoinedStr):
            words = "".join(str(part.value) if isinstance(part, ast.Constant) else "{}" for part in node.values)
        else:
            continue
        if words in said_elsewhere:
            continue
        letters = "".join(character for character in words.replace("{}", "") if character.isalpha() or character == " ")
        if " " in letters.strip() or (isinstance(node, ast.JoinedStr) and len(letters.strip()) > 2):
            yield node.lineno, words


def main(words: list[str]) -> int:
    """Bring the catalogs up to date, or with ``--check`` say what is wrong with them and change nothing."""
    wrong = 0
    for each in OTHERS:
        for domain in (DOMAIN, CLICK):
            if "--check" in words:
                path = po(each, domain)
                before = path.read_bytes()
                update(each, domain)
                if path.read_bytes() != before:
                    path.write_bytes(before)
                    make_compiled(path)
                    print(f"{path} is not up to date: python tests/catalogs.py")
                    wrong += 1
            else:
                update(each, domain)
            missing = [message for message in messages(read(each, domain)) if not all(texts(message)[1])]
            wrong += len(missing)
            print(f"{po(each, domain)}: {len(missing)} texts without a translation")
    return 1 if wrong and "--check" in words else 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
