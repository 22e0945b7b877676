"""What is remembered of this machine from one session to the next: a small JSON file in the user's own folder.

It is a convenience: a file that cannot be read counts as empty, one that cannot be written is left as it is.
"""

from __future__ import annotations

import contextlib
import json
import os
from pathlib import Path
from typing import Any

import bpy

FILE = "remembered.json"
EXTENSION = __package__.rpartition(".")[0]
"""The package that Blender installs and knows by name: the one that holds the add-on and core."""

_kept: dict[Path, dict[str, Any]] = {}
"""What each file says, read once: panels ask while they draw."""


def folder() -> Path:
    """Where the add-on may keep files; it may have to be made. Blender removes it when an extension is uninstalled."""
    try:
        return Path(bpy.utils.extension_path_user(EXTENSION))
    except ValueError:  # not installed as an extension, but imported
        return Path(bpy.utils.user_resource("CONFIG", path="grainstack"))


def recall(key: str) -> Any:
    """What was remembered under the key; None where nothing was."""
    return _all(folder() / FILE).get(key)


def remember(key: str, value: Any) -> None:
    """Keep a JSON value for later sessions."""
    path = folder() / FILE
    kept = _all(path)
    if kept.get(key) == value:
        return
    kept[key] = value
    written = path.with_suffix(f".{os.getpid()}")
    with contextlib.suppress(OSError):
        path.parent.mkdir(parents=True, exist_ok=True)
        written.write_text(json.dumps(kept, indent=1), encoding="utf-8")
        written.replace(path)


def forget_all() -> None:
    """Free what is kept in memory; the file stays."""
    _kept.clear()


def _all(path: Path) -> dict[str, Any]:
    if path not in _kept:
        try:
            read = json.loads(path.read_text(encoding="utf-8"))
        except (OSError, ValueError):
            read = {}
        _kept[path] = read if isinstance(read, dict) else {}
    return _kept[path]
