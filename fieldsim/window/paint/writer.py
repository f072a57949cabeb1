"""Words in the window: letters of one family, kept as pictures, shortened or broken to the room there is."""

from __future__ import annotations

from functools import cache
from math import cos, radians, sin

import pygame

from fieldsim.lettering import cells, one_line, shorten
from fieldsim.window.paint.look import Colour, font_files

__all__ = ["Writer"]

# For private use: general-purpose fonts have no such sign.
NOBODYS = "\ue5a7"
# General-purpose fonts with Chinese, Japanese, Korean, Devanagari and other letters, by the names that systems list.
OTHER_FONTS = (
    "notosanscjksc", "notosanscjkjp", "notosanscjk", "wenquanyizenhei", "droidsansfallback", "msyh", "simsun",
    "msgothic", "malgungothic", "applesdgothicneo", "hiraginosans", "pingfangsc", "arialunicode",
    "notosansdevanagari", "nirmalaui", "notosansthai", "freesans", "unifont",
)  # fmt: skip

# Words kept as pictures, and how many of them at most.
KEPT_WORDS = 1500


class Writer:
    """Words in one family of letters, kept as pictures. ``unit`` is that of the layout."""

    def __init__(self) -> None:
        if not pygame.font.get_init():
            pygame.font.init()
        self.files = font_files()
        self.fonts: dict[tuple[int, int], pygame.font.Font] = {}
        self.others: dict[tuple[int, str], pygame.font.Font] = {}
        self.had: dict[tuple[int, str], bool] = {}
        self.kept: dict[tuple[object, ...], pygame.Surface] = {}
        self.fitted: dict[tuple[object, ...], str] = {}
        self.unit = 1.0

    def font(self, size: float, style: int = 0) -> pygame.font.Font:
        """Upright 0, bold 1, slanted 2."""
        pixels = max(6, round(size * self.unit))
        key = pixels, style
        if key not in self.fonts:
            self.fonts[key] = pygame.font.Font(self.files[style], pixels)
        return self.fonts[key]

    def font_of(self, text: str, size: float, style: int = 0) -> pygame.font.Font:
        """The font that has all letters of a text: ours, else the first of the system's that has them."""
        font = self.font(size, style)
        if text.isascii() or self._has(font, text):
            return font
        pixels = max(6, round(size * self.unit))
        for file in _others():
            key = pixels, file
            if key not in self.others:
                self.others[key] = pygame.font.Font(file, pixels)
            if self._has(self.others[key], text):
                return self.others[key]
        return font

    def _has(self, font: pygame.font.Font, text: str) -> bool:
        """Whether a font has all letters of a text. What it lacks it draws as it draws a sign that no font has."""
        for letter in set(text):
            key = id(font), letter
            if key not in self.had:
                box, drawn = (font.render(each, True, (0, 0, 0)) for each in (NOBODYS, letter))
                self.had[key] = pygame.image.tobytes(box, "RGBA") != pygame.image.tobytes(drawn, "RGBA")
            if not self.had[key]:
                return False
        return True

    def width(self, text: str, size: float, style: int = 0) -> int:
        text = _writable(text)
        return self.font_of(text, size, style).size(text)[0]

    def height(self, size: float) -> int:
        return self.font(size).get_height()

    def fit(self, text: str, room: float, size: float, style: int = 0) -> str:
        """The text on one line, shortened in its middle until it is at most ``room`` pixels wide."""
        key = (text, int(room), round(size * self.unit), style)
        if key not in self.fitted:
            if len(self.fitted) > KEPT_WORDS:
                self.fitted.clear()
            text = one_line(text) if text else ""
            least, most = 0, cells(text)
            found = text
            if self.width(text, size, style) > room:
                found = ""
                while least < most:
                    half = (least + most + 1) // 2
                    shown = shorten(text, half) if half > 4 else text[:half]
                    if self.width(shown, size, style) <= room:
                        least, found = half, shown
                    else:
                        most = half - 1
            self.fitted[key] = found
        return self.fitted[key]

    def lines(self, text: str, room: float, size: float, style: int = 0, most: int = 99) -> list[str]:
        """The text broken into lines of at most ``room`` pixels; the last one is shortened if there are too many."""
        found: list[str] = []
        line = ""
        # A blank line stays one: it is no name that is missing.
        words = one_line(text).split(" ") if text else []
        for index, word in enumerate(words):
            longer = f"{line} {word}".strip()
            if line and self.width(longer, size, style) > room:
                if len(found) + 1 == most:
                    return [*found, self.fit(" ".join([line, *words[index:]]), room, size, style)]
                found.append(line)
                longer = word
            line = longer
        return [self.fit(each, room, size, style) for each in [*found, line]]

    def picture(
        self, text: str, size: float, colour: Colour, style: int = 0, halo: Colour | None = None
    ) -> pygame.Surface:
        key = (text, round(size * self.unit), colour, style, halo)
        found = self.kept.get(key)
        if found is None:
            if len(self.kept) > KEPT_WORDS:
                self.kept.clear()
            text = _writable(text)
            font = self.font_of(text, size, style)
            found = font.render(text, True, colour)
            if halo is not None:
                r = max(1, round(1.6 * self.unit))
                around = pygame.Surface((found.get_width() + 2 * r, found.get_height() + 2 * r), pygame.SRCALPHA)
                light = font.render(text, True, halo)
                for a in range(0, 360, 30):
                    around.blit(light, (r + r * cos(radians(a)), r + r * sin(radians(a))))
                around.blit(found, (r, r))
                found = around
            self.kept[key] = found
        return found

    def put(
        self,
        surface: pygame.Surface,
        text: str,
        at: tuple[float, float],
        size: float,
        colour: Colour,
        style: int = 0,
        anchor: str = "nw",
        room: float | None = None,
        halo: Colour | None = None,
    ) -> pygame.Rect:
        """Write it so that its ``anchor`` ('nw', 'n', 'ne', 'w', 'c', 'e', 'sw', 's', 'se') is at the pixel."""
        shown = self.fit(text, room, size, style) if room is not None else text
        if not shown:
            return pygame.Rect(round(at[0]), round(at[1]), 0, 0)
        made = self.picture(shown, size, colour, style, halo)
        w, h = made.get_size()
        x = at[0] - (0 if "w" in anchor else w if "e" in anchor else w / 2)
        y = at[1] - (0 if "n" in anchor else h if "s" in anchor else h / 2)
        return surface.blit(made, (round(x), round(y)))  # fmt: skip


@cache
def _others() -> tuple[str, ...]:
    """Fonts of the system with letters that ours lacks, those of most people first. Looking for them takes a moment, so
    nobody does who has no such letters."""
    found = (pygame.font.match_font(name) for name in OTHER_FONTS)
    return tuple(dict.fromkeys(file for file in found if file is not None))


def _writable(text: str) -> str:
    """Without what no letter can be drawn for."""
    return text if text.isprintable() else one_line(text)
