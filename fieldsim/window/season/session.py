"""A season in the window: what is picked, what is being begun or renamed, what is known of each file by now. Knows no
screen and no disk: what is to be done there it orders (``orders``)."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from fieldsim.files.nodes import ENDINGS
from fieldsim.language import tr, tr_as, tr_later, tr_many
from fieldsim.model import Field
from fieldsim.model.errors import shown
from fieldsim.window.asking import Question, letter_answer
from fieldsim.window.keys import SEASON_KEYS, action_of
from fieldsim.window.season.counting import Known
from fieldsim.window.season.files import TABLES, Item, Season, users_of
from fieldsim.window.season.shelf import SeasonLayout, Section, season_layout, shelve
from fieldsim.window.session import BrowsingSession, Entry

__all__ = ["ACTIONS", "Form", "Order", "SeasonSession"]

# Two presses within so many seconds open what is picked.
DOUBLE = 0.45
NEW = ("new run", "new field", "new robot")

ACTIONS: Mapping[str, tuple[str, ...]] = {
    "run": ("open", "ask", "duplicate", "rename", "delete"),
    "field": ("open", "plan", "propose", "duplicate", "rename", "delete"),
    "robot": ("open", "duplicate", "rename", "delete"),
    "match": ("open", "duplicate", "rename", "delete"),
    "tests": ("duplicate", "rename", "delete"),
    "log": ("duplicate", "rename", "delete"),
}
"""What can be done with a file, by its kind: buttons of its card."""


@dataclass(frozen=True)
class Form:
    """Something that is being begun or renamed."""

    what: str
    """'run', 'field', 'robot', 'season' or 'rename'."""
    field: Path | None = None
    robot: Path | None = None
    start: str | None = None
    """The jig; None for the field's first, or"""
    by_eye: bool = False
    """for a start by eye."""
    file: Path | None = None
    """Where it is to lie, if that was asked for."""

    @property
    def rows(self) -> tuple[str, ...]:
        return ("field", "robot", "start", "name") if self.what == "run" else ("name",)


@dataclass(frozen=True)
class Order:
    """Something to be done on the disk, or opened."""

    what: str
    item: Item | None = None
    form: Form | None = None
    name: str = ""
    folder: Path | None = None


class SeasonSession(BrowsingSession[Season]):
    """One season being looked at."""

    KEYS = SEASON_KEYS
    places: SeasonLayout  # type: ignore[assignment]

    def __init__(
        self, season: Season, size: tuple[int, int] = (1280, 800), scale: float = 1.0, recent: tuple[Path, ...] = ()
    ) -> None:
        super().__init__(season, scale)
        self.season = season
        self.recent = recent
        self.known: Mapping[Path, Known] = {}
        self.chosen: str | None = None
        """The key of a tile."""
        self.form: Form | None = None
        self.scrolled = 0.0
        self.orders: list[Order] = []
        self._missing: Path | None = None
        self._clicked: tuple[str, float] = ("", -1.0)
        self.places = season_layout(size, scale)
        self.sections: tuple[Section, ...] = ()
        self.high = 0.0
        self._shelved()

    # --- what there is -----------------------------------------------------------------------------------------------

    @property
    def item(self) -> Item | None:
        """The file that is picked."""
        return self.item_of(self.chosen)

    def item_of(self, key: str | None) -> Item | None:
        if key is None or not key.startswith("item "):
            return None
        number = int(key.split(" ")[1])
        return self.season.items[number] if number < len(self.season.items) else None

    @property
    def actions(self) -> tuple[str, ...]:
        """The buttons of the card."""
        if self.form is not None:
            return ("begin", "back")
        item = self.item
        return () if item is None else ACTIONS[item.kind]

    @property
    def contents(self) -> tuple[tuple[str, tuple[str, ...]], ...]:
        """Sections of the shelf: a kind and the keys of its tiles."""
        keys: dict[str, list[str]] = {}
        for number, item in enumerate(self.season.items):
            kind = "tests" if item.kind in TABLES else item.kind
            keys.setdefault(kind, []).append(f"item {number}")
        for new in NEW:
            keys.setdefault(new.removeprefix("new "), []).append(new)
        return tuple((kind, tuple(keys[kind])) for kind in ("run", "field", "robot", "match", "tests") if kind in keys)

    @property
    def starts(self) -> tuple[str | None, ...]:
        """Where a new run may start on the field that is chosen: jigs, and None by eye."""
        field = self._value(None if self.form is None else self.form.field)
        return (*(jig.name for jig in field.jigs), None) if isinstance(field, Field) else (None,)

    @property
    def start_shown(self) -> str | None:
        """The jig that the form shows; None for a start by eye."""
        form = self.form
        if form is None or form.by_eye:
            return None
        return form.start if form.start is not None else self.starts[0]

    def _value(self, path: Path | None) -> Any:
        known = None if path is None else self.known.get(path)
        return None if known is None else known.value

    # --- what changes ------------------------------------------------------------------------------------------------

    def tick(self, now: float) -> None:
        self._now = now
        self._words_go(now)

    def learn(self, news: Mapping[Path, Known]) -> None:
        """More is known of some files."""
        if news:
            self.known = {**self.known, **news}

    def renew(self, season: Season, pick: Path | None = None) -> None:
        """The folder was looked at anew; what was picked stays picked, or ``pick`` is."""
        item = self.item
        wanted = pick if pick is not None else None if item is None else item.path
        self.season = season
        self.known = {path: known for path, known in self.known.items() if season.item(path) is not None}
        number = next((n for n, each in enumerate(season.items) if each.path == wanted), None)
        if number is not None:
            self.chosen = f"item {number}"
        elif self.chosen is not None and self.chosen.startswith("item "):
            self.chosen = None
        self._shelved()
        if pick is not None:
            self._show_tile()

    def _shelved(self) -> None:
        _, self.high = shelve(self.places, self.contents, 0.0)
        self.scrolled = min(max(self.scrolled, 0.0), max(0.0, self.high - self.places.field.h))
        self.sections, _ = shelve(self.places, self.contents, self.scrolled)

    def _scroll_by(self, pixels: float) -> None:
        self.scrolled += pixels
        self._shelved()

    def _show_tile(self) -> None:
        """Scroll so far that what is picked is seen."""
        tile = next((tile for section in self.sections for tile in section.tiles if tile.key == self.chosen), None)
        shelf = self.places.field
        if tile is None:
            return
        title = self.places.px(30)
        if tile.rect.y - title < shelf.y:
            self._scroll_by(tile.rect.y - title - shelf.y)
        elif tile.rect.bottom > shelf.bottom - self.places.px(6):
            self._scroll_by(tile.rect.bottom - shelf.bottom + self.places.px(6))

    def resize(self, size: tuple[int, int], scale: float | None = None) -> None:
        self.scale = self.scale if scale is None else scale
        self.places = season_layout(size, self.scale)
        self._shelved()

    def pick(self, key: str | None) -> None:
        """Pick a tile; one of something new begins it."""
        self._drop_form()
        self.chosen = key
        self._show_tile()
        if key in NEW:
            self._begin(key.removeprefix("new "))

    # --- forms -------------------------------------------------------------------------------------------------------

    def _begin(self, what: str, field: Path | None = None) -> None:
        form = Form(what)
        names = {"run": tr("New run"), "field": tr("New field"), "robot": tr("New robot"), "season": tr("my season")}
        if what == "run":
            fields, robots = self.season.of("field"), self.season.of("robot")
            if not fields or not robots:
                self.say(tr("A run needs a field and a robot: make these first"))
                return
            form = Form(what, field or fields[0].path, robots[0].path)
        self.form = form
        kinds = {"season": ()}.get(what, (what,))
        self._type_name(self._free(names[what], kinds))

    def ask_for(self, file: Path, kind: str) -> None:
        """A file was asked for that is not there: begin what its name says, or ask what it is to be."""
        self._missing = file
        if kind:
            self._begin_missing(kind)
            return
        self.ask(
            "missing",
            Question(
                tr("There is no file {file}", file=shown(str(file), 200)),
                (tr("What is it to be?"),),
                (
                    letter_answer("run", tr("a run"), tr_as("letter: a run", "r")),
                    letter_answer("field", tr("a field"), tr_as("letter: a field", "f")),
                    letter_answer("robot", tr("a robot"), tr_as("letter: a robot", "b")),
                    letter_answer("none", tr("nothing"), tr_as("letter: nothing", "n"), "escape"),
                ),
            ),
        )

    def plan_on(self, field: Path) -> None:
        """Begin a run on a field."""
        number = next((n for n, item in enumerate(self.season.items) if item.path.resolve() == field.resolve()), None)
        if number is not None:
            self.pick(f"item {number}")
            self._begin("run", self.season.items[number].path)

    def _begin_missing(self, kind: str) -> None:
        file, self._missing = self._missing, None
        assert file is not None
        if file.suffix.casefold() not in ENDINGS:
            file = file.with_name(f"{file.name}.yaml")
        self._begin(kind)
        if self.form is not None:
            self.form = replace(self.form, file=file)
            words = " ".join(file.stem.replace("-", " ").replace("_", " ").split())
            self._type_name(words[:1].upper() + words[1:])

    def _free(self, name: str, kinds: tuple[str, ...]) -> str:
        taken = {item.name for item in self.season.of(*kinds)}
        number = 1
        while (f"{name} {number}" if number > 1 else name) in taken:
            number += 1
        return f"{name} {number}" if number > 1 else name

    def _type_name(self, text: str) -> None:
        assert self.form is not None
        self.entry = Entry(self.form.rows.index("name"), text, len(text), fresh=True)

    def _drop_form(self) -> None:
        self.form = self.entry = None

    def _choose(self, row: str, way: int) -> None:
        """Another field, robot or start for the run that is being begun."""
        form = self.form
        if form is None or row == "name":
            return
        if row == "start":
            options: tuple[Any, ...] = self.starts
            now: Any = self.start_shown
        else:
            options = tuple(item.path for item in self.season.of(row))
            now = getattr(form, row)
        to = options[(options.index(now) + way) % len(options)] if now in options else options[0]
        self.form = replace(form, start=to, by_eye=to is None) if row == "start" else replace(form, **{row: to})
        if row == "field":
            self.form = replace(self.form, start=None, by_eye=False)

    def _done(self) -> None:
        """The form is filled in."""
        form, entry = self.form, self.entry
        if form is None:
            return
        name = "" if entry is None else entry.text.strip()
        if not name:
            self.say(tr("Type a name first"))
            return
        what = "rename" if form.what == "rename" else f"begin {form.what}"
        self.orders.append(Order(what, self.item, form, name))

    def form_done(self) -> None:
        """What was ordered by the form has been done."""
        self._drop_form()

    # --- events ------------------------------------------------------------------------------------------------------

    def under(self, x: float, y: float) -> str | None:
        """What is under a pixel, by name."""
        if self._covered:
            return self.over_at(x, y)
        places = self.places
        for name, rect in places.buttons:
            if rect.contains(x, y):
                return f"button {name}"
        for n, name in enumerate(self.actions):
            if places.actions[n].contains(x, y):
                return f"button {name}"
        if self.form is not None:
            for row, (_, minus, entry, plus) in zip(self.form.rows, places.rows, strict=False):
                for part, rect in (("minus", minus), ("entry", entry), ("plus", plus)):
                    if rect.contains(x, y):
                        return f"row {row} {part}"
        for n, rect in enumerate(places.season_rows):
            if rect.contains(x, y):
                return f"season {n}"
        if places.field.contains(x, y):
            for section in self.sections:
                for tile in section.tiles:
                    if tile.rect.contains(x, y):
                        return f"tile {tile.key}"
            return "shelf"
        return None

    def pressed(self, x: float, y: float, button: str = "left", mods: frozenset[str] = frozenset()) -> None:
        if self._covered:
            self._press_over(x, y)
            return
        self._pointer = (x, y)
        what = self.under(x, y)
        if what is None or button != "left":
            return
        word, _, rest = what.partition(" ")
        if word == "tile":
            again, self._clicked = self._clicked, (rest, self._now)
            if again[0] == rest and self._now - again[1] <= DOUBLE and self.item is not None and self.form is None:
                self.do("open")
            else:
                self.pick(rest)
        elif word == "shelf":
            self.pick(None)
        elif word == "button":
            self.do(rest)
        elif word == "row":
            row, _, part = rest.rpartition(" ")
            if part != "entry" or row != "name":
                self._choose(row, -1 if part == "minus" else 1)
            elif self.entry is not None:
                self.entry = replace(self.entry, fresh=False)
        elif word == "season":
            self._press_season(int(rest))

    def _press_season(self, number: int) -> None:
        if number == 0:
            self.do("new season")
        elif number - 1 < len(self.recent):
            self.orders.append(Order("go", folder=self.recent[number - 1]))

    def moved(self, x: float, y: float, mods: frozenset[str] = frozenset()) -> None:
        self._pointer = (x, y)
        self.hover = self.under(x, y)

    def released(self, x: float, y: float) -> None:
        """Nothing is dragged here."""

    def wheel(self, x: float, y: float, steps: float, mods: frozenset[str] = frozenset()) -> None:
        if not self._covered:
            self._scroll_by(-steps * self.places.px(60))
            self.hover = self.under(x, y)

    def text(self, letters: str) -> None:
        if self.entry is not None and not self._covered:
            if self._swallowed and letters == self._swallowed:
                self._swallowed = ""
                return
            self.entry = self.entry.with_letters(letters, 400)
        self._swallowed = ""

    _swallowed = ""

    def key(self, pressed: str) -> None:
        self._swallowed = ""
        before = self.entry
        if self._key(pressed) and self.entry is not None and before is None and len(pressed) <= 7:
            # The letter that began an entry comes once more, as text.
            letter = pressed.removeprefix("shift ")
            self._swallowed = letter.upper() if pressed.startswith("shift ") else letter

    def _type_key(self, pressed: str) -> bool:
        entry = self.entry
        assert entry is not None
        made = entry.edited(pressed)
        if made is not None:
            self.entry = made
            return True
        if pressed == "return":
            self._done()
        elif pressed == "escape":
            self._drop_form()
        else:
            # Letters come as text; other keys that write nothing do what they do.
            return action_of(self.KEYS, pressed) not in ("quit", "full screen")
        return True

    def do(self, action: str) -> None:
        """An action of ``keys.SEASON_KEYS``, or of a button."""
        item = self.item
        match action:
            case "left tile" | "right tile" | "upper tile" | "lower tile" | "first tile" | "last tile":
                self._step_tile(action.split(" ")[0])
            case "scroll up" | "scroll down":
                self._scroll_by((-0.8 if action == "scroll up" else 0.8) * self.places.field.h)
            case "new run" | "new field" | "new robot":
                self.pick(action)
            case "new season":
                self.pick(None)
                self._begin("season")
            case "begin":
                self._done()
            case "back":
                self._drop_form()
            case "drop":
                self.pick(None)
            case "look":
                self._change_look()
            case "help":
                self._show_help()
            case "put back" | "quit" | "full screen" | "season":
                self.wants.add("quit" if action == "season" else action)
            case _:
                if item is None:
                    self.say(tr("Pick something first"))
                elif action in ACTIONS[item.kind]:
                    self._with_item(action, item)

    def _with_item(self, action: str, item: Item) -> None:
        if action == "plan":
            self._begin("run", item.path)
        elif action == "rename":
            self.form = Form("rename")
            self._type_name(item.path.stem if item.kind in TABLES else item.name)
        elif action == "delete":
            self.ask("delete", self._delete_question(item))
        else:
            self.orders.append(Order(action, item))

    def _delete_question(self, item: Item) -> Question:
        users = users_of(self.season, item.path)
        lines = [tr("It goes to the folder 'trash' of this season; ctrl z takes it out again.")]
        if users:
            names = ", ".join(shown(user.name, 60) for user in users[:3])
            lines.append(
                tr_many("{names} drives with it and could not be opened then.",
                        "{n} runs drive with it and could not be opened then: {names} ...", len(users), names=names)
            )  # fmt: skip
        return Question(
            tr("Put {name} away?", name=shown(item.name, 60)),
            tuple(lines),
            (
                letter_answer("away", tr("put it away"), tr_as("letter: put it away", "p"), "y", "delete"),
                letter_answer("stay", tr("leave it"), tr_as("letter: leave it", "l"), "n", "escape"),
            ),
        )

    def _answered(self, asked: str, answer: str) -> None:
        if asked == "missing" and answer != "none":
            self._begin_missing(answer)
        if asked == "delete" and answer == "away" and self.item is not None:
            self.orders.append(Order("delete", self.item))

    def _step_tile(self, way: str) -> None:
        """The next tile in a direction, by where they stand."""
        tiles = [tile for section in self.sections for tile in section.tiles]
        if not tiles:
            return
        now = next((n for n, tile in enumerate(tiles) if tile.key == self.chosen), None)
        if now is None or way in ("first", "last"):
            self._pick_quietly(tiles[-1 if way == "last" else 0].key)
            return
        if way in ("left", "right"):
            self._pick_quietly(tiles[min(max(now + (1 if way == "right" else -1), 0), len(tiles) - 1)].key)
            return
        here = tiles[now].rect
        down = way == "lower"
        others = [tile for tile in tiles if (tile.rect.y > here.y if down else tile.rect.y < here.y)]
        if others:
            row = (min if down else max)(tile.rect.y for tile in others)
            middle = here.centre[0]
            nearest = min(
                (tile for tile in others if tile.rect.y == row), key=lambda tile: abs(tile.rect.centre[0] - middle)
            )
            self._pick_quietly(nearest.key)

    def _pick_quietly(self, key: str) -> None:
        """Pick by keys: one of something new is begun by enter only."""
        self._drop_form()
        self.chosen = key
        self._show_tile()

    def _nudge(self, number: int, steps: float, fine: bool, token: object) -> None:
        """There are no numbers here."""

    def _switch(self, index: int, way: int) -> None:
        """There are no switches here."""


WORDS: Mapping[str, str] = {
    "open": tr_later("open"),
    "ask": tr_later("ask a study"),
    "plan": tr_later("plan a run here"),
    "propose": tr_later("let runs be proposed"),
    "duplicate": tr_later("once more"),
    "rename": tr_later("rename"),
    "delete": tr_later("put away"),
    "begin": tr_later("begin"),
    "back": tr_later("go back"),
}
"""What is written on the buttons of the card."""
