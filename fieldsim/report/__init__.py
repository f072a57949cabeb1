"""An answer told: as text, as JSON, and the words that both share."""
