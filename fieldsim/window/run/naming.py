"""The name that a run is to be saved under as another file, while it is typed."""

from __future__ import annotations

from typing import TYPE_CHECKING

from fieldsim.language import tr
from fieldsim.window.session import Entry

if TYPE_CHECKING:
    from fieldsim.window.run.session import RunSession

# A name may be a path.
LONGEST = 400

__all__ = ["begin", "key", "letters"]


def begin(session: RunSession) -> None:
    session.entry = None
    name = tr("{name} 2", name=session.run.name)
    session.naming = Entry(0, name, len(name), fresh=True)
    session.say(tr("Type a name and press enter. A name with a path goes to another folder"))


def letters(session: RunSession, typed: str) -> None:
    assert session.naming is not None
    session.naming = session.naming.with_letters(typed, LONGEST)


def key(session: RunSession, pressed: str) -> bool:
    """A key while a name is typed; whether it was for that."""
    entry = session.naming
    if entry is None:
        return False
    made = entry.edited(pressed)
    if made is not None:
        session.naming = made
    elif pressed == "escape":
        session.naming = None
    elif pressed == "return":
        if entry.text.strip():
            session.wants.add("save as")
        else:
            session.say(tr("Type a name first"))
    elif pressed in ("ctrl q", "f11"):
        return False
    return True
