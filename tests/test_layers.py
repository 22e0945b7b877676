"""Who may import whom: core knows nothing of Blender, the add-on leaves geometry to core."""

from __future__ import annotations

import ast
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

import build

CORE = sorted((build.ROOT / "core").rglob("*.py"))
ADD_ON = sorted((build.ROOT / "blender_addon").rglob("*.py"))
BLENDER = {"bpy", "bmesh", "mathutils", "gpu", "gpu_extras", "blf", "bl_ext", "aud", "freestyle", "idprop", "imbuf"}
ROOMS = {
    "core": (
        "",  # the ground: what lies beside the rooms
        *("outlines", "woods", "design_file", "cutter", "stack", "solids", "boards"),
        *("measures", "findings", "views", "pages", "lines", "sheet", "commands"),
    ),
    "blender_addon": (
        "",
        *("woods", "studio", "scene", "findings", "views", "bench", "boards", "pictures", "entry"),
    ),
}
"""The rooms in the order of the way that data goes: each imports from itself and from those before it alone."""
OURSELVES = {"core", "blender_addon", "grainstack", "bl_ext", "build"}


def absolute_imports(file: Path) -> Iterator[str]:
    """The top-level names of all absolute imports, wherever in the file they stand."""
    for node in ast.walk(ast.parse(file.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            yield from (name.name.split(".")[0] for name in node.names)
        elif isinstance(node, ast.ImportFrom) and node.level == 0:
            yield str(node.module).split(".")[0]


def room_of(package: str, parts: tuple[str, ...]) -> str:
    """The room in which a module lies, "" for the ground; parts are those below the package."""
    named = parts[0] if parts else ""
    return named if named in ROOMS[package] else ""


def own_imports(package: str, file: Path) -> Iterator[tuple[str, ...]]:
    """What a file imports from its own package, by the dots, as parts below the package."""
    here = (package, *file.relative_to(build.ROOT / package).with_suffix("").parts)
    for node in ast.walk(ast.parse(file.read_text(encoding="utf-8"))):
        if isinstance(node, ast.ImportFrom) and node.level:
            base = (
                (*here[: len(here) - node.level], *(node.module or "").split("."))
                if node.module
                else here[: -node.level]
            )
            if base[:1] == (package,):
                yield from ((*base, name.name)[1:] for name in node.names)


def room_imports(package: str) -> set[tuple[str, str]]:
    """All pairs of a room and another room from which it imports."""
    pairs = set()
    for file in sorted((build.ROOT / package).rglob("*.py")):
        room = room_of(package, file.relative_to(build.ROOT / package).with_suffix("").parts)
        pairs |= {(room, room_of(package, parts)) for parts in own_imports(package, file)}
    return {(room, other) for room, other in pairs if room != other}


@pytest.mark.parametrize("package", ROOMS)
def test_every_folder_of_code_is_a_room(package: str) -> None:
    """A new one has to be given its place on the way."""
    folders = {file.parent.name for file in (build.ROOT / package).glob("*/__init__.py")}
    assert folders
    assert folders <= set(ROOMS[package])


@pytest.mark.parametrize("package", ROOMS)
def test_no_room_imports_from_a_later_one(package: str) -> None:
    """Then there is no ring of rooms either."""
    order = ROOMS[package]
    pairs = room_imports(package)
    assert len(pairs) >= len(order), "the walk found too little: it looks at the wrong place"
    assert not [(room, other) for room, other in pairs if order.index(other) > order.index(room)]


@pytest.mark.parametrize("file", CORE, ids=lambda file: "/".join(file.parts[-2:]))
def test_core_imports_neither_blender_nor_itself_by_name(file: Path) -> None:
    assert not set(absolute_imports(file)) & (BLENDER | OURSELVES)


@pytest.mark.parametrize("file", ADD_ON, ids=lambda file: "/".join(file.parts[-2:]))
def test_the_add_on_holds_no_geometry_and_names_no_package(file: Path) -> None:
    assert not set(absolute_imports(file)) & (OURSELVES | {"shapely", "mapbox_earcut", "svgelements"})
    assert "sys.path" not in file.read_text(encoding="utf-8"), "Blender calls this a policy violation"


def test_only_one_module_writes_meshes() -> None:
    writing = ("clear_geometry(", "from_pydata(", ".vertices.add(", ".polygons.foreach_set(", ".attributes.new(")
    writers = {file.name for file in ADD_ON for words in writing if words in file.read_text(encoding="utf-8")}
    assert writers == {"meshes.py"}


def test_only_one_module_asks_for_blenders_version() -> None:
    assert not [
        file.name for file in ADD_ON if "app.version" in file.read_text(encoding="utf-8") and file.name != "versions.py"
    ]


def test_core_runs_where_blender_cannot_be_imported() -> None:
    places = [file.relative_to(build.ROOT).with_suffix("").parts for file in CORE if file.stem != "__init__"]
    modules = [".".join(parts) for parts in places]
    code = (
        "import importlib, sys\n"
        f"for name in {sorted(BLENDER)}: sys.modules[name] = None\n"  # None: any import of it fails
        f"for name in {modules}: importlib.import_module(name)\n"
        "print(sum(name.startswith('core.') for name in sys.modules))\n"
    )
    done = subprocess.run([sys.executable, "-c", code], cwd=build.ROOT, capture_output=True, text=True)
    assert done.returncode == 0, done.stderr
    assert int(done.stdout) >= len(modules) > 0
