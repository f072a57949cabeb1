"""The console command, and ``python -m fieldsim``.

The language is chosen here, before the command line is imported: its help is text too, and is made on import.
"""

import os
import sys

from fieldsim.language import LANGUAGES, choose, taken, wanted


def main() -> None:
    chosen, _ = taken(sys.argv[1:])
    # A language that is not there is complained of by the command line, in the system's.
    choose(chosen if chosen in LANGUAGES else wanted(os.environ))
    from fieldsim.cli import main as command

    command()


if __name__ == "__main__":
    main()
