"""`fieldsim` and `watch FOLDER`: the window of a season. Events go to the session, scenes come back and are painted;
the folder is looked at, files are begun, copied, renamed and put away, and whatever is opened is laid over it."""

from __future__ import annotations

import os
from dataclasses import replace
from pathlib import Path
from typing import Any

import pygame

from fieldsim.files import load_field, new_season
from fieldsim.language import tr
from fieldsim.model import StartByEye
from fieldsim.model.errors import FileError, PlanError, SaveError, shown
from fieldsim.window.loop import Desk, Opening
from fieldsim.window.paint.frame import Layers
from fieldsim.window.paint.season import paint_season
from fieldsim.window.screen import tell
from fieldsim.window.season import files as disk
from fieldsim.window.season.counting import Counts, learn_now
from fieldsim.window.season.session import Form, Order, SeasonSession
from fieldsim.window.season.view import SeasonView

__all__ = ["SeasonDesk", "picture_season"]

# Seconds from one look at the folder to the next.
EVERY = 2.0


class SeasonDesk(Desk):
    """A season on the screen. ``memory`` is where it is remembered which seasons were open, None for the user's own
    place."""

    def __init__(
        self, folder: Path, size: tuple[int, int], scale: float, *, seed: int = 1, memory: Path | None = None,
        missing: tuple[Path, str] | None = None,
    ) -> None:  # fmt: skip
        super().__init__(folder, size, scale)
        self.memory = memory
        self.seed = seed
        self.session: SeasonSession
        self._look_next = 0.0
        self._marks: Any = None
        self._trashed: list[tuple[Path, Path]] = []
        self.counts = Counts(seed=seed)
        self._begin(folder)
        if missing is not None:
            self.session.ask_for(*missing)

    def _begin(self, folder: Path) -> None:
        self.path = folder
        season = disk.look(folder)
        if season.items:
            disk.remember_season(folder, self.memory)
        dark = self.session.dark if self.session is not None else False
        self.session = SeasonSession(season, self.size, self.scale, self._recent())
        self.session.dark = dark
        self.view = SeasonView(self.session)
        self._trashed = []
        self.counts.want(season.items)

    def _recent(self) -> tuple[Path, ...]:
        here = Path(os.path.abspath(self.path))
        return tuple(path for path in disk.recent_seasons(self.memory) if path != here)

    @property
    def caption(self) -> str:
        return f"{self.path.absolute().name} - fieldsim"

    # --- a frame -----------------------------------------------------------------------------------------------------

    def scene(self) -> Any:
        return self.view.scene()

    def draw(self, surface: pygame.Surface, layers: Layers) -> None:
        paint_season(surface, self.view.scene(), layers)

    def tick(self, now: float) -> None:
        self.session.tick(now)
        self.session.learn(self.counts.news())
        self._serve()
        if now >= self._look_next:
            self._look_next = now + EVERY
            self._renew()

    def handle(self, event: Any) -> None:
        super().handle(event)
        self._serve()

    def resized(self, size: tuple[int, int]) -> None:
        super().resized(size)
        self.session.resize(size, self.scale)

    def resumed(self) -> None:
        super().resumed()
        self._renew()

    def brought(self, what: Any) -> None:
        """A field, on which a run is to be planned."""
        self.session.plan_on(what)

    def _renew(self, pick: Path | None = None) -> None:
        """Look at the folder anew; only what changed is read again."""
        season = disk.look(self.path)
        if pick is not None or season.items != self.session.season.items:
            self.session.renew(season, pick)
        self.counts.want(season.items)

    def close(self) -> None:
        self.counts.close(wait=2.0)

    # --- what was ordered --------------------------------------------------------------------------------------------

    def _serve(self) -> None:
        session = self.session
        for want in sorted(session.wants):
            if want == "quit":
                self.running = False
                self.left = "quit"
            elif want == "full screen":
                self.full_screen()
            elif want == "put back":
                self._put_back()
        session.wants.clear()
        orders, session.orders = session.orders, []
        for order in orders:
            try:
                self._do(order)
            except (SaveError, FileError, PlanError) as wrong:
                session.error = tr("That could not be done"), tell(wrong)

    def _do(self, order: Order) -> None:
        session, item = self.session, order.item
        match order.what:
            case "open" if item is not None:
                self.opens = Opening(item.kind, item.path)
            case "ask" if item is not None:
                self.opens = Opening("studies", item.path)
            case "propose" if item is not None:
                self.opens = Opening("proposals", item.path, session.season.folder)
            case "go" if order.folder is not None:
                self._begin(order.folder)
            case "duplicate" if item is not None:
                names = [each.name for each in session.season.items]
                made = disk.duplicate(item, names)
                self._renew(made)
                session.say(tr("Written: {file}", file=shown(made.name)))
            case "rename" if item is not None:
                made = disk.rename(item, order.name)
                session.form_done()
                self._renew(made)
            case "delete" if item is not None:
                self._trashed.append((item.path, disk.put_away(session.season, item)))
                self._renew()
                session.say(tr("{name} is in the trash; ctrl z takes it out again", name=shown(item.path.name)))
            case _:
                self._make(order)

    def _make(self, order: Order) -> None:
        """Something new."""
        session, form = self.session, order.form
        assert form is not None
        match form.what:
            case "run":
                assert form.field is not None
                assert form.robot is not None
                start = self._start(form)
                made = disk.begin_run(session.season, order.name, form.field, form.robot, start, form.file)
                session.form_done()
                self._renew(made)
                self.opens = Opening("run", made, "new")
            case "robot":
                made = disk.begin_robot(session.season, order.name, form.file)
                session.form_done()
                self._renew(made)
                self.opens = Opening("robot", made)
            case "field":
                beside = session.season.of("field")
                folder = beside[0].path.parent if beside else session.season.folder
                session.form_done()
                self.opens = Opening("field", form.file or disk.free_name(folder, order.name))
            case "season":
                # Beside a season, but inside a folder that is none.
                here = session.season.folder.absolute()
                folder = (here.parent if session.season.items else here) / Path(order.name).expanduser()
                new_season(folder)
                session.form_done()
                self._begin(folder)
                self.session.say(tr("A season to start from: open its run, or begin a new one"))

    def _start(self, form: Form) -> str | StartByEye | None:
        """The start as the form has it; None for the field's first jig."""
        if not form.by_eye:
            return form.start
        assert form.field is not None
        start = disk.first_start(replace(load_field(form.field), jigs=()))
        assert isinstance(start, StartByEye)
        return start

    def _put_back(self) -> None:
        if not self._trashed:
            self.session.say(tr("Nothing was put away since this season was opened"))
            return
        was, trashed = self._trashed[-1]
        try:
            disk.put_back(was, trashed)
        except SaveError as wrong:
            self.session.error = tr("That could not be done"), tell(wrong)
            return
        self._trashed.pop()
        self._renew(was)
        self.session.say(tr("{name} is back", name=shown(was.name)))


def picture_season(
    folder: Path, out: Path, *, size: tuple[int, int] = (1280, 800), scale: float = 1.0, dark: bool = False,
    seed: int = 1, place: str = "",
) -> Path:  # fmt: skip
    """The window with a season as a picture, PNG or JPEG by the file's ending; ``place`` is shown in place of the
    folder's path. Raises SaveError."""
    from fieldsim.window.record import STILLS, form_of, still, without_a_screen

    form_of(out, STILLS)
    season = disk.look(folder)
    with without_a_screen():
        session = SeasonSession(season, size, scale)
        session.dark = dark
        session.learn(learn_now(season.items, seed))
        scene = SeasonView(session).scene()
        scene = replace(scene, place=place or scene.place)
        return still(out, size, lambda surface: paint_season(surface, scene, Layers()))
