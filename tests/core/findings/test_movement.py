"""What moisture does to panels, inserts and fits: on either side of each threshold.

Lengths are worked beside each test from the Wood Handbook's formula, D (M1 - M0) / (3000 / S - 30 + M0) (DERIVED).
"""

from __future__ import annotations

import pytest

from core.woods.moisture import equilibrium_moisture
from tests.core.designs import EIGHTH_INCH
from tests.core.findings.test_touching_woods import told
from tests.core.measures.test_touching_woods import box

DRY, DAMP = (float(equilibrium_moisture(20, humidity)) for humidity in (35, 60))
MAPLE, ALONG = 9.9, 0.15
"""Tangential and longitudinal shrinkage, %."""


def swelling(size: float, shrinkage: float) -> float:
    return size * (DAMP - DRY) / (3000 / shrinkage - 30 + DRY)


MILLIMETRE = 1 / swelling(1, MAPLE)
"""Flat-sawn hard maple as wide as this grows by 1 mm."""


@pytest.mark.parametrize(("width", "told_"), [(MILLIMETRE - 0.1, False), (MILLIMETRE + 0.1, True)])
def test_a_panel_moves_across_its_grain(width: float, told_: bool) -> None:
    findings = told("movement", wood="hard maple", grain=90.0, width=width + 20, edge_trim=(20.0, 0.0, 0.0, 0.0))
    assert [(f.level, f.piece, f.other) for f in findings] == ([("note", None, None)] if told_ else [])
    if told_:
        assert f"its width of {width:.2f} mm grows by 1.00 mm from 35 to 60 % humidity" in findings[0].text
        assert " if its boards are flat-sawn, by 0.4" in findings[0].text  # radial shrinkage is 4.8 %
        assert "a total of 1.00 mm of room in the frame left and right of the panel" in findings[0].remedy


def test_the_workshops_climate_counts() -> None:
    climate = {"humidity_low": 45.0, "humidity_high": 55.0}
    assert told("movement", wood="hard maple", width=150.0, grain=90.0) != []
    assert told("movement", wood="hard maple", width=150.0, grain=90.0, workshop=climate) == []


HALF = 0.5 / (swelling(1, MAPLE) - swelling(1, ALONG))
"""Over this length hard maple across its grain moves 0.5 mm more than hard maple along it."""


@pytest.mark.parametrize(("length", "told_"), [(HALF - 0.1, False), (HALF + 0.1, True)])
def test_an_insert_across_the_grain_of_its_background(length: float, told_: bool) -> None:
    bar = box("bar", 40, 4, 20, length, wood="hard maple", grain=90.0)
    findings = [f for f in told("movement", bar, wood="hard maple", grain=0.0) if f.piece]
    assert [(f.level, f.piece) for f in findings] == ([("note", "bar")] if told_ else [])
    if told_:
        assert f"over {length:.2f} mm of the piece, which strains the glue; its grain lies 90° off" in findings[0].text
        assert "the background moves 0.50 mm more than the insert" in findings[0].text
        assert findings[0].remedy.startswith("Turn its grain nearer")


def test_an_insert_with_the_grain_of_its_background_moves_with_it() -> None:
    bar = box("bar", 10, 4, 100, 72, wood="hard maple", grain=0.0)
    assert [f for f in told("movement", bar, wood="hard maple", grain=0.0) if f.piece] == []


def test_a_wide_insert_may_move_more_than_its_background() -> None:
    """Beech moves more than American mahogany: 11.9 % against 4.1 %."""
    bar = box("bar", 10, 4, 100, 72, wood="American beech", grain=0.0)
    (finding,) = [f for f in told("movement", bar, wood="American mahogany", grain=0.0) if f.piece]
    more = swelling(72, 11.9) - swelling(72, 4.1)
    assert f"the insert moves {more:.2f} mm more than the background" in finding.text
    assert finding.remedy.startswith("Choose a wood that moves more like")  # its grain is turned well already


def test_strained_pieces_are_told_once_the_worst_first() -> None:
    bars = [box(f"bar-{i}", 5 + 25 * i, 2, 20, 60 + i, wood="hard maple", grain=90.0) for i in range(3)]
    (finding,) = [f for f in told("movement", *bars, wood="hard maple", grain=0.0) if f.piece]
    assert finding.piece == "bar-2"
    assert "Also at bar-1, bar-0" in finding.text


CLOSED = 2 * 0.1 / (MAPLE / 3000 / (1 - 20 * MAPLE / 3000))
"""Flat-sawn hard maple of this width grows by 0.1 mm on either side with 1 % of moisture (table 13-5's rule)."""


@pytest.mark.parametrize(("width", "told_"), [(CLOSED - 0.1, False), (CLOSED + 0.1, True)])
def test_moisture_takes_up_the_clearance(width: float, told_: bool) -> None:
    fit = {"cutter_diameter": EIGHTH_INCH, "side_clearance": 0.1}
    findings = told("moisture-play", box("pad", 10, 4, 90, width + 0.2, wood="hard maple", grain=0.0, **fit))
    assert [(f.level, f.piece) for f in findings] == ([("note", "pad")] if told_ else [])
    if told_:
        assert f"it is {width:.2f} mm wide across the grain" in findings[0].text
        assert (
            "the insert swells 0.20 mm if its moisture content rises by 1 %, and no longer drops in" in findings[0].text
        )


def test_only_the_width_across_the_grain_counts() -> None:
    fit = {"cutter_diameter": EIGHTH_INCH, "side_clearance": 0.1, "wood": "hard maple"}
    assert told("moisture-play", box("pad", 10, 4, 100, 40, grain=0.0, **fit)) == []
    (finding,) = told("moisture-play", box("pad", 10, 4, 100, 40, grain=90.0, **fit))
    assert "99.80 mm wide" in finding.text


def test_what_has_no_clearance_has_none_to_lose() -> None:
    pad = {"cutter_diameter": EIGHTH_INCH, "wood": "hard maple", "grain": 0.0}
    assert told("moisture-play", box("pad", 10, 4, 100, 70, **pad, side_clearance=0.0)) == []
    wedge = box("pad", 10, 4, 100, 70, **pad, side_clearance=-0.1, taper=3.0, corner_radius=2.0)
    assert told("moisture-play", wedge) == []
