"""Photos that are only marked as turned, as phones held upright save them: EXIF 2.3, tag 274 (MEMORY)."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from core.boards.place_on_photo import find_photo, lies_on_its_side
from core.boards.upright import upright_copy
from core.design import BoardPhoto, OwnWood
from core.errors import UnusableInput

RED, GREEN, BLUE, GREY = (200, 30, 30), (30, 160, 30), (30, 30, 200), (120, 120, 120)

# Where the stored picture's corners go (upper left, upper right, lower left, lower right), as EXIF 2.3 words it: the
# 0th row and the 0th column of what is stored are, when it is shown, for 3 bottom and right, for 6 right and top, for 8
# left and bottom. So 6 is a quarter turn clockwise, 8 one counter-clockwise.
CORNERS = {
    1: (RED, GREEN, BLUE, GREY),
    3: (GREY, BLUE, GREEN, RED),
    6: (BLUE, RED, GREY, GREEN),
    8: (GREEN, GREY, RED, BLUE),
}


def photo(path: Path, orientation: int, kind: str = "JPEG") -> Path:
    """A picture of 64 x 32 pixels whose quarters have four colours, marked to be shown turned."""
    pixels = np.zeros((32, 64, 3), np.uint8)
    for place, colour in zip(((0, 0), (0, 1), (1, 0), (1, 1)), (RED, GREEN, BLUE, GREY), strict=True):
        row, column = place
        pixels[16 * row : 16 * row + 16, 32 * column : 32 * column + 32] = colour
    mark = Image.Exif()
    mark[274] = orientation
    Image.fromarray(pixels).save(path, kind, exif=mark, **({"quality": 95} if kind == "JPEG" else {}))
    return path


@pytest.mark.parametrize("kind", ["JPEG", "TIFF"])
@pytest.mark.parametrize("orientation", [3, 6, 8])
def test_the_copy_stands_as_viewers_show_the_photo(tmp_path: Path, kind: str, orientation: int) -> None:
    board = photo(tmp_path / f"board.{kind.lower()}", orientation, kind)
    assert lies_on_its_side(board)
    copy = upright_copy(board, tmp_path / "boards")
    assert copy == tmp_path / "boards" / f"board-upright.{kind.lower()}"
    assert not lies_on_its_side(copy)
    with Image.open(copy) as picture:
        assert picture.format == kind
        assert picture.size == ((64, 32) if orientation == 3 else (32, 64))
        width, height = picture.size
        places = [(x, y) for y in (height // 4, 3 * height // 4) for x in (width // 4, 3 * width // 4)]
        seen = np.array([picture.getpixel(place) for place in places], float)
    assert seen == pytest.approx(np.array(CORNERS[orientation], float), abs=6)  # JPEG
    wood = OwnWood("board", "pear", photo=BoardPhoto(copy.name, 0.5))
    assert find_photo(wood, copy.parent).size == (width / 2, height / 2)


def test_an_upright_photo_is_told_from_one_on_its_side(tmp_path: Path) -> None:
    assert not lies_on_its_side(photo(tmp_path / "board.jpg", 1))
    (tmp_path / "words.jpg").write_text("no picture")
    assert not lies_on_its_side(tmp_path / "words.jpg")


def test_a_copy_made_earlier_is_used_again_and_no_other_file_is_overwritten(tmp_path: Path) -> None:
    board = photo(tmp_path / "board.jpg", 6)
    first = upright_copy(board, tmp_path)
    assert upright_copy(board, tmp_path) == first
    first.write_bytes(b"mine")
    with pytest.raises(UnusableInput, match="another photo has that name"):
        upright_copy(board, tmp_path)
    assert first.read_bytes() == b"mine"


def test_a_photo_that_cannot_be_read_is_told(tmp_path: Path) -> None:
    (tmp_path / "words.jpg").write_text("no picture")
    with pytest.raises(UnusableInput, match="Turn the photo in an image program"):
        upright_copy(tmp_path / "words.jpg", tmp_path)
