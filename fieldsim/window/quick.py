"""Loads pygame without setuptools: to be imported before anything that paints.

pygame asks pkg_resources where its own files are, if that is there, and loading that takes longer than pygame itself.
Without it pygame looks beside its code, where they are.
"""

import sys
from contextlib import suppress

if "pkg_resources" not in sys.modules:
    sys.modules["pkg_resources"] = None  # type: ignore[assignment]
    try:
        with suppress(ImportError):
            import pygame.pkgdata  # noqa: F401
    finally:
        del sys.modules["pkg_resources"]
