"""A list to choose from, over whatever window: the words of a choice on a card, or what can be done with what is under
the pointer. Knows no screen."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from typing import Any

from fieldsim.window.camera import Rect
from fieldsim.window.menu import Menu, MenuWords, menu_rects, rows_in

__all__ = ["Choice", "Listing", "close", "hover", "key", "open_list", "press", "row_at", "wheel", "words_of"]


@dataclass(frozen=True, eq=False)
class Choice:
    """A row: its words, what is told beside them, and what it does."""

    words: str
    take: Callable[[], object]
    beside: str = ""
    stays: bool = False
    """The list stays open: it is one of several that can be chosen together."""


@dataclass(frozen=True, eq=False)
class Listing:
    """An open list. ``again`` makes its rows anew, for one that stays open."""

    menu: Menu
    title: str
    rows: tuple[Choice, ...]
    first: int = 0
    """The first row that is seen."""
    again: Callable[[], Sequence[Choice]] | None = None


def open_list(
    session: Any, at: tuple[float, float], title: str, rows: Sequence[Choice], chosen: int = 0,
    again: Callable[[], Sequence[Choice]] | None = None,
) -> None:  # fmt: skip
    """Open a list beside a pixel; with nothing to choose from there is none."""
    session.listing = session.entry = None
    if rows:
        session.listing = _seen(session, Listing(Menu(at, len(rows), max(chosen, 0)), title, tuple(rows), again=again))


def close(session: Any) -> None:
    session.listing = None


def _view(session: Any) -> Rect:
    w, h = session.places.size
    return Rect(0, 0, w, h)


def _seen(session: Any, listing: Listing) -> Listing:
    """Scrolled so that the chosen row is seen."""
    shown = rows_in(_view(session), session.places.unit, listing.menu.count)
    chosen = listing.menu.chosen
    return replace(listing, first=min(max(listing.first, chosen - shown + 1), chosen))


def row_at(session: Any, x: float, y: float) -> str | None:
    """The row under a pixel: 'list 0', 'list' beside its rows; None where there is no list."""
    listing = session.listing
    if listing is None:
        return None
    view = _view(session)
    shown = rows_in(view, session.places.unit, listing.menu.count)
    whole, rows = menu_rects(view, session.places.unit, listing.menu.at, shown)
    row = next((n for n, rect in enumerate(rows) if rect.contains(x, y)), None)
    if row is not None:
        return f"list {row + listing.first}"
    return "list" if whole.contains(x, y) else None


def hover(session: Any, x: float, y: float) -> bool:
    """The pointer is over a row; whether there is a list."""
    listing = session.listing
    if listing is None:
        return False
    what = row_at(session, x, y) or ""
    if what.startswith("list "):
        session.listing = replace(listing, menu=replace(listing.menu, chosen=int(what.split(" ")[1])))
    session.hover = what or None
    return True


def press(session: Any, x: float, y: float, button: str) -> bool:
    """A press while a list is open: on a row it is taken, beside the list it is closed; whether there was a list."""
    if session.listing is None:
        return False
    what = row_at(session, x, y)
    if what is None:
        close(session)
    elif what != "list" and button == "left":
        _take(session, int(what.split(" ")[1]))
    return True


def wheel(session: Any, steps: float) -> bool:
    """The wheel goes through the list; whether there is one."""
    listing = session.listing
    if listing is None:
        return False
    whole = session._notches("list", steps)
    shown = rows_in(_view(session), session.places.unit, listing.menu.count)
    first = min(max(listing.first - whole, 0), listing.menu.count - shown)
    session.listing = replace(listing, first=first)
    return True


def key(session: Any, pressed: str) -> bool:
    """A key while a list is open; whether there is one."""
    listing = session.listing
    if listing is None:
        return False
    menu = listing.menu
    if pressed in ("up", "down", "page up", "page down", "home", "end"):
        far = {"up": -1, "down": 1, "page up": -5, "page down": 5}.get(pressed)
        last = menu.count - 1
        to = 0 if pressed == "home" else last if far is None else menu.chosen + far
        to = to % menu.count if far in (-1, 1) else min(max(to, 0), last)
        session.listing = _seen(session, replace(listing, menu=replace(menu, chosen=to)))
    elif pressed in ("return", "space"):
        _take(session, menu.chosen)
    elif pressed.isdecimal() and 1 <= int(pressed) <= menu.count:
        _take(session, int(pressed) - 1)
    else:
        close(session)
        # What has to do with the window itself goes on.
        return not pressed.startswith(("ctrl", "f1", "f11"))
    return True


def _take(session: Any, row: int) -> None:
    listing = session.listing
    choice = listing.rows[row]
    if not choice.stays:
        close(session)
    choice.take()
    if choice.stays and listing.again is not None:
        rows = tuple(listing.again())
        menu = replace(listing.menu, count=len(rows), chosen=min(row, len(rows) - 1))
        session.listing = _seen(session, replace(listing, menu=menu, rows=rows))


def words_of(session: Any) -> MenuWords | None:
    """The list as it is shown."""
    listing = session.listing
    if listing is None:
        return None
    view = _view(session)
    shown = rows_in(view, session.places.unit, listing.menu.count)
    rows = listing.rows[listing.first : listing.first + shown]
    return MenuWords(
        listing.menu.at, listing.title, tuple((row.words, row.beside) for row in rows),
        listing.menu.chosen - listing.first, view, listing.first, listing.menu.count - listing.first - shown,
    )  # fmt: skip
