"""What is said of what the pointer rests on, and what shape it has there."""

from __future__ import annotations

from typing import TYPE_CHECKING

from fieldsim.language import tr
from fieldsim.report.phrases import how_often_shortly
from fieldsim.report.words.single import whole
from fieldsim.window.keys import RUN_KEYS, key_tip
from fieldsim.window.run import edits as run_edits
from fieldsim.window.run.numbers import dial_of

if TYPE_CHECKING:
    from fieldsim.window.run.session import RunSession

__all__ = ["cursor_of", "tip_of"]

# Buttons that are called otherwise than what they do.
_ACTIONS = {"back": "step back", "forth": "step forth"}


def tip_of(session: RunSession, what: str) -> str:
    """A line or two on what is under the pointer, by its name; empty where there is nothing to say."""
    word = what.split(" ")
    match word:
        case ["block", number]:
            return _block(session, int(number) - 1)
        case ["path", number]:
            return _path(session, int(number), "")
        case ["path", number, kind]:
            return _path(session, int(number), kind)
        case ["handle", "start"]:
            return tr("drag: where it starts (alt: without snapping); click: its numbers")
        case ["handle", "turn"]:
            return tr("drag: how it is turned at the start (alt: without snapping)")
        case ["handle", "width"]:
            return tr("drag: how wide the robot is")
        case ["robot"]:
            return tr("drag: along its way")
        case ["hint"]:
            return tr("press to put the square in")
        case ["trouble", _]:
            return tr("look at these trials one by one")
        case ["trouble", _, part]:
            return tr("the trial before") if part == "back" else tr("the next trial")
        case ["button", name]:
            return key_tip(RUN_KEYS, _ACTIONS.get(name, name))
        case ["number", number, *_]:
            return _row(session, session.first_row + int(number))
        case ["ribbon"]:
            return tr("how much room is left; drag: the time, wheel with ctrl: nearer")
    return ""


def _path(session: RunSession, g: int, kind: str) -> str:
    from fieldsim.window.run.gripping import grip_named

    grip = grip_named(session, g, kind)
    words = f"{g + 1} {session.run.segments[g].in_words()}"
    told = {
        "end": tr("drag: how far (shift: whole centimetres, alt: the turn before it too)"),
        "turn": tr("drag: how far it turns (alt: without snapping)"),
        "bulge": tr("drag: how round it is (alt: without snapping)"),
        "wall": tr("drag to the wall or side it is pushed on"),
        "line": tr("drag to the line it looks for"),
    }
    if grip is None:
        return words
    if grip.kind == "end" and session.run.segments[g].key == "arc":
        return f"{words}\n{told['bulge']}"
    return f"{words}\n{told[grip.kind]}"


def _block(session: RunSession, g: int) -> str:
    """All of a segment's words, for blocks too narrow for them, and how it does."""
    if not 0 <= g < len(session.run.segments):
        return ""
    lines = [f"{g + 1} {session.run.segments[g].in_words()}"]
    shown = session._fresh()
    if shown is not None and shown.answer is not None:
        answer = shown.answer
        lines += [
            tr("room left in 19 of 20: {gap} mm", gap=whole(max(room.p05, 0.0)))
            for room in answer.ribbon
            if room.segment == g + 1 and room.p05 < answer.horizon
        ]
        for target in answer.targets:
            if target.segment == g + 1:
                lines.append(tr("in place {often}", often=how_often_shortly(target.share, answer.trials)))
                if target.miss_p95 is not None:
                    lines.append(tr("off in 19 of 20 by at most {miss} mm", miss=whole(target.miss_p95)))
        lines += [
            tr("caught {often}", often=how_often_shortly(square.share, answer.trials))
            for square in answer.squares
            if square.segment == g + 1
        ]
    return "\n".join(lines)


def _row(session: RunSession, number: int) -> str:
    """What a number is, and what is accepted."""
    lines = session.lines
    if number >= len(lines) or lines[number].key == "kind" or session.place is None:
        return ""
    line = lines[number]
    if line.choice:
        key = line.key.removeprefix("choice ")
        found = run_edits.choices(session.run, session.place, possible=False)
        return next((choice.about for choice in found if choice.key == key), "")
    place, key = dial_of(session, line)
    dial = next(dial for dial in run_edits.numbers_at(session.run, place) if dial.key == key)
    accepted = tr("accepted: {bounds}", bounds=dial.bounds)
    return f"{dial.about}\n{accepted}"


def cursor_of(session: RunSession, what: str | None) -> str:
    """The pointer's shape: 'arrow', 'hand', 'move', 'across', 'up', 'text'."""
    drag = session._drag
    if drag is not None:
        return "move" if drag.what in ("pan", "pan or context", "field", "handle start") else "hand"
    if what is None or (session.listing is not None and not what.startswith("list ")):
        return "arrow"
    if what == "handle start":
        return "move"
    if what.endswith(" entry") and what.startswith("number"):
        number = session.first_row + int(what.split(" ")[1])
        return "text" if number < len(session.lines) and not session.lines[number].choice else "hand"
    if what in ("ribbon", "axis"):
        return "across"
    hands = (
        "handle",
        "path",
        "robot",
        "block",
        "button",
        "number ",
        "switch ",
        "trouble",
        "hint",
        "menu ",
        "list ",
        "answer",
    )
    return "hand" if what.startswith(hands) else "arrow"
