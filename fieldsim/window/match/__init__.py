"""The window on a match, played by the clock."""
