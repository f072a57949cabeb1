"""What reading to whole steps does to repeated readings of nearly the same quantity.

A reading to the nearest step r is off by something between -r/2 and r/2, with a variance of r^2/12. Where what is
measured scatters by much more than a step, these errors are as good as independent, and many readings average them
out. Where it scatters by much less, every reading is off by the same, and no number of readings helps: six readings of
1004 mm still leave it open between 1003.5 and 1004.5.

Source: the error of rounding as a sum of sines, as in B. Widrow and I. Kollar, Quantization Noise, Cambridge University
Press, 2008, ch. 5 (from memory):

    error(x) = sum over k >= 1 of (-1)^k r/(pi k) sin(2 pi k x / r)

so two readings of quantities whose difference is normal with variance d, at any phase of the steps, have errors with
the correlation  sum 6/(pi k)^2 exp(-2 (pi k)^2 d/r^2):  1 for d = 0, 0.0044 for d = r^2/4.
"""

from __future__ import annotations

from math import pi

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]

# Terms of the sum: what is left out is less than 6/(pi^2 TERMS), and is given to the last, so that no difference at all
# means a correlation of 1.
TERMS = 200


def correlation(difference: FloatArray, step: FloatArray | float) -> FloatArray:
    """Correlation of the rounding errors of two readings to a ``step`` (mm or degrees) of quantities whose
    ``difference`` has this variance (mm^2 or degrees^2). Any shapes that go together; 0 without steps."""
    step = np.asarray(step, dtype=np.float64)
    ratio = np.asarray(difference, dtype=np.float64) / np.where(step > 0, step, 1.0) ** 2
    k = np.arange(1, TERMS + 1)
    weights = 6 / (pi * k) ** 2
    weights[-1] += 1 - weights.sum()
    made = np.exp(-2 * pi**2 * np.multiply.outer(ratio, k**2)) @ weights
    return np.where(step > 0, made, 0.0)
