"""A menu beside the pointer, painted from its words."""

from __future__ import annotations

import pygame

from fieldsim.window.camera import Rect
from fieldsim.window.menu import MenuWords, menu_rects
from fieldsim.window.paint.layers import Layers
from fieldsim.window.paint.look import NORMAL, ON_ACCENT, SMALL, Look, mixed
from fieldsim.window.paint.tools import area, plate

__all__ = ["draw_menu"]

# Rows that a digit takes, and what is told beside a row in one line with it, letters.
KEYS, SHORT = 9, 14


def draw_menu(
    window: pygame.Surface, view: Rect, unit: float, menu: MenuWords | None, look: Look, layers: Layers
) -> None:
    if menu is None:
        return
    writer = layers.writer
    whole, rows = menu_rects(menu.view or view, unit, menu.at, len(menu.rows))
    plate(window, whole, look.card, look.ink, cut=9 * unit, width=max(1, round(1.5 * unit)))
    writer.put(
        window, menu.title, (whole.x + 9 * unit, whole.y + 5 * unit), SMALL, look.faint, room=whole.w - 24 * unit
    )
    # Alike in all rows: one line or two.
    long = any(len(beside) > SHORT for _, beside in menu.rows)
    for n, (rect, (words, beside)) in enumerate(zip(rows, menu.rows, strict=True)):
        on = n == menu.chosen
        if on:
            window.fill(look.accent, rect.box)
        ink = ON_ACCENT if on else look.ink
        faint = mixed(ON_ACCENT, look.accent, 0.8) if on else look.faint
        room = rect.w - 14 * unit
        middle = rect.y + rect.h / 2
        high = writer.height(NORMAL) + writer.height(SMALL)
        key = "" if menu.first + n >= KEYS else str(menu.first + n + 1)
        if long and beside:
            writer.put(window, words, (rect.x + 7 * unit, middle - high / 2), NORMAL, ink, 1, room=room - 14 * unit)
            writer.put(window, beside, (rect.x + 7 * unit, middle + high / 2), SMALL, faint, 0, "sw", room=room)
            writer.put(window, key, (rect.right - 6 * unit, rect.y + 3 * unit), SMALL, faint, 0, "ne")
        else:
            end = rect.right - 8 * unit
            wide = writer.width(beside, SMALL) + 8 * unit if beside else 0
            writer.put(window, words, (rect.x + 7 * unit, middle), NORMAL, ink, int(on), "w", room=room - wide)
            writer.put(window, beside, (end, middle), SMALL, faint, 0, "e")
    for left, sign, y in ((menu.first, 1, whole.y + 12 * unit), (menu.more, -1, whole.bottom - 5 * unit)):
        if left:
            # There is more that way.
            x, r = whole.right - 22 * unit, 4 * unit
            area(window, [(x - r, y), (x, y - sign * r), (x + r, y)], look.ink)
