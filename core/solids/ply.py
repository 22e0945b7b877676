"""Solids as files: binary PLY with double coordinates, and a table of contents beside them."""

from __future__ import annotations

import json
import os
import re
import tempfile
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import numpy as np
import numpy.typing as npt

from ..errors import UnusableInput
from ..file_names import file_stem
from ..stack.stack import Stack
from .panel_solids import Solid

FORMAT = "grainstack-solids/1"
CONTENTS = "solids.json"
_OURS = re.compile(r"[A-Za-z0-9][A-Za-z0-9_-]*\.ply")

_HEADER = """ply
format binary_little_endian 1.0
comment millimetres, z = 0 is the raw face
element vertex {vertices}
property double x
property double y
property double z
element face {triangles}
property list uchar int vertex_indices
end_header
"""


def ply_bytes(vertices: npt.NDArray[np.float64], triangles: npt.NDArray[np.int32]) -> bytes:
    """A mesh as a binary little-endian PLY file.

    Args:
        vertices: (n, 3), mm; written as doubles.
        triangles: (m, 3), numbers of vertices, counter-clockwise seen from outside.
    """
    faces = np.empty(len(triangles), dtype=[("count", "u1"), ("corners", "<i4", 3)])
    faces["count"] = 3
    faces["corners"] = triangles
    header = _HEADER.format(vertices=len(vertices), triangles=len(triangles))
    return header.encode("ascii") + vertices.astype("<f8").tobytes() + faces.tobytes()


def write_solids(stack: Stack, solids: Sequence[Solid], state: str, folder: Path) -> Path:
    """Write each solid as NAME.ply, and solids.json, which tells what they are. All of them, or none.

    Solids that an earlier call left there, as its solids.json says, go; other files stay.

    Returns:
        The path of solids.json.

    Raises:
        UnusableInput: a piece has the id of a background piece, or the folder cannot be written.
    """
    _refuse_doubled_names(stack, solids)
    contents = folder / CONTENTS
    try:
        made = not folder.exists()
        folder.mkdir(parents=True, exist_ok=True)
        try:
            with tempfile.TemporaryDirectory(dir=folder, prefix=".solids-") as name:
                new = Path(name)
                for solid in solids:
                    (new / _file(solid)).write_bytes(ply_bytes(solid.vertices, solid.triangles))
                (new / CONTENTS).write_text(_contents(stack, solids, state), encoding="utf-8")
                _refuse_folders(folder, [path.name for path in new.iterdir()])
                _replace(folder, new, [_file(solid) for solid in solids])
        except BaseException:
            if made and not any(folder.iterdir()):
                folder.rmdir()
            raise
    except OSError as error:
        reason = error.strerror or str(error)
        raise UnusableInput(
            str(folder), "", f"solids cannot be written here ({reason})", "Name another folder"
        ) from None
    return contents


def _replace(folder: Path, new: Path, files: Sequence[str]) -> None:
    """Take away what an earlier call wrote, then move the new files in, the table of contents last."""
    for name in _earlier(folder / CONTENTS):
        if name not in files:
            (folder / name).unlink(missing_ok=True)
    for name in (*files, CONTENTS):
        os.replace(new / name, folder / name)


def _earlier(contents: Path) -> list[str]:
    """The solids that an earlier call wrote, going by its table of contents."""
    try:
        listed = json.loads(contents.read_text(encoding="utf-8"))
        if listed["format"] != FORMAT:
            return []
        names = [solid["file"] for solid in listed["solids"]]
    except (OSError, ValueError, LookupError, TypeError):
        return []
    return [name for name in names if isinstance(name, str) and _OURS.fullmatch(name)]


def _refuse_folders(folder: Path, files: Sequence[str]) -> None:
    for name in files:
        if (folder / name).is_dir():
            raise UnusableInput(
                str(folder / name), "", "there is a folder where a file would go", "Name another folder"
            )


def _refuse_doubled_names(stack: Stack, solids: Sequence[Solid]) -> None:
    background = {solid.name.lower() for solid in solids if solid.kind == "background"}
    for placed in stack.pieces:
        if placed.piece.id.lower() in background:
            place = f'pieces[{placed.index}] "{placed.piece.id}".id'
            problem = "the background has a solid of that name"
            raise UnusableInput(stack.design.file, place, problem, "Give the piece another id")


def _file(solid: Solid) -> str:
    return f"{file_stem(solid.name)}.ply"


def _contents(stack: Stack, solids: Sequence[Solid], state: str) -> str:
    entries: list[dict[str, Any]] = [
        {
            "name": solid.name,
            "file": _file(solid),
            "kind": solid.kind,
            "wood": solid.wood,
            "grain": solid.grain,
            "batch": solid.batch if solid.kind == "insert" else None,
            "volume": solid.volume,
            "vertices": len(solid.vertices),
            "triangles": len(solid.triangles),
        }
        for solid in solids
    ]
    whole = {"format": FORMAT, "title": stack.design.title, "state": state, "units": "mm", "solids": entries}
    return json.dumps(whole, indent=1) + "\n"
