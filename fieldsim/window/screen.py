"""pygame for a window: keys and buttons by name, pictures of mats, sizes of screens. Nothing of a run."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pygame

from fieldsim.language import tr
from fieldsim.model import Field
from fieldsim.model.errors import FileError, shown
from fieldsim.window.paint.look import LIGHT, Colour
from fieldsim.window.paint.scene import Mat

__all__ = ["icon", "key_name", "load_mat", "mods_of", "scale_of", "tell"]

# More mistakes than fit on a screen.
MOST_MISTAKES = 8

# Pictures with more pixels than this are made smaller on loading.
MOST_PIXELS = 24_000_000

_NAMES = {
    "page up": "page up", "pageup": "page up", "page down": "page down", "pagedown": "page down", "enter": "return",
    "keypad enter": "return", "plus": "+", "minus": "-", "equals": "=",
}  # fmt: skip


def mods_of(mods: int) -> frozenset[str]:
    """Modifiers that are held: 'ctrl' (or the command key), 'alt', 'shift'."""
    found = set()
    if mods & (pygame.KMOD_CTRL | pygame.KMOD_META):
        found.add("ctrl")
    if mods & pygame.KMOD_ALT:
        found.add("alt")
    if mods & pygame.KMOD_SHIFT:
        found.add("shift")
    return frozenset(found)


def key_name(event: Any) -> str:
    """A key with its modifiers as ``keys`` names them: 'ctrl z', 'shift left', '+', '?'.

    Signs go by what they write, wherever the keyboard has them; letters by their name, so that control works.
    """
    held = mods_of(event.mod & ~_THIRD_LEVEL if _writes_third_level(event.mod) else event.mod)
    name = pygame.key.name(event.key).casefold()
    name = _NAMES.get(name, name)
    letters = getattr(event, "unicode", "")
    if letters and letters.isprintable() and not letters.isalnum() and letters != " " and "ctrl" not in held:
        # The sign is what was meant, shift or not.
        return f"alt {letters}" if "alt" in held else letters
    return " ".join([*(mod for mod in ("ctrl", "alt", "shift") if mod in held), name])


_THIRD_LEVEL = pygame.KMOD_MODE | pygame.KMOD_RALT | pygame.KMOD_LCTRL


def _writes_third_level(mods: int) -> bool:
    """Whether the key is held that writes '[' on many keyboards: it comes as the right alt key, or together with the
    left control key, and neither is meant."""
    return bool(mods & pygame.KMOD_MODE) or mods & (pygame.KMOD_RALT | pygame.KMOD_LCTRL) == (
        pygame.KMOD_RALT | pygame.KMOD_LCTRL
    )


def scale_of() -> float:
    """A factor for the letters on a screen of high density: 2 on one of 3840 x 2160."""
    sizes = pygame.display.get_desktop_sizes()
    if not sizes:
        return 1.0
    w, h = sizes[0]
    return max(1.0, round(min(w / 1920, h / 1080) * 4) / 4)


def icon(side: int = 64) -> pygame.Surface:
    """The window's sign where the system shows one: a robot that has come round a corner between two things."""
    u = side / 64
    surface = pygame.Surface((side, side), pygame.SRCALPHA)

    def box(x: float, y: float, w: float, h: float, colour: Colour, round_by: float = 0.0) -> None:
        pygame.draw.rect(surface, colour, pygame.Rect(x * u, y * u, w * u, h * u), border_radius=round(round_by * u))

    box(0, 0, 64, 64, LIGHT.wall, 8)
    box(5, 5, 54, 54, LIGHT.mat, 4)
    box(9, 10, 14, 14, LIGHT.obstacle_edge, 2)
    pygame.draw.circle(surface, LIGHT.obstacle_edge, (46 * u, 46 * u), 9 * u)
    # Up from below, and on to the right.
    for x, y, w, h in ((20, 50, 4, 9), (20, 38, 4, 8), (20, 24, 4, 10), (20, 24, 8, 4)):
        box(x, y, w, h, LIGHT.path)
    box(31, 15, 23, 21, LIGHT.path, 3)
    box(45, 20, 5, 11, LIGHT.accent, 1)
    return surface


def load_mat(field: Field, folder: Path) -> tuple[Mat | None, str]:
    """The picture that a field names, and in words why it cannot be shown."""
    if field.picture is None:
        return None, ""
    path = folder / field.picture.file
    try:
        surface = pygame.image.load(str(path))
    except (OSError, pygame.error) as problem:
        return None, tr(
            "The picture {file} cannot be shown: {reason}",
            file=shown(field.picture.file),
            reason=shown(str(problem), 100),
        )
    w, h = surface.get_size()
    if w * h > MOST_PIXELS:
        factor = (MOST_PIXELS / (w * h)) ** 0.5
        surface = pygame.transform.smoothscale(surface, (max(1, int(w * factor)), max(1, int(h * factor))))
    if pygame.display.get_surface() is not None:
        surface = surface.convert_alpha() if surface.get_alpha() is not None else surface.convert()
    return Mat(surface, field.picture.corner, field.picture.width), ""


def tell(problem: Exception) -> tuple[str, ...]:
    """What an error says, line by line; of a file's mistakes each with its place."""
    if isinstance(problem, FileError):
        found = []
        for each in problem.problems[:MOST_MISTAKES]:
            found += [f"{each.place}: {each.message}", *(f"    {hint}" for hint in each.hint.splitlines())]
        more = len(problem.problems) - MOST_MISTAKES
        return (*found, tr("and {n} more", n=more)) if more > 0 else tuple(found)
    lines = getattr(problem, "lines", None)
    return tuple(lines) if lines else tuple(str(problem).splitlines()) or (type(problem).__name__,)
