"""Where an insert lies on the photo of a board: the map from the insert to the photo's pixels, and whether it fits.

A board has millimetres of its own: x to the right, y up, from the lower left corner of what the photo shows of it (of
its crop). An insert comes to it straightened, x along its grain (see `log_space`), about its middle; on the board that
x runs along the photo's grain. Nothing is ever stretched: the map is a turn, a mirror image or not, and a shift.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path

import numpy as np
from numpy.typing import ArrayLike, NDArray
from PIL import ExifTags, Image, UnidentifiedImageError

from ..design import BoardPhoto, Box, OwnWood, Point
from ..errors import UnusableInput
from ..folders import beside
from .log_space import chances

Array = NDArray[np.float64]
FORMATS = ("PNG", "JPEG", "TIFF")
Extent = tuple[float, float, float, float]
"""Least and greatest x, least and greatest y about a middle, mm."""


@dataclass(frozen=True)
class PhotoBoard:
    """A board's photo whose file was found."""

    photo: BoardPhoto
    path: Path
    width: int
    """Width of the whole file, pixels."""
    height: int
    stamp: int
    """When the file was changed."""

    @property
    def crop(self) -> Box:
        """Left, top, right and bottom of the board in the file, pixels."""
        left, top, right, bottom = self.photo.crop or (0.0, 0.0, float(self.width), float(self.height))
        return left, top, min(right, float(self.width)), min(bottom, float(self.height))

    @property
    def size(self) -> Point:
        """Size of the board, mm."""
        left, top, right, bottom = self.crop
        return (right - left) * self.photo.mm_per_pixel, (bottom - top) * self.photo.mm_per_pixel

    def places(self, straight: ArrayLike, mirrored: bool, at: Point) -> Array:
        """Board millimetres (n, 2) of straightened points (n, 2) about the insert's middle, which lies `at`."""
        places: Array = np.asarray(straight, float) @ _turn(self.photo.grain, mirrored).T + np.array(at)
        return places

    def pixels(self, places: ArrayLike) -> Array:
        """Pixels (n, 2) of board millimetres (n, 2), from the file's upper left corner, y down."""
        left, _, _, bottom = self.crop
        x, y = np.asarray(places, float).T / self.photo.mm_per_pixel
        return np.column_stack([left + x, bottom - y])

    def shares(self, places: ArrayLike) -> Array:
        """Board millimetres (n, 2) as shares of the board's width and height, from its lower left corner."""
        shares: Array = np.asarray(places, float) / np.array(self.size)
        return shares

    def box_of(self, extent: Extent, mirrored: bool) -> Extent:
        """The extent on the board of an insert whose extent is given straightened."""
        x0, x1, y0, y1 = extent
        corners = np.array([(x0, y0), (x1, y0), (x1, y1), (x0, y1)]) @ _turn(self.photo.grain, mirrored).T
        (left, low), (right, high) = corners.min(axis=0).tolist(), corners.max(axis=0).tolist()
        return left, right, low, high

    def default_place(self, seed: str, extent: Extent, mirrored: bool) -> Point:
        """A place that follows from a name, where an insert of that extent fits; where none does, the middle."""
        left, right, low, high = self.box_of(extent, mirrored)
        places = []
        for side, (least, most), chance in zip(self.size, ((left, right), (low, high)), chances(seed), strict=False):
            room = side - (most - least)
            places.append(side / 2 - (least + most) / 2 if room < 0 else chance * room - least)
        return places[0], places[1]

    def nearest_place(self, extent: Extent, mirrored: bool, at: Point) -> Point | None:
        """The place nearest to `at` where an insert fits; None where the board is too small for it."""
        left, right, low, high = self.box_of(extent, mirrored)
        width, height = self.size
        if right - left > width or high - low > height:
            return None
        return min(max(at[0], -left), width - right), min(max(at[1], -low), height - high)

    def overhang(self, extent: Extent, mirrored: bool, at: Point) -> float:
        """How far an insert laid `at` reaches beyond the board, mm; 0 where it fits."""
        left, right, low, high = self.box_of(extent, mirrored)
        width, height = self.size
        return max(0.0, -(at[0] + left), at[0] + right - width, -(at[1] + low), at[1] + high - height)


def _turn(grain: float, mirrored: bool) -> Array:
    """(2, 2): across the grain a mirror image swaps sides; then x runs along the photo's grain."""
    cosine, sine = math.cos(math.radians(grain)), math.sin(math.radians(grain))
    side = -1.0 if mirrored else 1.0
    return np.array([[cosine, -sine * side], [sine, cosine * side]])


def find_photo(wood: OwnWood, folder: Path) -> PhotoBoard:
    """The photo of a board, with its size.

    Raises:
        UnusableInput: the file is missing, no picture, or does not reach as far as its crop or grey card.
    """
    assert wood.photo is not None
    place = f'woods "{wood.name}".photo'
    path = beside(folder, wood.photo.file, place)

    def refuse(problem: str, remedy: str) -> UnusableInput:
        return UnusableInput("", place, f'"{wood.photo and wood.photo.file}" {problem}', remedy)

    try:
        stamp = path.stat().st_mtime_ns
    except OSError:
        raise refuse("is not there", "Put the photo there, or name the file that it has now") from None
    head = _head_of(path, stamp)
    if head is None:
        raise refuse(f"is no {', '.join(FORMATS)} picture", "Save the photo as one of these") from None
    width, height, turned = head
    if turned:
        problem = "lies on its side and is only marked as upright, as a phone does that is held upright"
        raise refuse(
            problem, "Add the board again with the picture button under Woods: it saves and uses an upright copy"
        )
    for name, box in (("crop", wood.photo.crop), ("grey card", wood.photo.grey)):
        if box is not None and (box[0] >= width or box[1] >= height or box[2] > width + 4 or box[3] > height + 4):
            raise refuse(f"has {width} x {height} pixels, and its {name} lies beyond them", "Give pixels within it")
    return PhotoBoard(wood.photo, path, width, height, stamp)


def lies_on_its_side(photo: Path) -> bool:
    """Whether a picture's file is only marked as turned; False where it is no picture."""
    head = _head_of(photo, photo.stat().st_mtime_ns)
    return head is not None and head[2]


@lru_cache(maxsize=256)
def _head_of(path: Path, stamp: int) -> tuple[int, int, bool] | None:
    """Width and height of a picture's file, and whether a mark turns it; None where it is none. Reads its head only.

    Image viewers heed that mark of EXIF, 1 for upright (EXIF 2.3, from memory), and Blender does not.
    """
    try:
        with Image.open(path, formats=FORMATS) as picture:
            marked = picture.format != "PNG"  # of a PNG all would be read for it
            turned = marked and picture.getexif().get(ExifTags.Base.Orientation, 1) != 1
            return *picture.size, turned
    except (OSError, UnidentifiedImageError, Image.DecompressionBombError, ValueError):
        return None
