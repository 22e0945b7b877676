"""The built zip, installed as a maker would: into a clean profile of a fresh Blender."""

from __future__ import annotations

import json
import os
import subprocess
import sys
import tomllib
import zipfile
from pathlib import Path

import bpy
import pytest

import build

PACKAGE = "bl_ext.user_default.grainstack"

INSTALL = f"""
import json, sys
import bpy
bpy.ops.extensions.package_install_files(
    filepath=sys.argv[1], repo="user_default", enable_on_install=True, overwrite=True
)
print(json.dumps("{PACKAGE}" in bpy.context.preferences.addons))
"""

# Only a Blender that starts with the extension in place puts its wheels before this environment's packages.
LOOK = f"""
import json
import bpy
bpy.ops.preferences.addon_enable(module="{PACKAGE}")
import mapbox_earcut, numpy, PIL.Image, reportlab.pdfgen.canvas, shapely, svgelements
import {PACKAGE}.core
modules = [mapbox_earcut, PIL, reportlab, shapely, svgelements, {PACKAGE}.core, numpy]
print(json.dumps({{module.__name__: module.__file__ for module in modules}}))
"""

ENABLE_TWICE = f"""
import json
import bpy
on = lambda: "{PACKAGE}" in bpy.context.preferences.addons
seen = []
for turn in range(2):
    bpy.ops.preferences.addon_enable(module="{PACKAGE}")
    seen.append(on())
    bpy.ops.preferences.addon_disable(module="{PACKAGE}")
    seen.append(on())
print(json.dumps(seen))
"""

# Enabled, disabled, enabled again and uninstalled, in one running Blender: what is there of ours at each step.
LIFE = f"""
import gc, json, sys
import bpy
ours = lambda name: isinstance(name, str) and "grainstack" in name.lower()
def traces():
    handlers = {{name: getattr(bpy.app.handlers, name) for name in dir(bpy.app.handlers)}}
    menus = ("TOPBAR_MT_file_import", "TOPBAR_MT_file_export", "VIEW3D_MT_add")
    drawn = [draw for menu in menus for draw in getattr(getattr(bpy.types, menu).draw, "_draw_funcs", [])]
    timers = [o for o in gc.get_objects() if callable(o) and ours(getattr(o, "__module__", ""))
              and getattr(o, "__name__", "") == "_tick" and bpy.app.timers.is_registered(o)]
    data = [item.name for kind in dir(bpy.data) if isinstance(getattr(bpy.data, kind), type(bpy.data.objects))
            for item in getattr(bpy.data, kind)]
    return dict(
        handlers=[f.__qualname__ for fs in handlers.values() if isinstance(fs, list) for f in fs if ours(f.__module__)],
        classes=[name for name in dir(bpy.types) if ours(name)],
        operators=dir(bpy.ops.grainstack),
        properties=[name for name in ("Scene", "Object", "Mesh") if hasattr(getattr(bpy.types, name), "grainstack")],
        menus=[draw.__name__ for draw in drawn if ours(draw.__module__)],
        timers=len(timers),
        commands=len(COMMANDS),
        addons=[module for module in bpy.context.preferences.addons.keys() if ours(module)],
        data=sorted(data),
    )
# Blender lists its commands nowhere, so watch them come and go.
COMMANDS, come, go = [], bpy.utils.register_cli_command, bpy.utils.unregister_cli_command
def added(*arguments):
    COMMANDS.append(come(*arguments))
    return COMMANDS[-1]
def removed(handle):
    if handle in COMMANDS:  # else it was there before
        COMMANDS.remove(handle)
    go(handle)
bpy.utils.register_cli_command, bpy.utils.unregister_cli_command = added, removed
bpy.ops.wm.read_factory_settings(use_empty=True)
bpy.ops.preferences.addon_disable(module="{PACKAGE}")
COMMANDS.clear()
seen = [traces()]
bpy.ops.preferences.addon_enable(module="{PACKAGE}")
seen.append(traces())
bpy.ops.preferences.addon_disable(module="{PACKAGE}")
seen.append(traces())
bpy.ops.preferences.addon_enable(module="{PACKAGE}")
repositories = [repo.module for repo in bpy.context.preferences.extensions.repos]
bpy.ops.extensions.package_uninstall(repo_index=repositories.index("user_default"), pkg_id="grainstack")
seen.append(traces())
print(json.dumps(seen))
"""

# The extension as it lay in the zip before: all modules of the add-on at its root, core beside them.
FLAT = {
    "__init__.py": """
def register():
    from . import memory
    memory.remember()

def unregister():
    pass
""",
    "memory.py": """
import json
from pathlib import Path
import bpy

def remember():
    path = Path(bpy.utils.extension_path_user(__package__)) / "remembered.json"
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_text(json.dumps({"device": "told to the flat layout"}))
""",
    "live.py": "",
    "core/__init__.py": "",
    "core/stack.py": "",
}

SAVE = INSTALL + "bpy.ops.wm.save_userpref()\nprint(json.dumps(True))\n"

# As Blender starts: enabled add-ons are those of the preferences.
AFTER_UPGRADE = f"""
import json
import bpy
bpy.ops.wm.read_userpref()
enabled = "{PACKAGE}" in bpy.context.preferences.addons
bpy.ops.preferences.addon_enable(module="{PACKAGE}")
from {PACKAGE}.blender_addon import memory
print(json.dumps([enabled, memory.recall("device"), bpy.ops.grainstack.new_panel.poll()]))
"""


def fresh_blender(profile: Path, code: str, *arguments: str) -> object:
    """What `code` prints last, as JSON, in a Blender of its own with this profile."""
    environment = {**os.environ, "BLENDER_USER_RESOURCES": str(profile)}
    environment.pop("PYTHONPATH", None)  # nothing of the checkout
    ended = "\nimport os\nsys.stdout.flush()\nos._exit(0)"  # Blender 4.2's module may crash as Python takes it apart
    command = [sys.executable, "-P", "-c", f"import sys\n{code}{ended}", *arguments]
    done = subprocess.run(command, env=environment, cwd=profile, capture_output=True, text=True)
    assert done.returncode == 0, done.stdout + done.stderr
    assert "Traceback" not in done.stderr, done.stderr
    return json.loads(done.stdout.splitlines()[-1])


@pytest.fixture(scope="module")
def profile(extension_zip: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A clean profile into which the zip was installed; Blender says "finished" even when it refused, so look."""
    folder = tmp_path_factory.mktemp("profile")
    assert fresh_blender(folder, INSTALL, str(extension_zip)) is True
    return folder


def test_the_zip_installs_and_brings_core_and_all_wheels_but_numpy(profile: Path) -> None:
    files = {name: Path(file).resolve() for name, file in fresh_blender(profile, LOOK).items()}
    ours = {name for name, file in files.items() if file.is_relative_to(profile.resolve())}
    assert ours == {"mapbox_earcut", "PIL", "reportlab", "shapely", "svgelements", f"{PACKAGE}.core"}
    assert (files[f"{PACKAGE}.core"].parents[1] / "assets" / "species.csv").is_file()


@pytest.mark.skipif(
    bpy.app.version < (4, 3), reason="Blender 4.2's module crashes as it reads preferences anew, with no add-on at all"
)
def test_an_upgrade_from_the_flat_layout_keeps_preferences_and_the_users_folder(
    extension_zip: Path, tmp_path: Path
) -> None:
    """Blender keeps both under the name of the root package, whatever lies in it."""
    flat, profile = tmp_path / "grainstack-flat.zip", tmp_path / "profile"
    with zipfile.ZipFile(flat, "w") as packed:
        for name, text in FLAT.items():
            packed.writestr(name, text)
        packed.write(build.MANIFEST, build.MANIFEST.name)
    profile.mkdir()
    assert fresh_blender(profile, SAVE, str(flat)) is True
    installed = profile / "extensions" / "user_default" / "grainstack"
    assert (installed / "core" / "stack.py").is_file()

    assert fresh_blender(profile, SAVE, str(extension_zip)) is True
    assert fresh_blender(profile, AFTER_UPGRADE) == [True, "told to the flat layout", True]
    assert not (installed / "live.py").exists()
    assert not (installed / "core" / "stack.py").exists()


def test_it_can_be_switched_off_and_on_again(profile: Path) -> None:
    assert fresh_blender(profile, ENABLE_TWICE) == [True, False, True, False]


def test_disabled_or_uninstalled_it_leaves_nothing(extension_zip: Path, tmp_path: Path) -> None:
    """No handler, class, menu entry, timer, command or datablock; in a profile of its own."""
    assert fresh_blender(tmp_path, INSTALL, str(extension_zip)) is True
    before, enabled, disabled, uninstalled = fresh_blender(tmp_path, LIFE)
    for kind in ("handlers", "classes", "operators", "properties", "menus", "commands", "addons"):
        assert enabled[kind], f"no trace of {kind}: the test looks at the wrong place"
        assert not before[kind]
    assert disabled == before
    assert uninstalled == before
    assert not (tmp_path / "extensions" / "user_default" / "grainstack").exists()


# --- A zip for each platform ----------------------------------------------------------------------------------------

WHEEL_OF = {
    "linux_x64": "manylinux",
    "windows_x64": "win_amd64",
    "macos_arm64": "macosx_11_0_arm64",
    "macos_x64": "macosx_10_",
}
"""What the names of wheels hold that only this platform uses."""


@pytest.fixture(scope="module")
def split_zips() -> dict[str, Path]:
    """By platform, as Blender's tool names it."""
    made = build.build_zips(Path(sys.executable), "--split-platforms")
    return dict(zip(build.platforms(), made, strict=True))


def test_there_is_a_zip_for_each_platform_and_each_has_less_than_30_mb(split_zips: dict[str, Path]) -> None:
    assert set(split_zips) == set(WHEEL_OF)
    for platform, path in split_zips.items():
        assert path.name == f"grainstack-{build.version()}-{platform}.zip"
        assert 5e6 < path.stat().st_size < 30e6


def test_a_zip_for_one_platform_holds_all_files_and_only_the_wheels_that_it_can_use(
    split_zips: dict[str, Path],
) -> None:
    every = {wheel.name for wheel in build.WHEELS.glob("*.whl")}
    pure = {name for name in every if name.endswith("-none-any.whl")}
    found: set[str] = set()
    for platform, path in split_zips.items():
        with zipfile.ZipFile(path) as packed:
            names, manifest = set(packed.namelist()), tomllib.loads(packed.read("blender_manifest.toml").decode())
        wheels = {name.removeprefix("wheels/") for name in names if name.endswith(".whl")}
        assert pure <= wheels
        own = wheels - pure
        for python in ("cp311", "cp313"):
            packages = sorted(name.split("-")[0] for name in own if f"-{python}-" in name)
            assert packages == ["mapbox_earcut", "pillow", "shapely"], platform
        assert all(WHEEL_OF[platform] in name for name in own)
        built = manifest["build"]["generated"]  # where Blender looks first
        assert {Path(wheel).name for wheel in built["wheels"]} == wheels
        assert built["platforms"] == [platform.replace("_", "-")]
        assert {name for name in build.package_files() if name != "blender_manifest.toml"} <= names
        found |= own
    assert found | pure == every


@pytest.mark.skipif(sys.platform != "linux", reason="installs the zip for Linux")
def test_the_zip_for_one_platform_installs(split_zips: dict[str, Path], tmp_path: Path) -> None:
    assert fresh_blender(tmp_path, INSTALL, str(split_zips["linux_x64"])) is True
    files = {name: Path(file).resolve() for name, file in fresh_blender(tmp_path, LOOK).items()}
    assert files["shapely"].is_relative_to(tmp_path.resolve())
