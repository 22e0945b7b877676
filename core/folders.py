"""Files that a design names: they lie in its own folder, and stay there. And reading a file as a whole."""

from __future__ import annotations

import stat
from pathlib import Path, PurePosixPath, PureWindowsPath

from .errors import UnusableInput
from .limits import MOST_BYTES


def beside(folder: Path, file: str, place: str) -> Path:
    """The real path of `file`, which a design in `folder` names at `place`. It need not exist.

    Raises:
        UnusableInput: the name is absolute, leaves the folder (by ``..`` or by a link), or cannot be a file's name.
    """

    def refuse(problem: str) -> UnusableInput:
        return UnusableInput(
            "", place, f'"{file}" {problem}', "Put the file into the design's folder and name it from there"
        )

    if "\\" in file or PurePosixPath(file).is_absolute() or PureWindowsPath(file).drive:
        raise refuse("is not a path relative to the design, with / between folders")
    if "\0" in file:
        raise UnusableInput("", place, "the file name has a NUL character", "Type the name again")
    try:
        home, real = folder.resolve(), (folder / file).resolve()
    except (OSError, RuntimeError, ValueError):  # a ring of links, a name too long
        raise refuse("cannot be followed") from None
    if ".." in PurePosixPath(file).parts or not real.is_relative_to(home):
        raise refuse("leaves the design's folder")
    return real


def read_file(path: Path, named_by: str = "", instead: str = "Name a file") -> bytes:
    """A file's bytes. Pipes and devices, which may never end, are not opened.

    Args:
        path: the file.
        named_by: the place in a design that names it, for messages; "" where the maker named it.
        instead: what to do where it is a folder.

    Raises:
        UnusableInput: there is no such file, or it is too large, no regular file, or may not be read.
    """
    by = f", named by {named_by}" if named_by else ""

    def refuse(problem: str, remedy: str) -> UnusableInput:
        return UnusableInput("", "", problem + by, remedy)

    try:
        state = path.stat()
        if stat.S_ISDIR(state.st_mode):
            raise refuse("this is a folder", instead)
        if not stat.S_ISREG(state.st_mode):
            raise refuse("this is a pipe or a device, not a file", "Save it as an ordinary file")
        if state.st_size > MOST_BYTES:
            raise refuse("the file is too large", f"It may have {MOST_BYTES // 1_000_000} MB")
        return path.read_bytes()
    except FileNotFoundError:
        look = "Put it beside the design" if named_by else "Check its name and folder"
        raise refuse("there is no such file", look) from None
    except (OSError, ValueError) as error:  # ValueError: a NUL in the name
        reason = getattr(error, "strerror", None) or str(error)
        raise refuse(f"the file cannot be read ({reason})", "Check its name and permissions") from None
