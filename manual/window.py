"""Pictures of Blender's own window, at work on a panel: for the manual's steps.

Blender's screenshots are black where its window is drawn by software, so the screen itself is read.
"""

from __future__ import annotations

import subprocess
import sys
import time
from collections.abc import Iterator
from pathlib import Path

from PIL import Image, ImageGrab

SIZE = (1600, 1000)
SCRIPT = Path(__file__).with_name("in_window.py")
POND = SCRIPT.parents[1] / "assets" / "koi-pond"
PATIENCE = 3600.0
"""Seconds in which all steps must be done."""
RESTED = 20.0
"""Seconds for which the window must stay the same: until then shaders are compiled, and panels slide."""
LONGEST = 240.0
"""Seconds after which a picture is taken even so."""


def window_pictures(blender: Path, package: Path, folder: Path) -> list[Path]:
    """Start the program `blender`, install the extension `package` in it, and save a picture of each step as PNG.

    The window must stay in sight meanwhile: there has to be a screen.

    Raises:
        RuntimeError: Blender ended before its work was done, or was too slow.
    """
    folder, package = folder.resolve(), package.resolve()  # Blender may run elsewhere
    folder.mkdir(parents=True, exist_ok=True)
    for left in folder.glob("*.wanted"):
        left.unlink()
    command = [str(blender), "--factory-startup", "-noaudio", "--window-geometry", "0", "0", *map(str, SIZE)]
    command += ["--python", str(SCRIPT), "--", str(package), str(POND), str(folder)]
    with subprocess.Popen(command, stdout=subprocess.DEVNULL) as process:
        try:
            made = list(_taken(process, folder))
        finally:
            process.terminate()
    if process.returncode or not made:
        raise RuntimeError(f"{blender} ended with status {process.returncode}: see above")
    return made


def _taken(process: subprocess.Popen[bytes], folder: Path) -> Iterator[Path]:
    """Each picture as it is asked for, until Blender ends."""
    end = time.monotonic() + PATIENCE
    while process.poll() is None:
        if time.monotonic() > end:
            raise RuntimeError(f"Blender took more than {PATIENCE:.0f} s")
        for wanted in sorted(folder.glob("*.wanted")):
            picture = wanted.with_suffix(".png")
            _at_rest(wanted.read_text(encoding="utf-8"), end).save(picture)
            wanted.unlink()
            print(f"manual: {picture.name}", file=sys.stderr, flush=True)
            yield picture
        time.sleep(0.1)


def _at_rest(place: str, end: float) -> Image.Image:
    """The window once it has stopped changing, or as it is when time is up."""
    picture, since = _grab(place), time.monotonic()
    end = min(end, since + LONGEST)
    while time.monotonic() < min(since + RESTED, end):
        time.sleep(1.0)
        now = _grab(place)
        if now.tobytes() != picture.tobytes():
            picture, since = now, time.monotonic()
    return picture


def _grab(place: str) -> Image.Image:
    """The part of the screen that the window says it has: Blender counts from the screen's lower edge."""
    screen = ImageGrab.grab()
    left, low, width, height = map(int, place.split())
    top = screen.height - low - height
    return screen.crop((max(left, 0), max(top, 0), left + width, top + height))
