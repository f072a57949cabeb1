"""The window: a run or a field on the screen, changed by hand. What a change does is computed without a screen."""
