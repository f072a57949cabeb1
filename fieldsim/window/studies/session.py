"""A list of studies on a run, which of them is shown, and what each has answered by now. Knows no screen, disk and
thread: what is to be asked it says in ``orders``."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from fieldsim.catalog.study import Study
from fieldsim.language import tr, tr_later
from fieldsim.model.errors import shown
from fieldsim.window.asking import answers_of
from fieldsim.window.camera import Rect
from fieldsim.window.keys import STUDIES_KEYS, help_rows
from fieldsim.window.paint.layout import GAP, HEAD, unit_of
from fieldsim.window.paint.scene import ErrorWords
from fieldsim.window.session import BrowsingSession
from fieldsim.window.studies.work import CARD, Answered

__all__ = ["QUESTIONS", "StudiesLayout", "StudiesScene", "StudiesSession", "studies_layout"]

LIST, ROW, BUTTON = 300, 46, 30
HEAD_BUTTONS = ("season", "look", "help")
QUESTIONS: Mapping[str, str] = {
    "try": tr_later("How often does it get through?"),
    "jigs": tr_later("Which jig?"),
    "slack": tr_later("How exactly must it be set?"),
    "widths": tr_later("How wide may the robot be?"),
    "causes": tr_later("What breaks it?"),
    "aim": tr_later("Where does the tool land?"),
    "tune": tr_later("Better numbers?"),
    "route": tr_later("Another way?"),
    CARD: tr_later("The card for the table"),
}
"""What each study is called in the list; one that is not here by what its command says of itself."""
BUTTONS: Mapping[str, str] = {
    "ask": tr_later("ask"),
    "again": tr_later("ask again"),
    "cancel": tr_later("break off"),
    "report": tr_later("open the whole report"),
    "print": tr_later("print the card"),
    "see": tr_later("see them in the run"),
}


@dataclass(frozen=True)
class StudiesLayout:
    size: tuple[int, int]
    unit: float
    head: Rect
    list: Rect
    field: Rect
    """Where the answer stands."""
    buttons: tuple[tuple[str, Rect], ...]
    rows: tuple[Rect, ...]
    actions: tuple[Rect, ...]


def studies_layout(size: tuple[int, int], scale: float, count: int) -> StudiesLayout:
    w, h = max(1, size[0]), max(1, size[1])
    unit = unit_of(w, h, scale)

    def px(length: float) -> int:
        return round(length * unit)

    gap, top = px(GAP), px(HEAD) + px(GAP) // 2
    left = Rect(gap, top, px(LIST), max(0, h - gap - top))
    answer = Rect(left.right + gap, top, max(1, w - gap - left.right - gap), left.h)
    row = min(px(ROW), max(1, (left.h - px(34)) // max(1, count)))
    rows = tuple(Rect(left.x + px(8), left.y + px(30) + n * row, left.w - px(16), row - px(4)) for n in range(count))
    each, tall, space = px(64), px(22), px(4)
    first = w - gap - len(HEAD_BUTTONS) * (each + space) + space
    buttons = tuple((name, Rect(first + n * (each + space), space, each, tall)) for n, name in enumerate(HEAD_BUTTONS))
    wide = px(176)
    actions = tuple(
        Rect(answer.x + px(14) + n * (wide + px(8)), answer.bottom - px(BUTTON) - px(10), wide, px(BUTTON))
        for n in range(2)
    )
    return StudiesLayout((w, h), unit, Rect(0, 0, w, px(HEAD)), left, answer, buttons, rows, actions)


@dataclass(frozen=True, eq=False)
class StudiesScene:
    layout: StudiesLayout
    dark: bool
    title: str
    rows: tuple[tuple[str, str, bool, float | None], ...]
    """Each question, what is known of it, whether it is picked, and how far the counting is."""
    about: str
    answer: Answered | None
    actions: tuple[tuple[str, str], ...]
    hover: str | None = None
    toast: str = ""
    help: tuple[tuple[str, str], ...] = ()
    error: ErrorWords | None = None


class StudiesSession(BrowsingSession[str]):
    """The studies of one run."""

    KEYS = STUDIES_KEYS
    places: StudiesLayout  # type: ignore[assignment]

    def __init__(
        self, run: str, studies: tuple[Study, ...], size: tuple[int, int] = (1280, 800), scale: float = 1.0
    ) -> None:
        super().__init__(run, scale)
        self.names = (*(study.name for study in studies), CARD)
        self.abouts = {study.name: study.about for study in studies}
        self.run = run
        self.chosen = 0
        self.answers: Mapping[str, Answered] = {}
        self.orders: list[tuple[str, str]] = []
        """What is to be done: 'ask', 'cancel', 'open', each with a study's name."""
        self.places = studies_layout(size, scale, len(self.names))

    @property
    def name(self) -> str:
        return self.names[self.chosen]

    @property
    def answer(self) -> Answered | None:
        return self.answers.get(self.name)

    @property
    def actions(self) -> tuple[str, ...]:
        answer = self.answer
        if answer is None:
            return ("ask",)
        if not answer.over:
            return ("cancel",)
        opens = ("print" if self.name == CARD else "report",) if answer.report is not None else ()
        return (*opens, "see") if answer.changes else (*opens, "again")

    def question_of(self, name: str) -> str:
        return tr(QUESTIONS.get(name, self.abouts.get(name, name)))

    def learn(self, news: Mapping[str, Answered]) -> None:
        if news:
            self.answers = {**self.answers, **news}

    def tick(self, now: float) -> None:
        self._now = now
        self._words_go(now)

    def resize(self, size: tuple[int, int], scale: float | None = None) -> None:
        self.scale = self.scale if scale is None else scale
        self.places = studies_layout(size, self.scale, len(self.names))

    def under(self, x: float, y: float) -> str | None:
        if self._covered:
            return self.over_at(x, y)
        for name, rect in self.places.buttons:
            if rect.contains(x, y):
                return f"button {name}"
        for rect, name in zip(self.places.actions, self.actions, strict=False):
            if rect.contains(x, y):
                return f"button {name}"
        return next((f"row {n}" for n, rect in enumerate(self.places.rows) if rect.contains(x, y)), None)

    def pressed(self, x: float, y: float, button: str = "left", mods: frozenset[str] = frozenset()) -> None:
        if self._covered:
            self._press_over(x, y)
            return
        what = self.under(x, y)
        if what is None or button != "left":
            return
        word, _, rest = what.partition(" ")
        if word == "row":
            self.chosen = int(rest)
            if self.answer is None:
                self.do("ask")
        else:
            self.do(rest)

    def moved(self, x: float, y: float, mods: frozenset[str] = frozenset()) -> None:
        self.hover = self.under(x, y)

    def released(self, x: float, y: float) -> None:
        """Nothing is dragged here."""

    def wheel(self, x: float, y: float, steps: float, mods: frozenset[str] = frozenset()) -> None:
        if not self._covered and self.places.list.contains(x, y):
            whole = self._notches("list", steps)
            self.chosen = min(max(self.chosen - whole, 0), len(self.names) - 1)

    def text(self, letters: str) -> None:
        """Nothing is written here."""

    def do(self, action: str) -> None:
        """An action of ``keys.STUDIES_KEYS``, or of a button."""
        match action:
            case "upper" | "lower":
                self.chosen = (self.chosen + (1 if action == "lower" else -1)) % len(self.names)
            case "ask" | "again":
                answer = self.answer
                if answer is None or answer.over:
                    for name in [name for name, each in self.answers.items() if not each.over]:
                        self._forget(name)
                    self.answers = {**self.answers, self.name: Answered(self.name)}
                    self.orders.append(("ask", self.name))
            case "cancel":
                answer = self.answer
                if answer is not None and not answer.over:
                    self._forget(self.name)
                    self.orders.append(("cancel", self.name))
                    self.say(tr("Broken off"))
            case "report" | "print":
                answer = self.answer
                if answer is not None and answer.report is not None:
                    self.orders.append(("open", self.name))
                else:
                    self.say(tr("Ask it first"))
            case "see":
                if self.answer is not None and self.answer.changes:
                    self.orders.append(("see", self.name))
                else:
                    self.say(tr("There are no changes to see"))
            case "look":
                self._change_look()
            case "help":
                self._show_help()
            case "drop":
                self.wants.add("season")
            case "quit" | "season" | "full screen":
                self.wants.add(action)

    def _forget(self, name: str) -> None:
        self.answers = {known: each for known, each in self.answers.items() if known != name}

    def _nudge(self, number: int, steps: float, fine: bool, token: object) -> None:
        """There are no numbers here."""

    def _switch(self, index: int, way: int) -> None:
        """There are no switches here."""

    def scene(self) -> StudiesScene:
        rows = []
        for n, name in enumerate(self.names):
            answer = self.answers.get(name)
            going = None
            if answer is None:
                told = tr("not asked yet")
            elif not answer.over:
                going = answer.done / answer.wanted if answer.wanted else 0.0
                told = tr("counting: {done} of {wanted}", done=answer.done, wanted=answer.wanted)
            else:
                told = tr("cannot be told") if answer.wrong else answer.headline
            rows.append((self.question_of(name), told, n == self.chosen, going))
        about = self.abouts.get(self.name, "")
        return StudiesScene(
            layout=self.places,
            dark=self.dark,
            title=tr("{run}: what to ask", run=shown(self.run, 80)),
            rows=tuple(rows),
            about=tr(about) if about else tr("A page to take to the table, to be printed."),
            answer=self.answer,
            actions=tuple((name, tr(BUTTONS[name])) for name in self.actions),
            hover=self.hover,
            toast=self.toast,
            help=help_rows(STUDIES_KEYS) if self.help else (),
            error=None if self.over is None else ErrorWords(*self.over, answers_of(self.asking)),
        )
