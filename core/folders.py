"""Files that a design names: they lie in its own folder, and stay there."""

from __future__ import annotations

from pathlib import Path, PurePosixPath, PureWindowsPath

from .errors import UnusableInput


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
