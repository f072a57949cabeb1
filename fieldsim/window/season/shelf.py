"""Where everything stands in the window of a season: the shelf with its tiles at the left, cards at the right. Whole
pixels; knows no screen."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from fieldsim.window.camera import Rect
from fieldsim.window.paint.layout import GAP, HEAD, unit_of

__all__ = ["ROWS", "SeasonLayout", "Section", "Tile", "season_layout", "shelve"]

CARDS = 300
HEAD_BUTTONS = ("look", "help")
# Sizes for a unit. A tile of a run is as wide as there is room for, from TILE on; others are a part of it.
TILE, SMALL_TILE, WORDS, SPACE, TITLE = 232, 150, 42, 10, 28
# Height of a tile's picture over its width.
SHAPE = 0.52
BUTTON, ROW = 30, 32
ROWS = 4
MOST_ACTIONS = 6


@dataclass(frozen=True)
class Tile:
    key: str
    """'item 3' of the season's files, or 'new run'."""
    rect: Rect
    picture: Rect


@dataclass(frozen=True)
class Section:
    kind: str
    title: Rect
    tiles: tuple[Tile, ...]


@dataclass(frozen=True)
class SeasonLayout:
    """Parts do not overlap. ``field`` is the shelf: what lies over a window lies over that."""

    size: tuple[int, int]
    unit: float
    head: Rect
    field: Rect
    card: Rect
    seasons: Rect
    buttons: tuple[tuple[str, Rect], ...]
    actions: tuple[Rect, ...]
    """Buttons at the bottom of the card, two in a row, from above,"""
    rows: tuple[tuple[Rect, Rect, Rect, Rect], ...]
    """and rows of a form on it: label, back, entry, on."""
    season_rows: tuple[Rect, ...]

    def px(self, length: float) -> int:
        return max(1, round(length * self.unit))

    def button(self, name: str) -> Rect:
        return next(rect for known, rect in self.buttons if known == name)


def season_layout(size: tuple[int, int], scale: float = 1.0, seasons: int = 4) -> SeasonLayout:
    w, h = max(1, size[0]), max(1, size[1])
    unit = unit_of(w, h, scale)

    def px(length: float) -> int:
        return round(length * unit)

    gap = px(GAP)
    top, bottom = px(HEAD) + gap // 2, h - gap
    right = w - gap - px(CARDS)
    high = px(36) + (seasons + 1) * (px(BUTTON) + px(4))
    high = min(high, max(0, (bottom - top) // 2))
    card = Rect(right, top, px(CARDS), max(0, bottom - top - high - gap))
    below = Rect(right, card.bottom + gap, px(CARDS), high)
    wide = (card.w - 3 * px(8)) // 2
    actions = []
    for n in range(MOST_ACTIONS):
        row, column = divmod(n, 2)
        y = card.bottom - (MOST_ACTIONS // 2 - row) * (px(BUTTON) + px(6)) - px(4)
        actions.append(Rect(card.x + px(8) + column * (wide + px(8)), y, wide, px(BUTTON)))
    rows = []
    for n in range(ROWS):
        y = card.y + px(58) + n * (px(ROW) + px(6))
        square = px(ROW)
        label = Rect(card.x + px(8), y, px(56), square)
        minus = Rect(label.right, y, square, square)
        plus = Rect(card.right - px(8) - square, y, square, square)
        rows.append((label, minus, Rect(minus.right + px(3), y, plus.x - minus.right - 2 * px(3), square), plus))
    first = below.y + px(30)
    season_rows = tuple(
        Rect(below.x + px(8), first + n * (px(BUTTON) + px(4)), below.w - 2 * px(8), px(BUTTON))
        for n in range(seasons + 1)
        if first + (n + 1) * (px(BUTTON) + px(4)) <= below.bottom + px(2)
    )
    each, tall, space = px(64), px(22), px(4)
    left = w - gap - len(HEAD_BUTTONS) * (each + space) + space
    buttons = tuple((name, Rect(left + n * (each + space), space, each, tall)) for n, name in enumerate(HEAD_BUTTONS))
    return SeasonLayout(
        size=(w, h),
        unit=unit,
        head=Rect(0, 0, w, px(HEAD)),
        field=Rect(gap, top, max(1, right - 2 * gap), max(1, bottom - top)),
        card=card,
        seasons=below,
        buttons=buttons,
        actions=tuple(actions),
        rows=tuple(rows),
        season_rows=season_rows,
    )


def shelve(
    places: SeasonLayout, sections: Sequence[tuple[str, Sequence[str]]], scrolled: float
) -> tuple[tuple[Section, ...], float]:
    """The sections with their tiles, ``scrolled`` pixels up, and how high they are together. A section is its kind and
    the keys of its tiles; those of runs are the largest."""
    shelf = places.field
    space = places.px(SPACE)
    inner = shelf.w - 2 * space
    y = float(shelf.y + space // 2 - scrolled)
    begun = y
    found = []
    for kind, keys in sections:
        least = places.px(TILE if kind == "run" else SMALL_TILE)
        columns = max(1, (inner + space) // (least + space))
        wide = (inner + space) // columns - space
        picture, words = round(SHAPE * wide), places.px(WORDS)
        title = Rect(shelf.x + space, round(y), inner, places.px(TITLE))
        y += places.px(TITLE)
        tiles = []
        for n, key in enumerate(keys):
            row, column = divmod(n, columns)
            rect = Rect(
                shelf.x + space + column * (wide + space), round(y) + row * (picture + words + space), wide,
                picture + words,
            )  # fmt: skip
            tiles.append(Tile(key, rect, Rect(rect.x + 1, rect.y + 1, rect.w - 2, picture)))
        y += -(-len(keys) // columns) * (picture + words + space) + places.px(4)
        found.append(Section(kind, title, tuple(tiles)))
    return tuple(found), y - begun + space
