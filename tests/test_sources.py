"""Tables of numbers name sources that can be found again, or say that a number is from memory."""

from __future__ import annotations

import csv
import re
from pathlib import Path

import pytest

import build

TABLES = [*sorted((build.ROOT / "tests" / "data").glob("*.csv")), *sorted((build.ROOT / "assets").glob("*.csv"))]
NO_DOCUMENT = re.compile(r"wood\.md|\b(data|tip|ship-design) pages?\b|several pages|a reference file")
"""Words that stand for a document nobody can find."""


def rows(table: Path) -> list[dict[str, str]]:
    with table.open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


@pytest.mark.parametrize("table", TABLES, ids=lambda table: table.stem)
def test_what_was_seen_names_where(table: Path) -> None:
    for row in rows(table):
        assert None not in row, "a row has more values than the table has columns"
        for key in (key for key in row if key.endswith("provenance")):
            source = row.get(key.removesuffix("provenance") + "source")
            assert row[key] in ("SEEN", "DERIVED", "MEMORY", ""), (key, row[key])
            assert row[key] != "SEEN" or source is None or len(source) > 5, (row, key)
        assert not [value for value in row.values() if NO_DOCUMENT.search(value or "")]


def test_all_tables_are_looked_at() -> None:
    assert {"species", "bending", "cutters", "emc_tests", "hankinson", "board_feet"} <= {table.stem for table in TABLES}
