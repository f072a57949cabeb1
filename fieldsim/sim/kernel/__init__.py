"""The compiled kernel: exact clearance of a footprint in rigid rotation, trials of a run, drawn numbers, matches.

It works on flat arrays, in millimetres and radians, and holds no state. The C side is in the folder ``c``, each part
with its derivation at its head; ``build`` compiles it, ``library`` loads it and checks what is handed to it.
"""
