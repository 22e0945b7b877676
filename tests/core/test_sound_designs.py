"""Silence where there is nothing to say: a check that cries wolf is worse than none."""

from __future__ import annotations

from pathlib import Path

import pytest

from core.findings.all_findings import find_all
from core.stack.loading import load_stack
from core.stack.stack import build_stack
from tests.core.sound_designs import SOUND

POND = Path(__file__).parents[2] / "assets" / "koi-pond" / "koi-pond.panel.json"


def test_there_are_twenty_at_least() -> None:
    assert len(SOUND) >= 20


@pytest.mark.parametrize("name", SOUND)
def test_a_sound_design_gets_no_error_and_no_warning(name: str) -> None:
    assert [f for f in find_all(build_stack(SOUND[name])) if f.level != "note"] == []


def test_the_finished_koi_pond_gets_none_either() -> None:
    assert [f for f in find_all(load_stack(POND)) if f.level != "note"] == []
