"""Everything a change must pass, in the environment this is run with: lint, format, types, catalogs, tests.

``python .ci/check.py`` before every push; more words go to pytest, such as ``-m slow`` or a folder.
"""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

ROOT = Path(__file__).parent.parent
STEPS = (
    ("ruff", "check", "."),
    ("ruff", "format", "--check", "."),
    ("mypy",),
    ("tests/catalogs.py", "--check"),
    ("pytest", "-q", *sys.argv[1:]),
)

failed = []
for step in STEPS:
    command = [sys.executable, *(step if step[0].endswith(".py") else ("-m", *step))]
    print("+", *command[1:], flush=True)
    if subprocess.run(command, cwd=ROOT).returncode:
        failed.append(step[0])
sys.exit(f"failed: {', '.join(failed)}" if failed else 0)
