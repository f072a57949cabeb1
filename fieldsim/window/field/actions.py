"""What keys and buttons do to a field: the next thing, one more corner, a copy, a nudge; what can be chosen
by a switch."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from functools import partial
from math import inf
from typing import TYPE_CHECKING

from fieldsim.language import tr
from fieldsim.model import Point, Target
from fieldsim.window.dials import accepted, tidy
from fieldsim.window.field import drawing, grips, numbers, selecting
from fieldsim.window.field import edits as field_edits
from fieldsim.window.field import things as field_things
from fieldsim.window.field.state import DRAWN, SNAPS
from fieldsim.window.field.things import WALLS_HANDLE, Handle
from fieldsim.window.session import ZOOM, moves

if TYPE_CHECKING:
    from fieldsim.window.field.session import FieldSession

__all__ = [
    "across_the_picture",
    "copy_thing",
    "do",
    "enter",
    "insert_corner",
    "lay",
    "more_corners",
    "move_by",
    "name_thing",
    "next_corner",
    "next_thing",
    "remove_any",
    "remove_thing",
    "switch",
    "switch_own",
    "switch_picture",
    "turn_by",
    "with_thing",
]


# How far the keys move what is picked, mm.
_MOVES = moves()


def do(session: FieldSession, action: str) -> None:
    """An action of ``keys.FIELD_KEYS``, or of a button."""
    simple: dict[str, Callable[[], None]] = {
        "next thing": lambda: next_thing(session, 1),
        "last thing": lambda: next_thing(session, -1),
        "row up": lambda: session._to_row(-1),
        "row down": lambda: session._to_row(1),
        "more": lambda: session._nudge(session.row, 1, False, session._key_token()),
        "less": lambda: session._nudge(session.row, -1, False, session._key_token()),
        "more finely": lambda: session._nudge(session.row, 1, True, session._key_token()),
        "less finely": lambda: session._nudge(session.row, -1, True, session._key_token()),
        "type": partial(enter, session),
        "pick": lambda: session._take("pick"),
        "name": partial(name_thing, session),
        "copy": lambda: with_thing(session, partial(copy_thing, session)),
        "remove": partial(remove_any, session),
        "all": partial(selecting.pick_all, session),
        "keep": partial(selecting.copy_all, session),
        "cut": partial(selecting.copy_all, session, cut=True),
        "paste": lambda: selecting.paste(session, session.pointer),
        "duplicate": partial(selecting.duplicate, session),
        "turned left": lambda: turn_by(session, 0.5),
        "turned right": lambda: turn_by(session, -0.5),
        "next corner": partial(next_corner, session),
        "more corners": partial(more_corners, session),
        "own word": lambda: switch(session, 0, 1),
        "grid": lambda: switch(session, 1, 1),
        "another picture": lambda: switch(session, 2, 1),
        "picture": lambda: lay(session, "picture"),
        "scale": lambda: lay(session, "scale"),
        "undo": session._undo,
        "redo": session._redo,
        "fit": session._fit,
        "nearer": lambda: session._zoom(ZOOM),
        "farther": lambda: session._zoom(1 / ZOOM),
        "look": session._change_look,
        "drop": session._drop,
        "help": session._show_help,
    }
    if action in simple:
        if action not in ("nearer", "farther", "fit", "look", "drop"):
            session._drop_drag()
        simple[action]()
    elif action.startswith("draw "):
        drawing.take_tool(session, action.removeprefix("draw "))
    elif action in ("up", "down") and session.chosen in (None, WALLS_HANDLE):
        session._to_row(-1 if action == "up" else 1)
    elif action in _MOVES:
        session._drop_drag()
        move_by(session, *_MOVES[action])
    elif action in ("quit", "season", "plan", "propose"):
        session._type_done()
        session.entry = None
        session.leave(action)
    else:
        if action == "save" and not session._type_done():
            return
        session.wants.add(action)


def enter(session: FieldSession) -> None:
    """What enter does depends on the tool in hand."""
    if session.tool == "outline" and len(session.draft) >= 3:
        drawing.close_outline(session)
    elif session.tool in DRAWN and not session.draft:
        x, y = session._on_field(*session.places.field.centre)
        w, d = session.field.size
        drawing.put_down(session, session.tool, (float(round(min(max(x, 0.0), w))), float(round(min(max(y, 0.0), d)))))
    elif session.tool == "scale" and len(session.known) < 2:
        across_the_picture(session)
    elif not session.draft:
        session._type(session.row)


def name_thing(session: FieldSession) -> None:
    if session.tool != "pick":
        session._take("pick")
    session._type(0)


def next_thing(session: FieldSession, way: int) -> None:
    if session.tool == "scale" and len(session.known) == 2:
        # The other one is to stay.
        session.known = session.known[::-1]
        return
    session._take("pick")
    every = [*(handle for handle, _ in field_things.things(session.field)), WALLS_HANDLE]
    now = session.chosen.whole if session.chosen is not None and session.chosen.kind != "walls" else session.chosen
    at = every.index(now) + way if now in every else (0 if way > 0 else -1)
    session._choose(every[at % len(every)])
    assert session.chosen is not None
    if session.chosen.kind != "walls":
        x, y = grips.place_of(session.field, session.chosen)
        if not session.places.field.contains(*session.camera.pixel(x, y)):
            session.camera = replace(session.camera, x=x, y=y)


def next_corner(session: FieldSession) -> None:
    chosen = session.chosen
    if chosen is None or not session._is_outline(chosen):
        session.say(tr("Pick an outline first; then this goes from corner to corner"))
        return
    count = len(session._corners(chosen))
    now = int(chosen.part.removeprefix("corner ")) + 1 if chosen.part.startswith("corner") else 0
    session._choose(replace(chosen, part=f"corner {now}") if now < count else chosen.whole)


def more_corners(session: FieldSession) -> None:
    chosen = session.chosen
    if chosen is None or not chosen.part.startswith("corner"):
        session.say(tr("Pick a corner of an outline first; then this puts one more after it"))
        return
    points = session._corners(chosen)
    n = int(chosen.part.removeprefix("corner "))
    a, b = points[n], points[(n + 1) % len(points)]
    insert_corner(session, chosen, ((a[0] + b[0]) / 2, (a[1] + b[1]) / 2))


def with_thing(session: FieldSession, make: Callable[[Handle], None]) -> None:
    if session.chosen is None or session.chosen.kind == "walls":
        session.say(tr("Pick a thing first: press tab, or click one"))
    else:
        make(session.chosen)


def copy_thing(session: FieldSession, handle: Handle) -> None:
    if session.others:
        selecting.duplicate(session)
        return
    if session.change(
        field_things.copy_thing(session.field, handle), tr("{name} once more", name=session._called(handle))
    ):
        last = [each for each, _ in field_things.things(session.field) if each.kind == handle.kind][-1]
        session._choose(last)


def remove_thing(session: FieldSession, handle: Handle) -> None:
    name = session._called(handle)
    if handle.part.startswith("corner"):
        session.change(field_edits.remove_corner(session.field, handle), tr("take away a corner of {name}", name=name))
    elif session.change(field_things.remove(session.field, handle), tr("take away {name}", name=name)):
        session._choose(None)
        session.say(tr("{name} is taken away; ctrl z brings it back", name=name))


def remove_any(session: FieldSession) -> None:
    if session.draft:
        session.draft = session.draft[:-1]
    elif session.tool == "picture":
        session.change(accepted(lambda: replace(session.field, picture=None)), tr("take away the picture"))
    elif session.tool == "scale":
        session.known = session.known[:-1]
    else:
        if not selecting.remove_all(session):
            with_thing(session, partial(remove_thing, session))


def move_by(session: FieldSession, dx: float, dy: float) -> None:
    picture = session.field.picture
    if session.tool == "scale":
        if session.known:
            x, y = session.known[-1]
            session.known = (*session.known[:-1], (tidy(x + dx), tidy(y + dy)))
        return
    if session.tool == "picture":
        assert picture is not None
        corner = (tidy(picture.corner[0] + dx), tidy(picture.corner[1] + dy))
        made = accepted(lambda: replace(session.field, picture=replace(picture, corner=corner)))
        session.change(made, tr("move the picture"), ("keys", "picture"))
        return
    if session.chosen is None:
        session.say(tr("Pick a thing first: press tab, or click one"))
        return
    if selecting.shift_all(session, dx, dy):
        return
    handle = replace(WALLS_HANDLE, part="far right") if session.chosen.kind == "walls" else session.chosen
    x, y = grips.place_of(session.field, handle)
    made = grips.grip(session.field, handle, (tidy(x + dx), tidy(y + dy)))
    session.change(made, tr("move {name}", name=session._called(handle)), ("keys", "move", handle))


def turn_by(session: FieldSession, by: float) -> None:
    if session.chosen is None:
        session.say(tr("Pick a thing first: press tab, or click one"))
        return
    made = field_edits.turn_by(session.field, session.chosen.whole, by)
    session.change(
        made, tr("turn {name}", name=session._called(session.chosen)), ("keys", "turn", session.chosen.whole)
    )


def lay(session: FieldSession, tool: str) -> None:
    if session.field.picture is None:
        # The window looks for one beside the file.
        session.wants.add("picture")
        return
    session._take("pick" if session.tool == tool else tool)
    session._choose(None)


def across_the_picture(session: FieldSession) -> None:
    """Without a mouse: from the picture's left edge to its right one."""
    picture = session.field.picture
    assert picture is not None
    (x, y), middle = picture.corner, (session.aspect or 0.0) * picture.width / 2
    session.known = ((x, tidy(y + middle)), (tidy(x + picture.width), tidy(y + middle)))
    numbers.ask_distance(session)


def switch(session: FieldSession, index: int, way: int) -> None:
    session.entry = None
    if index == 0:
        switch_own(session, way)
    elif index == 1:
        session.snap = (session.snap + way) % len(SNAPS)
        session.say(tr("What is dragged snaps to {snaps}", snaps=tr(SNAPS[session.snap][0])))
    else:
        switch_picture(session, way)


def switch_own(session: FieldSession, way: int) -> None:
    if session.place.kind == "walls":
        made = field_things.with_walls(session.field, inf if session.field.walls is None else None)
        if session.change(made, tr("the edge of the field")):
            session.say(
                tr("An open board: its edge is a drop, and driving over it counts as touching")
                if session.field.walls is None else tr("Walls all round: type how high they are")
            )  # fmt: skip
        return
    thing = field_things.thing_at(session.field, session.place)
    if isinstance(thing, Target):
        asked = 90.0 if thing.heading is None else None
        session.change(
            field_edits.set_number_of(session.field, session.place, "heading", asked), tr("the heading asked for")
        )
        return
    words = field_edits.choices_of(session.field, session.place)
    if not words:
        session.say(tr("There is nothing to choose here"))
        return
    options = words[0].options
    to = options[(options.index(str(words[0].value)) + way) % len(options)]
    # Going on to the next is one step with it, and begins from what there was at first: who comes past the first
    # shape again has all its corners again.
    token = ("word", session.place.whole)
    history = session.history
    first = history.steps[history.at - 1].state if history.drag == token else session.field
    session.change(field_edits.set_choice_of(first, session.place.whole, words[0].key, to), words[0].label, token)


def switch_picture(session: FieldSession, way: int) -> None:
    now = None if session.field.picture is None else session.field.picture.file
    options: list[str | None] = [None, *sorted({*session.pictures, *([now] if now is not None else [])})]
    if len(options) == 1:
        session.wants.add("picture")
        return
    to = options[(options.index(now) + way) % len(options)]
    if to is None:
        made = accepted(lambda: replace(session.field, picture=None))
        if session.change(made, tr("take away the picture")):
            session.say(tr("No picture any more; ctrl z brings it back"))
    else:
        session.take_picture(to)


def insert_corner(session: FieldSession, handle: Handle, point: Point) -> None:
    at = (tidy(round(point[0])), tidy(round(point[1])))
    before = session._corners(handle)
    if session.change(field_edits.insert_corner(session.field, handle.whole, at), tr("one more corner")):
        new = next((n for n, p in enumerate(session._corners(handle)) if n >= len(before) or p != before[n]), 0)
        session._choose(replace(handle, part=f"corner {new}"))
