"""Clicking where a run should drive: a press on the field offers what can be done there, each is shown as it would be
driven, and what is chosen becomes segments."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from fieldsim.language import tr
from fieldsim.model import Run, Wait
from fieldsim.model.errors import FieldsimError
from fieldsim.sim.motion import Pose, start_pose
from fieldsim.sim.plan import plan
from fieldsim.sim.ways import Way, way_of
from fieldsim.window.dials import Refused
from fieldsim.window.menu import Menu, MenuWords, menu_rects
from fieldsim.window.offers import Offers
from fieldsim.window.run import seeking
from fieldsim.window.run.driving import Wish, driven, wishes
from fieldsim.window.run.state import REACH

if TYPE_CHECKING:
    from fieldsim.window.run.session import RunSession

__all__ = [
    "Leading",
    "begin",
    "close",
    "key",
    "menu_words",
    "offer",
    "open_at",
    "place_of",
    "preview",
    "row_at",
    "take",
]


@dataclass(frozen=True, eq=False)
class Leading:
    """Somebody is clicking where the run should drive."""

    menu: Menu | None = None
    wishes: tuple[Wish, ...] = ()
    ways: tuple[Way | None, ...] = ()
    """Of each wish the way to its end; None where it cannot be driven."""
    offers: Offers | None = None
    """What a study offers, in place of what can be done at a point."""


def begin(session: RunSession) -> None:
    """Clicks lead the run from now on, or no longer."""
    if session.leading is not None:
        session.leading = None
        session.say(tr("Clicks pick again"))
        return
    session.leading = Leading()
    session.picked = None
    session.say(
        tr("Click where it should drive first") if nothing_driven(session.run)
        else tr("Click where it should drive next, from where segment {number} ends", number=place_of(session))
    )  # fmt: skip


def nothing_driven(run: Run) -> bool:
    return run.segments == (Wait(0.0),)


def place_of(session: RunSession) -> int:
    """How many segments come before what is led: up to the one that is picked, or all."""
    count = len(session.run.segments)
    return min(session.place + 1, count) if isinstance(session.place, int) else count


def pose_of(session: RunSession) -> Pose:
    """Where the robot stands when it gets there."""
    at = place_of(session)
    if nothing_driven(session.run):
        return start_pose(session.run)
    x, y, h = session.way.segments[min(at, len(session.way.segments)) - 1][-1]
    return float(x), float(y), float(h)


def open_at(session: RunSession, x: float, y: float) -> None:
    """Offer what can be done at a pixel of the field."""
    if session.problem is not None:
        session.say(session.problem.splitlines()[0])
        return
    point = session.camera.to_field([(x, y)])[0]
    reach = 2 * REACH * session.places.unit / session.camera.zoom
    found = wishes(session.run, pose_of(session), (float(point[0]), float(point[1])), reach)
    if not found:
        session.say(tr("The robot stands there already"))
        return
    ways = tuple(_way(session, wish) if wish.segments else None for wish in found)
    session.leading = Leading(Menu((x, y), len(found)), found, ways)


def offer(session: RunSession, offers: Offers) -> None:
    """Show changes that a study found: each as a ghost while its row is picked, to be taken one by one."""
    while session.run != offers.now:
        before = offers.undone()
        if before is None:
            session.leading = None
            session.say(tr("The run was changed meanwhile: these changes fit it no longer"))
            return
        offers = before
    if not offers.left:
        session.leading = None
        session.say(tr("All of them are taken"))
        return
    found: list[Wish] = []
    ways: list[Way | None] = []
    for number, ((words, worth), _) in enumerate(offers.left):
        made = offers.with_one(number)
        found.append(Wish("offer", words, (), made=made, worth=worth))
        try:
            ways.append(way_of(plan(made)))
        except (FieldsimError, ValueError):
            ways.append(None)
    view = session.places.field
    at = view.x + view.w * 0.04, view.y + view.h * 0.04
    session.leading = Leading(Menu(at, len(found)), tuple(found), tuple(ways), offers)


def _way(session: RunSession, wish: Wish) -> Way | None:
    """How it would be driven, by the simulation itself: a square ends where the face is flat."""
    at = place_of(session)
    made = driven(session.run, at, wish)
    if isinstance(made, Refused):
        return None
    try:
        way = way_of(plan(made))
    except (FieldsimError, ValueError):
        return None
    first = 0 if nothing_driven(session.run) else at
    last = first + len(wish.segments)
    return Way(way.segments[first:last], way.shares[first:last])


def close(session: RunSession) -> None:
    """Nothing of what was offered."""
    if session.leading is not None:
        session.leading = Leading()


def row_at(session: RunSession, x: float, y: float) -> str | None:
    """The row of the menu under a pixel: 'menu 0'; 'menu' beside its rows; None where there is no menu."""
    leading = session.leading
    if leading is None or leading.menu is None:
        return None
    whole, rows = menu_rects(session.places.field, session.places.unit, leading.menu.at, leading.menu.count)
    row = next((n for n, rect in enumerate(rows) if rect.contains(x, y)), None)
    if row is not None:
        return f"menu {row}"
    return "menu" if whole.contains(x, y) else None


def hover(session: RunSession, what: str | None) -> None:
    """The pointer is over a row: that is shown."""
    leading = session.leading
    if leading is not None and leading.menu is not None and what is not None and what.startswith("menu "):
        row = int(what.split(" ")[1])
        if row != leading.menu.chosen:
            session.leading = replace(leading, menu=replace(leading.menu, chosen=row))


def take(session: RunSession, row: int) -> None:
    """What was chosen is driven."""
    leading = session.leading
    if leading is None or not 0 <= row < len(leading.wishes):
        return
    wish, at = leading.wishes[row], place_of(session)
    if wish.kind == "seek":
        assert wish.to is not None
        session.leading = Leading()
        plain = next((each for each in leading.wishes if each.kind == "act" and each.to == wish.to), None)
        seeking.seek(session, seeking.Seek(session.run, 0 if nothing_driven(session.run) else at, wish.to, plain))
        return
    if leading.offers is not None:
        offers = leading.offers
        session.leading = None
        if session.run != offers.now:
            offer(session, offers)
        elif wish.made is not None and session.change(wish.made, wish.words):
            offer(session, offers.take(row))
        return
    empty = nothing_driven(session.run)
    session.leading = Leading()
    if session.change(driven(session.run, at, wish), wish.words):
        last = (0 if empty else at) + len(wish.segments) - 1
        session._pick(last)
        session._to(session.clock.time_at(last + 1))
        session.say(wish.told)


def key(session: RunSession, pressed: str) -> bool:
    """A key while clicks lead; whether it was for that."""
    leading = session.leading
    if leading is None:
        return False
    menu = leading.menu
    if menu is None:
        if pressed == "escape":
            if session.seeking is not None:
                seeking.stop(session)
                return True
            begin(session)
            return True
        return False
    if pressed in ("up", "down"):
        session.leading = replace(leading, menu=menu.moved(-1 if pressed == "up" else 1))
    elif pressed in ("return", "space"):
        take(session, menu.chosen)
    elif pressed.isdecimal() and 1 <= int(pressed) <= menu.count:
        take(session, int(pressed) - 1)
    elif pressed == "escape" and leading.offers is not None:
        session.leading = None
    elif pressed == "escape":
        close(session)
    else:
        close(session)
        return False
    return True


def preview(session: RunSession) -> tuple[Wish, Way | None] | None:
    """What is offered and its way, of the row that is chosen."""
    leading = session.leading
    if leading is None or leading.menu is None:
        return None
    row = leading.menu.chosen
    return leading.wishes[row], leading.ways[row]


def _beside(wish: Wish, way: Way | None) -> str:
    if wish.kind == "offer":
        return wish.worth
    if wish.kind == "seek":
        return tr("with squares and detours; takes some seconds")
    return wish.told if way is not None else tr("cannot be driven")


def menu_words(session: RunSession) -> MenuWords | None:
    leading = session.leading
    if leading is None or leading.menu is None:
        return None
    rows = tuple((wish.words, _beside(wish, way)) for wish, way in zip(leading.wishes, leading.ways, strict=True))
    title = tr("what to do here") if leading.offers is None else tr("better numbers: take them one by one")
    return MenuWords(leading.menu.at, title, rows, leading.menu.chosen)
