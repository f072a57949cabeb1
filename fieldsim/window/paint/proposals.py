"""One frame of the window of proposals, painted from its scene."""

from __future__ import annotations

import pygame

from fieldsim.language import tr
from fieldsim.window.camera import Rect
from fieldsim.window.paint.cards import draw_card, draw_press
from fieldsim.window.paint.field import draw_field, draw_waiting
from fieldsim.window.paint.ground import shape_pixels
from fieldsim.window.paint.layers import Layers
from fieldsim.window.paint.look import DARK, LARGE, LIGHT, NORMAL, ON_ACCENT, SMALL, Look, mixed
from fieldsim.window.paint.over import draw_error, draw_help, draw_toast
from fieldsim.window.paint.tools import disc, ring, stroke
from fieldsim.window.proposals.view import ProposalsScene, TileView

__all__ = ["paint_proposals"]


def paint_proposals(surface: pygame.Surface, scene: ProposalsScene, layers: Layers) -> None:
    """Paint everything anew onto a surface of the layout's size; ``layers`` belongs to the window."""
    look = DARK if scene.dark else LIGHT
    places = scene.layout
    unit, writer = places.unit, layers.writer
    writer.unit = unit
    surface.fill(look.table)
    first = min(rect.x for _, rect in places.buttons)
    writer.put(surface, scene.title, (10 * unit, places.head.h / 2), LARGE, look.ink, 1, "w", room=first - 20 * unit)
    words = {"season": tr("Back"), "help": tr("Keys"), "look": tr("Light") if scene.dark else tr("Dark")}
    for name, rect in places.buttons:
        ink = draw_press(surface, scene, look, f"button {name}", rect, True)
        writer.put(surface, words[name], rect.centre, SMALL, ink, 0, "c", room=rect.w - 4 * unit)
    (draw_field if scene.driven else draw_waiting)(surface, scene.map, look, layers)
    _chosen(surface, scene, look, layers)
    _card(surface, scene, look, layers)
    draw_toast(surface, scene, look, layers)
    draw_error(surface, scene, look, layers)
    draw_help(surface, scene, look, layers)


def _chosen(window: pygame.Surface, scene: ProposalsScene, look: Look, layers: Layers) -> None:
    """What was chosen on the map: where it starts and ends, and the targets by their order."""
    view, unit, writer = scene.layout.field, scene.layout.unit, layers.writer
    camera = scene.map.camera
    before = window.get_clip()
    window.set_clip(pygame.Rect(view.box))
    if scene.finish is not None:
        points = shape_pixels(scene.finish.shape, camera)
        stroke(window, points, look.ink, 5.5 * unit, closed=True)
        stroke(window, points, look.accent, 3.4 * unit, closed=True)
    if scene.start is not None:
        at = camera.pixel(*scene.start.at)
        ring(window, at, 17 * unit, look.ink, 5.5 * unit)
        ring(window, at, 17 * unit, look.accent, 3.4 * unit)
    for mark in scene.targets:
        at, r = camera.pixel(*mark.at), max(mark.within * camera.zoom, 5 * unit) + 6 * unit
        ring(window, at, r, look.ink, 5.5 * unit)
        ring(window, at, r, look.accent, 3.4 * unit)
        if mark.words:
            beside = at[0] + r * 0.75 + 7 * unit, at[1] - r * 0.75 - 7 * unit
            disc(window, beside, 9.5 * unit, look.ink)
            disc(window, beside, 8 * unit, look.accent)
            writer.put(window, mark.words, beside, SMALL, ON_ACCENT, 1, "c")
    hot = scene.hover or ""
    if hot.startswith("thing target "):
        name = hot.removeprefix("thing target ")
        target = next((t for t in scene.map.run.field.targets if t.name == name), None)
        if target is not None:
            ring(window, camera.pixel(*target.at), target.within * camera.zoom + 10 * unit, look.ink, 1.6 * unit)
    elif hot.startswith("thing jig "):
        jig = next((j for j in scene.map.run.field.jigs if j.name == hot.removeprefix("thing jig ")), None)
        if jig is not None:
            ring(window, camera.pixel(*jig.corner), 21 * unit, look.ink, 1.6 * unit)
    window.set_clip(before)


def _card(window: pygame.Surface, scene: ProposalsScene, look: Look, layers: Layers) -> None:
    places, unit, writer = scene.layout, scene.layout.unit, layers.writer
    draw_card(window, places.card, look, unit)
    at = places.card.x + 10 * unit, places.card.y + 6 * unit
    writer.put(window, tr("Where from, where to"), at, NORMAL, look.ink, 1)
    for n, (row, (label, value, on)) in enumerate(zip(places.rows, scene.rows, strict=True)):
        writer.put(
            window, label, (row.label.x, row.label.centre[1]), SMALL, look.ink, 1 if n == scene.row_at else 0, "w",
            room=row.label.w,
        )  # fmt: skip
        for sign, part, rect in (("<", "minus", row.minus), (">", "plus", row.plus)):
            ink = draw_press(window, scene, look, f"row {row.name} {part}", rect, on)
            writer.put(window, sign, rect.centre, SMALL, ink, 1, "c")
        ink = draw_press(window, scene, look, f"row {row.name} entry", row.entry, on)
        writer.put(window, value, row.entry.centre, SMALL, ink, 0, "c", room=row.entry.w - 8 * unit)
    ink = draw_press(window, scene, look, "button ask", places.ask, scene.ask_on)
    if scene.ask_on and scene.going is None and not scene.tiles:
        window.fill(look.accent, places.ask.box)
        pygame.draw.rect(window, look.ink, places.ask.box, max(1, round(1.5 * unit)))
        ink = ON_ACCENT
    writer.put(window, scene.ask, places.ask.centre, NORMAL, ink, 1, "c", room=places.ask.w - 8 * unit)
    _told(window, scene, look, layers)
    for n, (rect, tile) in enumerate(zip(places.tiles, scene.tiles, strict=False)):
        _tile(window, rect, tile, n, scene, look, layers)
    if scene.take is not None:
        ink = draw_press(window, scene, look, "button take", places.take, True)
        writer.put(window, scene.take, places.take.centre, NORMAL, ink, 1, "c", room=places.take.w - 8 * unit)


def _told(window: pygame.Surface, scene: ProposalsScene, look: Look, layers: Layers) -> None:
    places, unit, writer = scene.layout, scene.layout.unit, layers.writer
    told = places.told
    # Where nothing is proposed there is room for all that is told of it.
    bottom = told.bottom if scene.tiles else places.take.bottom
    y: float = told.y
    texts = scene.wrong or (scene.headline, *(scene.further if not scene.tiles else ()))
    ink = look.fail_words if scene.wrong else look.ink
    for n, text in enumerate(texts):
        for line in writer.lines(text, told.w, SMALL, 1 if n == 0 and not scene.wrong else 0):
            if y + writer.height(SMALL) > bottom:
                return
            writer.put(window, line, (told.x, y), SMALL, ink, 1 if n == 0 and not scene.wrong else 0)
            y += writer.height(SMALL)
        y += 3 * unit
    if scene.going is not None:
        bar = Rect(told.x, round(y + 2 * unit), told.w, round(10 * unit))
        window.fill(look.press, bar.box)
        window.fill(mixed(look.path, look.press, 0.75), (bar.x, bar.y, round(bar.w * min(scene.going, 1.0)), bar.h))
        pygame.draw.rect(window, look.edge, bar.box, 1)


def _tile(
    window: pygame.Surface, rect: Rect, tile: TileView, number: int, scene: ProposalsScene, look: Look, layers: Layers
) -> None:
    unit, writer = scene.layout.unit, layers.writer
    hot = scene.hover == f"tile {number}"
    window.fill(look.accent if tile.picked else look.hover if hot else look.press, rect.box)
    pygame.draw.rect(window, look.ink if hot or tile.picked else mixed(look.edge, look.press, 0.6), rect.box, 1)
    ink = ON_ACCENT if tile.picked else look.ink
    x, room = rect.x + 8 * unit, rect.w - 16 * unit
    y = rect.y + 4 * unit
    writer.put(window, tile.title, (x, y), NORMAL, ink, 1, room=room)
    y += writer.height(NORMAL)
    bar = Rect(round(x), round(y + 1 * unit), round(room), max(3, round(4 * unit)))
    window.fill(mixed(look.fail, look.card, 0.75), bar.box)
    window.fill(mixed(look.target, look.card, 0.45), (bar.x, bar.y, round(bar.w * tile.share[2]), bar.h))
    window.fill(look.target, (bar.x, bar.y, round(bar.w * tile.share[1]), bar.h))
    y = bar.bottom + 2 * unit
    high = writer.height(SMALL)
    most = max(0, int((rect.bottom - 3 * unit - y) // high))
    for line in writer.lines(tile.words, room, SMALL, most=most) if most else ():
        writer.put(window, line, (x, y), SMALL, ink)
        y += high
