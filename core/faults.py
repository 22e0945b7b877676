"""Faults of our own: one line for the maker, and a file with the details for whoever mends them.

A fault is any exception that is no `GrainstackError`. Each door of the program, where work is asked for (a command, an
operator, a timer), hands what it catches to `told`.
"""

from __future__ import annotations

import contextlib
import hashlib
import os
import platform
import stat
import sys
import tempfile
import traceback
from collections.abc import Iterator
from datetime import datetime
from importlib import metadata
from pathlib import Path

from .errors import GrainstackError

_PACKAGES = ("numpy", "shapely", "mapbox-earcut", "svgelements", "pillow", "reportlab")
_LONGEST = 200


@contextlib.contextmanager
def during(what: str) -> Iterator[None]:
    """Says of a fault that leaves the block what was being worked on, such as ``piece "koi-1"``."""
    try:
        yield
    except GrainstackError:
        raise
    except Exception as fault:
        fault.add_note(what)
        raise


def told(fault: BaseException, doing: str) -> str:
    """One line that tells a maker of a fault, its details written to a file.

    Args:
        fault: what was caught.
        doing: what was being done, with the design's file where there is one, such as ``checking pond.panel.json``.
    """
    where = "; ".join(getattr(fault, "__notes__", ()))
    at = f"{doing}, {where}" if where else doing
    if is_out_of_memory(fault):
        return _line(
            f"{at}: the computer's memory does not suffice. Close other programs, or use fewer, simpler pieces."
        )
    kind = f"{type(fault).__name__}: {fault}" if str(fault) else type(fault).__name__
    kept = _keep(fault, at)
    details = f"Details are in {kept}" if kept else "The details could not be written to a file"
    why = f"a fault of Grainstack's own, not of your design ({_line(kind)[:_LONGEST]})"
    return _line(f"{at}: {why}. {details}; please send them to us.")


def is_out_of_memory(fault: BaseException) -> bool:
    """Whether it was the memory that ran out, in Python or in the geometry library."""
    return isinstance(fault, MemoryError) or "bad_alloc" in str(fault)


def _line(words: str) -> str:
    return " ".join(words.split())


def folder() -> Path:
    """Where details are kept: the system's folder for temporary files, one for each user."""
    user = hashlib.sha256(str(Path.home()).encode()).hexdigest()[:8]
    return Path(tempfile.gettempdir()) / f"grainstack-faults-{user}"


def _keep(fault: BaseException, at: str) -> Path | None:
    """Write the details; None where they cannot be written. The same fault at the same work has one file."""
    text = _masked(details(fault, at))
    name = hashlib.sha256("".join(traceback.format_tb(fault.__traceback__)).encode()).hexdigest()[:10]
    path = folder() / f"fault-{name}.txt"
    try:
        path.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
        if not _is_ours(path.parent):
            return None
        path.write_text(text, encoding="utf-8", errors="replace")
    except OSError:
        return None
    return path


def _is_ours(place: Path) -> bool:
    """Whether a folder belongs to this user, and nobody put a link in its stead."""
    state = place.lstat()
    return stat.S_ISDIR(state.st_mode) and (not hasattr(os, "getuid") or state.st_uid == os.getuid())


def details(fault: BaseException, at: str) -> str:
    """All that helps to find a fault: what was done, versions, the traceback."""
    versions = [f"Python {platform.python_version()}, {platform.platform()}"]
    if (bpy := sys.modules.get("bpy")) is not None:
        versions.append(f"Blender {getattr(getattr(bpy, 'app', None), 'version_string', '?')}")
    for package in _PACKAGES:
        with contextlib.suppress(metadata.PackageNotFoundError):
            versions.append(f"{package} {metadata.version(package)}")
    now = datetime.now().astimezone().isoformat(timespec="seconds")
    return "\n".join([f"{now}: {at}", *versions, "", *traceback.format_exception(fault)])


def _masked(text: str) -> str:
    """The text without the user's home folder, which often holds a name."""
    home = str(Path.home())
    if len(home) > 1:
        text = text.replace(home, "~").replace(home.replace(os.sep, "/"), "~")
    return text
