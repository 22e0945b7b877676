"""A Chromium that the system brings, driven without a window; without one these tests are skipped, and say so."""

from __future__ import annotations

import os
import shutil

import pytest

NAMES = ("chromium", "chromium-browser", "google-chrome", "google-chrome-stable", "chrome", "msedge")
WITHOUT = "python build.py test --browser installs what drives it"


def chromium() -> str | None:
    """The program: named by GRAINSTACK_CHROMIUM, or found on PATH."""
    return os.environ.get("GRAINSTACK_CHROMIUM") or next(filter(None, map(shutil.which, NAMES)), None)


@pytest.fixture(scope="session")
def browser():
    """The browser; each test opens pages of its own in it."""
    playwright = pytest.importorskip("playwright.sync_api", reason=f"playwright is not installed: {WITHOUT}")
    program = chromium()
    if program is None:
        pytest.skip("no Chromium was found on PATH: install one, or name it in GRAINSTACK_CHROMIUM")
    with playwright.sync_playwright() as driver:
        opened = driver.chromium.launch(executable_path=program, args=["--no-sandbox"])
        yield opened
        opened.close()
