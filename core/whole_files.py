"""Files are written whole or not at all: one file, or several that belong together."""

from __future__ import annotations

import os
import tempfile
from collections.abc import Callable, Mapping
from pathlib import Path


def replace_file(path: Path, content: bytes) -> None:
    """Write beside the file, then take its place in one step: a crash leaves the old file or the new one.

    Raises:
        OSError: it cannot be written. The old file stays then.
    """
    real = path.resolve()  # where the file is a link, its target is written
    mode = real.stat().st_mode & 0o777 if real.exists() else None
    handle, draft = tempfile.mkstemp(prefix=f".{real.name}.", suffix=".tmp", dir=real.parent)
    try:
        with os.fdopen(handle, "wb") as file:
            file.write(content)
            file.flush()
            os.fsync(file.fileno())
        os.chmod(draft, _usual_mode() if mode is None else mode)
        os.replace(draft, real)
    except BaseException:
        Path(draft).unlink(missing_ok=True)
        raise


def _usual_mode() -> int:
    """What the system gives new files, which temporary ones do not get."""
    mask = os.umask(0)
    os.umask(mask)
    return 0o666 & ~mask


def replace_files(folder: Path, files: Mapping[str, bytes], is_old: Callable[[str], bool] = lambda name: False) -> None:
    """Write files that belong together into a folder, which is made if needed.

    They are written beside the old ones first. Then the old ones are moved aside and the new ones moved in; where that
    stops half way, what was moved goes back.

    Args:
        folder: where to.
        files: what each holds, by name.
        is_old: whether a file of some other name belongs to an older set, and goes; all others stay.

    Raises:
        OSError: the folder cannot be written, or an old file not be moved. Nothing has changed then.
    """
    made = not folder.exists()
    try:
        folder.mkdir(parents=True, exist_ok=True)
        with tempfile.TemporaryDirectory(dir=folder, prefix=".new-") as name:
            new, old = Path(name, "new"), Path(name, "old")
            new.mkdir()
            old.mkdir()
            for file, content in files.items():
                (new / file).write_bytes(content)
            there = sorted(path.name for path in folder.iterdir() if path.is_file())
            _swap(folder, new, old, [name for name in there if name in files or is_old(name)], list(files))
    except OSError:
        if made and folder.is_dir() and not any(folder.iterdir()):
            folder.rmdir()
        raise


def _swap(folder: Path, new: Path, old: Path, stale: list[str], files: list[str]) -> None:
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
