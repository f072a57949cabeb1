"""hatchling's build hook: compiles the kernel's library and the catalogs of other languages into the package, for
wheels and for editable installs.

A wheel with a compiled library in it is for one system and processor, but for every Python: the library knows nothing
of Python, ctypes loads it.
"""

from __future__ import annotations

import importlib.util
from pathlib import Path
from types import ModuleType
from typing import Any

from babel.messages.mofile import write_mo
from babel.messages.pofile import read_po
from hatchling.builders.hooks.plugin.interface import BuildHookInterface
from packaging.tags import platform_tags

LOCALE = Path("fieldsim") / "locale"
KERNEL = Path("fieldsim") / "sim" / "kernel"


def _build_module(root: Path) -> ModuleType:
    """build.py by itself: the package around it needs what is not there while it is built."""
    spec = importlib.util.spec_from_file_location("fieldsim_kernel_build", root / KERNEL / "build.py")
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


def _catalogs(root: Path) -> list[Path]:
    """Compile every catalog beside its text; the files made, from the root."""
    made = []
    for text in sorted((root / LOCALE).rglob("*.po")):
        with text.open("rb") as file, text.with_suffix(".mo").open("wb") as out:
            write_mo(out, read_po(file))
        made.append(text.with_suffix(".mo").relative_to(root))
    return made


class CompiledParts(BuildHookInterface):  # type: ignore[misc]
    PLUGIN_NAME = "custom"

    def initialize(self, version: str, build_data: dict[str, Any]) -> None:
        """Compile; ``version`` is 'standard' or 'editable'. Raises RuntimeError with the compiler's words."""
        build = _build_module(Path(self.root))
        library = KERNEL / build.library_name()
        build.build(Path(self.root) / library)
        build_data["pure_python"] = False
        # The first platform of this machine that the library is old enough for: glibc of 2012 is all it asks.
        platforms = list(platform_tags())
        platform = next((each for each in platforms if each.startswith("manylinux_2_17")), platforms[0])
        build_data["tag"] = f"py3-none-{platform}"
        made = [library, *_catalogs(Path(self.root))]
        build_data["artifacts"].extend(f"/{each.as_posix()}" for each in made)
