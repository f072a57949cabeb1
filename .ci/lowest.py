"""The lowest versions that pyproject.toml declares, one `name==version` a line.

`pip install -c` holds a whole install to them, so that a bound that was never tried cannot stand.
"""

from __future__ import annotations

import re
import tomllib
from pathlib import Path

project = tomllib.loads((Path(__file__).parent.parent / "pyproject.toml").read_text(encoding="utf-8"))["project"]
wanted = [*project["dependencies"], *(each for extra in project["optional-dependencies"].values() for each in extra)]
for requirement in wanted:
    found = re.match(r"([A-Za-z0-9._-]+)\s*>=\s*([0-9.]+)", requirement)
    if found:
        print(f"{found[1]}=={found[2]}")
