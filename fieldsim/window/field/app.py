"""`watch FIELD`: the window in which a field is drawn. Events go to the session, scenes come back and are painted; the
file is followed, saved and kept from being lost, and pictures of the mat are found and loaded."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pygame

from fieldsim.files.writing import field_in, replace_file
from fieldsim.language import tr, tr_many
from fieldsim.model import Field
from fieldsim.model.errors import FileError, SaveError, shown
from fieldsim.window.desk import EditingDesk
from fieldsim.window.field.files import ENDINGS, FieldFiles, pictures_beside, rebased, relative
from fieldsim.window.field.runs import Followers, followers
from fieldsim.window.field.session import FieldSession
from fieldsim.window.field.view import FieldView
from fieldsim.window.following import Follower
from fieldsim.window.loop import Opening
from fieldsim.window.paint.editor import paint_editor
from fieldsim.window.paint.frame import Layers
from fieldsim.window.paint.over import draw_plain_error
from fieldsim.window.paint.scene import FieldScene
from fieldsim.window.screen import load_mat, tell

__all__ = ["FieldDesk", "picture_field"]


class FieldDesk(EditingDesk[Field]):
    """A field on the screen. ``folder`` is where recovery copies are kept, None for the user's own place."""

    def __init__(self, path: Path, size: tuple[int, int], scale: float, *, folder: Path | None = None) -> None:
        super().__init__(path, size, scale, folder)
        self.files: FieldFiles | None = None
        self.session: FieldSession | None = None
        self.view: FieldView | None = None
        self._kept: Field | None = None
        self._laid: str | None = None
        """The picture that is loaded, as the field names it."""
        self._open()

    def _open(self) -> None:
        """Read the file; what is wrong with it is shown, and looked at again when it changes."""
        # Followed before it is read: a change in between is then seen.
        self.follower = Follower([self.path])
        try:
            files = FieldFiles.read(self.path)
        except (FileError, OSError, UnicodeError) as wrong:
            self.trouble = (
                tr("{name} cannot be shown yet", name=self.path.name),
                (*tell(wrong), "", tr("It is looked at again when it is saved.")),
            )
            return
        self.trouble = None
        self.files = files
        self.session = FieldSession(files.field, self.size, self.scale)
        self.session.pictures = pictures_beside(self.path)
        self.view = FieldView(self.session)
        if files.text is None:
            self.session.new = True
            self.session.say(tr("{name} is not there yet: saving makes it", name=self.path.name))
        self._load_picture()
        self._ask_to_recover()

    def _left_over(self) -> Field | None:
        """What an earlier window did not save, if it can be read."""
        offer = self.recovery.offer(self.path)
        return None if offer is None else field_in(offer.text)

    def _load_picture(self) -> None:
        """Load the picture that the field names now, if that is another one."""
        session, view = self.session, self.view
        assert session is not None
        assert view is not None
        picture = session.field.picture
        file = None if picture is None else picture.file
        if file == self._laid:
            return
        self._laid = file
        mat, words = load_mat(session.field, self.path.parent)
        view.surface = None if mat is None else mat.surface
        session.aspect = None if mat is None else mat.surface.get_height() / mat.surface.get_width()
        if words:
            session.say(words)

    # --- a frame -----------------------------------------------------------------------------------------------------

    def scene(self) -> FieldScene | None:
        return None if self.view is None else self.view.scene()

    def draw(self, surface: pygame.Surface, layers: Layers) -> None:
        scene = self.scene()
        if scene is not None:
            paint_editor(surface, scene, layers)
        else:
            title, lines = self.trouble or ("", ())
            draw_plain_error(surface, title, lines, self.scale, layers)

    def tick(self, now: float) -> None:
        if self.session is not None:
            self.session.tick(now)
            self._serve_all()
            if self.running:
                self._keep()
        self._look(now)

    def handle(self, event: Any) -> None:
        if event.type == pygame.DROPFILE:
            self._dropped(Path(event.file))
        super().handle(event)

    def _dropped(self, path: Path) -> None:
        """A file was let fall onto the window: a picture to be laid under the field."""
        session = self.session
        if session is None or session.asked is not None:
            return
        if path.suffix.lower() not in ENDINGS:
            session.say(tr("{name} is no PNG or JPEG picture", name=shown(path.name)))
            return
        try:
            pygame.image.load(str(path))
        except (OSError, pygame.error) as problem:
            session.say(
                tr("{name} cannot be shown: {problem}", name=shown(path.name), problem=shown(str(problem), 100))
            )
            return
        session.take_picture(relative(path, self.path))

    def _serve_all(self) -> None:
        super()._serve_all()
        if self.session is not None:
            self._load_picture()

    def _serve(self, want: str) -> None:
        session = self.session
        assert session is not None
        if want == "plan":
            if self.files is None or self.files.text is None:
                session.say(tr("Save the field first: a run needs its file"))
                return
            self.brings = self.path
            super()._serve("season")
            return
        if want == "propose":
            if self.files is None or self.files.text is None:
                session.say(tr("Save the field first: a run needs its file"))
                return
            self.opens = Opening("proposals", self.path)
            return
        if want in ("save with runs", "save alone"):
            self._write(with_runs=want == "save with runs")
            return
        if want != "picture":
            super()._serve(want)
            return
        session.pictures = pictures_beside(self.path)
        if session.pictures:
            session.take_picture(session.pictures[0])
        else:
            session.say(tr("There is no PNG or JPEG picture beside the file: drop one onto this window"))

    def _copied(self) -> tuple[Path, ...]:
        return (self.path,)

    def _none_kept(self) -> None:
        self._kept = None

    def _stale(self) -> bool:
        files = self.files
        if files is None or files.text is None:
            return False
        try:
            with self.path.open(encoding="utf-8", newline="") as file:
                return file.read() != files.text
        except OSError:
            return False
        except ValueError:
            return True

    def _save(self) -> None:
        session, files = self.session, self.files
        assert session is not None
        assert files is not None
        if not session.unsaved:
            session.say(tr("There is nothing to save"))
            return
        # What somebody else has written meanwhile is not lost.
        if self._stale():
            if not self._catch_up():
                return
            if self.files is not None:
                self.files.keep_copy()
        found = self._followers()
        if found:
            session.ask("runs", found.question())
        else:
            self._write(with_runs=False)

    def _followers(self) -> Followers:
        """The runs that name what has another name here, or is no longer there."""
        assert self.session is not None
        assert self.files is not None
        if self.files.text is None:
            return Followers({}, {}, {})
        return followers(self.path, self.files.field, self.session.history)

    def _write(self, with_runs: bool) -> None:
        session, files = self.session, self.files
        assert session is not None
        assert files is not None
        # Looked for anew: a run may have been changed while the question stood.
        found = self._followers() if with_runs else None
        try:
            written = files.save(session.field)
        except SaveError as problem:
            session.error = tr("It could not be saved"), tell(problem)
            return
        if written:
            self.follower.saved(self.path)
        session.saved()
        self._drop_copies()
        session.say(tr("Saved {name}", name=self.path.name))
        if found is None:
            return
        try:
            for path, text in found.texts.items():
                replace_file(path, text)
        except SaveError as problem:
            session.error = tr("The field is saved, but not every run"), tell(problem)
            return
        session.say(
            tr_many("Saved {file} and a run", "Saved {file} and {n} runs", len(found.texts), file=self.path.name)
        )

    def _keep(self) -> None:
        """A recovery copy of what is not saved."""
        session, files = self.session, self.files
        assert session is not None
        assert files is not None
        field = session.field
        if not session.history.dirty and self._kept is not None:
            self._clean_again()
        if not session.history.dirty or session.asked == "recover" or field == self._kept or session.dragging:
            return
        # The text takes longer to find than a frame: it is looked for once a second at most, and not in a drag.
        try:
            if self.recovery.keep(self.path, lambda: files.text_of(field)):
                self._kept = field
        except (SaveError, ValueError):
            return

    def _look(self, now: float) -> None:
        """The file was changed by somebody else."""
        changed = self.follower.changed(now)
        if self._behind and self.session is not None and not self.session.history.dirty and self.session.error is None:
            # What did not fit has been undone.
            self._behind = False
            self._catch_up()
            return
        if not changed:
            return
        if self.session is None or self.files is None:
            self._open()
            return
        session = self.session
        if not self.path.exists():
            # Nothing is lost: what is shown can be saved.
            self.files = FieldFiles(self.path, None, self.files.field)
            session.new = True
            session.say(tr("{name} is gone: saving makes it anew", name=self.path.name))
            return
        dirty = session.history.dirty
        if self._catch_up():
            if dirty:
                session.say(tr("{files} changed: read anew, and what is not saved here is kept", files=self.path.name))
            else:
                session.say(tr("{files} changed: read anew", files=self.path.name))

    def _catch_up(self) -> bool:
        """Read the file anew. What was changed here and is not saved is put upon what it says now. Whether it could be;
        why not is shown."""
        session, files = self.session, self.files
        assert session is not None
        assert files is not None
        try:
            fresh = files.again()
        except (FileError, OSError, UnicodeError) as wrong:
            lines = tell(wrong)
            session.error = (
                tr("{name} has a mistake now", name=self.path.name),
                (*lines, "", tr("What is shown is what it was before.")),
            )
            return False
        if session.history.dirty:
            history = rebased(session.history, files.field, fresh.field)
            if history is None:
                session.error = (
                    tr("What was changed elsewhere does not fit what is not saved here"),
                    (
                        tr("Something lies outside the field, or two things have one name."),
                        tr("Undo here, or change it there."),
                    ),
                )
                self._behind = True
                return False
            session.merge(history)
        else:
            session.reload(fresh.field)
        self._behind = False
        self.files = fresh
        session.new = False
        session.pictures = pictures_beside(self.path)
        # The picture may be another one of the same name.
        self._laid = None
        self._load_picture()
        return True

    def close(self) -> None:
        self.recovery.close()

    def crash_copy(self) -> None:
        """Something went wrong in here: keep what is not saved before anything else."""
        if self.session is None or self.files is None or not self.session.history.dirty:
            return
        try:
            self.recovery.keep(self.path, self.files.text_of(self.session.field), at_once=True)
        except Exception:
            # The reason for this call is what is to be heard of.
            return


def picture_field(
    path: Path, out: Path, *, size: tuple[int, int] = (1280, 800), scale: float = 1.0, dark: bool = False
) -> Path:
    """The window with a field as a picture, PNG or JPEG by the file's ending. Raises FileError, SaveError."""
    from fieldsim.files import load_field
    from fieldsim.window.record import STILLS, form_of, still, without_a_screen

    form_of(out, STILLS)
    field = load_field(path)
    with without_a_screen():
        session = FieldSession(field, size, scale)
        session.dark = dark
        session.pictures = pictures_beside(path)
        mat, words = load_mat(field, path.parent)
        if words:
            raise SaveError(words)
        scene = FieldView(session, None if mat is None else mat.surface).scene()
        return still(out, size, lambda surface: paint_editor(surface, scene, Layers()))
