"""What the windows of runs and of fields have in common: words, undo, questions, the number card, the wheel.

State that events change, as plain values: no screen, no clock and no disk. ``run.session`` and ``field.session`` say
what is picked and what a change does.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any, ClassVar, Generic, TypeVar

from fieldsim.language import tr
from fieldsim.window import listing
from fieldsim.window.asking import Question, answer_rects, known_question
from fieldsim.window.camera import Camera
from fieldsim.window.history import History
from fieldsim.window.keys import NUDGES, Key, action_of
from fieldsim.window.paint.layout import Layout
from fieldsim.window.snapping import Guide

__all__ = ["BEGINNING", "ZOOM", "BrowsingSession", "Entry", "Session"]

T = TypeVar("T")

# Seconds that a word stays at least, and letters that are read in a second.
STAYS, READ = 4.0, 14.0
# How long the pointer rests before something is said of what is under it, seconds.
RESTS = 0.6
ZOOM = 1.2
# Letters that an entry takes.
LONGEST = 60
_IN_A_TEXT = frozenset(("backspace", "delete", "left", "right"))
# Signs that a number can begin with, besides its digits.
BEGINNING = frozenset("-.,")


@dataclass(frozen=True)
class Entry:
    """A number or name that is being typed."""

    line: int
    text: str
    cursor: int
    wrong: bool = False
    fresh: bool = False
    """Nothing was typed yet: the first letter takes the place of all that is there."""

    def with_letters(self, letters: str, longest: int = LONGEST) -> Entry:
        """With letters put in at the cursor; those that cannot be printed are left out."""
        kept = "".join(letter for letter in letters if letter.isprintable())
        if not kept:
            return self
        before, after = ("", "") if self.fresh else (self.text[: self.cursor], self.text[self.cursor :])
        text = (before + kept + after)[:longest]
        return Entry(self.line, text, min(len(before + kept), len(text)))

    def edited(self, pressed: str) -> Entry | None:
        """What a key makes of it; None if that key does nothing to a text."""
        text, cursor = self.text, self.cursor
        match pressed:
            case "backspace" | "delete" if self.fresh:
                return Entry(self.line, "", 0)
            case "backspace":
                cut = max(0, cursor - 1)
                return Entry(self.line, text[:cut] + text[cursor:], cut)
            case "delete":
                return Entry(self.line, text[:cursor] + text[cursor + 1 :], cursor)
            case "left" | "right":
                step = -1 if pressed == "left" else 1
                return replace(self, cursor=min(max(cursor + step, 0), len(text)), fresh=False)
            case "home" | "end":
                return replace(self, cursor=0 if pressed == "home" else len(text), fresh=False)
            case "ctrl a":
                return replace(self, cursor=len(text), fresh=True)
            case "ctrl u":
                return Entry(self.line, "", 0)
        return None


class Session(Generic[T]):
    """One thing being looked at and changed. Attributes that only some window asks for are the subclass's own."""

    places: Layout
    camera: Camera
    KEYS: ClassVar[tuple[Key, ...]]

    def __init__(self, begun: T, scale: float) -> None:
        self.history: History[T] = History.begun(begun)
        self.scale = scale
        self.dark = False
        self.row = 0
        self.first_row = 0
        self.entry: Entry | None = None
        self.hover: str | None = None
        self.tip = ""
        """What is said of what the pointer has rested on for a moment."""
        self._rested: tuple[str | None, float] = (None, 0.0)
        self.guides: tuple[Guide, ...] = ()
        self.guide_words = ""
        self.help = False
        self.toast = ""
        self.error: tuple[str, tuple[str, ...]] | None = None
        self.wants: set[str] = set()
        """What the window is asked for: 'save', 'quit', 'full screen', 'recover yes', 'recover no' ..."""
        self.listing: listing.Listing | None = None
        """A list to choose from that lies over the rest."""
        self.asked: str | None = None
        """What is asked before anything else: 'quit', 'recover', or what ``question`` says."""
        self.question: Question | None = None
        """What is asked, where it is not the same in every window."""
        self.going = "quit"
        """Where to, once it is known what becomes of what is not saved: 'quit', 'season' ..."""
        self._told_until: float | None = None
        """None: from the next tick on, since no time is known before the first."""
        self._now = 0.0
        self._pointer: tuple[float, float] = (0.0, 0.0)
        self._wheeled: tuple[str, float] = ("", 0.0)
        """What the wheel was turned over last, and what is left of a notch."""

    @property
    def unsaved(self) -> bool:
        """Whether there is anything to save."""
        return self.history.dirty

    def repeats(self, pressed: str) -> bool:
        """Whether a key does what it does again and again while it is held: it nudges, or goes about in a text."""
        if self._covered:
            return False
        if self.entry is not None:
            return pressed in _IN_A_TEXT
        return action_of(self.KEYS, pressed) in NUDGES

    @property
    def _on_a_number(self) -> bool:
        """Whether a number is picked on the card, so that a sign of one begins it."""
        raise NotImplementedError

    def _begins_number(self, pressed: str) -> bool:
        """Whether a key is the sign a number begins with, which comes once more as text: no other thing is meant."""
        return pressed in BEGINNING and self.entry is None and self._on_a_number

    # --- what a subclass says ----------------------------------------------------------------------------------------

    @property
    def lines(self) -> Sequence[Any]:
        """All lines of the number card."""
        raise NotImplementedError

    def _token(self) -> object:
        """What is picked, so that changes one after the other are one step."""
        raise NotImplementedError

    def do(self, action: str) -> None:
        """An action of ``KEYS``, or of a button."""
        raise NotImplementedError

    def _nudge(self, number: int, steps: float, fine: bool, token: object) -> None:
        raise NotImplementedError

    def _type_key(self, pressed: str) -> bool:
        """A key while something is typed; whether it was for that."""
        raise NotImplementedError

    def _type_done(self) -> bool:
        """Take what was typed; whether it could be."""
        raise NotImplementedError

    def _step(self, history: History[T], words: str) -> None:
        """Go to another step of the history."""
        raise NotImplementedError

    # --- keys --------------------------------------------------------------------------------------------------------

    def key(self, pressed: str) -> None:
        """A key goes down, by its name with its modifiers ('ctrl z', 'shift left')."""
        self._key(pressed)

    def _key(self, pressed: str) -> bool:
        """Whether the key was for an action, and not for a question or for what is typed."""
        if self.asked is not None:
            self._answer(pressed)
        elif self._covered:
            if pressed == "ctrl q":
                self.do("quit")
            else:
                self._close_over()
        elif listing.key(self, pressed):
            pass
        elif not (self.entry is not None and self._type_key(pressed)) and not self._begins_number(pressed):
            action = action_of(self.KEYS, pressed)
            if action is not None:
                self.do(action)
            return True
        return False

    # --- words and questions -----------------------------------------------------------------------------------------

    def say(self, words: str) -> None:
        """A short word at the bottom of the field."""
        self.toast = words.splitlines()[0] if words else ""
        self._told_until = None

    def tip_of(self, what: str) -> str:
        """What is said of what is under the pointer, by its name; empty where there is nothing to say."""
        return ""

    @property
    def cursor(self) -> str:
        """The pointer's shape: 'arrow', 'hand', 'move', 'across', 'text'."""
        return "arrow"

    def _tips_come(self, now: float) -> None:
        """Time has gone on: where the pointer has rested for a moment, a tip comes."""
        what = None if self._covered or self.listing is not None or getattr(self, "dragging", False) else self.hover
        if what != self._rested[0]:
            self._rested = what, now
            if self.tip:
                self.tip = ""
        elif what is not None and not self.tip and now - self._rested[1] >= RESTS:
            words = self.tip_of(what)
            if words:
                self.tip = words

    def _words_go(self, now: float) -> None:
        """Time has gone on: a word that was there long enough to be read vanishes."""
        self._tips_come(now)
        if self.toast and self._told_until is None:
            self._told_until = now + max(STAYS, len(self.toast) / READ)
        elif self.toast and self._told_until is not None and now >= self._told_until:
            self.toast = ""

    def ask(self, asked: str, question: Question | None = None) -> None:
        """Ask something before anything else."""
        self.asked, self.question = asked, question

    def leave(self, to: str) -> None:
        """Go somewhere else, such as 'quit'; what is not saved is asked about first."""
        self.going = to
        if self.unsaved_work:
            asked = known_question("quit")
            if to == "studies":
                asked = replace(asked, lines=(tr("A study asks the run as it is saved."),))
            self.ask("quit", asked)
        else:
            self.wants.add(to)

    @property
    def unsaved_work(self) -> bool:
        """Whether leaving loses something."""
        return self.history.dirty

    @property
    def asking(self) -> Question | None:
        """What is being asked."""
        if self.asked is None:
            return None
        return known_question(self.asked) if self.question is None else self.question

    @property
    def over(self) -> tuple[str, tuple[str, ...]] | None:
        """What lies over the window, a title and lines: a question, or what went wrong."""
        asking = self.asking
        return self.error if asking is None else (asking.title, asking.lines)

    @property
    def _covered(self) -> bool:
        """Whether something lies over the window that has to be read first."""
        return self.over is not None or self.help

    def _show_help(self) -> None:
        self.help = True

    def _close_over(self) -> None:
        self.help = False
        self.error = None

    def over_at(self, x: float, y: float) -> str | None:
        """The button under a pixel of what lies over the window: 'answer 0'."""
        asking = self.asking
        if asking is None:
            return None
        rects = answer_rects(self.places.field, self.places.unit, asking.answers)
        return next((f"answer {n}" for n, rect in enumerate(rects) if rect.contains(x, y)), None)

    def _press_over(self, x: float, y: float) -> None:
        """A press while something lies over the window: on a button of a question, else it was read."""
        asking, what = self.asking, self.over_at(x, y)
        if asking is not None and what is not None:
            self._give(asking.answers[int(what.split(" ")[1])].name)
        elif asking is None:
            self._close_over()

    def _answer(self, pressed: str) -> None:
        asking = self.asking
        answer = None if asking is None else asking.by_key(pressed)
        if answer is not None:
            self._give(answer.name)

    def _give(self, answer: str) -> None:
        """A question is answered."""
        asked, self.asked, self.question, self.hover = self.asked, None, None, None
        want = {
            ("quit", "save"): f"save, then {self.going}",
            ("quit", "go"): self.going,
            ("stale", "over"): "save over",
            ("unwritten", "as"): "name it",
            ("recover", "take"): "recover yes",
            ("recover", "throw"): "recover no",
            ("recover", "later"): "recover later",
            ("runs", "both"): "save with runs",
            ("runs", "alone"): "save alone",
        }.get((asked or "", answer))
        if want is not None:
            self.wants.add(want)
        elif asked is not None:
            self._answered(asked, answer)

    def _answered(self, asked: str, answer: str) -> None:
        """An answer to a question of this window's own."""

    # --- undo --------------------------------------------------------------------------------------------------------

    def _undo(self) -> None:
        words = self.history.undo_words
        self._step(
            self.history.undo(), tr("Taken back: {words}", words=words) if words else tr("There is nothing to undo")
        )

    def _redo(self) -> None:
        words = self.history.redo_words
        self._step(
            self.history.redo(), tr("Done again: {words}", words=words) if words else tr("There is nothing to do again")
        )

    # --- looking -----------------------------------------------------------------------------------------------------

    def _zoom(self, factor: float) -> None:
        view = self.places.field
        inside = view.contains(*self._pointer)
        self.camera = self.camera.zoomed(self._pointer if inside else view.centre, factor)

    def pinched(self, at: tuple[float, float], by: tuple[float, float], factor: float) -> None:
        """Two fingers shove and pinch: the view goes along, where they are on it."""
        view = getattr(self.places, "field", None)
        if not self._covered and view is not None and view.contains(*at) and hasattr(self, "camera"):
            self.camera = self.camera.panned(*by).zoomed(at, factor)

    def _change_look(self) -> None:
        self.dark = not self.dark

    # --- the number card and the wheel -------------------------------------------------------------------------------

    def _show_row(self) -> None:
        room = max(1, len(self.places.rows))
        self.first_row = min(max(self.first_row, self.row - room + 1), self.row)

    def _scroll(self, way: int) -> None:
        room = len(self.places.rows)
        self.first_row = min(max(self.first_row + way, 0), max(0, len(self.lines) - room))

    def _notches(self, what: str, steps: float) -> int:
        """Whole notches of a wheel. Flat pads send many small parts of one: each of them must not change a number."""
        over, turned = self._wheeled
        turned = steps if over != what or turned * steps < 0 else turned + steps
        whole = int(turned + (1e-9 if turned > 0 else -1e-9))
        self._wheeled = what, turned - whole
        return whole

    def _wheel_row(self, number: int, steps: int, fine: bool) -> None:
        if self.entry is not None:
            self._type_done()
        if number < len(self.lines):
            self.row = number
            self._nudge(number, steps, fine, token=("wheel", self._token(), number))

    def _wheel_card(self, what: str, steps: float, fine: bool) -> None:
        """The wheel turns over a card: more and less on a number, the next word on a switch."""
        whole = self._notches(what, steps)
        if whole == 0:
            return
        if what.startswith("number "):
            self._wheel_row(self.first_row + int(what.split(" ")[1]), whole, fine)
        elif what == "numbers":
            self._scroll(-1 if whole > 0 else 1)
        elif what.startswith("switch "):
            self._switch(int(what.split(" ")[1]), -1 if whole > 0 else 1)

    def _switch(self, index: int, way: int) -> None:
        raise NotImplementedError


class BrowsingSession(Session[T]):
    """One thing being looked at that has no numbers to be typed, and nothing to save."""

    @property
    def unsaved(self) -> bool:
        return False

    @property
    def lines(self) -> tuple[()]:
        return ()

    @property
    def _on_a_number(self) -> bool:
        return False


def moves(prefix: str = "") -> dict[str, tuple[float, float]]:
    """How far the actions of the arrow keys move something, mm."""
    ways = {"left": (-1.0, 0.0), "right": (1.0, 0.0), "up": (0.0, 1.0), "down": (0.0, -1.0)}
    return {
        f"{prefix}{far}{name}": (size * x, size * y)
        for far, size in (("", 1.0), ("far ", 10.0))
        for name, (x, y) in ways.items()
    }
