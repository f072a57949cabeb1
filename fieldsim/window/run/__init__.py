"""The window on a run: what may be changed, its files, what events do."""
