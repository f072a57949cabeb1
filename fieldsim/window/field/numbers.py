"""The number card of a field: its lines, numbers nudged, numbers and names typed; the known distance on a picture."""

from __future__ import annotations

from dataclasses import replace
from math import hypot, isfinite
from typing import TYPE_CHECKING

from fieldsim.language import tr, tr_later
from fieldsim.model import Picture, Point
from fieldsim.model.bounds import Number, attributes
from fieldsim.model.errors import shown
from fieldsim.report.phrases import spoken
from fieldsim.window.dials import Dial, Refused, accepted, nudged, parse_number, tidy, typed_value
from fieldsim.window.field import edits as field_edits
from fieldsim.window.field import things as field_things
from fieldsim.window.field.runs import renamed
from fieldsim.window.field.state import LAYING, FieldLine, in_mm
from fieldsim.window.field.things import WALLS_HANDLE
from fieldsim.window.session import BEGINNING, Entry

if TYPE_CHECKING:
    from fieldsim.window.field.session import FieldSession

__all__ = [
    "ask_distance",
    "card_lines",
    "dials",
    "known_distance",
    "nudge",
    "press_row",
    "rename",
    "scaled",
    "set_apart",
    "set_picture_number",
    "take_typed",
    "type_apart",
    "type_key",
    "typed",
]


_LABELS = {
    "size.x": tr_later("from left to right"),
    "size.y": tr_later("from near to far"),
    "height.low": tr_later("height, from"),
    "height.high": tr_later("height, up to"),
    "walls.low": tr_later("walls, from"),
    "walls.high": tr_later("walls, up to"),
    "picture.corner.x": tr_later("x of its corner"),
    "picture.corner.y": tr_later("y of its corner"),
    "picture.width": tr_later("its width"),
}


def card_lines(session: FieldSession) -> tuple[FieldLine, ...]:
    """All lines of the number card."""
    found = []
    if session.tool in LAYING:
        if len(session.known) == 2:
            found.append(FieldLine("apart", tr("how far apart"), spoken(round(known_distance(session), 1)), "mm"))
        found += [_line(dial) for dial in dials(session) if dial.key.startswith("picture.")]
        return tuple(found)
    name = (
        session.field.name
        if session.place.kind == "walls"
        else field_things.thing_at(session.field, session.place).name
    )
    return (
        FieldLine("name", tr("name"), name),
        *(_line(d) for d in dials(session) if not d.key.startswith("picture.")),
    )


def dials(session: FieldSession) -> tuple[Dial, ...]:
    place = WALLS_HANDLE if session.tool in LAYING else session.place
    return field_edits.numbers_of(session.field, place)


def known_distance(session: FieldSession) -> float:
    """How far the two known points are apart as the picture lies now, mm."""
    (ax, ay), (bx, by) = session.known
    return hypot(bx - ax, by - ay)


def press_row(session: FieldSession, number: int, part: str, mods: frozenset[str]) -> None:
    if number >= len(card_lines(session)):
        return
    if session.entry is not None and session.entry.line != number and not take_typed(session):
        return
    if number >= len(card_lines(session)):
        return
    session.row = number
    if part == "entry" or card_lines(session)[number].key == "name":
        if session.entry is None:
            session._type(number)
        else:
            # Pressed once more: what is there is changed and not written anew.
            session.entry = replace(session.entry, fresh=False)
        return
    nudge(session, number, -1 if part == "minus" else 1, "shift" in mods, ("press", session.place, number))


def nudge(session: FieldSession, number: int, steps: float, fine: bool, token: object) -> None:
    session.entry = None
    if not 0 <= number < len(card_lines(session)):
        return
    line = card_lines(session)[number]
    if line.key == "name":
        session.say(tr("A name is typed: press enter"))
    elif line.key == "apart":
        set_apart(session, max(known_distance(session) + (1.0 if fine else 10.0) * steps, 1.0), token)
    elif line.key.startswith("picture."):
        dial = next(dial for dial in dials(session) if dial.key == line.key)
        set_picture_number(session, line, nudged(dial, steps, fine), token)
    else:
        made = field_edits.nudge_thing(session.field, session.place, line.key, steps, fine)
        session.change(made, tr("{label} of {name}", label=line.label, name=session._called(session.place)), token)


def set_picture_number(
    session: FieldSession, line: FieldLine, value: float | None, token: object | None = None
) -> bool:
    """Set a number of the picture; points of the picture that are known move with it."""
    before = session.field.picture
    if not session.change(field_edits.set_number_of(session.field, WALLS_HANDLE, line.key, value), line.label, token):
        return False
    now = session.field.picture
    assert before is not None
    assert now is not None
    f = now.width / before.width
    (ax, ay), (bx, by) = before.corner, now.corner
    session.known = tuple((bx + (x - ax) * f, by + (y - ay) * f) for x, y in session.known)
    return True


def set_apart(session: FieldSession, apart: float, token: object | None = None) -> bool:
    picture = session.field.picture
    assert picture is not None
    first, second = session.known
    made = scaled(picture, first, second, apart)
    if isinstance(made, Refused):
        session.say(made.words)
        return False
    taken = session.change(accepted(lambda: replace(session.field, picture=made)), tr("the picture's size"), token)
    if taken:
        factor = apart / hypot(second[0] - first[0], second[1] - first[1])
        session.known = (first, tuple(a + (b - a) * factor for a, b in zip(first, second, strict=True)))  # type: ignore[assignment]
    return taken


def ask_distance(session: FieldSession) -> None:
    if known_distance(session) <= 0:
        session.known = session.known[:1]
        return
    session._type(0)


def take_typed(session: FieldSession) -> bool:
    """Take what was typed; whether it could be."""
    entry = session.entry
    if entry is None:
        return True
    if entry.line >= len(card_lines(session)):
        session.entry = None
        return True
    line = card_lines(session)[entry.line]
    # A distance that is typed again is meant, all else only if it is another one.
    if entry.text.strip() == line.text and line.key != "apart":
        session.entry = None
        return True
    session.entry = None
    if line.key == "name":
        done = rename(session, entry.text)
    elif line.key == "apart":
        done = type_apart(session, entry.text)
    else:
        dial = next(dial for dial in dials(session) if dial.key == line.key)
        value = typed_value(dial, entry.text)
        if isinstance(value, Refused):
            session.say(value.words)
            done = False
        elif line.key.startswith("picture."):
            done = set_picture_number(session, line, value)
        else:
            made = field_edits.set_number_of(session.field, session.place, line.key, value)
            done = session.change(made, tr("{label} of {name}", label=line.label, name=session._called(session.place)))
            if done and line.key.startswith("size.") and session.place.kind == "walls":
                session._fit()
    if not done:
        session.entry = replace(entry, wrong=True)
    return done


def rename(session: FieldSession, name: str) -> bool:
    place = session.place
    if place.kind == "walls":
        return session.change(field_things.rename_field(session.field, name), tr("the field's name"))
    old = field_things.thing_at(session.field, place).name
    if not session.change(
        field_things.rename(session.field, place, name), tr("another name for {old}", old=shown(old))
    ):
        return False
    # What is new since the last saving no run can know yet; what has had several names goes by the saved one.
    new = name.strip()
    known = [] if session.new else [
        saved for (kind, saved), now in renamed(session.history).items() if kind == place.kind and now == new
    ]  # fmt: skip
    if known:
        session.say(
            tr(
                "Saving asks whether the runs that name {old} are to name {new}",
                old=shown(known[0]),
                new=shown(new),
            )
        )
    return True


def type_apart(session: FieldSession, text: str) -> bool:
    if not text.strip():
        # Thought better of it.
        return True
    kind = attributes(Picture)["width"].kind
    assert isinstance(kind, Number)
    value = parse_number(text, kind, tr("how far apart"))
    if isinstance(value, Refused):
        session.say(value.words)
        return False
    if not value > 0.0:
        session.say(tr("how far apart must be more than 0 mm"))
        return False
    if set_apart(session, value):
        assert session.field.picture is not None
        session.say(
            tr(
                "The picture is {width} mm wide now; the first point stayed where it was",
                width=in_mm(session.field.picture.width),
            )
        )
        return True
    return False


def typed(session: FieldSession, letters: str) -> None:
    """Letters are typed."""
    entry, swallowed, session._swallowed = session.entry, session._swallowed, ""
    if session._covered or letters.casefold() == swallowed:
        return
    if entry is None:
        # Digits take tools in hand; with these signs a number can be written at once where one is picked.
        if letters not in BEGINNING or not session._on_a_number:
            return
        session._show_row()
        entry = Entry(session.row, "", 0)
    session.entry = entry.with_letters(letters)


def type_key(session: FieldSession, pressed: str) -> bool:
    """A key while something is typed; whether it was for that."""
    entry = session.entry
    assert entry is not None
    match pressed:
        case "return":
            take_typed(session)
        case "tab" | "down" | "shift tab" | "up":
            way = 1 if pressed in ("tab", "down") else -1
            if take_typed(session) and 0 <= entry.line + way < len(card_lines(session)):
                session._type(entry.line + way)
        case "escape":
            session.entry = None
        case _:
            if (edited := entry.edited(pressed)) is not None:
                session.entry = edited
                return True
            # Letters come as text; with control they are keys of their own.
            return not pressed.startswith(("ctrl", "f1", "f11"))
    return True


def scaled(picture: Picture, first: Point, second: Point, apart: float) -> Picture | Refused:
    """A picture made larger or smaller about its point ``first`` so that ``second`` comes to be ``apart`` mm from it.

    Points in mm of the field as the picture lies now. Refused if they are the same point, or the picture would become
    too large.
    """
    now = hypot(second[0] - first[0], second[1] - first[1])
    if not now > 0.0:
        return Refused(tr("these are one point; click two that are far apart"))
    f = apart / now
    corner = tuple(tidy(a + (c - a) * f) for a, c in zip(first, picture.corner, strict=True))
    return accepted(lambda: replace(picture, corner=(corner[0], corner[1]), width=tidy(picture.width * f)))


def _line(dial: Dial) -> FieldLine:
    value = dial.value if dial.value is not None else dial.instead
    text = "" if value is None or not isfinite(value) else spoken(round(value / float(dial.kind.unit.scale), 6))
    label = tr(_LABELS[dial.key]) if dial.key in _LABELS else dial.label
    return FieldLine(dial.key, label, text, dial.unit)
