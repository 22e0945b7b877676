"""One-step remedies in the words of a button."""

from __future__ import annotations

import pytest

from core.findings.finding import Step
from core.findings.remedy_buttons import step_words
from tests.core.designs import make_piece, rectangle

PIECE = make_piece("koi", rectangle(20, 10), at=(30.0, 40.0), after=("reed",))


@pytest.mark.parametrize(
    ("key", "value", "words"),
    [
        ("pocket_depth", 6.2, "Set pocket depth to 6.20 mm"),
        ("insert_thickness", 8, "Set insert thickness to 8.00 mm"),
        ("cutter_diameter", 1.5875, "Set cutter diameter to 1.5875 mm"),
        ("cutter_diameter", 6.35, "Set cutter diameter to 6.35 mm"),
        ("cutter_diameter", 2, "Set cutter diameter to 2.00 mm"),
        ("grain", 156.0, "Turn the grain to 156°"),
        ("wood", "African padauk", "Change the wood to African padauk"),
        ("fit", "rounded", "Set fit to rounded"),
        ("after", ("reed", "pad", "lotus"), "Cut koi after pad and lotus"),
        ("at", (31.084, 40.0), "Move koi 1.08 mm right"),
        ("at", (29.0, 42.5), "Move koi 1.00 mm left and 2.50 mm up"),
        ("at", (30.0, 39.998), "Move koi 0.002 mm"),
        ("scale", 1.06, "Scale koi by 1.06"),
        ("leaves", 2, "Book-match it from 2 leaves"),
        ("leaves", 3, "Glue it up from 3 leaves"),
    ],
)
def test_a_step_says_what_it_does(key: str, value: object, words: str) -> None:
    assert step_words(Step("koi", key, value), PIECE) == words  # type: ignore[arg-type]
