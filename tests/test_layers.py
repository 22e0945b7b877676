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
OURSELVES = {"core", "blender_addon", "grainstack", "bl_ext", "build"}


def absolute_imports(file: Path) -> Iterator[str]:
    """The top-level names of all absolute imports, wherever in the file they stand."""
    for node in ast.walk(ast.parse(file.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            yield from (name.name.split(".")[0] for name in node.names)
        elif isinstance(node, ast.ImportFrom) and node.level == 0:
            yield str(node.module).split(".")[0]


@pytest.mark.parametrize("file", CORE, ids=lambda file: file.name)
def test_core_imports_neither_blender_nor_itself_by_name(file: Path) -> None:
    assert not set(absolute_imports(file)) & (BLENDER | OURSELVES)


@pytest.mark.parametrize("file", ADD_ON, ids=lambda file: file.name)
def test_the_add_on_holds_no_geometry_and_names_no_package(file: Path) -> None:
    assert not set(absolute_imports(file)) & (OURSELVES | {"shapely", "mapbox_earcut", "svgelements"})
    assert "sys.path" not in file.read_text(encoding="utf-8"), "Blender calls this a policy violation"


def test_core_runs_where_blender_cannot_be_imported() -> None:
    modules = [f"core.{file.stem}" for file in CORE if file.stem != "__init__"]
    code = (
        "import importlib, sys\n"
        f"for name in {sorted(BLENDER)}: sys.modules[name] = None\n"  # None: any import of it fails
        f"for name in {modules}: importlib.import_module(name)\n"
        "print(sum(name.startswith('core.') for name in sys.modules))\n"
    )
    done = subprocess.run([sys.executable, "-c", code], cwd=build.ROOT, capture_output=True, text=True)
    assert done.returncode == 0, done.stderr
    assert int(done.stdout) >= len(modules) > 0
