"""What a hand has set once for all windows, and is remembered from one time to the next: whether later places stay when
the path is dragged, and how large letters are."""

from __future__ import annotations

import json
from contextlib import suppress
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any

from fieldsim.files.saving import replace_file
from fieldsim.model.errors import SaveError
from fieldsim.window.recovery import state_folder

__all__ = ["LARGEST", "LETTER_KEYS", "SMALLEST", "STEP", "Habits", "keep_habits", "kept_habits"]

# How much larger and smaller letters can be made, and by how much each time.
SMALLEST, LARGEST, STEP = 0.7, 2.5, 1.1

# Keys for the size of letters, as other programs have them.
LETTER_KEYS = {
    "ctrl +": 1, "ctrl =": 1, "ctrl shift =": 1, "ctrl shift +": 1, "ctrl [+]": 1, "ctrl -": -1, "ctrl [-]": -1,
    "ctrl 0": 0, "ctrl [0]": 0,
}  # fmt: skip


@dataclass(frozen=True)
class Habits:
    stays: bool = False
    """Later places stay when the path is dragged."""
    letters: float = 1.0
    """A factor on what is usual for the screen."""

    def larger(self, way: int) -> Habits:
        """Letters one step larger (1), smaller (-1), or as usual (0)."""
        letters = 1.0 if way == 0 else min(max(self.letters * STEP**way, SMALLEST), LARGEST)
        return Habits(self.stays, letters)


def _place(folder: Path | None) -> Path:
    return (state_folder().parent if folder is None else folder) / "habits.json"


def kept_habits(folder: Path | None = None) -> Habits:
    """As they were the last time; what makes no sense is as usual. ``folder`` None: the user's own."""
    try:
        found: Any = json.loads(_place(folder).read_text(encoding="utf-8"))
    except (OSError, ValueError, RecursionError):
        return Habits()
    if not isinstance(found, dict):
        return Habits()
    letters = found.get("letters")
    if isinstance(letters, bool) or not isinstance(letters, int | float) or not SMALLEST <= letters <= LARGEST:
        letters = 1.0
    return Habits(found.get("stays") is True, float(letters))


def keep_habits(habits: Habits, folder: Path | None = None) -> None:
    """Remember them. A disk that takes nothing is no reason to trouble anybody."""
    with suppress(OSError, SaveError):
        _place(folder).parent.mkdir(parents=True, exist_ok=True)
        replace_file(_place(folder), json.dumps(asdict(habits)), backup=False)
