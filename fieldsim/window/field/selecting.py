"""Several things of a field at once: picked together, moved, copied, pasted and taken away; what can be done with what
is under the right button."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from functools import partial
from typing import TYPE_CHECKING

from fieldsim.language import tr, tr_many
from fieldsim.model import Field, Jig, Point
from fieldsim.window.dials import Refused, accepted
from fieldsim.window.field import grips
from fieldsim.window.field import things as field_things
from fieldsim.window.field.state import DRAWN, said
from fieldsim.window.field.things import WALLS_HANDLE, Handle, Thing
from fieldsim.window.keys import key_said
from fieldsim.window.listing import Choice, open_list
from fieldsim.window.snapping import Guide

if TYPE_CHECKING:
    from fieldsim.window.field.session import FieldSession

__all__ = [
    "also_moved",
    "copy_all",
    "duplicate",
    "frame",
    "frame_done",
    "open_context",
    "paste",
    "pick_all",
    "picked_all",
    "put_away",
    "put_down",
    "remove_all",
    "shift_all",
    "toggle",
]

# How far from what was copied a copy is put, mm.
BESIDE = (20.0, 20.0)
# What was copied last, in whatever field's window.
_CLIPBOARD: list[Thing] = []


def picked_all(session: FieldSession) -> tuple[Handle, ...]:
    """All things that are picked, without the walls; the one that the numbers are of comes first."""
    first = () if session.chosen is None or session.chosen.kind == "walls" else (session.chosen.whole,)
    return (*first, *(each for each in session.others if each not in first))


def toggle(session: FieldSession, handle: Handle) -> None:
    """A thing is picked too, or no longer."""
    every = list(picked_all(session))
    handle = handle.whole
    if handle in every:
        every.remove(handle)
    else:
        every.insert(0, handle)
    _are(session, every)


def pick_all(session: FieldSession) -> None:
    """Everything on the field."""
    _are(session, [handle for handle, _ in field_things.things(session.field)])
    _say_count(session)


def _are(session: FieldSession, every: Sequence[Handle]) -> None:
    session._choose(every[0] if every else None)
    session.others = tuple(every[1:])


def _say_count(session: FieldSession) -> None:
    count = len(picked_all(session))
    session.say(tr_many("{n} thing is picked", "{n} things are picked", count))


# --- what is done with all of them ---------------------------------------------------------------------------------


def also_moved(session: FieldSession, base: Field, made: Field, handle: Handle) -> Field | Refused:
    """A field in which a thing was dragged, with what else is picked dragged as far. ``base`` is the field before."""
    before, after = (grips.place_of(each, handle.whole) for each in (base, made))
    by = after[0] - before[0], after[1] - before[1]
    others = [each for each in picked_all(session) if each != handle.whole]
    return _shifted(base, made, others, by)


def _shifted(base: Field, made: Field, which: Sequence[Handle], by: Point) -> Field | Refused:
    def moved() -> Field:
        field = made
        for each in which:
            field = field_things.with_thing(field, each, field_things.shifted(field_things.thing_at(base, each), by))
        return field

    return accepted(moved)


def shift_all(session: FieldSession, dx: float, dy: float) -> bool:
    """All that is picked moved by keys; False if it is not several."""
    every = picked_all(session)
    if len(every) < 2:
        return False
    made = _shifted(session.field, session.field, every, (dx, dy))
    session.change(made, _words(tr("move"), every), ("keys", "move", every))
    return True


def _words(what: str, every: Sequence[Handle]) -> str:
    return tr("{what} {n} things", what=what, n=len(every))


def remove_all(session: FieldSession) -> bool:
    """All that is picked taken away; False if it is not several."""
    every = picked_all(session)
    if len(every) < 2:
        return False
    field: Field | Refused = session.field
    # From the last of each list on, so that the numbers of the others stay.
    for each in sorted(every, key=lambda handle: -handle.index):
        if not isinstance(field, Refused):
            field = field_things.remove(field, each)
    if session.change(field, _words(tr("take away"), every)):
        session._choose(None)
        session.say(tr("{n} things are taken away; ctrl z brings them back", n=len(every)))
    return True


def copy_all(session: FieldSession, cut: bool = False) -> None:
    """What is picked is kept for pasting, here or in another field's window."""
    every = picked_all(session)
    if not every:
        session.say(tr("Pick a thing first: press tab, or click one"))
        return
    _CLIPBOARD[:] = [field_things.thing_at(session.field, each) for each in every]
    session.say(
        tr_many("{n} thing is copied: ctrl v puts it down", "{n} things are copied: ctrl v puts them down", len(every))
    )
    if cut and not remove_all(session):
        session.do("remove")


def paste(session: FieldSession, at: Point | None = None) -> None:
    """What was copied put down: at a point, or beside where it was."""
    if not _CLIPBOARD:
        session.say(tr("Nothing was copied yet: ctrl c copies what is picked"))
        return
    by = BESIDE
    if at is not None:
        x, y = grips.anchor(_CLIPBOARD[0])
        by = float(round(at[0] - x)), float(round(at[1] - y))
    put_down(session, _CLIPBOARD, by, tr("paste"))


def duplicate(session: FieldSession) -> None:
    """What is picked once more, beside it."""
    every = picked_all(session)
    if not every:
        session.say(tr("Pick a thing first: press tab, or click one"))
        return
    put_down(session, [field_things.thing_at(session.field, each) for each in every], BESIDE, tr("once more"))


def put_down(session: FieldSession, things: Sequence[Thing], by: Point, what: str) -> None:
    """Things put into the field, shifted, under free names; they are picked then."""
    field: Field | Refused = session.field
    made: list[Handle] = []
    # Their middles stay on the field.
    middles = [grips.anchor(thing) for thing in things]
    w, d = session.field.size
    by = tuple(
        min(max(by[k], -min(at[k] for at in middles)), max(side - max(at[k] for at in middles), 0.0))
        for k, side in ((0, w), (1, d))
    )  # type: ignore[assignment]
    for thing in things:
        if isinstance(field, Refused):
            break
        kind = field_things.kind_of(thing)
        # A number after a name counts what is alike.
        word, _, number = thing.name.rpartition(" ")
        name = field_things.free_name(field, kind, word if word and number.isdigit() else thing.name)
        named = replace(thing, name=name)
        if isinstance(named, Jig) and named.built_on not in (None, *(each.name for each in field.obstacles)):
            named = replace(named, built_on=None)
        field = field_things.add(field, field_things.shifted(named, by))
        if not isinstance(field, Refused):
            made.append([handle for handle, _ in field_things.things(field) if handle.kind == kind][-1])
    if session.change(field, _words(what, made)):
        _are(session, made)


def put_away(session: FieldSession) -> None:
    """Only one thing is picked again."""
    session.others = ()


# --- a frame about several -----------------------------------------------------------------------------------------


def frame(session: FieldSession, a: Point, b: Point) -> None:
    """A frame is drawn from a point to another."""
    (ax, ay), (bx, by) = a, b
    corners = ((ax, ay), (bx, ay), (bx, by), (ax, by))
    session.guides = tuple(Guide(p, q) for p, q in zip(corners, (*corners[1:], corners[0]), strict=True))


def frame_done(session: FieldSession, a: Point, b: Point) -> None:
    """What stands with its middle inside the frame is picked."""
    low, high = (min(a[0], b[0]), min(a[1], b[1])), (max(a[0], b[0]), max(a[1], b[1]))
    inside = []
    for handle, thing in field_things.things(session.field):
        x, y = grips.anchor(thing)
        if low[0] <= x <= high[0] and low[1] <= y <= high[1]:
            inside.append(handle)
    _are(session, inside)
    _say_count(session)


# --- the right button ----------------------------------------------------------------------------------------------


def open_context(session: FieldSession, x: float, y: float) -> None:
    """What can be done where the right button was pressed."""
    point = session._on_field(x, y)
    handle = grips.pick(session.field, point, session.reach, session.chosen, session.arm)

    def row(words: str, action: str | Callable[[], object], keys: str = "") -> Choice:
        return Choice(words, partial(session.do, action) if isinstance(action, str) else action, key_said(keys))

    if handle is not None and handle.kind != "walls":
        if handle.whole not in picked_all(session):
            session._choose(handle.whole)
        title = session._called(handle)
        rows = [
            row(tr("its name"), "name", "m"),
            row(tr("copy it"), "keep", "ctrl c"),
            row(tr("cut it out"), "cut", "ctrl x"),
            row(tr("once more"), "duplicate", "ctrl d"),
            row(tr("take it away"), "remove", "delete"),
        ]
    else:
        title = tr("here")
        rows = [row(tr("draw: {tool}", tool=said(tool)), f"draw {tool}") for tool in DRAWN]
        if handle is not None and handle.kind == "walls":
            rows.insert(0, row(tr("the walls"), partial(session._choose, WALLS_HANDLE)))
        rows.append(row(tr("everything"), "all", "ctrl a"))
    if _CLIPBOARD:
        rows.append(row(tr("paste here"), partial(paste, session, point), "ctrl v"))
    if session.history.undo_words:
        rows.append(row(tr("undo: {words}", words=session.history.undo_words), "undo", "ctrl z"))
    open_list(session, (x, y), title, rows)
