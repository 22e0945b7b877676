"""White balance by a grey card in the photo, in linear light.

What the card's place shows is averaged in linear light; each channel then gets a gain that makes it neutral. Without
the card's reflectance brightness stays (the luminance Y of IEC 61966-2-1); with it the card comes out as bright as it
is.
"""

from __future__ import annotations

from functools import lru_cache
from pathlib import Path

import numpy as np
from numpy.typing import ArrayLike, NDArray
from PIL import Image

from ..design import Box
from ..errors import UnusableInput
from ..woods.colour import linear_from_srgb, luminance
from .place_on_photo import PhotoBoard

Array = NDArray[np.float64]
CLIPPED = 0.995
"""Encoded values from here on say nothing: the camera was blind above."""
DARKEST = 0.002
"""Linear light below which a card tells no colour."""


def gains(card: ArrayLike, reflectance: float | None = None) -> Array:
    """What linear red, green and blue (3,) are multiplied by, from encoded sRGB pixels (n, 3) of a neutral card.

    Raises:
        ValueError: the card is too dark or too bright to tell its colour.
    """
    encoded = np.asarray(card, float)
    if np.median(encoded.max(axis=1)) >= CLIPPED:
        raise ValueError("the grey card is overexposed")
    seen = linear_from_srgb(encoded).mean(axis=0)
    if seen.min() < DARKEST:
        raise ValueError("the grey card is too dark to tell its colour")
    wanted = float(luminance(seen)) if reflectance is None else reflectance
    balance: Array = wanted / seen
    return balance


def balance_of(board: PhotoBoard) -> tuple[float, float, float]:
    """Gains of a board's photo, by the card in its photo; ones where no card is named.

    Raises:
        UnusableInput: the card tells no colour, or the file cannot be read.
    """
    photo = board.photo
    if photo.grey is None:
        return 1.0, 1.0, 1.0
    return gains_of_photo(board.path, board.stamp, photo.grey, photo.grey_reflectance)


@lru_cache(maxsize=64)
def gains_of_photo(path: Path, stamp: int, grey: Box, reflectance: float | None) -> tuple[float, float, float]:
    """Gains by a place in a photo's file, in pixels; `stamp` tells its states apart.

    Raises:
        UnusableInput: the card tells no colour, or the file cannot be read.
    """
    try:
        with Image.open(path) as picture:
            (left, right), (top, bottom) = (
                _whole(least, most, side) for least, most, side in zip(grey[:2], grey[2:], picture.size, strict=True)
            )
            box = (left, top, right, bottom)
            pixels = np.asarray(picture.convert("RGB").crop(box), float).reshape(-1, 3) / 255
        red, green, blue = gains(pixels, reflectance).tolist()
    except (OSError, Image.DecompressionBombError) as error:
        raise UnusableInput(str(path), "grey", f"the photo cannot be read ({error})", "Save it again as PNG") from None
    except ValueError as error:
        raise UnusableInput(str(path), "grey", str(error), "Pick another place on the card") from None
    return red, green, blue


def _whole(least: float, most: float, side: int) -> tuple[int, int]:
    """A range of a picture's side in whole pixels: one at the least, however thin it is drawn."""
    low = min(max(round(least), 0), side - 1)
    return low, min(max(round(most), low + 1), side)
