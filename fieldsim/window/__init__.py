"""The window: a run or a field on the screen, changed by hand. What a change does is computed without a screen."""

import os

# pygame greets on standard output otherwise, where an answer as JSON may be going.
os.environ.setdefault("PYGAME_HIDE_SUPPORT_PROMPT", "1")
