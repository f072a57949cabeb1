"""How should it drive? Better numbers, squares, and what brings a tool to its target. See README.md here."""
