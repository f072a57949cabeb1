"""From a season's session to a scene: everything that the window shows of it, as plain data."""

from __future__ import annotations

from dataclasses import dataclass, replace
from os.path import relpath
from pathlib import Path
from typing import Any

from fieldsim.language import tr, tr_later, tr_many
from fieldsim.model import Body, Drive, Field, Robot, Run, StartByEye, Wait
from fieldsim.model.errors import shown as harmless
from fieldsim.report.phrases import fixed, how_often_apart, how_often_shortly, spoken
from fieldsim.sim.shapes import footprint
from fieldsim.sim.ways import Way
from fieldsim.window.asking import answers_of
from fieldsim.window.camera import Camera
from fieldsim.window.keys import SEASON_KEYS, help_rows
from fieldsim.window.paint.layout import Strip, layout
from fieldsim.window.paint.scene import ErrorWords, Scene
from fieldsim.window.season.counting import Known, wrong_lines
from fieldsim.window.season.files import Item, nothing_yet, users_of
from fieldsim.window.season.session import WORDS, Form, SeasonSession
from fieldsim.window.season.shelf import SeasonLayout, Section

__all__ = ["NOBODY", "Button", "FormRow", "SeasonScene", "SeasonView", "TileView"]

NOBODY = Robot("nobody", Body(100.0, 100.0, 50.0), Drive(80.0, 60.0))
_NOWHERE = Way((), ())
_NO_STRIP = Strip((), (0.0,))
# Marks in a map are drawn so much smaller than in a window.
SMALLER = 0.5
# Around a robot alone: so much of its own size.
AROUND = 1.15

TITLES = {
    "run": tr_later("Runs"), "field": tr_later("Fields"), "robot": tr_later("Robots"), "match": tr_later("Matches"),
    "tests": tr_later("Tests and log"),
}  # fmt: skip
KINDS = {
    "run": tr_later("a run"), "field": tr_later("a field"), "robot": tr_later("a robot"), "match": tr_later("a match"),
    "tests": tr_later("a sheet of tests"), "log": tr_later("a log of runs driven"),
}  # fmt: skip
NEW = {
    "new run": (tr_later("a new run"), tr_later("from nothing, on a field")),
    "new field": (tr_later("a new field"), tr_later("drawn by hand")),
    "new robot": (tr_later("a new robot"), tr_later("to be shaped by hand")),
}
FORMS = {
    "run": (tr_later("A new run"), tr_later("where, who drives, and from where")),
    "field": (tr_later("A new field"), tr_later("it is drawn next")),
    "robot": (tr_later("A new robot"), tr_later("with numbers to start from")),
    "season": (tr_later("A new season"), tr_later("a folder with a field, a robot and a run")),
    "rename": (tr_later("Another name"), tr_later("comments in the file stay")),
}
ROWS = {
    "field": tr_later("field"), "robot": tr_later("robot"), "start": tr_later("start"), "name": tr_later("name"),
}  # fmt: skip


@dataclass(frozen=True, eq=False)
class TileView:
    """What a tile shows. ``map`` is a run's or field's, ``standing`` a robot alone."""

    key: str
    title: str
    note: str
    picked: bool = False
    hot: bool = False
    map: Scene | None = None
    standing: Scene | None = None
    lines: tuple[str, ...] = ()
    """In place of a picture."""
    wrong: bool = False
    share: tuple[float, float, float] | None = None
    """How often it gets through, and its interval."""
    made_of: Any = None
    """The picture is another one if this is another object."""


@dataclass(frozen=True)
class Button:
    name: str
    words: str


@dataclass(frozen=True)
class FormRow:
    name: str
    label: str
    value: str
    typed: bool = False
    cursor: int | None = None
    fresh: bool = False
    on: bool = True


@dataclass(frozen=True, eq=False)
class SeasonScene:
    layout: SeasonLayout
    dark: bool
    title: str
    place: str
    """The folder."""
    sections: tuple[tuple[str, str, Section, tuple[TileView, ...]], ...]
    """Each with its title and, beside it, how many there are."""
    card_title: str
    card_note: str
    card_lines: tuple[str, ...]
    actions: tuple[Button, ...]
    form: tuple[FormRow, ...]
    seasons: tuple[tuple[str, str], ...]
    """The seasons that were open, each with its folder."""
    empty: tuple[str, ...] = ()
    hover: str | None = None
    toast: str = ""
    help: tuple[tuple[str, str], ...] = ()
    error: ErrorWords | None = None
    scrolled: float = 0.0
    high: float = 0.0


class SeasonView:
    """Scenes of one session; maps are kept as long as what they show is the same."""

    def __init__(self, session: SeasonSession) -> None:
        self.session = session
        self._maps: dict[str, tuple[Any, Any]] = {}

    def scene(self) -> SeasonScene:
        session = self.session
        season = session.season
        sections = tuple(
            (tr(TITLES[section.kind]), self._count(section), section, tuple(self._tile(t.key) for t in section.tiles))
            for section in session.sections
        )
        title, note, lines = self._card()
        folder = season.folder.absolute()
        return SeasonScene(
            layout=session.places,
            dark=session.dark,
            title=tr("Season: {name}", name=harmless(folder.name or str(folder), 60)),
            place=harmless(str(folder), 200),
            sections=sections,
            card_title=title,
            card_note=note,
            card_lines=lines,
            actions=tuple(Button(name, tr(WORDS[name])) for name in session.actions),
            form=self._form(),
            seasons=tuple((harmless(path.name or str(path), 60), harmless(str(path), 200)) for path in session.recent),
            hover=session.hover,
            toast=session.toast,
            help=help_rows(SEASON_KEYS) if session.help else (),
            error=None if session.over is None else ErrorWords(*session.over, answers_of(session.asking)),
            scrolled=session.scrolled,
            high=session.high,
        )

    def _count(self, section: Section) -> str:
        count = sum(tile.key.startswith("item ") for tile in section.tiles)
        return spoken(float(count)) if count else tr("none yet")

    # --- tiles -------------------------------------------------------------------------------------------------------

    def _tile(self, key: str) -> TileView:
        session = self.session
        picked, hot = key == session.chosen, session.hover == f"tile {key}"
        item = session.item_of(key)
        if item is None:
            title, note = NEW[key]
            return TileView(key, tr(title), tr(note), picked, hot)
        known = session.known.get(item.path)
        tile = TileView(key, harmless(item.name, 80), self._note(item, known), picked, hot, made_of=(item.path, known))
        if known is None:
            return replace(tile, lines=(tr("reading"),))
        if known.wrong is not None:
            return replace(tile, lines=wrong_lines(known), wrong=True)
        if item.kind == "match":
            return replace(tile, lines=tuple(harmless(each.name, 60) for each in known.value.runs))
        if item.kind in ("tests", "log"):
            return replace(tile, lines=_table_words(item, known))
        share = None if known.answer is None or nothing_yet(known.value) else known.answer.success
        return replace(
            tile,
            map=self._picture(item, known) if item.kind != "robot" else None,
            standing=self._picture(item, known) if item.kind == "robot" else None,
            share=None if share is None else (share.share, share.low, share.high),
        )

    def _note(self, item: Item, known: Known | None) -> str:
        """Below the name: the odds of a run, the size of a field, what a robot carries."""
        if known is None:
            return tr(KINDS[item.kind])
        if known.wrong is not None:
            return tr("has a mistake")
        value = known.value
        match item.kind:
            case "run":
                if nothing_yet(value):
                    return tr("nothing driven yet")
                if known.answer is None:
                    return tr("counting")
                return tr("gets through {often}", often=how_often_shortly(known.answer.success, known.answer.trials))
            case "field":
                return tr("{x} x {y} mm", x=spoken(value.size[0]), y=spoken(value.size[1]))
            case "robot":
                return tr_many("{n} attachment", "{n} attachments", len(value.attachments))
            case "match":
                return tr_many("{n} run in {limit:g} s", "{n} runs in {limit:g} s", len(value.runs), limit=value.limit)
        return tr(KINDS[item.kind])

    def _picture(self, item: Item, known: Known) -> Scene:
        before = self._maps.get(str(item.path))
        unit = self.session.places.unit
        if before is not None and before[0] == (id(known.value), unit, self.session.dark):
            return before[1]  # type: ignore[no-any-return]
        places = replace(layout((640, 400)), unit=unit * SMALLER)
        value = known.value
        way, parts = _NOWHERE, footprint(NOBODY, ())
        if item.kind == "run":
            run, way, parts = value, known.way, known.parts
        elif item.kind == "field":
            middle = (value.size[0] / 2, value.size[1] / 2)
            run = Run(value.name, value, NOBODY, StartByEye(middle, 0.0), (Wait(0.0),))
        else:
            run = _alone(value)
            parts = footprint(value, tuple(each.name for each in value.attachments))
        start = run.start if isinstance(run.start, StartByEye) else None
        scene = Scene(
            run=run, parts=parts, layout=places,
            camera=Camera.fit(self.session.places.field, run.field.size), way=way, strip=_NO_STRIP,
            dark=self.session.dark,
            pose=(*start.at, start.heading) if item.kind == "robot" and start is not None else None,
        )  # fmt: skip
        self._maps[str(item.path)] = (id(known.value), unit, self.session.dark), scene
        return scene

    # --- the card ----------------------------------------------------------------------------------------------------

    def _card(self) -> tuple[str, str, tuple[str, ...]]:
        session = self.session
        form = session.form
        if form is not None:
            title, note = FORMS[form.what]
            return tr(title), tr(note), self._form_lines(form)
        item = session.item
        if item is None:
            if not session.season.items:
                return (
                    tr("Nothing here yet"),
                    "",
                    (tr("There is no field, robot or run in this folder."),
                     tr("Begin a new season below: a small one to start from is written into a folder of its own.")),
                )  # fmt: skip
            return tr("Pick something"), "", (
                tr("Press on a tile to see what can be done with it, and twice to open it."),
                tr("'a new run' begins one from nothing."),
            )  # fmt: skip
        lines = [self._file(item.path)]
        known = session.known.get(item.path)
        if known is not None and known.wrong is not None:
            lines += wrong_lines(known)
        elif known is not None:
            lines += self._told(item, known)
        return harmless(item.name, 80), tr(KINDS[item.kind]), tuple(lines)

    def _told(self, item: Item, known: Known) -> list[str]:
        value = known.value
        if item.kind == "run":
            lines = [tr("{robot} on {field}", robot=harmless(value.robot.name), field=harmless(value.field.name))]
            if nothing_yet(value):
                return [*lines, tr("It stands at its start: open it and click where it should drive.")]
            lines.append(tr_many("{n} segment", "{n} segments", len(value.segments)))
            answer = known.answer
            if answer is None:
                return [*lines, tr("counting")]
            big, between = how_often_apart(answer.success, answer.trials)
            lines += [tr("gets through {often}", often=big), between]
            lines.append(tr("planned time {seconds} s", seconds=fixed(answer.time.nominal, 1)))
            lines.append(tr("{n} trials; opened, it counts on", n=answer.trials))
            return [line for line in lines if line]
        if item.kind == "field":
            users = users_of(self.session.season, item.path)
            return [
                tr("{x} x {y} mm", x=spoken(value.size[0]), y=spoken(value.size[1])),
                tr_many("{n} obstacle", "{n} obstacles", len(value.obstacles)),
                tr_many("{n} jig", "{n} jigs", len(value.jigs)),
                tr_many("{n} target", "{n} targets", len(value.targets)),
                tr_many("{n} run drives here", "{n} runs drive here", len(users)),
            ]
        if item.kind == "robot":
            body = value.body
            users = users_of(self.session.season, item.path)
            return [
                tr("{length} x {width} mm", length=spoken(body.length), width=spoken(body.width)),
                tr_many("{n} attachment", "{n} attachments", len(value.attachments)),
                tr_many("{n} light sensor", "{n} light sensors", len(value.sensors)),
                tr_many("it drives {n} run", "it drives {n} runs", len(users)),
            ]
        if item.kind == "match":
            return [harmless(each.name, 60) for each in value.runs]
        return list(_table_words(item, known))

    def _file(self, path: Path) -> str:
        try:
            return harmless(Path(relpath(path, self.session.season.folder)).as_posix(), 200)
        except ValueError:
            return harmless(str(path), 200)

    def _form_lines(self, form: Form) -> tuple[str, ...]:
        if form.what == "season":
            return (tr("The folder is made beside this one. A name with a path goes elsewhere."),)
        if form.what == "rename":
            item = self.session.item
            if item is None or item.kind in ("tests", "log"):
                return ()
            return (tr("The file keeps its own name, {file}, since others may name it.", file=item.path.name),)
        return ()

    def _form(self) -> tuple[FormRow, ...]:
        session = self.session
        form = session.form
        if form is None:
            return ()
        found = []
        for number, row in enumerate(form.rows):
            label = tr(ROWS[row])
            if row == "name":
                entry = session.entry
                if entry is not None and entry.line == number:
                    found.append(FormRow(row, label, entry.text, True, entry.cursor, entry.fresh))
                continue
            if row == "start":
                start = session.start_shown
                value = tr("by eye") if start is None else harmless(start)
                found.append(FormRow(row, label, value, on=len(session.starts) > 1))
            else:
                item = session.season.item(form.field if row == "field" else form.robot)
                others = len(session.season.of(row)) > 1
                found.append(FormRow(row, label, harmless(item.name, 60) if item is not None else "", on=others))
        return tuple(found)


def _table_words(item: Item, known: Known) -> tuple[str, ...]:
    if item.kind == "log":
        return (tr_many("{n} run written down", "{n} runs written down", len(known.value.entries)),)
    return (tr_many("{n} test", "{n} tests", len(known.value.tests)),)


def _alone(robot: Robot) -> Run:
    """A robot in the middle of a place that has room for it and for what it can wear, looking right."""
    every = footprint(robot, tuple(each.name for each in robot.attachments))
    points = [point for part in every for point in part.points]
    low_x, high_x = min(p[0] for p in points), max(p[0] for p in points)
    low_y, high_y = min(p[1] for p in points), max(p[1] for p in points)
    size = AROUND * (high_x - low_x), AROUND * (high_y - low_y)
    field = Field("nowhere", (max(size[0], 20.0), max(size[1], 20.0)))
    at = field.size[0] / 2 - (low_x + high_x) / 2, field.size[1] / 2 - (low_y + high_y) / 2
    return Run(robot.name, field, robot, StartByEye(at, 0.0), (Wait(0.0),))
