"""From a design file to its stack."""

from __future__ import annotations

from pathlib import Path

from ..design_file.reading import read_design
from ..errors import UnusableInput
from .stack import Stack, build_stack


def load_stack(path: Path | str) -> Stack:
    """The stack of a design file.

    Raises:
        UnusableInput: the file, artwork that it names, or the order that it asks for cannot be used.
    """
    try:
        return build_stack(read_design(path))
    except UnusableInput as refused:
        if refused.file:
            raise
        raise UnusableInput(str(path), refused.place, refused.problem, refused.remedy) from None
