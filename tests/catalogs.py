"""The catalogs of other languages: texts gathered from the code, and what is wrong with a catalog.

``python tests/catalogs.py`` brings every catalog up to date: new texts come in without a translation, those that are
said no longer go, and the compiled form that the program reads is made anew.
"""

from __future__ import annotations

import ast
import datetime
import io
import string
from collections.abc import Iterator
from pathlib import Path

from babel.messages import Catalog, Message
from babel.messages.extract import extract_from_dir
from babel.messages.mofile import write_mo
from babel.messages.pofile import read_po, write_po

from fieldsim.language import DOMAIN, LANGUAGES, LOCALE

PACKAGE = LOCALE.parent
KEYWORDS = {"tr": None, "tr_later": None, "tr_many": (1, 2), "tr_as": ((1, "c"), 2)}
# What the library says of people and of itself.
HEADERS = ("Project-Id-Version", "Report-Msgid-Bugs-To", "Last-Translator", "Language-Team", "Generated-By")
# Git knows when a catalog was changed; here a date would only make two of them differ.
STAMP = datetime.datetime(2026, 11, 26, tzinfo=datetime.UTC)
LEFT_OUT = tuple(f'"{name}:'.encode() for name in HEADERS)
OTHERS = tuple(language for language in LANGUAGES if language != "en")


def po(language: str) -> Path:
    return LOCALE / language / "LC_MESSAGES" / f"{DOMAIN}.po"


def gathered() -> Catalog:
    """Every text of the code, with the modules that say it."""
    found = Catalog(project="fieldsim", charset="utf-8", fuzzy=False)
    for file, _, text, _, context in extract_from_dir(PACKAGE, [("**.py", "python")], keywords=KEYWORDS):
        # Without line numbers, so that only a change of a text changes the catalog.
        found.add(text, locations=[(Path("fieldsim", file).as_posix(), None)], context=context)
    return found


def read(language: str) -> Catalog:
    with po(language).open("rb") as file:
        return read_po(file, locale=language)


def messages(catalog: Catalog) -> Iterator[Message]:
    return (message for message in catalog if message.id)


def compiled(catalog: Catalog) -> bytes:
    out = io.BytesIO()
    write_mo(out, catalog)
    return out.getvalue()


def update(language: str) -> None:
    old = read(language) if po(language).exists() else Catalog(locale=language)
    new = Catalog(
        locale=language, project="fieldsim", charset="utf-8", fuzzy=False, creation_date=STAMP, revision_date=STAMP,
        header_comment=f"# fieldsim in the language '{language}'. Made by: python tests/catalogs.py",
    )  # fmt: skip
    for message in messages(gathered()):
        known = old.get(message.id, message.context)
        told = known.string if known is not None else ""
        new.add(message.id, told, locations=message.locations, context=message.context)
    po(language).parent.mkdir(parents=True, exist_ok=True)
    po(language).write_bytes(written(new))
    po(language).with_suffix(".mo").write_bytes(compiled(new))


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


def untold(path: Path) -> Iterator[tuple[int, str]]:
    """Sentences of a module that are in no catalog: literals with letters and a blank that are neither an argument of
    `tr` and its sisters, nor a docstring, nor a complaint to programmers, nor a pattern."""
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
    for node in ast.walk(tree):
        if node in passed:
            continue
        if isinstance(node, ast.Constant) and isinstance(node.value, str):
            words = node.value
        elif isinstance(node, ast.JoinedStr):
            words = "".join(str(part.value) if isinstance(part, ast.Constant) else "{}" for part in node.values)
        else:
            continue
        letters = "".join(character for character in words.replace("{}", "") if character.isalpha() or character == " ")
        if " " in letters.strip() or (isinstance(node, ast.JoinedStr) and len(letters.strip()) > 2):
            yield node.lineno, words


if __name__ == "__main__":
    for each in OTHERS:
        update(each)
        missing = [message for message in messages(read(each)) if not all(texts(message)[1])]
        print(f"{po(each)}: {len(missing)} texts without a translation")
