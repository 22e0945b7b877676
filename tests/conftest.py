"""What all tests share: an empty Blender profile, the staged add-on, the extension's zip."""

from __future__ import annotations

import os
import sys
import tempfile
from pathlib import Path

import pytest

import build

# Set before anything imports bpy, which would otherwise load what the user's own Blender has installed.
PROFILE = tempfile.TemporaryDirectory(prefix="grainstack-profile-", ignore_cleanup_errors=True)
os.environ["BLENDER_USER_RESOURCES"] = PROFILE.name

build.stage()  # `grainstack`, as pyproject.toml puts it on the path, is what the sources say now


@pytest.fixture(scope="session")
def extension_zip() -> Path:
    """The extension, built by the tool of the Blender that runs these tests."""
    return build.build_zip(Path(sys.executable))
