"""Where the tables lie that Grainstack brings."""

from __future__ import annotations

from pathlib import Path


def asset(name: str) -> Path:
    """A file of assets/, which lies beside core/ in the repository and in the extension alike."""
    return Path(__file__).resolve().parent.parent / "assets" / name
