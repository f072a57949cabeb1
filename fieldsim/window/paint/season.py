"""One frame of a season's window, painted from its scene."""

from __future__ import annotations

from dataclasses import replace

import pygame

from fieldsim.language import tr
from fieldsim.window.camera import Camera, Rect
from fieldsim.window.paint.cards import draw_card, draw_press
from fieldsim.window.paint.field import draw_small, draw_standing
from fieldsim.window.paint.layers import Layers
from fieldsim.window.paint.look import DARK, LARGE, LIGHT, NORMAL, SMALL, Look, mixed
from fieldsim.window.paint.over import draw_error, draw_help, draw_toast
from fieldsim.window.paint.tools import dashed, plate, stroke
from fieldsim.window.season.view import FormRow, SeasonScene, TileView

__all__ = ["paint_season"]


def paint_season(surface: pygame.Surface, scene: SeasonScene, layers: Layers) -> None:
    """Paint everything anew onto a surface of the layout's size; ``layers`` belongs to the window."""
    look = DARK if scene.dark else LIGHT
    layers.writer.unit = scene.layout.unit
    surface.fill(look.table)
    _head(surface, scene, look, layers)
    _shelf(surface, scene, look, layers)
    _card(surface, scene, look, layers)
    _seasons(surface, scene, look, layers)
    draw_toast(surface, scene, look, layers)
    draw_error(surface, scene, look, layers)
    draw_help(surface, scene, look, layers)


def _head(window: pygame.Surface, scene: SeasonScene, look: Look, layers: Layers) -> None:
    places, unit, writer = scene.layout, scene.layout.unit, layers.writer
    y = places.head.h / 2
    first = min(rect.x for _, rect in places.buttons)
    shown = writer.put(window, scene.title, (10 * unit, y), LARGE, look.ink, 1, "w", room=first * 0.6)
    left = shown.right + 14 * unit
    writer.put(window, scene.place, (left, y), SMALL, look.faint, 0, "w", room=first - left - 12 * unit)
    for name, rect in places.buttons:
        ink = draw_press(window, scene, look, f"button {name}", rect, True)
        words = tr("Keys") if name == "help" else tr("Light") if scene.dark else tr("Dark")
        writer.put(window, words, rect.centre, SMALL, ink, 0, "c", room=rect.w - 4 * unit)


def _shelf(window: pygame.Surface, scene: SeasonScene, look: Look, layers: Layers) -> None:
    shelf, unit, writer = scene.layout.field, scene.layout.unit, layers.writer
    window.set_clip(pygame.Rect(shelf.box))
    for title, count, section, tiles in scene.sections:
        if section.title.y < shelf.bottom and section.title.bottom > shelf.y:
            middle = section.title.y + section.title.h / 2
            shown = writer.put(window, title, (section.title.x, middle), NORMAL, look.ink, 1, "w")
            shown = writer.put(window, count, (shown.right + 8 * unit, middle), SMALL, look.faint, 0, "w")
            line = round(middle)
            pygame.draw.line(
                window, mixed(look.edge, look.table, 0.5), (shown.right + 10 * unit, line), (section.title.right, line)
            )
        for place, tile in zip(section.tiles, tiles, strict=True):
            if place.rect.y < shelf.bottom and place.rect.bottom > shelf.y:
                _tile(window, place.rect, place.picture, tile, scene, look, layers)
    window.set_clip(None)
    hidden = scene.high - shelf.h
    if hidden > 1:
        # How far the shelf is scrolled: a line at its right.
        high = max(24 * unit, shelf.h * shelf.h / scene.high)
        y = shelf.y + (shelf.h - high) * scene.scrolled / hidden
        window.fill(
            mixed(look.edge, look.table, 0.8), (round(shelf.right - 4 * unit), round(y), round(4 * unit), round(high))
        )


def _tile(
    window: pygame.Surface, rect: Rect, picture: Rect, tile: TileView, scene: SeasonScene, look: Look, layers: Layers
) -> None:
    unit, writer = scene.layout.unit, layers.writer
    new = not tile.key.startswith("item ")
    cut = 9 * unit
    if tile.picked:
        around = Rect(
            rect.x - round(3 * unit), rect.y - round(3 * unit), rect.w + round(6 * unit), rect.h + round(6 * unit)
        )
        plate(window, around, look.accent, look.ink, cut=cut)
    plate(window, rect, look.hover if tile.hot and new else look.card, None if new else look.edge, cut=cut)
    inner = Rect(
        picture.x + round(4 * unit),
        picture.y + round(4 * unit),
        picture.w - round(8 * unit),
        picture.h - round(6 * unit),
    )
    if new:
        corners = [(rect.x, rect.y), (rect.right - 1 - cut, rect.y), (rect.right - 1, rect.y + cut),
                   (rect.right - 1, rect.bottom - 1), (rect.x, rect.bottom - 1)]  # fmt: skip
        dashed(
            window,
            corners,
            look.ink if tile.hot or tile.picked else look.edge,
            max(1.3, 1.4 * unit),
            6 * unit,
            4 * unit,
            closed=True,
        )
        x, y = inner.centre
        r = min(0.2 * inner.h, 15 * unit)
        for dx, dy in ((1, 0), (0, 1)):
            stroke(window, [(x - dx * r, y - dy * r), (x + dx * r, y + dy * r)], look.ink, 2.6 * unit, round_ends=False)
    elif tile.map is not None or tile.standing is not None:
        _picture(window, inner, tile, look, layers)
    else:
        small = writer.height(SMALL)
        y = inner.y + 4 * unit
        for text in tile.lines:
            for line in writer.lines(text, inner.w - 12 * unit, SMALL, most=3):
                if y + small <= inner.bottom:
                    writer.put(
                        window, line, (inner.x + 6 * unit, y), SMALL, look.fail_words if tile.wrong else look.faint
                    )
                    y += small + 1 * unit
    y = picture.bottom + 1 * unit
    room = rect.w - 16 * unit
    writer.put(window, tile.title, (rect.x + 8 * unit, y), NORMAL, look.ink, 1, room=room)
    y += writer.height(NORMAL)
    ink = look.fail_words if tile.wrong else look.faint
    if tile.share is not None:
        _bar(
            window,
            Rect(round(rect.x + 8 * unit), round(rect.bottom - 8 * unit), round(room), max(3, round(4 * unit))),
            tile.share,
            look,
        )
        ink = look.ink
    writer.put(window, tile.note, (rect.x + 8 * unit, y - 1 * unit), SMALL, ink, room=room)


def _bar(window: pygame.Surface, rect: Rect, share: tuple[float, float, float], look: Look) -> None:
    """How often it gets through: full, what luck alone could turn, and the rest."""
    window.fill(mixed(look.fail, look.card, 0.75), rect.box)
    window.fill(mixed(look.target, look.card, 0.45), (rect.x, rect.y, round(rect.w * share[2]), rect.h))
    window.fill(look.target, (rect.x, rect.y, round(rect.w * share[1]), rect.h))


def _picture(window: pygame.Surface, rect: Rect, tile: TileView, look: Look, layers: Layers) -> None:
    scene = tile.map or tile.standing
    assert scene is not None
    if rect.w < 8 or rect.h < 8:
        return
    size = rect.w, rect.h
    draw = draw_small if tile.map is not None else draw_standing
    field = scene.run.field.size

    def make(surface: pygame.Surface) -> None:
        camera = Camera.fit(Rect(0, 0, *size), field, 4 * scene.layout.unit)
        draw(surface, replace(scene, camera=camera), camera, look, layers)

    path, known = tile.made_of
    key = look.name, scene.layout.unit, None if known is None else id(known.value), scene.run
    window.blit(layers.layer(f"tile {path}", key, size, make), (rect.x, rect.y))
    pygame.draw.rect(window, mixed(look.edge, look.card, 0.6), rect.box, 1)


def _card(window: pygame.Surface, scene: SeasonScene, look: Look, layers: Layers) -> None:
    places, unit, writer = scene.layout, scene.layout.unit, layers.writer
    rect = places.card
    if rect.h < 30:
        return
    draw_card(window, rect, look, unit)
    left, room = rect.x + 10 * unit, rect.w - 20 * unit
    writer.put(window, scene.card_title, (left, rect.y + 7 * unit), LARGE, look.ink, 1, room=room - 10 * unit)
    y = rect.y + 7 * unit + writer.height(LARGE)
    writer.put(window, scene.card_note, (left, y), SMALL, look.faint, room=room)
    y += writer.height(SMALL) + 8 * unit
    bottom = rect.bottom - 6 * unit
    if scene.actions:
        bottom = places.actions[0].y - 6 * unit
    for row, (label, minus, entry, plus) in zip(scene.form, places.rows, strict=False):
        _row(window, scene, row, label, minus, entry, plus, look, layers)
        y = entry.bottom + 10 * unit
    small = writer.height(SMALL) + 2 * unit
    for n, text in enumerate(scene.card_lines):
        for line in writer.lines(text, room, SMALL, most=5):
            if y + small > bottom:
                break
            writer.put(window, line, (left, y), SMALL, look.faint if n == 0 and scene.actions else look.ink, room=room)
            y += small
        y += 3 * unit
    for button, place in zip(scene.actions, places.actions, strict=False):
        first = button.name in ("open", "begin")
        ink = draw_press(window, scene, look, f"button {button.name}", place, True)
        if first:
            pygame.draw.rect(window, look.ink, place.box, max(1, round(1.6 * unit)))
        writer.put(window, button.words, place.centre, SMALL, ink, 1 if first else 0, "c", room=place.w - 8 * unit)


def _row(
    window: pygame.Surface, scene: SeasonScene, row: FormRow, label: Rect, minus: Rect, entry: Rect, plus: Rect,
    look: Look, layers: Layers,
) -> None:  # fmt: skip
    unit, writer = scene.layout.unit, layers.writer
    writer.put(window, row.label, (label.x + 2 * unit, label.centre[1]), SMALL, look.ink, 0, "w", room=label.w)
    if row.typed:
        box = Rect(minus.x, entry.y, plus.right - minus.x, entry.h)
        window.fill(look.mat, box.box)
        pygame.draw.rect(window, look.ink, box.box, max(1, round(2 * unit)))
        middle = box.centre[1]
        room = box.w - 12 * unit
        if row.fresh and row.value:
            wide = min(writer.width(row.value, NORMAL), room)
            window.fill(
                mixed(look.accent, look.mat, 0.5),
                (round(box.x + 5 * unit), round(box.y + 5 * unit), round(wide + 2 * unit), round(box.h - 10 * unit)),
            )
        writer.put(window, row.value, (box.x + 6 * unit, middle), NORMAL, look.ink, 0, "w", room=room)
        if row.cursor is not None:
            x = min(box.x + 6 * unit + writer.width(row.value[: row.cursor], NORMAL), box.right - 4 * unit)
            window.fill(
                look.ink, (round(x), round(box.y + 6 * unit), max(1, round(1.5 * unit)), round(box.h - 12 * unit))
            )
        return
    for name, rect, sign in (("minus", minus, -1), ("plus", plus, 1)):
        ink = draw_press(window, scene, look, f"row {row.name} {name}", rect, row.on)
        x, y = rect.centre
        r = 0.2 * rect.h
        stroke(
            window, [(x - sign * 0.5 * r, y - r), (x + sign * 0.6 * r, y), (x - sign * 0.5 * r, y + r)], ink, 1.8 * unit
        )
    window.fill(look.press, entry.box)
    writer.put(
        window, row.value, entry.centre, SMALL, look.ink if row.on else look.faint, 1 if row.on else 0, "c",
        room=entry.w - 6 * unit,
    )  # fmt: skip


def _seasons(window: pygame.Surface, scene: SeasonScene, look: Look, layers: Layers) -> None:
    places, unit, writer = scene.layout, scene.layout.unit, layers.writer
    rect = places.seasons
    if rect.h < 40 * unit:
        return
    draw_card(window, rect, look, unit)
    writer.put(
        window, tr("Seasons"), (rect.x + 10 * unit, rect.y + 6 * unit), NORMAL, look.ink, 1, room=rect.w - 30 * unit
    )
    for n, place in enumerate(places.season_rows):
        if n > len(scene.seasons):
            break
        name, folder = (tr("a new season"), "") if n == 0 else scene.seasons[n - 1]
        ink = draw_press(window, scene, look, f"season {n}", place, True)
        middle = place.centre[1]
        shown = writer.put(
            window, name, (place.x + 8 * unit, middle), SMALL, ink, 1, "w", room=place.w * (0.55 if folder else 0.9)
        )
        writer.put(
            window, folder, (place.right - 8 * unit, middle), SMALL, look.faint, 0, "e",
            room=place.right - 16 * unit - shown.right,
        )  # fmt: skip
