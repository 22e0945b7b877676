"""The tables of published values in `tests/data`."""

from __future__ import annotations

import csv
from pathlib import Path

DATA = Path(__file__).parents[1] / "data"


def rows(name: str) -> list[dict[str, str]]:
    """The rows of a table, by its columns' names."""
    with (DATA / name).open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))
