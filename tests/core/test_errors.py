"""What a maker reads of an error: file, place, what is wrong, what to do, each ended once."""

from __future__ import annotations

import pytest

from core.errors import UnusableInput


@pytest.mark.parametrize(
    ("remedy", "end"),
    [("Remove it", "Remove it."), ("Remove it.", "Remove it."), ('Did you mean "wood"?', 'Did you mean "wood"?')],
)
def test_an_error_ends_with_one_stop_or_question_mark(remedy: str, end: str) -> None:
    error = UnusableInput("a.panel.json", 'pieces[0] "koi"', 'unknown key "wodo"', remedy)
    assert str(error) == f'a.panel.json: pieces[0] "koi": unknown key "wodo". {end}'
