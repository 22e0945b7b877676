"""A photo that is only marked as turned, as cameras held upright save it, made into one whose pixels stand upright."""

from __future__ import annotations

import io
from pathlib import Path

from PIL import Image, ImageOps

from ..errors import UnusableInput
from .place_on_photo import FORMATS

ENDING = "-upright"


def upright_copy(photo: Path, folder: Path) -> Path:
    """Save a turned copy of the photo in `folder` and return its path; a copy made earlier is used again.

    Its colours, size and format are the photo's own; of the rest that the file says only its colour profile is kept.

    Raises:
        UnusableInput: the photo cannot be read, the copy cannot be written, or another photo has its name.
    """
    target = folder / f"{photo.stem}{ENDING}{photo.suffix}"
    try:
        content = _turned(photo)
        if not target.exists():
            folder.mkdir(parents=True, exist_ok=True)
            target.write_bytes(content)
        elif target.read_bytes() != content:
            raise UnusableInput(str(target), "", "another photo has that name", "Rename the new photo first")
    except (OSError, ValueError, Image.DecompressionBombError) as error:
        problem = f"the photo is marked as turned, and a turned copy cannot be saved ({error})"
        raise UnusableInput(str(target), "", problem, "Turn the photo in an image program and save it as PNG") from None
    return target


def _turned(photo: Path) -> bytes:
    """The file of the photo, its pixels turned as its EXIF mark asks."""
    with Image.open(photo, formats=FORMATS) as picture:
        upright = ImageOps.exif_transpose(picture)
        saved = io.BytesIO()
        options = {"quality": 95, "subsampling": 0} if picture.format == "JPEG" else {}
        upright.save(saved, picture.format, icc_profile=picture.info.get("icc_profile"), **options)
    return saved.getvalue()
