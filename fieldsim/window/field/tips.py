"""What is said of what the pointer rests on in a field's window, and what shape it has there."""

from __future__ import annotations

from typing import TYPE_CHECKING

from fieldsim.language import tr
from fieldsim.window.field import numbers
from fieldsim.window.field import things as field_things
from fieldsim.window.field.state import DRAWN
from fieldsim.window.keys import FIELD_KEYS, key_tip

if TYPE_CHECKING:
    from fieldsim.window.field.session import FieldSession

__all__ = ["cursor_of", "tip_of"]


def tip_of(session: FieldSession, what: str) -> str:
    """A line or two on what is under the pointer, by its name; empty where there is nothing to say."""
    word = what.split(" ")
    match word:
        case ["button", "tool", *tool]:
            name = " ".join(tool)
            return key_tip(FIELD_KEYS, f"draw {name}" if name in DRAWN else name)
        case ["button", name]:
            return key_tip(FIELD_KEYS, name)
        case ["number", number, *_]:
            return _row(session, session.first_row + int(number))
        case ["field"] if session.hot is not None and session.tool == "pick":
            if session.hot.kind == "walls":
                return tr("the walls: click to change them")
            if session.hot.part == "turn":
                return tr("drag: how it is turned (alt: without snapping)")
            if session.hot.part == "whole":
                name = field_things.thing_at(session.field, session.hot).name
                return tr("{name}: drag to move it (alt: without snapping)", name=name)
            return tr("drag: how large it is (alt: without snapping)")
    return ""


def _row(session: FieldSession, number: int) -> str:
    """What a number is, and what is accepted."""
    lines = session.lines
    if number >= len(lines):
        return ""
    dial = next((dial for dial in numbers.dials(session) if dial.key == lines[number].key), None)
    if dial is None:
        return ""
    accepted = tr("accepted: {bounds}", bounds=dial.bounds)
    return f"{dial.about}\n{accepted}"


def cursor_of(session: FieldSession) -> str:
    """The pointer's shape: 'arrow', 'hand', 'move', 'cross', 'text'."""
    if session._drag is not None:
        return "move" if session._drag.what in ("pan", "ground") else "hand"
    what = session.hover
    if what is None:
        return "arrow"
    if what == "field":
        if session.tool != "pick":
            return "cross"
        if session.hot is None:
            return "arrow"
        return "move" if session.hot.part == "whole" and session.hot.kind != "walls" else "hand"
    if what.startswith("number ") and what.endswith(" entry"):
        return "text"
    return "hand" if what.startswith(("button", "number ", "switch ", "answer", "list ")) else "arrow"
