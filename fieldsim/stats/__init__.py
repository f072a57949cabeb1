"""Statistics: shares and percentiles with their intervals, restricted likelihood, errors of rounding."""
