"""Editing a background: whatever is done, it fills its panel exactly and the rest of it stays."""

import contextlib
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from core.design_file import background_strips
from core.design_file.reading import design_of
from core.errors import UnusableInput

WOODS = ["wenge", "cherry", "hard maple"]
PLAIN = {"width": 600, "height": 400, "thickness": 19, "edge_trim": 10, "wood": "sapele"}


def sound(panel) -> bool:
    """Whether the format takes it, whose reader checks every sum."""
    return bool(design_of({"format": "grainstack-panel/1", "panel": panel}, Path("a.panel.json")))


def edit(panel, name: str, index: int, segment: int, size: float, wood: str):
    """The panel after one edit."""
    across = "x" if panel.get("strips_along", "y") == "y" else "y"
    return {
        "add": lambda: background_strips.add_strip(panel, index, wood),
        "remove": lambda: background_strips.remove_strip(panel, index),
        "width": lambda: background_strips.strip_width(panel, index, size),
        "split": lambda: background_strips.split_strip(panel, index, 3, WOODS),
        "length": lambda: background_strips.segment_length(panel, index, segment, size),
        "add segment": lambda: background_strips.add_segment(panel, index, segment, wood),
        "remove segment": lambda: background_strips.remove_segment(panel, index, segment),
        "repeat": lambda: background_strips.repeat_strips(panel, 0, index, 2),
        "turn": lambda: background_strips.turned(panel, across),
        "size": lambda: background_strips.resized(panel, width=200 + size, height=900 - size),
    }[name]()


EDITS = ["add", "remove", "width", "split", "length", "add segment", "remove segment", "repeat", "turn", "size"]


@st.composite
def edited_panels(draw):
    """A panel after a few edits, each made up from what the panel is by then. Refused ones change nothing."""
    panel = background_strips.even_strips(PLAIN, draw(st.integers(1, 9)), WOODS)
    for name in draw(st.lists(st.sampled_from(EDITS), min_size=1, max_size=8)):
        index = draw(st.integers(0, len(panel["strips"]) - 1))
        segment = draw(st.integers(0, len(background_strips.segments_of(panel, index)) - 1))
        size = draw(st.floats(0.5, 700, allow_nan=False))
        with contextlib.suppress(UnusableInput):
            panel = edit(panel, name, index, segment, size, draw(st.sampled_from(WOODS)))
    return panel


@given(edited_panels())
def test_whatever_is_done_the_background_fills_the_panel(panel):
    assert sound(panel)
    assert panel["edge_trim"] == 10
    assert panel["thickness"] == 19


def test_even_strips_share_the_width_in_hundredths():
    panel = background_strips.even_strips(PLAIN, 7, WOODS)
    assert [s["width"] for s in panel["strips"]] == [85.71] * 6 + [pytest.approx(85.74)]
    assert [s["wood"] for s in panel["strips"]][:4] == [*WOODS, WOODS[0]]
    assert "wood" not in panel


def test_a_new_strip_takes_half_of_the_one_before_it():
    panel = background_strips.add_strip(PLAIN, 0, "wenge")
    assert panel["strips"] == [{"width": 300, "wood": "sapele"}, {"width": 300, "wood": "wenge"}]
    panel = background_strips.strip_width(panel, 0, 60)
    assert [s["width"] for s in panel["strips"]] == [60, 540]
    panel = background_strips.strip_width(panel, 1, 500)  # the last takes from the one before it
    assert [s["width"] for s in panel["strips"]] == [100, 500]
    panel = background_strips.strip_width(panel, 0, 9999)
    assert [s["width"] for s in panel["strips"]] == [599, 1]


def test_a_pattern_is_repeated_within_its_own_width():
    panel = background_strips.even_strips(PLAIN, 3, WOODS)
    panel = background_strips.repeat_strips(panel, 0, 1, 4)
    assert [s["wood"] for s in panel["strips"]] == ["wenge", "cherry"] * 4 + ["hard maple"]
    assert [s["width"] for s in panel["strips"]] == [50] * 8 + [200]


def test_the_last_strip_cannot_be_removed():
    with pytest.raises(UnusableInput, match=r"the last strip cannot be removed\. Change its wood"):
        background_strips.remove_strip(PLAIN, 0)


def test_strips_too_narrow_to_glue_are_refused():
    with pytest.raises(UnusableInput, match=r"0\.60 mm, less than the 1\.00 mm"):
        background_strips.even_strips(PLAIN, 1000, WOODS)


def test_woods_are_swapped_everywhere_and_swapping_again_brings_them_back():
    panel = background_strips.split_strip(background_strips.even_strips(PLAIN, 3, WOODS), 1, 2, ["wenge", "cherry"])
    swapped = background_strips.swap_woods(panel, "wenge", "cherry")
    assert [s.get("wood") for s in swapped["strips"]] == ["cherry", None, "hard maple"]
    assert [s["wood"] for s in swapped["strips"][1]["segments"]] == ["cherry", "wenge"]
    assert background_strips.swap_woods(swapped, "wenge", "cherry") == panel
    assert background_strips.swap_woods(PLAIN, "sapele", "koa")["wood"] == "koa"
    assert background_strips.woods_of(panel) == ["wenge", "cherry", "hard maple"]


def test_a_panel_turned_and_back_keeps_its_proportions():
    panel = background_strips.even_strips(PLAIN, 4, WOODS)
    turned = background_strips.turned(panel, "x")
    assert [s["width"] for s in turned["strips"]] == [100] * 4
    assert [s["width"] for s in background_strips.turned(turned, "y")["strips"]] == [150] * 4
