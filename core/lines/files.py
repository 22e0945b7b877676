"""A set of files that belong together: all of it takes the place of an older set, or all of the older one stays."""

from __future__ import annotations

import os
import re
import tempfile
from collections.abc import Mapping
from pathlib import Path

from ..errors import UnusableInput

CONTENTS = "lines.json"
_OURS = re.compile(r"batch-\d+-(pockets|inserts)\.(svg|dxf)|templates\.pdf|coupon\.panel\.json|lines\.json")


def replace_set(folder: Path, files: Mapping[str, bytes]) -> Path:
    """Write files into a folder, in place of all cut lines, templates and coupons that lie there; other files stay.

    The new set is written beside the old one first. Then the old one is moved aside and the new one moved in; where
    that stops half way, what was moved goes back.

    Returns:
        The path of the set's table of contents.

    Raises:
        UnusableInput: the folder cannot be written, or an old file not be moved. Nothing has changed then.
    """
    made = not folder.exists()
    try:
        folder.mkdir(parents=True, exist_ok=True)
        with tempfile.TemporaryDirectory(dir=folder, prefix=".lines-") as name:
            new, old = Path(name, "new"), Path(name, "old")
            new.mkdir()
            old.mkdir()
            for file, content in files.items():
                (new / file).write_bytes(content)
            _swap(folder, new, old, list(files))
    except OSError as error:
        if made and folder.is_dir() and not any(folder.iterdir()):
            folder.rmdir()
        where = getattr(error, "filename", None) or folder
        problem = f"the lines cannot be written ({error.strerror or error}); those that lay there are as they were"
        raise UnusableInput(str(where), "", problem, "Close programs that use them, or name another folder") from None
    return folder / CONTENTS


def _swap(folder: Path, new: Path, old: Path, files: list[str]) -> None:
    stale = sorted(path.name for path in folder.iterdir() if path.is_file() and _OURS.fullmatch(path.name))
    moved: list[tuple[Path, Path]] = []

    def move(source: Path, target: Path) -> None:
        if target.is_dir():
            raise IsADirectoryError(21, "there is a folder where a file would go", str(target))
        os.replace(source, target)
        moved.append((source, target))

    try:
        for name in stale:
            move(folder / name, old / name)
        for name in files:
            move(new / name, folder / name)
    except BaseException:
        for source, target in reversed(moved):
            os.replace(target, source)
        raise
