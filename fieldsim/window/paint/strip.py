"""The strip below the field: the room left along the run, the segments under it, the playhead over both."""

from __future__ import annotations

from math import isfinite, sqrt

import numpy as np
import pygame

from fieldsim.language import in_digits, tr
from fieldsim.window.paint.layers import Layers
from fieldsim.window.paint.look import NORMAL, ON_ACCENT, SMALL, Look, mixed
from fieldsim.window.paint.marks import pinch, small_mark
from fieldsim.window.paint.ribbon import room_scale
from fieldsim.window.paint.scene import Column, MatchScene, Scene
from fieldsim.window.paint.tools import area, hatch, plate, stroke

__all__ = ["draw_playhead", "draw_strip"]

TICKS = (0, 1, 2, 5, 10, 20, 50, 100, 200, 500, 1000)


def draw_strip(window: pygame.Surface, scene: Scene, look: Look, layers: Layers) -> None:
    """Everything but the playhead."""
    if scene.layout.ribbon.w < 20 or scene.layout.ribbon.h < 20:
        return
    drawn = _Drawn(scene, look, layers)
    if isinstance(scene, MatchScene):
        drawn.points(window, scene)
    else:
        drawn.ribbon(window)
    drawn.blocks(window)
    drawn.axis(window)
    if scene.pinch is not None:
        drawn.tightest(window)


class _Drawn:
    """What the strip's parts have in common."""

    def __init__(self, scene: Scene, look: Look, layers: Layers) -> None:
        self.scene, self.look, self.writer, self.edges = scene, look, layers.writer, scene.strip.edges
        places = scene.layout
        self.unit = places.unit
        self.room, self.segments, self.axis_rect, self.scale = (
            pygame.Rect(part.box) for part in (places.ribbon, places.segments, places.axis, places.ribbon_scale)
        )
        self.most = scene.most if scene.most is not None else room_scale(scene.columns)

    def x_of(self, head: float) -> float:
        return self.scene.strip.x_of(head)

    def y_of(self, gap: float) -> float:
        """Roots: the few mm that decide a run get the room, and zero is still a line to stand on."""
        high = self.room.height - 6 * self.unit
        return self.zero - high * sqrt(min(max(gap, 0.0), self.most) / self.most)

    @property
    def zero(self) -> float:
        return self.room.bottom - 2.5 * self.unit

    def ribbon(self, surface: pygame.Surface) -> None:
        look, unit, room = self.look, self.unit, self.room
        surface.fill(look.card, room)
        writer = self.writer
        last = self.zero + 99 * unit
        # Words at the left: what the heights mean.
        for tick in TICKS:
            y = self.y_of(tick)
            if tick > self.most or last - y < writer.height(SMALL) * 0.86:
                continue
            last = y
            if tick:
                pygame.draw.line(surface, look.grid, (room.x, round(y)), (room.right - 1, round(y)))
            text = (
                tr("touches")
                if tick == 0
                else tr("{distance} mm", distance=tick)
                if tick >= 10 and self.y_of(tick) < room.y + room.h / 3
                else f"{tick}"
            )
            colour = look.fail_words if tick == 0 else look.faint
            at = (room.x - 5 * unit, min(y, self.zero - 2 * unit))
            writer.put(surface, text, at, SMALL, colour, 1 if tick == 0 else 0, "e", room=self.scale.w - 8 * unit)
        # What is zoomed ends at the strip's own ends.
        clip = surface.get_clip()
        surface.set_clip(room.clip(clip))
        stands = set(range(len(self.edges) - 1)) - {int(column.begin) for column in self.scene.columns}
        for g in stands:
            x0, x1 = self.edges[g], self.edges[g + 1]
            box = np.array([(x0, room.y), (x1, room.y), (x1, self.zero), (x0, self.zero)])
            hatch(surface, box, mixed(look.edge, look.card, 0.42), 7 * unit)
        for column in self.scene.columns:
            self.column(surface, column)
        for column in self.scene.ghost:
            self.ghost(surface, column)
        surface.set_clip(clip)
        pygame.draw.rect(surface, look.fail, (room.x, round(self.zero), room.width, max(2, round(2 * unit))))

    def points(self, surface: pygame.Surface, scene: MatchScene) -> None:
        """The points of a match over its time, as stairs."""
        look, unit, room = self.look, self.unit, self.room
        surface.fill(look.card, room)
        totals = [total for _, total in scene.scores]
        high, low = max([1.0, *totals]), min([0.0, *totals])
        top, bottom = room.y + 10 * unit, room.bottom - 6 * unit

        def y_of(total: float) -> float:
            return bottom - (bottom - top) * (total - low) / (high - low)

        for g in scene.by_hand:
            x0, x1 = self.edges[g], self.edges[g + 1]
            box = np.array([(x0, room.y), (x1, room.y), (x1, room.bottom), (x0, room.bottom)])
            hatch(surface, box, mixed(look.edge, look.card, 0.42), 7 * unit)
        for total in sorted({low, 0.0, high}):
            y = y_of(total)
            pygame.draw.line(surface, look.grid, (room.x, round(y)), (room.right - 1, round(y)))
            at = (room.x - 5 * unit, y)
            words = tr("{points:g} points", points=total) if total == high else in_digits(f"{total:g}")
            self.writer.put(surface, words, at, SMALL, look.faint, 0, "e", room=self.scale.w - 8 * unit)
        x, y = self.x_of(0.0), y_of(0.0)
        thick = max(2, round(2.6 * unit))
        for head, total in [*scene.scores, (float(len(self.edges) - 1), totals[-1] if totals else 0.0)]:
            to_x, to_y = self.x_of(head), y_of(total)
            surface.fill(look.path, (round(x), round(y) - thick // 2, max(1, round(to_x - x)), thick))
            upper = round(min(y, to_y))
            surface.fill(look.path, (round(to_x) - thick // 2, upper, thick, max(1, round(abs(to_y - y)))))
            x, y = to_x, to_y

    def column(self, surface: pygame.Surface, column: Column) -> None:
        look, unit = self.look, self.unit
        x0, x1 = round(self.x_of(column.begin)), round(self.x_of(column.end))
        wide = max(2, x1 - x0 - 1)
        known = [value for value in (column.p05, column.p95) if value is not None and isfinite(value)]
        if len(known) == 2:
            assert column.p05 is not None
            assert column.p95 is not None
            for low, high, tone in (
                (column.p05, column.p95, look.band),
                (column.p25, column.p75, look.half_band),
            ):
                if low is None or high is None:
                    continue
                top, bottom = self.y_of(high), self.y_of(low)
                surface.fill(tone, (x0, round(top), wide, max(1, round(bottom) - round(top))))
            if column.p50 is not None and isfinite(column.p50):
                y, on = round(self.y_of(column.p50)), max(2, round(9 * unit))
                for begin in range(x0, x1 - 1, on + max(1, round(5 * unit))):
                    surface.fill(look.ink, (begin, y, min(on, x1 - 1 - begin), max(1, round(unit))))
            high_line = max(2, round(2.6 * unit))
            surface.fill(look.path, (x0, round(self.y_of(column.p05)) - high_line // 2, wide, high_line))
            if column.p05 <= 0:
                small_mark(
                    surface,
                    "misses" if column.act else "touches",
                    ((x0 + x1) / 2, self.zero),
                    5 * unit,
                    look.fail,
                    look.card,
                )
        if column.allowed is not None:
            y = round(self.y_of(column.allowed))
            pygame.draw.line(surface, look.target, (x0, y), (x0 + wide - 1, y), max(1, round(1.6 * unit)))
            words = tr("{distance:g} mm allowed", distance=column.allowed)
            if self.writer.width(words, SMALL) < wide - 6 * unit:
                below = y + self.writer.height(SMALL) + 2 * unit < self.zero
                self.writer.put(
                    surface, words, (x0 + 3 * unit, y + (1 if below else -1) * unit), SMALL, look.target, 0,
                    "nw" if below else "sw",
                )  # fmt: skip
        if column.planned is not None and isfinite(column.planned):
            x, middle = (x0 + x1) / 2, self.y_of(column.planned)
            for r, tone in ((3.6 * unit, look.ink), (2.2 * unit, look.card)):
                area(surface, [(x, middle - r), (x + r, middle), (x, middle + r), (x - r, middle)], tone)

    def ghost(self, surface: pygame.Surface, column: Column) -> None:
        """Where the line of a column was before the last change: dashes, where it is another one now."""
        now = next((each for each in self.scene.columns if each.begin == column.begin), None)
        if column.p05 is None or not isfinite(column.p05) or now is None or now.p05 is None:
            return
        y = round(self.y_of(column.p05))
        if abs(y - round(self.y_of(now.p05))) < 1.5 * self.unit:
            return
        x0, x1 = round(self.x_of(column.begin)), round(self.x_of(column.end))
        on, high = max(2, round(3 * self.unit)), max(2, round(2.2 * self.unit))
        for begin in range(x0, x1 - 1, 2 * on):
            surface.fill(self.look.jig, (begin, y - high // 2, min(on, x1 - 1 - begin), high))

    def blocks(self, surface: pygame.Surface) -> None:
        """Like the fields of a surveyor's rod, by turns darker and lighter."""
        look, unit, writer = self.look, self.unit, self.writer
        rect = self.segments
        troubled = dict(self.scene.troubled)
        clip = surface.get_clip()
        surface.set_clip(rect.clip(clip))
        for g, words in enumerate(self.scene.strip.words):
            x0, x1 = round(self.edges[g]), round(self.edges[g + 1])
            box = pygame.Rect(x0, rect.y, x1 - x0, rect.height)
            chosen = self.scene.segment == g + 1
            dark = mixed(look.ink, look.press, 0.16)
            ground = look.accent if chosen else look.press if g % 2 else dark
            if self.scene.hover == f"block {g + 1}" and not chosen:
                ground = look.hover
            surface.fill(ground, box)
            ink = ON_ACCENT if chosen else look.ink
            number = str(g + 1)
            x, y = x0 + 5 * unit, rect.y + 3 * unit
            wide = writer.width(number, NORMAL, 1)
            if box.width < wide + 6 * unit:
                x = x0 + (box.width - wide) / 2
            writer.put(surface, number, (x, y), NORMAL, ink, 1)
            if g + 1 in troubled and box.width > wide + 26 * unit:
                small_mark(
                    surface,
                    troubled[g + 1],
                    (x + wide + 10 * unit, y + writer.height(NORMAL) / 2),
                    3.6 * unit,
                    look.fail,
                    ground,
                )
            elif g + 1 in troubled:
                surface.fill(look.fail, (x0, rect.bottom - round(4 * unit), box.width, round(4 * unit)))
            room = box.width - 8 * unit
            fine = SMALL
            high = writer.height(fine)
            lines = writer.lines(words, room, fine, most=2) if room > 24 * unit else []
            if room < 70 * unit and " ".join(lines) != words:
                lines = []  # A few letters of a word say less than the number alone.
            for index, line in enumerate(lines):
                at = rect.y + 3 * unit + writer.height(NORMAL) * 0.98 + index * high * 0.9
                if at + high <= rect.bottom + 2 * unit:
                    writer.put(surface, line, (x0 + 5 * unit, at), fine, ink)
        for edge in self.edges:
            pygame.draw.line(surface, look.edge, (round(edge), rect.y), (round(edge), rect.bottom))
        surface.set_clip(clip)
        pygame.draw.rect(surface, look.edge, rect, 1)

    def axis(self, surface: pygame.Surface) -> None:
        look, unit, writer = self.look, self.unit, self.writer
        rect = self.axis_rect
        free = rect.x - 99.0
        ends = self.scene.strip.ends
        for index, (edge, words) in enumerate(zip(self.edges, ends, strict=False)):
            if not rect.x - 1 <= edge <= rect.right + 1:
                continue
            wide = writer.width(words, SMALL)
            x = min(max(edge - wide / 2, rect.x), rect.right - wide)
            last = index == len(ends) - 1
            if x < free + 6 * unit:
                continue
            # The end of the run is said in any case: what would lie in its way is left out.
            if not last and x + wide > rect.right - writer.width(ends[-1], SMALL) - 6 * unit:
                continue
            pygame.draw.line(surface, look.faint, (round(edge), rect.y), (round(edge), rect.y + round(3 * unit)))
            writer.put(surface, words, (x, rect.y + 3 * unit), SMALL, look.faint)
            free = x + wide

    def tightest(self, surface: pygame.Surface) -> None:
        found = self.scene.pinch
        assert found is not None
        look, unit, writer = self.look, self.unit, self.writer
        x = self.x_of(found.head)
        if not self.room.x <= x <= self.room.right:
            return
        column = next((c for c in self.scene.columns if c.begin <= found.head <= c.end and not c.act), None)
        gap = 0.0 if column is None else (column.p05 if column.p05 is not None else column.planned) or 0.0
        y = min(self.y_of(gap), self.zero - 3 * unit)
        middle = (y + self.zero) / 2
        pinch(surface, (x, middle), (0.0, 1.0), self.zero - y, 7 * unit, look.ink, look.accent)
        wide, high = writer.width(found.words, SMALL, 1) + 8 * unit, writer.height(SMALL) + 2 * unit
        left = x + 8 * unit if x + 8 * unit + wide < self.room.right else x - 8 * unit - wide
        top = min(max(middle - 10 * unit - high, self.room.y + 1), self.zero - high - 3 * unit)
        box = pygame.Rect(round(left), round(top), round(wide), round(high))
        plate(surface, box, look.card, look.ink)
        writer.put(surface, found.words, box.center, SMALL, look.ink, 1, "c")


def draw_playhead(window: pygame.Surface, scene: Scene, look: Look) -> None:
    """A line through ribbon and segments, with a grip on the axis."""
    places, unit = scene.layout, scene.layout.unit
    x = scene.strip.x_of(scene.head)
    if not places.ribbon.x - 1 <= x <= places.ribbon.right + 1:
        return
    top, bottom = places.ribbon.y, places.axis.bottom
    for wide, tone in ((4.4 * unit, look.card), (2.0 * unit, look.ink)):
        half = max(1, round(wide))
        window.fill(tone, (round(x) - half // 2, top, half, places.axis.y - top + round(4 * unit)))
    r = 6.5 * unit
    y = bottom - r * 1.05
    grip = [(x, y - 1.7 * r), (x + r, y - 0.5 * r), (x + r, y + r), (x - r, y + r), (x - r, y - 0.5 * r)]
    area(window, grip, look.ink)
    stroke(
        window,
        [(x - 0.4 * r, y + 0.2 * r), (x + 0.4 * r, y + 0.2 * r)],
        look.card,
        max(1.3, 1.3 * unit),
        round_ends=False,
    )
