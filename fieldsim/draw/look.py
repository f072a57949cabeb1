"""How the pictures look: colours, sizes, and matplotlib as it comes."""

from __future__ import annotations

import warnings
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from functools import cache
from typing import TYPE_CHECKING

from fieldsim.language import in_digits

if TYPE_CHECKING:
    from matplotlib.axes import Axes

PALETTE = {
    "black": "#000000",
    "orange": "#e69f00",
    "sky": "#56b4e9",
    "green": "#009e73",
    "yellow": "#f0e442",
    "blue": "#0072b2",
    "vermilion": "#d55e00",
    "purple": "#cc79a7",
}
"""Okabe & Ito's eight colours. Relative luminance rises from black over blue, vermilion, green... to yellow."""

OBSTACLE, OBSTACLE_EDGE = "#a6a6a6", "#222222"
SWEPT = "#d9edfa"
START_AREA = "#f1f1ee"
LINE = "#dcd6b0"
TRIAL = "#4d4d4d"
GRID = "#e3e3e3"

# Sizes in inches and points: letters of 8 points are read at arm's length on A4, 7 is the least.
WIDTH = 11.0
LEFT, RIGHT = 0.62, 0.25
TALLEST_MAP, TALLEST_IN_REPORT = 8.5, 7.0
RIBBON, RIBBON_TITLE, FOOT = 2.1, 0.5, 0.3
SMALL, NORMAL, LARGE = 7.5, 8.5, 14.0


@dataclass(frozen=True)
class Sheet:
    """What a picture is made for: how wide it is, inches, and whether it has to say itself what it shows."""

    width: float
    alone: bool

    @property
    def narrow(self) -> bool:
        return self.width < 5.0


ALONE = Sheet(WIDTH, True)
# As wide as A4 and Letter are within margins, so that letters are printed as large as they are meant; the page around
# it has title and words.
IN_REPORT = Sheet(7.3, False)
# A telephone held upright, in a page: letters stay as large as on paper.
ON_PHONE = Sheet(3.6, False)


# What systems have for names in scripts that DejaVu Sans has no letters of, the widest first; none comes with us.
SYSTEM_FONTS = (
    "Noto Sans CJK JP", "Noto Sans CJK SC", "Noto Sans CJK KR", "Noto Sans JP", "Noto Sans SC", "Noto Sans KR",
    "Source Han Sans", "PingFang SC", "Hiragino Sans", "Apple SD Gothic Neo", "Microsoft YaHei", "Yu Gothic", "Meiryo",
    "Malgun Gothic", "WenQuanYi Zen Hei", "WenQuanYi Micro Hei", "Droid Sans Fallback", "Arial Unicode MS",
    "Noto Sans Devanagari", "Noto Sans Thai", "Noto Sans Hebrew", "Noto Sans Arabic", "Nirmala UI", "Leelawadee UI",
    "Unifont",
)  # fmt: skip


@cache
def families() -> tuple[str, ...]:
    """The font of all pictures, and after it those of this machine that have letters of other scripts.

    matplotlib takes each letter from the first that has it. Where every letter is in the first one, bytes do not depend
    on the others.
    """
    from matplotlib import font_manager

    there = {each.name for each in font_manager.fontManager.ttflist}
    return ("DejaVu Sans", *(name for name in SYSTEM_FONTS if name in there))


@contextmanager
def plain_style() -> Iterator[None]:
    """matplotlib as it comes, whatever a settings file on this machine says, so that bytes are the same everywhere."""
    from matplotlib import rcParams, style

    if rcParams["svg.hashsalt"] == "fieldsim":
        # It is so already: setting all of it again takes longer than many a picture.
        yield
        return
    ours = {
        "svg.hashsalt": "fieldsim",
        "svg.fonttype": "none",
        "font.family": list(families()),
        "text.parse_math": False,
        "hatch.linewidth": 0.6,
        "path.simplify": True,
    }
    with style.context(["default", ours]):
        yield


def numbers_as_spoken(axes: Axes) -> None:
    """The axes' numbers with the decimal mark of the language."""
    from matplotlib.ticker import ScalarFormatter

    class Spoken(ScalarFormatter):
        def __call__(self, x: float, pos: int | None = None) -> str:
            return in_digits(super().__call__(x, pos))

    axes.xaxis.set_major_formatter(Spoken())
    axes.yaxis.set_major_formatter(Spoken())


@contextmanager
def glyphs_missing_are_boxes() -> Iterator[None]:
    """A name may use signs the font does not have: an empty box is drawn for them, and an SVG keeps the letters."""
    with warnings.catch_warnings():
        warnings.filterwarnings("ignore", message=".*[Gg]lyph")
        yield
