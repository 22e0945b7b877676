"""Finished files, read back with other libraries than the one that writes them: OpenImageIO, and the chunks by hand."""

from __future__ import annotations

import struct
from pathlib import Path

import numpy as np
import OpenImageIO as Oiio
import pytest
from PIL import Image

from core.errors import UnusableInput
from core.pages.picture_files import RENDERING, About, caption_font, encodable, finish_png, write_jpeg
from core.woods.colour import linear_from_srgb

ABOUT = About("Étang <koï> & 池", "Inlaid wood panel of wenge, 614 × 414 mm.")
SIZE = (320, 200)


@pytest.fixture
def png(tmp_path: Path) -> Path:
    path = tmp_path / "pond.png"
    ramp = np.linspace(60, 220, SIZE[0] * SIZE[1] * 3).reshape(SIZE[1], SIZE[0], 3).astype(np.uint8)
    Image.fromarray(ramp).save(path)
    return path


def read(path: Path) -> tuple[dict[str, object], np.ndarray]:
    """All attributes and the pixels, by OpenImageIO."""
    opened = Oiio.ImageInput.open(str(path))
    assert opened, Oiio.geterror()
    spec = opened.spec()
    pixels = opened.read_image(Oiio.UINT8)
    opened.close()
    return {"width": spec.width, "height": spec.height, **{a.name: a.value for a in spec.extra_attribs}}, pixels


def chunks(path: Path) -> dict[bytes, list[bytes]]:
    """A PNG's chunks by kind, in order."""
    data, place, found = path.read_bytes(), 8, {}
    while place < len(data):
        length, kind = struct.unpack(">I4s", data[place : place + 8])
        found.setdefault(kind, []).append(data[place + 8 : place + 8 + length])
        place += 12 + length
    return found


def test_a_png_keeps_its_pixels_and_says_what_it_is(png: Path) -> None:
    before = read(png)[1]
    finish_png(png, ABOUT)
    said, pixels = read(png)
    assert np.array_equal(pixels, before)
    assert (said["width"], said["height"]) == SIZE
    assert "srgb" in str(said["oiio:ColorSpace"]).lower()
    assert said["Software"] == "Grainstack"
    found = chunks(png)
    assert found[b"sRGB"] == [b"\0"]
    order = list(found)
    assert order.index(b"sRGB") < order.index(b"IDAT")
    texts = {text.split(b"\0")[0].decode(): text.rsplit(b"\0", 1)[1].decode() for text in found[b"iTXt"]}
    assert texts["Title"] == ABOUT.title
    assert texts["Description"] == f"{ABOUT.description} {RENDERING}."
    assert RENDERING in texts["Source"]
    assert "Étang &lt;koï&gt; &amp; 池" in texts["XML:com.adobe.xmp"]


def test_a_jpeg_says_the_same_in_exif_and_xmp_and_carries_an_srgb_profile(png: Path, tmp_path: Path) -> None:
    finish_png(png, ABOUT)
    said, pixels = read(write_jpeg(png, tmp_path / "pond.jpg", ABOUT))
    assert (said["width"], said["height"]) == SIZE
    assert said["Exif:ColorSpace"] == 1
    assert (said["Exif:PixelXDimension"], said["Exif:PixelYDimension"]) == SIZE
    assert RENDERING in str(said["ImageDescription"])
    assert "614 x 414 mm" in str(said["ImageDescription"]) or "614 × 414 mm" in str(said["ImageDescription"])
    assert "sRGB" in str(said["ICCProfile:profile_description"])
    raw = (tmp_path / "pond.jpg").read_bytes()
    assert "池".encode() in raw
    assert raw.count(RENDERING.encode()) >= 3
    assert np.abs(pixels.astype(int) - read(png)[1].astype(int)).mean() < 2


def luminance(srgb: np.ndarray) -> float:
    return float(linear_from_srgb(srgb / 255) @ (0.2126, 0.7152, 0.0722))


@pytest.mark.parametrize("grey", [5, 60, 118, 128, 190, 250])
def test_the_caption_can_be_read_on_any_wall_and_covers_only_the_lower_edge(tmp_path: Path, grey: int) -> None:
    """Contrast of at least 4.5 between the inmost pixels of the letters and the wall, as WCAG 2 defines it (MEMORY)."""
    path = tmp_path / "wall.png"
    Image.new("RGB", (1600, 1000), (grey, grey, grey)).save(path)
    finish_png(path, ABOUT, "Koi pond  ·  614 × 414 mm framed  ·  a rendering, not a photograph")
    pixels = read(path)[1]
    changed = (pixels != grey).any(axis=2)
    rows, columns = np.nonzero(changed)
    assert rows.min() > 0.95 * 1000
    assert columns.max() < 1600 - 10
    far = np.abs(pixels.astype(int) - grey).sum(axis=2)
    letters = luminance(pixels[far == far.max()].mean(axis=0))
    wall = luminance(np.full(3, float(grey)))
    assert (max(letters, wall) + 0.05) / (min(letters, wall) + 0.05) >= 4.45


def test_the_captions_font_has_every_letter_that_is_let_through() -> None:
    """A letter that the font lacks is drawn as its empty box."""
    font = caption_font(24)
    box = bytes(font.getmask("\uffff"))
    letters = encodable("".join(map(chr, range(0xA1, 0x100))) + "–—’“”•™Œœ")
    missing = [c for c in letters.replace("\xad", "") if bytes(font.getmask(c)) == box]
    assert not missing
    assert encodable("池") == "?"


def test_a_long_title_is_made_to_fit(tmp_path: Path) -> None:
    path = tmp_path / "small.png"
    Image.new("RGB", (400, 500), (200, 200, 200)).save(path)
    title = "A very long title, far longer than any panel should be called, that no small picture could ever hold"
    finish_png(path, ABOUT, f"{title}  ·  a rendering, not a photograph")
    columns = np.nonzero((read(path)[1] != 200).any(axis=(0, 2)))[0]
    assert 0 < columns.min() < columns.max() < 399


def test_a_thumbnail_has_no_room_for_words_and_says_them_in_its_metadata(tmp_path: Path) -> None:
    path = tmp_path / "thumbnail.png"
    Image.new("RGB", (200, 160), (200, 200, 200)).save(path)
    finish_png(path, ABOUT, "a rendering, not a photograph")
    assert (read(path)[1] == 200).all()
    assert RENDERING.encode() in path.read_bytes()


def test_what_is_no_picture_is_refused(tmp_path: Path) -> None:
    (tmp_path / "x.png").write_text("no picture")
    with pytest.raises(UnusableInput, match="cannot be read"):
        finish_png(tmp_path / "x.png", ABOUT)
