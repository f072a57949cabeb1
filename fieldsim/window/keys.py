"""Keys of the window and what they do. The help overlay and the window read the same lists."""

from __future__ import annotations

from dataclasses import dataclass

from fieldsim.language import tr, tr_later

__all__ = ["FIELD_KEYS", "MATCH_KEYS", "RUN_KEYS", "Key", "action_of", "help_rows"]


@dataclass(frozen=True)
class Key:
    """``keys`` are pressed for ``action``: names such as 'space', 'ctrl z', 'shift left'."""

    keys: tuple[str, ...]
    action: str
    words: str = ""
    """For the help; empty if another row tells it too."""
    shown: str = ""
    """How the help writes the keys; empty for the keys themselves."""


# Alike in both windows: the number card; undo, saving and looking.
_NUMBERS = (
    Key(("up",), "row up", "pick a number", "up, down"),
    Key(("down",), "row down"),
    Key(("page up",), "more", "change that number (shift: finely)", "page up, page down"),
    Key(("page down",), "less"),
    Key(("shift page up",), "more finely"),
    Key(("shift page down",), "less finely"),
)
_EDITING = (
    Key(("ctrl z",), "undo", "undo, or do it again", "ctrl z, ctrl y"),
    Key(("ctrl y", "ctrl shift z"), "redo"),
    Key(("ctrl s",), "save", "save"),
    Key(("f",), "fit", "the whole field"),
    Key(("+", "="), "nearer", "nearer, or farther", "+ and -"),
    Key(("-",), "farther"),
)

RUN_KEYS = (
    Key(("space",), "play", "drive, or stop"),
    Key(("left",), "step back", "a little back, or on", "left, right"),
    Key(("right",), "step forth"),
    Key(("shift left",), "segment back", "to the segment before, or after", "shift left, right"),
    Key(("shift right",), "segment forth"),
    Key(("home",), "begin", "to the begin, or the end", "home, end"),
    Key(("end",), "end"),
    Key(("[", "ctrl left"), "slower", "slower, or faster", "[ and ]"),
    Key(("]", "ctrl right"), "faster"),
    Key(("tab",), "next segment", "pick the next segment (shift: the one before)"),
    Key(("shift tab",), "last segment"),
    *_NUMBERS,
    Key(("return",), "type", "type that number (again: done)", "enter"),
    Key(("n",), "add", "a new segment after this one"),
    Key(("c",), "copy", "the segment once more"),
    Key(("delete",), "remove", "take the segment out"),
    Key((",",), "earlier", "segment earlier, or later", ", and ."),
    Key((".",), "later"),
    Key(("s",), "pick start", "pick the start"),
    Key(("alt left",), "start left", "move the start by 1 mm (shift: 10 mm)", "alt and arrows"),
    Key(("alt right",), "start right"),
    Key(("alt up",), "start up"),
    Key(("alt down",), "start down"),
    Key(("alt shift left",), "start far left"),
    Key(("alt shift right",), "start far right"),
    Key(("alt shift up",), "start far up"),
    Key(("alt shift down",), "start far down"),
    Key(("alt [", "alt page up"), "start turned left", "turn the start by half a degree", "alt [ and ]"),
    Key(("alt ]", "alt page down"), "start turned right"),
    Key(("j",), "next jig", "start in the next jig, or by eye"),
    Key(("r",), "next robot", "the next robot"),
    Key(("w",), "next wear", "wear the next attachment"),
    Key(("b",), "pick body", "the robot's own numbers"),
    Key(("t",), "next failing", "a trial that fails (shift: any trial)"),
    Key(("shift t",), "next trial"),
    *_EDITING,
    Key(("x",), "axis", "the strip by time, or by way"),
    Key(("d",), "look", "light, or dark"),
    Key(("f11",), "full screen", "the whole screen"),
    Key(("escape",), "drop", "drop what is picked"),
    Key(("f1", "h", "?"), "help", "this list", "h"),
    Key(("ctrl q",), "quit", "close the window"),
)

MATCH_KEYS = (
    Key(("space",), "play", tr_later("play, or stop")),
    Key(("left",), "step back", tr_later("a little back, or on"), tr_later("left, right")),
    Key(("right",), "step forth"),
    Key(("shift left",), "stretch back", tr_later("to the run before, or after"), tr_later("shift left, right")),
    Key(("shift right",), "stretch forth"),
    Key(("home",), "begin", tr_later("to the begin, or the end"), tr_later("home, end")),
    Key(("end",), "end"),
    Key(("[", "ctrl left"), "slower", tr_later("slower, or faster"), tr_later("[ and ]")),
    Key(("]", "ctrl right"), "faster"),
    Key(("t",), "next match", tr_later("the next match (shift: the one before)")),
    Key(("shift t",), "last match"),
    Key(("o",), "order", tr_later("as written, or in the best order")),
    Key(("f",), "fit", tr_later("the whole field")),
    Key(("+", "="), "nearer", tr_later("nearer, or farther"), tr_later("+ and -")),
    Key(("-",), "farther"),
    Key(("d",), "look", tr_later("light, or dark")),
    Key(("f11",), "full screen", tr_later("the whole screen")),
    Key(("f1", "h", "?"), "help", tr_later("this list"), "h"),
    Key(("ctrl q",), "quit", tr_later("close the window")),
)

FIELD_KEYS = (
    Key(("1",), "draw box", "box, round, outline, start area", "1, 2, 3, 4"),
    Key(("2",), "draw round"),
    Key(("3",), "draw outline"),
    Key(("4",), "draw start area"),
    Key(("5",), "draw jig", "jig, line, target", "5, 6, 7"),
    Key(("6",), "draw line"),
    Key(("7",), "draw target"),
    Key(("0",), "pick", "put the tool away"),
    Key(("return",), "type", "put one down, close, or type", "enter"),
    Key(("tab",), "next thing", "the next thing (shift: last one)"),
    Key(("shift tab",), "last thing"),
    Key((), "", "drag without snapping", "alt held"),
    Key((), "", "drag only along, or only across", "shift held"),
    Key(("alt left",), "left", "move it by 1 mm (shift: 10 mm)", "alt and arrows"),
    Key(("alt right",), "right"),
    Key(("alt up",), "up"),
    Key(("alt down",), "down"),
    Key(("alt shift left",), "far left"),
    Key(("alt shift right",), "far right"),
    Key(("alt shift up",), "far up"),
    Key(("alt shift down",), "far down"),
    Key(("alt [", "alt page up"), "turned left", "turn it by half a degree", "alt [ and ]"),
    Key(("alt ]", "alt page down"), "turned right"),
    Key(("m",), "name", "type its name"),
    Key(("s",), "own word", "another shape, corner or edge"),
    Key(("c",), "copy", "the thing once more"),
    Key(("delete", "backspace"), "remove", "take it away, or a corner of it", "delete"),
    Key(("e",), "next corner", "pick an outline's next corner"),
    Key(("i",), "more corners", "one more corner after that"),
    *_NUMBERS,
    Key(("p",), "picture", "lay a picture of the mat, or move it"),
    Key(("k",), "scale", "set its size from a known length"),
    Key(("shift p",), "another picture", "the next picture, or none"),
    Key(("g",), "grid", "what drags snap to"),
    *_EDITING,
    Key(("d",), "look", "light, or dark"),
    Key(("f11",), "full screen", "the whole screen"),
    Key(("escape",), "drop", "put the tool away, let it go"),
    Key(("f1", "h", "?"), "help", "this list", "h"),
    Key(("ctrl q",), "quit", "close the window"),
)


def action_of(keys: tuple[Key, ...], pressed: str) -> str | None:
    """What a key does, by its name with its modifiers in the order 'ctrl alt shift'."""
    return next((key.action for key in keys if pressed in key.keys), None)


def help_rows(keys: tuple[Key, ...]) -> tuple[tuple[str, str], ...]:
    """(keys, words) for the help overlay."""
    return tuple((tr(key.shown or key.keys[0]), tr(key.words)) for key in keys if key.words)
