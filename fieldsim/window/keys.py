"""Keys of the window and what they do. The help overlay and the window read the same lists."""

from __future__ import annotations

from dataclasses import dataclass

from fieldsim.language import tr, tr_later

__all__ = [
    "FIELD_KEYS",
    "MATCH_KEYS",
    "NUDGES",
    "PROPOSAL_KEYS",
    "ROBOT_KEYS",
    "RUN_KEYS",
    "SEASON_KEYS",
    "STUDIES_KEYS",
    "Key",
    "action_of",
    "help_rows",
    "key_said",
    "key_tip",
]


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
    Key(("up", "ctrl up"), "row up", tr_later("pick a number"), tr_later("up, down; ctrl up, down")),
    Key(("down", "ctrl down"), "row down"),
    Key(("page up",), "more", tr_later("change that number (shift: finely)"), tr_later("page up, page down")),
    Key(("page down",), "less"),
    Key(("shift page up",), "more finely"),
    Key(("shift page down",), "less finely"),
)
_EDITING = (
    Key(("ctrl z",), "undo", tr_later("undo, or do it again"), tr_later("ctrl z, ctrl y")),
    Key(("ctrl y", "ctrl shift z"), "redo"),
    Key(("ctrl s",), "save", tr_later("save")),
    Key(("f",), "fit", tr_later("the whole field")),
    Key(("+", "="), "nearer", tr_later("nearer, or farther"), tr_later("+ and -")),
    Key(("-",), "farther"),
)

RUN_KEYS = (
    Key(("space",), "play", tr_later("drive, or stop")),
    Key(("left",), "left", tr_later("less, more by 1 (shift: 10); or the time"), tr_later("left, right")),
    Key(("right",), "right"),
    Key(("up",), "up"),
    Key(("down",), "down"),
    Key(("shift left",), "far left"),
    Key(("shift right",), "far right"),
    Key(("shift up",), "far up"),
    Key(("shift down",), "far down"),
    Key(("ctrl left",), "step back", tr_later("a little back, or on"), tr_later("ctrl left, right")),
    Key(("ctrl right",), "step forth"),
    Key(
        ("ctrl shift left",),
        "segment back",
        tr_later("to the segment before, or after"),
        tr_later("ctrl shift left, right"),
    ),
    Key(("ctrl shift right",), "segment forth"),
    Key(("home",), "begin", tr_later("to the begin, or the end"), tr_later("home, end")),
    Key(("end",), "end"),
    Key(("[",), "slower", tr_later("slower, or faster"), tr_later("[ and ]")),
    Key(("]",), "faster"),
    Key(("tab",), "next segment", tr_later("pick the next segment (shift: the one before)")),
    Key(("shift tab",), "last segment"),
    *_NUMBERS,
    Key(("return",), "type", tr_later("type that number (again: done)"), tr_later("enter")),
    Key(("g",), "lead", tr_later("click where it should drive (again: no more)")),
    Key(("n",), "add", tr_later("a new segment after this one")),
    Key(("c",), "copy", tr_later("the segment once more")),
    Key(("delete",), "remove", tr_later("take the segment out")),
    Key(("ctrl page up",), "earlier", tr_later("segment earlier, or later"), tr_later("ctrl page up, ctrl page down")),
    Key(("ctrl page down",), "later"),
    Key(("s",), "pick start", tr_later("pick the start")),
    Key(("alt left",), "start left", tr_later("move the start by 1 mm (shift: 10 mm)"), tr_later("alt and arrows")),
    Key(("alt right",), "start right"),
    Key(("alt up",), "start up"),
    Key(("alt down",), "start down"),
    Key(("alt shift left",), "start far left"),
    Key(("alt shift right",), "start far right"),
    Key(("alt shift up",), "start far up"),
    Key(("alt shift down",), "start far down"),
    Key(
        ("alt [", "alt page up"),
        "start turned left",
        tr_later("turn the start by half a degree"),
        tr_later("alt [ and ]"),
    ),
    Key(("alt ]", "alt page down"), "start turned right"),
    Key(("k",), "rest", tr_later("later places stay, or move along, when the path is dragged")),
    Key(("j",), "next jig", tr_later("start in the next jig, or by eye")),
    Key(("r",), "next robot", tr_later("the next robot")),
    Key(("w",), "next wear", tr_later("wear the next attachment")),
    Key(("b",), "pick body", tr_later("the robot's own numbers")),
    Key(("t",), "next failing", tr_later("a trial that fails (shift: any trial)")),
    Key(("shift t",), "next trial"),
    *_EDITING,
    Key(("ctrl shift s",), "save as", tr_later("save under another name")),
    Key(("a",), "studies", tr_later("ask a study about this run")),
    Key(("x",), "axis", tr_later("the strip by time, or by way")),
    Key(("d",), "look", tr_later("light, or dark")),
    Key(("f11",), "full screen", tr_later("the whole screen")),
    Key(("escape",), "drop", tr_later("drop what is picked")),
    Key(("f1", "h", "?"), "help", tr_later("this list"), "h"),
    Key(("ctrl b",), "season", tr_later("back to the season")),
    Key(("ctrl q",), "quit", tr_later("close the window")),
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
    Key(("o",), "order", tr_later("as written, in the best order, or by hand")),
    Key((",", "ctrl page up"), "earlier", tr_later("the run earlier, or later"), tr_later(", and .")),
    Key((".", "ctrl page down"), "later"),
    Key(("delete",), "remove", tr_later("leave the run out, or put one in again"), tr_later("delete, n")),
    Key(("n",), "add"),
    Key(("f",), "fit", tr_later("the whole field")),
    Key(("+", "="), "nearer", tr_later("nearer, or farther"), tr_later("+ and -")),
    Key(("-",), "farther"),
    Key(("d",), "look", tr_later("light, or dark")),
    Key(("f11",), "full screen", tr_later("the whole screen")),
    Key(("f1", "h", "?"), "help", tr_later("this list"), "h"),
    Key(("ctrl b",), "season", tr_later("back to the season")),
    Key(("ctrl q",), "quit", tr_later("close the window")),
)

FIELD_KEYS = (
    Key(("1",), "draw box", tr_later("box, round, outline, start area"), "1, 2, 3, 4"),
    Key(("2",), "draw round"),
    Key(("3",), "draw outline"),
    Key(("4",), "draw start area"),
    Key(("5",), "draw jig", tr_later("jig, line, target"), "5, 6, 7"),
    Key(("6",), "draw line"),
    Key(("7",), "draw target"),
    Key(("0",), "pick", tr_later("put the tool away")),
    Key(("return",), "type", tr_later("put one down, close, or type"), tr_later("enter")),
    Key(("tab",), "next thing", tr_later("the next thing (shift: last one)")),
    Key(("shift tab",), "last thing"),
    Key((), "", tr_later("drag without snapping"), tr_later("alt held")),
    Key((), "", tr_later("drag only along, or only across"), tr_later("shift held")),
    Key(("left", "alt left"), "left", tr_later("move it by 1 mm (shift: 10 mm)"), tr_later("arrow keys")),
    Key(("right", "alt right"), "right"),
    Key(("up", "alt up"), "up"),
    Key(("down", "alt down"), "down"),
    Key(("shift left", "alt shift left"), "far left"),
    Key(("shift right", "alt shift right"), "far right"),
    Key(("shift up", "alt shift up"), "far up"),
    Key(("shift down", "alt shift down"), "far down"),
    Key(("alt [", "alt page up"), "turned left", tr_later("turn it by half a degree"), tr_later("alt [ and ]")),
    Key(("alt ]", "alt page down"), "turned right"),
    Key(("m",), "name", tr_later("type its name")),
    Key(("s",), "own word", tr_later("another shape, corner or edge")),
    Key(("c",), "copy", tr_later("the thing once more")),
    Key(("ctrl c",), "keep", tr_later("copy, cut out, paste"), tr_later("ctrl c, ctrl x, ctrl v")),
    Key(("ctrl x",), "cut"),
    Key(("ctrl v",), "paste"),
    Key(("ctrl d",), "duplicate", tr_later("all that is picked once more")),
    Key(("ctrl a",), "all", tr_later("pick everything")),
    Key((), "", tr_later("pick one more, or draw a frame about several"), tr_later("ctrl and click, shift and drag")),
    Key(("delete", "backspace"), "remove", tr_later("take it away, or a corner of it"), tr_later("delete")),
    Key(("e",), "next corner", tr_later("pick an outline's next corner")),
    Key(("i",), "more corners", tr_later("one more corner after that")),
    *_NUMBERS,
    Key(("p",), "picture", tr_later("lay a picture of the mat, or move it")),
    Key(("k",), "scale", tr_later("set its size from a known length")),
    Key(("shift p",), "another picture", tr_later("the next picture, or none")),
    Key(("g",), "grid", tr_later("what drags snap to")),
    Key(("ctrl p",), "plan", tr_later("plan a run here")),
    Key(("ctrl w",), "propose", tr_later("let runs be proposed here")),
    *_EDITING,
    Key(("d",), "look", tr_later("light, or dark")),
    Key(("f11",), "full screen", tr_later("the whole screen")),
    Key(("escape",), "drop", tr_later("put the tool away, let it go")),
    Key(("f1", "h", "?"), "help", tr_later("this list"), "h"),
    Key(("ctrl q",), "quit", tr_later("close the window")),
)


SEASON_KEYS = (
    Key(("left",), "left tile", tr_later("pick another one"), tr_later("arrow keys")),
    Key(("right",), "right tile"),
    Key(("up",), "upper tile"),
    Key(("down",), "lower tile"),
    Key(("home",), "first tile"),
    Key(("end",), "last tile"),
    Key(("return", "space"), "open", tr_later("open what is picked"), tr_later("enter")),
    Key(("n",), "new run", tr_later("a new run")),
    Key(("shift f",), "new field", tr_later("a new field, or robot"), tr_later("shift f, shift r")),
    Key(("shift r",), "new robot"),
    Key(("shift s",), "new season", tr_later("a new season")),
    Key(("p",), "plan", tr_later("plan a run on the field that is picked")),
    Key(("w",), "propose", tr_later("let runs be proposed on it")),
    Key(("c",), "duplicate", tr_later("the same once more")),
    Key(("m", "f2"), "rename", tr_later("type another name")),
    Key(("delete",), "delete", tr_later("put it into the trash")),
    Key(("ctrl z",), "put back", tr_later("take it out of the trash again")),
    Key(("page up",), "scroll up", tr_later("the shelf up, or down"), tr_later("page up, page down")),
    Key(("page down",), "scroll down"),
    Key(("d",), "look", tr_later("light, or dark")),
    Key(("f11",), "full screen", tr_later("the whole screen")),
    Key(("escape",), "drop", tr_later("drop what is picked")),
    Key(("f1", "h", "?"), "help", tr_later("this list"), "h"),
    Key(("ctrl q",), "quit", tr_later("close the window")),
)


ROBOT_KEYS = (
    Key(("tab",), "next part", tr_later("the next part (shift: the one before)")),
    Key(("shift tab",), "last part"),
    Key(("b",), "part body", tr_later("the body, or the wheels"), tr_later("b, w")),
    Key(("w",), "part drive"),
    Key(("m",), "part weight", tr_later("the weight")),
    Key(("c",), "part caster", tr_later("a new caster, sensor, attachment"), tr_later("c, s, a")),
    Key(("s",), "part sensor"),
    Key(("a",), "part attachment"),
    Key(("delete",), "remove", tr_later("take it away")),
    Key(("return",), "type", tr_later("type that number (again: done)"), tr_later("enter")),
    *_NUMBERS,
    Key(("r",), "next run", tr_later("the odds of the next run")),
    *_EDITING,
    Key(("d",), "look", tr_later("light, or dark")),
    Key(("f11",), "full screen", tr_later("the whole screen")),
    Key(("escape",), "drop", tr_later("let it go")),
    Key(("f1", "h", "?"), "help", tr_later("this list"), "h"),
    Key(("ctrl b",), "season", tr_later("back to the season")),
    Key(("ctrl q",), "quit", tr_later("close the window")),
)

STUDIES_KEYS = (
    Key(("up",), "upper", tr_later("another question"), tr_later("up, down")),
    Key(("down",), "lower"),
    Key(("return", "space"), "ask", tr_later("ask it"), tr_later("enter")),
    Key(("x",), "cancel", tr_later("break it off")),
    Key(("o",), "report", tr_later("open the whole report, or the card")),
    Key(("t",), "see", tr_later("see better numbers in the run, and take them one by one")),
    Key(("d",), "look", tr_later("light, or dark")),
    Key(("f11",), "full screen", tr_later("the whole screen")),
    Key(("escape", "ctrl b"), "season", tr_later("back to the run")),
    Key(("f1", "h", "?"), "help", tr_later("this list"), "h"),
    Key(("ctrl q",), "quit", tr_later("close the window")),
)

PROPOSAL_KEYS = (
    Key(("return", "space"), "ask", tr_later("look for ways"), tr_later("enter")),
    Key(("tab",), "row after", tr_later("another choice (shift: the one before)")),
    Key(("shift tab",), "row before"),
    Key(("right", "page up"), "more", tr_later("the next to choose from, or the one before"), tr_later("left, right")),
    Key(("left", "page down"), "less"),
    Key(("down",), "lower", tr_later("another way"), tr_later("up, down")),
    Key(("up",), "upper"),
    Key(("t",), "take", tr_later("take this way over as a run")),
    Key(("f",), "fit", tr_later("the whole field")),
    Key(("+", "="), "nearer", tr_later("nearer, or farther"), tr_later("+ and -")),
    Key(("-",), "farther"),
    Key(("d",), "look", tr_later("light, or dark")),
    Key(("f11",), "full screen", tr_later("the whole screen")),
    Key(("escape",), "drop", tr_later("break off, or go back")),
    Key(("ctrl b",), "season", tr_later("back")),
    Key(("f1", "h", "?"), "help", tr_later("this list"), "h"),
    Key(("ctrl q",), "quit", tr_later("close the window")),
)


def action_of(keys: tuple[Key, ...], pressed: str) -> str | None:
    """What a key does, by its name with its modifiers in the order 'ctrl alt shift'."""
    return next((key.action for key in keys if pressed in key.keys), None)


_TO = ("left", "right", "up", "down", "far left", "far right", "far up", "far down", "turned left", "turned right")
NUDGES = frozenset(
    (
        "row up", "row down", "more", "less", "more finely", "less finely", "step back", "step forth", "nearer",
        "farther", "scroll up", "scroll down", "left tile", "right tile", "upper tile", "lower tile", *_TO,
        *(f"start {way}" for way in _TO),
    )
)  # fmt: skip
"""Actions that a held key does again and again."""


def key_tip(keys: tuple[Key, ...], action: str) -> str:
    """What a button does, and the key for it; empty if no key does it."""
    number = next((n for n, key in enumerate(keys) if key.action == action and key.keys), None)
    if number is None:
        return ""
    key = keys[number]
    # One row of the help tells of two keys that belong together.
    told = next((each for each in reversed(keys[: number + 1]) if each.words), key)
    return tr("{words} (key: {key})", words=tr(told.words), key=key_said(key.keys[0]))


def key_said(pressed: str) -> str:
    """A key as it is told: 'ctrl z'."""
    return " ".join(tr(_NAMED.get(word, word)) for word in pressed.split(" "))


def help_rows(keys: tuple[Key, ...]) -> tuple[tuple[str, str], ...]:
    """(keys, words) for the help overlay."""
    return tuple((_written(key), tr(key.words)) for key in keys if key.words)


# Keys that have a word of their own on a keyboard.
_NAMED = {
    "ctrl": tr_later("ctrl"),
    "alt": tr_later("alt"),
    "shift": tr_later("shift"),
    "space": tr_later("space"),
    "tab": tr_later("tab"),
    "delete": tr_later("delete"),
    "escape": tr_later("escape"),
    "home": tr_later("home"),
    "end": tr_later("end"),
}


def _written(key: Key) -> str:
    """How the help writes the keys."""
    return tr(key.shown) if key.shown else key_said(key.keys[0])
