"""The files of a sheet: all of them take the places of older ones, or all older ones stay."""

from __future__ import annotations

import os
import tempfile
from collections.abc import Mapping
from pathlib import Path

from ..errors import UnusableInput


def write_together(folder: Path, files: Mapping[str, bytes]) -> None:
    """Write files into a folder, which is made if needed; other files there stay.

    They are written beside their places first and then moved in; where that stops half way, what was moved goes back.

    Raises:
        UnusableInput: the folder or a file cannot be written. Nothing has changed then.
    """
    made = not folder.exists()
    try:
        folder.mkdir(parents=True, exist_ok=True)
        with tempfile.TemporaryDirectory(dir=folder, prefix=".sheet-") as name:
            new, old = Path(name, "new"), Path(name, "old")
            new.mkdir()
            old.mkdir()
            for file, content in files.items():
                (new / file).write_bytes(content)
            _move_in(folder, new, old, list(files))
    except OSError as error:
        if made and folder.is_dir() and not any(folder.iterdir()):
            folder.rmdir()
        where = getattr(error, "filename", None) or folder
        problem = f"the sheet cannot be written ({error.strerror or error}); what lay there is as it was"
        raise UnusableInput(str(where), "", problem, "Close programs that use it, or name another folder") from None


def _move_in(folder: Path, new: Path, old: Path, files: list[str]) -> None:
    moved: list[tuple[Path, Path]] = []
    try:
        for file in files:
            place = folder / file
            if place.is_dir():
                raise IsADirectoryError(21, "there is a folder where a file would go", str(place))
            if place.exists():
                os.replace(place, old / file)
                moved.append((old / file, place))
            os.replace(new / file, place)
            moved.append((place, new / file))
    except BaseException:
        for now, before in reversed(moved):
            os.replace(now, before)
        raise
