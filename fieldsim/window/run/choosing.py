"""Lists of a run: the words of a choice on the number card or a switch, and what can be done with what is under the
pointer."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial
from typing import TYPE_CHECKING, Any

from fieldsim.language import tr
from fieldsim.model import StartByEye
from fieldsim.model.errors import shown
from fieldsim.window import listing
from fieldsim.window.camera import Rect
from fieldsim.window.dials import Choices, Refused
from fieldsim.window.keys import key_said
from fieldsim.window.listing import Choice, open_list
from fieldsim.window.run import edits as run_edits
from fieldsim.window.run import leading, switches
from fieldsim.window.run import segments as segment_edits

if TYPE_CHECKING:
    from fieldsim.window.run.session import RunSession

__all__ = ["open_context", "open_kinds", "open_row", "open_switch"]

# A sign before what is chosen of several.
ON, OFF = "\N{BALLOT BOX WITH CHECK} ", "\N{BALLOT BOX} "


def _below(rect: Rect) -> tuple[float, float]:
    return rect.x, rect.bottom


def _row_rect(session: RunSession, number: int) -> Rect:
    rows = session.places.rows
    at = number - session.first_row
    return rows[at].entry if 0 <= at < len(rows) else session.places.numbers


def open_row(session: RunSession, number: int) -> None:
    """The list of a choice on the number card."""
    from fieldsim.window.run.numbers import card_lines

    line = card_lines(session)[number]
    at = _below(_row_rect(session, number))
    if line.key == "kind":
        open_kinds(session, at)
        return
    key = line.key.removeprefix("choice ")
    assert session.place is not None
    choice = next(each for each in run_edits.choices(session.run, session.place) if each.key == key)
    if choice.many:
        open_list(session, at, choice.label, _toggles(session, key), again=partial(_toggles, session, key))
        return
    options: list[Any] = [*([None] if choice.nothing else []), *choice.options]
    rows = [Choice(_said(choice, option), partial(_choose, session, choice, option)) for option in options]
    open_list(session, at, choice.label, rows, options.index(choice.value) if choice.value in options else 0)


def _said(choice: Choices, option: str | None) -> str:
    if option is None:
        return choice.nothing or tr("nothing")
    return shown(option) if choice.names else tr(option)


def _choose(session: RunSession, choice: Choices, option: str | None) -> None:
    if session.place is not None and option != choice.value:
        session.change(run_edits.set_choice(session.run, session.place, choice.key, option), choice.label)


def _toggles(session: RunSession, key: str) -> list[Choice]:
    """Rows of names of which several may be chosen."""
    place = session.place
    if place is None:
        return []
    choice = next(each for each in run_edits.choices(session.run, place) if each.key == key)
    chosen = choice.value or ()

    def toggle(word: str) -> None:
        session.change(run_edits.toggle(session.run, place, key, word), choice.label)

    return [
        Choice((ON if word in chosen else OFF) + shown(word), partial(toggle, word), stays=True)
        for word in choice.options
    ]


def open_kinds(session: RunSession, at: tuple[float, float]) -> None:
    """The kinds that the picked segment can have; why not, of the others."""
    from fieldsim.window.run.numbers import kind_said

    g = session.place
    assert isinstance(g, int)
    pose = session.way.pose_at(float(g)) if g < len(session.way.segments) else None
    words = segment_edits.SEGMENT_WORDS
    rows = []
    for word in words:
        made = segment_edits.with_kind(session.run, g, word, pose)
        if isinstance(made, Refused):
            rows.append(Choice(kind_said(word), partial(session.say, made.words), made.words))
        else:
            take = partial(session.change, made, tr("the kind of a segment"))
            rows.append(Choice(kind_said(word), take, made.segments[g].in_words()))
    open_list(session, at, tr("kind"), rows, words.index(segment_edits.kind_word(session.run.segments[g])))


def open_switch(session: RunSession, index: int) -> None:
    """The list of a switch: the start, the robot, what it wears."""
    at = _below(session.places.switch_rows[index].entry)
    run = session.run
    if index == 0:
        jigs = [jig.name for jig in run.field.jigs]
        rows = [Choice(shown(name), partial(switches.start_in, session, name)) for name in jigs]
        rows.append(Choice(tr("by eye"), partial(switches.start_in, session, None)))
        now = len(jigs) if isinstance(run.start, StartByEye) else jigs.index(run.start)
        open_list(session, at, tr("start"), rows, now)
    elif index == 1:
        files = sorted(session.robots)
        rows = [
            Choice(shown(session.robots[file].name), partial(switches.drive_with, session, file), file.name)
            for file in files
        ]
        now_file = session.history.state.robot_file
        open_list(session, at, tr("robot"), rows, files.index(now_file) if now_file in files else 0)
    else:
        if not run.robot.attachments:
            session.say(tr("This robot has nothing to wear"))
            return
        open_list(session, at, tr("wears"), _worn(session), again=partial(_worn, session))


def _worn(session: RunSession) -> list[Choice]:
    run = session.run

    def toggle(name: str) -> None:
        session.change(run_edits.toggle(session.run, "run", "wear", name), tr("what it wears"))

    return [
        Choice((ON if each.name in run.wear else OFF) + shown(each.name), partial(toggle, each.name), stays=True)
        for each in run.robot.attachments
    ]


# --- what can be done with what is under the pointer -----------------------------------------------------------------


def open_context(session: RunSession, x: float, y: float) -> None:
    """What can be done where the right button was pressed."""
    what = session.under(x, y) or ""
    word = what.split(" ")
    do = session.do

    def row(words: str, action: str | Callable[[], object], keys: str = "") -> Choice:
        return Choice(words, partial(do, action) if isinstance(action, str) else action, key_said(keys))

    title, rows = tr("here"), []
    if word[0] in ("path", "block") and len(word) > 1:
        g = int(word[1]) - (1 if word[0] == "block" else 0)
        session._pick(g)
        title = f"{g + 1} {session.run.segments[g].in_words()}"
        rows = [
            row(tr("another kind ..."), partial(open_kinds, session, (x, y))),
            row(tr("a new segment after it"), "add", "n"),
            row(tr("once more"), "copy", "c"),
            row(tr("take it out"), "remove", "delete"),
            row(tr("earlier"), "earlier", tr("ctrl page up")),
            row(tr("later"), "later", tr("ctrl page down")),
        ]
    elif word[0] == "handle":
        title = tr("the start")
        rows = [
            *[row(tr("start in {jig}", jig=shown(jig.name)), partial(switches.start_in, session, jig.name))
              for jig in session.run.field.jigs],
            row(tr("start by eye"), partial(switches.start_in, session, None)),
            row(tr("its numbers"), "pick start", "s"),
            row(tr("the robot's own numbers"), "pick body", "b"),
        ]  # fmt: skip
    elif session.places.field.contains(x, y):
        rows = [row(tr("drive to here ..."), partial(_lead, session, x, y), "g")]
        if session.troubles:
            rows.append(row(tr("a trial that fails"), "next failing", "t"))
        rows += [
            row(tr("the whole field"), "fit", "f"),
            row(tr("ask a study about this run"), "studies", "a"),
        ]
    elif what.startswith(("ribbon", "axis", "segments")):
        rows = [
            row(tr("the strip by time, or by way"), "axis", "x"),
        ]
    if session.history.undo_words and rows:
        rows.append(row(tr("undo: {words}", words=session.history.undo_words), "undo", "ctrl z"))
    open_list(session, (x, y), title, rows)


def _lead(session: RunSession, x: float, y: float) -> None:
    """What can be driven to from the last segment, or the one that is picked."""
    listing.close(session)
    if session.leading is None:
        leading.begin(session)
    leading.open_at(session, x, y)
