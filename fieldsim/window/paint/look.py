"""How the window looks: colours in light and dark, sizes of letters, where the letters come from.

What a colour tells is told by a shape, a dash or a hatch as well. The hues are those of the pictures (Okabe & Ito, see
``fieldsim.draw``), some of them lighter or darker so that they stand out from their ground.
"""

from __future__ import annotations

import importlib.util
from dataclasses import dataclass
from pathlib import Path

from fieldsim.draw.look import PALETTE
from fieldsim.language import tr

__all__ = [
    "DARK",
    "HUGE",
    "LARGE",
    "LIGHT",
    "NORMAL",
    "ON_ACCENT",
    "SMALL",
    "Colour",
    "Look",
    "font_files",
    "mixed",
    "rgb",
]

Colour = tuple[int, int, int]

# Heights of letters for a unit of the layout, pixels.
SMALL, NORMAL, LARGE, HUGE = 12.6, 13.4, 16.0, 31.0


# What is written on the accent, in light and dark.
ON_ACCENT: Colour = (20, 20, 20)


def rgb(text: str) -> Colour:
    """
    >>> rgb("#e69f00")
    (230, 159, 0)
    """
    return int(text[1:3], 16), int(text[3:5], 16), int(text[5:7], 16)


def mixed(a: Colour, b: Colour, share: float) -> Colour:
    """``share`` of ``a`` on ``b``, 0 to 1."""
    return tuple(round(share * p + (1 - share) * q) for p, q in zip(a, b, strict=True))  # type: ignore[return-value]


@dataclass(frozen=True)
class Look:
    name: str
    # The window: the table everything lies on, cards, and what is written.
    table: Colour
    card: Colour
    edge: Colour
    ink: Colour
    faint: Colour
    press: Colour
    """A button, or the lighter of the strip's two tones."""
    hover: Colour
    accent: Colour
    """What is selected."""
    # The field.
    mat: Colour
    grid: Colour
    veil: int
    """How much of a mat picture is covered so that what lies on it stands out, of 255."""
    area: Colour
    area_edge: Colour
    line: Colour
    line_edge: Colour
    obstacle: Colour
    obstacle_edge: Colour
    wall: Colour
    target: Colour
    jig: Colour
    other_jig: Colour
    sensor: Colour
    # The run.
    path: Colour
    casing: Colour
    swept: Colour
    swept_alpha: int
    trial: Colour
    trial_alpha: int
    fail: Colour
    fail_words: Colour
    body: Colour
    tool: Colour
    guide: Colour
    # The ribbon.
    band: Colour
    half_band: Colour


LIGHT = Look(
    name="light",
    table=rgb("#e9e4d8"),
    card=rgb("#fcfaf4"),
    edge=rgb("#8f8878"),
    ink=rgb("#1f1d19"),
    faint=rgb("#5d584d"),
    press=rgb("#efeadd"),
    hover=rgb("#fff3c4"),
    accent=rgb(PALETTE["yellow"]),
    mat=rgb("#ffffff"),
    grid=rgb("#e9e6df"),
    veil=110,
    area=rgb("#f1f1ec"),
    area_edge=rgb("#777777"),
    line=rgb("#a3954a"),
    line_edge=rgb("#6b6430"),
    obstacle=rgb("#a9a7a2"),
    obstacle_edge=rgb("#222222"),
    wall=rgb("#2a2722"),
    target=rgb("#00734f"),
    jig=rgb(PALETTE["orange"]),
    other_jig=rgb("#a8548a"),
    sensor=rgb(PALETTE["yellow"]),
    path=rgb("#0067a3"),
    casing=rgb("#ffffff"),
    swept=rgb(PALETTE["sky"]),
    swept_alpha=58,
    trial=rgb("#454545"),
    trial_alpha=84,
    fail=rgb(PALETTE["vermilion"]),
    fail_words=rgb("#9c4400"),
    body=rgb("#ffe9b8"),
    tool=rgb("#f7c64a"),
    guide=rgb("#94306f"),
    band=rgb("#cfe6f5"),
    half_band=rgb("#8fc4e6"),
)

DARK = Look(
    name="dark",
    table=rgb("#15181b"),
    card=rgb("#22272c"),
    edge=rgb("#6c757e"),
    ink=rgb("#f2f0ea"),
    faint=rgb("#b3b7ba"),
    press=rgb("#30373e"),
    hover=rgb("#4a4a33"),
    accent=rgb(PALETTE["yellow"]),
    mat=rgb("#2b3137"),
    grid=rgb("#383f46"),
    veil=120,
    area=rgb("#343b41"),
    area_edge=rgb("#9aa2a9"),
    line=rgb("#8f8955"),
    line_edge=rgb("#b5ad6c"),
    obstacle=rgb("#757b80"),
    obstacle_edge=rgb("#e6e6e6"),
    wall=rgb("#d9d5ca"),
    target=rgb("#3ed6a4"),
    jig=rgb("#f0b02e"),
    other_jig=rgb("#dd97bd"),
    sensor=rgb(PALETTE["yellow"]),
    path=rgb("#7cc8f5"),
    casing=rgb("#14181b"),
    swept=rgb("#4aa3d8"),
    swept_alpha=56,
    trial=rgb("#dcdcdc"),
    trial_alpha=70,
    fail=rgb("#ff8534"),
    fail_words=rgb("#ff9d5c"),
    body=rgb("#5b5233"),
    tool=rgb("#b98a1c"),
    guide=rgb("#ec9fd0"),
    band=rgb("#27465a"),
    half_band=rgb("#35698a"),
)


def font_files() -> tuple[Path, Path, Path]:
    """DejaVu Sans upright, bold and slanted, as they come with matplotlib; matplotlib itself is not loaded.

    They have the letters of most alphabets. Raises FileNotFoundError if they are not there.
    """
    found = importlib.util.find_spec("matplotlib")
    if found is None or found.origin is None:
        raise FileNotFoundError(tr("The letters come with matplotlib, and it is not installed."))
    folder = Path(found.origin).parent / "mpl-data" / "fonts" / "ttf"
    files = tuple(folder / f"DejaVuSans{kind}.ttf" for kind in ("", "-Bold", "-Oblique"))
    for file in files:
        if not file.is_file():
            raise FileNotFoundError(tr("The letters are not where matplotlib should have them: {place}.", place=file))
    return files[0], files[1], files[2]
