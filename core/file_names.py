"""Ids as names of files, on every system that a maker may use."""

from __future__ import annotations

import re

_DEVICE = re.compile(r"(con|prn|aux|nul|conin\$|conout\$|com[0-9¹²³]|lpt[0-9¹²³])", re.IGNORECASE)
"""Names that Windows keeps for its devices, whatever follows after a dot ("Naming Files, Paths, and Namespaces",
Microsoft Learn; from memory)."""


def file_stem(identity: str) -> str:
    """An id as a file's name without its ending: itself, or with ``_`` behind it where it is a device of Windows.

    An id that ends in ``_`` and would be one without it gets another ``_``, so that no two ids share a file.
    """
    return f"{identity}_" if _DEVICE.fullmatch(identity.rstrip("_")) else identity
