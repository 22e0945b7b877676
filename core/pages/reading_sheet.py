"""A finished picture as it reads to others: in grey, to colour-blind eyes, across a room; and all of them on one sheet.

Pictures are encoded sRGB, (height, width, 3) of 0 to 255. What eyes see is worked out in linear light, pixel by pixel,
by the formulas of `vision`, which are held to their published values.
"""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

import numpy as np
import numpy.typing as npt
from PIL import Image, ImageDraw, ImageFont

from ..woods import colour, vision
from .picture_files import open_picture

Pixels = npt.NDArray[np.uint8]
Floats = npt.NDArray[np.float64]

THUMBNAIL = 200
"""Longer side of a thumbnail, pixels: as a page of many offers shows it, or a far wall (common practice)."""
PAPER, INK = (250, 248, 244), (34, 32, 29)
MARGIN, LETTERS = 0.012, 0.016
"""Between pictures and round them, and height of their words, as shares of the sheet's width."""
WAYS = {
    "finished": "to normal eyes",
    "greyscale": "light and dark alone",
    "protan": "to red-blind (protan) eyes",
    "deutan": "to green-blind (deutan) eyes",
    "tritan": "to blue-blind (tritan) eyes",
    "thumbnail": "as a thumbnail of 200 pixels",
}
"""What the sheet shows, in the order of reading, and the words below."""
COLUMNS, ROWS = 4, 3
"""Two columns when cut, two when aged."""


def seen_as(picture: Pixels, way: str) -> Pixels:
    """The picture as one of `WAYS` has it; a thumbnail is smaller."""
    linear = colour.linear_from_srgb(picture / 255)
    if way == "thumbnail":
        linear = _reduced(linear, THUMBNAIL)
    elif way == "greyscale":
        linear = vision.grey(linear)
    elif way != "finished":
        linear = vision.seen_by(linear, next(eyes for eyes in vision.EYES if eyes == way))
    encoded = colour.srgb_from_linear(np.clip(linear, 0, 1))
    seen: Pixels = np.rint(255 * encoded).astype(np.uint8)
    return seen


def _reduced(linear: Floats, longest: int) -> Floats:
    """Made smaller in linear light, as an eye far away mixes it; a picture that is small enough stays as it is."""
    height, width = linear.shape[:2]
    share = min(1.0, longest / max(height, width))
    size = max(1, round(share * width)), max(1, round(share * height))
    channels = [Image.fromarray(linear[..., c].astype(np.float32)) for c in range(3)]
    smaller = [np.asarray(each.resize(size, Image.Resampling.LANCZOS), float) for each in channels]
    return np.stack(smaller, axis=-1)


def pixels_of(path: Path) -> Pixels:
    """A picture file's pixels.

    Raises:
        UnusableInput: it cannot be read.
    """
    return np.asarray(open_picture(path))


def cell_size(size: tuple[int, int]) -> tuple[int, int]:
    """Width and height of one picture of a sheet, pixels: render the two finished pictures so large."""
    margin, words = _gaps(size)
    width = (size[0] - margin) // COLUMNS - margin
    height = (size[1] - margin) // ROWS - margin - words
    return max(1, width), max(1, height)


def reading_sheet(pictures: Mapping[str, Pixels], size: tuple[int, int]) -> Image.Image:
    """All of `WAYS` of each of two pictures.

    Args:
        pictures: of `cell_size`, by words that say when, such as "when cut"; the first takes the left half.
        size: of the sheet, width and height, pixels.
    """
    margin, words = _gaps(size)
    width, height = cell_size(size)
    sheet = Image.new("RGB", size, PAPER)
    draw, font = ImageDraw.Draw(sheet), ImageFont.load_default(words * 0.62)
    for half, (when, picture) in enumerate(pictures.items()):
        for n, (way, to_whom) in enumerate(WAYS.items()):
            row, column = n // 2, n % 2 + half * COLUMNS // 2
            x, y = margin + column * (width + margin), margin + row * (height + margin + words)
            seen = Image.fromarray(seen_as(picture, way))
            # A thumbnail lies in the middle of its place.
            sheet.paste(seen, (x + (width - seen.width) // 2, y + (height - seen.height) // 2))
            draw.text((x, y + height + words * 0.1), f"{when}, {to_whom}", font=font, fill=INK)
    return sheet


def _gaps(size: tuple[int, int]) -> tuple[int, int]:
    """The margin, and the height of a line of words; pixels."""
    return max(2, round(MARGIN * size[0])), max(8, round(LETTERS * size[0]))
