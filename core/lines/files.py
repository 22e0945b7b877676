"""The files of a panel's lines: a new set takes the place of an older one, or all of the older one stays."""

from __future__ import annotations

import re
from collections.abc import Mapping
from pathlib import Path

from ..errors import UnusableInput
from ..whole_files import replace_files

CONTENTS = "lines.json"
_OURS = re.compile(r"batch-\d+-(pockets|inserts)\.(svg|dxf)|templates\.pdf|coupon\.panel\.json|lines\.json")


def replace_set(folder: Path, files: Mapping[str, bytes]) -> Path:
    """Write files into a folder, in place of all cut lines, templates and coupons that lie there; other files stay.

    Returns:
        The path of the set's table of contents.

    Raises:
        UnusableInput: the folder cannot be written, or an old file not be moved. Nothing has changed then.
    """
    try:
        replace_files(folder, files, lambda name: _OURS.fullmatch(name) is not None)
    except OSError as error:
        where = getattr(error, "filename", None) or folder
        problem = f"the lines cannot be written ({error.strerror or error}); the old ones are unchanged"
        raise UnusableInput(str(where), "", problem, "Close programs that use them, or name another folder") from None
    return folder / CONTENTS
