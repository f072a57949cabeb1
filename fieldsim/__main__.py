"""``python -m fieldsim``."""

from fieldsim.cli import main

main()
