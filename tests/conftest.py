"""What all tests share: an empty Blender profile, the staged add-on, the extension's zip."""

from __future__ import annotations

import contextlib
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

with contextlib.suppress(ImportError):  # the environments that only run Blender have no hypothesis
    from hypothesis import HealthCheck, settings

    patient = {"deadline": None, "suppress_health_check": [HealthCheck.too_slow, HealthCheck.data_too_large]}
    settings.register_profile("quick", max_examples=40, derandomize=True, **patient)
    settings.register_profile("thorough", max_examples=500, **patient)  # pytest --hypothesis-profile=thorough
    settings.load_profile("quick")


@pytest.fixture(scope="session")
def extension_zip() -> Path:
    """The extension, built by the tool of the Blender that runs these tests."""
    return build.build_zip(Path(sys.executable))
