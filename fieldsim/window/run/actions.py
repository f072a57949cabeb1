"""What keys and buttons do to a run: driving and stopping, the next segment, one more, one fewer, the start nudged; the
next trial that fails."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial
from typing import TYPE_CHECKING

from fieldsim.language import tr
from fieldsim.sim.motion import start_pose, wrapped
from fieldsim.window.dials import Refused
from fieldsim.window.run import edits as run_edits
from fieldsim.window.run import leading, looking, naming, numbers, seeking
from fieldsim.window.run import segments as segment_edits
from fieldsim.window.run.state import PACES, STEP
from fieldsim.window.session import ZOOM, moves

if TYPE_CHECKING:
    from fieldsim.window.run.session import RunSession

__all__ = [
    "add_segment",
    "arrow",
    "change_axis",
    "change_rest",
    "copy_segment",
    "do",
    "drop",
    "move_start",
    "next_segment",
    "play",
    "remove_segment",
    "set_pace",
    "shift_segment",
    "to_segment",
    "turn_start",
    "with_entry",
    "with_segment",
]


_MOVES = moves("start ")
_ARROWS = moves()


def do(session: RunSession, action: str) -> None:
    """An action of ``keys.RUN_KEYS``, or of a button."""
    if session.entry is not None and not with_entry(session, action):
        return
    simple: dict[str, Callable[[], None]] = {
        "play": partial(play, session),
        "begin": lambda: session._to(0.0),
        "end": lambda: session._to(session.clock.seconds),
        "step back": lambda: session._to(session.seconds - STEP),
        "step forth": lambda: session._to(session.seconds + STEP),
        "segment back": lambda: to_segment(session, -1),
        "segment forth": lambda: to_segment(session, 1),
        "slower": lambda: set_pace(session, -1),
        "faster": lambda: set_pace(session, 1),
        "next segment": lambda: next_segment(session, 1),
        "last segment": lambda: next_segment(session, -1),
        "row up": lambda: session._to_row(-1),
        "row down": lambda: session._to_row(1),
        "more": lambda: session._nudge(session.row, 1, False, session._key_token()),
        "less": lambda: session._nudge(session.row, -1, False, session._key_token()),
        "more finely": lambda: session._nudge(session.row, 1, True, session._key_token()),
        "less finely": lambda: session._nudge(session.row, -1, True, session._key_token()),
        "type": lambda: session._type(session.row),
        "add": partial(add_segment, session),
        "lead": partial(leading.begin, session),
        "save as": partial(naming.begin, session),
        "copy": lambda: with_segment(session, partial(copy_segment, session)),
        "remove": lambda: with_segment(session, partial(remove_segment, session)),
        "earlier": lambda: with_segment(session, lambda g: shift_segment(session, g, -1)),
        "later": lambda: with_segment(session, lambda g: shift_segment(session, g, 1)),
        "pick start": lambda: session._pick("start"),
        "pick body": lambda: session._pick("body"),
        "next jig": lambda: session._switch(0, 1),
        "next robot": lambda: session._switch(1, 1),
        "next wear": lambda: session._switch(2, 1),
        "next failing": lambda: looking.next_trial(session, failing=True),
        "next trial": lambda: looking.next_trial(session, failing=False),
        "undo": session._undo,
        "redo": session._redo,
        "fit": session._fit,
        "nearer": lambda: session._zoom(ZOOM),
        "farther": lambda: session._zoom(1 / ZOOM),
        "rest": partial(change_rest, session),
        "axis": partial(change_axis, session),
        "look": session._change_look,
        "drop": partial(drop, session),
        "help": session._show_help,
        "start turned left": lambda: turn_start(session, 0.5),
        "start turned right": lambda: turn_start(session, -0.5),
    }
    if action in simple:
        simple[action]()
    elif action in _MOVES:
        move_start(session, *_MOVES[action])
    elif action in _ARROWS:
        arrow(session, *_ARROWS[action])
    elif action in ("quit", "season", "studies"):
        session.leave(action)
    else:
        session.wants.add(action)


def with_entry(session: RunSession, action: str) -> bool:
    """What becomes of a number that is being typed; whether the action goes on."""
    entry = session.entry
    assert entry is not None
    if action == "undo":
        session.entry = None
        typed = entry.line < len(session.lines) and (
            not entry.fresh or entry.text.strip() != session.lines[entry.line].text
        )
        if typed:
            session.say(tr("Taken back: what was typed"))
        return not typed
    if action == "save":
        return session._type_done()
    if action in ("quit", "season", "studies"):
        session._type_done()
        session.entry = None
    return True


def play(session: RunSession) -> None:
    if not session.playing and session.seconds >= session.clock.seconds:
        session.seconds = 0.0
    session.playing = not session.playing


def to_segment(session: RunSession, way: int) -> None:
    # By time: a segment that takes none must not be a place one cannot get past.
    edges = session.clock.edges
    if way > 0:
        session._to(min((edge for edge in edges if edge > session.seconds + 1e-6), default=session.clock.seconds))
    else:
        session._to(max((edge for edge in edges if edge < session.seconds - 1e-6), default=0.0))


def set_pace(session: RunSession, way: int) -> None:
    session.pace = min(max(session.pace + way, 0), len(PACES) - 1)


def next_segment(session: RunSession, way: int) -> None:
    count = len(session.run.segments)
    now = session.place if isinstance(session.place, int) else (-1 if way > 0 else count)
    session._pick((now + way) % count)
    # The robot goes there too.
    assert isinstance(session.place, int)
    session._to(session.clock.time_at(session.place))


def with_segment(session: RunSession, make: Callable[[int], None]) -> None:
    if isinstance(session.place, int):
        make(session.place)
    else:
        session.say(tr("Pick a segment first: press tab, or click one on the strip"))


def add_segment(session: RunSession) -> None:
    at = session.place + 1 if isinstance(session.place, int) else len(session.run.segments)
    new = segment_edits.new_segment(session.run, "straight")
    made = new if isinstance(new, Refused) else segment_edits.add_segment(session.run, at, new)
    if session.change(made, tr("a new segment")):
        session._pick(at)
        session.say(tr("A new straight: change its kind and its numbers at the right"))


def copy_segment(session: RunSession, g: int) -> None:
    if session.change(segment_edits.copy_segment(session.run, g), tr("segment {number} once more", number=g + 1)):
        session._pick(g + 1)


def remove_segment(session: RunSession, g: int) -> None:
    if session.change(segment_edits.remove_segment(session.run, g), tr("take out segment {number}", number=g + 1)):
        session._pick(min(g, len(session.run.segments) - 1))


def shift_segment(session: RunSession, g: int, way: int) -> None:
    if not 0 <= g + way < len(session.run.segments):
        if way < 0:
            session.say(tr("It is the first segment already"))
        else:
            session.say(tr("It is the last segment already"))
    elif session.change(segment_edits.move_segment(session.run, g, g + way), tr("the order of segments")):
        session.place = g + way


def move_start(session: RunSession, dx: float, dy: float) -> None:
    x, y, _ = start_pose(session.run)
    session._pick("start")
    session.change(run_edits.move_start(session.run, (x + dx, y + dy)), tr("move the start"), ("keys", "start"))


def arrow(session: RunSession, dx: float, dy: float) -> None:
    """An arrow key: what is picked is nudged by 1 mm or degree, with shift by 10; else the time goes on."""
    if session.place == "start":
        move_start(session, dx, dy)
    elif dy:
        session._to_row(-1 if dy > 0 else 1)
    elif session.place is not None and session._on_a_number:
        numbers.nudge_by(session, session.row, dx)
    elif session.place is None and abs(dx) == 1.0:
        session._to(session.seconds + dx * STEP)
    elif session.place is None:
        to_segment(session, 1 if dx > 0 else -1)


def turn_start(session: RunSession, by: float) -> None:
    session._pick("start")
    heading = wrapped(start_pose(session.run)[2] + by)
    session.change(run_edits.turn_start(session.run, heading), tr("turn the start"), ("keys", "turn"))


def change_axis(session: RunSession) -> None:
    session.axis = "way" if session.axis == "time" else "time"
    session._placed()


def change_rest(session: RunSession) -> None:
    session.stays = not session.stays
    session.say(
        tr("When the path is dragged, what comes later stays: its segments are solved anew")
        if session.stays
        else tr("When the path is dragged, what comes later moves along")
    )


def drop(session: RunSession) -> None:
    if session._drag is not None:
        session._take_back_drag()
    elif session.seeking is not None:
        seeking.stop(session)
    elif session.picked is not None:
        looking.leave(session)
    else:
        session.place = session.thing = session.entry = None
