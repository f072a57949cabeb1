"""The window of a season: what is there, what is begun, copied, renamed and put away."""
