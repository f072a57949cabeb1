"""One frame of a robot's window, painted from its scene."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pygame

from fieldsim.language import tr, tr_later
from fieldsim.window.camera import Camera, Rect
from fieldsim.window.paint.cards import draw_buttons, draw_card, draw_head, draw_numbers, draw_press, draw_switches
from fieldsim.window.paint.field import draw_standing
from fieldsim.window.paint.layers import Layers
from fieldsim.window.paint.look import DARK, LIGHT, NORMAL, ON_ACCENT, SMALL, Look, mixed
from fieldsim.window.paint.over import draw_error, draw_help, draw_toast
from fieldsim.window.paint.tools import area, arrow, circle, dashed, disc, ring, stroke
from fieldsim.window.robot.session import MIDDLE, ROBOT_TOOLS
from fieldsim.window.robot.view import RobotScene

__all__ = ["paint_robot"]

WORDS = {
    "body": tr_later("body"), "drive": tr_later("wheels"), "weight": tr_later("weight"), "caster": tr_later("+ caster"),
    "sensor": tr_later("+ sensor"), "attachment": tr_later("+ attachment"), "remove": tr_later("take away"),
}  # fmt: skip


def paint_robot(surface: pygame.Surface, scene: RobotScene, layers: Layers) -> None:
    """Paint everything anew onto a surface of the layout's size; ``layers`` belongs to the window."""
    look = DARK if scene.dark else LIGHT
    layers.writer.unit = scene.layout.unit
    surface.fill(look.table)
    _robot(surface, scene, look, layers)
    draw_head(surface, scene, look, layers)
    draw_buttons(surface, scene, look, layers)
    _told(surface, scene, look, layers)
    draw_numbers(surface, scene, look, layers)
    draw_switches(surface, scene, look, layers)
    _tools(surface, scene, look, layers)
    draw_toast(surface, scene, look, layers)
    draw_error(surface, scene, look, layers)
    draw_help(surface, scene, look, layers)


def _robot(window: pygame.Surface, scene: RobotScene, look: Look, layers: Layers) -> None:
    view, unit = scene.layout.field, scene.layout.unit
    if view.w < 8 or view.h < 8:
        return
    camera = replace(scene.camera, view=Rect(0, 0, view.w, view.h))
    surface = layers.canvas("robot window", (view.w, view.h))
    robot = scene.run.robot

    def at(x: float, y: float) -> tuple[float, float]:
        return camera.pixel(x + MIDDLE, y + MIDDLE)

    draw_standing(surface, scene, camera, look, layers)
    _scale(surface, camera, look, layers, unit)
    if len(scene.stands_on) > 2:
        dashed(
            surface, [at(*point) for point in scene.stands_on], look.guide, 1.6 * unit, 3 * unit, 3 * unit, closed=True
        )
    if scene.spin is not None:
        dashed(
            surface,
            circle(at(0.0, 0.0), scene.spin * camera.zoom),
            look.path,
            1.6 * unit,
            7 * unit,
            5 * unit,
            closed=True,
        )
    for n, caster in enumerate(robot.casters):
        picked = (scene.part.kind, scene.part.index) == ("caster", n)
        ring(surface, at(*caster.at), 7 * unit, look.ink, (3.2 if picked else 1.8) * unit)
    for n, sensor in enumerate(robot.sensors):
        x, y = at(*sensor.at)
        picked = (scene.part.kind, scene.part.index) == ("sensor", n)
        for r, tone in (((9.0 if picked else 7.0) * unit, look.ink), (5.4 * unit, look.sensor)):
            area(surface, [(x, y - r), (x + r, y), (x, y + r), (x - r, y)], tone)
    if robot.weight is not None:
        x, y = at(robot.weight.at[0], robot.weight.at[1])
        r = 8 * unit
        disc(surface, (x, y), r, look.ink)
        for quarter in (0, 2):
            a = np.radians(np.linspace(quarter * 90, quarter * 90 + 90, 8))
            area(surface, [(x, y), *zip(x + 0.8 * r * np.cos(a), y - 0.8 * r * np.sin(a), strict=True)], look.casing)
    for attachment in robot.attachments:
        if attachment.tool is not None:
            x, y = at(*attachment.tool)
            for dx, dy in ((1, 0), (0, 1)):
                c = 6 * unit
                stroke(surface, [(x - c * dx, y - c * dy), (x + c * dx, y + c * dy)], look.target, 2 * unit)
    if scene.part.kind == "attachment":
        outline = robot.attachments[scene.part.index].outline
        stroke(surface, [at(*point) for point in outline], look.accent, 3 * unit, closed=True)
    for spot in scene.spots:
        _spot(surface, at(*spot.at), spot.heading, scene.hover == f"spot {spot.what}", look, unit)
    window.blit(surface, (view.x, view.y))
    pygame.draw.rect(window, look.edge, view.box, 1)


def _scale(surface: pygame.Surface, camera: Camera, look: Look, layers: Layers, unit: float) -> None:
    """How long 50 mm are."""
    x, y = 14 * unit, surface.get_height() - 18 * unit
    wide = 50 * camera.zoom
    stroke(surface, [(x, y), (x + wide, y)], look.ink, 2.4 * unit, round_ends=False)
    for end in (x, x + wide):
        stroke(surface, [(end, y - 4 * unit), (end, y + 4 * unit)], look.ink, 2.4 * unit, round_ends=False)
    layers.writer.put(surface, tr("50 mm"), (x + wide + 8 * unit, y), SMALL, look.ink, 0, "w")


def _spot(
    surface: pygame.Surface, at: tuple[float, float], heading: float | None, hot: bool, look: Look, unit: float
) -> None:
    """Something to grip, with the ways it goes."""
    r = (10.0 if hot else 8.0) * unit
    disc(surface, at, r + 1.5 * unit, look.ink)
    disc(surface, at, r, look.accent if hot else look.card)
    tone = ON_ACCENT if hot else look.ink
    ways = (
        ((1, 0), (-1, 0), (0, 1), (0, -1))
        if heading is None
        else ((1, 0), (-1, 0))
        if heading in (0.0, 180.0)
        else ((0, 1), (0, -1))
    )
    for dx, dy in ways:
        arrow(surface, at, (at[0] + dx * 0.85 * r, at[1] + dy * 0.85 * r), tone, 1.5 * unit, 4 * unit)


def _told(window: pygame.Surface, scene: RobotScene, look: Look, layers: Layers) -> None:
    """What the base makes of its numbers, what is out of proportion, and the odds of a run."""
    rect, unit, writer = scene.layout.odds, scene.layout.unit, layers.writer
    if rect.h < 30 or rect.w < 30:
        return
    draw_card(window, rect, look, unit)
    left, room = rect.x + 10 * unit, rect.w - 20 * unit
    small = writer.height(SMALL)
    y = rect.y + 6 * unit
    writer.put(window, tr("What its numbers make"), (left, y), NORMAL, look.ink, 1, room=room - 10 * unit)
    y += writer.height(NORMAL) + 3 * unit
    foot = 2 * small + 8 * unit
    bottom = rect.bottom - foot - 4 * unit
    for words, amount in scene.told:
        wide = writer.width(amount, SMALL, 1)
        lines = writer.lines(words, room - wide - 8 * unit, SMALL, most=2)
        if y + len(lines) * small > bottom:
            break
        writer.put(window, amount, (left + room, y), SMALL, look.ink, 1, "ne")
        for line in lines:
            writer.put(window, line, (left, y), SMALL, look.ink)
            y += small
        y += 2 * unit
    y += 3 * unit
    for text in scene.warnings:
        free = int((bottom - y) // small)
        if free < 1:
            break
        for line in writer.lines(text, room - 12 * unit, SMALL, most=free):
            writer.put(window, line, (left + 12 * unit, y), SMALL, look.fail_words)
            y += small
        y += 2 * unit
    window.fill(look.press, (rect.x + 1, round(rect.bottom - foot), rect.w - 2, round(foot - 1)))
    run, words = scene.odds_words
    writer.put(window, run or tr("odds"), (left, rect.bottom - foot + 3 * unit), SMALL, look.faint, room=room)
    writer.put(window, words, (left, rect.bottom - foot + 3 * unit + small), SMALL, look.ink, 1, room=room)


def _tools(window: pygame.Surface, scene: RobotScene, look: Look, layers: Layers) -> None:
    unit, writer = scene.layout.unit, layers.writer
    for name in ROBOT_TOOLS:
        rect = scene.layout.button(f"tool {name}")
        on = f"tool {name}" not in scene.off
        ink = draw_press(window, scene, look, f"button tool {name}", rect, on)
        if scene.part.kind == name:
            window.fill(look.accent, (rect.x + 1, rect.bottom - round(6 * unit), rect.w - 2, round(5 * unit)))
            pygame.draw.rect(window, look.ink, rect.box, max(1, round(1.6 * unit)))
        words = tr(WORDS[name])
        if name == "weight" and scene.run.robot.weight is None:
            words = f"+ {words}"
        writer.put(window, words, rect.centre, SMALL, mixed(ink, look.press, 1.0), 1, "c", room=rect.w - 6 * unit)
