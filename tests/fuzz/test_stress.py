"""Designs on which the solids were wrong once: tests/data/stress/README.md tells of each."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from fuzz.judge import judge

DESIGNS = sorted((Path(__file__).parents[1] / "data" / "stress").glob("*.panel.json"))


@pytest.mark.parametrize("file", DESIGNS, ids=lambda file: file.name.removesuffix(".panel.json"))
def test_a_design_that_was_wrong_once_is_right(file: Path) -> None:
    verdict = judge(json.loads(file.read_text(encoding="utf-8")))
    assert not verdict.faults
    assert not verdict.refused


def test_all_of_them_are_there() -> None:
    assert len(DESIGNS) >= 90
