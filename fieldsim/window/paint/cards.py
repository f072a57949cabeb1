"""The cards at the right, the head of the window, and its buttons."""

from __future__ import annotations

import numpy as np
import pygame

from fieldsim.language import tr, tr_later
from fieldsim.window.camera import Rect
from fieldsim.window.paint.layers import Layers
from fieldsim.window.paint.layout import CONTROLS, EDITS, Row
from fieldsim.window.paint.look import HUGE, LARGE, NORMAL, ON_ACCENT, SMALL, Colour, Look, mixed
from fieldsim.window.paint.marks import pinch, small_mark
from fieldsim.window.paint.oddsplaces import HINT_LINES, PEGS_IN_ROW, TroubleRow, odds_places, row_name
from fieldsim.window.paint.scene import Covered, MatchScene, Odds, Scene, SwitchRow, Trouble
from fieldsim.window.paint.tools import area, disc, plate, ring, stroke

__all__ = [
    "draw_buttons",
    "draw_card",
    "draw_clock",
    "draw_head",
    "draw_numbers",
    "draw_odds",
    "draw_press",
    "draw_switches",
]

BUTTON_WORDS = {
    "season": tr_later("Season"), "plan": tr_later("+ run"),
    "slower": "x \N{VULGAR FRACTION ONE HALF}", "faster": "x 2",
    "fit": tr_later("All"), "undo": tr_later("Undo"), "redo": tr_later("Redo"), "save": tr_later("Save"),
    "look": tr_later("Look"), "help": tr_later("Keys"), "add": tr_later("+ segment"), "copy": tr_later("copy"),
    "remove": tr_later("take out"), "lead": tr_later("drive to ..."), "studies": tr_later("studies"),
    "rest": tr_later("rest moves"),
}  # fmt: skip
# Pegs: a hundred trials, of which so many get through.
PEGS = 100


def draw_card(window: pygame.Surface, rect: Rect, look: Look, unit: float) -> None:
    plate(window, rect, look.card, look.edge, cut=11 * unit)


def draw_odds(window: pygame.Surface, scene: Scene, look: Look, layers: Layers) -> None:
    rect, unit = scene.layout.odds, scene.layout.unit
    if rect.h < 12 or rect.w < 20:
        return
    draw_card(window, rect, look, unit)
    if scene.odds is not None:
        _odds(window, rect, scene.odds, look, layers, unit, scene.hover)


def _odds(
    surface: pygame.Surface, rect: Rect, odds: Odds, look: Look, layers: Layers, unit: float, hover: str | None
) -> None:
    writer = layers.writer
    places = odds_places(rect, unit, odds)
    left, room = places.left, places.room
    ink = look.faint if odds.stale else look.ink
    writer.put(surface, odds.lead, (left, places.lead), NORMAL, look.faint, room=room - 10 * unit)
    size = HUGE
    while size > NORMAL and writer.width(odds.big, size, 1) > room:
        size -= 1
    at = left, places.big + (writer.height(HUGE) - writer.height(size)) / 2
    writer.put(surface, odds.big, at, size, ink, 1, room=room)
    if places.between is not None:
        writer.put(surface, odds.between, (left, places.between), SMALL, look.faint, room=room)
    if places.pegs is not None:
        _pegs(surface, odds, look, (left, places.pegs), room)
    if places.time is not None:
        writer.put(surface, odds.time, (left, places.time), SMALL, ink, room=room)
    if places.head is not None:
        y = round(places.head)
        pygame.draw.line(surface, mixed(look.edge, look.card, 0.5), (left, y), (left + room, y))
        words = tr("fails most often") if odds.troubles else odds.nothing_fails
        writer.put(surface, words, (left, y + 2 * unit), SMALL, look.faint, room=room)
    for number, (row, trouble) in enumerate(zip(places.rows, odds.troubles, strict=False)):
        _trouble(surface, odds, number, row, trouble, places.two, look, layers, hover)
    if places.hint is not None:
        hot = hover == "hint" and len(odds.hint) > 1
        if hot:
            surface.fill(look.hover, places.hint.box)
        pygame.draw.line(surface, mixed(look.edge, look.card, 0.5), (left, places.hint.y), (left + room, places.hint.y))
        told = [(each, n) for n, hint in enumerate(odds.hint) for each in writer.lines(hint, room, SMALL, most=2)]
        for index, (each, n) in enumerate(told[:HINT_LINES]):
            # The square can be put in by a press: it is written like what can be pressed.
            at = left, places.hint.y + 2 * unit + index * writer.height(SMALL)
            writer.put(surface, each, at, SMALL, ink, n, room=room)
    foot = places.foot
    surface.fill(look.press, (foot.x + 1, foot.y, foot.w - 2, foot.h - 1))
    if odds.going is not None:
        share = min(max(odds.going, 0.0), 1.0)
        tone = mixed(look.path, look.press, 0.45)
        surface.fill(tone, (foot.x + 1, foot.y, round((foot.w - 2) * share), foot.h - 1))
    words = tr("from before the change, counting anew") if odds.stale else odds.foot
    writer.put(surface, words, (left, foot.y + foot.h / 2), SMALL, look.ink, 0, "w", room=room)


def _trouble(
    surface: pygame.Surface, odds: Odds, number: int, row: TroubleRow, trouble: Trouble, two: bool, look: Look,
    layers: Layers, hover: str | None,
) -> None:  # fmt: skip
    """A row of what fails: pressed, its trials are looked at one by one."""
    writer, unit, rect = layers.writer, layers.writer.unit, row.rect
    looked = odds.looked == number
    hot = hover is not None and hover.startswith(row_name(number))
    ground = look.accent if looked else look.hover if hot and trouble.of is not None else look.card
    ink = ON_ACCENT if looked else look.faint if odds.stale else look.ink
    if looked or hot:
        surface.fill(ground, rect.box)
    small = writer.height(SMALL)
    x, middle = rect.x + 23 * unit, rect.y + rect.h / 2
    upper = rect.y + (rect.h - 2 * small) / 2 + small / 2 if two else middle
    small_mark(surface, trouble.kind, (rect.x + 13 * unit, upper), 4.6 * unit, look.fail, ground)
    end = rect.right - 9 * unit
    if looked:
        end = row.back.x - 6 * unit
        for rect_of, sign in ((row.back, -1), (row.forth, 1)):
            part = "back" if sign < 0 else "forth"
            surface.fill(look.hover if hover == row_name(number, part) else look.press, rect_of.inset(2).box)
            pygame.draw.rect(surface, look.ink, rect_of.inset(2).box, 1)
            cx, cy = rect_of.centre
            r = 0.2 * rect_of.h
            points = [(cx - sign * 0.5 * r, cy - r), (cx + sign * 0.6 * r, cy), (cx - sign * 0.5 * r, cy + r)]
            stroke(surface, points, look.ink, 1.8 * unit)
        if not two:
            writer.put(surface, odds.which, (x, middle), SMALL, ink, 1, "w", room=end - x)
            return
        writer.put(surface, trouble.what, (x, upper), SMALL, ink, 1, "w", room=end - x)
        writer.put(surface, odds.which, (x, upper + small), SMALL, ink, 0, "w", room=end - x)
        return
    often = writer.width(trouble.often, SMALL, 1)
    writer.put(surface, trouble.often, (end, upper), SMALL, ink, 1, "e")
    free = end - often - 8 * unit - x
    if two:
        writer.put(surface, trouble.what, (x, upper), SMALL, ink, 1, "w", room=free)
        writer.put(surface, trouble.where, (x, upper + small), SMALL, look.faint, 0, "w", room=end - x)
    else:
        words = f"{trouble.what}, {trouble.where.rpartition(', ')[2]}"
        writer.put(surface, words, (x, middle), SMALL, ink, 0, "w", room=free)


def _pegs(surface: pygame.Surface, odds: Odds, look: Look, at: tuple[float, float], room: float) -> None:
    """A hundred trials: discs get through, crosses fail, rings are those that luck alone could turn over."""
    assert odds.share is not None
    pitch = room / PEGS_IN_ROW
    sure, maybe = int(np.floor(odds.low * PEGS + 1e-9)), int(np.ceil(odds.high * PEGS - 1e-9))
    tone = mixed(look.target, look.card, 0.45) if odds.stale else look.target
    fail = mixed(look.fail, look.card, 0.45) if odds.stale else look.fail
    r = pitch * 0.34
    for n in range(PEGS):
        x, y = at[0] + (n % PEGS_IN_ROW + 0.5) * pitch, at[1] + (n // PEGS_IN_ROW + 0.5) * pitch
        if n < sure:
            small_mark(surface, "through", (x, y), r, tone, look.card)
        elif n < maybe:
            small_mark(surface, "maybe", (x, y), r, tone, look.card)
        else:
            small_mark(surface, "touches", (x, y), r * 0.85, fail, look.card)


def draw_numbers(window: pygame.Surface, scene: Scene, look: Look, layers: Layers) -> None:
    rect, unit, writer = scene.layout.numbers, scene.layout.unit, layers.writer
    if rect.h < 12 or rect.w < 20:
        return
    draw_card(window, rect, look, unit)
    numbers = scene.numbers
    pad = 8 * unit
    room = rect.w - 2 * pad - 8 * unit
    if numbers is None:
        words = tr("Pick a segment on the strip or a thing on the field: its numbers are here then.")
        for index, line in enumerate(writer.lines(words, room, SMALL)):
            at = rect.x + pad, rect.y + 8 * unit + index * writer.height(SMALL)
            if at[1] + writer.height(SMALL) < rect.bottom:
                writer.put(window, line, at, SMALL, look.faint)
        return
    hidden = len(numbers.rows) - len(scene.layout.rows)
    more = tr("{n} more", n=hidden) if hidden > 0 else ""
    if rect.h > 24 * unit:
        writer.put(window, numbers.title, (rect.x + pad, rect.y + 4 * unit), NORMAL, look.ink, 1, room=room)
    if rect.h > 44 * unit and numbers.note:
        at = rect.x + pad, rect.y + 5 * unit + writer.height(NORMAL)
        room_beside = room - writer.width(more, SMALL) - 8 * unit if more else room
        writer.put(window, numbers.note, at, SMALL, look.faint, room=room_beside)
    for index, (places, row) in enumerate(zip(scene.layout.rows, numbers.rows, strict=False)):
        _row(
            window,
            scene,
            look,
            layers,
            places,
            f"number {index}",
            row.label,
            row.on,
            wide=row.wide or row.plain or row.listed,
        )
        entry = places.entry
        if row.wide or row.listed:
            entry = Rect(places.minus.x, entry.y, places.plus.right - places.minus.x, entry.h)
        middle = entry.y + entry.h / 2
        if row.plain:
            at = places.plus.right, middle
            writer.put(window, row.value, at, SMALL, look.ink, 1, "e", room=places.plus.right - places.minus.x)
            continue
        writing = row.cursor is not None
        ground = look.mat if row.on else look.card
        window.fill(ground, entry.box)
        edge = look.fail if row.wrong else look.ink if writing else look.edge
        pygame.draw.rect(window, edge, entry.box, max(1, round((2 if writing or row.wrong else 1) * unit)))
        if row.listed:
            hot = scene.hover is not None and scene.hover.startswith(f"number {index} ")
            window.fill(look.hover if hot else look.press, entry.inset(1).box)
            x, r = entry.right - 11 * unit, 4 * unit
            area(window, [(x - r, middle - 0.6 * r), (x + r, middle - 0.6 * r), (x, middle + 0.8 * r)], look.ink)
        unit_wide = writer.width(row.unit, SMALL) + 5 * unit if row.unit else 0
        colour = look.fail_words if row.wrong else look.ink if row.on else look.faint
        at = entry.x + 5 * unit, middle
        if row.fresh and row.value:
            wide = min(writer.width(row.value, NORMAL), entry.w - unit_wide - 8 * unit)
            box = at[0] - unit, entry.y + 3 * unit, wide + 2 * unit, entry.h - 6 * unit
            window.fill(mixed(look.accent, ground, 0.5), [round(side) for side in box])
        shown = writer.put(window, row.value, at, NORMAL, colour, 0, "w", room=entry.w - unit_wide - 8 * unit)
        if row.unit:
            writer.put(window, row.unit, (entry.right - 4 * unit, middle), SMALL, look.faint, 0, "e")
        if row.cursor is not None:
            x = min(
                entry.x + 5 * unit + writer.width(row.value[: row.cursor], NORMAL), entry.right - unit_wide - 2 * unit
            )
            window.fill(
                look.ink, (round(x), entry.y + round(3 * unit), max(1, round(1.5 * unit)), entry.h - round(6 * unit))
            )
        if row.wrong:
            # A '!' beside the number: wrong is not told by colour alone.
            x = min(shown.right + 7 * unit, entry.right - unit_wide - 6 * unit)
            writer.put(window, "!", (x, middle), NORMAL, look.fail_words, 1, "c")
    if more:
        at = rect.right - pad - 8 * unit, rect.y + 5 * unit + writer.height(NORMAL)
        writer.put(window, more, at, SMALL, look.faint, 0, "ne")


def draw_switches(window: pygame.Surface, scene: Scene, look: Look, layers: Layers) -> None:
    rect, unit, writer = scene.layout.switches, scene.layout.unit, layers.writer
    if rect.h < 12 or rect.w < 20:
        return
    draw_card(window, rect, look, unit)
    for index, (places, row) in enumerate(zip(scene.layout.switch_rows, scene.switches, strict=False)):
        if not places.minus.w:
            _column(window, scene, look, layers, places, f"switch {index} entry", row)
            continue
        _row(window, scene, look, layers, places, f"switch {index}", row.label, row.on, choice=True)
        entry = places.entry
        window.fill(look.press, entry.box)
        writer.put(
            window, row.value, (entry.x + entry.w / 2, entry.y + entry.h / 2), SMALL,
            look.ink if row.on else look.faint, 1 if row.on else 0, "c", room=entry.w - 8 * unit,
        )  # fmt: skip


def _column(
    window: pygame.Surface, scene: Scene, look: Look, layers: Layers, places: Row, name: str, row: SwitchRow
) -> None:
    """A choice whose list opens where it is pressed: its name over it."""
    writer, unit, entry = layers.writer, scene.layout.unit, places.entry
    at = places.label.x + 1, places.label.y + places.label.h / 2
    writer.put(window, row.label, at, SMALL, look.faint, 0, "w", room=places.label.w)
    ink = draw_press(window, scene, look, name, entry, row.on)
    x, r, middle = entry.right - 10 * unit, 4 * unit, entry.y + entry.h / 2
    area(window, [(x - r, middle - 0.6 * r), (x + r, middle - 0.6 * r), (x, middle + 0.8 * r)], ink)
    writer.put(window, row.value, (entry.x + 5 * unit, middle), SMALL, ink, 0, "w", room=entry.w - 20 * unit)


def _row(
    window: pygame.Surface, scene: Scene, look: Look, layers: Layers, places: Row, name: str, label: str, on: bool,
    choice: bool = False, wide: bool = False,
) -> None:  # fmt: skip
    unit = scene.layout.unit
    at = places.label.x, places.label.y + places.label.h / 2
    layers.writer.put(window, label, at, SMALL, look.ink, 0, "w", room=places.label.w)
    if wide:
        return
    for side, rect in (("minus", places.minus), ("plus", places.plus)):
        ink = draw_press(window, scene, look, f"{name} {side}", rect, on)
        x, y = rect.centre
        r = 0.22 * rect.h
        sign = -1 if side == "minus" else 1
        if choice:
            points = [(x - sign * 0.5 * r, y - r), (x + sign * 0.6 * r, y), (x - sign * 0.5 * r, y + r)]
            stroke(window, points, ink, 1.8 * unit)
        else:
            stroke(window, [(x - r, y), (x + r, y)], ink, 1.9 * unit, round_ends=False)
            if side == "plus":
                stroke(window, [(x, y - r), (x, y + r)], ink, 1.9 * unit, round_ends=False)


def draw_press(window: pygame.Surface, scene: Covered, look: Look, name: str, rect: Rect, on: bool) -> Colour:
    """A button's ground; gives back the colour for what is on it."""
    hot = on and scene.hover == name
    window.fill(look.hover if hot else look.press, rect.box)
    pygame.draw.rect(window, look.ink if hot else mixed(look.edge, look.press, 1.0 if on else 0.4), rect.box, 1)
    return look.ink if on else mixed(look.faint, look.press, 0.5)


def draw_head(window: pygame.Surface, scene: Scene, look: Look, layers: Layers) -> None:
    rect, unit, writer = scene.layout.head, scene.layout.unit, layers.writer
    first = min(button.x for _, button in scene.layout.buttons if button.y < rect.bottom)
    title = scene.title or scene.run.name
    x = 10 * unit
    room = first - x - 90 * unit
    shown = writer.put(window, title, (x, rect.h / 2), LARGE, look.ink, 1, "w", room=room)
    if scene.changed:
        at = shown.right + 10 * unit, rect.h / 2
        disc(window, (at[0], at[1]), 3.4 * unit, look.jig)
        ring(window, (at[0], at[1]), 3.4 * unit, look.ink, 1.2)
        writer.put(window, tr("not saved"), (at[0] + 8 * unit, at[1]), SMALL, look.faint, 0, "w")


def draw_buttons(window: pygame.Surface, scene: Scene, look: Look, layers: Layers) -> None:
    unit, writer = scene.layout.unit, layers.writer
    for name, rect in scene.layout.buttons:
        if name.startswith("tool "):
            # A field's tools are for `paint_editor`.
            continue
        on = name not in scene.off
        if not on and isinstance(scene, MatchScene):
            # A match has nothing for it, now or later.
            continue
        ink = draw_press(window, scene, look, f"button {name}", rect, on)
        if name == "lead" and scene.leads:
            window.fill(look.accent, rect.box)
            pygame.draw.rect(window, look.ink, rect.box, max(1, round(2 * unit)))
            ink = ON_ACCENT
        x, y = rect.centre
        if name == "axis":
            words = tr("by time") if scene.axis == "time" else tr("by way")
            writer.put(window, words, (x, y), SMALL, ink, 0, "c", room=rect.w - 6 * unit)
        elif name in BUTTON_WORDS:
            words = tr(BUTTON_WORDS[name])
            if name == "rest":
                words = tr("rest stays") if scene.stays else tr("rest moves")
            if name == "look":
                words = tr("Light") if scene.dark else tr("Dark")
            writer.put(window, words, (x, y), SMALL, ink, 0, "c", room=rect.w - 4 * unit)
        else:
            _sign(window, name, scene.playing, x, y, 0.24 * rect.h, ink, unit)


def draw_clock(window: pygame.Surface, scene: Scene, look: Look, layers: Layers) -> None:
    """How fast it plays and where it is, and what the ribbon's bands are as far as there is room for it."""
    places, unit, writer = scene.layout, scene.layout.unit, layers.writer
    after = max(rect.right for name, rect in places.buttons if name in CONTROLS)
    before = min(rect.x for name, rect in places.buttons if name in dict(EDITS))
    room = before - after - 20 * unit
    middle = places.button("play").y + places.button("play").h / 2
    shown = writer.put(window, scene.pace, (after + 10 * unit, middle), NORMAL, look.ink, 1, "w", room=room)
    at = after + 10 * unit + max(shown.width, writer.width("0.25x", NORMAL, 1)) + 12 * unit
    writer.put(window, scene.clock, (at, middle), NORMAL, look.ink, 0, "w", room=max(0, room - (at - after)))
    # The legend stays where it is while the clock runs.
    used = at + writer.width(tr("{now:.1f} of {all:.1f} s", now=100.0, all=100.0), NORMAL) + 12 * unit
    _legend(window, scene, look, layers, used, before - 12 * unit, middle)


def _legend(
    window: pygame.Surface, scene: Scene, look: Look, layers: Layers, left: float, right: float, y: float
) -> None:
    """What the ribbon's bands are, as far as there is room for it, from the right."""
    if not scene.columns:
        return
    writer, unit = layers.writer, scene.layout.unit
    entries = (
        ("planned", tr("planned")), ("margin", tr("left in 19 of 20")), ("half", tr("half of the trials")),
        ("most", tr("9 of 10")), ("pinch", tr("tightest")),
    )  # fmt: skip
    wide = [writer.width(words, SMALL) + 34 * unit for _, words in entries]
    count = len(entries)
    while count and sum(wide[:count]) > right - left:
        count -= 1
    x = right - sum(wide[:count])
    for (kind, words), each in zip(entries[:count], wide, strict=False):
        box = pygame.Rect(round(x), round(y - 5 * unit), round(16 * unit), round(10 * unit))
        if kind == "planned":
            for r, tone in ((4 * unit, look.ink), (2.4 * unit, look.card)):
                cx, cy = box.center
                area(window, [(cx, cy - r), (cx + r, cy), (cx, cy + r), (cx - r, cy)], tone)
        elif kind == "margin":
            window.fill(look.path, (box.x, round(y - 1.3 * unit), box.width, max(2, round(2.6 * unit))))
        elif kind == "pinch":
            pinch(window, box.center, (1.0, 0.0), 3 * unit, 6 * unit, look.ink, look.accent)
        else:
            window.fill(look.half_band if kind == "half" else look.band, box)
        writer.put(window, words, (box.right + 5 * unit, y), SMALL, look.faint, 0, "w")
        x += each


def _sign(
    window: pygame.Surface, name: str, playing: bool, x: float, y: float, r: float, ink: Colour, unit: float
) -> None:
    thin = max(1.6, 2 * unit)
    if name == "play" and playing:
        for s in (-1, 1):
            area(window, [(x + s * 0.62 * r - 0.3 * r, y - r), (x + s * 0.62 * r + 0.3 * r, y - r),
                          (x + s * 0.62 * r + 0.3 * r, y + r), (x + s * 0.62 * r - 0.3 * r, y + r)], ink)  # fmt: skip
    elif name == "play":
        area(window, [(x - 0.75 * r, y - 1.1 * r), (x + 1.15 * r, y), (x - 0.75 * r, y + 1.1 * r)], ink)
    elif name in ("back", "forth", "begin"):
        s = 1 if name == "forth" else -1
        # A step is a post and an angle; back to the beginning has two angles.
        stroke(window, [(x + s * 0.95 * r, y - r), (x + s * 0.95 * r, y + r)], ink, thin, round_ends=False)
        for off in (0.0, 0.95) if name == "begin" else (0.0,):
            points = [
                (x - s * (0.3 + off) * r, y - 0.8 * r),
                (x + s * (0.55 - off) * r, y),
                (x - s * (0.3 + off) * r, y + 0.8 * r),
            ]
            stroke(window, points, ink, thin)
