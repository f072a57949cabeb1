"""Several runs inside the clock: played, ordered, followed by a policy."""
