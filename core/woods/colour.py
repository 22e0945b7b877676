"""Colour of woods: hex, encoded sRGB, linear light, CIE L*a*b*, and the CIEDE2000 difference.

Every array holds colours along its last axis (size 3). sRGB after IEC 61966-2-1: encoded and linear values
run from 0 to 1, white is D65. Lab after CIE 15 with the white of the same matrix, so that (1, 1, 1) is exactly
L* 100, a* 0, b* 0. Differences after Sharma, Wu and Dalal 2005, Color Res. Appl. 30(1), 21-30.
"""

from __future__ import annotations

import re

import numpy as np
from numpy.typing import ArrayLike, NDArray

Array = NDArray[np.float64]

_XYZ_FROM_RGB = np.array(
    [[0.4124, 0.3576, 0.1805], [0.2126, 0.7152, 0.0722], [0.0193, 0.1192, 0.9505]]
)  # IEC 61966-2-1
_RGB_FROM_XYZ = np.linalg.inv(_XYZ_FROM_RGB)
_WHITE = _XYZ_FROM_RGB.sum(axis=1)
_DELTA = 6 / 29


def srgb_from_hex(text: str) -> Array:
    """Encoded sRGB, shape (3,), of ``#rrggbb``. Raises ValueError for anything else."""
    if not re.fullmatch(r"#[0-9a-fA-F]{6}", text):
        raise ValueError(f"{text!r} is no colour of the form #rrggbb")
    return np.array([int(text[i : i + 2], 16) for i in (1, 3, 5)]) / 255


def hex_from_srgb(srgb: ArrayLike) -> str:
    """``#rrggbb`` of one encoded colour; values outside 0 to 1 are clipped."""
    red, green, blue = np.rint(np.clip(np.asarray(srgb, float), 0, 1) * 255).astype(int)
    return f"#{red:02x}{green:02x}{blue:02x}"


def linear_from_srgb(srgb: ArrayLike) -> Array:
    """Linear light of encoded sRGB."""
    s = np.asarray(srgb, float)
    return np.where(s <= 0.04045, s / 12.92, ((np.maximum(s, 0) + 0.055) / 1.055) ** 2.4)


def srgb_from_linear(linear: ArrayLike) -> Array:
    """Encoded sRGB of linear light."""
    c = np.asarray(linear, float)
    return np.where(c <= 0.0031308, c * 12.92, 1.055 * np.maximum(c, 0) ** (1 / 2.4) - 0.055)


def lab_from_linear(linear: ArrayLike) -> Array:
    """CIE L*a*b* of linear light."""
    t = np.asarray(linear, float) @ _XYZ_FROM_RGB.T / _WHITE
    f = np.where(t > _DELTA**3, np.cbrt(t), t / (3 * _DELTA**2) + 4 / 29)
    fx, fy, fz = np.moveaxis(f, -1, 0)
    return np.stack([116 * fy - 16, 500 * (fx - fy), 200 * (fy - fz)], axis=-1)


def luminance(linear: ArrayLike) -> Array:
    """CIE Y of linear light, 1 for white: 0.2126 R + 0.7152 G + 0.0722 B (IEC 61966-2-1)."""
    y: Array = np.asarray(linear, float) @ _XYZ_FROM_RGB[1]
    return y


def linear_from_lab(lab: ArrayLike) -> Array:
    """Linear light of CIE L*a*b*; colours outside sRGB come back below 0 or above 1."""
    lightness, a, b = np.moveaxis(np.asarray(lab, float), -1, 0)
    fy = (lightness + 16) / 116
    f = np.stack([fy + a / 500, fy, fy - b / 200], axis=-1)
    xyz: Array = np.where(f > _DELTA, f**3, 3 * _DELTA**2 * (f - 4 / 29)) * _WHITE
    return xyz @ _RGB_FROM_XYZ.T


def lab_from_hex(text: str) -> Array:
    """CIE L*a*b* of ``#rrggbb``, shape (3,)."""
    return lab_from_linear(linear_from_srgb(srgb_from_hex(text)))


def settled(fresh: str, aged: str) -> Array:
    """Linear light, shape (3,), of a wood that has settled: halfway from fresh to aged in L*a*b*.

    The midpoint is our choice, backed by pine and beech, which make half of their change in ultraviolet light
    in the first fifth of the time.
    """
    middle = (lab_from_hex(fresh) + lab_from_hex(aged)) / 2
    return np.clip(linear_from_lab(middle), 0, 1)


def difference(lab_1: ArrayLike, lab_2: ArrayLike) -> Array:
    """CIEDE2000 between two arrays of L*a*b* colours, all weights 1."""
    l1, a1, b1 = np.moveaxis(np.asarray(lab_1, float), -1, 0)
    l2, a2, b2 = np.moveaxis(np.asarray(lab_2, float), -1, 0)
    mean_ab7 = ((np.hypot(a1, b1) + np.hypot(a2, b2)) / 2) ** 7
    stretch = 1.5 - 0.5 * np.sqrt(mean_ab7 / (mean_ab7 + 25.0**7))
    a1, a2 = a1 * stretch, a2 * stretch
    c1, c2 = np.hypot(a1, b1), np.hypot(a2, b2)
    h1, h2 = np.degrees(np.arctan2(b1, a1)) % 360, np.degrees(np.arctan2(b2, a2)) % 360

    grey = c1 * c2 == 0
    turn = np.where(grey, 0, (h2 - h1 + 180) % 360 - 180)
    hue: Array = np.where(grey, h1 + h2, (h1 + h2) / 2 + np.where(np.abs(h1 - h2) > 180, 180.0, 0.0)) % 360.0
    lightness, chroma = (l1 + l2) / 2, (c1 + c2) / 2

    def cosine(degrees: Array) -> Array:
        return np.asarray(np.cos(np.radians(degrees)))

    t = 1 - 0.17 * cosine(hue - 30) + 0.24 * cosine(2 * hue) + 0.32 * cosine(3 * hue + 6) - 0.2 * cosine(4 * hue - 63)
    s_l = 1 + 0.015 * (lightness - 50) ** 2 / np.sqrt(20 + (lightness - 50) ** 2)
    s_c, s_h = 1 + 0.045 * chroma, 1 + 0.015 * chroma * t
    rotation = -2 * np.sqrt(chroma**7 / (chroma**7 + 25.0**7))
    rotation = rotation * np.sin(np.radians(60 * np.exp(-(((hue - 275) / 25) ** 2))))

    d_l, d_c = (l2 - l1) / s_l, (c2 - c1) / s_c
    d_h = 2 * np.sqrt(c1 * c2) * np.sin(np.radians(turn) / 2) / s_h
    total: Array = np.sqrt(np.maximum(d_l**2 + d_c**2 + d_h**2 + rotation * d_c * d_h, 0))
    return total
