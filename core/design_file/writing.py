"""Writing a design file. What the file said is kept: a document is its JSON value, and edits change that value.

So a number keeps its digits, what was left out stays left out, and a file that was written here and is opened and
saved again has the same bytes. Keys come in the order of the format's tables.
"""

from __future__ import annotations

import json
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from ..errors import UnusableInput
from ..whole_files import replace_file
from .own_woods import PHOTO, WOOD
from .reading import (
    ACCEPTED,
    DESIGN,
    FORMAT,
    FRAME,
    OUTLINES,
    PANEL,
    PIECE,
    SEGMENT,
    STOCK,
    STRIP,
    VERSION,
    WORKSHOP,
    design_of,
)

WIDTH = 120
"""Objects and lists that fit into so many columns stand on one line."""

Document = dict[str, Any]

_PIECE_ORDER = ("id", "wood", "grain", "after", "outline", "at", "turn", "scale", "mirror", "pocket_depth",
                "insert_thickness", "fit")  # fmt: skip
"""Then come the rest, as in the format's table."""


def new_document(panel: Mapping[str, Any], title: str = "") -> Document:
    """A document with this panel and no pieces."""
    head: Document = {"format": f"{FORMAT}/{VERSION}"}
    return canonical(head | ({"title": title} if title else {}) | {"panel": dict(panel), "pieces": []})


def canonical(document: Mapping[str, Any]) -> Document:
    """The document with its keys in the format's order; values are untouched, unknown keys come last."""
    made = _ordered(document, DESIGN)
    if isinstance(made.get("woods"), list):
        made["woods"] = [_ordered(wood, (*PHOTO, *WOOD)) for wood in made["woods"]]
    if isinstance(made.get("panel"), dict):
        made["panel"] = _panel(made["panel"])
    if isinstance(made.get("workshop"), dict):
        made["workshop"] = _ordered(made["workshop"], WORKSHOP)
    if isinstance(made.get("frame"), dict):
        made["frame"] = _ordered(made["frame"], FRAME)
    if isinstance(made.get("accepted"), list):
        made["accepted"] = [_ordered(entry, ACCEPTED) for entry in made["accepted"]]
    if isinstance(made.get("stock"), list):
        made["stock"] = [_ordered(board, STOCK) for board in made["stock"]]
    if isinstance(made.get("pieces"), list):
        made["pieces"] = [canonical_piece(each) for each in made["pieces"]]
    return made


def canonical_piece(entry: Mapping[str, Any]) -> Document:
    """The entry of one piece, its keys in the usual order."""
    made = _ordered(entry, (*_PIECE_ORDER, *PIECE))
    outline = made.get("outline")
    if isinstance(outline, dict):
        made["outline"] = _ordered(outline, [key for keys in OUTLINES.values() for key in keys])
    return made


def _panel(panel: Document) -> Document:
    made = _ordered(panel, PANEL)
    if "strips" in made:
        made["strips"] = [_ordered(strip, STRIP) for strip in made["strips"]]
        for strip in made["strips"]:
            if "segments" in strip:
                strip["segments"] = [_ordered(segment, SEGMENT) for segment in strip["segments"]]
    return made


def _ordered(value: Mapping[str, Any], keys: Any) -> Document:
    order = list(dict.fromkeys([*(key for key in keys if key in value), *value]))
    return {key: value[key] for key in order}


def design_text(document: Mapping[str, Any]) -> str:
    """The document as the text of a design file."""
    return _text(canonical(document), 0, 0) + "\n"


def _text(value: Any, indent: int, used: int) -> str:
    """JSON on one line where it fits behind the `used` columns before it, else one entry a line."""
    line = json.dumps(value, ensure_ascii=False, allow_nan=False)
    if not isinstance(value, (dict, list)) or not value or (indent and indent + used + len(line) < WIDTH):
        return line
    inner = indent + 2
    if isinstance(value, dict):
        names = [json.dumps(key, ensure_ascii=False) + ": " for key in value]
        entries = [name + _text(each, inner, len(name) + 1) for name, each in zip(names, value.values(), strict=True)]
        opened, closed = "{}"
    else:
        entries = [_text(each, inner, 1) for each in value]
        opened, closed = "[]"
    gap = "\n" + " " * inner
    return f"{opened}{gap}{f',{gap}'.join(entries)}\n{' ' * indent}{closed}"


def write_design(document: Mapping[str, Any], path: Path) -> None:
    """Write a design file, whole or not at all.

    Raises:
        UnusableInput: the document breaks a rule of the format, or the file cannot be written.
    """
    design_of(dict(document), path)  # before anything is put in order, which takes its shape for granted
    content = design_text(document).encode()
    try:
        replace_file(path, content)
    except OSError as error:
        problem = f"the file cannot be written ({error.strerror or error})"
        raise UnusableInput(str(path), "", problem, "Choose another folder or name") from None
