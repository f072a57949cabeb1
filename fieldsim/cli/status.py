"""Exit statuses of every command."""

DONE = 0
NEED_NOT_MET = 1
"""The plan does not meet what was asked."""
WRONG = 2
"""Files or words are wrong."""
STOPPED = 130
"""Stopped by hand before there was anything to tell: 128 and the number of the signal, as shells have it."""
