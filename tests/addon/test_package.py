"""The built zip, installed as a maker would: into a clean profile of a fresh Blender."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from pathlib import Path

import pytest

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
import mapbox_earcut, numpy, shapely, svgelements
import {PACKAGE}.core
modules = [mapbox_earcut, shapely, svgelements, {PACKAGE}.core, numpy]
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


def fresh_blender(profile: Path, code: str, *arguments: str) -> object:
    """What `code` prints last, as JSON, in a Blender of its own with this profile."""
    environment = {**os.environ, "BLENDER_USER_RESOURCES": str(profile)}
    environment.pop("PYTHONPATH", None)  # nothing of the checkout
    command = [sys.executable, "-P", "-c", code, *arguments]
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
    assert ours == {"mapbox_earcut", "shapely", "svgelements", f"{PACKAGE}.core"}
    assert (files[f"{PACKAGE}.core"].parents[1] / "assets" / "species.csv").is_file()


def test_it_can_be_switched_off_and_on_again(profile: Path) -> None:
    assert fresh_blender(profile, ENABLE_TWICE) == [True, False, True, False]
