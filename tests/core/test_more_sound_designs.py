"""Silence on letters, flowers, boards, shells, skylines, feathers and knots as makers draw them."""

from __future__ import annotations

import pytest

from core.findings.all_findings import find_all
from core.stack.stack import build_stack
from tests.core.more_sound_designs import MORE_SOUND


def test_there_are_twenty_five_at_least() -> None:
    assert len(MORE_SOUND) >= 25


@pytest.mark.parametrize("name", MORE_SOUND)
def test_a_sound_design_of_its_own_kind_gets_no_error_and_no_warning(name: str) -> None:
    assert [f.text for f in find_all(build_stack(MORE_SOUND[name])) if f.level != "note"] == []
