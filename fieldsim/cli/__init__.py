"""The command line. Wiring only: it reads words, calls the parts and prints; nothing is computed here.

Heavy parts are imported inside the commands, so that help and `check` answer at once.
"""

from __future__ import annotations

# Each of these adds its commands to the program.
from fieldsim.cli import card, files, studies, watch
from fieldsim.cli.group import main, program

__all__ = ["card", "files", "main", "program", "studies", "watch"]
