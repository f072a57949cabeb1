"""``python -m fieldsim``."""

from fieldsim.entry import main

main()
