"""The studies in the window: a list on a run, one asked after the other in the background, and what each answers."""
