"""Grooves that cross themselves or each other: on either side of each threshold."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from core.design import LineOutline, Piece
from core.findings.finding import Finding
from core.woods.bending import least_bend_radius
from tests.core.designs import EIGHTH_INCH, make_piece, rectangle
from tests.core.findings.test_workshop_limits import told
from tests.core.measures.test_grooves import bow_in_bow


def groove(name: str, *points: tuple[float, float]) -> Piece:
    return make_piece(name, LineOutline(points, EIGHTH_INCH), wood="hickory")


def crosses(*pieces: Piece) -> list[Finding]:
    return told("groove-crosses", *pieces)


@pytest.mark.parametrize(("wall", "told_"), [(0.4, True), (2.99, True), (3.0, False)])
def test_a_thin_wall_between_two_turns_of_one_groove(wall: float, told_: bool) -> None:
    """A hairpin: out along y = 20, round a half circle, back along a parallel line."""
    y = 20 + EIGHTH_INCH + wall
    radius, angle = (y - 20) / 2, np.linspace(-np.pi / 2, np.pi / 2, 61)
    bend = [(80 + radius * math.cos(a), 20 + radius + radius * math.sin(a)) for a in angle]
    found = crosses(groove("reed", (20, 20), *bend, (20, y)))
    assert [f.level for f in found] == (["warning"] if told_ else [])
    if told_:
        assert f"{wall:.2f} mm thin" in found[0].text
        assert found[0].at[1] == pytest.approx((20 + y) / 2)


def test_a_groove_that_crosses_itself_is_told_where_it_does() -> None:
    (found,) = crosses(groove("knot", (20, 40), (80, 40), (80, 65), (50, 65), (50, 15)))
    assert found.at == pytest.approx((50, 40), abs=0.3)
    assert "runs into itself" in found.text


@pytest.mark.parametrize(("angle", "told_"), [(29.9, True), (30.1, False)])
def test_two_grooves_that_cross_at_a_small_angle(angle: float, told_: bool) -> None:
    x, y = 40 * math.cos(math.radians(angle)), 40 * math.sin(math.radians(angle))
    other = groove("other", (60 - x, 40 - y), (60 + x, 40 + y))
    found = crosses(groove("one", (15, 40), (105, 40)), other)
    assert [(f.level, f.piece, f.other) for f in found] == ([("warning", "other", "one")] if told_ else [])
    if told_:
        assert found[0].at == pytest.approx((60, 40))


def test_a_closed_ring_and_a_wide_spiral_of_one_groove_are_sound() -> None:
    angle = np.linspace(0, 2 * np.pi, 181)
    circle = [(60 + 30 * math.cos(a), 40 + 30 * math.sin(a)) for a in angle[:-1]]
    ring = groove("ring", *circle, circle[0])
    turns = np.linspace(0, 4 * np.pi, 361)
    spiral = [
        (60 + (8 + 7 * a / (2 * np.pi)) * math.cos(a), 40 + (8 + 7 * a / (2 * np.pi)) * math.sin(a)) for a in turns
    ]
    assert crosses(ring) == []
    assert crosses(groove("spiral", *spiral)) == []  # 7 mm a turn, less 3.175 of groove, leaves 3.8


def test_a_short_strip_in_its_groove_is_not_loose_and_a_sliver_of_its_width_is() -> None:
    reed = groove("reed", (40, 40), (60, 40))
    assert (
        told("loose-remnant", groove("reed", (20, 40), (60, 40)), make_piece("lid", rectangle(36, 20), at=(25, 30)))
        == []
    )
    along = make_piece("along", rectangle(40, 12), at=(30.0, 29.0))  # leaves a millimetre of its width
    assert [f.piece for f in told("loose-remnant", reed, along)] == ["reed"]


@pytest.mark.parametrize(("left", "loose"), [(0.49, True), (0.51, False), (2.0, False)])
def test_a_bit_of_a_strip_is_held_however_short_but_for_a_hair(left: float, loose: bool) -> None:
    """It is 3.1 mm wide, so that it is shorter than that."""
    lid = make_piece("lid", rectangle(20, 20), at=(40.0 + left, 30.0), cutter_diameter=0.5)
    found = told("loose-remnant", groove("reed", (40, 40), (60, 40)), lid)
    assert [f.piece for f in found] == (["reed"] if loose else [])


@pytest.mark.parametrize(("share", "told_"), [(0.96, False), (0.94, True)])
def test_a_short_bend_that_is_hardly_too_tight_is_none(share: float, told_: bool) -> None:
    """8 mm of it in a line that bends a little less than its strip takes; the clearance is 0.06 mm."""
    least = least_bend_radius("hickory", EIGHTH_INCH - 0.12)
    line = bow_in_bow(share * least, 8.0, 1.1 * least) - np.array([40.0, 30.0])
    bent = replace(groove("reed", *map(tuple, line.tolist())), strip_clearance=0.06)
    assert bool(told("strip-bend", bent)) == told_
