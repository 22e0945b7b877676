"""The rendered picture on the sheet's cover, where there is one that shows the design as it is now."""

from __future__ import annotations

import io
from pathlib import Path

from PIL import Image

from ..errors import UnusableInput
from ..folders import read_file
from ..pages.picture_files import JPEG_QUALITY
from .blocks import Photo

WIDEST = 1400
"""Pixels: 200 an inch and more over the width of a page, and a file that stays small."""
CAPTION = "The finished panel: a rendering, not a photograph. Seen from the face, not mirrored"


def cover_photo(picture: Path) -> Photo:
    """A picture file for the cover.

    Raises:
        UnusableInput: it is no picture that can be read.
    """
    try:
        data = read_file(picture)
        with Image.open(io.BytesIO(data)) as opened:
            shown = opened.convert("RGB")
    except UnusableInput as refused:
        raise UnusableInput(str(picture), "", refused.problem, refused.remedy) from None
    except (OSError, ValueError, Image.DecompressionBombError):
        raise UnusableInput(str(picture), "", "this is no picture that can be read", "Name a PNG or a JPEG") from None
    shown.thumbnail((WIDEST, WIDEST), Image.Resampling.LANCZOS)
    made = io.BytesIO()
    shown.save(made, "JPEG", quality=JPEG_QUALITY)
    return Photo(made.getvalue(), shown.size, CAPTION)


def picture_there(folder: Path, name: str, design: Path) -> Path | None:
    """The picture of the finished view in a folder, if it was rendered after the design was last written."""
    for path in (folder / f"{name}-finished.png", folder / f"{name}-finished.jpg"):
        try:
            if path.stat().st_mtime >= design.stat().st_mtime:
                return path
        except OSError:
            continue
    return None
