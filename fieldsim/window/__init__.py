"""The window: a run or a field on the screen, changed by hand. What a change does is computed without a screen."""

import os

# pygame greets on standard output otherwise, where an answer as JSON may be going.
os.environ.setdefault("PYGAME_HIDE_SUPPORT_PROMPT", "1")

# The name by which the system tells programs apart; pygame would take that of the file Python was begun with.
for _system in ("X11", "WAYLAND"):
    os.environ.setdefault(f"SDL_VIDEO_{_system}_WMCLASS", "fieldsim")
