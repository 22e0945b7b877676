"""Finished pictures as others see them, and the sheet of all of them."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from core.errors import UnusableInput
from core.pages.reading_sheet import COLUMNS, ROWS, THUMBNAIL, WAYS, cell_size, pixels_of, reading_sheet, seen_as
from core.woods import colour
from tests.core.tables import rows

COLOURS = [row for row in rows("cvd_reference.csv") if row["kind"] == "colour" and float(row["severity"]) == 1.0]


def flat(hex_colour: str, width: int = 3, height: int = 2) -> np.ndarray:
    return np.broadcast_to(np.rint(255 * colour.srgb_from_hex(hex_colour)), (height, width, 3)).astype(np.uint8)


@pytest.mark.parametrize("row", COLOURS, ids=lambda row: f"{row['deficiency']} {row['colour_name']}")
def test_pictures_show_the_published_colours(row: dict[str, str]) -> None:
    """Within one step of eight bits of the colours DERIVED from the matrices of Machado et al. 2009."""
    seen = seen_as(flat(row["input_srgb_hex"]), row["deficiency"])
    assert np.abs(seen.astype(int) - flat(row["expected_srgb_hex"]).astype(int)).max() <= 1


def test_grey_pictures_keep_lightness() -> None:
    picture = np.random.default_rng(1).integers(0, 256, (20, 30, 3)).astype(np.uint8)
    seen = seen_as(picture, "greyscale")
    assert (seen == seen[..., :1]).all()
    lab = [colour.lab_from_linear(colour.linear_from_srgb(each / 255)) for each in (picture, seen)]
    assert np.abs(lab[0][..., 0] - lab[1][..., 0]).max() < 0.5  # rounded to eight bits


def test_a_finished_picture_stays_as_it_is() -> None:
    picture = np.random.default_rng(1).integers(0, 256, (20, 30, 3)).astype(np.uint8)
    assert (seen_as(picture, "finished") == picture).all()


@pytest.mark.parametrize(
    ("size", "small"), [((1600, 1000), (200, 125)), ((100, 400), (50, 200)), ((80, 60), (80, 60)), ((900, 2), (200, 1))]
)
def test_thumbnails_have_200_pixels(size: tuple[int, int], small: tuple[int, int]) -> None:
    seen = seen_as(flat("#123456", *size), "thumbnail")
    assert (seen.shape[1], seen.shape[0]) == small
    assert max(small) <= THUMBNAIL


def test_thumbnails_mix_light() -> None:
    """A fine chequer of black and white is half as bright as white: 188 of 255 in sRGB (IEC 61966-2-1)."""
    picture = np.indices((800, 800)).sum(axis=0)[..., None] % 2 * np.full(3, 255)
    seen = seen_as(picture.astype(np.uint8), "thumbnail")
    assert np.abs(seen[20:-20, 20:-20].astype(int) - 188).max() <= 1


@pytest.mark.parametrize("size", [(1600, 1000), (600, 900), (320, 200), (40, 30)])
def test_the_sheet_has_its_size_and_all_pictures(size: tuple[int, int]) -> None:
    width, height = cell_size(size)
    colours = {"When cut": "#c2492a", "When aged": "#5f3327"}
    sheet = reading_sheet({when: flat(code, width, height) for when, code in colours.items()}, size)
    assert sheet.size == size
    shown = np.asarray(sheet).reshape(-1, 3)
    for code in colours.values():
        for way in WAYS:
            expected = seen_as(flat(code), way)[0, 0]
            assert (shown == expected).all(axis=1).sum() >= min(0.8 * width * height, 1), (code, way)
    assert COLUMNS * width <= size[0]
    assert ROWS * height <= size[1]


def test_a_file_that_is_no_picture_is_told(tmp_path: Path) -> None:
    (tmp_path / "a.png").write_text("no picture")
    with pytest.raises(UnusableInput, match="cannot be read"):
        pixels_of(tmp_path / "a.png")
    Image.new("RGBA", (4, 3), (1, 2, 3, 255)).save(tmp_path / "b.png")
    assert pixels_of(tmp_path / "b.png").tolist() == [[[1, 2, 3]] * 4] * 3
