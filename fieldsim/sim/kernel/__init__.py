"""The compiled kernel: exact clearance of a footprint in rigid rotation, and one trial of a run.

The only package that knows numba. It works on flat arrays, in millimetres and radians, and holds no state.
"""
