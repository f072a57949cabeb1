"""The path of one trial: a row for each piece of driving."""

from __future__ import annotations

# Columns of a row: where the piece begins, x, y, cosine, sine and the heading itself; its travel and turn; the two
# parts of the bound (mm, and radians to be multiplied by a part's reach); where it ends. All of the point that is
# ``Wheels.ahead`` of the axle's middle. One more row holds the pose at the end of the run.
X, Y, HC, HS, H, S, T, OFF, SWING, EX, EY, EC, ES = range(13)
COLUMNS = 13
