"""The window of a robot: drawn to scale and shaped by hand, with what its numbers make of it beside it."""
