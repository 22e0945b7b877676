"""How moist wood becomes in air: its equilibrium moisture content.

The model of Hailwood and Horrobin 1946 with the constants of Simpson 1998, FPL-RN-0268, as in the Wood Handbook,
FPL-GTR-190, chapter 4. It is one curve for all woods; a real one lies some tenths of a percent, seldom a whole one,
beside it.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

Array = NDArray[np.float64]

_CELSIUS = (
    (349.0, 1.29, 0.0135),
    (0.805, 0.000736, -0.00000273),
    (6.27, -0.00938, -0.000303),
    (1.91, 0.0407, -0.000293),
)
_FAHRENHEIT = (
    (330.0, 0.452, 0.00415),
    (0.791, 0.000463, -0.000000844),
    (6.34, 0.000775, -0.0000935),
    (1.09, 0.0284, -0.0000904),
)
"""W, K, K1 and K2, each as a + b T + c T²; the two published sets differ by up to 0.013 % of moisture."""


def equilibrium_moisture(temperature: ArrayLike, humidity: ArrayLike, *, fahrenheit: bool = False) -> Array:
    """Moisture content, % of the dry weight, that wood tends to in air.

    Args:
        temperature: of the air in °C, or in °F where so said.
        humidity: relative, in %, from 0 to less than 100.
    """
    t, h = np.asarray(temperature, float), np.asarray(humidity, float) / 100
    w, k, k1, k2 = (a + b * t + c * t**2 for a, b, c in (_FAHRENHEIT if fahrenheit else _CELSIUS))
    kh = k * h
    held = k1 * kh + k1 * k2 * kh**2
    moisture: Array = 1800 / w * (kh / (1 - kh) + (held + k1 * k2 * kh**2) / (1 + held))
    return moisture
