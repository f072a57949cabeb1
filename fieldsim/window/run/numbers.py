"""The number card of a run: its lines, numbers nudged and typed, words stepped through."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Any

from fieldsim.language import tr, tr_as
from fieldsim.model import Run, Segment, units
from fieldsim.model.bounds import attributes
from fieldsim.report.phrases import spoken
from fieldsim.window import dials
from fieldsim.window.dials import Refused
from fieldsim.window.run import choosing
from fieldsim.window.run import edits as run_edits
from fieldsim.window.run import segments as segment_edits
from fieldsim.window.run.edits import Place
from fieldsim.window.run.state import Line
from fieldsim.window.session import BEGINNING, Entry

if TYPE_CHECKING:
    from fieldsim.window.run.session import RunSession

__all__ = [
    "begin_typing",
    "card_lines",
    "cycle",
    "cycle_kind",
    "dial_of",
    "entry_key",
    "kind_said",
    "nudge",
    "nudge_by",
    "press_row",
    "take_typed",
    "to_row",
    "type_if_number",
    "typed",
]


def card_lines(session: RunSession) -> tuple[Line, ...]:
    """All lines of the number card for what is picked."""
    if session.place is None:
        return ()
    found = []
    words = {each.key: each for each in run_edits.choices(session.run, session.place, possible=False)}
    if isinstance(session.place, int):
        found.append(Line("kind", tr("kind"), True, _kind(session.run.segments[session.place])))
    places: tuple[Place, ...] = ("body", "drive") if session.place == "body" else (session.place,)
    for place in places:
        dials_there = {dial.key: dial for dial in run_edits.numbers_at(session.run, place)}
        # In the order of the model, which is that of worth: of a square its face and wall before how fast it is.
        part = run_edits.part_at(session.run, place)
        names = () if part is None else tuple(attributes(type(part)))
        order = {name: n for n, name in enumerate(names)}
        keys = sorted(
            [*dials_there, *(words if isinstance(place, int) else ())], key=lambda key: order[key.split(".")[0]]
        )
        for key in keys:
            if key in dials_there:
                dial = dials_there[key]
                value = dial.value if dial.value is not None else dial.instead
                text = "" if value is None else _written(value, dial.kind.unit)
                found.append(Line(f"{place} {dial.key}", dial.label, False, text, dial.unit))
            else:
                found.append(Line(f"choice {key}", words[key].label, True, _chosen(words[key])))
    return tuple(found)


def to_row(session: RunSession, way: int) -> None:
    count = len(card_lines(session))
    if count == 0:
        session.say(tr("Pick a segment first: press tab, or click one on the strip"))
        return
    session.row = (session.row + way) % count
    session._show_row()


def press_row(session: RunSession, number: int, part: str, mods: frozenset[str]) -> None:
    if number >= len(card_lines(session)):
        return
    session.row = number
    line = card_lines(session)[number]
    if part == "entry" or line.choice:
        begin_typing(session, number)
        return
    steps = -1 if part == "minus" else 1
    nudge(session, number, steps, "shift" in mods, ("press", session.place, number))


def nudge(session: RunSession, number: int, steps: float, fine: bool, token: object) -> None:
    session.entry = None
    if not 0 <= number < len(card_lines(session)) or session.place is None:
        return
    line = card_lines(session)[number]
    if line.key == "kind":
        cycle_kind(session, 1 if steps > 0 else -1)
    elif line.choice:
        cycle(session, line.key.removeprefix("choice "), 1 if steps > 0 else -1)
    else:
        place, key = dial_of(session, line)
        session.change(run_edits.nudge(session.run, place, key, steps, fine), line.label, token)


def nudge_by(session: RunSession, number: int, amount: float) -> None:
    """A number more or less by so many mm or degrees; of another unit by as many of its small steps."""
    line = card_lines(session)[number]
    place, key = dial_of(session, line)
    dial = dials.find_dial(run_edits.numbers_at(session.run, place), key)
    steps = amount / dial.fine if dial.kind.unit in (units.LENGTH, units.ANGLE) else amount
    made = run_edits.nudge(session.run, place, key, steps, True)
    session.change(made, line.label, ("arrows", session.place, number))


def dial_of(session: RunSession, line: Line) -> tuple[Place, str]:
    word, _, key = line.key.partition(" ")
    return (int(word) if word.isdigit() else word), key  # type: ignore[return-value]


def cycle_kind(session: RunSession, way: int) -> None:
    """Another kind. Going on to the next is one step with it, and begins from what there was at first: who comes
    past the first kind again has all its numbers again."""
    g = session.place
    assert isinstance(g, int)
    words = segment_edits.SEGMENT_WORDS
    now = words.index(segment_edits.kind_word(session.run.segments[g]))
    token = ("kind", g)
    history = session.history
    first = history.steps[history.at - 1].state.run if history.drag == token else session.run
    pose = session.way.pose_at(float(g)) if g < len(session.way.segments) else None
    # Kinds that this field or robot has nothing for are passed over.
    for k in range(1, len(words)):
        made = segment_edits.with_kind(first, g, words[(now + way * k) % len(words)], pose)
        if not isinstance(made, Refused):
            session.change(made, tr("the kind of a segment"), token)
            return
    session.say(tr("There is no other kind that this robot can do on this field"))


def cycle(session: RunSession, key: str, way: int) -> None:
    assert session.place is not None
    choice = next(each for each in run_edits.choices(session.run, session.place) if each.key == key)
    options: list[Any] = [*([None] if choice.nothing and not choice.many else []), *choice.options]
    if choice.many:
        options = [(), *((word,) for word in choice.options)]
    if not options:
        return
    at = options.index(choice.value) if choice.value in options else -1
    made: Run | Refused | None = None
    # What cannot be, such as one sensor for both sides, is passed over; why is said if nothing else can be.
    for k in range(1, len(options) + 1):
        to = options[(at + way * k) % len(options)]
        if to == choice.value:
            break
        made = run_edits.set_choice(session.run, session.place, key, to)
        if not isinstance(made, Refused):
            break
    if made is not None:
        session.change(made, choice.label)


def begin_typing(session: RunSession, number: int) -> None:
    if not 0 <= number < len(card_lines(session)):
        session.say(tr("Pick a segment first: press tab, or click one on the strip"))
        return
    line = card_lines(session)[number]
    session.row = number
    session._show_row()
    if line.choice:
        choosing.open_row(session, number)
        return
    session.entry = Entry(number, line.text, len(line.text), fresh=bool(line.text))


def typed(session: RunSession, letters: str) -> None:
    """Letters are typed."""
    entry = session.entry
    if session._covered:
        return
    if entry is None:
        # A number can be written at once where one is picked.
        if not (letters.isdecimal() or letters in BEGINNING) or not session._on_a_number:
            return
        session._show_row()
        entry = Entry(session.row, "", 0)
    session.entry = entry.with_letters(letters)


def entry_key(session: RunSession, pressed: str) -> bool:
    """A key while a number is typed; whether it was for that."""
    entry = session.entry
    assert entry is not None
    match pressed:
        case "return" | "tab" | "shift tab" | "down" | "up":
            if take_typed(session) and pressed in ("tab", "down") and entry.line + 1 < len(card_lines(session)):
                type_if_number(session, entry.line + 1)
            elif session.entry is None and pressed in ("shift tab", "up") and entry.line > 0:
                type_if_number(session, entry.line - 1)
        case "escape":
            session.entry = None
        case _:
            if (edited := entry.edited(pressed)) is not None:
                session.entry = edited
                return True
            # Letters come as text; with control they are keys of their own.
            return not pressed.startswith(("ctrl", "f1", "f11"))
    return True


def type_if_number(session: RunSession, number: int) -> None:
    lines = card_lines(session)
    # What was typed may have been for a line that is there no more.
    if number >= len(lines):
        return
    session.row = number
    session._show_row()
    if not lines[number].choice:
        begin_typing(session, number)


def take_typed(session: RunSession) -> bool:
    """Take what was typed; whether it could be."""
    entry = session.entry
    if entry is None:
        return True
    lines = card_lines(session)
    if entry.line >= len(lines) or lines[entry.line].choice:
        # Another kind of segment has other lines.
        session.entry = None
        return True
    line = lines[entry.line]
    if entry.text.strip() == line.text:
        session.entry = None
        return True
    place, key = dial_of(session, line)
    made = run_edits.typed(session.run, place, key, entry.text)
    if isinstance(made, Refused):
        session.entry = replace(entry, wrong=True)
        session.say(made.words)
        return False
    session.entry = None
    return session.change(made, line.label)


def _written(value: float, unit: Any) -> str:
    """A dial's value without its unit."""
    return spoken(round(value / float(unit.scale), 6))


def _chosen(choice: dials.Choices) -> str:
    if isinstance(choice.value, tuple):
        return ", ".join(choice.value) or tr("nothing")
    if choice.value is None:
        return choice.nothing or tr("nothing")
    return choice.value if choice.names else tr(choice.value)


def _kind(segment: Segment) -> str:
    """The kind of a segment, in a word that has room on the number card."""
    return kind_said(segment_edits.kind_word(segment))


def kind_said(word: str) -> str:
    """A kind by the word of its files."""
    return {
        "straight": tr_as("kind", "straight"),
        "turn": tr_as("kind", "turn"),
        "arc": tr_as("kind", "arc"),
        "square": tr_as("kind", "square"),
        "line square": tr_as("kind", "line square"),
        "until": tr_as("kind", "until"),
        "act": tr_as("kind", "act"),
        "wait": tr_as("kind", "wait"),
    }[word]
