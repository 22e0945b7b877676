"""What a taper does. Expected numbers are DERIVED from plane geometry, no published source: a wall that leans by an
angle moves inwards by depth × tan(angle)."""

from __future__ import annotations

import math

import pytest

from core.cutter.taper import closing_depth, edge_shift, lean, stands_proud
from core.design import radius_at_face


def test_a_narrow_pocket_closes_at_half_its_width_by_the_tangent():
    # 3.175 / (2 tan 3°) = 30.29
    assert closing_depth(3.175, 3.0) == pytest.approx(30.29, abs=0.005)
    assert closing_depth(3.175, 0.0) == math.inf
    assert 2 * lean(3.0, closing_depth(3.175, 3.0)) == pytest.approx(3.175)


def test_trimming_moves_a_visible_edge():
    """An insert of radius 20 less a clearance of 0.1, trimmed by 0.5 at 3°: π (19.9 − 0.5 tan 3°)² = 1240.827850."""
    assert math.pi * (20 - 0.1 - edge_shift(3.0, 0.5)) ** 2 == pytest.approx(1240.827850, abs=1e-6)
    assert edge_shift(0.0, 0.5) == 0


def test_an_oversized_insert_stands_proud_until_it_is_pressed_home():
    assert stands_proud(0.1, 3.0) == pytest.approx(0.1 / math.tan(math.radians(3)))
    assert lean(3.0, stands_proud(0.1, 3.0)) == pytest.approx(0.1)
    assert stands_proud(0.0, 3.0) == stands_proud(-0.1, 3.0) == stands_proud(0.0, 0.0) == 0
    assert stands_proud(0.1, 0.0) == math.inf


def test_a_tapered_cutter_cuts_a_larger_radius_at_the_face() -> None:
    """Plane geometry: at 45° the wall runs out as far as it goes down, and by any taper as far as the wall leans."""
    assert radius_at_face(3.0, 6.0, 0.0) == 1.5
    assert radius_at_face(3.0, 6.0, 45.0) == pytest.approx(7.5)
    assert radius_at_face(3.0, 6.0, 3.0) == pytest.approx(1.5 + lean(3.0, 6.0))
