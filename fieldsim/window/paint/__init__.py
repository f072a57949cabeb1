"""From a scene of plain data to pixels."""
