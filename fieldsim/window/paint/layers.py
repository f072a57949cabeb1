"""What a frame keeps from the one before: pictures of what has not changed, and words."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pygame

from fieldsim.window.paint.writer import Writer

__all__ = ["Layers"]


class Layers:
    """Pictures by name, each with what it depends on. One for each window."""

    def __init__(self) -> None:
        self.writer = Writer()
        self._kept: dict[str, tuple[tuple[Any, ...], Any]] = {}
        self._surfaces: dict[str, pygame.Surface] = {}

    def value(self, name: str, key: tuple[Any, ...], make: Callable[[], Any]) -> Any:
        """What ``make`` gave when the key was last another one."""
        known = self._kept.get(name)
        if known is None or known[0] != key:
            known = key, make()
            self._kept[name] = known
        return known[1]

    def layer(
        self, name: str, key: tuple[Any, ...], size: tuple[int, int], draw: Callable[[pygame.Surface], object],
        see_through: bool = False,
    ) -> pygame.Surface:  # fmt: skip
        """A picture that is drawn anew only when its key or size changes."""

        def make() -> pygame.Surface:
            surface = self.canvas(name, size, see_through)
            draw(surface)
            return surface

        found: pygame.Surface = self.value(f"layer {name}", (*key, size), make)
        return found

    def canvas(self, name: str, size: tuple[int, int], see_through: bool = False) -> pygame.Surface:
        """An empty surface; the one of that name before is used again if it has the size."""
        surface = self._surfaces.get(name)
        if surface is None or surface.get_size() != size:
            surface = pygame.Surface(size, pygame.SRCALPHA) if see_through else pygame.Surface(size, 0, 32)
            self._surfaces[name] = surface
        if see_through:
            surface.fill((0, 0, 0, 0))
        return surface
