"""One frame of the window, painted from a scene. Nothing is computed here but where things are drawn.

Pictures of what has not changed since the last frame are kept in ``Layers``, so that a frame costs little.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pygame

from fieldsim.window.camera import Rect
from fieldsim.window.paint.cards import draw_buttons, draw_clock, draw_head, draw_numbers, draw_odds, draw_switches
from fieldsim.window.paint.field import draw_field
from fieldsim.window.paint.ground import draw_ruler_marks, draw_rulers
from fieldsim.window.paint.layers import Layers
from fieldsim.window.paint.look import DARK, LIGHT, Look
from fieldsim.window.paint.menu import draw_menu
from fieldsim.window.paint.over import draw_error, draw_help, draw_tip, draw_toast
from fieldsim.window.paint.scene import MatchScene, Scene
from fieldsim.window.paint.strip import draw_playhead, draw_strip

__all__ = ["Layers", "paint"]

Draw = Callable[[pygame.Surface, Scene, Look, Layers], None]


def paint(surface: pygame.Surface, scene: Scene, layers: Layers) -> None:
    """Paint everything anew onto a surface of the layout's size; ``layers`` belongs to the window."""
    look = DARK if scene.dark else LIGHT
    places = scene.layout
    layers.writer.unit = places.unit
    surface.fill(look.table)
    draw_field(surface, scene, look, layers)
    same = look.name, places
    hover = scene.hover if scene.hover is not None and scene.hover.startswith(("button", "number", "switch")) else None
    buttons = scene.off, scene.playing, scene.axis, scene.leads, scene.stays, hover
    ruled = scene.camera, scene.run.field.size
    pinched = None if scene.pinch is None else (scene.pinch.head, scene.pinch.words)
    block = scene.hover if scene.hover is not None and scene.hover.startswith("block ") else None
    troubled = scene.hover if scene.hover is not None and scene.hover.startswith(("trouble ", "hint")) else None
    scores = (scene.scores, scene.by_hand) if isinstance(scene, MatchScene) else None
    stripped = (
        scores,
        scene.strip,
        scene.columns,
        scene.most,
        scene.ghost,
        scene.segment,
        scene.troubled,
        pinched,
        block,
    )
    strip = Rect(places.strip.x, places.ribbon.y, places.strip.w, places.axis.bottom - places.ribbon.y)
    parts: tuple[tuple[str, Rect, tuple[Any, ...], tuple[Draw, ...]], ...] = (
        ("ruler left", places.ruler_left, ruled, (draw_rulers,)),
        ("ruler below", places.ruler_below, ruled, (draw_rulers,)),
        ("head", places.head, (scene.title, scene.changed, scene.run.name, *buttons), (draw_head, draw_buttons)),
        ("odds", places.odds, (scene.odds, troubled), (draw_odds,)),
        ("numbers", places.numbers, (scene.numbers, hover), (draw_numbers,)),
        ("switches", places.switches, (scene.switches, hover), (draw_switches,)),
        ("controls", places.controls, buttons, (draw_buttons,)),
        ("strip", strip, stripped, (draw_strip,)),
    )
    canvas = layers.canvas("window", surface.get_size())
    for name, rect, key, draws in parts:
        _part(canvas, scene, look, layers, name, rect, (*same, *key), draws)
        surface.blit(canvas, (rect.x, rect.y), rect.box)
    draw_ruler_marks(surface, scene, look)
    draw_clock(surface, scene, look, layers)
    draw_playhead(surface, scene, look)
    draw_menu(surface, places.field, places.unit, scene.menu, look, layers)
    draw_tip(surface, scene, look, layers)
    draw_toast(surface, scene, look, layers)
    draw_error(surface, scene, look, layers)
    draw_help(surface, scene, look, layers)


def _part(
    canvas: pygame.Surface, scene: Scene, look: Look, layers: Layers, name: str, rect: Rect, key: tuple[Any, ...],
    draws: tuple[Draw, ...],
) -> None:  # fmt: skip
    """Draw a part of the window anew if what it depends on has changed."""

    def draw() -> pygame.Surface:
        canvas.set_clip(pygame.Rect(rect.box))
        canvas.fill(look.table)
        for each in draws:
            each(canvas, scene, look, layers)
        canvas.set_clip(None)
        return canvas

    layers.value(f"part {name}", key, draw)
