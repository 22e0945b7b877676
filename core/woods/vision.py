"""What eyes make of colours: those that tell colours apart badly, and those that see only light and dark.

Colour deficiency after Machado, Oliveira and Fernandes 2009, IEEE Trans. Visualization and Computer Graphics 15(6),
1291-1298: one matrix on linear sRGB for each kind and severity. The authors call tritan approximate.
All arrays hold colours along their last axis (size 3), linear light from 0 to 1.
"""

from __future__ import annotations

from typing import Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray

from . import colour

Array = NDArray[np.float64]
Eyes = Literal["normal", "protan", "deutan", "tritan"]
EYES: tuple[Eyes, ...] = ("normal", "protan", "deutan", "tritan")

_MATRICES: dict[Eyes, tuple[ArrayLike, ArrayLike]] = {
    "protan": (
        [[0.458064, 0.679578, -0.137642], [0.092785, 0.846313, 0.060902], [-0.007494, -0.016807, 1.024301]],
        [[0.152286, 1.052583, -0.204868], [0.114503, 0.786281, 0.099216], [-0.003882, -0.048116, 1.051998]],
    ),
    "deutan": (
        [[0.547494, 0.607765, -0.155259], [0.181692, 0.781742, 0.036566], [-0.010410, 0.027275, 0.983136]],
        [[0.367322, 0.860646, -0.227968], [0.280085, 0.672501, 0.047413], [-0.011820, 0.042940, 0.968881]],
    ),
    "tritan": (
        [[1.017277, 0.027029, -0.044306], [-0.006113, 0.958479, 0.047634], [0.006379, 0.248708, 0.744913]],
        [[1.255528, -0.076749, -0.178779], [-0.078411, 0.930809, 0.147602], [0.004733, 0.691367, 0.303900]],
    ),
}
"""The paper's matrices of severity 0.5 and 1."""


def matrix(eyes: Eyes, severity: float = 1.0) -> Array:
    """What these eyes make of linear red, green and blue: (3, 3), for column vectors.

    Severities 0, 0.5 and 1 are the paper's. Between them the entries run straight, which leaves the paper's own tenths
    by up to 0.13 in an entry.
    """
    unchanged = np.eye(3)
    if eyes == "normal":
        return unchanged
    knots = np.stack([unchanged, *(np.asarray(published) for published in _MATRICES[eyes])])
    low = min(int(2 * severity), 1)
    share = 2 * severity - low
    mixed: Array = (1 - share) * knots[low] + share * knots[low + 1]
    return mixed


def seen_by(linear: ArrayLike, eyes: Eyes, severity: float = 1.0) -> Array:
    """Linear light that looks to normal eyes as `linear` does to these; not clipped to 0 to 1."""
    seen: Array = np.asarray(linear, float) @ matrix(eyes, severity).T
    return seen


def grey(linear: ArrayLike) -> Array:
    """The grey of the same luminance (CIE Y), as linear light of equal red, green and blue."""
    return np.repeat(colour.luminance(linear)[..., None], 3, axis=-1)
